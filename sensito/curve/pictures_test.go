package curve_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/curve"
	"sensito/sensito/internal/simulated"
)

// fiveStrips are those of a growing film, read to 0.001 each by the calibration of its
// name, "" for the densitometer.
func fiveStrips(t *testing.T, by [5]string, known ...sensito.Calibration) sensito.TrialSpec {
	r := rand.New(rand.NewPCG(11, 12))
	e, film := simulated.WedgeOf(t, 0, 0), simulated.Growing(-2, 0.12, 0.10)
	spec := sensito.TrialSpec{Film: sensito.Film{Name: "Larkfield 125"}, Process: simulated.Tank, Exposures: e, Calibrations: known}
	for j, m := range simulated.FiveTimes {
		reading := func(d float64) sensito.Density {
			return sensito.Density(math.Round(1000*(d+0.006*r.NormFloat64())) / 1000)
		}
		s := sensito.StripSpec{Minutes: sensito.Minutes(m), BaseFog: []sensito.Density{reading(film(m).Base), reading(film(m).Base)}, Calibration: by[j]}
		for _, h := range e.LogH() {
			s.Density = append(s.Density, reading(film(m).Density(float64(h))))
		}
		spec.Strips = append(spec.Strips, s)
	}
	return spec
}

func measuredAll(t *testing.T, spec sensito.TrialSpec, o curve.MeasureOptions) []*curve.Measured {
	trial, err := sensito.NewTrial(spec)
	require.NoError(t, err)
	ms, err := curve.MeasureTrial(trial, o)
	require.NoError(t, err)
	return ms
}

// off returns the strips with readings that are off as a direction has it.
func off(spec sensito.TrialSpec, d [3]float64) sensito.TrialSpec {
	strips := append([]sensito.StripSpec(nil), spec.Strips...)
	moved := func(vs []sensito.Density) (out []sensito.Density) {
		for _, v := range vs {
			out = append(out, v+sensito.Density(d[0]+d[1]*float64(v)+d[2]*float64(v*v)))
		}
		return out
	}
	for i, s := range strips {
		strips[i].BaseFog, strips[i].Density = moved(s.BaseFog), moved(s.Density)
	}
	spec.Strips = strips
	return spec
}

// One calibration of all strips leaves every quantity where it is, and widens its error by
// what the quantity is moved where all readings are off along the directions of the
// calibration, together and apart.
func TestOneCalibration(t *testing.T) {
	directions := [][3]float64{{0.012, 0, 0}, {0, 0.015, 0}, {0.004, -0.01, 0.004}}
	all := [5]string{"bed", "bed", "bed", "bed", "bed"}
	exact := fiveStrips(t, all, simulated.Bed("bed"))
	for name, o := range map[string]curve.MeasureOptions{"together": {}, "apart": {Apart: true}} {
		before := measuredAll(t, exact, o)
		after := measuredAll(t, fiveStrips(t, all, simulated.Bed("bed", directions...)), o)
		for _, col := range []int{curve.ColumnIndex, curve.ColumnFog} {
			for j := range before {
				squares := 0.0
				for _, d := range directions {
					up, down := measuredAll(t, off(exact, d), o), measuredAll(t, off(exact, [3]float64{-d[0], -d[1], -d[2]}), o)
					move := (up[j].Derived.Values[col] - down[j].Derived.Values[col]) / 2
					squares += move * move
				}
				own, told := before[j].Derived.SD(col), after[j].Derived.SD(col)
				assert.Equal(t, before[j].Derived.Values[col], after[j].Derived.Values[col], "%s, strip %d", name, j+1)
				assert.InEpsilon(t, math.Sqrt(own*own+squares), told, 0.03, "%s, strip %d, column %d", name, j+1, col)
				assert.Greater(t, told, 1.5*own, "%s, strip %d, column %d", name, j+1, col)
			}
		}
	}
}

