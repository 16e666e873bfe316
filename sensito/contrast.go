package sensito

import (
	"fmt"
	"math"

	"sensito/fit"
)

// The radii of the contrast-index gauge, in density and log H alike.
const (
	indexNear = 0.2
	indexFar  = 2.2
)

// ContrastIndex returns the slope of the ray that starts on the level of base
// plus fog and meets the curve at the distances 0.20 and 2.20, measured with
// equal scales on both axes (Niederpruem, Nelson and Yule, Phot. Sci. Eng. 10,
// 35, 1966). The ray is solved for, not stepped.
func ContrastIndex(c Curve) (float64, error) {
	ray, err := IndexRay(c)
	if err != nil {
		return 0, err
	}
	return ray.Slope(), nil
}

// Ray is the contrast-index ray of a curve.
type Ray struct {
	Start     LogExposure // where it leaves the level of base plus fog
	Base      Density
	Near, Far LogExposure // where it meets the curve
	FarHeight NetDensity
}

// Slope returns the contrast index.
func (r Ray) Slope() float64 { return float64(r.FarHeight) / float64(r.Far.Sub(r.Start)) }

// IndexRay returns the contrast-index ray of a curve. The error wraps
// ErrOutOfRange when the curve does not reach the far point.
func IndexRay(c Curve) (Ray, error) {
	base := BaseFog(c)
	net := func(x float64) float64 { return float64(c.Density(LogExposure(x)) - base) }
	lo, hi := c.Domain()

	// For a start s the near point is where the curve crosses the small circle.
	// A net density of 0.2 is outside it for every s to the left, so the
	// crossing lies between s and s + 0.2.
	near := func(s float64) float64 {
		x, err := fit.Root(func(x float64) float64 {
			return math.Hypot(x-s, net(x)) - indexNear
		}, s, s+indexNear, rootTol)
		if err != nil {
			return s + indexNear // base not level to the last digit: the circle's end
		}
		return x
	}
	// miss is how far the curve lies above the ray's end, for a ray through
	// the near point.
	miss := func(s float64) float64 {
		x := near(s)
		k := indexFar / indexNear
		return net(s+k*(x-s)) - k*net(x)
	}

	// From the left the ray is level and passes under the curve; moving right it
	// steepens until its end meets the curve.
	top, err := c.LogExposure(NetDensity(indexNear).Over(base))
	if err != nil {
		return Ray{}, err
	}
	from, to := math.Min(float64(top)-indexFar, float64(lo)), float64(top)
	const steps = 32
	s, found := 0.0, false
	prev, prevMiss := from, miss(from)
	for i := 1; i <= steps; i++ {
		x := from + (to-from)*float64(i)/steps
		m := miss(x)
		if prevMiss > 0 && m <= 0 {
			if s, err = fit.Root(miss, prev, x, rootTol); err != nil {
				return Ray{}, err
			}
			found = true
			break
		}
		prev, prevMiss = x, m
	}
	if !found {
		return Ray{}, fmt.Errorf("contrast index: %w", ErrOutOfRange)
	}
	x := near(s)
	far := s + indexFar/indexNear*(x-s)
	if LogExposure(far) > hi.Add(reach) {
		return Ray{}, fmt.Errorf("contrast index needs log H %.2f: %w", far, ErrOutOfRange)
	}
	return Ray{Start: LogExposure(s), Base: base, Near: LogExposure(x), Far: LogExposure(far), FarHeight: NetDensity(net(far))}, nil
}

// Gradient says over which part of the curve an average gradient is taken. The
// zero value is from net 0.10 over a run of 1.50 log H.
type Gradient struct {
	From NetDensity // 0 means 0.10
	Span LogRange   // 0 means 1.50
	Arc  bool       // Span is the straight distance to the curve, equal scales
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

// Points returns the two ends of the chord.
func (g Gradient) Points(c Curve) (from, to LogExposure, err error) {
	g = g.withDefaults()
	start := g.From.Over(BaseFog(c))
	from, err = c.LogExposure(start)
	if err != nil {
		return 0, 0, err
	}
	to = from.Add(g.Span)
	if g.Arc {
		x, err := fit.Root(func(x float64) float64 {
			return math.Hypot(x-float64(from), float64(c.Density(LogExposure(x))-start)) - float64(g.Span)
		}, float64(from), float64(to), rootTol)
		if err != nil {
			return 0, 0, fmt.Errorf("average gradient: %w", ErrOutOfRange)
		}
		to = LogExposure(x)
	}
	if _, hi := c.Domain(); to > hi.Add(reach) {
		return 0, 0, fmt.Errorf("average gradient needs log H %.2f: %w", float64(to), ErrOutOfRange)
	}
	return from, to, nil
}

// AverageGradient returns the slope of the chord from net density From to a
// point Span further along log H (or at the distance Span, with Arc; both are
// in print, and they differ by up to 0.03).
func AverageGradient(c Curve, g Gradient) (float64, error) {
	from, to, err := g.Points(c)
	if err != nil {
		return 0, err
	}
	return float64(c.Density(to)-c.Density(from)) / float64(to.Sub(from)), nil
}

// Gamma returns the slope of the straight part of the curve: its largest slope
// within the exposures of the strip.
func Gamma(c Curve) (float64, error) {
	slope, _ := steepest(c)
	return slope, nil
}
