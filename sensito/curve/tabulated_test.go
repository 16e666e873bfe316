package curve_test

import (
	"errors"
	"math"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sensito/sensito"
	"sensito/sensito/curve"
	"sensito/sensito/curve/tabulated"
	"sensito/sensito/internal/simulated"
)

// analyticTable returns the 21 tabulated steps of a closed form as a curve, the
// densities rounded to so many decimals.
func analyticTable(t testing.TB, shape string, fog sensito.Density, decimals int) curve.Curve {
	var logH []sensito.LogExposure
	var density []sensito.Density
	unit := math.Pow10(decimals)
	for _, row := range simulated.ReadReference(t, "analytic_curves_21x015.csv") {
		if row["curve"] == shape {
			logH = append(logH, sensito.LogExposure(simulated.Number(t, row["logH"])))
			density = append(density, sensito.Density(math.Round(unit*simulated.Number(t, row["D"]))/unit))
		}
	}
	require.Len(t, logH, 21)
	c, err := tabulated.New(logH, density, fog)
	require.NoError(t, err)
	return c
}

// The six closed forms (DER, solved by bisection there) from their table, as
// printed to four decimals and rounded to two: log H within 0.02 and the density
// difference within 0.015, the bounds of the table's notes, also at the corners
// of P and Q; contrast within 0.01. Of a rounded table, twice that where rounding
// alone takes it further: straight lines joining the same points miss the index
// of L, whose near point lies low on a long toe, by 0.018, and the far points on
// A and I lie 0.2 beyond the table.
func TestMeasuresOnTable(t *testing.T) {
	for _, row := range simulated.ReadReference(t, "analytic_curves_expected.csv") {
		for _, decimals := range []int{4, 2} {
			t.Run(row["curve"]+"/decimals="+strconv.Itoa(decimals), func(t *testing.T) {
				fog := sensito.Density(simulated.Number(t, row["fog"]))
				c := analyticTable(t, row["curve"], fog, decimals)
				lo, hi := c.Domain()
				want := func(column string) float64 { return simulated.Number(t, row[column]) }
				assert.Equal(t, fog, curve.BaseFog(c))

				m, err := curve.SpeedPoint(c)
				require.NoError(t, err)
				assert.InDelta(t, want("logHm"), float64(m), 0.02)
				dd, err := curve.ISODifference(c)
				require.NoError(t, err)
				assert.InDelta(t, want("dD"), dd, 0.015)

				const contrast = 0.01
				far := contrast // where rounding reaches further
				if decimals == 2 {
					far = 0.02
				}
				index, err := curve.ContrastIndex(c)
				require.NoError(t, err)
				assert.InDelta(t, want("CI"), index, far)
				for column, g := range map[string]curve.Gradient{"G15_run": {}, "G15_arc": {Arc: true}} {
					got, err := curve.AverageGradient(c, g)
					require.NoError(t, err)
					assert.InDelta(t, want(column), got, contrast, column)
				}
				got, err := curve.AverageGradient(c, curve.Gradient{Span: 2, Arc: true})
				require.NoError(t, err)
				assert.InDelta(t, want("G20_arc"), got, far)
				got, err = curve.AverageGradient(c, curve.Gradient{Span: 2})
				if sensito.LogExposure(want("logHm")).Add(2) > hi.Add(sensito.Stop) {
					assert.ErrorIs(t, err, sensito.ErrOutOfRange)
				} else {
					require.NoError(t, err)
					assert.InDelta(t, want("G20_run"), got, contrast)
				}

				// The fractional gradient meets its criterion (Nelson and Simonds
				// 1956), and is where the closed form has it. Of a rounded table it
				// may be anywhere on the toe, a step of 0.01 being a slope of 0.07.
				fg, err := curve.FractionalGradientPoint(c)
				require.NoError(t, err)
				assert.Greater(t, fg, lo)
				assert.Less(t, fg, m)
				chord := float64(c.Density(fg.Add(1.5))-c.Density(fg)) / 1.5
				assert.InDelta(t, 0.3*chord, c.Slope(fg), 1e-9)
				gamma, err := curve.Gamma(c)
				require.NoError(t, err)
				switch form := closedForms[row["curve"]]; {
				case row["fg_logH"] == "": // corners, where no slope is close
					assert.InDelta(t, form.slope(float64(hi)), gamma, form.slope(float64(hi))/2)
				case decimals == 4:
					assert.InDelta(t, want("fg_logH"), float64(fg), 0.02)
					assert.InDelta(t, form.slope(float64(hi)), gamma, 0.01)
				default:
					assert.InDelta(t, form.slope(float64(hi)), gamma, 0.01/0.15, "rounding of a secant")
				}
			})
		}
	}
}

