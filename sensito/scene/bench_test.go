package scene_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"sensito/sensito"
	"sensito/sensito/curve"
	"sensito/sensito/development"
	"sensito/sensito/internal/simulated"
	"sensito/sensito/scene"
	"sensito/sensito/testplan"
)

// What a trial costs by its number of strips: to measure them, and each answer with all
// that it rests on.
func BenchmarkStrips(b *testing.B) {
	asked := []struct {
		what   string
		answer func(f *development.Family) error
	}{
		{"scene", func(f *development.Family) error {
			_, err := scene.For(f, scene.Scene{Stops: 7})
			return err
		}},
		{"card", func(f *development.Family) error {
			_, err := scene.NewCard(f, scene.Scene{})
			return err
		}},
		{"roll", func(f *development.Family) error {
			_, err := scene.ForRoll(f, scene.Scene{}, sixFrames())
			return err
		}},
		{"plan", func(f *development.Family) error {
			_, err := testplan.Propose(f, scene.Scene{Stops: 7}, testplan.Options{})
			return err
		}},
	}
	for _, strips := range []int{1, 2, 5, 20, 50, 200} {
		r := rand.New(rand.NewPCG(3, 2))
		d, bench := simulated.Reaching.Developing(r, 1), simulated.Reaching.Bench(r)
		var specs []sensito.StripSpec
		for k := range strips {
			minutes := d.Minutes[0] * math.Pow(d.Minutes[4]/d.Minutes[0], float64(k)/math.Max(1, float64(strips-1)))
			s := bench.Read(r, d.At(minutes))
			s.Minutes = sensito.Minutes(minutes)
			specs = append(specs, s)
		}
		trial := bench.Trial(b, specs...)
		for _, apart := range []bool{false, true} {
			b.Run(fmt.Sprintf("measure/strips=%d/apart=%v", strips, apart), func(b *testing.B) {
				for b.Loop() {
					if _, err := curve.MeasureTrial(trial, curve.MeasureOptions{Apart: apart}); err != nil {
						b.Fatal(err)
					}
				}
			})
		}
		if strips == 1 {
			continue
		}
		for _, a := range asked {
			b.Run(fmt.Sprintf("%s/strips=%d", a.what, strips), func(b *testing.B) {
				for b.Loop() {
					f, err := development.NewFamily(trial, curve.MeasureOptions{})
					if err != nil {
						b.Fatal(err)
					}
					if err := a.answer(f); err != nil {
						b.Fatal(err)
					}
				}
			})
		}
	}
}
