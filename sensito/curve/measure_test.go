package curve_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/fit"
	"sensito/sensito"
	"sensito/sensito/curve"
	"sensito/sensito/internal/blind"
	"sensito/sensito/internal/simulated"
)

// Wedges of 21, 31 and 41 steps, from either end, with steps not read, base
// plus fog read or not: the answer is that of the film.
func TestEveryWedge(t *testing.T) {
	f := simulated.ModelFilm(0.65)
	for _, steps := range []int{21, 31, 41} {
		for _, reversed := range []bool{false, true} {
			for _, base := range [][]sensito.Density{nil, {0.12}, {0.12, 0.12}} {
				t.Run(fmt.Sprintf("%d steps, reversed %v, %d of the base", steps, reversed, len(base)), func(t *testing.T) {
					e := simulated.ContactWedge(t, steps, reversed)
					d := simulated.Readings(rand.New(rand.NewPCG(uint64(steps), 3)), e, f, 0.01)
					d[steps/2], d[4] = sensito.Density(math.NaN()), sensito.Density(math.NaN())
					m, err := curve.Measure(simulated.OneStrip(t, e, sensito.StripSpec{Minutes: 8, BaseFog: base, Density: d, Ignore: []int{7}}),
						curve.MeasureOptions{Fit: curve.FitOptions{Noise: fit.NoiseGiven}})
					require.NoError(t, err)
					assert.InDelta(t, f.SpeedPoint(), float64(m.SpeedPoint.Value), 3.5*float64(m.SpeedPoint.StdErr))
					assert.InDelta(t, f.ContrastIndex(), m.ContrastIndex.Value, 3.5*m.ContrastIndex.StdErr)
					assert.InDelta(t, 0.12, float64(m.BaseFog.Value), 3.5*float64(m.BaseFog.StdErr))
				})
			}
		}
	}
}

// A densitometer zeroed on the base shifts every density alike: speed and
// contrast stay, base plus fog becomes the fog alone.
func TestZeroOnBase(t *testing.T) {
	e := simulated.ContactWedge(t, 21, false)
	d := simulated.Readings(rand.New(rand.NewPCG(5, 5)), e, simulated.ModelFilm(0.65), 0.01)
	measure := func(zero sensito.Zero, shift sensito.Density) *curve.Measured {
		s := sensito.StripSpec{Minutes: 8, BaseFog: []sensito.Density{0.12 - shift}}
		for _, v := range d {
			s.Density = append(s.Density, v-shift)
		}
		trial, err := sensito.NewTrial(sensito.TrialSpec{Film: sensito.Film{Name: "Larkfield 125"}, Exposures: e,
			Reading: sensito.Reading{Zero: zero}, Strips: []sensito.StripSpec{s}})
		require.NoError(t, err)
		m, err := curve.Measure(trial.Strips()[0], curve.MeasureOptions{})
		require.NoError(t, err)
		return m
	}
	air, base := measure(sensito.ZeroAir, 0), measure(sensito.ZeroBase, 0.11)
	assert.InDelta(t, float64(air.SpeedPoint.Value), float64(base.SpeedPoint.Value), 1e-5)
	assert.InDelta(t, air.ContrastIndex.Value, base.ContrastIndex.Value, 1e-6)
	assert.InDelta(t, 0.11, float64(air.BaseFog.Value-base.BaseFog.Value), 1e-6)
	assert.Contains(t, blind.Codes(base.Warnings), "zero_on_base")
	assert.NotContains(t, blind.Codes(air.Warnings), "zero_on_base")
}

