package curve_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/curve"
	"sensito/sensito/internal/blind"
	"sensito/sensito/internal/simulated"
)

// Checks against published numbers, each under its source. The marks are those
// of the source notes: 2S seen in two places, 1S in one, DER arithmetic from a
// stated definition, MEM from memory.

// closedCurve is a curve given by a formula, over the exposures of a strip.
type closedCurve struct {
	at, slope func(x float64) float64
	fog       float64
	lo, hi    float64
}

func (c closedCurve) Density(h sensito.LogExposure) sensito.Density {
	return sensito.Density(c.at(float64(h)))
}

func (c closedCurve) Slope(h sensito.LogExposure) float64 { return c.slope(float64(h)) }

func (c closedCurve) BaseFog() sensito.Density { return sensito.Density(c.fog) }

func (c closedCurve) Domain() (lo, hi sensito.LogExposure) {
	return sensito.LogExposure(c.lo), sensito.LogExposure(c.hi)
}

func (c closedCurve) LogExposure(d sensito.Density) (sensito.LogExposure, error) {
	if c.at(c.hi) < float64(d) {
		return 0, sensito.ErrOutOfRange
	}
	return sensito.LogExposure(simulated.Bisect(c.lo, c.hi, func(x float64) float64 { return c.at(x) - float64(d) })), nil
}

func softplusCurve(fog, slope, at, width float64) closedCurve {
	return closedCurve{
		at:    func(x float64) float64 { return fog + slope*simulated.Corner(x-at, width) },
		slope: func(x float64) float64 { return slope / (1 + math.Exp(-(x-at)/width)) },
		fog:   fog,
	}
}

// brokenCurve is made of straight pieces that start at the given places.
func brokenCurve(fog float64, starts, slopes []float64) closedCurve {
	return closedCurve{
		at: func(x float64) float64 {
			d := fog
			for i, s := range starts {
				end := math.Inf(1)
				if i+1 < len(starts) {
					end = starts[i+1]
				}
				d += slopes[i] * math.Max(0, math.Min(x, end)-s)
			}
			return d
		},
		slope: func(x float64) float64 {
			for i := len(starts) - 1; i >= 0; i-- {
				if x > starts[i] {
					return slopes[i]
				}
			}
			return 0
		},
		fog: fog,
	}
}

// The closed forms named at the top of analytic_curves_21x015.csv.
var closedForms = map[string]closedCurve{
	"A": softplusCurve(0.10, 0.65, -2.10, 0.12),
	"B": softplusCurve(0.25, 0.90, -2.60, 0.10),
	"L": {
		at: func(x float64) float64 { return 0.20 + 2.40/(1+math.Exp(-1.60*(x+0.90))) },
		slope: func(x float64) float64 {
			e := math.Exp(-1.60 * (x + 0.90))
			return 2.40 * 1.60 * e / ((1 + e) * (1 + e))
		},
		fog: 0.20,
	},
	"P": brokenCurve(0.10, []float64{-2.50, -2.00}, []float64{0.30, 0.70}),
	"Q": brokenCurve(0.10, []float64{-2.30}, []float64{0.60}),
	"I": softplusCurve(0.10, 0.6336682579, -2.10, 0.12),
}

