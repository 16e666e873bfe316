package report

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"sensito/sensito"
	"sensito/sensito/answers"
	"sensito/sensito/curve"
	"sensito/sensito/development"
	"sensito/sensito/report/internal/page"
	"sensito/sensito/scene"
)

// Family is the report of contrast, speed and fog against development time.
type Family struct {
	family *development.Family
	asked  *scene.Adjustment // of the ISO time and speed; nil for as in the trial
	marked *scene.Answer     // the development for a scene; nil unless asked for
	law    []development.At  // at the time of each strip
	told
}

// NewFamily reports a family, with intervals at the given level of confidence.
// The strips are told as measured, the ISO time and speed for the process of
// today, nil for as in the trial. The error says why there is no law of contrast.
func NewFamily(f *development.Family, today *scene.Adjustment, level float64) (*Family, error) {
	if f.NoContrast != nil {
		return nil, f.NoContrast
	}
	own := f.Warnings
	if ch := today.Under(); ch != nil {
		own = join(own, ch.Warnings)
	}
	r := &Family{family: f, asked: today, told: tell(today, level, own)}
	r.warnings = append(r.warnings, f.Trial.NotISO()...)
	if r.today != nil {
		r.today.whatElse = "; the strips above are as they were measured"
	}
	var times []sensito.Minutes
	for _, m := range f.Strips {
		times = append(times, m.Minutes())
	}
	law, err := f.Along(times)
	if err != nil {
		return nil, err
	}
	r.law = law
	return r, nil
}

// Mark adds the development time of an answer, for the same process of today.
func (r *Family) Mark(p *scene.Answer) {
	r.marked, r.warnings = p, tell(p.Today, r.level, p.Warnings).warnings // those of the family among them
}

// MarshalJSON writes all that is known of the strips and of their law.
func (r *Family) MarshalJSON() ([]byte, error) {
	f := r.family
	return object{
		{"schema", "sensito/family/1"},
		{"trial", f.Trial.Name()},
		{"contrast", object{
			{"quantity", f.Quantity},
			{"model", f.Model},
			{"limit", quantity(f.Limit, r.level, unitOne)},
			{"rate_per_min", quantity(f.Rate, r.level, unitRate)},
			{"induction_min", quantity(f.Induction, r.level, unitMinutes)},
		}},
		{"points", objects(f.Strips, r.strip)},
		{"iso", object{ // the contrast condition of ISO 6
			{"minutes", r.isoMinutes()},
			{"speed", r.isoSpeed()},
			{"minutes_as_tested", r.isoAsTested()}, // under the conditions of the trial; null where they are those
			{"uncorrected", r.isoUncorrected()},    // null where nothing is corrected
		}},
		{"marked", r.mark()}, // null unless asked for
		{"temperature", temperatureLaw(f.Temperature, r.level)},                                                          // null unless strips at several tell it
		{"time_factors", objects(f.Factors(), func(t *development.TimeFactor) object { return timeFactor(t, r.level) })}, // of other agitation or dilution, as strips measure them
		{"reciprocity", reciprocityText(f)},                                                                              // null when nothing is known of long exposures
		{"conditions", r.conditions},                                                                                     // null under those of the trial
		{"today", r.today},                                                                                               // null without a control log
		{"logged", (*Logged)(f.Logged())},                                                                                // null when no development is logged
		{"warnings", r.warnings},
	}.MarshalJSON()
}

// strip is one strip, as measured.
func (r *Family) strip(m *curve.Measured) object {
	return object{
		{"minutes", m.Strip.Minutes()}, // as developed
		{"temperature_c", stated(m.Strip.Process().TemperatureC)},
		{"equivalent_min", m.Minutes()}, // at the temperature of the trial
		{"contrast_index", quantity(m.ContrastIndex, r.level, unitOne)},
		{"average_gradient", quantity(m.AverageGradient, r.level, unitOne)},
		{"speed", quantity(m.Speed, r.level, unitOne)},
		{"base_fog", quantity(m.BaseFog, r.level, unitOne)},
	}
}

// mark is the development for a scene.
func (r *Family) mark() object {
	p := r.marked
	if p == nil {
		return nil
	}
	return object{
		{"scene_range_stops", p.Scene.Stops},
		{"aim", p.Scene.AimText()},
		{"minutes", quantity(&p.Minutes, r.level, unitMinutes)},
		{"extrapolated", p.Extrapolated},
		{"minutes_as_tested", asTested(p, r.level)}, // under the conditions of the trial; null where they are those
		{"uncorrected", r.markUncorrected()},        // null where nothing is corrected
	}
}

