package smooth

import "math"

// band is the upper half of a symmetric matrix, element (i, i+j) at [i][j], with
// three rows of zeros after the last.
type band [][4]float64

// addSquare adds the square of a sum of coefficients, from i on, by their factors.
func (m band) addSquare(i int, by ...float64) {
	for c, v := range by {
		for l, w := range by[c:] {
			m[i+c][l] += v * w
		}
	}
}

// factor brings the first n rows to U'DU with a unit triangle U (Golub and Van Loan,
// Matrix Computations, section 4.3), D on the diagonal, and returns the logarithm
// of the determinant; ok is false where the matrix is not positive definite.
func (m band) factor(n int) (logDet float64, ok bool) {
	det := 1.0
	for i := range n {
		row, below := &m[i], m[i+1:i+4]
		d := row[0]
		if !(d > 0) {
			return 0, false
		}
		if det *= d; det > 1e100 || det < 1e-100 {
			logDet, det = logDet+math.Log(det), 1
		}
		inv := 1 / d
		a, b, c := row[1]*inv, row[2]*inv, row[3]*inv
		below[0][0] -= a * row[1]
		below[0][1] -= a * row[2]
		below[0][2] -= a * row[3]
		below[1][0] -= b * row[2]
		below[1][1] -= b * row[3]
		below[2][0] -= c * row[3]
		row[1], row[2], row[3] = a, b, c
	}
	return logDet + math.Log(det), true
}

// solve replaces the first n values of x, of which those before from are zero, by the
// solution from there on; three more values follow, which it makes zero.
func (m band) solve(x []float64, n, from int) {
	for i := from; i < n; i++ {
		v, row, next := x[i], &m[i], x[i+1:i+4]
		next[0] -= row[1] * v
		next[1] -= row[2] * v
		next[2] -= row[3] * v
	}
	clear(x[n : n+3])
	for i := n - 1; i >= from; i-- {
		row, next := &m[i], x[i+1:i+4]
		x[i] = x[i]/row[0] - row[1]*next[0] - row[2]*next[1] - row[3]*next[2]
	}
}
