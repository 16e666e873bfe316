package fit

import (
	"math"

	"gonum.org/v1/gonum/blas/blas64"
)

// triangularise brings a, rows x cols and row-major with columns not much
// longer than 1, to upper triangular form by Householder reflections (Golub and
// Van Loan, Matrix Computations, algorithm 5.2.1), and applies them to b. Below
// the diagonal a is left without meaning. For matrices as small as a strip's it
// is several times as fast as the blocked routines of a library.
func triangularise(a []float64, rows, cols int, b, scratch []float64) {
	for k := range min(rows, cols) {
		length := norm(a[k*cols+k:], rows-k, cols)
		if length < 1e-150 { // its square would vanish
			continue
		}
		// The reflection v = x + sign(x_k)|x| e_k takes the column to -sign(x_k)|x|.
		head := a[k*cols+k]
		length = math.Copysign(length, head)
		a[k*cols+k] = head + length
		tau := 1 / (length * (length + head)) // 2 / v'v
		sums := scratch[:cols-k]              // v'a, and v'b in the place of column k
		clear(sums)
		for i := k; i < rows; i++ {
			row := a[i*cols+k : (i+1)*cols]
			v := row[0]
			sums[0] += v * b[i]
			for j := 1; j < len(row); j++ {
				sums[j] += v * row[j]
			}
		}
		for i := k; i < rows; i++ {
			row := a[i*cols+k : (i+1)*cols]
			v := tau * row[0]
			b[i] -= v * sums[0]
			for j := 1; j < len(row); j++ {
				row[j] -= v * sums[j]
			}
		}
		a[k*cols+k] = -length
	}
}

// leastPivot is the least share of a column, squared, that may stand out of those
// before it for the normal equations to be solved: they lose as many digits as that
// has, of sixteen.
const leastPivot = 1e-6

// normal stores the upper half of J'J in g, n x n, and J'r in by, of a Jacobian J,
// len(r) x n and row-major.
func normal(g, by, jac, r []float64) {
	n := len(by)
	clear(g)
	clear(by)
	for i, v := range r {
		row := jac[i*n : (i+1)*n]
		for a, x := range row {
			by[a] += x * v
			to := g[a*n : (a+1)*n]
			for b := a; b < len(row); b++ {
				to[b] += x * row[b]
			}
		}
	}
}

// cholesky replaces the upper half of a, n x n, by the triangle R with R'R = a (Golub
// and Van Loan, Matrix Computations, algorithm 4.2.1), and b by R'^-1 b. It reports
// whether all columns stand far enough out of those before them.
func cholesky(a, b []float64, n int) bool {
	for k := range n {
		row := a[k*n : (k+1)*n]
		whole := row[k]
		for l := range k {
			above := a[l*n : (l+1)*n]
			v := above[k]
			for j := k; j < n; j++ {
				row[j] -= v * above[j]
			}
			b[k] -= v * b[l]
		}
		if !(row[k] > leastPivot*whole) {
			return false
		}
		d := math.Sqrt(row[k])
		inv := 1 / d
		row[k] = d
		for j := k + 1; j < n; j++ {
			row[j] *= inv
		}
		b[k] *= inv
	}
	return true
}

// norm returns the Euclidean length of n values every inc apart: by plain sums,
// several times as fast as with guards against overflow, which take over where
// the sum leaves the range.
func norm(x []float64, n, inc int) float64 {
	var sum float64
	for i := range n {
		sum += x[i*inc] * x[i*inc]
	}
	if sum > 1e-280 && sum < 1e280 {
		return math.Sqrt(sum)
	}
	return blas64.Nrm2(blas64.Vector{N: n, Inc: inc, Data: x})
}

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
