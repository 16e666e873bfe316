package testplan

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito/internal/blind"
	"sensito/sensito/internal/simulated"
	"sensito/sensito/scene"
)

// What a strip is thought to help goes on with the time it is developed for, as it does
// where strips are developed: of no film does it leap where the law, fitted again for the
// profile, begins at once and the law of the strips does not, or where the degrees of freedom
// pass a whole number. Where development itself is found to begin at once, the interval may
// change by some per cent.
func TestHelpGoesOn(t *testing.T) {
	t.Parallel()
	foretold, begunAtOnce := 0, 0
	for i := range 24 * blind.Effort(t) {
		r := rand.New(rand.NewPCG(uint64(i), 11))
		film, bench := simulated.Reaching.Developing(r, i%len(simulated.ClassNames)), simulated.Reaching.Bench(r)
		tested := film.Minutes[:]
		if i%3 == 0 {
			tested = []float64{film.Minutes[0], film.Minutes[2], film.Minutes[4]}
		}
		d, err := newDesign(blind.FamilyAt(t, bench, r, film, tested...), scene.Scene{Stops: 7}, WantedMinutes)
		if err != nil || d.guessed {
			continue // the aim looks out of reach
		}
		if d.law.Induction == 0 {
			begunAtOnce++
		}
		var halves, grows []float64 // grows is by how much the logarithm does from one to the next
		for minutes := tested[0]; minutes < 2*tested[len(tested)-1] && d.serves(minutes); minutes += 0.25 {
			after, err := d.with(minutes).answer()
			require.NoError(t, err)
			half := HalfWidth(after, 0.95)
			if math.IsInf(half, 1) {
				break
			}
			if halves = append(halves, half); len(halves) > 1 {
				grows = append(grows, math.Log(half/halves[len(halves)-2]))
			}
		}
		for k := 1; k+1 < len(grows); k++ {
			assert.InDelta(t, (grows[k-1]+grows[k+1])/2, grows[k], 0.04, "film %d, %g min: %.4f after %.4f", i, tested[0]+0.25*float64(k+1), halves[k+1], halves[k])
			foretold++
		}
	}
	t.Logf("%d times of strips to come, %d films whose development begins at once", foretold, begunAtOnce)
	assert.Greater(t, foretold, 500)
	assert.Positive(t, begunAtOnce)
}
