package answers

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"sensito/sensito"
	"sensito/sensito/compare"
	"sensito/sensito/printable"
)

// provenClause says what a trial does otherwise than the first, in the words of
// one quantity; both directions.
type provenClause struct {
	quantity   string
	more, less string // with a place for the amount where it is told
	unit       string
	places     int
}

// provenClauses are in the order in which an answer tells them; what is of the
// form of the curve comes last and together.
var provenClauses = []provenClause{
	{compare.DiffSpeedStops, "gives %s more speed", "gives %s less speed", "stop", 2},
	{compare.DiffMinutes, "needs %s longer", "needs %s less time", "min", 1},
	{compare.DiffBaseFog, "has %s more fog", "has %s less fog", "", 2},
	{compare.DiffToe, "has a longer toe", "has a shorter toe", "", 0},
}

const anotherShape = "has another shape of curve"

// says returns the clause of a proven difference.
func (p provenClause) says(e *sensito.Estimate[float64]) string {
	text := p.more
	if e.Value < 0 {
		text = p.less
	}
	if !strings.Contains(text, "%s") {
		return text
	}
	return fmt.Sprintf(text, p.amount(e.Value))
}

// amount returns a difference without its sign, in its unit.
func (p provenClause) amount(v float64) string {
	v = math.Abs(v)
	places := p.places
	if p.quantity == compare.DiffSpeedStops && v >= 1 {
		places = 1
	}
	text := strconv.FormatFloat(v, 'f', places, 64)
	if p.unit == "stop" && v > 1 {
		return text + " stops"
	}
	return strings.TrimSpace(text + " " + p.unit)
}

// Room is what an answer has to fit.
type Room struct {
	Fits    func(text string) bool   // in the lines that there are
	Abridge func(name string) string // to what leaves an answer room
}

// Comparison says in one sentence what is proven, of two trials in all
// quantities, of more in speed, or in time where no speed is known.
func Comparison(c *compare.Comparison, room Room) string {
	var others []int
	for i, t := range c.Trials {
		if t.Reason == nil && i != Reference(c) {
			others = append(others, i)
		}
	}
	if len(others) == 1 {
		return pairAnswer(c, others[0], room)
	}
	p := provenClauses[0]
	if len(differencesIn(c, others, p.quantity)) == 0 {
		p = provenClauses[1]
	}
	all := differencesIn(c, others, p.quantity)
	if text := listAnswer(c, p, all, room); room.Fits(text) {
		return text
	}
	return countAnswer(c, p, all, len(others), room)
}

// names returns the names of the trials, as long as leaves an answer room.
func names(c *compare.Comparison, room Room) []string {
	out := Names(c)
	for i, n := range out {
		out[i] = room.Abridge(n)
	}
	return out
}

// pairAnswer tells all that is proven between two trials, as far as three lines hold
// it.
func pairAnswer(c *compare.Comparison, other int, room Room) string {
	called := names(c, room)
	first, second := called[Reference(c)], called[other]
	var clauses []string
	open, shape := false, false
	for _, d := range FromReference(c, other) {
		i := slices.IndexFunc(provenClauses, func(p provenClause) bool { return p.quantity == d.Quantity })
		switch {
		case d.Value == nil:
		case !d.Real:
			open = true
		case i < 0:
			shape = true
		}
	}
	for _, p := range provenClauses {
		for _, d := range FromReference(c, other) {
			if d.Quantity == p.quantity && d.Real {
				clauses = append(clauses, p.says(d.Value))
			}
		}
	}
	if shape {
		clauses = append(clauses, anotherShape)
	}
	if len(clauses) == 0 {
		return fmt.Sprintf("No difference between %s and %s is proven", first, second)
	}
	one := second + " " + clauses[0] + " than " + first
	text := one
	last := len(clauses) - 1
	if last > 0 {
		text += strings.Repeat(", "+strings.Join(clauses[1:last], ", "), min(1, last-1)) + " and " + clauses[last]
	}
	if open {
		text += "; nothing else is proven"
	}
	if last > 0 && !room.Fits(text) {
		return one + "; " + printable.Counted(last, "more difference") + " proven"
	}
	return text
}

