package development

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"
)

// Of films without induction one in 140 is given one by chance: a parameter that
// cannot be negative gains 6 in half of the cases in which chi squared of one
// degree of freedom passes 6 (S. G. Self and K.-Y. Liang, J. Amer. Statist.
// Assoc. 82, 605, 1987, case 5, from memory). An induction of a minute is seen.
func TestInductionByChance(t *testing.T) {
	const runs = 6000
	chance := distuv.ChiSquared{K: 1}.Survival(6) / 2
	r := rand.New(rand.NewPCG(6, 1))
	for _, c := range []struct {
		name  string
		times []float64
		tens  []float64 // of degrees from the temperature of the trial; nil for all at it
	}{
		{"one temperature", []float64{4, 5.5, 7.5, 10, 14}, nil},
		{"two temperatures", []float64{4, 5.5, 6, 7.5, 10, 14}, []float64{0, 0, 0.3, 0, 0.3, 0}},
	} {
		t.Run(c.name, func(t *testing.T) {
			// develop returns strips of a film whose rate doubles with ten degrees.
			develop := func(induction, noise float64) (g, sd []float64) {
				for i, m := range c.times {
					if c.tens != nil {
						m *= math.Exp2(c.tens[i])
					}
					v := 0.95 * -math.Expm1(-0.15*(m-induction))
					g, sd = append(g, v*(1+noise*r.NormFloat64())), append(sd, 0.01*v)
				}
				return g, sd
			}
			law := func(g, sd []float64) Growth {
				out, err := FitGrowth(c.times, g, sd, "")
				if c.tens != nil {
					out, err = fitWarpedGrowth(c.times, g, sd, c.tens, "", math.Ln2)
				}
				require.NoError(t, err)
				return out
			}
			taken := 0
			for range runs {
				if law(develop(0, 0.01)).Model == FirstOrderInduction {
					taken++
				}
			}
			share := float64(taken) / runs
			t.Logf("induction taken in %.4f, by chance %.4f", share, chance)
			assert.InDelta(t, chance, share, 4*math.Sqrt(chance/runs))

			seen := law(develop(1, 0))
			assert.Equal(t, FirstOrderInduction, seen.Model)
			assert.InDelta(t, 1, seen.Induction, 1e-4)
		})
	}
}
