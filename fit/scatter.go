package fit

import (
	"math"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
)

// scatterPrior is how many values' worth of agreement with their errors is
// expected beforehand of the scatter about a law. Without it, the scatter of
// three values about a line would be anything between none and ten times.
const scatterPrior = 3

// Scatter returns how many times more values scatter about a law than their
// errors explain, never less than 1: chi2 is the sum of their squared residuals,
// each over its standard deviation, and dof its degrees of freedom.
func Scatter(chi2 float64, dof int) float64 {
	return math.Max(1, math.Sqrt((chi2+scatterPrior)/float64(dof+scatterPrior)))
}

// ScatterDoF returns the degrees of freedom of what rests on values that scatter:
// those of the readings behind the values, or, where the scatter is what counts,
// those of the values about their law.
func ScatterDoF(scatter float64, dof int, readings float64) float64 {
	if scatter > 1 {
		return math.Min(readings, float64(dof+scatterPrior))
	}
	return readings
}

// TailProbability returns how often chi squared of dof degrees of freedom is
// greater than chi2; 1 without any.
func TailProbability(chi2, dof float64) float64 {
	if dof <= 0 {
		return 1
	}
	return distuv.ChiSquared{K: dof}.Survival(chi2)
}

// LnRestricted returns the logarithm of the restricted likelihood (D. A. Harville,
// J. Amer. Statist. Assoc. 72, 320, 1977, from memory) of values that scatter about a
// linear law by each of the extra variances beside their own, the constants of the law
// integrated out. off are the values less a law nearby, whose derivatives by the
// constants are the rows; known is the precision with which the constants are known
// beforehand to be as in that law, but for before. It panics when lengths differ.
func LnRestricted(rows [][]float64, off, own, known, before, extra []float64) []float64 {
	n := len(known)
	if len(off) != len(rows) || len(own) != len(rows) || len(before) != n {
		panic("fit: lengths of rows, values, variances and constants differ")
	}
	out := make([]float64, len(extra))
	for k, more := range extra {
		normal, pull := mat.NewSymDense(n, nil), mat.NewVecDense(n, nil)
		criterion := 0.0
		for i, q := range known {
			normal.SetSym(i, i, q)
			pull.SetVec(i, -q*before[i])
			criterion += q * before[i] * before[i]
		}
		for j, row := range rows {
			variance, x := own[j]+more, mat.NewVecDense(n, row)
			normal.SymRankOne(normal, 1/variance, x)
			pull.AddScaledVec(pull, off[j]/variance, x)
			criterion += math.Log(variance) + off[j]*off[j]/variance
		}
		var chol mat.Cholesky
		if !chol.Factorize(normal) {
			out[k] = math.Inf(-1)
			continue
		}
		var to mat.VecDense
		_ = chol.SolveVecTo(&to, pull) // a poor condition costs digits alone
		out[k] = -(criterion + chol.LogDet() - mat.Dot(&to, pull)) / 2
	}
	return out
}

// Normal is one of the normal distributions of a mixture, with its weight beside others.
type Normal struct{ Weight, SD float64 }

// Mixture is normal distributions about one mean, each of which may be the one that an
// error has. What is asked of it is NaN where no weight is positive, or a standard deviation
// is not.
type Mixture []Normal

// Half returns half the width of the interval about the mean that covers so large a
// share of the mixture, between 0 and 1.
func (m Mixture) Half(level float64) float64 {
	weights, least, most := 0.0, math.Inf(1), 0.0
	for _, n := range m {
		weights += n.Weight
		least, most = math.Min(least, n.SD), math.Max(most, n.SD)
	}
	if !(weights > 0 && least > 0) {
		return math.NaN()
	}
	beyond := func(half float64) float64 {
		sum := 0.0
		for _, n := range m {
			sum += n.Weight * math.Erfc(half/n.SD/math.Sqrt2)
		}
		return sum - (1-level)*weights
	}
	const digits = 1e-6
	z := StudentT(level, math.Inf(1))
	half, _ := Root(beyond, (1-digits)*z*least, (1+digits)*z*most, digits*least) // NaN where there is none
	return half
}

// Drawn returns the standard deviation of one of the distributions, drawn by their weights
// with a number that is even between 0 and 1.
func (m Mixture) Drawn(by float64) float64 {
	weights := 0.0
	for _, n := range m {
		weights += n.Weight
	}
	for _, n := range m {
		by -= n.Weight / weights
		if by < 0 {
			return n.SD
		}
	}
	return m[len(m)-1].SD
}

// Middle returns the geometric mean of the standard deviations, by their weights: as often
// the one that counts is less as it is greater, nearly.
func (m Mixture) Middle() float64 {
	var weights, sum float64
	for _, n := range m {
		weights += n.Weight
		sum += n.Weight * math.Log(n.SD)
	}
	return math.Exp(sum / weights)
}

// Where Student's t takes the place of a mixture, the intervals that it is mostly asked for
// are the same, and those that are asked for beyond them are as near as can be.
const usualShare, wideShare = 0.95, 0.99

// DoF returns the degrees of freedom at which the intervals of Student's t for 99 and 95 of
// 100 differ as those of the mixture; +Inf where they hardly differ more than those of a
// normal distribution, and 4 where the mixture would have fewer, which cannot be added to
// other errors by JCGM 100:2008, G.4.1.
func (m Mixture) DoF() float64 {
	wide := m.Half(wideShare) / m.Half(usualShare)
	more := func(dof float64) float64 { return StudentT(wideShare, dof)/StudentT(usualShare, dof) - wide }
	const fewest, asNormal = 4, 60
	if more(fewest) <= 0 {
		return fewest
	}
	dof, err := Root(more, fewest, asNormal, 1e-3)
	if err != nil {
		return math.Inf(1)
	}
	return dof
}

// Scale returns the scale of the Student's t of so many degrees of freedom that has the
// interval for 95 of 100 of the mixture.
func (m Mixture) Scale(dof float64) float64 { return m.Half(usualShare) / StudentT(usualShare, dof) }
