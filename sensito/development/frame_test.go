package development_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/curve"
	"sensito/sensito/development"
	"sensito/sensito/internal/blind"
	"sensito/sensito/internal/simulated"
)

// framed is a trial of model films exposed through a form, under light of which nothing is
// known, and a frame in the camera at 4 stops below the metered exposure; off is what the
// shutter was off by, in log H.
func framed(t *testing.T, r *rand.Rand, off, stops float64, change func(*sensito.TrialSpec)) sensito.TrialSpec {
	e, err := sensito.NewRelativeWedge(sensito.EvenWedge(0.05, 0.15, 21))
	require.NoError(t, err)
	e, err = e.WithCommonSD(0.05)
	require.NoError(t, err)
	const light = 0.45 // log lux seconds, which nobody knows
	spec := sensito.TrialSpec{Film: sensito.Film{Name: "Larkfield 125"}, Exposures: e}
	read := func(d float64) sensito.Density {
		return sensito.Density(math.Round(100*(d+0.01*r.NormFloat64())) / 100)
	}
	for _, minutes := range []float64{5, 8, 12} {
		film := simulated.ModelFilm(simulated.GammaAt(minutes))
		s := sensito.StripSpec{Minutes: sensito.Minutes(minutes), BaseFog: []sensito.Density{read(0.12), read(0.12)}}
		for _, h := range e.LogH() {
			s.Density = append(s.Density, read(film.Density(float64(h)+light)))
		}
		spec.Strips = append(spec.Strips, s)
	}
	film := simulated.ModelFilm(simulated.GammaAt(8) * (1 + development.Scatter*r.NormFloat64()))
	got := math.Log10(8.125/125) + stops*float64(sensito.Stop) + off
	spec.Exposures, err = e.WithFrame(sensito.Frame{Index: 125, Stops: stops, Minutes: 8, Density: []sensito.Density{read(film.Density(got))}})
	require.NoError(t, err)
	if change != nil {
		change(&spec)
	}
	return spec
}

// The speed that one frame ties down covers the truth, and its error counts the shutter,
// the reading over the slope and the development of the frame.
func TestFrameTiesSpeed(t *testing.T) {
	var told blind.Tally
	truth := 0.8 / math.Pow(10, simulated.ModelFilm(simulated.GammaAt(8)).SpeedPoint())
	var sd float64
	const films = 60
	for i := range films {
		r := rand.New(rand.NewPCG(uint64(i), 61))
		f := blind.FamilyOf(t, framed(t, r, 0.05*r.NormFloat64(), -2, nil))
		require.True(t, f.Trial.Exposures().Absolute())
		at, err := f.At(8)
		require.NoError(t, err)
		require.NotNil(t, at.Speed)
		blind.Judge(&told, at.Speed, truth, blind.InStops, math.NaN())
		sd += float64(f.Trial.Exposures().CommonSD()) / films
	}
	t.Logf("bias %+.3f rms %.3f stop, covers %.1f, common %.3f log H", told.Bias(), told.RMS(), 100*told.Coverage(), sd)
	assert.GreaterOrEqual(t, told.Coverage(), 0.85)
	assert.Less(t, told.RMS(), 0.25)
	assert.Greater(t, sd, 0.052, "more than the shutter")
	assert.Less(t, sd, 0.09)
}

// Without a frame that tells, the exposures stay relative, contrast is told all the same
// and a warning says why.
func TestFrameThatTellsNothing(t *testing.T) {
	for name, c := range map[string]struct {
		stops   float64
		density sensito.Density
		want    string
	}{
		"base":   {-9, 0.12, "lies on base plus fog"},
		"toe":    {-7, 0.15, "lies where the film hardly answers"},
		"beyond": {2, 3, "lies beyond what the steps of the strip show"},
	} {
		t.Run(name, func(t *testing.T) {
			spec := framed(t, rand.New(rand.NewPCG(3, 3)), 0, c.stops, func(s *sensito.TrialSpec) {
				f := s.Exposures.Frame()
				f.Density = []sensito.Density{c.density}
				if name == "toe" {
					s.Reading.Repeatability = 0.05
				}
				var err error
				s.Exposures, err = s.Exposures.WithFrame(*f)
				require.NoError(t, err)
			})
			f := blind.FamilyOf(t, spec)
			assert.False(t, f.Trial.Exposures().Absolute())
			assert.Contains(t, blind.MessageOf(f.Warnings, "frame_not_used"), c.want)
			at, err := f.At(8)
			require.NoError(t, err)
			assert.Nil(t, at.Speed)
			assert.Positive(t, at.Contrast.Value)
		})
	}
	spec := framed(t, rand.New(rand.NewPCG(3, 3)), 0, -2, nil)
	trial, err := sensito.NewTrial(spec)
	require.NoError(t, err)
	tied, warnings := development.Tie(trial, curve.MeasureOptions{})
	assert.Contains(t, warnings[0].Message(), "tied down by a frame")
	again, none := development.Tie(tied, curve.MeasureOptions{})
	assert.Equal(t, tied, again)
	assert.Empty(t, none)
}
