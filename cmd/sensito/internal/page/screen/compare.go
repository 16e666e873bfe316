package screen

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strings"

	"sensito/plot"
	"sensito/sensito"
	"sensito/sensito/answers"
	"sensito/sensito/compare"
	"sensito/sensito/development"
	"sensito/sensito/printable"
)

// A Compare is the screen of trials side by side.
type Compare struct {
	ID string // before the identifiers of its parts, where a page has several

	Title  string
	Lead   string
	Says   []Run // what is proven, in a sentence
	Differ []*Table
	Shown  bool // some difference is
	Open   []*Table
	Left   []string // trials that are not compared, and why
	Curves *plot.OnPage

	OfDiffer, OfOpen []Note
	Warnings         []string
}

// The trials up to which every pair is held against each other, each against the first
// where there are more; and those that a title names.
const allPairs, namedInTitle = 3, 3

// NewCompare returns the screen of a comparison; the figure may be nil.
func NewCompare(c *compare.Comparison, figure *plot.OnPage) *Compare {
	s := &Compare{Title: compareTitle(c), Lead: compareLead(c), Curves: figure}
	s.Says = boldAmounts(answers.Comparison(c, answers.Room{Fits: anyLength, Abridge: unabridged}) + ".")
	names := answers.Names(c)
	for i, t := range c.Trials {
		if t.Reason != nil {
			s.Left = append(s.Left, printable.Text(names[i]+": "+t.Reason.Error()+"."))
		}
	}
	level := fixed(100*c.Level, 0) + " % interval"
	first := answers.Reference(c)
	beside := false
	for _, pair := range pairs(c.Differences) {
		a, b := pair[0].A, pair[0].B
		if len(c.Trials) > allPairs && a != first {
			continue
		}
		name := printable.Text(names[b] + " less " + names[a])
		differ, open := differenceTable("Table of differences, ", name, level), differenceTable("Table of what shows no difference, ", name, level)
		for _, d := range pair {
			row, ok := differenceRow(d, c.Level)
			switch {
			case !ok:
			case d.Real:
				differ.Rows = append(differ.Rows, row)
			default:
				open.Rows = append(open.Rows, row)
				low, high := d.Value.Interval(c.Level)
				beside = beside || low > 0 || high < 0
			}
		}
		if len(differ.Rows) > 0 {
			s.Differ = append(s.Differ, differ)
		}
		if len(open.Rows) > 0 {
			s.Open = append(s.Open, open)
		}
	}
	s.OfDiffer = []Note{{About: "Differ", Text: say(fmt.Sprintf("means more than chance would make: of 100 pairs of equal trials no more than %s have any line in this table, all quantities together. Each row has its own scale.",
		plain(math.Round(1000*(1-c.Level))/10)))}}
	s.OfOpen = []Note{{About: "Not shown", Text: say("does not mean equal: the interval says how large a difference may still be.")}}
	if beside {
		s.OfOpen = append(s.OfOpen, Note{About: "An interval beside the line", Text: say("is by itself no proof: of so many quantities one misses it now and then by chance.")})
	}
	s.Warnings = WarningTexts(slices.DeleteFunc(slices.Clone(c.Warnings), func(w sensito.Warning) bool { return w.Code == "not_compared" || w.Code == toldByTasks }))
	return s
}

func anyLength(string) bool         { return true }
func unabridged(name string) string { return name }

// compareTitle names what is compared: "Larkfield 125: Brinewater 1+19 or Ashlar 1+9".
func compareTitle(c *compare.Comparison) string {
	names := answers.Names(c)
	if len(names) > namedInTitle {
		return capital(counted(len(names), "trial")) + " compared"
	}
	shared := strings.TrimSuffix(strings.TrimSpace(strings.TrimSuffix(c.Trials[0].Name, names[0])), " in")
	text := strings.Join(names[:len(names)-1], ", ") + " or " + names[len(names)-1]
	if shared != "" {
		text = shared + ": " + text
	}
	return printable.Text(text)
}

// compareLead says on what terms the trials are compared, and how long each is developed.
func compareLead(c *compare.Comparison) string {
	names := answers.Names(c)
	var times []string
	for i, t := range c.Trials {
		if t.Reason == nil {
			times = append(times, names[i]+" for "+clock(t.Minutes.Value))
		}
	}
	return printable.Text(fmt.Sprintf("Each developed to an average gradient of %s, which gives a scene of %s %s: %s.",
		fixed(c.Gradient, 3), stops(c.Scene.Stops), c.Scene.AimText(), listed(times)))
}

