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
	driftPlaces        // the first of Table.drifts, for one time
)

// beforehand returns how the values of g move with each of so many that are known
// beforehand only, by its standard deviation.
func beforehand(rows [][]float64, count int, values []float64, g func(rows [][]float64) ([]float64, error)) ([][]float64, error) {
	var moves [][]float64
	more := append(slices.Clone(rows), nil)
	for k := range count {
		move, err := fit.Along(values, 1, func(by float64) ([]float64, error) {
			before := make([]float64, count)
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
