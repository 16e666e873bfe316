package scene

import (
	"errors"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/curve"
	"sensito/sensito/development"
	"sensito/sensito/internal/simulated"
)

func modelFamily(t *testing.T, minutes ...float64) *development.Family {
	t.Helper()
	f, err := development.NewFamily(simulated.ModelTrial(t, minutes...), curve.MeasureOptions{})
	require.NoError(t, err)
	return f
}

// At the index of the answer for a scene the time is that answer's, whatever is kept, and
// so are all tones.
func TestIndexOfItsOwn(t *testing.T) {
	f := modelFamily(t, 4, 5.5, 7, 9, 12)
	for _, s := range []Scene{{Stops: 7}, {Stops: 6, Flare: sensito.Flare{Kind: sensito.FlareNone}}, {Stops: 8, ShadowStops: 3.3}, {Stops: 7, ScanMax: 1.4}} {
		normal, err := For(f, s)
		require.NoError(t, err)
		for _, keep := range AllKept {
			p, err := ForIndex(f, s, Given{Index: normal.ExposureIndex.Value, Keep: keep})
			require.NoError(t, err)
			assert.InEpsilon(t, float64(normal.Minutes.Value), float64(p.Minutes.Value), 1e-8)
			assert.InDelta(t, float64(normal.Delivered.Value), float64(p.Delivered.Value), 1e-8)
			assert.InEpsilon(t, float64(normal.Delivered.StdErr), float64(p.Delivered.StdErr), 1e-4)
			assert.InDelta(t, float64(normal.BaseFog.Value), float64(p.BaseFog.Value), 1e-8)
			assert.InDelta(t, normal.ContrastIndex.Value, p.ContrastIndex.Value, 1e-3)
			for i, tone := range p.Tones {
				if tone.NetDensity != nil {
					assert.InDelta(t, float64(normal.Tones[i].NetDensity.Value), float64(tone.NetDensity.Value), 1e-8)
				}
				assert.InDelta(t, float64(normal.Tones[i].Film), float64(tone.Film), 1e-8)
			}
			assert.InDelta(t, 0, p.AtIndex.Push.Value, 1e-12)
			assert.InDelta(t, -p.Scene.ShadowStops, p.AtIndex.SpeedPoint.Value, 1e-8)
			assert.InDelta(t, 0, p.AtIndex.Lost, 1e-8)
			for _, o := range p.AtIndex.Others {
				assert.InEpsilon(t, float64(normal.Minutes.Value), float64(o.Minutes), 1e-8)
			}
		}
	}
}

// Of a film that is known exactly: the time keeps what it is told to keep, the speed point
// and the tones are where the exposure by the index lays them.
func TestIndexOfAKnownFilm(t *testing.T) {
	f := modelFamily(t, 4, 5.5, 7, 9, 12)
	s := Scene{Stops: 7}
	normal, err := For(f, s)
	require.NoError(t, err)
	lit := simulated.Normally(7)
	darkest, _ := lit.Ends()
	for _, index := range []float64{0.5, 1.5, 2, 2.5} {
		index *= float64(normal.ExposureIndex.Value)
		placed := math.Log10(8.125 / (16 * index))
		for _, keep := range AllKept {
			p, err := ForIndex(f, s, Given{Index: sensito.Speed(index), Keep: keep})
			if keep == KeepMetered && err != nil { // the limit of the model film lies near
				continue
			}
			require.NoError(t, err)
			right := simulated.Bisect(0.2, 200, func(minutes float64) float64 {
				film := simulated.ModelFilm(simulated.GammaAt(minutes))
				got := film.Net(placed+lit.Above(p.AtIndex.Tone)) - float64(p.AtIndex.Density)
				if keep == KeepRange {
					got -= film.Net(placed + darkest)
				}
				return got
			})
			assert.InDelta(t, right, float64(p.Minutes.Value), 3.5*float64(p.Minutes.StdErr), "%s at %.0f", keep, index)
			film := simulated.ModelFilm(simulated.GammaAt(float64(p.Minutes.Value)))
			assert.InDelta(t, (film.SpeedPoint()-placed)/math.Log10(2)-4, p.AtIndex.SpeedPoint.Value, 0.1)
			assert.InDelta(t, math.Max(0, p.AtIndex.SpeedPoint.Value+4), p.AtIndex.Lost, 1e-9)
			for _, tone := range p.Tones {
				assert.InDelta(t, placed+lit.Above(tone.Stops), float64(tone.Film), 1e-9)
				if tone.NetDensity != nil {
					assert.InDelta(t, film.Net(float64(tone.Film)), float64(tone.NetDensity.Value), 0.015+4*float64(tone.NetDensity.StdErr), "%s at %.0f, %+g stops", keep, index, tone.Stops)
				}
			}
			kept := *p.Ends[1].NetDensity
			switch keep {
			case KeepRange:
				assert.InDelta(t, 1.05, float64(p.Delivered.Value), 1e-6)
			case KeepHighlight:
				assert.InDelta(t, float64(p.AtIndex.Density), float64(kept.Value), 1e-6)
				assert.InDelta(t, float64(normal.Ends[1].NetDensity.Value), float64(kept.Value), 1e-6)
			default:
				assert.InDelta(t, float64(normal.Tones[-LowestTone].NetDensity.Value), float64(p.Tones[-LowestTone].NetDensity.Value), 1e-6)
			}
		}
	}
}