// Text writes the family as a table by time, then its law.
func (r *Family) Text(out io.Writer, l Layout) error {
	w := &writer{page.NewWriter(out, l)}
	w.Answer("%s", r.answer())
	w.Printf("\n")
	w.Lines(heading(r.family.Trial))
	w.Printf("\n")
	equivalent := "at " + degrees(r.family.Trial.Process().TemperatureC)
	rows := [][]string{{"developed", r.contrastName(), "speed", "base + fog"}}
	if l.Full {
		rows = [][]string{{"developed", "contrast index", "av. gradient", "by the law", "speed", "base + fog"}}
	}
	for i, m := range r.family.Strips {
		row := []string{m.Strip.Minutes().Clock(1)}
		if l.Full {
			row = append(row, withError(m.ContrastIndex, r.level), withError(m.AverageGradient, r.level), withError(&r.law[i].Contrast, r.level))
		} else {
			row = append(row, withError(r.contrast(m), r.level))
		}
		rows = append(rows, append(row, withError(m.Speed, r.level), withError(m.BaseFog, r.level)))
	}
	if r.family.Temperature != nil {
		rows[0] = slices.Insert(rows[0], 1, equivalent)
		for i, m := range r.family.Strips {
			row := rows[i+1]
			row[0] += " at " + degrees(m.Strip.Process().TemperatureC)
			rows[i+1] = slices.Insert(row, 1, m.Minutes().Clock(1))
		}
	}
	w.Table(rows)
	if l.Full {
		r.writeLaw(w)
	}
	for _, t := range r.family.Factors() {
		w.Paragraph("", "", fmt.Sprintf("%s in place of %s takes %s times as long (%s).", capital(t.Condition), t.Was, withError(&t.Factor, r.level), t.Source))
	}
	(*Logged)(r.family.Logged()).write(w)
	w.Printf("± one standard deviation.\n")
	r.conditions.write(w)
	if text := r.asTested(); text != "" {
		w.Paragraph("", "", "As tested: "+text+".")
	}
	r.today.write(w, r.uncorrected())
	w.Closing(r.warnings)
	return w.Err
}

// answer says how contrast grows, and when it is that of ISO 6.
func (r *Family) answer() string {
	if p := r.marked; p != nil {
		if m := quantity(&p.Minutes, r.level, unitMinutes); m != nil {
			return developText(m, r.level, r.conditions, answers.Outside(p.Extrapolation)) + fmt.Sprintf(", for a scene of %s stops and %s.", page.Stops(p.Scene.Stops), p.Scene.AimText())
		}
	}
	told := slices.DeleteFunc(slices.Clone(r.family.Strips), func(m *curve.Measured) bool { return quantity(r.contrast(m), r.level, unitOne) == nil })
	at := func(ms ...*curve.Measured) string {
		var contrasts []float64
		for _, m := range ms {
			contrasts = append(contrasts, r.contrast(m).Value)
		}
		return between(contrasts, twoPlaces) + " at " + ms[0].Strip.Minutes().Clock(1)
	}
	text := "No strip tells its contrast"
	if n := len(told); n > 0 {
		text = capital(r.contrastName()) + " "
		if first, last := told[0], told[n-1]; first.Strip.Minutes() == last.Strip.Minutes() {
			text += at(told...)
		} else {
			text += at(first) + " to " + at(last)
		}
	}
	if m := r.isoMinutes(); m != nil {
		text += "; the contrast of ISO 6 at " + clock(m.Value, 5)
		if place := r.conditions.place(); place != "" {
			text += " " + place
		}
		if s := r.isoSpeed(); s != nil {
			text += fmt.Sprintf(", with speed %s (%s)", page.Figures(s.Value), standard(s))
		}
	}
	return text + "."
}

// contrastName names the contrast that the law of growth is of.
func (r *Family) contrastName() string { return strings.ReplaceAll(r.family.Quantity, "_", " ") }

// contrast returns that contrast of a strip.
func (r *Family) contrast(m *curve.Measured) *sensito.Estimate[float64] {
	if r.family.Quantity == development.QuantityAverageGradient {
		return m.AverageGradient
	}
	return m.ContrastIndex
}