// A strip whose steps lie far below its base was read from two zeros, and is told; one
// that lies below it by errors of readings is not.
func TestFootBelowBase(t *testing.T) {
	e := simulated.ContactWedge(t, 21, false)
	for _, c := range []struct {
		read, off sensito.Density // standard deviation, and what is taken off the steps
		told      bool
	}{{0.01, 0, false}, {0.01, 0.05, false}, {0.01, 0.07, true}, {0.01, 0.12, true}, {0.02, 0.07, false}, {0.02, 0.09, true}} {
		s := sensito.StripSpec{Minutes: 8, BaseFog: []sensito.Density{0.12, 0.12}}
		for _, h := range e.LogH() {
			s.Density = append(s.Density, max(0, sensito.Density(simulated.ModelFilm(0.65).Density(float64(h)))-c.off))
		}
		trial, err := sensito.NewTrial(sensito.TrialSpec{Film: sensito.Film{Name: "Larkfield 125"}, Exposures: e,
			Reading: sensito.Reading{Repeatability: c.read}, Strips: []sensito.StripSpec{s}})
		require.NoError(t, err)
		m, err := curve.Measure(trial.Strips()[0], curve.MeasureOptions{})
		require.NoError(t, err)
		assert.Equal(t, c.told, slices.Contains(blind.Codes(m.Warnings), "below_base"), "%+v: %v", c, m.Warnings)
	}

	told, strips := 0, 0
	for i := range 60 * blind.Effort(t) {
		r := rand.New(rand.NewPCG(uint64(i), 61))
		_, b, strip := simulated.Reaching.Strip(t, r, i%len(simulated.ClassNames))
		m, err := curve.Measure(strip, curve.MeasureOptions{})
		require.NoError(t, err)
		assert.NotContains(t, blind.Codes(m.Warnings), "below_base", "seed %d", i)
		base := strip.BaseFog()
		if len(base) == 0 {
			continue
		}
		s := sensito.StripSpec{Minutes: strip.Minutes(), BaseFog: base}
		for _, step := range strip.Steps() {
			s.Density = append(s.Density, max(0, step.Density-base[0]))
		}
		m, err = curve.Measure(b.Trial(t, s).Strips()[0], curve.MeasureOptions{})
		require.NoError(t, err)
		strips++
		if slices.Contains(blind.Codes(m.Warnings), "below_base") {
			told++
		}
	}
	t.Logf("read with the base taken off: %d of %d told", told, strips)
	assert.GreaterOrEqual(t, told, strips*9/10)
}

// Derive against drawing parameters from the covariance (JCGM 101:2008): the
// delta method is good to a few percent for every quantity of a strip.
func TestDeriveAgainstDraws(t *testing.T) {
	e := simulated.ContactWedge(t, 21, false)
	d := simulated.Readings(rand.New(rand.NewPCG(8, 1)), e, simulated.ModelFilm(0.65), 0.01)
	f, err := curve.FitStrip(simulated.OneStrip(t, e, sensito.StripSpec{Minutes: 8, BaseFog: []sensito.Density{0.12}, Density: d}), curve.FitOptions{})
	require.NoError(t, err)
	for name, g := range map[string]func(curve.Curve) (float64, error){
		"speed point":      func(c curve.Curve) (float64, error) { h, err := curve.SpeedPoint(c); return float64(h), err },
		"contrast index":   curve.ContrastIndex,
		"average gradient": func(c curve.Curve) (float64, error) { return curve.AverageGradient(c, curve.Gradient{}) },
		"ISO difference":   curve.ISODifference,
		"base plus fog":    func(c curve.Curve) (float64, error) { return float64(curve.BaseFog(c)), nil },
	} {
		t.Run(name, func(t *testing.T) {
			got, err := curve.Derive(f, g)
			require.NoError(t, err)
			draws := f.Draws(rand.New(rand.NewPCG(1, 1)), 4000)
			var sum, squares float64
			for _, c := range draws {
				v, err := g(c)
				require.NoError(t, err)
				sum += v
				squares += v * v
			}
			n := float64(len(draws))
			sd := math.Sqrt(squares/n - sum/n*sum/n)
			assert.InEpsilon(t, sd, got.StdErr, 0.06) // 4 standard errors of a standard deviation from 4000 draws, and 1 % for the delta method
		})
	}
}

