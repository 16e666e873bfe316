package report

import (
	"fmt"
	"io"
	"math"

	"sensito/sensito"
	"sensito/sensito/answers"
	"sensito/sensito/report/internal/page"
	"sensito/sensito/testplan"
)

// Plan is the report of what to test next, or first.
type Plan struct {
	told
	next  *testplan.Proposal      // nil for a first test
	first *testplan.FirstProposal // nil for the next one
	Bench Bench
}

// NewPlan reports what to test next.
func NewPlan(p *testplan.Proposal, s Solution) *Plan {
	return &Plan{told: tell(p.Today, p.Options.Level, p.Warnings), next: p, Bench: nextBench(p, s)}
}

// NewFirstTest reports a first test.
func NewFirstTest(p *testplan.FirstProposal, s Solution) *Plan {
	return &Plan{told: told{warnings: p.Warnings}, first: p, Bench: firstBench(p, s)}
}

// MarshalJSON writes all that is known of the plan.
func (r *Plan) MarshalJSON() ([]byte, error) {
	var wanted object // null for a first test
	var tested *Quantity
	var was *Uncorrected
	trial, candidates := "", []testplan.Candidate{}
	if p := r.next; p == nil {
		trial = r.first.Spec.Film.Name
	} else {
		trial, candidates, tested, was = p.Family.Trial.Name(), p.Candidates, r.asTested(), uncorrectedAnswer(p.Answer, r.level)
		wanted = object{
			{"quantity", p.Options.Wanted}, {"scene_range_stops", p.Scene.Stops}, {"aim", p.Scene.AimText()}, {"density_range", p.DensityRange},
			{"delivered_density_range", quantity(p.Delivered, r.level, unitOne)}, // by the answer now; null when there is none
			{"within_percent", 100 * p.Options.Within}, {"confidence", r.level},
		}
	}
	return object{
		{"schema", "sensito/plan/1"}, {"trial", trial}, {"wanted", wanted},
		{"before", r.before()},        // the answer now; null when there is none
		{"minutes_as_tested", tested}, // under the conditions of the trial; null where they are those, or an index is wanted
		{"uncorrected", was},          // the answer now less what is corrected; null where nothing is
		{"candidates", objects(candidates, r.candidate)}, {"proposal", r.proposal()},
		{"conditions", r.conditions}, // of the answer; null under those of the trial
		{"today", r.today},           // null without a control log
		{"bench", r.benchObject()}, {"warnings", r.warnings},
	}.MarshalJSON()
}

// proposal is what is to be done together. What does not belong to a first test is null.
func (r *Plan) proposal() object {
	var steps []testplan.Candidate
	var after *Quantity
	var within, likely, met any
	if p := r.next; p != nil {
		steps, met = p.Chosen, p.Met
		if e := p.After(); e != nil {
			after, within = r.quantity(e), finite(100*testplan.HalfWidth(*e, r.level))
		}
		if l := p.Likely; l != nil {
			likely = []any{finite(100 * l[0]), finite(100 * l[1])}
		}
	}
	return object{
		{"minutes", append([]sensito.Minutes{}, r.times()...)}, // strips to develop, rising, under the conditions of the trial
		{"steps", objects(steps, r.candidate)},                 // in the order chosen, each on top of those before
		{"after", after}, {"within_percent", within},           // null for an open interval too
		{"likely_percent", likely}, // where the half width may come to lie by chance
		{"met", met},
	}
}

// candidate is one thing that could be done, and the answer then. Minutes is null for
// an action, action for a strip.
func (r *Plan) candidate(c testplan.Candidate) object {
	minutes, action, text := any(c.Minutes), any(nil), answers.ToDevelop(c)
	if c.Action != nil {
		minutes, action, text = nil, c.Action.Code, c.Action.Text
	}
	return object{
		{"minutes", minutes}, {"action", action}, {"text", text},
		{"far", c.Far},     // a strip so far from the answer's time that it is not proposed
		{"again", c.Again}, // a strip was developed for so long already
		{"after", r.quantity(&c.After)},
		{"within_percent", finite(100 * c.Half)}, // null for an open interval
		{"gain", known(c.Gain)},                  // share by which that shrinks; null when it was open or unknown
	}
}

// quantity returns an answer in its unit.
func (r *Plan) quantity(e *sensito.Estimate[float64]) *Quantity {
	if r.next.Options.Wanted == testplan.WantedIndex {
		return quantity(e, r.level, unitOne)
	}
	return quantity(e, r.level, unitMinutes)
}

// before returns the answer now, nil when there is none.
func (r *Plan) before() *Quantity {
	if r.next == nil {
		return nil
	}
	return r.quantity(r.next.Before)
}

// asTested returns the time now under the conditions of the trial, nil where they are
// those, or an index is wanted.
func (r *Plan) asTested() *Quantity {
	if r.next.Options.Wanted == testplan.WantedIndex {
		return nil
	}
	return asTested(r.next.Answer, r.level)
}

// times returns the times to develop strips for.
func (r *Plan) times() []sensito.Minutes {
	if r.next == nil {
		return r.first.Minutes
	}
	return r.next.Strips()
}

// heading names the trial, or the film of a first test.
func (r *Plan) heading() string {
	if r.next != nil {
		return heading(r.next.Family.Trial)
	}
	text := "A first test of " + r.first.Spec.Film.Name
	if conditions := r.first.Spec.Process.String(); conditions != "" {
		text += " in " + conditions
	}
	return text
}

// listed is how many candidates the text shows.
const listed = 10

