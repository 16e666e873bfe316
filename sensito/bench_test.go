package sensito_test

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/curve"
	"sensito/sensito/development"
	"sensito/sensito/scene"
)

func BenchmarkMeasure(b *testing.B) {
	for name, gamma := range map[string]film{
		"film=toe-line": modelFilm(0.65),
		"film=shoulder": {base: 0.12, layers: []layer{{shape: shouldered, amplitude: 0.65, at: -2.2, width: 0.13, span: 1.4, spanWidth: 0.25}}},
	} {
		b.Run(name+"/steps=21", func(b *testing.B) {
			e := contact(b, 21, false)
			strip := oneStrip(b, e, sensito.StripSpec{Minutes: 8, BaseFog: []sensito.Density{0.12}, Density: readings(rand.New(rand.NewPCG(8, 2)), e, gamma, 0.01)})
			b.ReportAllocs()
			for b.Loop() {
				_, err := curve.Measure(strip, curve.MeasureOptions{})
				require.NoError(b, err)
			}
		})
	}
}

func BenchmarkScene(b *testing.B) {
	trial := family(b, 4, 5.5, 7, 9, 12)
	b.Run("strips=5", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			f, err := development.NewFamily(trial, curve.MeasureOptions{})
			require.NoError(b, err)
			_, err = scene.For(f, scene.Scene{Stops: 7})
			require.NoError(b, err)
		}
	})
}
