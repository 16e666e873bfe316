package plot

import (
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"strconv"

	"gonum.org/v1/plot/plotter"
)

// series is one row of numbers as a figure draws them: a line, the readings of a
// strip, values with their intervals.
type series struct {
	panel  string // of the figure; "" where there is one
	name   string // of the line, as the figure names it
	x, y   string // quantities with their units, as the axes name them
	values []value
}

// value is a place of a series. Ends of an interval are NaN where there is none.
type value struct {
	plotter.XY
	low, high float64
	remark    string // "set aside", "outside the tested times"
}

// numbered is the body of a figure that knows its numbers.
type numbered interface{ numbers() []series }

// plain returns places without intervals as values.
func plain(xys plotter.XYs) []value {
	out := make([]value, len(xys))
	for i, xy := range xys {
		out[i] = value{XY: xy, low: math.NaN(), high: math.NaN()}
	}
	return out
}

// between returns a line with the two ends of its band as values.
func between(line, low, high plotter.XYs) []value {
	out := plain(line)
	for i := range out {
		if i < len(low) && i < len(high) {
			out[i].low, out[i].high = low[i].Y, high[i].Y
		}
	}
	return out
}

// numberColumns is the head of the table.
var numberColumns = []string{"panel", "series", "x", "x_value", "y", "y_value", "low", "high", "remark"}

// writeCSV writes the numbers of a figure as a table (RFC 4180), one row a value,
// empty where there is none.
func writeCSV(w io.Writer, fig *Figure) error {
	b, ok := fig.body.(numbered)
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
	for _, s := range b.numbers() {
		for _, v := range s.values {
			rows = append(rows, []string{s.panel, s.name, s.x, number(v.X), s.y, number(v.Y), number(v.low), number(v.high), v.remark})
		}
	}
	if err := out.WriteAll(rows); err != nil {
		return fmt.Errorf("figure %q: %w", fig.Title, err)
	}
	return nil
}
