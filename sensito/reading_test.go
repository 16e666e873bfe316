package sensito_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
)

var (
	byMeter = sensito.Reading{Unit: sensito.UnitEV, OpenEV: []float64{12.3}}
	byEye   = sensito.Reading{Unit: sensito.UnitStep, Tablet: []sensito.Density{0.05, 0.20, 0.35, 0.60}}
)

// readSpec is a trial of two strips of four steps.
func readSpec(t *testing.T) sensito.TrialSpec {
	e, err := sensito.NewContact(2, 0.5, []sensito.Density{0, 1, 2, 3})
	require.NoError(t, err)
	strip := sensito.StripSpec{Minutes: 5, BaseFog: []sensito.Density{0.1}, Density: []sensito.Density{1.5, 1, 0.5, 0.1}}
	other := strip
	other.Minutes, other.Density = 8, []sensito.Density{1.8, 1.2, 0.6, 0.1}
	return sensito.TrialSpec{Film: sensito.Film{Name: "Larkfield 125"}, Exposures: e, Strips: []sensito.StripSpec{strip, other}}
}

// A stop less is 0.301 more; a step between two is their density in proportion; and each
// way has its way back.
func TestReadingInDensity(t *testing.T) {
	for _, c := range []struct {
		reading sensito.Reading
		read    sensito.Density
		want    float64
	}{
		{sensito.Reading{}, 1.18, 1.18},
		{byMeter, 12.3, 0},
		{byMeter, 9.3, 3 * 0.30103},
		{sensito.Reading{Unit: sensito.UnitEV, OpenEV: []float64{12.2, 12.4}}, 11.3, 0.30103},
		{byEye, 1, 0.05}, {byEye, 2.5, 0.275}, {byEye, 3.2, 0.40}, {byEye, 4, 0.60},
		{sensito.Reading{Unit: sensito.UnitStep, Tablet: []sensito.Density{0.60, 0.35, 0.20}}, 1.5, 0.475},
	} {
		d := c.reading.Density(c.read)
		assert.InDelta(t, c.want, float64(d), 1e-5, "%+v", c)
		assert.InDelta(t, float64(c.read), float64(c.reading.AsRead(d)), 1e-9, "%+v", c)
	}
	assert.True(t, math.IsNaN(float64(byMeter.Density(sensito.Density(math.NaN())))))
	assert.True(t, math.IsNaN(float64(byEye.Density(sensito.Density(math.NaN())))))
}

// Of a meter that reads to thirds of a stop, 9.3 and 9.7 are written for thirds; of one
// that reads to tenths they are what they say.
func TestThirdsOfAStop(t *testing.T) {
	thirds := byMeter
	thirds.ReadsTo = 1.0 / 3
	for written, meant := range map[sensito.Density]float64{9: 9, 9.3: 9 + 1.0/3, 9.33: 9 + 1.0/3, 9.7: 9 + 2.0/3, 9.5: 9.5} {
		assert.InDelta(t, (12+1.0/3-meant)*0.30103, float64(thirds.Density(written)), 1e-5, "%v", written)
		assert.InDelta(t, (12.3-float64(written))*0.30103, float64(byMeter.Density(written)), 1e-5, "%v", written)
	}
	assert.Zero(t, thirds.Density(12.3), "no brighter than the bare light, so that it can be read")
	require.NoError(t, thirds.CheckReading(12.3))
	thirds.OpenEV = []float64{12.7, 12.7, 12.7}
	require.NoError(t, thirds.CheckReading(12.7), "which is 12 2/3, as the bare light")
	require.Error(t, thirds.CheckReading(12.71+0.04))
	assert.InDelta(t, 0.30103/3, float64(thirds.Density(12.3)), 1e-5, "a third of a stop below 12 2/3")
	thirds.OpenEV = []float64{12, 12.3}
	assert.InDelta(t, 0.30103/6, float64(thirds.Density(12)), 1e-5)
	_, offset := thirds.AlikeSD()
	one := math.Sqrt((10*0.05*0.05 + 1.0/18) / 11 / 2)
	assert.InDelta(t, 0.30103*math.Hypot(one, 1/math.Sqrt(108)), float64(offset), 1e-5)
	assert.Equal(t, []string{"12.3 EV", "9.67 EV", "tablet step 7.5", "1.10"}, []string{
		thirds.Written(12.3), thirds.Written(9.667), byEye.Written(7.5), sensito.Reading{}.Written(1.1)})
}

