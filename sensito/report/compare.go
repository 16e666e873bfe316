package report

import (
	"fmt"
	"io"
	"math"
	"slices"

	"sensito/sensito"
	"sensito/sensito/compare"
	"sensito/sensito/curve"
	"sensito/sensito/scene"
)

// Compare is the report of several trials at one average gradient.
type Compare struct {
	Schema          string           `json:"schema"`
	SceneRangeStops float64          `json:"scene_range_stops"`
	FilmLogRange    float64          `json:"film_log_range"` // over which the gradient is taken
	Gradient        float64          `json:"gradient"`
	Confidence      float64          `json:"confidence"`
	Trials          []ComparedTrial  `json:"trials"`
	Differences     []Difference     `json:"differences"`
	Today           *Today           `json:"today"` // of the first trial; null without a control log
	Warnings        sensito.Warnings `json:"warnings"`

	comparison *compare.Comparison
}

// ComparedTrial is one trial of a comparison. Log ranges are distances, those of
// shoulder and usable range from the speed point.
type ComparedTrial struct {
	Trial          string    `json:"trial"`
	Reason         *string   `json:"reason"` // why it is not compared; null when it is
	Minutes        *Quantity `json:"minutes"`
	Extrapolated   bool      `json:"extrapolated"` // the time lies outside those tested
	Speed          *Quantity `json:"speed"`
	SpeedPoint     *Quantity `json:"speed_point_log_h_lxs"`
	BaseFog        *Quantity `json:"base_fog"`
	ToeLength      *Quantity `json:"toe_log_range"`
	ShadowGradient *Quantity `json:"shadow_gradient"`
	Straightness   *Quantity `json:"straightness"`
	Shoulder       *Quantity `json:"shoulder_log_range"`
	UsableRange    *Quantity `json:"usable_log_range"`
	Reach          *float64  `json:"reach_log_range"` // of the wedge, from the speed point
	MaxDensity     *Quantity `json:"max_net_density"`
	Delivered      *Quantity `json:"delivered_density_range"` // to the scene, at the time and the trial's own index
	Tones          []NetTone `json:"tones"`

	Conditions  *Conditions  `json:"conditions"`        // null under those of the trial
	AsTested    *Quantity    `json:"minutes_as_tested"` // under those of the trial; null likewise
	Uncorrected *Uncorrected `json:"uncorrected"`       // null where nothing is corrected

	lastNet float64 // at the reach
}

// NetTone is where one tone falls on a negative.
type NetTone struct {
	StopsFromMeter float64   `json:"stops_from_meter"`
	NetDensity     *Quantity `json:"net_density"`
}

// Difference is that of one quantity of trial b less that of trial a. It is null
// where one of the two does not have the quantity, and so are p and significant.
type Difference struct {
	A              string    `json:"a"`
	B              string    `json:"b"`
	Quantity       string    `json:"quantity"`
	StopsFromMeter *float64  `json:"stops_from_meter"` // of a tone; null for other quantities
	Difference     *Quantity `json:"difference"`
	P              *float64  `json:"p"`
	Significant    *bool     `json:"significant"`

	a, b int
}

// unitsOfDifference are those that are not of pure numbers.
var unitsOfDifference = map[string]string{compare.DiffSpeedStops: unitStops, compare.DiffMinutes: unitMinutes}

// NewCompare reports a comparison, with intervals at its level.
func NewCompare(c *compare.Comparison) *Compare {
	level := c.Level
	r := &Compare{Schema: "sensito/compare/1", SceneRangeStops: c.Scene.Stops, FilmLogRange: float64(c.FilmRange), Gradient: c.Gradient,
		Confidence: level, Trials: []ComparedTrial{}, Differences: []Difference{}, Warnings: c.Warnings, comparison: c}
	for _, t := range c.Trials {
		out := ComparedTrial{Trial: t.Name, Tones: []NetTone{}}
		if t.Reason != nil {
			out.Reason = new(t.Reason.Error())
			r.Trials = append(r.Trials, out)
			continue
		}
		out.Extrapolated, out.Reach = t.Answer.Extrapolated, new(float64(t.Reach))
		out.Minutes = quantity(t.Minutes, level, unitMinutes)
		out.Speed = quantity(t.Speed, level, unitOne)
		out.SpeedPoint = quantity(&t.SpeedPoint, level, logUnit(t.Family.Trial))
		out.BaseFog = quantity(t.BaseFog, level, unitOne)
		out.ToeLength = quantity(t.ToeLength, level, unitOne)
		out.ShadowGradient = quantity(t.ShadowGradient, level, unitOne)
		out.Straightness = quantity(t.Straightness, level, unitOne)
		out.Shoulder = quantity(t.ShoulderStart, level, unitOne)
		out.UsableRange = quantity(t.UsableRange, level, unitOne)
		out.MaxDensity = quantity(t.MaxDensity, level, unitOne)
		out.Delivered = quantity(t.Answer.Delivered, level, unitOne)
		conditions, today, more := adjusted(t.Answer.Today, level)
		out.Conditions, out.AsTested = conditions, asTested(t.Answer, level)
		if was := t.Answer.Uncorrected; was != nil {
			out.Uncorrected = uncorrected(&was.Minutes, t.UncorrectedSpeed, level)
		}
		if today != nil {
			r.Today = today
			r.Today.whose = " of the first trial"
			r.Warnings = join(r.Warnings, more)
		}
		for _, tone := range t.Tones {
			out.Tones = append(out.Tones, NetTone{StopsFromMeter: tone.Stops, NetDensity: quantity(tone.NetDensity, level, unitOne)})
		}
		_, end := t.Curve.Domain()
		out.lastNet = float64(t.Curve.Density(end).Above(curve.BaseFog(t.Curve)))
		r.Trials = append(r.Trials, out)
	}
	for _, d := range c.Differences {
		unit, known := unitsOfDifference[d.Quantity]
		if !known {
			unit = unitOne
		}
		out := Difference{A: c.Trials[d.A].Name, B: c.Trials[d.B].Name, Quantity: d.Quantity, StopsFromMeter: d.Stops,
			Difference: quantity(d.Value, level, unit), a: d.A, b: d.B}
		if out.Difference != nil && !math.IsNaN(d.P) {
			out.P, out.Significant = new(d.P), new(d.Real)
		}
		r.Differences = append(r.Differences, out)
	}
	return r
}

