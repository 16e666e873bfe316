package fit

import (
	"math"

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