// The measures on the closed forms themselves: ISO 6, Niederpruem, Nelson and
// Yule 1966, and the gradient definitions (DER, solved by bisection there).
func TestMeasuresOnClosedForms(t *testing.T) {
	for _, row := range simulated.ReadReference(t, "analytic_curves_expected.csv") {
		t.Run(row["curve"], func(t *testing.T) {
			c := closedForms[row["curve"]]
			c.lo, c.hi = -6, 2
			want := func(column string) float64 { return simulated.Number(t, row[column]) }
			const tolerance = 2e-4

			m, err := curve.SpeedPoint(c)
			require.NoError(t, err)
			assert.InDelta(t, want("logHm"), float64(m), tolerance)
			assert.InEpsilon(t, want("S"), float64(sensito.SpeedAt(m)), 5e-4)
			dd, err := curve.ISODifference(c)
			require.NoError(t, err)
			assert.InDelta(t, want("dD"), dd, tolerance)
			for column, g := range map[string]curve.Gradient{
				"G15_run": {}, "G15_arc": {Arc: true}, "G20_run": {Span: 2}, "G20_arc": {Span: 2, Arc: true},
			} {
				got, err := curve.AverageGradient(c, g)
				require.NoError(t, err)
				assert.InDelta(t, want(column), got, tolerance, column)
			}
			ray, err := curve.IndexRay(c)
			require.NoError(t, err)
			assert.InDelta(t, want("CI"), ray.Slope(), tolerance)
			assert.InDelta(t, want("CI_centre_logH"), float64(ray.Start), tolerance)
			assert.InDelta(t, want("CI_low_netD"), float64(c.Density(ray.Near).Above(ray.Base)), tolerance)
			assert.InDelta(t, want("CI_high_netD"), float64(ray.FarHeight), tolerance)
			if row["fg_logH"] != "" {
				fg, err := curve.FractionalGradientPoint(c)
				require.NoError(t, err)
				assert.InDelta(t, want("fg_logH"), float64(fg), tolerance)
			}
			dx, _ := curve.DeltaX(want("dD"))
			assert.InDelta(t, want("DX"), float64(dx), tolerance)
		})
	}
}

// The chord between two densities, as radiography takes it (ISO 5799 and ASTM
// E1815 in form; the limits 0.25 and 2.00 are from memory): worked out here by
// bisection on the closed forms.
func TestGradientBetweenDensities(t *testing.T) {
	for name, c := range closedForms {
		c.lo, c.hi = -6, 4
		at := func(net float64) float64 {
			return simulated.Bisect(c.lo, c.hi, func(x float64) float64 { return c.at(x) - c.fog - net })
		}
		got, err := curve.AverageGradient(c, curve.Gradient{From: 0.25, To: 2.00})
		require.NoError(t, err, name)
		assert.InEpsilon(t, 1.75/(at(2.00)-at(0.25)), got, 1e-9, name)
	}
}

// analyticStrip returns the 21 tabulated steps of a closed form, rounded to two
// decimals as a densitometer would, and its fog read once.
func analyticStrip(t testing.TB, curve string, fog float64) *sensito.Strip {
	var logH []sensito.LogExposure
	var density []sensito.Density
	for _, row := range simulated.ReadReference(t, "analytic_curves_21x015.csv") {
		if row["curve"] == curve {
			logH = append(logH, sensito.LogExposure(simulated.Number(t, row["logH"])))
			density = append(density, sensito.Density(math.Round(100*simulated.Number(t, row["D"]))/100))
		}
	}
	require.Len(t, logH, 21)
	e, err := sensito.NewRelative(logH)
	require.NoError(t, err)
	e, err = e.TiedTo(sensito.SpeedPointOf(100), 100) // the table is in lux seconds already
	require.NoError(t, err)
	return simulated.OneStrip(t, e, sensito.StripSpec{Minutes: 8, Density: density, BaseFog: []sensito.Density{sensito.Density(fog)}})
}

// The same curves from their tabulated steps: log H within 0.02 and the
// density difference within 0.015 (the bounds of the table's notes for joining
// the steps by straight lines), and the contrast within 0.01.
func TestMeasuresOnTabulatedSteps(t *testing.T) {
	for _, row := range simulated.ReadReference(t, "analytic_curves_expected.csv") {
		t.Run(row["curve"], func(t *testing.T) {
			m, err := curve.Measure(analyticStrip(t, row["curve"], simulated.Number(t, row["fog"])), curve.MeasureOptions{})
			require.NoError(t, err)
			assert.InDelta(t, simulated.Number(t, row["logHm"]), float64(m.SpeedPoint.Value), 0.02, "speed point")
			assert.InDelta(t, simulated.Number(t, row["dD"]), m.ISODifference.Value, 0.015, "ISO difference")
			assert.InDelta(t, simulated.Number(t, row["CI"]), m.ContrastIndex.Value, 0.01, "contrast index")
			assert.InDelta(t, simulated.Number(t, row["G15_run"]), m.AverageGradient.Value, 0.01, "average gradient")
			assert.Empty(t, m.Fit.SetAside)
		})
	}
}

