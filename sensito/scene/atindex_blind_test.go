package scene_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"

	"sensito/sensito"
	"sensito/sensito/internal/blind"
	"sensito/sensito/internal/simulated"
	"sensito/sensito/scene"
)

// Films of forms that are not fitted, exposed up to two stops and a half under their index
// and two over: the time that gives the kept tone its density, where the speed point then
// lies below the metered tone, and what one more development for the time told delivers.
func TestBlindIndex(t *testing.T) {
	t.Parallel()
	lit, films := simulated.Normally(7), 16*blind.Effort(t)
	for _, keep := range scene.AllKept {
		var times, far, points, ranges, tones blind.Tally
		byForm := make([]blind.Tally, len(foreignForms))
		for i := range films {
			form := i % len(foreignForms)
			r := rand.New(rand.NewPCG(uint64(i), 517))
			d := newForeign(r, form, [2]float64{0.45, 0.75})
			f := d.family(t, r)
			normal, err := scene.For(f, scene.Scene{Stops: 7})
			if err != nil {
				continue
			}
			for _, push := range []float64{-2, -1, 0.7, 1.5, 2.5} {
				index := math.Exp2(push) * float64(normal.ExposureIndex.Value)
				p, err := scene.ForIndex(f, scene.Scene{Stops: 7}, scene.Given{Index: sensito.Speed(index), Keep: keep})
				if err != nil {
					times.Missing++
					continue
				}
				// Of the metered tone on the film, less 4 stops, as Lit counts.
				placed := math.Log10(8.125/(16*index)) - d.Faint()
				darkest, lightest := lit.Ends()
				right := simulated.Bisect(0.2, 400, func(minutes float64) float64 {
					got := d.net(placed+lit.Above(p.AtIndex.Tone), minutes) - float64(p.AtIndex.Density)
					if keep == scene.KeepRange {
						got -= d.net(placed+darkest, minutes)
					}
					return got
				})
				if right > 399 {
					continue // never
				}
				one := &times
				if p.Extrapolated {
					one = &far
				} else {
					blind.Judge(&byForm[form], &p.Minutes, right, blind.InShare, math.NaN())
				}
				blind.Judge(one, &p.Minutes, right, blind.InShare, math.NaN())
				if p.Extrapolated {
					continue
				}
				minutes := float64(p.Minutes.Value)
				point := netCurve(func(x float64) float64 { return d.net(x, minutes) }).speedPoint()
				blind.Judge(&points, &p.AtIndex.SpeedPoint, (point-placed)/math.Log10(2)-4, blind.Apart, math.NaN())
				got := d.developed(r, minutes)
				blind.Judge(&ranges, p.Delivered, got(placed+lightest)-got(placed+darkest), blind.Apart, math.NaN())
				for _, stops := range []float64{-2, 0, 2} {
					blind.Judge(&tones, p.Tones[int(stops)-scene.LowestTone].NetDensity, got(placed+lit.Above(stops)), blind.Apart, math.NaN())
				}
			}
		}
		text := ""
		for k, form := range foreignForms {
			a := byForm[k]
			text += fmt.Sprintf("\n  %-34s n %3d bias %+.4f rms %.4f cover %.1f", form.name, a.N, a.Bias(), a.RMS(), 100*a.Coverage())
		}
		t.Logf("%s%s", keep, text)
		for _, q := range []struct {
			name string
			a    blind.Tally
		}{{"time", times}, {"time outside the tested ones", far}, {"speed point", points}, {"range delivered", ranges}, {"tones", tones}} {
			t.Logf("%-28s n %4d missing %3d bias %+.4f rms %.4f cover %.1f", q.name, q.a.N, q.a.Missing, q.a.Bias(), q.a.RMS(), 100*q.a.Coverage())
			allow := 2.5 * math.Sqrt(0.95*0.05/float64(min(films, q.a.N))) // the answers of a film miss together
			assert.GreaterOrEqual(t, q.a.Coverage(), math.Min(0.92, 0.95-allow), "%s, %s kept", q.name, keep)
		}
		assert.LessOrEqual(t, math.Abs(times.Bias()), 0.01, keep)
		assert.LessOrEqual(t, times.RMS(), 0.03, keep)
		assert.LessOrEqual(t, points.RMS(), 0.08, keep)
	}
}
