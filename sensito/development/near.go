package development

import (
	"math"
	"slices"

	vec "gonum.org/v1/gonum/floats"
)

// nearColumn says which column of a table a law of growth was fitted to, every strip
// giving it, so that a change of some strips is followed without a look at the others.
type nearColumn struct {
	i      int
	rows   [][]float64
	moves  int // directions of the errors of the table, to which Unsteady adds
	placed *PlacedColumns

	// Where the column follows the speed points: the parameters of growth by each
	// coefficient of their law, and by how many of its standard deviations a value
	// moves at most.
	byLaw [][]float64
	most  []float64
}

// changed returns the first and the last but one of the strips whose rows are others.
func changed(of, rows [][]float64) (from, to int) {
	to = len(of)
	for from < to && &of[from][0] == &rows[from][0] {
		from++
	}
	for to > from && &of[to-1][0] == &rows[to-1][0] {
		to--
	}
	return from, to
}

// note keeps in a law of growth that it was fitted to y, column i of the table.
func (tb *Table) note(i int, rows [][]float64, y []float64, g Growth) {
	if g.near == nil || g.near.column != nil || len(y) != len(tb.Rows) || !slices.Equal(y, g.near.y) {
		return
	}
	c := &nearColumn{i: i, rows: rows[:len(tb.Rows)], moves: len(tb.Moves), placed: tb.Placed}
	g.near.column = c
	slopes := tb.placed(i)
	if slopes == nil {
		return
	}
	for j, slope := range slopes {
		for k, v := range c.placed.law.ByCoef(c.placed.u[j]) {
			if j == 0 {
				c.byLaw, c.most = append(c.byLaw, make([]float64, len(g.near.params))), append(c.most, 0)
			}
			vec.AddScaled(c.byLaw[k], slope*v, g.near.by[j])
			c.most[k] = math.Max(c.most[k], math.Abs(slope*v)/g.near.sd[j])
		}
	}
}

// grown brings a law that was fitted to column i to rows of which a few strips hardly
// differ, and says whether it could.
func (tb *Table) grown(i int, rows [][]float64, g *Growth) bool {
	n := g.near
	if n == nil || n.column == nil {
		return false
	}
	c := n.column
	if c.i != i || len(c.rows) != len(tb.Rows) || &c.rows[0] != &tb.Rows[0] || c.moves != len(tb.Moves) ||
		c.placed != tb.Placed && tb.Placed != nil || (n.u == nil) != (tb.Warp == nil) {
		return false
	}
	params := n.begun(g.before)
	from, to := changed(c.rows, rows)
	for j := from; j < to; j++ {
		if !n.move(params, j, rows[j][i]-c.rows[j][i]) {
			return false
		}
	}
	if tb.placed(i) != nil {
		was, is := c.placed.lawOf(tb, c.rows), c.placed.lawOf(tb, rows)
		far := 0.0
		for k, by := range c.byLaw {
			off := is.Coef[k] - was.Coef[k]
			vec.AddScaled(params, off, by)
			far += math.Abs(off) * c.most[k]
		}
		if !(far <= hardly) {
			return false
		}
	}
	return n.give(g, params)
}
