package report

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"sensito/sensito"
	"sensito/sensito/answers"
	"sensito/sensito/control"
	"sensito/sensito/control/chart"
	"sensito/sensito/curve"
	"sensito/sensito/printable"
	"sensito/sensito/report/internal/page"
)

// Control is the report of a control log.
type Control struct {
	Schema      string           `json:"schema"`
	Log         string           `json:"log"`
	Rules       string           `json:"rules"`
	Baseline    ControlBaseline  `json:"baseline"`
	Dates       []string         `json:"dates"`
	RunFrom     int              `json:"run_from_index"` // the strip at which the charts last began anew
	Charts      []ControlChart   `json:"charts"`
	FirstSignal *ControlSignal   `json:"first_signal"`
	FalseShare  float64          `json:"false_signal_share"`
	Change      ControlChange    `json:"change"`
	Advice      []ControlAdvice  `json:"advice"`
	Logged      []ControlLogged  `json:"logged"` // what the trial's log says of days with a signal
	Warnings    sensito.Warnings `json:"warnings"`

	c *control.Evaluation
}

// ControlLogged is what was otherwise than meant on the day of a strip.
type ControlLogged struct {
	Index int      `json:"index"`
	Date  string   `json:"date"`
	Found []string `json:"found"`
}

// Developed adds what the log of a trial says of the days with a signal.
func (r *Control) Developed(found []control.Deviation) {
	for _, d := range found {
		r.Logged = append(r.Logged, ControlLogged(d))
	}
}

// ControlBaseline says where centre lines and limits come from.
type ControlBaseline struct {
	Center string  `json:"center"`
	Limits string  `json:"limits"`
	From   *string `json:"from"` // null where no strips are needed
	Strips []int   `json:"strips"`

	Repeatability *float64 `json:"repeatability"` // null where no limits rest on it
}

// ControlChart is one chart; values have one entry a strip, null where there is
// none.
type ControlChart struct {
	Quantity string        `json:"quantity"`
	Kind     string        `json:"kind"`
	Center   float64       `json:"center"`
	Lower    float64       `json:"lower"`
	Upper    float64       `json:"upper"`
	Sigma    float64       `json:"sigma"`
	Values   []*float64    `json:"values"`
	Falling  []float64     `json:"falling_values"` // null but for a CUSUM
	Signals  []ChartSignal `json:"signals"`
}

// ChartSignal is a point at which a chart signals.
type ChartSignal struct {
	Rule  string `json:"rule"`
	Index int    `json:"index"`
	Since int    `json:"since_index"`
}

// ControlSignal is the first signal of all charts.
type ControlSignal struct {
	Quantity  string `json:"quantity"`
	Kind      string `json:"kind"`
	Rule      string `json:"rule"`
	Index     int    `json:"index"`
	Date      string `json:"date"`
	Since     int    `json:"since_index"`
	SinceDate string `json:"since_date"`
}

// ControlChange is where the process is now, against where it should be. The
// three patches tell time, speed and fog apart, so that none counts what another
// does.
type ControlChange struct {
	TimePercent    *Quantity `json:"time_percent"`               // by which to develop longer to come back to the contrast of the aim
	SpeedStops     *Quantity `json:"speed_stops"`                // gained at SpeedAt, beside what that time brings back
	SpeedUnchanged *Quantity `json:"speed_unchanged_time_stops"` // gained at SpeedAt where the time stays as it is
	SpeedAt        float64   `json:"speed_at_net_density"`
	Fog            *Quantity `json:"fog"` // gained by base plus fog, beside what that time brings back

	Levels []ControlLevel `json:"levels"`
}

// ControlLevel is where one quantity is now.
type ControlLevel struct {
	Quantity  string    `json:"quantity"`
	Shape     string    `json:"shape"`
	Since     *int      `json:"since_index"` // null where there is no change
	SinceDate *string   `json:"since_date"`
	Change    *Quantity `json:"change"`
	PerWeek   *Quantity `json:"change_per_week"` // null but for a drift
}

// ControlAdvice is a pattern and what it usually means.
type ControlAdvice struct {
	Pattern string `json:"pattern"`
	Usually string `json:"usually"`
}

// The units of changes.
const (
	unitPercent = "%"
	unitWeekly  = "1/week"
)

