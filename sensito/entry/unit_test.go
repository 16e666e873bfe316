package entry_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/entry"
	"sensito/sensito/internal/simulated"
)

// A strip keyed in by a meter, or by eye, is judged as it would be in densities: what is
// expected, how far off a reading may be, and what is refused, in the unit of the file.
func TestKeyingInOtherUnits(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 5))
	e := simulated.WedgeOf(t, 0.45, 0)
	film := simulated.ModelFilm(0.6)
	tablet := sensito.EvenWedge(0.05, 0.10, 31)
	for name, reading := range map[string]sensito.Reading{
		"EV":   {Unit: sensito.UnitEV, OpenEV: []float64{12.3}, Repeatability: 0.01 / 0.30103, ReadsTo: 0.01 / 0.30103},
		"step": {Unit: sensito.UnitStep, Tablet: tablet, Repeatability: 0.1, ReadsTo: 0.1},
	} {
		t.Run(name, func(t *testing.T) {
			begun := func(reading sensito.Reading) *entry.Keying {
				spec := sensito.TrialSpec{Film: sensito.Film{Name: "Larkfield 125"}, Exposures: e, Reading: reading}
				unread := make([]sensito.Density, e.Len())
				for i := range unread {
					unread[i] = sensito.Density(math.NaN())
				}
				spec.Strips = []sensito.StripSpec{{Minutes: 8, Density: unread, NextStep: 1}}
				trial, err := sensito.NewTrial(spec)
				require.NoError(t, err)
				k := entry.NewKeying(trial, 1)
				require.NoError(t, k.Fog(reading.AsRead(0.12)))
				return k
			}
			k, plain := begun(reading), begun(sensito.Reading{})
			_, far, off := k.FogFarOff(reading.AsRead(1.5))
			assert.True(t, off, "%v", far)
			for i, h := range e.LogH() {
				d := sensito.Density(film.Density(float64(h)) + 0.003*r.NormFloat64())
				if i >= 4 {
					x, ok := k.Expect()
					require.True(t, ok)
					y, _ := plain.Expect()
					per := reading.PerUnit(y.Density.Value)
					assert.InDelta(t, float64(y.Density.Value), float64(reading.Density(x.Density.Value)), 1e-6)
					assert.InDelta(t, float64(y.Limit()), float64(x.Limit())*per, 1e-6)
					_, _, off := k.FarOff(reading.AsRead(d + 1.2*y.Limit()))
					assert.True(t, off, "step %d", i+1)
					_, _, off = k.FarOff(reading.AsRead(d))
					assert.False(t, off, "step %d", i+1)
				}
				require.NoError(t, k.Read(reading.AsRead(d)))
				require.NoError(t, plain.Read(d))
			}
			assert.False(t, k.Contrary())
			assert.Equal(t, plain.Contrary(), k.Contrary())
			assert.InDelta(t, float64(reading.AsRead(0.12)), float64(k.Spec().BaseFog[0]), 1e-12)
			assert.Error(t, k.Fog(reading.AsRead(-1)))
		})
	}
}