// Text writes what is known now, what each candidate would add, what to do
// together, and the sheet for the bench.
func (r *Plan) Text(out io.Writer, l Layout) error {
	w := &writer{page.NewWriter(out, l)}
	w.Answer("%s", r.answer())
	w.Printf("\n")
	w.Lines(r.heading())
	w.Printf("\n")
	if r.next != nil {
		r.question(w)
		if l.Full {
			r.ranked(w)
		}
		r.together(w)
		r.conditions.write(w)
		r.today.write(w, uncorrectedAnswer(r.next.Answer, r.level).answers("EI"))
		if r.adjusts() {
			w.Printf("\n")
			w.Paragraph("", "", "The answer is that of today. Develop the strips as those of the trial, at "+
				"the times given for them, which are not those of today: "+r.next.Family.Trial.Process().String()+".")
		}
	} else {
		r.assumed(w)
	}
	if len(r.warnings) > 0 {
		w.Printf("\n")
	}
	w.Warnings(r.warnings)
	r.writeBench(w)
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
	p := r.next
	what := "development time"
	if p.Options.Wanted == testplan.WantedIndex {
		what = "exposure index"
	}
	w.Paragraph("", "  ", fmt.Sprintf("What to test next for the %s of a scene of %g stops (%s), for %s:",
		what, p.Scene.Stops, page.DevelopmentName(7-p.Scene.Stops), p.Scene.AimText()))
	rows := [][]string{{"", "", page.Percent(r.level) + " interval", "within"}, r.row("  now", r.before())}
	if m := r.asTested(); m != nil {
		rows = append(rows, r.row("  as tested", m))
	}
	rows = append(rows, []string{"  wanted", "", "", answers.Share(100 * p.Options.Within)})
	w.Printf("\n")
	w.Table(rows)
	if d := quantity(p.Delivered, r.level, unitOne); d != nil {
		w.Printf("\n")
		w.Paragraph("", "", fmt.Sprintf("The answer now gives a density range of %s, %s to %s.", page.Fixed(d.Value, 2), page.Fixed(d.Low, 2), page.Fixed(d.High, 2)))
	}
}

// row returns a row for an answer.
func (r *Plan) row(label string, q *Quantity) []string {
	if q == nil {
		return []string{label, "none yet", "", ""}
	}
	value := func(v float64) string { return clock(v, 5) }
	if r.next.Options.Wanted == testplan.WantedIndex {
		value = page.Figures
	}
	row := []string{label, value(q.Value), value(q.Low) + " or more", "open"}
	if !math.IsInf(q.High, 1) {
		half := math.Max(q.High/q.Value, q.Value/q.Low) - 1
		row[2], row[3] = value(q.Low)+" to "+value(q.High), answers.Share(100*half)
	}
	return row
}

// ranked lists what each candidate would do by itself.
func (r *Plan) ranked(w *writer) {
	if len(r.next.Candidates) == 0 {
		return
	}
	w.Printf("\nOne thing by itself, the most useful first:\n\n")
	rows := [][]string{{"", "", "interval then", "within", "narrower by"}}
	strips, left, far := 0, 0, false
	var actions []*testplan.Action
	for _, c := range r.next.Candidates {
		label := candidateName(c)
		if c.Action != nil {
			actions = append(actions, c.Action)
		} else if strips++; strips > listed {
			left++
			continue
		}
		if c.Far {
			label, far = label+" *", true
		}
		row := r.row(label, r.quantity(&c.After))
		if !math.IsNaN(c.Gain) {
			row = append(row, answers.Share(100*c.Gain))
		}
		rows = append(rows, row)
	}
	w.Table(rows)
	if far {
		w.Paragraph("  * ", "    ", "more than 1.5 times from the answer: not proposed, since film follows the law least surely there")
	}
	if left > 0 {
		w.Printf("  and %d times more, which help less\n", left)
	}
	for _, a := range actions {
		w.Paragraph("  ", "    ", answers.ActionName(a.Code)+": "+a.Text)
	}
}

// candidateName begins the row of a candidate.
func candidateName(c testplan.Candidate) string {
	if c.Action != nil {
		return "  " + answers.ActionName(c.Action.Code)
	}
	return "  " + answers.ToDevelop(c)
}

// together lists what is proposed.
func (r *Plan) together(w *writer) {
	p := r.next
	switch {
	case len(p.Chosen) == 0 && p.Met:
		w.Printf("\nThe answer is as sharp as wanted: nothing needs to be tested.\n")
		return
	case len(p.Chosen) == 0:
		w.Printf("\nNothing here narrows the interval by as much as a strip is worth.\n")
		return
	}
	w.Printf("\nTogether, each on top of the one before:\n\n")
	rows := [][]string{{"", "", "interval then", "within"}}
	for _, c := range p.Chosen {
		rows = append(rows, r.row(candidateName(c), r.quantity(&c.After)))
	}
	w.Table(rows)
	if again := p.Again(); len(again) > 0 {
		w.Paragraph("", "", answers.Clocks(again)+" again: strips developed alike tell how well your process repeats, whatever the law of growth.")
	}
	if l := p.Likely; l != nil {
		text := fmt.Sprintf("Real strips scatter: once these are developed, expect %s to %s, eight times in ten.", answers.Share(100*l[0]), answers.Share(100*l[1]))
		if math.IsInf(l[1], 1) {
			text = fmt.Sprintf("Real strips scatter: once these are developed, expect %s, or by chance still no upper limit.", answers.Share(100*l[0]))
			if math.IsInf(l[0], 1) {
				text = "Real strips scatter: even with these, expect the interval to stay open."
			}
		}
		w.Paragraph("", "", text)
	}
}
