package fit

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// Trend is a quantity that changes slowly with development, such as the speed
// point or the fog: a polynomial in some measure of the development, of the
// lowest degree the strips ask for, never more than two.
type Trend struct {
	centre  float64   // where the powers count from 0
	Coef    []float64 // of the powers from 0 on
	Scatter float64   // see Scatter
	DoF     int       // values less coefficients
	Chi2    float64   // squares of the residuals in standard deviations
}

// At returns the quantity at development u.
func (p Trend) At(u float64) float64 {
	v := 0.0
	for i := len(p.Coef) - 1; i >= 0; i-- {
		v = v*(u-p.centre) + p.Coef[i]
	}
	return v
}

// FitTrend fits a trend to values y with standard deviations sd at
// developments u. The degree is chosen when it is negative: linear from two
// developments on, and quadratic from four on when that gains more than it
// costs and the curve does not turn between them.
//
// A standard deviation below the median counts as the median: a strip whose
// error is smaller by chance would weigh too much, and the chance goes with
// the value.
func FitTrend(u, y, sd []float64, degree int) Trend {
	sd = notBelowMedian(sd)
	times := len(Distinct(u))
	if degree >= 0 {
		return TrendOfDegree(u, y, sd, degree)
	}
	if times < 2 {
		return TrendOfDegree(u, y, sd, 0)
	}
	line := TrendOfDegree(u, y, sd, 1)
	if times < 4 {
		return line
	}
	curve := TrendOfDegree(u, y, sd, 2)
	if curve.Chi2+2 < line.Chi2 && !curve.turns(u) {
		return curve
	}
	return line
}

// LineAt returns what the straight line through values y at u, all of one weight,
// has at a place: their mean where u is the same for all.
func LineAt(u, y []float64, at float64) float64 {
	ones := make([]float64, len(y))
	for j := range ones {
		ones[j] = 1
	}
	return FitTrend(u, y, ones, min(1, len(Distinct(u))-1)).At(at)
}

func notBelowMedian(sd []float64) []float64 {
	sorted := slices.Sorted(slices.Values(sd))
	out := make([]float64, len(sd))
	for i, v := range sd {
		out[i] = math.Max(v, sorted[(len(sorted)-1)/2])
	}
	return out
}

// Degree returns the degree of the polynomial, as FitTrend takes it.
func (p Trend) Degree() int { return len(p.Coef) - 1 }

// turns says whether a quadratic has its extremum between the developments.
func (p Trend) turns(u []float64) bool {
	d := Distinct(u)
	top := p.centre - p.Coef[1]/(2*p.Coef[2])
	return top > d[0] && top < d[len(d)-1]
}

// TrendOfDegree fits the polynomial of the given degree by weighted linear least
// squares.
func TrendOfDegree(u, y, sd []float64, degree int) Trend {
	n := len(u)
	p := Trend{Coef: make([]float64, degree+1), DoF: n - degree - 1}
	for _, v := range u {
		p.centre += v / float64(n)
	}
	a, b := mat.NewDense(n, degree+1, nil), mat.NewVecDense(n, nil)
	for i := range u {
		w, v := 1/sd[i], 1.0
		for j := range degree + 1 {
			a.Set(i, j, w*v)
			v *= u[i] - p.centre
		}
		b.SetVec(i, w*y[i])
	}
	var coef mat.VecDense
	if err := coef.SolveVec(a, b); err != nil {
		panic("sensito: trend of too high a degree for its developments")
	}
	copy(p.Coef, coef.RawVector().Data)
	for i := range u {
		r := (y[i] - p.At(u[i])) / sd[i]
		p.Chi2 += r * r
	}
	p.Scatter = Scatter(p.Chi2, p.DoF)
	return p
}
