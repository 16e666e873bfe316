// Package report writes results for people and for programs. Each command has
// one report value, built once from the domain, and every writer works from
// that value alone: a report holds the value of the domain that it was made from and
// the level of its intervals, and a program in Go reads that value in its place.
//
// Begin with NewScene, or the constructor that is called like another command; its
// value has Text for people, and JSON writes it for programs.
package report

import (
	"cmp"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"sensito/sensito"
	"sensito/sensito/printable"
	"sensito/sensito/report/internal/page"
)

// DefaultConfidence is the level of the intervals unless told otherwise.
const DefaultConfidence = 0.95

// A Report is the result of one command, ready to be written.
type Report interface {
	// Text writes the report for people.
	Text(w io.Writer, l Layout) error
}

// A Layout says how text is set. The zero value is that of a pipe: the answer and what
// a photographer uses, 80 columns wide, without emphasis.
type Layout = page.Layout

// Paragraph returns words wrapped to 80 columns behind the given first and following
// indents, with the end of the last line.
func Paragraph(first, next, text string) string { return page.Paragraph(first, next, text) }

// A writer sets the text of a report.
type writer struct{ *page.Writer }

// JSON writes a report as one JSON object on one line, or as the objects of its Each. Keys carry their unit;
// what is unknown is null. A character that does not print, as the name of a file
// may have, is written as its escape.
func JSON(w io.Writer, r Report) error {
	if several, ok := r.(interface{ Each() []any }); ok {
		for _, v := range several.Each() {
			if err := writeJSON(w, v); err != nil {
				return err
			}
		}
		return nil
	}
	return writeJSON(w, r)
}

func writeJSON(w io.Writer, v any) error {
	marshal := func() ([]byte, error) { return json.Marshal(v) }
	if m, ok := v.(json.Marshaler); ok { // an object, which needs no second look
		marshal = m.MarshalJSON
	}
	text, err := marshal()
	if err != nil {
		return err
	}
	if !printable.Plain(text) {
		text = []byte(printable.JSON(string(text)))
	}
	_, err = w.Write(append(text, '\n'))
	return err
}

// Quantity is a value with its standard deviation and confidence interval.
type Quantity struct {
	Value, SD float64
	Low, High float64 // ends of the interval, null in JSON where there is none
	Unit      string

	atLeast, atMost bool // as of the estimate
}

// AppendJSON appends the quantity, null where there is none. It has no object made of
// numbers that are kept apart, since a strip has ten quantities.
func (q *Quantity) AppendJSON(out []byte) ([]byte, error) {
	if q == nil {
		return object(nil).AppendJSON(out)
	}
	out = append(out, '{')
	for _, m := range [...]struct {
		key   string
		value float64
		open  bool // has no such end
	}{
		{"value", q.Value, false}, {"sd", q.SD, false},
		{"low", q.Low, math.IsInf(q.Low, 0)}, {"high", q.High, math.IsInf(q.High, 0)},
	} {
		out = append(append(append(out, '"'), m.key...), `":`...)
		var err error
		if m.open {
			out = append(out, "null"...)
		} else if out, err = printable.AppendNumber(out, m.value); err != nil {
			return nil, fmt.Errorf("%s: %w", m.key, err)
		}
		out = append(out, ',')
	}
	return append(printable.AppendString(append(out, `"unit":`...), q.Unit), '}'), nil
}

// MarshalJSON is AppendJSON.
func (q *Quantity) MarshalJSON() ([]byte, error) { return q.AppendJSON(nil) }

// The units of quantities: "1" is the unit of a pure number.
const (
	unitOne     = "1"
	unitMinutes = "min"
	unitRate    = "1/min"
	unitLogH    = "log10 lx s"
	unitLogRel  = "log10 relative"
	unitStops   = "stop"
	unitEV      = "EV"
	unitPercent = "%"
	unitWeekly  = "1/week"
)

// logUnit returns the unit of a trial's log exposures.
func logUnit(t *sensito.Trial) string {
	if !t.Exposures().Absolute() {
		return unitLogRel
	}
	return unitLogH
}

