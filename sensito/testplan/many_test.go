package testplan_test

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/curve"
	"sensito/sensito/development"
	"sensito/sensito/internal/simulated"
	"sensito/sensito/scene"
	"sensito/sensito/testplan"
)

// Of very many tested times some are tried again, from the shortest to the longest; of
// fewer all are.
func TestManyTimesTriedAgain(t *testing.T) {
	for _, c := range []struct{ strips, again int }{{12, 12}, {40, 40}, {60, 40}} {
		r := rand.New(rand.NewPCG(5, 7))
		d, bench := simulated.Reaching.Developing(r, 0), simulated.Reaching.Bench(r)
		var specs []sensito.StripSpec
		for k := range c.strips {
			minutes := 4 + 8*float64(k)/float64(c.strips-1)
			s := bench.Read(r, d.At(minutes))
			s.Minutes = sensito.Minutes(minutes)
			specs = append(specs, s)
		}
		f, err := development.NewFamily(bench.Trial(t, specs...), curve.MeasureOptions{})
		require.NoError(t, err)
		p, err := testplan.Propose(f, scene.Scene{Stops: 7}, testplan.Options{})
		require.NoError(t, err)
		again := map[sensito.Minutes]bool{}
		for _, candidate := range p.Candidates {
			if candidate.Again {
				again[candidate.Minutes] = true
			}
		}
		assert.Len(t, again, c.again, "%d strips", c.strips)
		assert.Contains(t, again, sensito.Minutes(4))
		assert.Contains(t, again, sensito.Minutes(12))
	}
}
