package sensito_test

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
)

func pictured(c ...sensito.Calibration) sensito.TrialSpec {
	e, err := sensito.NewContact(1, 1, sensito.EvenWedge(0, 0.15, 3))
	if err != nil {
		panic(err)
	}
	return sensito.TrialSpec{Film: sensito.Film{Name: "Larkfield 125"}, Exposures: e, Calibrations: c, Strips: []sensito.StripSpec{
		{Minutes: 5, Density: []sensito.Density{1.1, 0.8, 0.5}},
		{Minutes: 8, Density: []sensito.Density{1.4, 1.1, 0.7}, Picture: "negative-8.tif, 1f0c", Calibration: "bed"},
	}}
}

// A covariance that was written with few digits is taken, one that none can be is not;
// its directions give it back.
func TestCalibrations(t *testing.T) {
	const oneOver, sd = 1.0005, 0.01 // a correlation of just over 1, as rounding makes it
	fine := sensito.Calibration{Name: "bed", Repeatability: 0.006, Covariance: [3][3]float64{
		{sd * sd, -oneOver * sd * sd, 0}, {-oneOver * sd * sd, sd * sd, 0}, {0, 0, 4e-6}}}
	trial, err := sensito.NewTrial(pictured(fine))
	require.NoError(t, err)
	var back [3][3]float64
	for _, d := range trial.Strips()[1].Calibration().Directions() {
		for i := range d {
			for j := range d {
				back[i][j] += d[i] * d[j]
			}
		}
	}
	for i := range back {
		assert.InDeltaSlice(t, fine.Covariance[i][:], back[i][:], 2e-7)
	}
	assert.Len(t, fine.Directions(), 2, "offset and scale err together")
	assert.Empty(t, sensito.Calibration{Name: "exact"}.Directions())

	for name, c := range map[string]func(*sensito.Calibration){
		"variance below 0": func(c *sensito.Calibration) { c.Covariance[0][1], c.Covariance[1][0] = -1.02e-4, -1.02e-4 },
		"not symmetric":    func(c *sensito.Calibration) { c.Covariance[0][1] = -1e-4 * 1.003 },
		"not finite":       func(c *sensito.Calibration) { c.Covariance[2][2] = math.Inf(1) },
		"not a number":     func(c *sensito.Calibration) { c.Covariance[2][2] = math.NaN() },
		"too large":        func(c *sensito.Calibration) { c.Covariance[2][2] = 0.041 },
		"exact readings":   func(c *sensito.Calibration) { c.Repeatability = 0 },
		"another name":     func(c *sensito.Calibration) { c.Name = "bad" },
	} {
		bad := fine
		c(&bad)
		_, err := sensito.NewTrial(pictured(bad))
		assert.Error(t, err, name)
	}
	long := pictured(fine)
	long.Calibrations[0].Name = strings.Repeat("b", 80)
	long.Strips[1].Calibration, long.Strips[1].Picture = long.Calibrations[0].Name, strings.Repeat("p", 300)
	_, err = sensito.NewTrial(long)
	require.NoError(t, err)
	long.Strips[1].Picture += "p"
	_, err = sensito.NewTrial(long)
	assert.ErrorContains(t, err, "strip[2].picture")
	long = pictured(fine)
	long.Calibrations[0].Name = strings.Repeat("b", 81)
	_, err = sensito.NewTrial(long)
	assert.ErrorContains(t, err, "calibration[1].name")

	many := make([]sensito.Calibration, 21)
	for i := range many {
		many[i] = fine
		many[i].Name = "bed"[:3] + string(rune('a'+i))
	}
	many[0].Name = "bed"
	_, err = sensito.NewTrial(pictured(many...))
	assert.ErrorContains(t, err, "there are 21; a trial has at most 20")
	_, err = sensito.NewTrial(pictured(many[:20]...))
	assert.NoError(t, err)
	paper := pictured(fine)
	paper.Material = sensito.PaperMaterial
	trial, err = sensito.NewTrial(paper)
	require.NoError(t, err, "a paper is pictured by the light that comes back")
	assert.Equal(t, "bed", trial.Strips()[1].Calibration().Name)
	paper.Reading.Zero = sensito.ZeroBase
	_, err = sensito.NewTrial(paper)
	assert.ErrorContains(t, err, `calibration[1]: goes with zero = "air": a picture shows the base with the rest`)
}