// What all exposures of the strips err by alike moves the time at an index that is given,
// and the densities there.
func TestIndexCountsTheLamp(t *testing.T) {
	trial := simulated.ModelTrial(t, 4, 5.5, 7, 9, 12)
	ask := func(sd sensito.LogRange) *Answer {
		spec := trial.Spec()
		var err error
		spec.Exposures, err = spec.Exposures.WithCommonSD(sd)
		require.NoError(t, err)
		other, err := sensito.NewTrial(spec)
		require.NoError(t, err)
		f, err := development.NewFamily(other, curve.MeasureOptions{})
		require.NoError(t, err)
		p, err := ForIndex(f, Scene{Stops: 7}, Given{Index: 100})
		require.NoError(t, err)
		return p
	}
	sure, unsure := ask(0), ask(0.05)
	assert.Equal(t, sure.Minutes.Value, unsure.Minutes.Value)
	high, low := sure.Tones[4-LowestTone], sure.Tones[2-LowestTone] // about the lightest
	byDensity := float64(high.NetDensity.Value-low.NetDensity.Value) / float64(high.Film.Sub(low.Film))
	assert.InEpsilon(t, math.Hypot(float64(sure.Ends[1].NetDensity.StdErr), 0.05*byDensity), float64(unsure.Ends[1].NetDensity.StdErr), 0.1)
	assert.Greater(t, unsure.ofExposure, 0.03)
	assert.InEpsilon(t, math.Hypot(float64(sure.Minutes.StdErr/sure.Minutes.Value), unsure.ofExposure), float64(unsure.Minutes.StdErr/unsure.Minutes.Value), 1e-3)
	assert.Equal(t, PartExposure, unsure.Budget()[0].Of)
}

// Film that has lost half a stop in today's process is exposed as though its index were
// half a stop higher; the tones land where the index lays them all the same.
func TestIndexOfDriftedFilm(t *testing.T) {
	f := modelFamily(t, 4, 5.5, 7, 9, 12)
	normal, err := asTested(f, Scene{Stops: 7}.WithDefaults(), tableTones())
	require.NoError(t, err)
	a := &Adjustment{Correct: true, Drift: &Drift{TimePercent: &sensito.Estimate[float64]{Value: 25, DoF: 8}, SpeedStops: &sensito.Estimate[float64]{Value: -0.5, StdErr: 0.1, DoF: 8}}}
	p, err := normal.exposedAt(Given{Index: 100, Keep: KeepHighlight}, a, a.Drift.SpeedStops)
	require.NoError(t, err)
	q, err := ForIndex(f, Scene{Stops: 7}, Given{Index: sensito.Speed(100 * math.Sqrt2)})
	require.NoError(t, err)
	assert.InEpsilon(t, 1.25*float64(q.Minutes.Value), float64(p.Minutes.Value), 1e-8)
	assert.Greater(t, float64(p.Minutes.StdErr), 1.3*float64(q.Minutes.StdErr))
	assert.InDelta(t, 100, float64(p.ExposureIndex.Value), 0)
	assert.InDelta(t, q.AtIndex.SpeedPoint.Value, p.AtIndex.SpeedPoint.Value, 1e-9)
	assert.InDelta(t, q.AtIndex.Push.Value, p.AtIndex.Push.Value, 1e-9)
	for i, tone := range p.Tones {
		assert.InDelta(t, float64(q.Tones[i].Film)+0.5*float64(sensito.Stop), float64(tone.Film), 1e-9)
		if tone.NetDensity != nil {
			assert.InDelta(t, float64(q.Tones[i].NetDensity.Value), float64(tone.NetDensity.Value), 1e-6)
		}
	}
}