// NewControl reports a control log, with intervals at the given level of
// confidence.
func NewControl(c *control.Evaluation, level float64) *Control {
	r := &Control{Schema: "sensito/control/1", Log: c.Log.Title(), Rules: string(c.Rules),
		Baseline: ControlBaseline{Center: c.Baseline.Center, Limits: c.Baseline.Limits, Strips: append([]int{}, c.Baseline.Strips...)},
		RunFrom:  c.RunFrom(), Charts: []ControlChart{}, FalseShare: c.FalseShare(), Advice: []ControlAdvice{}, Logged: []ControlLogged{}, Warnings: c.Warnings, c: c}
	if sd := float64(c.Baseline.Repeatability); sd > 0 {
		r.Baseline.Repeatability = &sd
	}
	if c.Baseline.From != "" {
		r.Baseline.From = &c.Baseline.From
	}
	for _, s := range c.Log.Strips() {
		r.Dates = append(r.Dates, s.Date)
	}
	for _, ch := range c.Charts {
		chart := ControlChart{Quantity: ch.Quantity, Kind: string(ch.Kind), Center: ch.Limits.Center, Lower: ch.Limits.Lower, Upper: ch.Limits.Upper,
			Sigma: ch.Sigma, Falling: ch.Falling, Signals: []ChartSignal{}}
		for _, v := range ch.Values {
			if math.IsNaN(v) {
				chart.Values = append(chart.Values, nil)
			} else {
				chart.Values = append(chart.Values, &v)
			}
		}
		for _, s := range ch.Signals {
			chart.Signals = append(chart.Signals, ChartSignal{s.Rule, s.Index, s.Since})
		}
		r.Charts = append(r.Charts, chart)
	}
	if s := c.First; s != nil {
		r.FirstSignal = &ControlSignal{s.Quantity, string(s.Kind), s.Rule, s.Index, r.Dates[s.Index-1], s.Since, r.Dates[s.Since-1]}
	}
	r.Change = ControlChange{TimePercent: quantity(c.TimePercent, level, unitPercent), SpeedStops: quantity(c.SpeedStops, level, unitStops),
		SpeedUnchanged: quantity(c.SpeedUnchanged, level, unitStops), SpeedAt: float64(curve.SpeedPointDensity), Fog: quantity(c.Fog, level, unitOne)}
	for _, l := range c.Levels {
		lv := ControlLevel{Quantity: l.Quantity, Shape: l.Shape, Change: quantity(&l.Change, level, unitOne), PerWeek: quantity(l.PerWeek, level, unitWeekly)}
		if l.Since > 0 {
			lv.Since, lv.SinceDate = &l.Since, &r.Dates[l.Since-1]
		}
		r.Change.Levels = append(r.Change.Levels, lv)
	}
	for _, a := range c.Advice {
		r.Advice = append(r.Advice, ControlAdvice(a))
	}
	return r
}

// Text writes the verdict, where each quantity is now, what that means, and the
// signals of each chart.
func (r *Control) Text(out io.Writer, l Layout) error {
	w := &writer{page.NewWriter(out, l)}
	w.Answer("%s.", answers.Control(r.c))
	w.Printf("\n")
	if r.Log != "" {
		w.Paragraph("", "", r.Log)
	}
	n := len(r.Dates)
	dates := r.Dates[0]
	if last := r.Dates[n-1]; last != dates {
		dates += " to " + last
	}
	w.Printf("%s, %s\n", printable.Counted(n, "strip"), dates)
	if l.Full {
		w.Printf("\n")
		w.Paragraph("", "", r.verdict())
	}
	w.Printf("\n")
	r.levels(w)
	r.meaning(w)
	if l.Full {
		r.signals(w)
	}
	for _, a := range r.Advice {
		w.Paragraph("- ", "  ", a.Pattern+": "+a.Usually+".")
	}
	if len(r.Advice) > 0 {
		w.Printf("\n")
	}
	if len(r.Logged) > 0 {
		w.Printf("Developed otherwise, by the trial's log:\n")
		for _, l := range r.Logged {
			w.Paragraph(fmt.Sprintf("  %s  ", l.Date), "              ", strings.Join(l.Found, "; "))
		}
		w.Printf("\n")
	}
	if notes := r.c.Notes(); len(notes) > 0 {
		w.Printf("Noted at the time:\n")
		strips := r.c.Log.Strips()
		for _, i := range notes {
			w.Paragraph(fmt.Sprintf("  %s  ", r.Dates[i-1]), "              ", strips[i-1].Note)
		}
		w.Printf("\n")
	}
	if l.Full {
		w.Paragraph("", "", r.basis())
	} else {
		w.Paragraph("", "", "± one standard deviation. --full has the signals of each chart, and where the limits are from.")
	}
	w.Warnings(r.Warnings)
	if r.Change.TimePercent != nil {
		w.Printf("\n")
		w.Lines(page.StartingPoint)
	}
	return w.Err
}