// drawTable returns a table of a film: level, then rising in uneven steps with
// level runs among them, above the base by a little or nothing.
func drawTable(t *rapid.T) (logH []sensito.LogExposure, d []sensito.Density, fog sensito.Density) {
	h := sensito.LogExposure(rapid.Float64Range(-4, 0).Draw(t, "first"))
	fog = sensito.Density(rapid.Float64Range(0, 0.5).Draw(t, "fog"))
	density := fog + sensito.Density(rapid.SampledFrom([]float64{0, 0.002, 0.05, 0.3}).Draw(t, "net"))
	for range rapid.IntRange(2, 25).Draw(t, "points") {
		logH, d = append(logH, h), append(d, density)
		h = h.Add(sensito.LogRange(rapid.Float64Range(0.02, 0.3).Draw(t, "gap")))
		density += sensito.Density(rapid.SampledFrom([]float64{0, 0.001, 0.02, 0.1, 0.2}).Draw(t, "rise"))
	}
	return logH, d, fog
}

// What a table owes as a Curve: its points exactly, densities between those of
// neighbours and never below the base, a slope that is that of the densities
// within a stop beyond both ends, and a way back from every density.
func TestTabulatedCurveIsACurve(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		logH, d, fog := drawTable(t)
		c, err := tabulated.New(logH, d, fog)
		require.NoError(t, err)
		lo, hi := c.Domain()
		assert.Equal(t, [2]sensito.LogExposure{logH[0], logH[len(logH)-1]}, [2]sensito.LogExposure{lo, hi})
		for i, h := range logH {
			assert.Equal(t, d[i], c.Density(h))
			back, err := c.LogExposure(d[i])
			require.NoError(t, err)
			first := i
			for first > 0 && d[first-1] == d[i] {
				first--
			}
			assert.Equal(t, logH[first], back, "the faint end of a level run")
		}
		for i, h := range logH[1:] {
			gap := h.Sub(logH[i])
			v := c.Density(logH[i].Add(gap * sensito.LogRange(rapid.Float64Range(0, 1).Draw(t, "between"))))
			assert.GreaterOrEqual(t, v, d[i])
			assert.LessOrEqual(t, v, d[i+1]+1e-14)
		}

		h := sensito.LogExposure(rapid.Float64Range(float64(lo.Add(-sensito.Stop)), float64(hi.Add(sensito.Stop))).Draw(t, "h"))
		density := c.Density(h)
		if density > d[0] || d[0] > fog { // not on the level start, nor straight below it
			back, err := c.LogExposure(density)
			require.NoError(t, err)
			assert.InDelta(t, float64(density), float64(c.Density(back)), 1e-9)
		}
		// Errors of a central difference: across a point the second derivative
		// jumps by at most 12 secants a gap, below the table its rate is slope/net.
		const step = 1e-7
		numeric := float64(c.Density(h.Add(step))-c.Density(h.Add(-step))) / (2 * step)
		allowed := 1e-7 + 12*step*(0.2/0.02)/0.02
		if net := float64(d[0] - fog); h < lo.Add(step) && net > 0 {
			allowed += step * c.Slope(lo) * c.Slope(lo) / net
		}
		assert.InDelta(t, numeric, c.Slope(h), allowed)
		assert.GreaterOrEqual(t, c.Slope(h), 0.0)
		if d[0] > fog {
			assert.GreaterOrEqual(t, c.Density(lo.Add(-5)), fog)
			assert.GreaterOrEqual(t, c.Density(lo), c.Density(lo.Add(-0.01)))
		}
	})
}

