package curve

import (
	"sensito/fit/joint"
	"sensito/sensito"
)

// Together is what the strips of a film share that are fitted together.
type Together struct {
	Directions int // of the error of each strip, its first ones, that are those of all
	Alike      int // the last of these, that all readings have in common

	// By chance strips that do share a shape differ as much with this probability;
	// where it is small, errors are Wider times what they would be.
	Chance, Wider float64
}

// sharedCurve is the curve of one of several strips that share a shape.
type sharedCurve struct {
	*joint.Curve
	along  []float64 // so many standard deviations along each direction of the error
	lo, hi sensito.LogExposure
}

func (c sharedCurve) at(x float64) (y, slope float64) { return c.AtSlope(x, c.along) }

func (c sharedCurve) Density(h sensito.LogExposure) sensito.Density {
	y, _ := c.at(float64(h))
	return sensito.Density(y)
}

func (c sharedCurve) Slope(h sensito.LogExposure) float64 {
	_, slope := c.at(float64(h))
	return slope
}

func (c sharedCurve) BaseFog() sensito.Density             { return sensito.Density(c.Base(c.along)) }
func (c sharedCurve) Domain() (lo, hi sensito.LogExposure) { return c.lo, c.hi }

func (c sharedCurve) LogExposure(d sensito.Density) (sensito.LogExposure, error) {
	return Inverse(c, c.at, d)
}