// verdict says whether the process is in control.
func (r *Control) verdict() string {
	s := r.FirstSignal
	if s == nil {
		if r.RunFrom > 1 {
			return fmt.Sprintf("In control since the fresh start of %s: no chart signals.", r.Dates[r.RunFrom-1])
		}
		return "In control: no chart signals."
	}
	text := "Out of control"
	if s.Since < s.Index {
		text += fmt.Sprintf(" since %s, strip %d", s.SinceDate, s.Since)
	}
	text += fmt.Sprintf(". First signal: %s, strip %d, by the %s of the %s", s.Date, s.Index, chartName(s.Kind), spoken(s.Quantity))
	if meaning := chart.MeaningOf(s.Rule); s.Kind == string(chart.KindIndividuals) {
		text += " (" + ruleName(s.Rule, meaning) + ")"
	}
	return text + "."
}

// levels writes the table of the present levels.
func (r *Control) levels(w *writer) {
	rows := [][]string{{"", "aim", "is off by", "change", "a week", "since"}}
	for _, l := range r.Change.Levels {
		row := []string{spoken(l.Quantity), page.Fixed(r.c.Center(l.Quantity), 3), withSign(l.Change), map[string]string{"none": "-", "step": "at once", "drift": "drift"}[l.Shape], "-", "-"}
		if l.PerWeek != nil {
			row[4] = withSign(l.PerWeek)
		}
		if l.SinceDate != nil {
			row[5] = *l.SinceDate
		}
		rows = append(rows, row)
	}
	w.Table(rows)
	w.Printf("\n")
}

// whatChanged says which of rate, speed and fog have surely changed, and which
// have not, by their intervals; "" where no chart signals.
func (r *Control) whatChanged() string {
	ch := r.Change
	if r.FirstSignal == nil {
		return ""
	}
	var changed, not []string
	for _, part := range []struct {
		q              *Quantity
		name, up, down string
	}{
		{ch.TimePercent, "rate", "development is slower", "development is faster"},
		{ch.SpeedStops, "speed", "the film is faster", "the film has lost speed"},
		{ch.Fog, "fog", "fog is up", "fog is down"},
	} {
		switch q := part.q; {
		case q.Low > 0:
			changed = append(changed, part.up)
		case q.High < 0:
			changed = append(changed, part.down)
		default:
			not = append(not, part.name)
		}
	}
	text := ""
	if len(changed) > 0 {
		text = "What has changed: " + strings.Join(changed, ", ") + ". "
	}
	if len(not) > 0 {
		text += "No change of " + strings.Join(not, " or ") + " proven."
	}
	return strings.TrimSpace(text)
}

// meaning writes what the change comes to.
func (r *Control) meaning(w *writer) {
	ch := r.Change
	if t := ch.TimePercent; t != nil {
		if text := r.whatChanged(); text != "" {
			w.Paragraph("", "", text)
		}
		w.Paragraph("", "", fmt.Sprintf("Development time to come back to the contrast of the aim: %s %%.", withSign(t)))
		then := fmt.Sprintf("Speed at that time: %s stops", withSign(ch.SpeedStops))
		if u := ch.SpeedUnchanged; u != nil {
			then += fmt.Sprintf("; at the time of the strips: %s stops", withSign(u))
		}
		w.Paragraph("", "", then+".")
		w.Paragraph("", "", fmt.Sprintf("Base plus fog at that time: %s.", withSign(ch.Fog)))
		w.Paragraph("", "", fmt.Sprintf("Speed is told at the speed point, net density %.2f; density that the low patch lost with contrast is not counted as speed.", ch.SpeedAt))
	} else if s := ch.SpeedStops; s != nil {
		w.Paragraph("", "", fmt.Sprintf("Speed: %s stops, told at the low patch; what it lost with contrast is taken off in proportion.", withSign(s)))
	}
	if ch.SpeedStops != nil {
		w.Printf("\n")
	}
}

