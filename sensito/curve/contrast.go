package curve

import (
	"fmt"
	"math"

	"sensito/fit"
	"sensito/sensito"
)

// The radii of the contrast-index gauge, in density and log H alike.
const (
	indexNear = 0.2
	indexFar  = 2.2
)

// ContrastIndex returns the slope of the ray that starts on the level of base
// plus fog and meets the curve at the distances 0.20 and 2.20, measured with
// equal scales on both axes (Niederpruem, Nelson and Yule, Phot. Sci. Eng. 10,
// 35, 1966). The ray is solved for, not stepped. It is the short way for a caller
// with a curve of his own, such as a published table; a strip measures its index
// by IndexRay, whose error this returns.
func ContrastIndex(c Curve) (float64, error) {
	ray, err := IndexRay(c)
	if err != nil {
		return 0, err
	}
	return ray.Slope(), nil
}

// Ray is the contrast-index ray of a curve.
type Ray struct {
	Start     sensito.LogExposure // where it leaves the level of base plus fog
	Base      sensito.Density     // base plus fog
	Near, Far sensito.LogExposure // where it meets the curve
	FarHeight sensito.NetDensity  // of the curve at Far
}

// Slope returns the contrast index.
func (r Ray) Slope() float64 { return float64(r.FarHeight) / float64(r.Far.Sub(r.Start)) }

// IndexRay returns the contrast-index ray of a curve. The error wraps
// ErrOutOfRange when the curve does not reach the far point.
func IndexRay(c Curve) (Ray, error) {
	m, err := SpeedPoint(c)
	if err != nil {
		return Ray{}, err
	}
	return indexRay(c, m)
}

// indexRay is IndexRay given the speed point, which is at 0.10, and the near point is at 0.2 sin a.
func indexRay(c Curve, m sensito.LogExposure) (Ray, error) {
	x, err := fit.RootFrom(func(x float64) float64 { return indexExcess(c, x) }, float64(m), 0.01, 2, RootTolerance)
	if err != nil {
		return Ray{}, fmt.Errorf("contrast index: %w", sensito.ErrOutOfRange)
	}
	ray := rayThrough(c, sensito.LogExposure(x))
	if _, end := c.Domain(); ray.Far > end.Add(Reach) {
		return Ray{}, fmt.Errorf("contrast index needs log H %.2f: %w", float64(ray.Far), sensito.ErrOutOfRange)
	}
	return ray, nil
}

// indexExcess returns how far the curve lies above the end of the ray through
// its point at x: above one that is too flat, and below one that is too steep,
// which goes through a higher point.
func indexExcess(c Curve, x float64) float64 {
	r := rayThrough(c, sensito.LogExposure(x))
	return float64(c.Density(r.Far)-r.Base) - float64(r.FarHeight)
}

// rayThrough returns the ray whose near point is the curve's at near. A near
// point at the height 0.2 sin a fixes the angle a, and so where the ray starts
// and ends. A height of 0.2 or more stands for an upright ray.
func rayThrough(c Curve, near sensito.LogExposure) Ray {
	base := BaseFog(c)
	sine := math.Min(float64(c.Density(near)-base)/indexNear, 1)
	cosine := math.Sqrt(1 - sine*sine)
	start := near.Add(sensito.LogRange(-indexNear * cosine))
	return Ray{Start: start, Base: base, Near: near,
		Far: start.Add(sensito.LogRange(indexFar * cosine)), FarHeight: sensito.NetDensity(indexFar * sine)}
}

// Gradient says over which part of the curve an average gradient is taken. The
// zero value is from net 0.10 over a run of 1.50 log H.
type Gradient struct {
	From sensito.NetDensity // 0 means 0.10
	Span sensito.LogRange   // 0 means 1.50
	Arc  bool               // Span is the straight distance to the curve, equal scales

	// To, where it is set, is the net density at the other end, in place of a
	// span: 0.25 to 2.00 for medical radiographs (ISO 5799, from memory).
	To sensito.NetDensity
}

func (g Gradient) withDefaults() Gradient {
	if g.From == 0 {
		g.From = SpeedPointDensity
	}
	if g.Span == 0 {
		g.Span = 1.50
	}
	return g
}

// Points returns the two ends of the chord, on the curve's own scale of exposures.
// The error wraps ErrOutOfRange where the curve does not reach one of them.
func (g Gradient) Points(c Curve) (from, to sensito.LogExposure, err error) {
	g = g.withDefaults()
	if from, err = c.LogExposure(g.start(c)); err != nil {
		return 0, 0, err
	}
	to, err = g.end(c, from)
	return from, to, err
}

// start returns the density that the chord starts from.
func (g Gradient) start(c Curve) sensito.Density { return g.From.Over(BaseFog(c)) }

// end returns where the chord from a point of the curve ends.
func (g Gradient) end(c Curve, from sensito.LogExposure) (sensito.LogExposure, error) {
	to := from.Add(g.Span)
	switch {
	case g.To != 0:
		var err error
		if to, err = c.LogExposure(g.To.Over(BaseFog(c))); err != nil {
			return 0, err
		}
	case g.Arc:
		start := c.Density(from)
		x, err := fit.Root(func(x float64) float64 {
			return math.Hypot(x-float64(from), float64(c.Density(sensito.LogExposure(x))-start)) - float64(g.Span)
		}, float64(from), float64(to), RootTolerance)
		if err != nil {
			return 0, fmt.Errorf("average gradient: %w", sensito.ErrOutOfRange)
		}
		to = sensito.LogExposure(x)
	}
	if _, hi := c.Domain(); to > hi.Add(Reach) {
		return 0, fmt.Errorf("average gradient needs log H %.2f: %w", float64(to), sensito.ErrOutOfRange)
	}
	return to, nil
}

// AverageGradient returns the slope of the chord from net density From to a
// point Span further along log H (or at the distance Span, with Arc; both are
// in print, and they differ by up to 0.03), or to net density To. It is in
// density per decade; the error is that of Gradient.Points.
func AverageGradient(c Curve, g Gradient) (float64, error) {
	from, to, err := g.Points(c)
	if err != nil {
		return 0, err
	}
	return chord(c, from, to), nil
}

// chord returns the slope of the chord between two points of a curve.
func chord(c Curve, from, to sensito.LogExposure) float64 {
	return float64(c.Density(to)-c.Density(from)) / float64(to.Sub(from))
}

// Gamma returns the slope of the straight part of the curve: its largest slope
// within the exposures of the strip. Like ContrastIndex it is for a caller with a
// curve of his own. The error is nil, and there for Derive.
func Gamma(c Curve) (float64, error) {
	slope, _ := Steepest(c)
	return slope, nil
}
