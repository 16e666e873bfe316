package screen

import (
	"fmt"
	"math"
	"slices"

	"sensito/plot"
	"sensito/sensito"
	"sensito/sensito/answers"
	"sensito/sensito/printable"
	"sensito/sensito/report"
	"sensito/sensito/testplan"
)

// A Plan is the screen of what to test next, or first.
type Plan struct {
	Fault    *Fault // in place of an answer
	Lead     string
	Says     string   // what to do
	Figures  []Figure // the answer now, and then
	Told     []string
	Notes    []Note
	Together *Table // nil where nothing is to be tested
	Curves   *plot.OnPage
	Apart    *Table // each thing by itself; nil for a first test
	OfApart  []Note
	Bench    *Bench
	Warnings []string

	Next  *NextForm // the question; one of the two
	First *FirstForm
}

// A Bench is what to do there.
type Bench struct {
	Expose    []string
	Times     string
	Read      []string
	WriteDown []string
}

// A NextForm is the question of what to test next.
type NextForm struct {
	Trial, Title  string // of the trial, by its name in addresses
	Range, Within string
	Wanted        []Option
}

// A FirstForm is the question of what to test first.
type FirstForm struct {
	Film, Speed, Minutes, Developer string
	Way                             []Option
	Trials                          []Action // of which a next test is planned
}

// The candidates that are listed by themselves.
const mostCandidates = 10

// NewNextTest returns the screen of a proposal for a trial; the figure may be nil.
func NewNextTest(p *testplan.Proposal, solution report.Solution, figure *plot.OnPage) *Plan {
	r := report.NewPlan(p, solution)
	s := &Plan{Says: answers.NextTest(p), Curves: figure, Bench: bench(r.Bench, p.Strips()), Warnings: WarningTexts(slices.DeleteFunc(slices.Clone(p.Warnings), func(w sensito.Warning) bool { return w.Code == toldByTasks }))}
	what, told := "development time", clockOf
	if p.Options.Wanted == testplan.WantedIndex {
		what, told = "exposure index", indexOf
	}
	s.Lead = printable.Text(fmt.Sprintf("For the %s of a scene of %s and %s, to be sure within %s.", what, stops(p.Scene.Stops), p.Scene.AimText(), answers.Share(100*p.Options.Within)))
	figures := func(about string, e *sensito.Estimate[float64]) {
		if e == nil {
			return
		}
		value, ends := estimated(e, p.Options.Level, told)
		s.Figures = append(s.Figures, Figure{about, value, ends + sharp(testplan.HalfWidth(*e, p.Options.Level))})
	}
	figures("now", p.Before)
	if len(p.Chosen) > 0 {
		figures("then, if it comes out the same", p.After())
		s.Together = candidates("Table of what to test together", p.Chosen, p, told, false)
	}
	if again := p.Again(); len(again) > 0 {
		s.Told = append(s.Told, answers.Clocks(again)+" again: strips developed alike tell how well your process repeats, whatever the law of growth.")
	}
	if l := p.Likely; l != nil && !math.IsInf(l[0], 1) && !math.IsInf(l[1], 1) {
		s.Notes = append(s.Notes, Note{About: "Real strips scatter:", Text: say(fmt.Sprintf("once these are developed, expect %s to %s, eight times in ten.", answers.Share(100*l[0]), answers.Share(100*l[1])))})
	}
	if p.Today != nil {
		s.Notes = append(s.Notes, Note{About: "The answer", Text: say("is that of today. Develop the strips as those of the trial, for the times given for them.")})
	}
	all, far := p.Candidates, false
	if len(all) > mostCandidates {
		all = all[:mostCandidates]
	}
	for _, c := range all {
		far = far || c.Far
	}
	if len(all) > 0 {
		s.Apart = candidates("Table of single tests", all, p, told, true)
		if far {
			s.OfApart = append(s.OfApart, Note{About: "With *", Text: say("are times more than 1.5 times from the answer. They are not proposed: film follows the law least surely there.")})
		}
		if left := len(p.Candidates) - len(all); left > 0 {
			s.OfApart = append(s.OfApart, Note{About: "And more:", Text: say(capital(counted(left, "thing")) + " that help less.")})
		}
	}
	return s
}

// NewFirstTest returns the screen of a first test; the figure may be nil.
func NewFirstTest(p *testplan.FirstProposal, solution report.Solution, figure *plot.OnPage) *Plan {
	r := report.NewFirstTest(p, solution)
	s := &Plan{Says: answers.FirstTest(p), Curves: figure, Bench: bench(r.Bench, p.Minutes), Warnings: WarningTexts(p.Warnings)}
	spec := p.Spec
	s.Lead = "Nothing is known yet but the box."
	if how := spec.Process.String(); how != "" {
		s.Lead = "In " + how + ". " + s.Lead
	}
	s.Lead = printable.Text(s.Lead)
	s.Told = []string{fmt.Sprintf("Times in a geometric row about %s show how contrast grows. The speed point is expected at %s log lx s, 0.8/S of a speed of %s, and may lie a stop to either side.",
		spec.Minutes.Clock(1), fixed(float64(p.SpeedPoint), 2), speed(spec.Film.RatedSpeed))}
	return s
}

func clockOf(v float64) string { return clock(sensito.Minutes(v)) }
func indexOf(v float64) string { return speed(sensito.Speed(v)) }

// sharp says within which share an interval lies.
func sharp(half float64) string {
	if math.IsInf(half, 1) || math.IsNaN(half) {
		return ""
	}
	return ", within " + answers.Share(100*half)
}

// candidates is a table of what could be tested and the answer then.
func candidates(name string, all []testplan.Candidate, p *testplan.Proposal, told func(float64) string, gains bool) *Table {
	t := &Table{Name: name, Heads: []Head{{Text: "Test", Left: true}, {Text: "interval then"}, {Text: "within"}}}
	if gains {
		t.Heads = append(t.Heads, Head{Text: "narrower by"})
	}
	for _, c := range all {
		what := answers.ToDevelop(c)
		if c.Action != nil {
			what = answers.ActionName(c.Action.Code) + ": " + c.Action.Text
		}
		if c.Far {
			what += " *"
		}
		_, ends := estimated(&c.After, p.Options.Level, told)
		row := Row{Head: Cell{Text: printable.Text(what)}, Cells: []Cell{{Text: ends}, none("open")}}
		if !math.IsInf(c.Half, 1) {
			row.Cells[1] = Cell{Text: answers.Share(100 * c.Half)}
		}
		switch {
		case gains && math.IsNaN(c.Gain):
			row.Cells = append(row.Cells, none("not known"))
		case gains:
			row.Cells = append(row.Cells, Cell{Text: answers.Share(100 * c.Gain)})
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

// bench is the sheet for the bench, nil where nothing is to be done there.
func bench(b report.Bench, times []sensito.Minutes) *Bench {
	if len(times) == 0 && len(b.Read) == 0 {
		return nil
	}
	out := &Bench{Expose: b.Expose, WriteDown: sentences(b.WriteDown), Read: sentences(b.Read)}
	if len(times) > 0 {
		out.Times = "Develop for " + answers.Clocks(times) + "."
		if v := b.DeveloperML; v != nil {
			out.Times += fmt.Sprintf(" Each strip takes %s of working developer.", within(fixed(*v, 0), "ml"))
		}
	}
	return out
}

func sentences(texts []string) []string {
	var out []string
	for _, t := range texts {
		out = append(out, printable.Text(capital(t)+"."))
	}
	return out
}
