package development_test

import (
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"

	"sensito/sensito"
	"sensito/sensito/internal/blind"
	"sensito/sensito/internal/simulated"
)

// A strip that was developed for another time than its notebook says is named, and of
// strips that were not, hardly any.
func TestWronglyDeveloped(t *testing.T) {
	t.Parallel()
	named, wrong, right, n := 0, 0, 0, 36*blind.Effort(t)
	for i := range n {
		r := rand.New(rand.NewPCG(uint64(i), 61))
		d, b := simulated.Reaching.Developing(r, i%len(simulated.ClassNames)), simulated.Reaching.Bench(r)
		family := func(odd int) []sensito.Warning {
			var strips []sensito.StripSpec
			for k, minutes := range d.Minutes {
				film := d.At(minutes)
				if k == odd {
					film = d.At(1.4 * minutes)
				}
				s := b.Read(r, film)
				s.Minutes = sensito.Minutes(minutes)
				strips = append(strips, s)
			}
			return blind.FamilyOf(t, b.Trial(t, strips...).Spec()).Warnings
		}
		if slices.Contains(blind.Codes(family(-1)), "strip_off_law") {
			wrong++
		}
		for _, w := range family(2) {
			if w.Code == "strip_off_law" {
				named++
				if w.Strip == 3 {
					right++
				}
			}
		}
	}
	t.Logf("of %d trials: named %d, rightly %d; accused without reason %d", n, named, right, wrong)
	assert.GreaterOrEqual(t, right, 17*n/20)
	assert.LessOrEqual(t, named-right, n/20)
	assert.LessOrEqual(t, wrong, 1+n/200)
}
