package development

import (
	"fmt"
	"math"

	"sensito/fit"
	"sensito/sensito"
	"sensito/sensito/curve"
	"sensito/sensito/curve/tabulated"
)

// Developed are the curves of a family at every development time: density rises
// from the speed point to places at fixed distances from it, each of which grows
// with time by a law of its own, beside the speed point and base plus fog.
type Developed struct {
	family *Family
	grid   []sensito.LogRange // distances from the speed point, rising
	Table  *Table
	laws   []Growth
	speed  fit.Trend
	fog    fit.Trend
	grown  Growth // measures development
}

// The grid of distances from the speed point, and the step between them.
const (
	developedFrom sensito.LogRange = -1.2
	developedTo   sensito.LogRange = 4
	DevelopedStep sensito.LogRange = 0.05
)

// DevelopedGrid returns the distances from the speed point at which curves of a
// family are held, rising.
func DevelopedGrid() []sensito.LogRange {
	var grid []sensito.LogRange
	for i := range int(math.Round(float64((developedTo-developedFrom)/DevelopedStep))) + 1 {
		grid = append(grid, developedFrom+sensito.LogRange(i)*DevelopedStep)
	}
	return grid
}

// Developed returns the family's curves at distances from the speed point, nil
// for a fine grid. Development is measured by a contrast that grows as g does.
// The error is Unanswerable where fewer than two strips reach their speed point.
func (f *Family) Developed(g Growth, at []sensito.LogRange) (*Developed, error) {
	if at == nil {
		at = DevelopedGrid()
	}
	d := &Developed{family: f, grid: at, grown: g}
	d.Table = NewTable(f.Strips, func(m *curve.Measured) (fit.Derived, error) {
		more, err := curve.DeriveAll(m.Fit, d.columns)
		if err != nil {
			return fit.Derived{}, err
		}
		return m.Derived.With(more), nil
	})
	if len(d.Table.Rows) < min(2, len(f.Strips)) {
		return nil, &sensito.Unanswerable{Reason: "fewer than two strips reach their speed point", Hint: "give less exposure, or a wedge with denser steps"}
	}
	d.speed = d.Table.PlaceTrend(curve.ColumnSpeedPoint, d.Table.Rows, g.Development)
	d.fog = d.Table.Trend(curve.ColumnFog, d.Table.Rows, Fogging, f.Fog.Degree())
	for i := range at {
		d.Table.Unsteady(d.Column(i), Scatter)
		d.laws = append(d.laws, d.Table.Law(d.Column(i)))
	}
	return d, nil
}

// Column returns the column of a place of the grid.
func (d *Developed) Column(i int) int { return curve.ColumnFractional + 1 + i }

// columns returns the rises of a curve on the grid, NaN beyond its reach.
func (d *Developed) columns(c curve.Curve) ([]float64, error) {
	m, err := curve.SpeedPoint(c)
	if err != nil {
		return nil, err
	}
	lo, hi := c.Domain()
	row := make([]float64, len(d.grid))
	for i, r := range d.grid {
		h := m.Add(r)
		if h < lo.Add(-curve.Reach) || h > hi.Add(curve.Reach) {
			row[i] = math.NaN()
			continue
		}
		row[i] = float64(c.Density(h) - c.Density(m))
	}
	return row, nil
}

// at returns speed point, base plus fog and the net densities on the grid at a
// development time, from the rows of a table.
func (d *Developed) at(rows [][]float64, minutes float64) []float64 {
	out := []float64{
		d.Table.TrendLike(curve.ColumnSpeedPoint, rows, d.speed).At(d.grown.Development(minutes)),
		d.Table.TrendLike(curve.ColumnFog, rows, d.fog).At(Fogging(minutes)),
	}
	for i := range d.grid {
		out = append(out, d.Net(rows, i, minutes))
	}
	return out
}

// Net returns the net density at one place of the grid.
func (d *Developed) Net(rows [][]float64, i int, minutes float64) float64 {
	return d.Table.Along(d.Column(i), rows, d.laws[i], minutes) + float64(curve.SpeedPointDensity)
}

// curve returns the characteristic curve at a development time: a smooth curve
// through the grid.
func (d *Developed) curve(minutes sensito.Minutes) (curve.Curve, error) {
	v := d.at(d.Table.Rows, float64(minutes))
	return CurveThrough(sensito.LogExposure(v[0]), sensito.Density(v[1]), d.grid, v[2:])
}

// CurveThrough returns a smooth curve through net densities at distances from a
// speed point; NaN stands for places that are not reached. The error says that
// too few are.
func CurveThrough(point sensito.LogExposure, fog sensito.Density, at []sensito.LogRange, nets []float64) (curve.Curve, error) {
	fog = max(fog, 0)
	var h []sensito.LogExposure
	var y []sensito.Density
	for i, net := range nets {
		if math.IsNaN(net) {
			continue
		}
		// Each place grows by a law of its own, so neighbours may cross by a
		// trifle where the curve is level.
		density := sensito.NetDensity(math.Max(net, 0)).Over(fog)
		if n := len(y); n > 0 {
			density = max(density, y[n-1])
		}
		h, y = append(h, point.Add(at[i])), append(y, density)
	}
	c, err := tabulated.New(h, y, fog)
	if err != nil {
		return nil, fmt.Errorf("the strips share too little of their curves: %w", err)
	}
	return c, nil
}

// CurveAt returns the characteristic curve that the film has when developed for
// the given time, as far as the curves of all strips reach. The error is
// NoContrast where there is no law of growth, or says that the strips share too
// little.
func (f *Family) CurveAt(t sensito.Minutes) (curve.Curve, error) {
	if f.NoContrast != nil {
		return nil, f.NoContrast
	}
	d, err := f.Developed(f.Growth, nil)
	if err != nil {
		return nil, err
	}
	return d.curve(t)
}
