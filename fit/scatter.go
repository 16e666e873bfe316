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