// The error that all exposures share moves speed, not contrast.
func TestCommonLogH(t *testing.T) {
	e := simulated.ContactWedge(t, 21, false)
	d := simulated.Readings(rand.New(rand.NewPCG(8, 2)), e, simulated.ModelFilm(0.65), 0.01)
	shaken, err := e.WithCommonSD(0.05)
	require.NoError(t, err)
	measure := func(e sensito.Exposures) *curve.Measured {
		m, err := curve.Measure(simulated.OneStrip(t, e, sensito.StripSpec{Minutes: 8, Density: d}), curve.MeasureOptions{})
		require.NoError(t, err)
		return m
	}
	still, moved := measure(e), measure(shaken)
	assert.Equal(t, still.ContrastIndex, moved.ContrastIndex)
	assert.Equal(t, still.Gamma, moved.Gamma)
	assert.InDelta(t, math.Hypot(float64(still.SpeedPoint.StdErr), 0.05), float64(moved.SpeedPoint.StdErr), 1e-12)
	assert.InEpsilon(t, float64(moved.SpeedPoint.StdErr)*math.Ln10, float64(moved.Speed.StdErr/moved.Speed.Value), 1e-9)
	assert.Greater(t, moved.SpeedPoint.DoF, still.SpeedPoint.DoF)
}

// The fractional gradient is moved to where films have theirs, and may lie further below
// than above that: by shares of the slope there where a form has a round corner, by what
// their readings leave open where strips share a shape.
func TestFractionalAside(t *testing.T) {
	const common = 0.02
	spec := simulated.ModelTrial(t, 5, 8, 12).Spec()
	var err error
	spec.Exposures, err = spec.Exposures.WithCommonSD(common)
	require.NoError(t, err)
	trial, err := sensito.NewTrial(spec)
	require.NoError(t, err)
	for _, apart := range []bool{false, true} {
		ms, err := curve.MeasureTrial(trial, curve.MeasureOptions{Apart: apart})
		require.NoError(t, err)
		for _, m := range ms {
			own, err := curve.Derive(m.Fit, curve.FractionalGradientPoint)
			require.NoError(t, err)
			excess := func(h sensito.LogExposure) float64 {
				return m.Fit.Curve.Slope(h) - 0.3*float64(m.Fit.Curve.Density(h+1.5)-m.Fit.Curve.Density(h))/1.5
			}
			const step = 1e-3
			sd, share := float64(own.StdErr), m.Fit.Curve.Slope(own.Value)*2*step/(excess(own.Value+step)-excess(own.Value-step))
			below, down, up := 0.25*sd, 1.35*sd, 0.85*sd
			if apart {
				below, down, up = 0.045*share, math.Hypot(sd, 0.155*share), math.Hypot(sd, 0.05*share)
			}
			v := m.FractionalGradientSpeed
			value := float64(own.Value) - below
			assert.InEpsilon(t, float64(curve.FractionalGradientSpeed(sensito.LogExposure(value))), float64(v.Value), 1e-5)
			slow, fast := v.Interval(0.6827)
			for _, side := range []struct {
				end   sensito.Speed
				sd    float64
				sense float64
			}{{fast, down, -1}, {slow, up, 1}} {
				whole := math.Hypot(side.sd, common)
				dof := own.DoF * math.Pow(whole/sd, 4) // the known parts make the error better known
				if !apart {
					dof = own.DoF * math.Pow(whole/side.sd, 4)
				}
				end := value + side.sense*fit.StudentT(0.6827, dof)*whole
				assert.InEpsilon(t, float64(curve.FractionalGradientSpeed(sensito.LogExposure(end))), float64(side.end), 1e-4, "apart %v", apart)
			}
			between := math.Sqrt((down*down+up*up)/2 + common*common)
			assert.InEpsilon(t, math.Ln10*between, float64(v.StdErr/v.Value), 1e-4)
		}
	}
}

