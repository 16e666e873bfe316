package scene_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"

	"sensito/fit/cputime"
	"sensito/sensito"
	"sensito/sensito/curve"
	"sensito/sensito/development"
	"sensito/sensito/internal/simulated"
	"sensito/sensito/scene"
	"sensito/sensito/testplan"
)

// costs are the answers whose cost is measured, each with all that it rests on.
var costs = []struct {
	what   string
	answer func(t *sensito.Trial) error
}{
	{"measure", func(t *sensito.Trial) error { return measured(t, false) }},
	{"apart", func(t *sensito.Trial) error { return measured(t, true) }},
	{"scene", ofFamily(func(f *development.Family) error {
		_, err := scene.For(f, scene.Scene{Stops: 7})
		return err
	})},
	{"card", ofFamily(func(f *development.Family) error {
		_, err := scene.NewCard(f, scene.Scene{})
		return err
	})},
	{"roll", ofFamily(func(f *development.Family) error {
		var frames []scene.Frame
		for i, stops := range []float64{7, 5, 6, 4, 6.5, 5.5} { // which strips under 21 steps of half a stop reach
			frames = append(frames, scene.Frame{Name: fmt.Sprintf("frame %d", i+1), Stops: stops})
		}
		_, err := scene.ForRoll(f, scene.Scene{}, frames)
		return err
	})},
	{"plan", ofFamily(func(f *development.Family) error {
		_, err := testplan.Propose(f, scene.Scene{Stops: 7}, testplan.Options{})
		return err
	})},
	{"sharp-plan", ofFamily(func(f *development.Family) error { // with the most strips to come
		_, err := testplan.Propose(f, scene.Scene{Stops: 7}, testplan.Options{Within: 0.002})
		return err
	})},
}

func measured(t *sensito.Trial, apart bool) error {
	_, err := curve.MeasureTrial(t, curve.MeasureOptions{Apart: apart})
	return err
}

func ofFamily(answer func(f *development.Family) error) func(t *sensito.Trial) error {
	return func(t *sensito.Trial) error {
		f, err := development.NewFamily(t, curve.MeasureOptions{})
		if err != nil {
			return err
		}
		return answer(f)
	}
}

// costlyTrial is of so many strips in so many steps over ten stops, developed for times
// that rise evenly in their logarithms.
func costlyTrial(t testing.TB, strips, steps int) *sensito.Trial {
	r := rand.New(rand.NewPCG(3, 2))
	d, bench := simulated.Reaching.Developing(r, 1), simulated.Reaching.Bench(r)
	bench.Step *= float64(bench.Steps-1) / float64(steps-1)
	bench.Steps = steps
	var specs []sensito.StripSpec
	for k := range strips {
		along := 0.5 // of the way from the shortest time to the longest
		if strips > 1 {
			along = float64(k) / float64(strips-1)
		}
		minutes := d.Minutes[0] * math.Pow(d.Minutes[4]/d.Minutes[0], along)
		s := bench.Read(r, d.At(minutes))
		s.Minutes = sensito.Minutes(minutes)
		specs = append(specs, s)
	}
	return bench.Trial(t, specs...)
}

// What a trial costs by its number of strips.
func BenchmarkStrips(b *testing.B) {
	for _, strips := range []int{1, 2, 5, 20, 50, 200} {
		trial := costlyTrial(b, strips, 21)
		for _, c := range costs {
			b.Run(fmt.Sprintf("%s/strips=%d", c.what, strips), func(b *testing.B) {
				cputime.Bench(b, func() error { return c.answer(trial) })
			})
		}
	}
}

// What a trial of five strips costs by the number of their steps.
func BenchmarkSteps(b *testing.B) {
	for _, steps := range []int{21, 84, 250, 1000} {
		trial := costlyTrial(b, 5, steps)
		for _, c := range costs {
			b.Run(fmt.Sprintf("%s/steps=%d", c.what, steps), func(b *testing.B) {
				cputime.Bench(b, func() error { return c.answer(trial) })
			})
		}
	}
}

// Four times the strips, or the steps, cost about four times as much, as BenchmarkStrips and
// BenchmarkSteps show; what grew with their square would cost sixteen times. The rest of the
// limit is for the noise of a busy machine.
func TestCostInProportion(t *testing.T) {
	if testing.Short() {
		t.Skip("takes some seconds")
	}
	const most = 8
	grows := func(what string, answer func(t *sensito.Trial) error, few, many *sensito.Trial) {
		cost := func(trial *sensito.Trial) float64 {
			return cputime.Least(t, 2, func() error { return answer(trial) }).Seconds()
		}
		assert.Less(t, cost(many)/cost(few), float64(most), "%s: cost of four times as much", what)
	}
	for _, c := range costs {
		if c.what != "apart" && c.what != "sharp-plan" { // are in measure and plan
			grows(c.what+" of strips", c.answer, costlyTrial(t, 20, 21), costlyTrial(t, 80, 21))
			grows(c.what+" of steps", c.answer, costlyTrial(t, 5, 84), costlyTrial(t, 5, 336))
		}
	}
}
