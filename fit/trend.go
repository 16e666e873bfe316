package fit

import (
	"math"
	"slices"
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

	y     []float64   // the values
	by    [][]float64 // of each coefficient by each value
	given []float64   // what each has beside that; nil for nothing
	bends []float64   // by a standard deviation of a bend that is known beforehand; nil without
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

// TrendBent fits a quadratic whose bend, half of its second derivative, is known
// beforehand as bend with a standard deviation: few values hardly tell it, and a line
// would be wrong by it where they lie together. Two developments are enough. What is
// known counts as one more value. Standard deviations count as for FitTrend, but what the
// values tell of the bend is weighed by the variance that varianceOf has for their sum,
// each times a factor: errors that they share bend nothing. Where it has none, errors are
// each value's own.
func TrendBent(u, y, sd []float64, bend, bendSD float64, varianceOf func(by []float64) float64) Trend {
	p := trend(u, y, notBelowMedian(sd), 2, &knownBend{bend, bendSD, varianceOf})
	p.DoF++
	p.Chi2 += math.Pow((p.Coef[2]-bend)/bendSD, 2)
	p.Scatter = Scatter(p.Chi2, p.DoF)
	return p
}

// Bending returns the trend with a bend that is known beforehand so many standard
// deviations greater; any other trend stays.
func (p Trend) Bending(by float64) Trend {
	if p.bends == nil || by == 0 {
		return p
	}
	p.Coef = slices.Clone(p.Coef)
	for k, v := range p.bends {
		p.Coef[k] += by * v
	}
	return p
}

// LineAt returns what the straight line through values y at u, all of one weight,
// has at a place: their mean where u is the same for all.
func LineAt(u, y []float64, at float64) float64 {
	v := 0.0
	for j, w := range LineWeights(u, at) {
		v += w * y[j]
	}
	return v
}

// LineWeights returns what each value at u counts for what LineAt has at a place, which
// serves any values.
func LineWeights(u []float64, at float64) []float64 {
	ones := make([]float64, len(u))
	for j := range ones {
		ones[j] = 1
	}
	return TrendOfDegree(u, ones, ones, min(1, len(Distinct(u))-1)).ByValue(at)
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
// squares, by polynomials that are orthogonal at the developments (G. E. Forsythe,
// Journal of the Society for Industrial and Applied Mathematics 5, 74, 1957).
func TrendOfDegree(u, y, sd []float64, degree int) Trend {
	return trend(u, y, sd, degree, nil)
}

// knownBend is what is known beforehand of the coefficient of the square; see TrendBent.
type knownBend struct {
	bend, sd   float64
	varianceOf func(by []float64) float64
}

// trend is TrendOfDegree with what is known beforehand, nil for nothing.
func trend(u, y, sd []float64, degree int, known *knownBend) Trend {
	n := len(u)
	p := Trend{DoF: n - degree - 1}
	for _, v := range u {
		p.centre += v / float64(n)
	}
	var before, now []float64 // the last two polynomials, by their powers
	var sizeBefore float64
	now = []float64{1}
	for k := range degree + 1 {
		values, size, mean, power := make([]float64, n), 0.0, 0.0, 0.0
		for i := range u {
			x, w := u[i]-p.centre, 1/(sd[i]*sd[i])
			v := Trend{centre: p.centre, Coef: now}.At(u[i])
			size += w * v * v
			mean += w * v * v * x
			power += w * math.Pow(x, float64(2*k))
			values[i] = w * v
		}
		told := size > 1e-20*power
		share := 1.0                // of what the values tell in the coefficient
		if k == 2 && known != nil { // orthogonal to the others, it is that of the square
			if share = 0; told {
				share = known.share(values, size)
			}
			for _, c := range now {
				p.given = append(p.given, c*(1-share)*known.bend)
				p.bends = append(p.bends, c*(1-share)*known.sd)
			}
		} else if !told {
			panic("fit: trend of too high a degree for its developments")
		}
		p.by = append(p.by, make([]float64, n))
		for k, c := range now {
			for i, v := range values {
				if share > 0 {
					p.by[k][i] += share * c * v / size
				}
			}
		}
		next := make([]float64, len(now)+1)
		for k, c := range now {
			next[k+1] += c
			next[k] -= mean / size * c
		}
		for k, c := range before {
			next[k] -= size / sizeBefore * c
		}
		before, now, sizeBefore = now, next, size
	}
	p = p.Of(y)
	for i := range u {
		r := (y[i] - p.At(u[i])) / sd[i]
		p.Chi2 += r * r
	}
	p.Scatter = Scatter(p.Chi2, p.DoF)
	return p
}

// share returns what part the values have in the coefficient of the square, which is the
// sum of their products with those given by size.
func (b *knownBend) share(values []float64, size float64) float64 {
	variance := b.varianceOf(Each(values, func(v float64) float64 { return v / size }))
	if variance == 0 {
		variance = 1 / size
	}
	return b.sd * b.sd / (b.sd*b.sd + variance)
}

// Of returns the trend of other values at the same developments, with the same errors
// and the same scatter.
func (p Trend) Of(y []float64) Trend {
	p.y = y
	p.Coef = make([]float64, len(p.by))
	for k, by := range p.by {
		for i, v := range by {
			p.Coef[k] += v * y[i]
		}
	}
	for k, v := range p.given {
		p.Coef[k] += v
	}
	return p
}

// Values returns how many values the trend goes through.
func (p Trend) Values() int { return len(p.y) }

// With is Of for values that are other ones from the nth on: so many of them.
func (p Trend) With(n int, y []float64) Trend {
	p.Coef = slices.Clone(p.Coef)
	for k, by := range p.by {
		if by == nil {
			continue
		}
		for i, v := range y {
			p.Coef[k] += by[n+i] * (v - p.y[n+i])
		}
	}
	return p
}

// ByCoef returns the derivatives of the quantity at development u by the coefficients.
func (p Trend) ByCoef(u float64) []float64 {
	by := make([]float64, len(p.Coef))
	v := 1.0
	for k := range by {
		by[k] = v
		v *= u - p.centre
	}
	return by
}

// ByValue returns the derivatives of the quantity at development u by the values.
func (p Trend) ByValue(u float64) []float64 {
	out := make([]float64, len(p.y))
	for k, power := range p.ByCoef(u) {
		for i, v := range p.by[k] {
			out[i] += power * v
		}
	}
	return out
}

// Sloped returns a constant as a line with a slope that the values do not tell.
func (p Trend) Sloped(slope float64) Trend {
	p.given = []float64{0, slope}
	p.by = [][]float64{p.by[0], nil}
	p.Coef = []float64{p.Coef[0], slope}
	return p
}
