package report

import (
	"cmp"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"sensito/sensito"
	"sensito/sensito/answers"
	"sensito/sensito/compare"
	"sensito/sensito/curve"
	"sensito/sensito/printable"
	"sensito/sensito/report/internal/page"
	"sensito/sensito/scene"
)

// Compare is the report of several trials at one average gradient.
type Compare struct {
	comparison *compare.Comparison
	trials     []*compare.Compared // only name and reason of those that are not compared
	today      *Today              // of the first trial
	warnings   sensito.Warnings
}

// NewCompare reports a comparison, with intervals at its level.
func NewCompare(c *compare.Comparison) *Compare {
	r := &Compare{comparison: c, warnings: c.Warnings}
	for _, t := range c.Trials {
		if t.Reason != nil {
			t = &compare.Compared{Name: t.Name, Reason: t.Reason, Answer: &scene.Answer{}}
		}
		r.trials = append(r.trials, t)
		if of := tell(t.Answer.Today, c.Level, r.warnings); of.today != nil {
			of.today.whose = " of the first trial"
			r.today, r.warnings = of.today, of.warnings
		}
	}
	return r
}

// MarshalJSON writes all that is known of the trials and their differences.
func (r *Compare) MarshalJSON() ([]byte, error) {
	c := r.comparison
	return object{
		{"schema", "sensito/compare/1"},
		{"scene_range_stops", c.Scene.Stops},
		{"film_log_range", c.FilmRange}, // over which the gradient is taken
		{"gradient", c.Gradient},
		{"confidence", c.Level},
		{"trials", objects(r.trials, r.trial)},
		{"differences", objects(c.Differences, r.difference)},
		{"today", r.today}, // of the first trial; null without a control log
		{"warnings", r.warnings},
	}.MarshalJSON()
}

// trial writes one trial. Log ranges are distances, those of shoulder and usable
// range from the speed point.
func (r *Compare) trial(t *compare.Compared) object {
	level := r.comparison.Level
	var reason, reach, reading any
	var speedPoint *Quantity
	if t.Reason != nil {
		reason = t.Reason.Error()
	} else {
		reading = readIn(t.Family.Trial)
		reach, speedPoint = t.Reach, quantity(&t.SpeedPoint, level, logUnit(t.Family.Trial))
	}
	return object{
		{"trial", t.Name},
		{"reading", reading}, // null where it is not compared
		{"reason", reason},   // why it is not compared; null when it is
		{"minutes", quantity(t.Minutes, level, unitMinutes)},
		{"extrapolated", t.Answer.Extrapolated}, // the time lies outside those tested
		{"speed", quantity(t.Speed, level, unitOne)},
		{"speed_point_log_h_lxs", speedPoint},
		{"base_fog", quantity(t.BaseFog, level, unitOne)},
		{"toe_log_range", quantity(t.ToeLength, level, unitOne)},
		{"shadow_gradient", quantity(t.ShadowGradient, level, unitOne)},
		{"straightness", quantity(t.Straightness, level, unitOne)},
		{"shoulder_log_range", quantity(t.ShoulderStart, level, unitOne)},
		{"usable_log_range", quantity(t.UsableRange, level, unitOne)},
		{"reach_log_range", reach}, // of the wedge, from the speed point
		{"max_net_density", quantity(t.MaxDensity, level, unitOne)},
		{"delivered_density_range", quantity(t.Answer.Delivered, level, unitOne)}, // to the scene, at the time and the trial's own index
		{"tones", objects(t.Tones, func(tone scene.Tone) object {
			return object{{"stops_from_meter", tone.Stops}, {"net_density", quantity(tone.NetDensity, level, unitOne)}}
		})},
		{"conditions", r.conditions(t)},                  // null under those of the trial
		{"minutes_as_tested", asTested(t.Answer, level)}, // under those of the trial; null likewise
		{"uncorrected", r.uncorrected(t)},                // null where nothing is corrected
	}
}

// conditions returns those that the time of a trial is told for, nil under those of
// the trial.
func (r *Compare) conditions(t *compare.Compared) *Conditions {
	return tell(t.Answer.Today, r.comparison.Level, nil).conditions
}

// uncorrected returns what a trial shows less the correction by a control log, nil
// without one.
func (r *Compare) uncorrected(t *compare.Compared) *Uncorrected {
	was := t.Answer.Uncorrected
	if was == nil {
		return nil
	}
	return uncorrected(&was.Minutes, t.UncorrectedSpeed, r.comparison.Level)
}

// difference writes that of one quantity of trial b less that of trial a. It is
// null where one of the two does not have the quantity, and so are p and
// significant.
func (r *Compare) difference(d compare.Difference) object {
	value := r.value(d)
	var p, significant any
	if value != nil && !math.IsNaN(d.P) {
		p, significant = d.P, d.Real
	}
	return object{
		{"a", r.trials[d.A].Name},
		{"b", r.trials[d.B].Name},
		{"quantity", d.Quantity},
		{"stops_from_meter", d.Stops}, // of a tone; null for other quantities
		{"difference", value},
		{"p", p},
		{"significant", significant},
	}
}

// unitsOfDifference are those that are not of pure numbers.
var unitsOfDifference = map[string]string{compare.DiffSpeedStops: unitStops, compare.DiffMinutes: unitMinutes}

// value returns a difference in its unit.
func (r *Compare) value(d compare.Difference) *Quantity {
	return quantity(d.Value, r.comparison.Level, cmp.Or(unitsOfDifference[d.Quantity], unitOne))
}

