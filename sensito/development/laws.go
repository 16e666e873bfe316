package development

import (
	"math"
	"slices"

	"sensito/fit"
)

// Law returns the law by which a column grows, without a model where it follows a
// trend instead: densities near the base, that time hardly changes.
func (tb *Table) Law(i int) Growth {
	t, y, sd := tb.Column(i, tb.Rows)
	g, err := FitGrowth(t, y, sd, Growth{stated: tb.stated})
	if err != nil {
		return Growth{}
	}
	return tb.note(i, tb.Rows, y, g)
}

// Along returns a column at a development time by its Law, NaN when too few strips
// have it.
func (tb *Table) Along(i int, rows [][]float64, law Growth, minutes float64) float64 {
	law.before = before(rows, len(tb.Rows))
	if tb.grown(i, rows, &law) {
		return law.At(minutes)
	}
	t, y, sd := tb.Column(i, rows)
	switch {
	case len(t) < len(tb.Rows):
		return math.NaN()
	case law.Model == "":
		return fit.FitTrend(fit.Logs(t), y, sd, min(1, len(fit.Distinct(t))-1)).At(math.Log(minutes))
	}
	g, err := FitGrowth(t, y, sd, law)
	if err != nil {
		return math.NaN()
	}
	return g.At(minutes)
}

// Warped returns the times of the strips with the temperature coefficient that g
// was fitted with.
func (tb *Table) Warped(g Growth) []float64 {
	out := slices.Clone(tb.Minutes)
	for j, u := range tb.Warp {
		out[j] *= math.Exp(g.warp * u)
	}
	return out
}

// Timed is Column, of the table's own rows, with the times of Warped.
func (tb *Table) Timed(i int, g Growth) (t, y, sd []float64) {
	_, y, sd = tb.Column(i, tb.Rows)
	for j, minutes := range tb.Warped(g) {
		if tb.Gives(j, i) {
			t = append(t, minutes)
		}
	}
	return t, y, sd
}