// differencesIn returns the differences of one quantity that are known, the
// greatest first.
func differencesIn(c *compare.Comparison, others []int, quantity string) []compare.Difference {
	var out []compare.Difference
	for _, i := range others {
		for _, d := range FromReference(c, i) {
			if d.Quantity == quantity && d.Value != nil {
				out = append(out, d)
			}
		}
	}
	slices.SortStableFunc(out, func(a, b compare.Difference) int { return cmp.Compare(b.Value.Value, a.Value.Value) })
	return out
}

// listAnswer names every trial whose difference is proven.
func listAnswer(c *compare.Comparison, p provenClause, all []compare.Difference, room Room) string {
	called := names(c, room)
	var told []string
	for _, d := range all {
		if !d.Real {
			continue
		}
		text := called[d.B] + " " + p.says(d.Value)
		if len(told) == 0 {
			text += " than " + called[Reference(c)]
		} else {
			text = strings.TrimSuffix(text, " speed")
		}
		told = append(told, text)
	}
	if len(told) == 0 {
		return countAnswer(c, p, all, len(all), room)
	}
	text := strings.Join(told, ", ")
	if len(told) < len(all) {
		text += "; no other difference of " + p.noun() + " is proven"
	}
	return text
}

// noun names the quantity.
func (p provenClause) noun() string {
	if p.quantity == compare.DiffMinutes {
		return "time"
	}
	return "speed"
}

// countAnswer tells of how many trials a difference is proven.
func countAnswer(c *compare.Comparison, p provenClause, all []compare.Difference, n int, room Room) string {
	more, less := 0, 0
	for _, d := range all {
		switch {
		case d.Real && d.Value.Value > 0:
			more++
		case d.Real:
			less++
		}
	}
	first := names(c, room)[Reference(c)]
	if more+less == 0 {
		return fmt.Sprintf("No trial is proven to differ from %s in %s", first, p.noun())
	}
	gives, longer, shorter := "give", "more speed", "less"
	if p.quantity == compare.DiffMinutes {
		gives, longer, shorter = "need", "more time", "less"
	}
	verb := func(n int) string { // with its number
		if n == 1 {
			return "1 " + gives + "s"
		}
		return fmt.Sprintf("%d %s", n, gives)
	}
	switch n {
	case more:
		return fmt.Sprintf("All %d other trials %s %s than %s", n, gives, longer, first)
	case less:
		return fmt.Sprintf("All %d other trials %s %s %s than %s", n, gives, shorter, p.noun(), first)
	}
	text := fmt.Sprintf("Of %d other trials %s %s than %s and %s %s", n, verb(more), longer, first, verb(less), shorter)
	if open := n - more - less; open > 0 {
		text += fmt.Sprintf("; %d not proven to differ", open)
	}
	return text
}

// Reference returns the place of the first trial that is compared.
func Reference(c *compare.Comparison) int {
	return slices.IndexFunc(c.Trials, func(t *compare.Compared) bool { return t.Reason == nil })
}

// FromReference returns the differences of a trial and the first.
func FromReference(c *compare.Comparison, trial int) []compare.Difference {
	first := Reference(c)
	var out []compare.Difference
	for _, d := range c.Differences {
		if d.A == first && d.B == trial {
			out = append(out, d)
		}
	}
	return out
}

// Names returns the names of the trials without the words that all begin
// with.
func Names(c *compare.Comparison) []string {
	var words [][]string
	for _, t := range c.Trials {
		words = append(words, strings.Fields(t.Name))
	}
	shared := 0
	for alike := true; alike; shared++ {
		for _, w := range words {
			alike = alike && shared+1 < len(w) && w[shared] == words[0][shared]
		}
		if !alike {
			break
		}
	}
	out := make([]string, len(words))
	for i, w := range words {
		out[i] = strings.Join(w[shared:], " ")
	}
	return out
}
