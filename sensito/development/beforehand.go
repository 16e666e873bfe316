package development

import (
	"slices"

	"sensito/fit"
)

// Places of what is known beforehand only, in the row of that which Table.Beforehand adds
// to those of the strips.
const (
	beginsLater = iota // the induction
	runsFaster         // the rate, for one time
	bendsMore          // the law of the speed points, for several
	driftPlaces        // the first of Table.drifts, for one time
)

// beforehand returns how the values of g move with what is known beforehand only, by the
// standard deviation of each, at the given places.
func beforehand(rows [][]float64, places []int, values []float64, g func(rows [][]float64) ([]float64, error)) ([][]float64, error) {
	var moves [][]float64
	more := append(slices.Clone(rows), nil)
	for _, k := range places {
		move, err := fit.Along(values, 1, func(by float64) ([]float64, error) {
			before := make([]float64, slices.Max(places)+1)
			before[k] = by
			more[len(rows)] = before
			return g(more)
		})
		if err != nil {
			return nil, err
		}
		moves = append(moves, move)
	}
	return moves, nil
}

// before returns by how many standard deviations what is known beforehand only differs
// from what is expected, by the row behind those of so many strips; nil for as expected.
func before(rows [][]float64, strips int) []float64 {
	if len(rows) > strips {
		return rows[strips]
	}
	return nil
}

// drift is what is known of how a quantity changes with development, where strips of one
// time do not tell it.
type drift struct {
	column    int
	slope, sd float64 // by the measure of development of its trend
}

// Speed grows with contrast, and base plus fog with time (common practice, no source):
// the speed point by its logarithm, fog by a share of the time. TestBlindOneTime holds
// them.
const (
	pointDrift, pointDriftSD = -0.10, 0.20
	fogDrift, fogDriftSD     = 0.03, 0.04
)

// driftOf returns which of the drifts is that of a column, -1 where there is none.
func driftOf(drifts []drift, column int) int {
	return slices.IndexFunc(drifts, func(d drift) bool { return d.column == column })
}

// The speed point falls as the logarithm of contrast grows, but less and less: of a curve
// that grows as it is, by the square times 0.06 to 0.08 where a line begins in a round
// corner, and by none where the toe is an exponential; a toe that recedes by 0.1 log H as
// contrast comes to its limit takes 0.03 from that (arithmetic). Few strips hardly tell
// how much, and without it the index of films whose toe moves is too low. TestSpeedPointsBend
// holds them.
const pointBend, pointBendSD = 0.03, 0.08
