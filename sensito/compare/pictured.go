package compare

import (
	"math"
	"slices"

	"sensito/sensito"
	"sensito/sensito/curve"
)

// The quantities that move with the calibrations of pictures: those of scene.Answer, and
// those of the form.
const (
	ofLnTime = iota
	ofSpeedPoint
	ofBaseFog
	ofForm
)

// moves returns how a quantity of the trial moves along each direction of the calibrations.
func (t *Compared) moves(quantity int) []float64 {
	from := t.Answer.Tested().Pictured
	if quantity >= ofForm {
		from, quantity = t.form, quantity-ofForm
	}
	out := make([]float64, len(from))
	for k, move := range from {
		if quantity < len(move) {
			out[k] = move[quantity]
		}
	}
	return out
}

// pictured returns the covariance of a quantity of two trials whose strips were read in
// pictures by the same calibrations: the same names and the same figures.
func (t *Compared) pictured(o *Compared, quantity int) float64 {
	if c := t.Family.Trial.Calibrations(); len(c) == 0 || !slices.Equal(c, o.Family.Trial.Calibrations()) {
		return 0
	}
	sum, a, b := 0.0, t.moves(quantity), o.moves(quantity)
	for k := range min(len(a), len(b)) {
		sum += a[k] * b[k]
	}
	if math.IsNaN(sum) {
		return 0
	}
	return sum
}

// lessPictured returns the difference of a quantity, times a factor, without what
// calibrations do to both trials alike.
func (t *Compared) lessPictured(o *Compared, e *sensito.Estimate[float64], quantity int, factor float64) *sensito.Estimate[float64] {
	if shared := factor * factor * t.pictured(o, quantity); e != nil && shared != 0 {
		e.StdErr = math.Sqrt(math.Max(e.StdErr*e.StdErr-2*shared, 0))
	}
	return e
}

// formMoves returns the moves of the form that come of calibrations, of strips whose
// directions have such numbers.
func formMoves(moves [][]float64, strips []*curve.Measured, numbers [][]int) [][]float64 {
	var of []int
	for j, m := range strips {
		from, origins := m.Fit.Shared()
		for k, origin := range origins {
			if at := numbers[j][from+k]; origin == curve.OfPictures && m.Fit.PicturesAsStated() && !slices.Contains(of, at) {
				of = append(of, at)
			}
		}
	}
	slices.Sort(of)
	var out [][]float64
	for _, at := range of {
		out = append(out, moves[at])
	}
	return out
}