func TestRelativeExposures(t *testing.T) {
	logH := simulated.ContactWedge(t, 21, false).LogH()
	relative, err := sensito.NewRelative(logH)
	require.NoError(t, err)
	s := sensito.StripSpec{Minutes: 8, Density: simulated.Readings(rand.New(rand.NewPCG(8, 3)), relative, simulated.ModelFilm(0.65), 0.01)}
	m, err := curve.Measure(simulated.OneStrip(t, relative, s), curve.MeasureOptions{})
	require.NoError(t, err)
	assert.Nil(t, m.Speed)
	assert.Nil(t, m.FractionalGradientSpeed)
	assert.NotNil(t, m.ContrastIndex)
	assert.Contains(t, blind.Codes(m.Warnings), "relative_exposure")

	// Tied down by a film of speed 100 that had its speed point at -1.8 there.
	tied, err := relative.TiedTo(-1.8, 100)
	require.NoError(t, err)
	absolute, err := curve.Measure(simulated.OneStrip(t, tied, s), curve.MeasureOptions{})
	require.NoError(t, err)
	want := 100 * math.Pow(10, -1.8-float64(m.SpeedPoint.Value))
	assert.InEpsilon(t, want, float64(absolute.Speed.Value), 1e-6)
}

// What the exposures do not reach is null with a reason, what leans on a little
// extrapolation carries a warning.
func TestShortWedge(t *testing.T) {
	f := simulated.ModelFilm(0.65)
	measure := func(steps int) *curve.Measured {
		var logH []sensito.LogExposure
		for i := range steps {
			logH = append(logH, sensito.LogExposure(-3+0.15*float64(i)))
		}
		e, err := sensito.NewRelative(logH)
		require.NoError(t, err)
		e, err = e.TiedTo(sensito.SpeedPointOf(100), 100)
		require.NoError(t, err)
		d := simulated.Readings(rand.New(rand.NewPCG(8, 4)), e, f, 0.005)
		m, err := curve.Measure(simulated.OneStrip(t, e, sensito.StripSpec{Minutes: 8, Density: d, BaseFog: []sensito.Density{0.12}}), curve.MeasureOptions{})
		require.NoError(t, err)
		return m
	}
	long := measure(21)
	assert.Empty(t, long.Warnings)
	little := measure(15) // ends at -0.9; the contrast index needs -0.25 or so
	assert.Nil(t, little.ContrastIndex)
	assert.Contains(t, blind.Codes(little.Warnings), "wedge_too_short")
	assert.NotNil(t, little.ISODifference)
	lean := measure(18)
	require.NotNil(t, lean.ContrastIndex)
	assert.Contains(t, blind.Codes(lean.Warnings), "extrapolated")
	assert.InDelta(t, f.ContrastIndex(), lean.ContrastIndex.Value, 4*lean.ContrastIndex.StdErr)
}

// Curves that cannot be fitted are refused with what to do.
func TestUnanswerableStrips(t *testing.T) {
	e := simulated.ContactWedge(t, 21, false)
	good := simulated.Readings(rand.New(rand.NewPCG(8, 5)), e, simulated.ModelFilm(0.65), 0.01)
	for name, c := range map[string]struct {
		change func([]sensito.Density)
		reason string
	}{
		"too few": {func(d []sensito.Density) {
			for i := range d[:16] {
				d[i] = sensito.Density(math.NaN())
			}
		}, "strip 1 has 5 usable readings; a curve needs 6"},
		"flat": {func(d []sensito.Density) {
			for i := range d {
				d[i] = 0.15
			}
		}, "strip 1 spans a density of only 0.00; a curve needs 0.20"},
		"against the wedge": {slices.Reverse[[]sensito.Density], "strip 1 gets lighter with more exposure: its readings run against the order of the wedge"},
	} {
		t.Run(name, func(t *testing.T) {
			d := slices.Clone(good)
			c.change(d)
			_, err := curve.Measure(simulated.OneStrip(t, e, sensito.StripSpec{Minutes: 8, Density: d}), curve.MeasureOptions{})
			var u *sensito.Unanswerable
			require.ErrorAs(t, err, &u)
			assert.Equal(t, c.reason, u.Reason)
			assert.NotEmpty(t, u.Hint)
		})
	}
}

