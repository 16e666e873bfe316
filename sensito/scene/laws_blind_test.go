package scene_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"

	"sensito/sensito/internal/blind"
	"sensito/sensito/internal/simulated"
	"sensito/sensito/scene"
)

// otherLaws are films of a round toe that grow by laws which are not first order, and how
// many of 100 times from two strips are covered at least: contrast that grows without end, as
// a power of time, lies farther off than what is known beforehand has it.
var otherLaws = []struct {
	foreignForm
	least float64
}{
	{foreignForm{"rate falls as 1/t", byLaw(func(r *rand.Rand, _ float64) func(minutes float64) float64 {
		k, begins := simulated.Between(r, 0.05, 0.6), simulated.Between(r, 0.6, 1.5)
		return func(minutes float64) float64 { return -math.Expm1(-k * math.Log(math.Max(minutes/begins, 1))) }
	})}, 94},
	{foreignForm{"power of time", byLaw(func(r *rand.Rand, _ float64) func(minutes float64) float64 {
		power := simulated.Between(r, 0.5, 0.8)
		return func(minutes float64) float64 { return math.Pow(minutes, power) }
	})}, 70},
	{foreignForm{"logistic in ln t", byLaw(func(r *rand.Rand, rate float64) func(minutes float64) float64 {
		power := simulated.Between(r, 1, 1.5)
		return func(minutes float64) float64 { q := math.Pow(1.4*rate*minutes, power); return q / (1 + q) }
	})}, 95},
}

func byLaw(law func(r *rand.Rand, rate float64) func(minutes float64) float64) func(r *rand.Rand, g, rate float64) grown {
	return func(r *rand.Rand, g, rate float64) grown {
		w, grows := simulated.Between(r, 0.12, 0.25), law(r, rate)
		return func(x, minutes float64) float64 { return g * grows(minutes) * ramp(x, w) }
	}
}

// Two strips tell a rate, and nothing of the law: what another law would have between them
// is in the error of the time, on both sides.
func TestBlindLaws(t *testing.T) {
	t.Parallel()
	for k, law := range otherLaws {
		names := []string{"time", "index", "delivered", "tone -3", "tone 0"}
		all := make([]blind.Tally, len(names))
		refused, n := 0, 150*blind.Effort(t)
		for i := range n {
			r := rand.New(rand.NewPCG(uint64(i), uint64(990+k)))
			d := newForeignOf(r, law.foreignForm, [2]float64{0.45, 0.75})
			d.minutes = []float64{d.minutes[0], d.minutes[4]}
			lit := simulated.Normally(7)
			repeatable := d
			repeatable.scatter = 0
			short := func(minutes float64) float64 { return repeatable.developed(r, minutes).spans(lit) - 1.05 }
			right := simulated.Bisect(d.minutes[0], d.minutes[1], short)
			p, err := scene.For(d.family(t, r), scene.Scene{Stops: 7})
			if err != nil {
				refused++
				continue
			}
			d.judge(r, p, all, lit, right, repeatable.developed(r, right).speedPoint())
		}
		for j, a := range all {
			t.Logf("%-18s %-10s n %d bias %+.4f rms %.4f covers %.1f", law.name, names[j], a.N, a.Bias(), a.RMS(), 100*a.Coverage())
		}
		assert.GreaterOrEqual(t, 100*all[0].Coverage(), law.least, "time, %s", law.name)
		assert.LessOrEqual(t, float64(refused), 0.05*float64(n), "refused, %s", law.name)
	}
}