func TestIndexUnanswerable(t *testing.T) {
	f := modelFamily(t, 4, 5.5, 7, 9, 12)
	for _, c := range []struct {
		stops        float64
		given        Given
		reason, hint string
	}{
		{7, Given{Index: 660, Keep: KeepMetered}, `^a net density of 0\.\d\d at the metered tone, exposed at EI 660, cannot be reached: .* ends between`, `^keep the density range instead, for which \d+:\d\d serves; or expose at EI \d+ at most, for which the longest time tested, 12:00, serves; or use a more active`},
		{7, Given{Index: 660, Exposed: true}, `^a net density of 1\.\d\d at the lightest tone, exposed at EI 660, `, `^keep the density range instead, for which \d+:\d\d serves; or use`},
		{7, Given{Index: 1}, `^a scene of 7 stops, exposed at EI 1, needs strips exposed to [34]\.\d\d log H above`, `^expose the strips \d\.\d log H \(\d\.\d stops\) more$`},
		{7, Given{Index: 4000, Keep: KeepMetered}, `^a net density of 0\.\d\d at the metered tone, exposed at EI 4000, cannot be reached: it lies where the strips hardly gain density`, `^expose at EI \d+ at most`},
		{7, Given{Index: 100000, Keep: KeepMetered}, `^a scene of 7 stops, exposed at EI 100000, has tones that are kept below the faintest step`, `begins fainter`},
		{5, Given{Index: 100, Keep: KeepRange}, `^whether a density range of 1\.05 over the 1\.11 log H of this scene`, ``}, // that of the answer without an index
	} {
		_, err := ForIndex(f, Scene{Stops: c.stops}, c.given)
		var u *sensito.Unanswerable
		require.ErrorAs(t, err, &u, "%+v", c.given)
		assert.Regexp(t, c.reason, u.Reason)
		assert.Regexp(t, c.hint, u.Hint)
	}
	for index := sensito.Speed(600); index <= 900; index += 20 { // to keep something else is said only where that is answered
		_, err := ForIndex(f, Scene{Stops: 7}, Given{Index: index, Keep: KeepMetered})
		_, errRange := ForIndex(f, Scene{Stops: 7}, Given{Index: index, Keep: KeepRange})
		var u *sensito.Unanswerable
		if errors.As(err, &u) {
			assert.Equal(t, errRange == nil, strings.HasPrefix(u.Hint, "keep the density range"), "EI %g: %s", float64(index), u.Hint)
		}
	}
	_, err := ForIndex(f, Scene{Stops: 7}, Given{Index: 100, Keep: "shadow"})
	require.EqualError(t, err, `what to keep, "shadow", is none of highlight, metered and range`)
	_, err = ForIndex(f, Scene{Stops: 7}, Given{})
	require.EqualError(t, err, "meter index 0 is outside 0.01 to 1e+06")
}

// The highest index that the longest time tested serves is one that it serves.
// What else could be kept, beside an answer, is what the question for it answers.
func TestIndexOthers(t *testing.T) {
	f := modelFamily(t, 4, 5.5, 7, 9, 12)
	reached, beyond := 0, 0
	for index := sensito.Speed(150); index <= 200; index += 3 {
		for _, keep := range AllKept {
			p, err := ForIndex(f, Scene{Stops: 7}, Given{Index: index, Keep: keep})
			if err != nil {
				continue
			}
			for _, o := range p.AtIndex.Others {
				q, err := ForIndex(f, Scene{Stops: 7}, Given{Index: index, Keep: o.Keep})
				if err != nil {
					beyond++
					assert.Zero(t, o.Minutes, "EI %g, %s instead of %s: %v", float64(index), o.Keep, keep, err)
					continue
				}
				reached++
				assert.InDelta(t, float64(q.Minutes.Value), float64(o.Minutes), 1e-6, "EI %g, %s instead of %s", float64(index), o.Keep, keep)
			}
		}
	}
	assert.Greater(t, reached, 20)
	assert.Greater(t, beyond, 5)
}

func TestIndexThatServes(t *testing.T) {
	f := modelFamily(t, 4, 5.5, 7, 9, 12)
	for _, keep := range AllKept {
		normal, err := asTested(f, Scene{Stops: 7}.WithDefaults(), tableTones())
		require.NoError(t, err)
		x := &indexTime{normal: normal, given: Given{Index: 60, Keep: keep}, metered: f.Trial.Exposures().Meter().LogExposure(60), film: normal.filmIn(normal.Table())}
		_, err = x.begin()
		require.NoError(t, err)
		most, ok := x.mostAt(12)
		require.True(t, ok)
		p, err := ForIndex(f, Scene{Stops: 7}, Given{Index: sensito.Speed(most), Keep: keep})
		require.NoError(t, err)
		assert.InEpsilon(t, 12, float64(p.Minutes.Value), 0.01, keep)
	}
	assert.Equal(t, []string{"290", "1200", "4.5", "0.12"}, []string{figures(299), figures(1234), figures(4.59), figures(0.129)})
}
