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

func Logs(x []float64) []float64 { return Each(x, math.Log) }

func Distinct(t []float64) []float64 {
	s := slices.Clone(t)
	slices.Sort(s)
	return slices.Compact(s)
}

func OrNaN[Q ~float64](q Q, err error) float64 {
	if err != nil {
		return math.NaN()
	}
	return float64(q)
}
