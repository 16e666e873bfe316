package scene_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/internal/blind"
	"sensito/sensito/internal/simulated"
	"sensito/sensito/scene"
)

// A time beyond the longest tested one is given, for a scene and for a roll, and
// said to lie outside; four times as far none is, however slow the film.
func TestTimesBeyondTheLongest(t *testing.T) {
	f := longFamily(t) // 4 to 12 min
	without := sensito.Flare{Kind: sensito.FlareNone}
	wanted := func(minutes, stops float64) scene.Scene {
		return scene.Scene{Stops: stops, Flare: without, DensityRange: sensito.NetDensity(simulated.ModelFilm(simulated.GammaAt(minutes)).Rise(stops * math.Log10(2)))}
	}
	for _, minutes := range []float64{11, 14.8} {
		s := wanted(minutes, 6)
		p, err := scene.For(f, s)
		require.NoError(t, err, "%g min", minutes)
		assert.InDelta(t, minutes, float64(p.Minutes.Value), 1)
		r, err := scene.ForRoll(f, s, []scene.Frame{{Name: "lamp", Stops: 6}})
		require.NoError(t, err, "%g min", minutes)
		assert.InDelta(t, float64(p.Minutes.Value), float64(r.Minutes.Value), 1e-6*minutes)
		for _, ws := range []sensito.Warnings{p.Warnings, r.Warnings} {
			if minutes > 12 {
				assert.Contains(t, blind.Codes(ws), "extrapolated")
			} else {
				assert.NotContains(t, blind.Codes(ws), "extrapolated")
			}
		}
	}
	film := simulated.Growing(-2, 0.015, 0.10)
	slow := blind.ExactFamily(t, "", simulated.WedgeOf(t, 0.45, 0), "", simulated.FiveTimes, film) // 4 to 12 min
	for _, minutes := range []float64{40, 60} {
		s := scene.Scene{Stops: 6, DensityRange: sensito.NetDensity(film(minutes).Spans(simulated.Normally(6)))}
		_, err := scene.For(slow, s)
		_, ofRoll := scene.ForRoll(slow, s, []scene.Frame{{Name: "lamp", Stops: 6}})
		if minutes < 4*12 {
			require.NoError(t, err)
			require.NoError(t, ofRoll)
			continue
		}
		for _, err := range []error{err, ofRoll} {
			var u *sensito.Unanswerable
			require.ErrorAs(t, err, &u)
			assert.Contains(t, u.Reason, "can be reached is not known")
		}
	}
}
