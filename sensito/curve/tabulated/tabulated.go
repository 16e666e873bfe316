// Package tabulated makes curves of published tables of density.
//
// Begin with New.
package tabulated

import (
	"fmt"
	"math"
	"slices"

	"sensito/fit"
	"sensito/sensito"
	"sensito/sensito/curve"
	"sensito/sensito/internal/check"
)

// tabulated is a smooth rising curve through the points of a table.
type tabulated struct {
	fit.Interpolant
	logH    []sensito.LogExposure
	density []sensito.Density
	baseFog sensito.Density
}

// New returns the curve through a published table: strictly
// rising exposures with gross densities that do not fall, two points or more,
// joined by monotone cubics (see fit.Interpolant). baseFog is the density of
// unexposed, developed film, 0 for a table of net densities; it is the curve's
// BaseFog whatever the table starts with. Above the table the curve goes on
// straight; below it the net density dies away exponentially, as in the toe of
// fit.Bend. LogExposure returns the faint end of a level run. The error joins
// FieldErrors with the keys log_h, density and base_fog.
//
// The curve goes through every point as printed. Rounding therefore moves its
// slope by up to the unit of rounding over the distance of the points, and next
// to a sharp corner the slope exceeds that of the chords by up to a half.
// Gamma and the fractional gradient feel both; chords hardly do.
func New(logH []sensito.LogExposure, d []sensito.Density, baseFog sensito.Density) (curve.Curve, error) {
	var f check.Faults
	if len(logH) < 2 {
		f.Add("log_h", "%d exposures; a curve needs 2", len(logH))
	}
	if len(d) != len(logH) {
		f.Add("density", "has %d densities for %d exposures", len(d), len(logH))
	}
	for i, h := range logH {
		key := fmt.Sprintf("log_h[%d]", i+1)
		f.Within(key, float64(h), -20, 20, "")
		if i > 0 && h <= logH[i-1] {
			f.Add(key, "%g after %g; the exposures of a table must rise", h, logH[i-1])
		}
	}
	for i, v := range d {
		key := fmt.Sprintf("density[%d]", i+1)
		f.Within(key, float64(v), 0, float64(sensito.MaxReading), "")
		if i > 0 && v < d[i-1] {
			f.Add(key, "%g after %g; the densities of a curve must not fall", v, d[i-1])
		}
	}
	f.Within("base_fog", float64(baseFog), 0, float64(sensito.MaxReading), "")
	if len(d) > 0 && baseFog > d[0]+bothRounded {
		f.Add("base_fog", "%g is above the lowest density of the table, %g", baseFog, d[0])
	}
	if err := f.Err(); err != nil {
		return nil, err
	}
	through, err := fit.NewInterpolant(floats(logH), floats(d))
	if err != nil {
		return nil, &sensito.FieldError{Key: "log_h", Reason: err.Error()}
	}
	return tabulated{Interpolant: through, logH: slices.Clone(logH), density: slices.Clone(d), baseFog: baseFog}, nil
}

// bothRounded is how far two values of the same density, each rounded to 0.01,
// may lie apart.
const bothRounded sensito.Density = 0.01 + 1e-9

func floats[Q ~float64](q []Q) []float64 {
	out := make([]float64, len(q))
	for i, v := range q {
		out[i] = float64(v)
	}
	return out
}

// atSlope returns density and slope at x.
func (c tabulated) atSlope(x float64) (y, slope float64) {
	y, slope = c.AtSlope(x)
	net := float64(c.density[0] - c.baseFog)
	if x >= float64(c.logH[0]) || net <= 0 {
		return y, slope
	}
	rate := slope / net
	tail := net * math.Exp(rate*(x-float64(c.logH[0])))
	return float64(c.baseFog) + tail, rate * tail
}

func (c tabulated) Density(h sensito.LogExposure) sensito.Density {
	y, _ := c.atSlope(float64(h))
	return sensito.Density(y)
}

func (c tabulated) Slope(h sensito.LogExposure) float64 {
	_, slope := c.atSlope(float64(h))
	return slope
}

func (c tabulated) BaseFog() sensito.Density { return c.baseFog }
func (c tabulated) Domain() (lo, hi sensito.LogExposure) {
	return c.logH[0], c.logH[len(c.logH)-1]
}

func (c tabulated) LogExposure(d sensito.Density) (sensito.LogExposure, error) {
	if i, exact := slices.BinarySearch(c.density, d); exact {
		return c.logH[i], nil
	}
	return curve.Inverse(c, c.atSlope, d)
}
