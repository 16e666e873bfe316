package sensito

import (
	"math"
	"slices"

	vec "gonum.org/v1/gonum/floats"
)

// The step of the differences in Derive, in standard errors and at most as a
// change of any value that is varied: small enough for the curve to be straight,
// even along a direction that the readings hardly tell, large enough to stand
// above rounding.
const varyBy, varyAtMost = 0.02, 2e-4

// derived are several quantities and how each moves along the independent
// directions of the error behind them, one standard deviation each.
type derived struct {
	values []float64
	moves  [][]float64 // moves[k][i]: change of quantity i along direction k
}

// cov returns the covariance of quantities i and j.
func (d derived) cov(i, j int) float64 {
	var s float64
	for _, m := range d.moves {
		s += m[i] * m[j]
	}
	return s
}

func (d derived) sd(i int) float64 { return math.Sqrt(d.cov(i, i)) }

// with returns the quantities of d followed by those of e, of the same fit.
func (d derived) with(e derived) derived {
	out := derived{values: slices.Concat(d.values, e.values)}
	for k := range d.moves {
		out.moves = append(out.moves, slices.Concat(d.moves[k], e.moves[k]))
	}
	return out
}

// widened returns the quantities with all errors multiplied.
func (d derived) widened(by float64) derived {
	out := derived{values: d.values}
	for _, m := range d.moves {
		move := make([]float64, len(m))
		for i, v := range m {
			move[i] = by * v
		}
		out.moves = append(out.moves, move)
	}
	return out
}

// differences returns how the values of g at center move along each of the
// directions. At the edge of what can be reached, where g fails or a value is
// NaN on one side, the other side alone counts.
func differences(center, values []float64, directions [][]float64, g func([]float64) ([]float64, error)) (derived, error) {
	d := derived{values: values, moves: make([][]float64, 0, len(directions))}
	p := make([]float64, len(center))
	at := func(direction []float64, by float64) ([]float64, error) {
		for i := range p {
			p[i] = center[i] + by*direction[i]
		}
		return g(p)
	}
	for _, direction := range directions {
		by := math.Min(varyBy, varyAtMost/vec.Norm(direction, math.Inf(1)))
		up, errUp := at(direction, by)
		down, errDown := at(direction, -by)
		if errUp != nil && errDown != nil {
			return derived{}, errUp
		}
		move := make([]float64, len(values))
		for i := range move {
			switch {
			case errDown != nil || errUp == nil && math.IsNaN(down[i]):
				move[i] = (up[i] - values[i]) / by
			case errUp != nil || math.IsNaN(up[i]):
				move[i] = (values[i] - down[i]) / by
			default:
				move[i] = (up[i] - down[i]) / (2 * by)
			}
		}
		d.moves = append(d.moves, move)
	}
	return d, nil
}

// sdBetween returns the standard deviation of the difference of two quantities.
func (d derived) sdBetween(i, j int) float64 {
	return math.Sqrt(math.Max(0, d.cov(i, i)+d.cov(j, j)-2*d.cov(i, j)))
}

// from returns the quantities from the nth on.
func (d derived) from(n int) derived {
	out := derived{values: d.values[n:]}
	for _, m := range d.moves {
		out.moves = append(out.moves, m[n:])
	}
	return out
}
