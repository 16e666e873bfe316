package fit

import (
	"math"
	"slices"
)

// Each returns f of every value.
func Each(x []float64, f func(float64) float64) []float64 {
	out := make([]float64, len(x))
	for i, v := range x {
		out[i] = f(v)
	}
	return out
}

// Logs returns the natural logarithm of every value.
func Logs(x []float64) []float64 { return Each(x, math.Log) }

// Distinct returns the values in rising order, each once. The slice given is left
// as it is.
func Distinct(t []float64) []float64 {
	s := slices.Clone(t)
	slices.Sort(s)
	return slices.Compact(s)
}

// OrNaN returns a result as a plain number, NaN where there was an error.
func OrNaN[Q ~float64](q Q, err error) float64 {
	if err != nil {
		return math.NaN()
	}
	return float64(q)
}

// Median returns the middle of values, the mean of the two in the middle of an even
// number, 0 of none.
func Median(values []float64) float64 {
	if len(values) == 0 {
		return 0
	}
	v := slices.Sorted(slices.Values(values))
	return (v[(len(v)-1)/2] + v[len(v)/2]) / 2
}
