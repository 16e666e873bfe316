package report

import (
	"cmp"
	"fmt"
	"io"
	"slices"
	"strings"

	"sensito/fit"
	"sensito/sensito"
	"sensito/sensito/camera"
	"sensito/sensito/curve"
	"sensito/sensito/report/internal/page"
	"sensito/sensito/scene"
)

// Curve is the report of the strips of one trial.
type Curve struct {
	trial  *sensito.Trial
	strips []*curve.Measured
	level  float64
}

// NewCurve reports measured strips of one trial, with intervals at the given
// level of confidence.
func NewCurve(t *sensito.Trial, ms []*curve.Measured, level float64) *Curve {
	return &Curve{t, ms, level}
}

// MarshalJSON writes all that is known of the strips.
func (r *Curve) MarshalJSON() ([]byte, error) {
	return object{{"schema", "sensito/curve/1"}, {"trial", r.trial.Name()}, {"reading", readIn(r.trial)}, {"strips", objects(r.strips, r.strip)}}.MarshalJSON()
}

func (r *Curve) strip(m *curve.Measured) object {
	model, residualSD, setAside := fitted(m.Fit)
	reversed := []int{}
	if m.Fit != nil {
		reversed = append(reversed, m.Fit.Reversed...)
	}
	q := make([]Quantity, 0, 9)
	out := object{
		{"minutes", m.Strip.Minutes()},
		{"exposed_s", stated(float64(m.Strip.Seconds()))}, // null unless by contact
		{"model", model},
		{"base_fog", quantityIn(&q, m.BaseFog, r.level, unitOne)},
		{"speed_point_log_h_lxs", quantityIn(&q, m.SpeedPoint, r.level, logUnit(r.trial))},
		{"speed", quantityIn(&q, m.Speed, r.level, unitOne)},
		{"iso_conditions_met", m.ISOMet},
		{"contrast_index", quantityIn(&q, m.ContrastIndex, r.level, unitOne)},
		{"average_gradient", quantityIn(&q, m.AverageGradient, r.level, unitOne)},
		{"gamma", quantityIn(&q, m.Gamma, r.level, unitOne)},
		{"iso_density_difference", quantityIn(&q, m.ISODifference, r.level, unitOne)},
		{"fractional_gradient_speed", quantityIn(&q, m.FractionalGradientSpeed, r.level, unitOne)},
		{"max_density", quantityIn(&q, m.MaxDensity, r.level, unitOne)},
		{"residual_sd", residualSD},
		{"set_aside", setAside},
		{"reversed_steps", reversed}, // left out, beyond the densest part
		{"warnings", m.Warnings},
	}
	if a := m.ByItself; a != nil { // where the two ways disagree
		out = append(out, member{"apart", object{
			{"speed_point_log_h_lxs", quantity(a.SpeedPoint, r.level, logUnit(r.trial))},
			{"speed", quantity(a.Speed, r.level, unitOne)},
			{"contrast_index", quantity(a.ContrastIndex, r.level, unitOne)},
		}})
	}
	return out
}

func gradientName(g curve.Gradient) string {
	if g.To != 0 {
		return fmt.Sprintf("average gradient, net %.2f to %.2f", float64(g.From), float64(g.To))
	}
	run := "run"
	if g.Arc {
		run = "arc"
	}
	return fmt.Sprintf("average gradient, %.2f over %s %.2f", float64(g.From), run, float64(g.Span))
}

func noiseName(n fit.Noise) string {
	if n == fit.NoiseGiven {
		return "stated repeatability"
	}
	return "scatter of the readings"
}

// forms says which form of curve was fitted to which strips.
func (r *Curve) forms() string {
	var names []string
	strips := map[string][]string{}
	for _, m := range r.strips {
		if m.Fit == nil {
			continue
		}
		model := m.Fit.Model
		if strips[model] == nil {
			names = append(names, model)
		}
		strips[model] = append(strips[model], m.Strip.Minutes().Clock(1))
	}
	if len(names) == 1 {
		return "Curves fitted: " + names[0] + "."
	}
	for i, n := range names {
		names[i] = fmt.Sprintf("%s (%s)", n, strings.Join(strips[n], ", "))
	}
	return "Curves fitted: " + strings.Join(names, "; ") + "."
}

