package report

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"sensito/sensito/answers"
	"sensito/sensito/control"
	"sensito/sensito/control/chart"
	"sensito/sensito/curve"
	"sensito/sensito/printable"
	"sensito/sensito/report/internal/page"
)

// Control is the report of a control log.
type Control struct {
	c      *control.Evaluation
	level  float64
	logged []control.Deviation
}

// NewControl reports a control log, with intervals at the given level of
// confidence.
func NewControl(c *control.Evaluation, level float64) *Control { return &Control{c: c, level: level} }

// Developed adds what the log of a trial says of the days with a signal.
func (r *Control) Developed(found []control.Deviation) { r.logged = found }

// MarshalJSON writes all that is known of the log.
func (r *Control) MarshalJSON() ([]byte, error) {
	c, b := r.c, r.c.Baseline
	var dates []string
	for _, s := range c.Log.Strips() {
		dates = append(dates, s.Date)
	}
	var first object
	if s := c.First; s != nil {
		first = object{{"quantity", s.Quantity}, {"kind", s.Kind}, {"rule", s.Rule},
			{"index", s.Index}, {"date", r.date(s.Index)}, {"since_index", s.Since}, {"since_date", r.date(s.Since)}}
	}
	return object{
		{"schema", "sensito/control/1"}, {"log", c.Log.Title()}, {"rules", c.Rules},
		{"baseline", object{{"center", b.Center}, {"limits", b.Limits},
			{"from", words(b.From)}, {"strips", append([]int{}, b.Strips...)}, // null where no strips are needed
			{"repeatability", stated(float64(b.Repeatability))}}}, // null where no limits rest on it
		{"dates", dates}, {"run_from_index", c.RunFrom()}, // the strip at which the charts last began anew
		{"charts", objects(c.Charts, chartObject)}, {"first_signal", first}, {"false_signal_share", c.FalseShare()},
		{"change", object{ // the three patches tell time, speed and fog apart, so that none counts what another does
			{"time_percent", quantity(c.TimePercent, r.level, unitPercent)},                // by which to develop longer to come back to the contrast of the aim
			{"speed_stops", quantity(c.SpeedStops, r.level, unitStops)},                    // gained at that density, beside what that time brings back
			{"speed_unchanged_time_stops", quantity(c.SpeedUnchanged, r.level, unitStops)}, // where the time stays as it is
			{"speed_at_net_density", curve.SpeedPointDensity},
			{"fog", quantity(c.Fog, r.level, unitOne)}, // gained by base plus fog, beside what that time brings back
			{"levels", objects(c.Levels, r.levelObject)},
		}},
		{"advice", objects(c.Advice, func(a control.Advice) object { return object{{"pattern", a.Pattern}, {"usually", a.Usually}} })},
		{"logged", objects(r.logged, func(d control.Deviation) object { // what the trial's log says of days with a signal
			return object{{"index", d.Index}, {"date", d.Date}, {"found", d.Found}}
		})},
		{"warnings", c.Warnings},
	}.MarshalJSON()
}

// chartObject is one chart; values have one entry a strip, null where there is none.
func chartObject(ch control.Chart) object {
	var values []any
	for _, v := range ch.Values {
		values = append(values, known(v))
	}
	return object{
		{"quantity", ch.Quantity}, {"kind", ch.Kind}, {"center", ch.Limits.Center}, {"lower", ch.Limits.Lower}, {"upper", ch.Limits.Upper},
		{"sigma", ch.Sigma}, {"values", values}, {"falling_values", ch.Falling}, // null but for a CUSUM
		{"signals", objects(ch.Signals, func(s chart.Signal) object {
			return object{{"rule", s.Rule}, {"index", s.Index}, {"since_index", s.Since}}
		})},
	}
}

// levelObject is where one quantity is now.
func (r *Control) levelObject(l control.Level) object {
	return object{
		{"quantity", l.Quantity}, {"shape", l.Shape},
		{"since_index", numbered(l.Since)}, {"since_date", words(r.date(l.Since))}, // null where there is no change
		{"change", quantity(&l.Change, r.level, unitOne)},
		{"change_per_week", quantity(l.PerWeek, r.level, unitWeekly)}, // null but for a drift
	}
}

