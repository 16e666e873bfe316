package alike

import (
	"math"

	"sensito/fit/joint"
	"sensito/sensito"
)

// A Curve is what package curve has of one.
type Curve interface {
	Density(sensito.LogExposure) sensito.Density
	Slope(sensito.LogExposure) float64
	LogExposure(sensito.Density) (sensito.LogExposure, error)
	Domain() (lo, hi sensito.LogExposure)
}

// OffCurve is a curve as it is where all its readings are off alike.
type OffCurve struct {
	Curve
	By   joint.Off
	Base sensito.Density // of the curve that is not off
	Top  sensito.Density // that it tends to; infinite where it does not know it
}

func (c OffCurve) off(d sensito.Density) sensito.Density {
	return d*sensito.Density(1+c.By[1]) + sensito.Density(c.By[0]+c.By[2]*float64(d*d))
}

// Density returns that at an exposure.
func (c OffCurve) Density(h sensito.LogExposure) sensito.Density { return c.off(c.Curve.Density(h)) }

// BaseFog returns the density of the base.
func (c OffCurve) BaseFog() sensito.Density { return c.off(c.Base) }

// MaxDensity returns the density that the curve tends to, infinite where it knows none.
func (c OffCurve) MaxDensity() sensito.Density {
	if math.IsInf(float64(c.Top), 1) {
		return c.Top
	}
	return c.off(c.Top)
}

// Slope returns that of Density at an exposure.
func (c OffCurve) Slope(h sensito.LogExposure) float64 {
	return (1 + c.By[1] + 2*c.By[2]*float64(c.Curve.Density(h))) * c.Curve.Slope(h)
}

// LogExposure returns where the curve has a density.
func (c OffCurve) LogExposure(d sensito.Density) (sensito.LogExposure, error) {
	v, scale := float64(d)-c.By[0], 1+c.By[1]
	if root := scale*scale + 4*c.By[2]*v; c.By[2] != 0 && root > 0 { // of the quadratic the one near v, without cancellation
		v = 2 * v / (scale + math.Sqrt(root))
	} else {
		v /= scale
	}
	return c.Curve.LogExposure(sensito.Density(v))
}
