package canvas

import (
	"errors"
	"math"
	"strconv"
	"strings"

	"gonum.org/v1/plot/vg"
)

// errNumber is of a drawing that has no place on a page.
var errNumber = errors.New("a place or length of the drawing is not a finite number")

// output is text with short numbers, and the first error met while it was made.
type output struct {
	strings.Builder
	err error
}

func (o *output) fail(err error) {
	if o.err == nil {
		o.err = err
	}
}

// number writes a number of so many decimals, without zeros that say nothing.
func (o *output) number(x float64, decimals int) {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		o.fail(errNumber)
		return
	}
	s := strconv.FormatFloat(x, 'f', decimals, 64)
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	if s == "-0" {
		s = "0"
	}
	o.WriteString(s)
}

// lengths writes lengths, in points to two decimals, with blanks between them.
func (o *output) lengths(all ...vg.Length) {
	for i, l := range all {
		if i > 0 {
			o.WriteByte(' ')
		}
		o.number(l.Points(), 2)
	}
}

// attribute writes an attribute of XML whose value is lengths.
func (o *output) attribute(name string, all ...vg.Length) {
	o.WriteString(" " + name + `="`)
	o.lengths(all...)
	o.WriteByte('"')
}

// six writes the six numbers of a transform.
func (o *output) six(m matrix) {
	for _, x := range []float64{m.a, m.b, m.c, m.d} {
		o.number(x, 5)
		o.WriteByte(' ')
	}
	o.lengths(vg.Length(m.e), vg.Length(m.f))
}