// date returns that of a strip, "" of strip 0.
func (r *Control) date(strip int) string {
	if strip == 0 {
		return ""
	}
	return r.c.Log.Strips()[strip-1].Date
}

// Text writes the verdict, where each quantity is now, what that means, and the
// signals of each chart.
func (r *Control) Text(out io.Writer, l Layout) error {
	w := &writer{page.NewWriter(out, l)}
	w.Answer("%s.", answers.Control(r.c))
	w.Printf("\n")
	if title := r.c.Log.Title(); title != "" {
		w.Paragraph("", "", title)
	}
	n := len(r.c.Log.Strips())
	dates := r.date(1)
	if last := r.date(n); last != dates {
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
	for _, a := range r.c.Advice {
		w.Paragraph("- ", "  ", a.Pattern+": "+a.Usually+".")
	}
	if len(r.c.Advice) > 0 {
		w.Printf("\n")
	}
	if len(r.logged) > 0 {
		w.Printf("Developed otherwise, by the trial's log:\n")
		for _, l := range r.logged {
			w.Paragraph(fmt.Sprintf("  %s  ", l.Date), "              ", strings.Join(l.Found, "; "))
		}
		w.Printf("\n")
	}
	if notes := r.c.Notes(); len(notes) > 0 {
		w.Printf("Noted at the time:\n")
		strips := r.c.Log.Strips()
		for _, i := range notes {
			w.Paragraph(fmt.Sprintf("  %s  ", r.date(i)), "              ", strips[i-1].Note)
		}
		w.Printf("\n")
	}
	if l.Full {
		w.Paragraph("", "", r.basis())
	} else {
		w.Paragraph("", "", "± one standard deviation. --full has the signals of each chart, and where the limits are from.")
	}
	w.Warnings(r.c.Warnings)
	if r.timePercent() != nil {
		w.Printf("\n")
		w.Lines(page.StartingPoint)
	}
	return w.Err
}

// verdict says whether the process is in control.
func (r *Control) verdict() string {
	s := r.c.First
	if s == nil {
		if from := r.c.RunFrom(); from > 1 {
			return fmt.Sprintf("In control since the fresh start of %s: no chart signals.", r.date(from))
		}
		return "In control: no chart signals."
	}
	text := "Out of control"
	if s.Since < s.Index {
		text += fmt.Sprintf(" since %s, strip %d", r.date(s.Since), s.Since)
	}
	text += fmt.Sprintf(". First signal: %s, strip %d, by the %s of the %s", r.date(s.Index), s.Index, chartName(s.Kind), control.Spoken(s.Quantity))
	if meaning := chart.MeaningOf(s.Rule); s.Kind == chart.KindIndividuals {
		text += " (" + ruleName(s.Rule, meaning) + ")"
	}
	return text + "."
}

// levels writes the table of the present levels.
func (r *Control) levels(w *writer) {
	rows := [][]string{{"", "aim", "is off by", "change", "a week", "since"}}
	for _, l := range r.c.Levels {
		row := []string{control.Spoken(l.Quantity), page.Fixed(r.c.Center(l.Quantity), 3), withSign(quantity(&l.Change, r.level, unitOne)), map[string]string{"none": "-", "step": "at once", "drift": "drift"}[l.Shape], "-", "-"}
		if q := quantity(l.PerWeek, r.level, unitWeekly); q != nil {
			row[4] = withSign(q)
		}
		if l.Since > 0 {
			row[5] = r.date(l.Since)
		}
		rows = append(rows, row)
	}
	w.Table(rows)
	w.Printf("\n")
}

// timePercent returns by how much to develop longer, nil where that is not told.
func (r *Control) timePercent() *Quantity { return quantity(r.c.TimePercent, r.level, unitPercent) }

// whatChanged says which of rate, speed and fog have surely changed, and which
// have not, by their intervals; "" where no chart signals.
func (r *Control) whatChanged() string {
	if r.c.First == nil {
		return ""
	}
	var changed, not []string
	for _, part := range []struct {
		q              *Quantity
		name, up, down string
	}{
		{r.timePercent(), "rate", "development is slower", "development is faster"},
		{quantity(r.c.SpeedStops, r.level, unitStops), "speed", "the film is faster", "the film has lost speed"},
		{quantity(r.c.Fog, r.level, unitOne), "fog", "fog is up", "fog is down"},
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
	speed := quantity(r.c.SpeedStops, r.level, unitStops)
	if t := r.timePercent(); t != nil {
		if text := r.whatChanged(); text != "" {
			w.Paragraph("", "", text)
		}
		w.Paragraph("", "", fmt.Sprintf("Development time to come back to the contrast of the aim: %s %%.", withSign(t)))
		then := fmt.Sprintf("Speed at that time: %s stops", withSign(speed))
		if u := quantity(r.c.SpeedUnchanged, r.level, unitStops); u != nil {
			then += fmt.Sprintf("; at the time of the strips: %s stops", withSign(u))
		}
		w.Paragraph("", "", then+".")
		w.Paragraph("", "", fmt.Sprintf("Base plus fog at that time: %s.", withSign(quantity(r.c.Fog, r.level, unitOne))))
		w.Paragraph("", "", fmt.Sprintf("Speed is told at the speed point, net density %.2f; density that the low patch lost with contrast is not counted as speed.", float64(curve.SpeedPointDensity)))
	} else if speed != nil {
		w.Paragraph("", "", fmt.Sprintf("Speed: %s stops, told at the low patch; what it lost with contrast is taken off in proportion.", withSign(speed)))
	}
	if speed != nil {
		w.Printf("\n")
	}
}

// signals writes a line for each chart that signals.
func (r *Control) signals(w *writer) {
	rows := [][]string{}
	for _, ch := range r.c.Charts {
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
		rows = append(rows, []string{control.Spoken(ch.Quantity) + ", " + chartName(ch.Kind), r.date(first.Index), fmt.Sprint(first.Index), fmt.Sprint(len(points)), by})
	}
	if len(rows) == 0 {
		return
	}
	w.Table(append([][]string{{"chart signalling", "first", "strip", "strips in all", "by"}}, rows...))
	w.Printf("\n")
}

// basis says where the limits are from and how often they err.
func (r *Control) basis() string {
	b := r.c.Baseline
	strips := ""
	if b.From != "" {
		strips = fmt.Sprintf("the first %d strips", len(b.Strips))
		if b.From == "marked" {
			strips = fmt.Sprintf("the %d strips marked as baseline", len(b.Strips))
		}
	}
	center := map[string]string{"aim": "the aim of the log", "reference": "the reference strip", "baseline": "the mean of " + strips}[b.Center]
	limits := map[string]string{"given": "as the log states them", "baseline": "three standard deviations, from the moving ranges of " + strips,
		"given and baseline": "as the log states them, the others three standard deviations, from the moving ranges of " + strips}[b.Limits]
	if sd := float64(b.Repeatability); sd > 0 {
		limits = fmt.Sprintf("three standard deviations, of %g for a patch", sd)
		if b.Limits != "repeatability" {
			limits = "as the log states them, the others " + limits
		}
	}
	text := fmt.Sprintf("Centre: %s. Limits: %s.", center, limits)
	for _, kind := range chart.Kinds {
		if !slices.ContainsFunc(r.c.Charts, func(ch control.Chart) bool { return ch.Kind == kind }) {
			continue
		}
		switch kind {
		case chart.KindIndividuals:
			text += fmt.Sprintf(" Rules for single strips: %s.", rulesName(r.c.Rules))
		case chart.KindEWMA:
			text += fmt.Sprintf(" EWMA: weight %g, %g standard deviations.", chart.EWMAWeight, chart.EWMAWidth)
		case chart.KindCUSUM:
			text += fmt.Sprintf(" CUSUM: k = %g, h = %d standard deviations.", chart.CUSUMAllow, chart.CUSUMInterval)
		}
	}
	return text + fmt.Sprintf(" A steady process would give a first signal in %.0f of 100 logs like this one. ± one standard deviation.", 100*r.c.FalseShare())
}

func chartName(kind chart.Kind) string {
	switch kind {
	case chart.KindIndividuals:
		return "single strips"
	case chart.KindMovingRange:
		return "moving ranges"
	}
	return strings.ToUpper(string(kind))
}

func rulesName(set chart.RuleSet) string {
	switch set {
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
