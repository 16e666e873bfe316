package fit

// Leverage tells how a fitted bend follows its readings, Y then Base, to first
// order about the fit.
type Leverage struct {
	Residuals []float64 // of the readings, in units of Sigma

	params    int
	jac, move []float64 // of a reading by the parameters, and of those by it; row by row
}

// Leverage returns that of the fit at its readings, nil where the covariance is
// unknown.
func (b BendFit) Leverage(d BendData) *Leverage {
	if b.Cov == nil {
		return nil
	}
	n, k := len(b.Params), len(d.X)+len(d.Base)
	all := make([]float64, b.M)
	l := &Leverage{params: n, jac: make([]float64, b.M*n), move: make([]float64, k*n)}
	d.residuals(b.Form, b.Params, all, l.jac)
	l.Residuals = all[:k]
	for a := range n {
		for c := range n {
			cov := b.Cov.At(a, c)
			for i := range k {
				l.move[i*n+a] += cov * l.jac[i*n+c]
			}
		}
	}
	return l
}

// Hat returns how much the fitted value of reading i follows reading j: the
// element of the hat matrix.
func (l *Leverage) Hat(i, j int) float64 {
	var h float64
	for a := range l.params {
		h += l.move[i*l.params+a] * l.jac[j*l.params+a]
	}
	return h
}

// Unfitted returns what is left of z, a change of the first readings in units of
// Sigma, after the curve has followed n of its values.
func (l *Leverage) Unfitted(z []float64, n int) []float64 {
	p := make([]float64, l.params)
	for i, v := range z[:n] {
		for a := range p {
			p[a] += l.move[i*l.params+a] * v
		}
	}
	rest := make([]float64, len(z))
	for i, v := range z {
		for a, by := range p {
			v -= l.jac[i*l.params+a] * by
		}
		rest[i] = v
	}
	return rest
}
