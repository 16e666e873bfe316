package sensito_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
)

// A time up to a quarter beyond the longest tested one is given, for a scene and
// for a roll, and said to lie outside; half beyond, on a film near the end of its
// development, none is.
func TestTimesBeyondTheLongest(t *testing.T) {
	f := longFamily(t) // 4 to 12 min
	without := sensito.Flare{Kind: sensito.FlareNone}
	wanted := func(minutes, stops float64) sensito.Scene {
		return sensito.Scene{Stops: stops, Flare: without, DensityRange: sensito.NetDensity(modelFilm(gammaAt(minutes)).rise(stops * math.Log10(2)))}
	}
	for _, minutes := range []float64{11, 14.8} {
		s := wanted(minutes, 6)
		p, err := f.For(s)
		require.NoError(t, err, "%g min", minutes)
		assert.InDelta(t, minutes, float64(p.Minutes.Value), 1)
		r, err := f.ForRoll(s, []sensito.Frame{{Name: "lamp", Stops: 6}})
		require.NoError(t, err, "%g min", minutes)
		assert.InDelta(t, float64(p.Minutes.Value), float64(r.Minutes.Value), 1e-6*minutes)
		for _, ws := range [][]sensito.Warning{p.Warnings, r.Warnings} {
			if minutes > 12 {
				assert.Contains(t, codes(ws), "extrapolated")
			} else {
				assert.NotContains(t, codes(ws), "extrapolated")
			}
		}
	}
	var u *sensito.Unanswerable
	_, err := f.ForRoll(wanted(18, 6), []sensito.Frame{{Name: "lamp", Stops: 6}})
	require.ErrorAs(t, err, &u)
}
