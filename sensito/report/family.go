package report

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"sensito/sensito"
	"sensito/sensito/development"
	"sensito/sensito/report/internal/page"
	"sensito/sensito/scene"
)

// Family is the report of contrast, speed and fog against development time.
type Family struct {
	Schema      string           `json:"schema"`
	Trial       string           `json:"trial"`
	Contrast    Contrast         `json:"contrast"`
	Points      []Point          `json:"points"`
	ISO         ISO              `json:"iso"`
	Marked      *Marked          `json:"marked"`       // null unless asked for
	Temperature *TemperatureLaw  `json:"temperature"`  // null unless strips at several tell it
	Factors     []*TimeFactor    `json:"time_factors"` // of other agitation or dilution, as strips measure them
	Law         *string          `json:"reciprocity"`  // null when nothing is known of long exposures
	Conditions  *Conditions      `json:"conditions"`   // null under those of the trial
	Today       *Today           `json:"today"`        // null without a control log
	Logged      *Logged          `json:"logged"`       // null when no development is logged
	Warnings    sensito.Warnings `json:"warnings"`

	family  *development.Family
	heading string
	level   float64
}

// Marked is the development for a scene, marked among the strips.
type Marked struct {
	SceneRangeStops float64   `json:"scene_range_stops"`
	Aim             string    `json:"aim"`
	Minutes         *Quantity `json:"minutes"`
	Extrapolated    bool      `json:"extrapolated"`

	AsTested    *Quantity    `json:"minutes_as_tested"` // under the conditions of the trial; null where they are those
	Uncorrected *Uncorrected `json:"uncorrected"`       // null where nothing is corrected
}

// Mark adds the development time of an answer, for the same process of today.
func (r *Family) Mark(p *scene.Answer) {
	r.Marked = &Marked{SceneRangeStops: p.Scene.Stops, Aim: p.Scene.AimText(),
		Minutes: quantity(&p.Minutes, r.level, unitMinutes), Extrapolated: p.Extrapolated, AsTested: asTested(p, r.level)}
	if was := p.Uncorrected; was != nil {
		r.Marked.Uncorrected = uncorrected(&was.Minutes, nil, r.level)
	}
	_, _, more := adjusted(p.Today, r.level)
	r.Warnings = join(p.Warnings, more) // those of the family among them
}

// Contrast is the law by which contrast grows with time.
type Contrast struct {
	Quantity  string    `json:"quantity"`
	Model     string    `json:"model"`
	Limit     *Quantity `json:"limit"`
	Rate      *Quantity `json:"rate_per_min"`
	Induction *Quantity `json:"induction_min"`
}

// Point is one strip of a family, as measured.
type Point struct {
	Minutes         float64   `json:"minutes"`        // as developed
	TemperatureC    *float64  `json:"temperature_c"`  // null when not stated
	EquivalentMin   float64   `json:"equivalent_min"` // at the temperature of the trial
	ContrastIndex   *Quantity `json:"contrast_index"`
	AverageGradient *Quantity `json:"average_gradient"`
	Speed           *Quantity `json:"speed"`
	BaseFog         *Quantity `json:"base_fog"`

	law *Quantity // the contrast that the law has there
}

// ISO is the development that meets the contrast condition of ISO 6.
type ISO struct {
	Minutes     *Quantity    `json:"minutes"`
	Speed       *Quantity    `json:"speed"`
	AsTested    *Quantity    `json:"minutes_as_tested"` // under the conditions of the trial; null where they are those
	Uncorrected *Uncorrected `json:"uncorrected"`       // null where nothing is corrected
}

