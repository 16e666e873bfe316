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