// Text writes the trials side by side, then their differences pair by pair.
func (r *Compare) Text(out io.Writer, l Layout) error {
	w := &writer{page.NewWriter(out, l)}
	c := r.comparison
	w.Answer("%s.", answers.Comparison(c, r.room(w)))
	w.Printf("\n")
	aim := fmt.Sprintf("the aim of a scene of %s stops", page.Stops(c.Scene.Stops))
	if math.Abs(c.Gradient*float64(c.FilmRange)-float64(scene.DefaultDensityRange)) > 1e-9 {
		aim = fmt.Sprintf("a density range of %.2f over a scene of %s stops", float64(c.Scene.DensityRange), page.Stops(c.Scene.Stops))
	}
	w.Paragraph("", "", fmt.Sprintf("Compared at an average gradient of %.3f from the darkest to the lightest tone, %.2f log H apart on the film: %s:", c.Gradient, float64(c.FilmRange), aim))
	w.Printf("\n")
	for i, t := range r.trials {
		text := t.Name
		if t.Reason != nil {
			text += ": not compared"
		}
		w.Paragraph(fmt.Sprintf("%2d  ", i+1), "    ", text)
	}
	const together = 3 // trials in one table
	for from := 0; from < len(r.trials); from += together {
		w.Printf("\n")
		r.writeTrials(w, from, min(from+together, len(r.trials)))
	}
	for i, t := range r.trials {
		r.conditions(t).writeOf(w, fmt.Sprintf("%d: ", i+1))
	}
	r.today.write(w, r.uncorrected(r.trials[0]).answers("speed"))
	r.writeDifferences(w)
	w.Printf("\n")
	if l.Full {
		r.writeNotes(w)
	} else {
		w.Paragraph("", "", "Only differences that are proven count: --full has them all, with tones, toe and shoulder, and says what is meant. Speed is 0.8/H at net density 0.10. ± one standard deviation.")
		r.writeExtrapolated(w)
	}
	w.Closing(r.told())
	return w.Err
}

// room is what the answer has to fit: three lines of the screen.
func (r *Compare) room(w *writer) answers.Room {
	return answers.Room{
		Fits: func(text string) bool {
			return strings.Count(printable.Wrapped(w.Prose(), "", "", text+"."), "\n") <= 3
		},
		Abridge: func(name string) string { return shortened(name, w.Prose()) },
	}
}

// writeTrials writes some trials side by side.
func (r *Compare) writeTrials(w *writer, from, to int) {
	rows := [][]string{{""}}
	for i := from; i < to; i++ {
		rows[0] = append(rows[0], fmt.Sprint(i+1))
	}
	add := func(label string, cell func(t *compare.Compared) string) {
		row := []string{label}
		for _, t := range r.trials[from:to] {
			if t.Reason != nil {
				row = append(row, "-")
			} else {
				row = append(row, cell(t))
			}
		}
		rows = append(rows, row)
	}
	level := r.comparison.Level
	// Where the wedge ends before the curve does, the quantity is beyond what is
	// seen.
	beyond := func(q *Quantity, seen float64) string {
		if q == nil {
			return "> " + page.Fixed(seen, 2)
		}
		return q.String()
	}
	add("developed, min:s", func(t *compare.Compared) string {
		text := t.Minutes.Value.Clock(5)
		if t.Answer.Extrapolated {
			text = "* " + text
		}
		return text
	})
	add("time needed, min", func(t *compare.Compared) string { return withError(t.Minutes, level) })
	if slices.ContainsFunc(r.trials, func(t *compare.Compared) bool { return t.Answer.AsTested != nil }) {
		add("as tested, min", func(t *compare.Compared) string { return asTested(t.Answer, level).String() })
	}
	add("speed 0.8/H", func(t *compare.Compared) string { return withError(t.Speed, level) })
	add("base plus fog", func(t *compare.Compared) string { return withError(t.BaseFog, level) })
	if !w.Full {
		w.Table(rows)
		return
	}
	add("toe length, log H", func(t *compare.Compared) string { return withError(t.ToeLength, level) })
	add("gradient of shadows", func(t *compare.Compared) string { return withError(t.ShadowGradient, level) })
	add("off the straight line", func(t *compare.Compared) string { return withError(t.Straightness, level) })
	add("shoulder begins, log H", func(t *compare.Compared) string {
		return beyond(quantity(t.ShoulderStart, level, unitOne), float64(t.Reach))
	})
	add("usable range, log H", func(t *compare.Compared) string {
		return beyond(quantity(t.UsableRange, level, unitOne), float64(t.Reach))
	})
	add("maximum net density", func(t *compare.Compared) string {
		_, end := t.Curve.Domain()
		return beyond(quantity(t.MaxDensity, level, unitOne), float64(t.Curve.Density(end).Above(curve.BaseFog(t.Curve))))
	})
	add("density range given", func(t *compare.Compared) string { return withError(t.Answer.Delivered, level) })
	label := "net density at "
	for k, tone := range r.trials[r.first()].Tones {
		add(label+page.Signed(tone.Stops)+" stops", func(t *compare.Compared) string {
			q := quantity(t.Tones[k].NetDensity, level, unitOne)
			if q != nil && q.SD < exactSD {
				return page.Fixed(q.Value, 3)
			}
			return q.String()
		})
		label = "  "
	}
	w.Table(rows)
}