// A slip is named and set aside unless everything is to be kept, and the
// standard deviation can come from the stated repeatability.
func TestSlipAndNoise(t *testing.T) {
	e := simulated.ContactWedge(t, 21, false)
	d := simulated.Readings(rand.New(rand.NewPCG(8, 6)), e, simulated.ModelFilm(0.65), 0.01)
	strip := func(d []sensito.Density) *sensito.Strip {
		return simulated.OneStrip(t, e, sensito.StripSpec{Minutes: 8, Density: d, BaseFog: []sensito.Density{0.12}})
	}
	clean, err := curve.Measure(strip(d), curve.MeasureOptions{})
	require.NoError(t, err)
	assert.Empty(t, clean.Fit.SetAside)
	right := d[5]
	d[5] += 0.20
	found, err := curve.Measure(strip(d), curve.MeasureOptions{})
	require.NoError(t, err)
	require.Len(t, found.Fit.SetAside, 1)
	assert.Equal(t, 6, found.Fit.SetAside[0].Step)
	assert.Equal(t, d[5], found.Fit.SetAside[0].Density)
	assert.InDelta(t, float64(right), float64(found.Fit.SetAside[0].Expected), 0.03)
	assert.Contains(t, blind.Codes(found.Warnings), "set_aside")
	assert.InDelta(t, clean.ContrastIndex.Value, found.ContrastIndex.Value, clean.ContrastIndex.StdErr)
	assert.InDelta(t, float64(clean.SpeedPoint.Value), float64(found.SpeedPoint.Value), float64(clean.SpeedPoint.StdErr))

	kept, err := curve.Measure(strip(d), curve.MeasureOptions{Fit: curve.FitOptions{KeepAll: true}})
	require.NoError(t, err)
	assert.Empty(t, kept.Fit.SetAside)
	assert.Greater(t, float64(kept.Fit.ResidualSD), 0.03)
	assert.Contains(t, blind.Codes(kept.Warnings), "lack_of_fit")

	d[5] = right
	stated, err := curve.Measure(strip(d), curve.MeasureOptions{Fit: curve.FitOptions{Noise: fit.NoiseGiven}})
	require.NoError(t, err)
	assert.True(t, math.IsInf(stated.ContrastIndex.DoF, 1))
	sigma := math.Hypot(0.01, 0.01/math.Sqrt(12))
	assert.InEpsilon(t, sigma/float64(clean.Fit.ResidualSD), stated.ContrastIndex.StdErr/clean.ContrastIndex.StdErr, 1e-6)
}

// plainFilms are films of each form of curve.
var plainFilms = []struct {
	name string
	simulated.Film
}{
	{"toe-line", simulated.ModelFilm(0.65)},
	{"shoulder", simulated.Film{Base: 0.12, Layers: []simulated.Layer{{Shape: simulated.Shouldered, Amplitude: 0.65, At: -2.2, Width: 0.13, Span: 1.4, SpanWidth: 0.25}}}},
	{"upswept", simulated.Film{Base: 0.12, Layers: []simulated.Layer{{Shape: simulated.Upswept, Amplitude: 0.5, At: -2.2, Width: 0.13, Bend: 0.15}}}},
}

// plainStrips returns 40 strips of a film in 21 steps, with a slip anywhere but at the ends.
func plainStrips(t testing.TB, f simulated.Film, slip sensito.Density) (out []*sensito.Strip) {
	e := simulated.ContactWedge(t, 21, false)
	for seed := range uint64(40) {
		r := rand.New(rand.NewPCG(8, 7+seed))
		d := simulated.Readings(r, e, f, 0.01)
		d[1+r.IntN(19)] += slip
		out = append(out, simulated.OneStrip(t, e, sensito.StripSpec{Minutes: 8, BaseFog: []sensito.Density{0.12}, Density: d}))
	}
	return out
}