// What one reading is sure to: the repeatability and the rounding of its unit, in density.
func TestReadingSDByUnit(t *testing.T) {
	sd := func(r sensito.Reading) float64 {
		s := readSpec(t)
		s.Reading = r
		for i := range s.Strips {
			s.Strips[i].BaseFog = nil
			for j := range s.Strips[i].Density {
				s.Strips[i].Density[j] = sensito.Density(math.NaN())
			}
		}
		trial, err := sensito.NewTrial(s)
		require.NoError(t, err)
		return float64(trial.ReadingSD())
	}
	assert.InDelta(t, math.Hypot(0.01, 0.01/math.Sqrt(12)), sd(sensito.Reading{}), 1e-9)
	assert.InDelta(t, 0.30103*math.Hypot(0.05, 0.1/math.Sqrt(12)), sd(byMeter), 1e-6)
	thirds := byMeter
	thirds.ReadsTo, thirds.Repeatability = 1.0/3, 0.04
	assert.InDelta(t, 0.30103*math.Hypot(0.04, 1/3.0/math.Sqrt(12)), sd(thirds), 1e-6)
	spacing := math.Sqrt((0.15*0.15 + 0.15*0.15 + 0.25*0.25) / 3)
	assert.InDelta(t, spacing*math.Hypot(0.2, 0.5/math.Sqrt(12)), sd(byEye), 1e-6)
}

// The error of the bare light is one of all densities: that of one reading, or of the mean
// of several as they scatter, and of the rounding that they share.
func TestOpenLightIsCommon(t *testing.T) {
	r := byMeter
	r.OffsetSD = 0.01
	scale, offset := r.AlikeSD()
	assert.Zero(t, scale)
	rounding := 0.1 * 0.1 / 12
	assert.InDelta(t, math.Hypot(0.01, 0.30103*math.Sqrt(0.05*0.05+rounding)), float64(offset), 1e-6)
	r.OffsetSD, r.OpenEV = 0, []float64{12.2, 12.4} // squares of 0.1 twice
	_, offset = r.AlikeSD()
	assert.InDelta(t, 0.30103*math.Sqrt((10*0.05*0.05+2*0.1*0.1)/11/2+rounding), float64(offset), 1e-6)
}

// A trial keeps what was read and tells densities; the trial of its densities is equal
// but for that.
func TestTrialKeepsWhatWasRead(t *testing.T) {
	s := readSpec(t)
	s.Reading = byMeter
	for i := range s.Strips {
		s.Strips[i].BaseFog = []sensito.Density{11.9, 12}
		for j := range s.Strips[i].Density {
			s.Strips[i].Density[j] = sensito.Density(5 + float64(j)/10)
		}
		s.Strips[i].Repeats = map[int][]sensito.Density{2: {8, 8.2}}
	}
	trial, err := sensito.NewTrial(s)
	require.NoError(t, err)
	strip := trial.Strips()[0]
	assert.InDelta(t, 0.4*0.30103, float64(strip.BaseFog()[0]), 1e-5)
	assert.InDelta(t, 7.3*0.30103, float64(strip.Steps()[0].Density), 1e-5)
	assert.InDelta(t, 4.2*0.30103, float64(strip.Steps()[1].Density), 1e-5)
	again := trial.Spec().Strips[0]
	assert.Equal(t, sensito.Density(5), again.Density[0])
	assert.Equal(t, []sensito.Density{8, 8.2}, again.Repeats[2])
	assert.Equal(t, []sensito.Density{11.9, 12}, again.BaseFog)
	in := trial.InDensity()
	assert.Equal(t, sensito.UnitDensity, in.Reading().Unit)
	assert.InDelta(t, float64(trial.ReadingSD()), float64(in.ReadingSD()), 1e-5)
	for j, step := range in.Strips()[0].Steps() {
		assert.InDelta(t, float64(strip.Steps()[j].Density), float64(step.Density), 1e-4)
	}
}