// writeApart writes the strips that tell something else by themselves than among the
// others of their film.
func (r *Curve) writeApart(w *writer) {
	some := false
	for _, m := range r.strips {
		a := m.ByItself
		if a == nil {
			continue
		}
		if !some {
			w.Printf("\n")
		}
		some = true
		point := "relative speed point " + withError(a.SpeedPoint, r.level)
		if r.trial.Exposures().Absolute() {
			point = fmt.Sprintf("speed point %s log lx s, speed %s", withError(a.SpeedPoint, r.level), withError(a.Speed, r.level))
		}
		w.Paragraph("", "  ", fmt.Sprintf("%s (strip %d) by itself: %s, contrast index %s.", m.Strip.Minutes().Clock(1), m.Strip.Number(),
			point, withError(a.ContrastIndex, r.level)))
	}
	if some {
		w.Paragraph("", "", "A strip is shown by itself where it does not agree with the others of the film: was it exposed or developed otherwise, or is it of another batch?")
	}
}

// rows returns the table of some strips side by side.
func (r *Curve) rows(strips []*curve.Measured) [][]string {
	point := "speed point, log lx s"
	if !r.trial.Exposures().Absolute() {
		point = "speed point, relative"
	}
	row := func(label string, cell func(m *curve.Measured) string) []string {
		cells := []string{label}
		for _, m := range strips {
			cells = append(cells, cell(m))
		}
		return cells
	}
	rows := [][]string{row("developed, min:s", func(m *curve.Measured) string { return m.Strip.Minutes().Clock(1) })}
	if slices.ContainsFunc(r.strips, func(m *curve.Measured) bool { return m.Strip.Seconds() != r.trial.Exposures().Seconds() }) {
		rows = append(rows, row("exposed", func(m *curve.Measured) string { return m.Strip.Seconds().String() }))
	}
	nearest, setting, difference := "  nearest standard", standard, "  ISO difference"
	if r.trial.Pictured() != nil { // which gives no ISO speed
		nearest, setting, difference = "  nearest setting", settingAlone, "  rise over 1.30"
	}
	return append(rows, [][]string{
		row("base plus fog", func(m *curve.Measured) string { return withError(m.BaseFog, r.level) }),
		row(point, func(m *curve.Measured) string { return withError(m.SpeedPoint, r.level) }),
		row("speed 0.8/H", func(m *curve.Measured) string { return withError(m.Speed, r.level) }),
		row(nearest, func(m *curve.Measured) string { return setting(quantity(m.Speed, r.level, unitOne)) }),
		row("  ISO contrast met", func(m *curve.Measured) string { return yesNo(m.ISOMet) }),
		row(difference, func(m *curve.Measured) string { return withError(m.ISODifference, r.level) }),
		row("fractional-gradient", func(m *curve.Measured) string { return withError(m.FractionalGradientSpeed, r.level) }),
		row("  by Delta-X", func(m *curve.Measured) string { return withError(m.DeltaXSpeed, r.level) }),
		row("contrast index", func(m *curve.Measured) string { return withError(m.ContrastIndex, r.level) }),
		row("average gradient", func(m *curve.Measured) string { return withError(m.AverageGradient, r.level) }),
		row("gamma", func(m *curve.Measured) string { return withError(m.Gamma, r.level) }),
		row("density, last step", func(m *curve.Measured) string { return withError(m.MaxDensity, r.level) }),
		row("scatter of readings", func(m *curve.Measured) string {
			if m.Fit == nil {
				return "-"
			}
			return page.Fixed(float64(m.Fit.ResidualSD), 3)
		}),
	}...)
}

// answer says what the strips come to, from the shortest time to the longest.
func (r *Curve) answer() string {
	var told []*curve.Measured
	for _, m := range r.strips {
		if m.ContrastIndex != nil || m.Speed != nil {
			told = append(told, m)
		}
	}
	if len(told) == 0 {
		return "No strip tells its speed or contrast."
	}
	slices.SortStableFunc(told, func(a, b *curve.Measured) int { return cmp.Compare(a.Strip.Minutes(), b.Strip.Minutes()) })
	var contrasts, speeds []float64
	for _, m := range told {
		if q := quantity(m.ContrastIndex, r.level, unitOne); q != nil {
			contrasts = append(contrasts, q.Value)
		}
		if q := quantity(m.Speed, r.level, unitOne); q != nil {
			speeds = append(speeds, q.Value)
		}
	}
	text := "Contrast index " + between(contrasts, twoPlaces)
	if r.trial.Exposures().Absolute() {
		text = "Speed " + between(speeds, page.Figures) + ", contrast index " + between(contrasts, twoPlaces)
	}
	first, last := told[0].Strip.Minutes().Clock(1), told[len(told)-1].Strip.Minutes().Clock(1)
	if first == last {
		return text + " at " + first + "."
	}
	return text + ", developed " + first + " to " + last + "."
}

// between tells the smallest and the largest of values, once where they read alike.
func between(values []float64, text func(v float64) string) string {
	if len(values) == 0 {
		return "not told"
	}
	low, high := text(slices.Min(values)), text(slices.Max(values))
	if low == high {
		return low
	}
	return low + " to " + high
}

