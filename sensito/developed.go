package sensito

import (
	"fmt"
	"math"
)

// developed are the curves of a family at every development time: density rises
// from the speed point to places at fixed distances from it, each of which grows
// with time by a law of its own, beside the speed point and base plus fog.
type developed struct {
	family *Family
	grid   []LogRange // distances from the speed point, rising
	table  *table
	laws   []growthModel
	speed  trend
	fog    trend
	grown  growth // measures development
}

// The grid of distances from the speed point.
const (
	developedFrom LogRange = -1.2
	developedTo   LogRange = 4
	developedStep LogRange = 0.05
)

func developedGrid() []LogRange {
	var grid []LogRange
	for i := range int(math.Round(float64((developedTo-developedFrom)/developedStep))) + 1 {
		grid = append(grid, developedFrom+LogRange(i)*developedStep)
	}
	return grid
}

// developed returns the family's curves at distances from the speed point, nil
// for a fine grid. Development is measured by a contrast that grows as g does.
func (f *Family) developed(g growth, at []LogRange) (*developed, error) {
	if at == nil {
		at = developedGrid()
	}
	d := &developed{family: f, grid: at, fog: f.fog, grown: g}
	d.table = newTable(f.Strips, func(m *Measured) (derived, error) {
		more, err := deriveAll(m.Fit, d.columns)
		if err != nil {
			return derived{}, err
		}
		return m.derived.with(more), nil
	})
	if len(d.table.rows) < 2 {
		return nil, &Unanswerable{Reason: "fewer than two strips reach their speed point", Hint: "give less exposure, or a wedge with denser steps"}
	}
	d.speed = d.table.trend(colSpeedPoint, d.table.rows, g.development, -1)
	for i := range at {
		d.table.unsteady(d.column(i), developmentScatter)
		d.laws = append(d.laws, d.table.law(d.column(i)))
	}
	return d, nil
}

// column returns the column of a place of the grid.
func (d *developed) column(i int) int { return colFractional + 1 + i }

// columns returns the rises of a curve on the grid, NaN beyond its reach.
func (d *developed) columns(c Curve) ([]float64, error) {
	m, err := SpeedPoint(c)
	if err != nil {
		return nil, err
	}
	lo, hi := c.Domain()
	row := make([]float64, len(d.grid))
	for i, r := range d.grid {
		h := m.Add(r)
		if h < lo.Add(-reach) || h > hi.Add(reach) {
			row[i] = math.NaN()
			continue
		}
		row[i] = float64(c.Density(h) - c.Density(m))
	}
	return row, nil
}

// at returns speed point, base plus fog and the net densities on the grid at a
// development time, from the rows of a table.
func (d *developed) at(rows [][]float64, minutes float64) []float64 {
	u := d.grown.development
	out := []float64{
		d.table.trend(colSpeedPoint, rows, u, d.speed.degree()).at(u(minutes)),
		d.table.trend(colFog, rows, math.Log, d.fog.degree()).at(math.Log(minutes)),
	}
	for i := range d.grid {
		out = append(out, d.net(rows, i, minutes))
	}
	return out
}

// net returns the net density at one place of the grid.
func (d *developed) net(rows [][]float64, i int, minutes float64) float64 {
	return d.table.along(d.column(i), rows, d.laws[i], minutes) + float64(SpeedPointDensity)
}

// curve returns the characteristic curve at a development time: a smooth curve
// through the grid.
func (d *developed) curve(minutes Minutes) (Curve, error) {
	v := d.at(d.table.rows, float64(minutes))
	return curveThrough(LogExposure(v[0]), Density(v[1]), d.grid, v[2:])
}

// curveThrough returns a smooth curve through net densities at distances from a
// speed point; NaN stands for places that are not reached. The error says that
// too few are.
func curveThrough(point LogExposure, fog Density, at []LogRange, nets []float64) (Curve, error) {
	fog = max(fog, 0)
	var h []LogExposure
	var y []Density
	for i, net := range nets {
		if math.IsNaN(net) {
			continue
		}
		// Each place grows by a law of its own, so neighbours may cross by a
		// trifle where the curve is level.
		density := NetDensity(math.Max(net, 0)).Over(fog)
		if n := len(y); n > 0 {
			density = max(density, y[n-1])
		}
		h, y = append(h, point.Add(at[i])), append(y, density)
	}
	c, err := NewTabulatedCurve(h, y, fog)
	if err != nil {
		return nil, fmt.Errorf("the strips share too little of their curves: %w", err)
	}
	return c, nil
}

// CurveAt returns the characteristic curve that the film has when developed for
// the given time, as far as the curves of all strips reach. The error is
// NoContrast where there is no law of growth, or says that the strips share too
// little.
func (f *Family) CurveAt(t Minutes) (Curve, error) {
	if f.NoContrast != nil {
		return nil, f.NoContrast
	}
	d, err := f.developed(f.growth, nil)
	if err != nil {
		return nil, err
	}
	return d.curve(t)
}
