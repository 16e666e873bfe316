package report

import (
	"fmt"
	"io"
	"math"
	"strconv"

	"sensito/sensito"
	"sensito/sensito/answers"
	"sensito/sensito/report/internal/page"
	"sensito/sensito/testplan"
)

// Plan is the report of what to test next, or first.
type Plan struct {
	Schema      string           `json:"schema"`
	Trial       string           `json:"trial"`
	Wanted      *Wanted          `json:"wanted"`            // null for a first test
	Before      *Quantity        `json:"before"`            // the answer now; null when there is none
	AsTested    *Quantity        `json:"minutes_as_tested"` // under the conditions of the trial; null where they are those, or an index is wanted
	Uncorrected *Uncorrected     `json:"uncorrected"`       // the answer now less what is corrected; null where nothing is
	Candidates  []Candidate      `json:"candidates"`
	Proposal    Proposed         `json:"proposal"`
	Conditions  *Conditions      `json:"conditions"` // of the answer; null under those of the trial
	Today       *Today           `json:"today"`      // null without a control log
	Bench       Bench            `json:"bench"`
	Warnings    sensito.Warnings `json:"warnings"`

	heading string
	next    *testplan.Proposal      // nil for a first test
	first   *testplan.FirstProposal // nil for the next one
}

// Wanted is the answer that a test is to sharpen.
type Wanted struct {
	Quantity        testplan.Wanted `json:"quantity"`
	SceneRangeStops float64         `json:"scene_range_stops"`
	Aim             string          `json:"aim"`
	DensityRange    float64         `json:"density_range"`
	Delivered       *Quantity       `json:"delivered_density_range"` // by the answer now; null when there is none
	WithinPercent   float64         `json:"within_percent"`
	Confidence      float64         `json:"confidence"`
}

// Candidate is one thing that could be done, and the answer then. Minutes is
// null for an action, Action for a strip.
type Candidate struct {
	Minutes       *float64  `json:"minutes"`
	Action        *string   `json:"action"`
	Text          string    `json:"text"`
	Far           bool      `json:"far"`   // a strip so far from the answer's time that it is not proposed
	Again         bool      `json:"again"` // a strip was developed for so long already
	After         *Quantity `json:"after"`
	WithinPercent Bound     `json:"within_percent"` // null for an open interval
	Gain          *float64  `json:"gain"`           // share by which that shrinks; null when it was open or unknown
}

// Proposed is what is to be done together.
type Proposed struct {
	Minutes       []float64   `json:"minutes"`        // strips to develop, rising, under the conditions of the trial
	Steps         []Candidate `json:"steps"`          // in the order chosen, each on top of those before
	After         *Quantity   `json:"after"`          // null for a first test
	WithinPercent *Bound      `json:"within_percent"` // null for an open interval and for a first test
	LikelyPercent *[2]Bound   `json:"likely_percent"` // where the half width may come to lie by chance
	Met           *bool       `json:"met"`            // null for a first test
}

// NewPlan reports what to test next.
func NewPlan(p *testplan.Proposal, s Solution) *Plan {
	o := p.Options
	r := &Plan{Schema: "sensito/plan/1", Trial: p.Family.Trial.Name(), Candidates: []Candidate{}, Warnings: p.Warnings,
		Wanted: &Wanted{Quantity: o.Wanted, SceneRangeStops: p.Scene.Stops, Aim: p.Scene.AimText(), DensityRange: float64(p.DensityRange), Delivered: quantity(p.Delivered, o.Level, unitOne),
			WithinPercent: 100 * o.Within, Confidence: o.Level},
		heading: heading(p.Family.Trial), next: p}
	unit := unitMinutes
	if o.Wanted == testplan.WantedIndex {
		unit = unitOne
	}
	r.Before = quantity(p.Before, o.Level, unit)
	candidate := func(c testplan.Candidate) Candidate {
		out := Candidate{Far: c.Far, After: quantity(&c.After, o.Level, unit), WithinPercent: Bound(100 * c.Half)}
		if c.Action != nil {
			out.Action, out.Text = &c.Action.Code, c.Action.Text
		} else {
			minutes := float64(c.Minutes)
			out.Minutes, out.Text, out.Again = &minutes, answers.ToDevelop(c), c.Again
		}
		if !math.IsNaN(c.Gain) {
			out.Gain = &c.Gain
		}
		return out
	}
	for _, c := range p.Candidates {
		r.Candidates = append(r.Candidates, candidate(c))
	}
	r.Proposal = Proposed{Minutes: []float64{}, Steps: []Candidate{}, Met: &p.Met}
	if after := p.After(); after != nil {
		half := Bound(100 * testplan.HalfWidth(*after, o.Level))
		r.Proposal.After, r.Proposal.WithinPercent = quantity(after, o.Level, unit), &half
	}
	for _, c := range p.Chosen {
		r.Proposal.Steps = append(r.Proposal.Steps, candidate(c))
	}
	for _, t := range p.Strips() {
		r.Proposal.Minutes = append(r.Proposal.Minutes, float64(t))
	}
	if l := p.Likely; l != nil {
		r.Proposal.LikelyPercent = &[2]Bound{Bound(100 * l[0]), Bound(100 * l[1])}
	}
	r.Bench = nextBench(p, s)
	var more sensito.Warnings
	r.Conditions, r.Today, more = adjusted(p.Today, o.Level)
	if now := p.Answer; now != nil {
		r.Uncorrected = uncorrectedAnswer(now, o.Level)
		if o.Wanted != testplan.WantedIndex {
			r.AsTested = asTested(now, o.Level)
		}
	}
	r.Warnings = join(r.Warnings, more)
	return r
}