// NewFamily reports a family, with intervals at the given level of confidence.
// The strips are told as measured, the ISO time and speed for the process of
// today, nil for as in the trial. The error says why there is no law of contrast.
func NewFamily(f *development.Family, today *scene.Adjustment, level float64) (*Family, error) {
	if f.NoContrast != nil {
		return nil, f.NoContrast
	}
	r := &Family{
		Schema: "sensito/family/1", Trial: f.Trial.Name(),
		Contrast: Contrast{
			Quantity: f.Quantity, Model: f.Model,
			Limit:     quantity(f.Limit, level, unitOne),
			Rate:      quantity(f.Rate, level, unitRate),
			Induction: quantity(f.Induction, level, unitMinutes),
		},
		Points:   []Point{},
		ISO:      ISO{Minutes: quantity(today.Minutes(f.ISOMinutes), level, unitMinutes), Speed: quantity(today.Speed(f.ISOSpeed), level, unitOne)},
		Warnings: f.Warnings,
		Law:      reciprocityText(f), Temperature: newTemperatureLaw(f.Temperature, level), Factors: []*TimeFactor{},
		Logged: (*Logged)(f.Logged()),
		family: f, heading: heading(f.Trial), level: level,
	}
	var more sensito.Warnings
	r.Conditions, r.Today, more = adjusted(today, level)
	if ch := today.Under(); ch != nil {
		r.ISO.AsTested = quantity(f.ISOMinutes, level, unitMinutes)
		more = join(ch.Warnings, more)
	}
	r.Warnings = join(r.Warnings, more)
	if today.Corrects() {
		changed := scene.Adjustment{Change: today.Under()}
		r.ISO.Uncorrected = uncorrected(changed.Minutes(f.ISOMinutes), f.ISOSpeed, level)
	}
	r.Warnings = join(r.Warnings, f.Trial.NotISO())
	if r.Today != nil {
		r.Today.whatElse = "; the strips above are as they were measured"
	}
	for _, t := range f.Factors() {
		r.Factors = append(r.Factors, newTimeFactor(t, level))
	}
	var times []sensito.Minutes
	for _, m := range f.Strips {
		times = append(times, m.Minutes())
	}
	at, err := f.Along(times)
	if err != nil {
		return nil, err
	}
	for i, m := range f.Strips {
		r.Points = append(r.Points, Point{
			Minutes:         float64(m.Strip.Minutes()),
			TemperatureC:    stated(m.Strip.Process().TemperatureC),
			EquivalentMin:   float64(m.Minutes()),
			ContrastIndex:   quantity(m.ContrastIndex, level, unitOne),
			AverageGradient: quantity(m.AverageGradient, level, unitOne),
			Speed:           quantity(m.Speed, level, unitOne),
			BaseFog:         quantity(m.BaseFog, level, unitOne),
			law:             quantity(&at[i].Contrast, level, unitOne),
		})
	}
	return r, nil
}

// Text writes the family as a table by time, then its law.
func (r *Family) Text(out io.Writer, l Layout) error {
	w := &writer{page.NewWriter(out, l)}
	w.Answer("%s", r.answer())
	w.Printf("\n")
	w.Lines(r.heading)
	w.Printf("\n")
	equivalent := "at " + degrees(r.family.Trial.Process().TemperatureC)
	rows := [][]string{{"developed", r.contrastName(), "speed", "base + fog"}}
	if l.Full {
		rows = [][]string{{"developed", "contrast index", "av. gradient", "by the law", "speed", "base + fog"}}
	}
	for _, p := range r.Points {
		contrast := []string{r.contrast(p).String()}
		if l.Full {
			contrast = []string{p.ContrastIndex.String(), p.AverageGradient.String(), p.law.String()}
		}
		rows = append(rows, append(append([]string{clock(p.Minutes, 1)}, contrast...), p.Speed.String(), p.BaseFog.String()))
	}
	if r.Temperature != nil {
		rows[0] = slices.Insert(rows[0], 1, equivalent)
		for i, p := range r.Points {
			row := rows[i+1]
			row[0] += " at " + degrees(*p.TemperatureC)
			rows[i+1] = slices.Insert(row, 1, clock(p.EquivalentMin, 1))
		}
	}
	w.Table(rows)
	if l.Full {
		r.writeLaw(w)
	}
	for _, t := range r.Factors {
		w.Paragraph("", "", fmt.Sprintf("%s in place of %s takes %s times as long (%s).", capital(t.Condition), t.InPlaceOf, t.Factor, t.Source))
	}
	r.Logged.write(w)
	w.Printf("± one standard deviation.\n")
	r.Conditions.write(w)
	if text := r.asTested(); text != "" {
		w.Paragraph("", "", "As tested: "+text+".")
	}
	r.Today.write(w, r.uncorrected())
	w.Closing(r.Warnings)
	return w.Err
}