// Each way of reading repeats as it is stated, and as its own repeats say; a picture's
// densities are not rounded as those of the densitometer.
func TestRepeatabilityByCalibration(t *testing.T) {
	spec := pictured(sensito.Calibration{Name: "bed", Repeatability: 0.004})
	spec.Reading.ReadsTo = 0.1
	trial, err := sensito.NewTrial(spec)
	require.NoError(t, err)
	strips := trial.Strips()
	assert.Equal(t, sensito.DefaultRepeatability, strips[0].Repeatability())
	assert.InDelta(t, math.Hypot(0.01, 0.1/math.Sqrt(12)), float64(strips[0].ReadingSD()), 1e-9)
	assert.InDelta(t, 0.004, float64(strips[1].Repeatability()), 1e-12)
	assert.InDelta(t, math.Hypot(0.004, 0.001/math.Sqrt(12)), float64(strips[1].ReadingSD()), 1e-9)

	spec.Strips[1].Repeats = map[int][]sensito.Density{1: {1.395, 1.405}, 2: {1.05, 1.15}}
	trial, err = sensito.NewTrial(spec)
	require.NoError(t, err)
	assert.Equal(t, sensito.DefaultRepeatability, trial.Repeatability(), "the pictures say nothing of the densitometer")
	assert.InDelta(t, math.Sqrt((10*0.004*0.004+2*0.005*0.005)/11), float64(trial.RepeatabilityBy("bed")), 1e-9, "a slip left out")
	warned := sensito.RepeatWarnings(trial.Strips()[1])
	require.Len(t, warned, 1)
	assert.Equal(t, 2, warned[0].Step)

	again, err := sensito.NewTrial(trial.Spec())
	require.NoError(t, err)
	assert.Equal(t, trial.Calibrations(), again.Calibrations())
	assert.Equal(t, "negative-8.tif, 1f0c", again.Strips()[1].Picture())
	assert.Equal(t, "bed", again.Strips()[1].Calibration().Name)
	assert.Nil(t, again.Strips()[0].Calibration())
	again.Calibrations()[0].Name = "changed"
	assert.Equal(t, "bed", again.Calibrations()[0].Name)
}

// How strips were read is told in words, and which of them in pictures.
func TestHowRead(t *testing.T) {
	bed := sensito.Calibration{Name: "bed", Repeatability: 0.004}
	for _, c := range []struct {
		by       []int // strips in pictures
		reading  sensito.Reading
		how, not string
	}{
		{nil, sensito.Reading{}, "", ""},
		{nil, sensito.Reading{Channel: "blue"}, "read channel blue", ""},
		{[]int{1}, sensito.Reading{}, "strip 1 read in pictures", "readings of strip 1 are from pictures, "},
		{[]int{1}, sensito.Reading{Channel: "blue"}, "strip 1 read in pictures, all read channel blue", "readings of strip 1 are from pictures, "},
		{[]int{1, 3}, sensito.Reading{}, "strips 1, 3 read in pictures", "readings of strips 1, 3 are from pictures, "},
		{[]int{1, 2, 3}, sensito.Reading{}, "read in pictures", "readings are from pictures, "},
		{[]int{1, 2, 3}, sensito.Reading{Channel: "green"}, "read in pictures, channel green", "readings are from pictures, "},
	} {
		spec := pictured(bed)
		spec.Reading = c.reading
		spec.Strips = append(spec.Strips, spec.Strips[0])
		spec.Strips[2].Minutes = 11
		for i := range spec.Strips {
			spec.Strips[i].Picture, spec.Strips[i].Calibration = "", ""
		}
		for _, n := range c.by {
			spec.Strips[n-1].Calibration = "bed"
		}
		trial, err := sensito.NewTrial(spec)
		require.NoError(t, err)
		assert.Equal(t, c.by, trial.Pictured())
		assert.Equal(t, c.how, trial.HowRead())
		if c.not == "" {
			assert.Empty(t, trial.NotISO())
			continue
		}
		require.Len(t, trial.NotISO(), 1)
		assert.Equal(t, "not_iso", trial.NotISO()[0].Code)
		assert.True(t, strings.HasPrefix(trial.NotISO()[0].Message(), c.not), trial.NotISO()[0].Message())
	}
}