func TestTabulatedCurveOutOfRange(t *testing.T) {
	logH := []sensito.LogExposure{-2, -1.5, -1, 0}
	c, err := tabulated.New(logH, []sensito.Density{0.15, 0.3, 0.6, 1.2}, 0.12)
	require.NoError(t, err)
	for _, d := range []sensito.Density{0.11, 0.12, 1.5} {
		_, err := c.LogExposure(d)
		assert.ErrorIs(t, err, sensito.ErrOutOfRange, "density %v", d)
	}
	below, err := c.LogExposure(0.14)
	require.NoError(t, err)
	assert.Less(t, below, logH[0])

	// A level curve has no speed point.
	level, err := tabulated.New(logH, []sensito.Density{0.15, 0.15, 0.15, 0.15}, 0.15)
	require.NoError(t, err)
	_, err = curve.SpeedPoint(level)
	assert.ErrorIs(t, err, sensito.ErrOutOfRange)
}

func TestTabulatedCurveFaults(t *testing.T) {
	nan := sensito.Density(math.NaN())
	type h = []sensito.LogExposure
	type d = []sensito.Density
	for name, c := range map[string]struct {
		logH []sensito.LogExposure
		d    []sensito.Density
		fog  sensito.Density
		want []string
	}{
		"empty":     {want: []string{"log_h: 0 exposures; a curve needs 2"}},
		"one point": {logH: h{-2}, d: d{0.1}, want: []string{"log_h: 1 exposures; a curve needs 2"}},
		"lengths":   {logH: h{-2, -1}, d: d{0.1}, want: []string{"density: has 1 densities for 2 exposures"}},
		"order": {logH: h{-2, -2, -3}, d: d{0.2, 0.1, 0.3}, want: []string{
			"log_h[2]: -2 after -2; the exposures of a table must rise",
			"log_h[3]: -3 after -2; the exposures of a table must rise",
			"density[2]: 0.1 after 0.2; the densities of a curve must not fall"}},
		"limits": {logH: h{-21, 0}, d: d{-0.1, nan}, fog: 7, want: []string{
			"log_h[1]: -21 is outside -20 to 20",
			"density[1]: -0.1 is outside 0 to 6",
			"density[2]: NaN is outside 0 to 6",
			"base_fog: 7 is outside 0 to 6",
			"base_fog: 7 is above the lowest density of the table, -0.1"}},
		"base":  {logH: h{-2, -1}, d: d{0.1, 0.8}, fog: 0.12, want: []string{"base_fog: 0.12 is above the lowest density of the table, 0.1"}},
		"close": {logH: h{0, 5e-324}, d: d{0, 6}, want: []string{"log_h: point 1: x = 5e-324 is too close to 0 for a rise from 0 to 6"}},
	} {
		t.Run(name, func(t *testing.T) {
			curve, err := tabulated.New(c.logH, c.d, c.fog)
			assert.Nil(t, curve)
			all := []error{err}
			if joined, ok := err.(interface{ Unwrap() []error }); ok {
				all = joined.Unwrap()
			}
			var got []string
			for _, e := range all {
				var field *sensito.FieldError
				require.True(t, errors.As(e, &field), "%v", e)
				got = append(got, field.Error())
			}
			assert.Equal(t, c.want, got)
		})
	}
	// Base and lowest step may differ by a rounding of each.
	_, err := tabulated.New(h{-2, -1}, d{0.12, 0.8}, 0.13)
	assert.NoError(t, err)
}