// signals writes a line for each chart that signals.
func (r *Control) signals(w *writer) {
	rows := [][]string{}
	for _, ch := range r.Charts {
		if len(ch.Signals) == 0 {
			continue
		}
		first := ch.Signals[0]
		var rules []string
		points := map[int]bool{}
		for _, s := range ch.Signals {
			points[s.Index] = true
			if !slices.Contains(rules, s.Rule) {
				rules = append(rules, s.Rule)
			}
		}
		slices.Sort(rules)
		by := shortRule(rules[0])
		for _, rule := range rules[1:] { // of one set, so the number tells
			by += ", " + rule[strings.LastIndex(rule, "_")+1:]
		}
		rows = append(rows, []string{spoken(ch.Quantity) + ", " + chartName(ch.Kind), r.Dates[first.Index-1], fmt.Sprint(first.Index), fmt.Sprint(len(points)), by})
	}
	if len(rows) == 0 {
		return
	}
	w.Table(append([][]string{{"chart signalling", "first", "strip", "strips in all", "by"}}, rows...))
	w.Printf("\n")
}

// basis says where the limits are from and how often they err.
func (r *Control) basis() string {
	b := r.Baseline
	strips := ""
	if b.From != nil {
		strips = fmt.Sprintf("the first %d strips", len(b.Strips))
		if *b.From == "marked" {
			strips = fmt.Sprintf("the %d strips marked as baseline", len(b.Strips))
		}
	}
	center := map[string]string{"aim": "the aim of the log", "reference": "the reference strip", "baseline": "the mean of " + strips}[b.Center]
	limits := map[string]string{"given": "as the log states them", "baseline": "three standard deviations, from the moving ranges of " + strips,
		"given and baseline": "as the log states them, the others three standard deviations, from the moving ranges of " + strips}[b.Limits]
	if sd := b.Repeatability; sd != nil {
		limits = fmt.Sprintf("three standard deviations, of %g for a patch", *sd)
		if b.Limits != "repeatability" {
			limits = "as the log states them, the others " + limits
		}
	}
	text := fmt.Sprintf("Centre: %s. Limits: %s.", center, limits)
	for _, kind := range chart.Kinds {
		if !slices.ContainsFunc(r.Charts, func(ch ControlChart) bool { return ch.Kind == string(kind) }) {
			continue
		}
		switch kind {
		case chart.KindIndividuals:
			text += fmt.Sprintf(" Rules for single strips: %s.", rulesName(r.Rules))
		case chart.KindEWMA:
			text += fmt.Sprintf(" EWMA: weight %g, %g standard deviations.", chart.EWMAWeight, chart.EWMAWidth)
		case chart.KindCUSUM:
			text += fmt.Sprintf(" CUSUM: k = %g, h = %d standard deviations.", chart.CUSUMAllow, chart.CUSUMInterval)
		}
	}
	return text + fmt.Sprintf(" A steady process would give a first signal in %.0f of 100 logs like this one. ± one standard deviation.", 100*r.FalseShare)
}

// withSign returns a quantity with its sign.
func withSign(q *Quantity) string {
	if s := q.String(); q == nil || strings.HasPrefix(s, "-") || q.Value <= 0 {
		return s
	}
	return "+" + q.String()
}

// spoken returns a quantity in words.
func spoken(quantity string) string {
	switch quantity {
	case control.QuantityBaseFog:
		return "base plus fog"
	case control.QuantityLow:
		return "low density"
	case control.QuantityDifference:
		return "density difference"
	}
	return "patch " + quantity
}

func chartName(kind string) string {
	switch chart.Kind(kind) {
	case chart.KindIndividuals:
		return "single strips"
	case chart.KindMovingRange:
		return "moving ranges"
	}
	return strings.ToUpper(kind)
}

func rulesName(set string) string {
	switch chart.RuleSet(set) {
	case chart.WesternElectric:
		return "Western Electric 1956"
	case chart.Nelson:
		return "Nelson 1984"
	}
	return "beyond the limits"
}

// shortRule returns a rule's set and number.
func shortRule(rule string) string {
	set, number, ok := cutLast(rule, "_")
	switch {
	case ok && set == "western_electric":
		return "Western Electric " + number
	case ok && set == "nelson":
		return "Nelson " + number
	}
	return "limit"
}

// ruleName returns a rule's set and number with its meaning.
func ruleName(rule, meaning string) string {
	if name := shortRule(rule); name != "limit" {
		return name + ": " + meaning
	}
	return meaning
}

func cutLast(s, sep string) (before, after string, found bool) {
	if i := strings.LastIndex(s, sep); i >= 0 {
		return s[:i], s[i+len(sep):], true
	}
	return s, "", false
}
