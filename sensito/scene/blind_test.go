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

// blindScenes answers scenes of six to eight stops, whose time lies among those
// tested, on n families of five strips, and holds coverage and refusals to
// their limits.
func blindScenes(t *testing.T, p simulated.Practice, n int) (times, indices []blind.Tallies) {
	stops := []float64{7, 6, 8}
	times, indices = make([]blind.Tallies, len(stops)), make([]blind.Tallies, len(stops))
	var said blind.Notes
	laws, refused := map[string]int{}, 0
	for i := range n {
		r := rand.New(rand.NewPCG(uint64(i), 2))
		class := i % len(simulated.ClassNames)
		d, b, family := blind.Family(t, p, r, class)
		laws[family.Model]++
		for _, m := range family.Strips {
			said.Add(class, m.Fit)
		}
		for k, n := range stops {
			minutes, index, ok := d.Right(b, n)
			if !ok {
				continue
			}
			answer, err := scene.For(family, scene.Scene{Stops: n})
			if err != nil {
				refused++
				t.Logf("family %d, %g stops, %.1f min of %v: %v", i, n, minutes, d.Minutes, err)
				blind.Score[sensito.Minutes](&times[k], class, nil, minutes, blind.InShare)
				continue
			}
			blind.Score(&times[k], class, &answer.Minutes, minutes, blind.InShare)
			blind.Score(&indices[k], class, answer.ExposureIndex, index, blind.InStops)
		}
	}
	text := blind.TallyHead
	for k, n := range stops {
		text += times[k].Table(fmt.Sprintf("time, %g stops", n)) + indices[k].Table(fmt.Sprintf("EI, %g stops", n))
	}
	t.Logf("\n%slaws of growth: %v; refused: %d\n%s", text, laws, refused, said.Table())
	// These films repeat exactly from one development to the next.
	blind.CheckCoverageUpTo(t, 1, "the time", &times[0], &times[1], &times[2])
	blind.CheckCoverage(t, "the exposure index", &indices[0], &indices[1], &indices[2])
	// A true time at the end of development can look out of reach.
	assert.LessOrEqual(t, float64(refused), 0.01*float64(n), "families with a scene refused though a tested time serves")
	said.CheckClean(t)
	return times, indices
}

// Families of ordinary practice. The limits are for a normal scene; shorter ones
// ask for times near the end of development, where the time is less certain
// and the intervals say so.
func TestBlindScenes(t *testing.T) {
	t.Parallel()
	times, indices := blindScenes(t, simulated.Reaching, 36*blind.Effort(t))
	assert.LessOrEqual(t, times[0].All().RMS(), 0.022, "rms relative error of the time")
	assert.LessOrEqual(t, indices[0].All().RMS(), 0.08, "rms error of the exposure index in stops")
}

func TestBlindCarelessScenes(t *testing.T) {
	t.Parallel()
	if testing.Short() {
		t.Skip("the ordinary families are enough for a short run")
	}
	blindScenes(t, simulated.Careless, 24*blind.Effort(t))
}

// BenchmarkSceneCoverage is the same for the answer of a scene of seven stops from
// a blind family of five strips.
func BenchmarkSceneCoverage(b *testing.B) {
	for class := range simulated.ClassNames {
		b.Run(fmt.Sprintf("film=%c/noise=%.3f/wedge=%dx%g", simulated.ClassNames[class], simulated.Usual.Noise, simulated.Usual.Steps, simulated.Usual.Step), func(b *testing.B) {
			var time, index blind.Tally
			for i := 0; b.Loop(); i++ {
				d, bench, family := blind.Family(b, simulated.Ordinary, rand.New(rand.NewPCG(uint64(i), 6)), class)
				minutes, ei, ok := d.Right(bench, 7)
				if !ok {
					continue
				}
				answer, err := scene.For(family, scene.Scene{Stops: 7})
				if err != nil {
					time.Missing++
					continue
				}
				blind.Judge(&time, &answer.Minutes, minutes, blind.InShare, math.NaN())
				blind.Judge(&index, answer.ExposureIndex, ei, blind.InStops, math.NaN())
			}
			b.ReportMetric(0, "ns/op")
			b.ReportMetric(100*time.Coverage(), "time-cover-%")
			b.ReportMetric(100*time.RMS(), "time-rms-%")
			b.ReportMetric(100*index.Coverage(), "EI-cover-%")
			b.ReportMetric(index.RMS(), "EI-rms-stops")
			b.ReportMetric(float64(time.Missing+index.Missing), "missing")
		})
	}
}