// quantity returns nil for a nil estimate, and for one that is not known at the
// level, which JSON cannot carry.
func quantity[Q ~float64](e *sensito.Estimate[Q], level float64, unit string) *Quantity {
	return quantityIn(new([]Quantity), e, level, unit)
}

// quantityIn is quantity, appended to others of one piece of memory.
func quantityIn[Q ~float64](all *[]Quantity, e *sensito.Estimate[Q], level float64, unit string) *Quantity {
	if e == nil || !e.Known(level) {
		return nil
	}
	low, high := e.Interval(level)
	*all = append(*all, Quantity{Value: float64(e.Value), SD: float64(e.StdErr), Low: float64(low), High: float64(high), Unit: unit, atLeast: e.AtLeast, atMost: e.AtMost})
	return &(*all)[len(*all)-1]
}

// String returns the value and its standard deviation, the latter to two
// digits at most and the value to the same place; "-" for nil. A value that is
// only bounded on one side is told as 138 or more.
func (q *Quantity) String() string {
	switch {
	case q == nil:
		return "-"
	case q.atLeast:
		return q.bound() + " or more"
	case q.atMost:
		return q.bound() + " or less"
	}
	p := q.places()
	sd := page.Fixed(q.SD, p)
	if strings.Trim(sd, "0.") == "" {
		sd = strings.TrimSuffix(sd, "0") + "1" // below what is shown
	}
	return page.Fixed(q.Value, p) + " ±" + sd
}

// withSign returns a quantity with its sign.
func withSign(q *Quantity) string {
	if s := q.String(); q == nil || strings.HasPrefix(s, "-") || q.Value <= 0 {
		return s
	}
	return "+" + q.String()
}

// withError returns an estimate in words, as Quantity.String does.
func withError[Q ~float64](e *sensito.Estimate[Q], level float64) string {
	return quantity(e, level, unitOne).String()
}

// places returns how many decimals the standard deviation deserves, negative
// before the point: two digits when the first is 1, one otherwise, and never
// more than four.
func (q *Quantity) places() int {
	if !(q.SD > 0) {
		return 3
	}
	p := -int(math.Floor(math.Log10(q.SD)))
	if q.SD*math.Pow(10, float64(p)) < 1.95 {
		p++
	}
	if q.SD >= 10 && p <= 0 {
		p = -int(math.Floor(math.Log10(q.SD))) + 1 // two digits before the point
	}
	return min(p, 4)
}

// value returns the value alone, to the places that its error deserves.
func (q *Quantity) value() string { return page.Fixed(q.Value, q.places()) }

// allDigits writes every digit of a number.
func allDigits(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }

// bound returns the value to the places of a reading, whatever its error.
func (q *Quantity) bound() string {
	if math.Abs(q.Value) < 10 {
		return page.Fixed(q.Value, 2)
	}
	return page.Fixed(q.Value, 0)
}

// clock returns minutes as m:ss, to the nearest of the given number of seconds.
func clock(minutes float64, seconds int) string { return sensito.Minutes(minutes).Clock(seconds) }

// heading returns the title of the trial and, below it, the conditions it holds
// for; an untitled trial is called by its film.
func heading(t *sensito.Trial) string {
	text := filmText(t)
	if how := t.HowRead(); how != "" {
		text += "\n" + strings.ToUpper(how[:1]) + how[1:]
	}
	if t.Title() == "" {
		return text
	}
	return t.Title() + "\n" + text
}

// filmText returns the film or paper of a trial and its process, on one line.
func filmText(t *sensito.Trial) string {
	text := t.Film().Name
	if b := t.Film().Batch; b != "" {
		text += ", batch " + b
	}
	if p := t.Process().String(); p != "" {
		text += "; " + p
	}
	return text
}

// readIn returns the unit in which a trial was read, its channel, null where it is not
// stated, and the numbers of the strips that were read in pictures.
func readIn(t *sensito.Trial) object {
	var channel any
	if c := t.Reading().Channel; c != "" {
		channel = c
	}
	return object{{"unit", cmp.Or(string(t.Reading().Unit), "density")}, {"channel", channel}, {"pictured_strips", append([]int{}, t.Pictured()...)}}
}
