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

// The contrast index of one strip behind a wedge of nominal steps errs as its interval
// says: by more than one of exact steps does, and as much as drawn wedges move it.
func TestWedgeOfOneStrip(t *testing.T) {
	const wedge, strips = 0.05, 60
	b := simulated.Bench{Lamp: 0.35, BaseRead: 2, Kit: simulated.Usual}
	film := simulated.ModelFilm(0.65).Moved(3.2) // from the faint end
	truth := film.ContrastIndex()
	measured := func(sd sensito.LogRange, seed uint64) (off, told float64) {
		r := rand.New(rand.NewPCG(seed, 19))
		b.Off = make([]float64, b.Steps)
		for i := range b.Off {
			b.Off[i] = wedge * r.NormFloat64()
		}
		spec := b.Trial(t, b.Read(r, film)).Spec()
		var err error
		spec.Exposures, err = spec.Exposures.WithWedgeSD(sd)
		require.NoError(t, err)
		trial, err := sensito.NewTrial(spec)
		require.NoError(t, err)
		m, err := curve.Measure(trial.Strips()[0], curve.MeasureOptions{})
		require.NoError(t, err)
		require.NotNil(t, m.ContrastIndex, "%v", m.Warnings)
		return m.ContrastIndex.Value - truth, m.ContrastIndex.StdErr
	}
	var squares, told float64
	for i := range uint64(strips) {
		off, sd := measured(wedge, i)
		squares, told = squares+off*off/strips, told+sd*sd/strips
	}
	t.Logf("errs by %.4f, told %.4f", math.Sqrt(squares), math.Sqrt(told))
	assert.InEpsilon(t, math.Sqrt(squares), math.Sqrt(told), 0.35)
}