// Text writes the trials side by side, then their differences pair by pair.
func (r *Compare) Text(out io.Writer) error {
	w := &writer{w: out}
	aim := fmt.Sprintf("the aim of a scene of %s stops", plain(r.SceneRangeStops))
	if s := r.comparison.Scene; math.Abs(r.Gradient*r.FilmLogRange-float64(scene.DefaultDensityRange)) > 1e-9 {
		aim = fmt.Sprintf("a density range of %.2f over a scene of %s stops", float64(s.DensityRange), plain(s.Stops))
	}
	w.paragraph("", "", fmt.Sprintf("Compared at an average gradient of %.3f from the darkest to the lightest tone, %.2f log H apart on the film: %s:", r.Gradient, r.FilmLogRange, aim))
	w.printf("\n")
	for i, t := range r.Trials {
		text := t.Trial
		if t.Reason != nil {
			text += ": not compared"
		}
		w.paragraph(fmt.Sprintf("%2d  ", i+1), "    ", text)
	}
	const together = 3 // trials in one table
	for from := 0; from < len(r.Trials); from += together {
		w.printf("\n")
		r.writeTrials(w, from, min(from+together, len(r.Trials)))
	}
	for i, t := range r.Trials {
		t.Conditions.writeOf(w, fmt.Sprintf("%d: ", i+1))
	}
	r.Today.write(w, r.Trials[0].Uncorrected.answers("speed"))
	r.writeDifferences(w)
	r.writeNotes(w)
	return w.err
}

// writeTrials writes some trials side by side.
func (r *Compare) writeTrials(w *writer, from, to int) {
	rows := [][]string{{""}}
	for i := from; i < to; i++ {
		rows[0] = append(rows[0], fmt.Sprint(i+1))
	}
	add := func(label string, cell func(t ComparedTrial) string) {
		row := []string{label}
		for _, t := range r.Trials[from:to] {
			if t.Reason != nil {
				row = append(row, "-")
			} else {
				row = append(row, cell(t))
			}
		}
		rows = append(rows, row)
	}
	of := func(q func(t ComparedTrial) *Quantity) func(t ComparedTrial) string {
		return func(t ComparedTrial) string { return q(t).String() }
	}
	// Where the wedge ends before the curve does, the quantity is beyond what is
	// seen.
	beyond := func(q *Quantity, seen float64) string {
		if q == nil {
			return "> " + fixed(seen, 2)
		}
		return q.String()
	}
	add("developed, min:s", func(t ComparedTrial) string {
		text := clock(t.Minutes.Value, 5)
		if t.Extrapolated {
			text = "* " + text
		}
		return text
	})
	add("time needed, min", of(func(t ComparedTrial) *Quantity { return t.Minutes }))
	if slices.ContainsFunc(r.Trials, func(t ComparedTrial) bool { return t.AsTested != nil }) {
		add("as tested, min", of(func(t ComparedTrial) *Quantity { return t.AsTested }))
	}
	add("speed 0.8/H", of(func(t ComparedTrial) *Quantity { return t.Speed }))
	add("base plus fog", of(func(t ComparedTrial) *Quantity { return t.BaseFog }))
	add("toe length, log H", of(func(t ComparedTrial) *Quantity { return t.ToeLength }))
	add("gradient of shadows", of(func(t ComparedTrial) *Quantity { return t.ShadowGradient }))
	add("off the straight line", of(func(t ComparedTrial) *Quantity { return t.Straightness }))
	add("shoulder begins, log H", func(t ComparedTrial) string { return beyond(t.Shoulder, *t.Reach) })
	add("usable range, log H", func(t ComparedTrial) string { return beyond(t.UsableRange, *t.Reach) })
	add("maximum net density", func(t ComparedTrial) string { return beyond(t.MaxDensity, t.lastNet) })
	add("density range given", of(func(t ComparedTrial) *Quantity { return t.Delivered }))
	for _, t := range r.Trials {
		if t.Reason != nil {
			continue
		}
		for k, tone := range t.Tones {
			label := fmt.Sprintf("  %s stops", signed(tone.StopsFromMeter))
			if k == 0 {
				label = fmt.Sprintf("net density at %s stops", signed(tone.StopsFromMeter))
			}
			add(label, func(t ComparedTrial) string {
				q := t.Tones[k].NetDensity
				if q != nil && q.SD < exactSD {
					return fixed(q.Value, 3)
				}
				return q.String()
			})
		}
		break
	}
	w.table(rows)
}
