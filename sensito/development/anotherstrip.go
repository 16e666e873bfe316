package development

import (
	"math"
	"slices"

	"sensito/fit"
)

// Plus returns the columns with another strip, developed for minutes, whose
// speed point is as the law has it; they are yet to be placed.
func (p *PlacedColumns) Plus(tb *Table, minutes, point float64) PlacedColumns {
	out := PlacedColumns{Family: p.Family, Point: append(slices.Clone(p.Point), point), Slopes: map[int][]float64{}}
	u := fit.Each(tb.Minutes, p.Family.Development)
	for i, slopes := range p.Slopes {
		out.Slopes[i] = append(slices.Clone(slopes), fit.LineAt(u, slopes, p.Family.Development(minutes)))
	}
	return out
}

// Plus returns the table with another row, whose errors are its own.
func (tb *Table) Plus(minutes float64, row, sd []float64) *Table {
	out := &Table{
		Minutes: append(slices.Clone(tb.Minutes), minutes),
		Rows:    append(slices.Clone(tb.Rows), row),
		SD:      append(slices.Clone(tb.SD), sd),
		Moves:   slices.Clone(tb.Moves),
		DoF:     tb.DoF,
		drifts:  tb.drifts,
		stated:  tb.stated,

		readAlike: tb.readAlike,
	}
	for i, v := range sd {
		if !math.IsNaN(v) {
			by := make([]float64, len(row))
			by[i] = v
			out.Moves = append(out.Moves, Direction{OfReadings, len(tb.Rows), [][]float64{by}})
		}
	}
	return out
}