var amounts = regexp.MustCompile(`\d+(?:\.\d+)?(?: stops?| min)? (?:more|less|longer)`)

// boldAmounts returns the sentence with what differs in bold.
func boldAmounts(sentence string) []Run {
	return bold(sentence, amounts.FindAllString(sentence, -1)...)
}

// pairs returns the differences pair by pair.
func pairs(all []compare.Difference) [][]compare.Difference {
	var out [][]compare.Difference
	for i, d := range all {
		if i == 0 || all[i-1].A != d.A || all[i-1].B != d.B {
			out = append(out, nil)
		}
		out[len(out)-1] = append(out[len(out)-1], d)
	}
	return out
}

func differenceTable(what, pair, level string) *Table {
	return &Table{Name: what + pair, About: pair, Heads: []Head{{Text: "quantity", Left: true}, {Text: "difference"}, {Text: level}, {Text: "none at the line"}}}
}

// quantities are what trials are compared in, in the words of the screen.
var quantities = map[string]struct {
	name, unit string
	places     int
}{
	compare.DiffSpeedStops:     {"speed", "stop", 2},
	compare.DiffBaseFog:        {"base plus fog", "", 3},
	compare.DiffMinutes:        {"time to develop", "min", 2},
	compare.DiffToe:            {"length of the toe", "log" + space + "H", 2},
	compare.DiffShadowGradient: {"gradient of the shadows", "", 3},
	compare.DiffStraightness:   {"off the straight line", "", 3},
	compare.DiffShoulder:       {"where the shoulder begins", "log" + space + "H", 2},
	compare.DiffUsable:         {"usable range", "log" + space + "H", 2},
	compare.DiffMaxDensity:     {"maximum net density", "", 2},
	compare.DiffTone:           {"net density", "", 3},
}

// differenceRow is the row of a difference; there is none of what one of the trials does
// not have, and of most tones.
func differenceRow(d compare.Difference, level float64) (Row, bool) {
	q, known := quantities[d.Quantity]
	if !known || d.Value == nil {
		return Row{}, false
	}
	if d.Quantity == compare.DiffTone {
		if float64(d.Value.StdErr) < development.LeastSD || !d.Real && math.Abs(*d.Stops) != 3 && *d.Stops != 0 {
			return Row{}, false
		}
		switch math.Abs(*d.Stops) {
		case 0:
			q.name += " of the metered tone"
		case 1:
			q.name += " at " + signed(*d.Stops) + " stop"
		default:
			q.name += " at " + signed(*d.Stops) + " stops"
		}
	}
	low, high := d.Value.Interval(level)
	text := signedFixed(d.Value.Value, q.places)
	if q.unit == "stop" && math.Abs(d.Value.Value) > 1 {
		q.unit = "stops"
	}
	if q.unit != "" {
		text = within(text, q.unit)
	}
	return Row{Head: Cell{Text: q.name}, Cells: []Cell{{Text: text, Whole: true},
		{Text: signedFixed(low, q.places) + " to " + signedFixed(high, q.places), Whole: true},
		{Span: newSpan(low, d.Value.Value, high, d.Real)}}}, true
}

// A Span is an interval drawn about a line at none, each on its own scale; its places are
// in px of a drawing that is SpanWidth wide.
type Span struct {
	Low, At, High string
	Real          bool // it is beyond chance
}

// The width of the drawing of a Span, and how far an interval reaches there from the line.
const spanWidth, spanReach = 160.0, 72.0

func newSpan(low, at, high float64, real bool) *Span {
	reach := math.Max(math.Abs(low), math.Abs(high))
	if !(reach > 0) || math.IsInf(reach, 0) {
		return nil
	}
	place := func(v float64) string { return fmt.Sprintf("%.1f", spanWidth/2+spanReach*v/reach) }
	return &Span{place(low), place(at), place(high), real}
}

// estimated returns the value of an estimate and its interval, each as told.
func estimated[Q ~float64](e *sensito.Estimate[Q], level float64, told func(Q) string) (value, ends string) {
	low, high := e.Interval(level)
	return told(e.Value), interval(low, high, told)
}