// Of one calibration the strips tell nothing. Where one strip of five comes by another way,
// they tell by how much its base is off, and not by how much its contrast is: that is its
// own to have.
func TestWhatCalibrationsAreLearned(t *testing.T) {
	const sd = 0.05
	beds := []sensito.Calibration{simulated.Bed("bed", [3]float64{sd}, [3]float64{1: sd})}
	one := measuredAll(t, fiveStrips(t, [5]string{"bed", "bed", "bed", "bed", "bed"}, beds...), curve.MeasureOptions{})
	for _, m := range one {
		assert.Greater(t, m.Derived.SD(curve.ColumnFog), 0.99*sd)
		assert.Greater(t, m.ContrastIndex.StdErr/m.ContrastIndex.Value, 0.94*sd) // whose ray does not quite follow a scale
	}
	spec := fiveStrips(t, [5]string{2: "bed"}, beds...)
	among := spec
	among.Strips = append([]sensito.StripSpec(nil), spec.Strips...)
	among.Strips[2] = off(sensito.TrialSpec{Strips: spec.Strips[2:3]}, [3]float64{sd}).Strips[0]
	ms, fair := measuredAll(t, among, curve.MeasureOptions{}), measuredAll(t, fiveStrips(t, [5]string{}), curve.MeasureOptions{})
	assert.Less(t, ms[2].Derived.SD(curve.ColumnFog), 0.25*sd)
	assert.InDelta(t, fair[2].Derived.Values[curve.ColumnFog], ms[2].Derived.Values[curve.ColumnFog], 3*ms[2].Derived.SD(curve.ColumnFog))
	assert.Greater(t, ms[2].ContrastIndex.StdErr/ms[2].ContrastIndex.Value, 0.9*sd)
	for _, j := range []int{0, 1, 3, 4} {
		assert.Less(t, ms[j].ContrastIndex.StdErr, 1.5*fair[j].ContrastIndex.StdErr, "strip %d is not of it", j+1)
	}
	_, of := ms[2].Fit.Shared()
	assert.Contains(t, of, curve.OfPictures)
	assert.False(t, ms[2].Fit.PicturesAsStated())
	assert.True(t, one[2].Fit.PicturesAsStated())
}

// Strips of two calibrations err each by their own: a difference of two strips of one is
// surer than that of strips of two.
func TestTwoCalibrationsErrApart(t *testing.T) {
	const sd = 0.03
	a, b := simulated.Bed("a", [3]float64{1: sd}), simulated.Bed("b", [3]float64{1: sd})
	ms := measuredAll(t, fiveStrips(t, [5]string{"a", "b", "a", "b", "a"}, a, b), curve.MeasureOptions{})
	apart := func(i, j int) float64 { // the standard deviation of the logarithm of a ratio, by what is shared
		_, of := ms[i].Fit.Shared()
		sum := 0.0
		for k := range of {
			move := ms[i].Derived.Moves[k][curve.ColumnIndex]/ms[i].Derived.Values[curve.ColumnIndex] -
				ms[j].Derived.Moves[k][curve.ColumnIndex]/ms[j].Derived.Values[curve.ColumnIndex]
			sum += move * move
		}
		return math.Sqrt(sum)
	}
	assert.Less(t, apart(0, 2), 0.3*sd)
	assert.Less(t, apart(1, 3), 0.3*sd)
	assert.InEpsilon(t, math.Sqrt2*sd, apart(0, 1), 0.25)
}

// Curves that are off by a bend are curves: slope and inverse are those of the density.
func TestCurvesOffByABend(t *testing.T) {
	spec := fiveStrips(t, [5]string{"bed", "bed", "bed", "bed", "bed"}, simulated.Bed("bed", [3]float64{0.02, 0.02, 0.03}))
	ms := measuredAll(t, spec, curve.MeasureOptions{Apart: true})
	for _, c := range ms[2].Fit.Draws(rand.New(rand.NewPCG(5, 5)), 20) {
		for _, h := range []sensito.LogExposure{-1.8, -1.2, -0.6} {
			const step = 1e-4
			assert.InDelta(t, float64(c.Density(h+step)-c.Density(h-step))/(2*step), c.Slope(h), 1e-4)
			back, err := c.LogExposure(c.Density(h))
			require.NoError(t, err)
			assert.InDelta(t, float64(h), float64(back), 1e-6)
		}
	}
}
