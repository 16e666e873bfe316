package figure

import (
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"strconv"

	"gonum.org/v1/plot/plotter"
)

// Series is one row of numbers as a figure draws them: a line, the readings of a
// strip, values with their intervals.
type Series struct {
	Panel  string // of the figure; "" where there is one
	Name   string // of the line, as the figure names it
	X, Y   string // quantities with their units, as the axes name them
	Values []Value
}

// Value is a place of a series. Ends of an interval are NaN where there is none.
type Value struct {
	plotter.XY
	Low, High float64
	Remark    string // "set aside", "outside the tested times"
}

// Numbered is the body of a figure that knows its numbers.
type Numbered interface{ Numbers() []Series }

// Plain returns places without intervals as values.
func Plain(xys plotter.XYs) []Value {
	out := make([]Value, len(xys))
	for i, xy := range xys {
		out[i] = Value{XY: xy, Low: math.NaN(), High: math.NaN()}
	}
	return out
}

// Between returns a line with the two ends of its band as values.
func Between(line, low, high plotter.XYs) []Value {
	out := Plain(line)
	for i := range out {
		if i < len(low) && i < len(high) {
			out[i].Low, out[i].High = low[i].Y, high[i].Y
		}
	}
	return out
}

// numberColumns is the head of the table.
var numberColumns = []string{"panel", "series", "x", "x_value", "y", "y_value", "low", "high", "remark"}

// writeCSV writes the numbers of a figure as a table (RFC 4180), one row a value,
// empty where there is none.
func writeCSV(w io.Writer, fig *Figure) error {
	b, ok := fig.body.(Numbered)
	if !ok {
		return fmt.Errorf("figure %q has no numbers to write", fig.Title)
	}
	out := csv.NewWriter(w)
	rows := [][]string{numberColumns}
	number := func(v float64) string {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return ""
		}
		return strconv.FormatFloat(v, 'g', 6, 64)
	}
	for _, s := range b.Numbers() {
		for _, v := range s.Values {
			rows = append(rows, []string{s.Panel, s.Name, s.X, number(v.X), s.Y, number(v.Y), number(v.Low), number(v.High), v.Remark})
		}
	}
	if err := out.WriteAll(rows); err != nil {
		return fmt.Errorf("figure %q: %w", fig.Title, err)
	}
	return nil
}