// answer says how contrast grows, and when it is that of ISO 6.
func (r *Family) answer() string {
	if m := r.Marked; m != nil && m.Minutes != nil {
		return developText(m.Minutes, r.level, r.Conditions, m.Extrapolated) + fmt.Sprintf(", for a scene of %s stops and %s.", page.Plain(m.SceneRangeStops), m.Aim)
	}
	told := slices.DeleteFunc(slices.Clone(r.Points), func(p Point) bool { return r.contrast(p) == nil })
	text := "No strip tells its contrast"
	switch n := len(told); {
	case n == 1:
		text = fmt.Sprintf("%s %s at %s", capital(r.contrastName()), page.Fixed(r.contrast(told[0]).Value, 2), clock(told[0].Minutes, 1))
	case n > 1:
		first, last := told[0], told[n-1]
		text = fmt.Sprintf("%s %s at %s to %s at %s", capital(r.contrastName()), page.Fixed(r.contrast(first).Value, 2), clock(first.Minutes, 1),
			page.Fixed(r.contrast(last).Value, 2), clock(last.Minutes, 1))
	}
	if m, s := r.ISO.Minutes, r.ISO.Speed; m != nil {
		text += "; the contrast of ISO 6 at " + clock(m.Value, 5)
		if place := r.Conditions.place(); place != "" {
			text += " " + place
		}
		if s != nil {
			text += fmt.Sprintf(", with speed %s (%s)", page.Figures(s.Value), standard(s))
		}
	}
	return text + "."
}

// contrastName names the contrast that the law of growth is of.
func (r *Family) contrastName() string { return strings.ReplaceAll(r.Contrast.Quantity, "_", " ") }

// contrast returns that contrast of a strip.
func (r *Family) contrast(p Point) *Quantity {
	if r.Contrast.Quantity == "average_gradient" {
		return p.AverageGradient
	}
	return p.ContrastIndex
}

// writeLaw writes the law of growth and what is told by it.
func (r *Family) writeLaw(w *writer) {
	usual := ""
	if r.Contrast.Model == string(development.OneTime) {
		usual = ", at the rate of usual developers"
	}
	w.Printf("\nGrowth of the %s: %s%s.\n", r.contrastName(), r.Contrast.Model, usual)
	law := [][]string{
		{"  limit", r.Contrast.Limit.String()},
		{"  rate per minute", r.Contrast.Rate.String()},
	}
	if r.Contrast.Induction != nil {
		law = append(law, []string{"  induction, min", r.Contrast.Induction.String()})
	}
	w.Table(law)
	if t := r.Temperature; t != nil {
		w.Paragraph("", "", fmt.Sprintf("Temperature: the rate at 30 °C is %s times that at 20, an activation energy of %s kJ/mol. Times below and the rate above are at %s.", t.Q10, t.ActivationEnergy, degrees(r.family.Trial.Process().TemperatureC)))
	}
	if m, s := r.ISO.Minutes, r.ISO.Speed; m != nil {
		text := fmt.Sprintf("ISO 6 contrast is met at %s (%s min)", clock(m.Value, 5), m)
		if s != nil {
			text += fmt.Sprintf("; the speed there is %s, standard %s", s, standard(s))
		}
		w.Paragraph("", "", text+".")
	}
	if m := r.Marked; m != nil && m.Minutes != nil {
		text := fmt.Sprintf("Marked: %s (%s min) for a scene of %s stops and %s", clock(m.Minutes.Value, 5), m.Minutes, page.Plain(m.SceneRangeStops), m.Aim)
		if m.Extrapolated {
			text += "; outside the tested times"
		}
		w.Paragraph("", "", text+".")
	}
	if r.Law != nil {
		w.Paragraph("", "", "Reciprocity: "+*r.Law+".")
	}
}

// asTested returns the times under the conditions of the trial, "" where they are
// those of today.
func (r *Family) asTested() string {
	var parts []string
	if m := r.ISO.AsTested; m != nil {
		parts = append(parts, fmt.Sprintf("ISO 6 contrast at %s (%s min)", clock(m.Value, 5), m))
	}
	if r.Marked != nil && r.Marked.AsTested != nil {
		m := r.Marked.AsTested
		parts = append(parts, fmt.Sprintf("marked %s (%s min)", clock(m.Value, 5), m))
	}
	return strings.Join(parts, "; ")
}

// uncorrected returns what the trial itself says of the ISO and marked times.
func (r *Family) uncorrected() string {
	var parts []string
	if text := r.ISO.Uncorrected.answers("speed"); text != "" {
		parts = append(parts, "ISO 6 contrast at "+text)
	}
	if r.Marked != nil {
		if text := r.Marked.Uncorrected.answers("speed"); text != "" {
			parts = append(parts, "marked "+text)
		}
	}
	return strings.Join(parts, "; ")
}
