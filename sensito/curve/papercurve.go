package curve

import (
	"math"

	"sensito/sensito"
	"sensito/sensito/curve/internal/sigmoid"
)

// sCurve is a curve that runs from one level to another, over the exposures of a strip.
type sCurve struct {
	form   sigmoid.Form
	params []float64
	lo, hi sensito.LogExposure
}

func (c sCurve) atSlope(x float64) (y, slope float64) {
	net := math.Exp(c.params[sigmoid.LnNet])
	share, slope := c.form.At(c.params, x, nil)
	return c.params[sigmoid.White] + net*share, net * slope
}

func (c sCurve) Density(h sensito.LogExposure) sensito.Density {
	y, _ := c.atSlope(float64(h))
	return sensito.Density(y)
}

func (c sCurve) Slope(h sensito.LogExposure) float64 {
	_, slope := c.atSlope(float64(h))
	return slope
}

func (c sCurve) BaseFog() sensito.Density { return sensito.Density(c.params[sigmoid.White]) }
func (c sCurve) MaxDensity() sensito.Density {
	return sensito.Density(c.params[sigmoid.White] + math.Exp(c.params[sigmoid.LnNet]))
}
func (c sCurve) Domain() (lo, hi sensito.LogExposure) { return c.lo, c.hi }

func (c sCurve) LogExposure(d sensito.Density) (sensito.LogExposure, error) {
	return Inverse(c, c.atSlope, d)
}