// NewFirstTest reports a first test.
func NewFirstTest(p *testplan.FirstProposal, s Solution) *Plan {
	r := &Plan{Schema: "sensito/plan/1", Trial: p.Spec.Film.Name, Candidates: []Candidate{}, Warnings: p.Warnings,
		Proposal: Proposed{Minutes: []float64{}, Steps: []Candidate{}}, Bench: firstBench(p, s), first: p}
	r.heading = "A first test of " + p.Spec.Film.Name
	if conditions := p.Spec.Process.String(); conditions != "" {
		r.heading += " in " + conditions
	}
	for _, t := range p.Minutes {
		r.Proposal.Minutes = append(r.Proposal.Minutes, float64(t))
	}
	return r
}

// listed is how many candidates the text shows.
const listed = 10

// Text writes what is known now, what each candidate would add, what to do
// together, and the sheet for the bench.
func (r *Plan) Text(out io.Writer, l Layout) error {
	w := &writer{page.NewWriter(out, l)}
	w.Answer("%s", r.answer())
	w.Printf("\n")
	w.Lines(r.heading)
	w.Printf("\n")
	if r.next != nil {
		r.question(w)
		if l.Full {
			r.ranked(w)
		}
		r.together(w)
		r.Conditions.write(w)
		r.Today.write(w, r.Uncorrected.answers("EI"))
		if r.Conditions != nil || r.Today != nil && r.Today.Corrected {
			w.Printf("\n")
			w.Paragraph("", "", "The answer is that of today. Develop the strips as those of the trial, at "+
				"the times given for them, which are not those of today: "+r.next.Family.Trial.Process().String()+".")
		}
	} else {
		r.assumed(w)
	}
	if len(r.Warnings) > 0 {
		w.Printf("\n")
	}
	w.Warnings(r.Warnings)
	r.Bench.text(w)
	w.Printf("\n")
	w.Lines(page.StartingPoint)
	return w.Err
}

// answer says what to do next.
func (r *Plan) answer() string {
	if r.next == nil {
		return answers.FirstTest(r.first)
	}
	return answers.NextTest(r.next)
}

// assumed says what a first test takes for granted.
func (r *Plan) assumed(w *writer) {
	s := r.first.Spec
	w.Paragraph("", "", fmt.Sprintf("Nothing is known yet but the box: speed %s, %s for a normal negative. Times in a geometric row about that show how contrast grows; the speed point is expected at %s log lx s, 0.8/S, and may lie a stop to either side.",
		page.Figures(float64(s.Film.RatedSpeed)), s.Minutes.Clock(1), page.Fixed(float64(r.first.SpeedPoint), 2)))
}

