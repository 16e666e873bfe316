package fit

import (
	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/mat"
)

// room is the memory of the vectors and the matrix of one solution of few parameters, in
// one piece: a strip takes some twenty fits, and memory in pieces costs more than a step.
type room struct {
	params [mostBendParams]float64
	held   [mostBendParams]bool
	sym    symRoom
}

// symRoom is that of a symmetric matrix.
type symRoom struct {
	matrix mat.SymDense
	data   [mostBendParams * mostBendParams]float64
}

// of returns the matrix, of zeros, for n parameters.
func (r *symRoom) of(n int) *mat.SymDense {
	r.matrix.SetRawSymmetric(blas64.Symmetric{N: n, Stride: n, Data: r.data[: n*n : n*n], Uplo: blas.Upper})
	return &r.matrix
}

// NewSym returns a symmetric matrix of zeros for n parameters, as mat.NewSymDense does.
func NewSym(n int) *mat.SymDense {
	if n > mostBendParams {
		return mat.NewSymDense(n, nil)
	}
	return new(symRoom).of(n)
}
