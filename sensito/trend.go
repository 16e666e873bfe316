package sensito

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// trend is a quantity that changes slowly with development time, such as the
// speed point or the fog: a polynomial in the logarithm of the time, of the
// lowest degree the strips ask for, never more than two.
type trend struct {
	centre  float64 // ln t at which the powers count from 0
	coef    []float64
	scatter float64 // root of chi squared per degree of freedom; 0 when there is none
	dof     int
}

func (p trend) at(t float64) float64 {
	u, v := math.Log(t)-p.centre, 0.0
	for i := len(p.coef) - 1; i >= 0; i-- {
		v = v*u + p.coef[i]
	}
	return v
}

// fitTrend fits a trend to values y with standard deviations sd at times t.
// The degree is chosen when it is negative: linear from two times on, and
// quadratic from four on when that gains more than it costs and the curve does
// not turn between the times.
func fitTrend(t, y, sd []float64, degree int) trend {
	times := len(distinct(t))
	if degree >= 0 {
		return trendOf(t, y, sd, degree)
	}
	if times < 2 {
		return trendOf(t, y, sd, 0)
	}
	line := trendOf(t, y, sd, 1)
	if times < 4 {
		return line
	}
	curve := trendOf(t, y, sd, 2)
	if curve.chi2()+2 < line.chi2() && !curve.turns(t) {
		return curve
	}
	return line
}

func (p trend) chi2() float64 { return p.scatter * p.scatter * float64(p.dof) }

func (p trend) degree() int { return len(p.coef) - 1 }

// turns says whether a quadratic has its extremum between the times.
func (p trend) turns(t []float64) bool {
	times := distinct(t)
	top := p.centre - p.coef[1]/(2*p.coef[2])
	return top > math.Log(times[0]) && top < math.Log(times[len(times)-1])
}

// trendOf fits the polynomial of the given degree by weighted linear least
// squares.
func trendOf(t, y, sd []float64, degree int) trend {
	n := len(t)
	p := trend{coef: make([]float64, degree+1), dof: n - degree - 1}
	for _, v := range t {
		p.centre += math.Log(v) / float64(n)
	}
	a, b := mat.NewDense(n, degree+1, nil), mat.NewVecDense(n, nil)
	for i := range t {
		w, v := 1/sd[i], 1.0
		for j := range degree + 1 {
			a.Set(i, j, w*v)
			v *= math.Log(t[i]) - p.centre
		}
		b.SetVec(i, w*y[i])
	}
	var coef mat.VecDense
	if err := coef.SolveVec(a, b); err != nil {
		panic("sensito: trend of too high a degree for its times")
	}
	copy(p.coef, coef.RawVector().Data)
	if p.dof > 0 {
		var chi2 float64
		for i := range t {
			r := (y[i] - p.at(t[i])) / sd[i]
			chi2 += r * r
		}
		p.scatter = math.Sqrt(chi2 / float64(p.dof))
	}
	return p
}
