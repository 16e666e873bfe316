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
)

// What a trial costs by its number of strips: to measure them, and a scene with
// all that it rests on.
func BenchmarkStrips(b *testing.B) {
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
		b.Run(fmt.Sprintf("scene/strips=%d", strips), func(b *testing.B) {
			for b.Loop() {
				f, err := development.NewFamily(trial, curve.MeasureOptions{})
				if err != nil {
					b.Fatal(err)
				}
				if _, err := scene.For(f, scene.Scene{Stops: 7}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