// Identities of the contrast-index geometry (CI-1 to CI-8, DER): on a straight
// line from the base the ray is the line.
func TestContrastIndexIdentities(t *testing.T) {
	for _, c := range []struct{ index, low, high, span float64 }{
		{0.42, 0.0774, 0.8519, 1.8440}, {0.45, 0.0821, 0.9028, 1.8238}, {0.50, 0.0894, 0.9839, 1.7889},
		{0.56, 0.0977, 1.0749, 1.7450}, {0.58, 0.1003, 1.1038, 1.7301}, {0.60, 0.1029, 1.1319, 1.7150},
		{0.65, 0.1090, 1.1990, 1.6769}, {0.80, 0.1249, 1.3743, 1.5617},
	} {
		shape := brokenCurve(0.10, []float64{-2}, []float64{c.index})
		shape.lo, shape.hi = -4, 2
		ray, err := curve.IndexRay(shape)
		require.NoError(t, err)
		assert.InDelta(t, c.index, ray.Slope(), 1e-6)
		assert.InDelta(t, c.low, float64(shape.Density(ray.Near).Above(ray.Base)), 5e-5)
		assert.InDelta(t, c.high, float64(ray.FarHeight), 5e-5)
		assert.InDelta(t, c.span, float64(ray.Far.Sub(ray.Near)), 5e-5)
	}
}

// Nelson and Simonds 1956: only 0.296 at 0.80 is published (DX-5, 1S); the
// other rows are the formula's arithmetic with coefficients from memory.
func TestDeltaX(t *testing.T) {
	dx, ok := curve.DeltaX(0.80)
	assert.True(t, ok)
	assert.InDelta(t, 0.296, float64(dx), 0.0005)
	for _, row := range simulated.ReadReference(t, "delta_x.csv") {
		dd := simulated.Number(t, row["dD"])
		dx, ok := curve.DeltaX(dd)
		assert.InDelta(t, simulated.Number(t, row["DX"]), float64(dx), 5e-5)
		assert.Equal(t, dd >= 0.5 && dd <= 1.2, ok, "dD %.2f", dd)
		h, _ := curve.DeltaXPoint(-2, dd)
		assert.InDelta(t, simulated.Number(t, row["speed_factor"]), float64(sensito.SpeedAt(h))/80, 1e-4)
	}
}

// The measured zone strip of 1991, a camera trial (teaching page, 1S). No
// result is published with it; the derived values are straight interpolation
// between zones (DER), so the curve must agree within its own uncertainty and
// the coarseness of the interpolation.
func TestZoneStrip1991(t *testing.T) {
	var stops []float64
	var density []sensito.Density
	for _, row := range simulated.ReadReference(t, "zone_densities_1991.csv") {
		stops = append(stops, simulated.Number(t, row["zone"])-5)
		density = append(density, sensito.Density(simulated.Number(t, row["net_density"])))
	}
	e, err := sensito.NewCamera(100, stops, sensito.MeterConstants{})
	require.NoError(t, err)
	m, err := curve.Measure(simulated.OneStrip(t, e, sensito.StripSpec{Minutes: 8, Density: density, BaseFog: []sensito.Density{0}}), curve.MeasureOptions{})
	require.NoError(t, err)

	assert.Equal(t, "smooth", m.Fit.Model, "the strip is steeper from zone VI to VIII than on either side")
	assert.Contains(t, blind.Codes(m.Warnings), "smooth_curve")
	below := e.Meter().LogExposure(100).Sub(m.SpeedPoint.Value).Stops()
	assert.InDelta(t, 4.111, below, 0.05, "zone of net density 0.10, in stops below the metered exposure")
	zone := func(n float64) sensito.LogExposure {
		return e.Meter().LogExposure(100).Add(sensito.LogRange(n-5) * sensito.Stop)
	}
	c := m.Fit.Curve
	assert.InDelta(t, 0.5078, float64(c.Density(zone(8))-c.Density(zone(1)))/(7*0.30103), 0.002, "slope from zone I to VIII")
	assert.InDelta(t, 0.698, m.Gamma.Value, 0.03, "largest zone-to-zone slope, which the curve may pass between them")
	assert.Less(t, float64(m.Fit.ResidualSD), 0.01, "the densities are printed to 0.01")
}