// isoMinutes, isoSpeed and isoUncorrected tell of the development that meets the
// contrast condition of ISO 6 by the process of today, and less its correction.
func (r *Family) isoMinutes() *Quantity {
	return quantity(r.asked.Minutes(r.family.ISOMinutes), r.level, unitMinutes)
}

func (r *Family) isoSpeed() *Quantity {
	return quantity(r.asked.Speed(r.family.ISOSpeed), r.level, unitOne)
}

func (r *Family) isoUncorrected() *Uncorrected {
	if !r.asked.Corrects() {
		return nil
	}
	changed := scene.Adjustment{Change: r.asked.Under()}
	return uncorrected(changed.Minutes(r.family.ISOMinutes), r.family.ISOSpeed, r.level)
}

// isoAsTested returns its time under the conditions of the trial, nil where they are
// those of today.
func (r *Family) isoAsTested() *Quantity {
	if r.asked.Under() == nil {
		return nil
	}
	return quantity(r.family.ISOMinutes, r.level, unitMinutes)
}

// markUncorrected returns what the marked time is less the correction, nil where
// nothing is corrected.
func (r *Family) markUncorrected() *Uncorrected {
	if r.marked == nil || r.marked.Uncorrected == nil {
		return nil
	}
	return uncorrected(&r.marked.Uncorrected.Minutes, nil, r.level)
}

// writeLaw writes the law of growth and what is told by it.
func (r *Family) writeLaw(w *writer) {
	usual := ""
	f := r.family
	if f.Model == string(development.OneTime) {
		usual = ", at the rate of usual developers"
	}
	w.Printf("\nGrowth of the %s: %s%s.\n", r.contrastName(), f.Model, usual)
	law := [][]string{
		{"  limit", withError(f.Limit, r.level)},
		{"  rate per minute", withError(f.Rate, r.level)},
	}
	if q := quantity(f.Induction, r.level, unitMinutes); q != nil {
		law = append(law, []string{"  induction, min", q.String()})
	}
	w.Table(law)
	if t := f.Temperature; t != nil {
		w.Paragraph("", "", fmt.Sprintf("Temperature: the rate at 30 °C is %s times that at 20, an activation energy of %s kJ/mol. Times below and the rate above are at %s.", withError(&t.Q10, r.level), withError(&t.ActivationEnergy, r.level), degrees(f.Trial.Process().TemperatureC)))
	}
	if m, s := r.isoMinutes(), r.isoSpeed(); m != nil {
		text := fmt.Sprintf("ISO 6 contrast is met at %s (%s min)", clock(m.Value, 5), m)
		if s != nil {
			text += fmt.Sprintf("; the speed there is %s, standard %s", s, standard(s))
		}
		w.Paragraph("", "", text+".")
	}
	if p := r.marked; p != nil {
		if m := quantity(&p.Minutes, r.level, unitMinutes); m != nil {
			text := fmt.Sprintf("Marked: %s (%s min) for a scene of %s stops and %s", clock(m.Value, 5), m, page.Stops(p.Scene.Stops), p.Scene.AimText())
			if outside := answers.Outside(p.Extrapolation); outside != "" {
				text += "; " + outside
			}
			w.Paragraph("", "", text+".")
		}
	}
	if law := reciprocityText(f); law != nil {
		w.Paragraph("", "", "Reciprocity: "+*law+".")
	}
}

// asTested returns the times under the conditions of the trial, "" where they are
// those of today.
func (r *Family) asTested() string {
	var parts []string
	if m := r.isoAsTested(); m != nil {
		parts = append(parts, fmt.Sprintf("ISO 6 contrast at %s (%s min)", clock(m.Value, 5), m))
	}
	if m := asTested(r.marked, r.level); m != nil {
		parts = append(parts, fmt.Sprintf("marked %s (%s min)", clock(m.Value, 5), m))
	}
	return strings.Join(parts, "; ")
}

// uncorrected returns what the trial itself says of the ISO and marked times.
func (r *Family) uncorrected() string {
	var parts []string
	if text := r.isoUncorrected().answers("speed"); text != "" {
		parts = append(parts, "ISO 6 contrast at "+text)
	}
	if text := r.markUncorrected().answers("speed"); text != "" {
		parts = append(parts, "marked "+text)
	}
	return strings.Join(parts, "; ")
}