// Most of what a strip costs is evaluations of curves, which are the same on every machine
// but for rounding. Clean strips, and those with a slip of 0.1, 0.2 and 1: the limits are a
// tenth above what they took.
func TestEvaluations(t *testing.T) {
	limits := map[string][4]float64{
		"toe-line": {17, 27, 24, 26},
		"shoulder": {34, 58, 51, 50},
		"upswept":  {28, 44, 38, 40},
	}
	for _, f := range plainFilms {
		for k, slip := range []sensito.Density{0, 0.1, 0.2, 1} {
			var sum int
			strips := plainStrips(t, f.Film, slip)
			for _, s := range strips {
				sum += curve.Evaluations(s)
			}
			mean := float64(sum) / float64(len(strips))
			t.Logf("%s, slip of %.1f: %.1f", f.name, slip, mean)
			assert.LessOrEqual(t, mean, limits[f.name][k], "evaluations of a curve for a strip of %s with a slip of %.1f", f.name, slip)
		}
	}
}

// Of a thousand sound readings one lies beyond three standard deviations nearly always, for
// which no slips are looked for; those there are are found all the same.
func TestSlipsInManySteps(t *testing.T) {
	t.Parallel()
	const steps, n = 1000, 40
	e := simulated.ContactWedge(t, steps, false)
	var evaluations, found int
	for seed := range uint64(n) {
		r := rand.New(rand.NewPCG(8, 7+seed))
		s := sensito.StripSpec{Minutes: 8, BaseFog: []sensito.Density{0.12}, Density: simulated.Readings(r, e, plainFilms[0].Film, 0.01)}
		evaluations += curve.Evaluations(simulated.OneStrip(t, e, s))
		at := r.IntN(steps)
		s.Density[at] += 0.09
		m, err := curve.Measure(simulated.OneStrip(t, e, s), curve.MeasureOptions{})
		require.NoError(t, err)
		if left := m.Fit.LeftOut(); len(left) == 1 && left[0] == at+1 {
			found++
		}
	}
	t.Logf("%.1f evaluations a clean strip, %d of %d slips found", float64(evaluations)/n, found, n)
	assert.LessOrEqual(t, float64(evaluations)/n, 42.0, "evaluations of a curve for a clean strip")
	assert.Equal(t, n, found, "slips of 0.09 found alone")
}

func BenchmarkMeasure(b *testing.B) {
	for _, f := range plainFilms {
		for _, slip := range []sensito.Density{0, 0.1, 0.2, 1} {
			b.Run(fmt.Sprintf("film=%s/slip=%.1f/steps=21", f.name, slip), func(b *testing.B) {
				strips := plainStrips(b, f.Film, slip)
				b.ReportAllocs()
				for b.Loop() {
					for _, strip := range strips {
						_, err := curve.Measure(strip, curve.MeasureOptions{})
						require.NoError(b, err)
					}
				}
			})
		}
	}
}

// Eight strips with a slip, and strips read in many steps, for which time must not grow
// faster than the steps: how many sets of readings are fitted without is chance.
func BenchmarkMeasureSlip(b *testing.B) {
	for _, steps := range []int{21, 250, 1000} {
		b.Run(fmt.Sprintf("steps=%d", steps), func(b *testing.B) {
			e := simulated.ContactWedge(b, steps, false)
			var strips []*sensito.Strip
			for seed := range uint64(8) {
				d := simulated.Readings(rand.New(rand.NewPCG(8, 7+seed)), e, simulated.ModelFilm(0.65), 0.01)
				d[steps/2] += 0.2
				strips = append(strips, simulated.OneStrip(b, e, sensito.StripSpec{Minutes: 8, BaseFog: []sensito.Density{0.12}, Density: d}))
			}
			b.ReportAllocs()
			for b.Loop() {
				for _, strip := range strips {
					_, err := curve.Measure(strip, curve.MeasureOptions{})
					require.NoError(b, err)
				}
			}
		})
	}
}