// question says which answer is wanted, and how sharp it is now.
func (r *Plan) question(w *writer) {
	what := "development time"
	if r.Wanted.Quantity == testplan.WantedIndex {
		what = "exposure index"
	}
	w.Paragraph("", "  ", fmt.Sprintf("What to test next for the %s of a scene of %g stops (%s), for %s:",
		what, r.Wanted.SceneRangeStops, page.DevelopmentName(7-r.Wanted.SceneRangeStops), r.Wanted.Aim))
	percent := strconv.FormatFloat(100*r.Wanted.Confidence, 'g', 4, 64)
	rows := [][]string{{"", "", percent + " % interval", "within"}}
	rows = append(rows, r.row("  now", r.Before, nil))
	if m := r.AsTested; m != nil {
		rows = append(rows, r.row("  as tested", m, nil))
	}
	rows = append(rows, []string{"  wanted", "", "", share(r.Wanted.WithinPercent)})
	w.Printf("\n")
	w.Table(rows)
	if d := r.Wanted.Delivered; d != nil {
		w.Printf("\n")
		w.Paragraph("", "", fmt.Sprintf("The answer now gives a density range of %s, %s to %s.", page.Fixed(d.Value, 2), page.Fixed(float64(d.Low), 2), page.Fixed(float64(d.High), 2)))
	}
}

// row returns a row for an answer.
func (r *Plan) row(label string, q *Quantity, gain *float64) []string {
	if q == nil {
		return []string{label, "none yet", "", ""}
	}
	value := func(v Bound) string { return clock(float64(v), 5) }
	if r.Wanted.Quantity == testplan.WantedIndex {
		value = func(v Bound) string { return page.Figures(float64(v)) }
	}
	row := []string{label, value(Bound(q.Value)), value(q.Low) + " or more", "open"}
	if !math.IsInf(float64(q.High), 1) {
		half := math.Max(float64(q.High)/q.Value, q.Value/float64(q.Low)) - 1
		row[2], row[3] = value(q.Low)+" to "+value(q.High), share(100*half)
	}
	if gain != nil {
		row = append(row, share(100**gain))
	}
	return row
}

func share(percent float64) string { return answers.Share(percent) }

// ranked lists what each candidate would do by itself.
func (r *Plan) ranked(w *writer) {
	if len(r.Candidates) == 0 {
		return
	}
	w.Printf("\nOne thing by itself, the most useful first:\n\n")
	rows := [][]string{{"", "", "interval then", "within", "narrower by"}}
	strips, left, far := 0, 0, false
	var actions []Candidate
	for _, c := range r.Candidates {
		label := "  " + c.Text
		if c.Action != nil {
			actions = append(actions, c)
			label = "  " + answers.ActionName(*c.Action)
		} else if strips++; strips > listed {
			left++
			continue
		}
		if c.Far {
			label, far = label+" *", true
		}
		rows = append(rows, r.row(label, c.After, c.Gain))
	}
	w.Table(rows)
	if far {
		w.Paragraph("  * ", "    ", "more than 1.5 times from the answer: not proposed, since film follows the law least surely there")
	}
	if left > 0 {
		w.Printf("  and %d times more, which help less\n", left)
	}
	for _, c := range actions {
		w.Paragraph("  ", "    ", answers.ActionName(*c.Action)+": "+c.Text)
	}
}

// together lists what is proposed.
func (r *Plan) together(w *writer) {
	p := r.Proposal
	switch {
	case len(p.Steps) == 0 && *p.Met:
		w.Printf("\nThe answer is as sharp as wanted: nothing needs to be tested.\n")
		return
	case len(p.Steps) == 0:
		w.Printf("\nNothing here narrows the interval by as much as a strip is worth.\n")
		return
	}
	w.Printf("\nTogether, each on top of the one before:\n\n")
	rows := [][]string{{"", "", "interval then", "within"}}
	for _, c := range p.Steps {
		label := "  " + c.Text
		if c.Action != nil {
			label = "  " + answers.ActionName(*c.Action)
		}
		rows = append(rows, r.row(label, c.After, nil))
	}
	w.Table(rows)
	if again := r.next.Again(); len(again) > 0 {
		w.Paragraph("", "", answers.Clocks(again)+" again: strips developed alike tell how well your process repeats, whatever the law of growth.")
	}
	if l := p.LikelyPercent; l != nil {
		text := fmt.Sprintf("Real strips scatter: once these are developed, expect %s to %s.", share(float64(l[0])), share(float64(l[1])))
		if math.IsInf(float64(l[1]), 1) {
			text = fmt.Sprintf("Real strips scatter: once these are developed, expect %s, or by chance still no upper limit.", share(float64(l[0])))
			if math.IsInf(float64(l[0]), 1) {
				text = "Real strips scatter: even with these, expect the interval to stay open."
			}
		}
		w.Paragraph("", "", text)
	}
}
