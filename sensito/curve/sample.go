package curve

import "sensito/sensito"

// Point is one point of a characteristic curve.
type Point struct {
	LogH    sensito.LogExposure // relative when the exposures of the strip are
	Density sensito.Density     // gross
	Net     sensito.NetDensity  // above the curve's base plus fog
	Slope   float64             // density per decade of exposure
}

// Sample returns n points of the strip's curve, evenly spaced from end to end of
// the exposures that it rests on; n is at least 2. It is nil when the strip has
// no curve.
func (m *Measured) Sample(n int) []Point { return m.Fit.Sample(BaseFog, n) }

// Sample is Measured.Sample with net densities above the base that is given.
func (f *Fit) Sample(base func(Curve) sensito.Density, n int) []Point {
	if f == nil {
		return nil
	}
	lo, hi := f.Curve.Domain()
	points := make([]Point, n)
	for i := range points {
		h := lo.Add(sensito.LogRange(i) * hi.Sub(lo) / sensito.LogRange(n-1))
		if i == n-1 {
			h = hi
		}
		d := f.Curve.Density(h)
		points[i] = Point{LogH: h, Density: d, Net: d.Above(base(f.Curve)), Slope: f.Curve.Slope(h)}
	}
	return points
}