func twoPlaces(v float64) string { return page.Fixed(v, 2) }

// verdicts are what the contrast of a negative is, held against a normal one.
var verdicts = map[scene.Verdict]string{scene.Lower: "lower", scene.Near: "near", scene.Higher: "higher"}

// headline returns the table that a photographer uses, a row a strip.
func (r *Curve) headline() [][]string {
	speed := "speed"
	if !r.trial.Exposures().Absolute() {
		speed = "speed point, relative"
	}
	rows := [][]string{{"developed", speed, "contrast index", "base + fog", fmt.Sprintf("%.0f stops give", float64(camera.NormalStops)), "than normal"}}
	exposed := slices.ContainsFunc(r.strips, func(m *curve.Measured) bool { return m.Strip.Seconds() != r.trial.Exposures().Seconds() })
	for _, m := range r.strips {
		row := []string{m.Strip.Minutes().Clock(1), withError(m.Speed, r.level), withError(m.ContrastIndex, r.level), withError(m.BaseFog, r.level), "-", ""}
		if exposed {
			row[0] += ", " + m.Strip.Seconds().String()
		}
		if !r.trial.Exposures().Absolute() {
			row[1] = withError(m.SpeedPoint, r.level)
		}
		if density, verdict, ok := scene.NormalRange(m); ok {
			row[4], row[5] = page.Fixed(float64(density), 2), verdicts[verdict]
		}
		rows = append(rows, row)
	}
	return rows
}

// Text writes the strips side by side.
func (r *Curve) Text(out io.Writer, l Layout) error {
	w := &writer{page.NewWriter(out, l)}
	w.Answer("%s", r.answer())
	w.Printf("\n")
	w.Lines(heading(r.trial))
	w.Printf("\n")
	headline := r.headline()
	if l.Full {
		w.Table(r.rows(r.strips))
	} else {
		w.Table(headline)
	}
	r.writeApart(w)
	var gradient, noise string // the same of all strips
	for _, m := range r.strips {
		gradient = gradientName(m.Gradient)
		if m.Fit != nil {
			noise = noiseName(m.Fit.Noise)
		}
	}
	w.Printf("\n")
	if l.Full {
		w.Paragraph("", "", fmt.Sprintf("± one standard deviation, from the %s; %s. %s", noise, gradient, r.forms()))
	} else {
		none := ""
		if slices.ContainsFunc(headline, func(row []string) bool { return row[4] == "-" }) {
			none = " (-: the strip does not reach that far)"
		}
		w.Paragraph("", "", fmt.Sprintf("± one standard deviation. %.0f stops give: the density range of a scene of %.0f stops with usual flare%s; that of a normal negative is %.2f, give or take half a stop. --full tells more of each strip.",
			float64(camera.NormalStops), float64(camera.NormalStops), none, float64(scene.DefaultDensityRange)))
	}
	writeWarnings(w, r.strips, func(m *curve.Measured) (string, sensito.Warnings) {
		warnings := m.Warnings
		if !l.Full { // what the table does not have
			warnings = slices.DeleteFunc(slices.Clone(warnings), curve.OfMore)
		}
		return fmt.Sprintf("%s (strip %d)", m.Strip.Minutes().Clock(1), m.Strip.Number()), warnings
	})
	return w.Err
}

// writeWarnings writes the warnings of strips, each once, after the names of those
// that have it.
func writeWarnings[S any](w *writer, strips []S, of func(S) (name string, warnings sensito.Warnings)) {
	var messages []string
	names := map[string][]string{}
	for _, s := range strips {
		name, warnings := of(s)
		for _, warning := range warnings {
			m := warning.Message()
			if names[m] == nil {
				messages = append(messages, m)
			}
			names[m] = append(names[m], name)
		}
	}
	for _, m := range messages {
		who := strings.Join(names[m], ", ")
		if len(names[m]) == len(strips) && len(strips) > 1 {
			who = "all strips"
		}
		w.Paragraph("! ", "  ", who+": "+m)
	}
}

// standard returns the standard speed nearest to a speed, with its degrees.
func standard(q *Quantity) string {
	if q == nil {
		return "-"
	}
	s, degrees := sensito.Speed(q.Value).Standard()
	return fmt.Sprintf("%g/%d°", float64(s), degrees)
}

// settingAlone returns the third-stop setting nearest to a speed that is no ISO speed.
func settingAlone(q *Quantity) string {
	if q == nil {
		return "-"
	}
	return page.Setting(q.Value)
}

func yesNo(b *bool) string {
	switch {
	case b == nil:
		return "-"
	case *b:
		return "yes"
	}
	return "no"
}
