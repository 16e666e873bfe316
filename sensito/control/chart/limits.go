package chart

import (
	"math"

	"gonum.org/v1/gonum/stat"
)

// Constants of the range of two normal values, in their standard deviations:
// its mean d2, its standard deviation d3, and the upper three-sigma limit of a
// range in mean ranges; the lower one is 0. Exact: d2 = 2/sqrt(pi) and
// d3 = sqrt(2 - 4/pi). Handbooks print 1.128, 0.853 and 3.267.
var (
	rangeD2 = 2 / math.Sqrt(math.Pi)
	rangeD3 = math.Sqrt(2 - 4/math.Pi)
	rangeD4 = 1 + 3*rangeD3/rangeD2
)

// Limits are the centre line of a control chart and its limits, in the
// unit of what is charted.
type Limits struct{ Lower, Center, Upper float64 }

// beyond says on which side of the limits v lies: 1 above, -1 below, 0 within
// or on them.
func (l Limits) beyond(v float64) int {
	switch {
	case v > l.Upper:
		return 1
	case v < l.Lower:
		return -1
	}
	return 0
}

// MovingRanges returns the differences of neighbours of x without their sign,
// one fewer than x; nil for fewer than two values.
func MovingRanges(x []float64) []float64 {
	var out []float64
	for i := 1; i < len(x); i++ {
		out = append(out, math.Abs(x[i]-x[i-1]))
	}
	return out
}

// RangeSigma returns the standard deviation that moving ranges of two stand
// for: their mean over d2 (NIST/SEMATECH e-Handbook of Statistical Methods,
// 6.3.2.2, where d2 is rounded to 1.128). Unlike the standard deviation of all
// values it is hardly moved by a slow drift. It is NaN for no ranges.
func RangeSigma(ranges []float64) float64 { return stat.Mean(ranges, nil) / rangeD2 }

// IndividualsLimits returns the limits of single values, three standard
// deviations on both sides of the centre (e-Handbook 6.3.2.2).
func IndividualsLimits(center, sigma float64) Limits {
	return Limits{center - 3*sigma, center, center + 3*sigma}
}

// MovingRangeLimits returns the limits of moving ranges of values with standard
// deviation sigma: 0, d2 sigma and D4 d2 sigma (e-Handbook 6.3.2.2).
func MovingRangeLimits(sigma float64) Limits {
	return Limits{0, rangeD2 * sigma, rangeD4 * rangeD2 * sigma}
}

// EWMA returns the exponentially weighted moving averages of x, which begin at
// start: z = lambda x + (1 - lambda) z (e-Handbook 6.3.2.4). It panics unless
// 0 < lambda <= 1.
func EWMA(x []float64, start, lambda float64) []float64 {
	if !(lambda > 0 && lambda <= 1) {
		panic("chart: weight of an EWMA outside (0, 1]")
	}
	out := make([]float64, len(x))
	z := start
	for i, v := range x {
		z = lambda*v + (1-lambda)*z
		out[i] = z
	}
	return out
}

// EWMALimits returns the limits of the nth average, counting from 1, which are
// width of its standard deviations on both sides of the centre; n = 0 stands
// for the limits that they settle at (e-Handbook 6.3.2.4, the latter; Lucas and
// Saccucci, Technometrics 32, 1, 1990).
func EWMALimits(center, sigma, lambda, width float64, n int) Limits {
	share := lambda / (2 - lambda)
	if n > 0 {
		share *= 1 - math.Pow(1-lambda, float64(2*n))
	}
	by := width * sigma * math.Sqrt(share)
	return Limits{center - by, center, center + by}
}

// CUSUM returns the sums of a tabular CUSUM about a target with the allowance
// k, in the unit of x: rising is max(0, rising + x - target - k), falling
// max(0, falling + target - k - x), both from 0 and never set back after a
// signal (e-Handbook 6.3.2.3).
func CUSUM(x []float64, target, k float64) (rising, falling []float64) {
	rising, falling = make([]float64, len(x)), make([]float64, len(x))
	var up, down float64
	for i, v := range x {
		up = math.Max(0, up+v-target-k)
		down = math.Max(0, down+target-k-v)
		rising[i], falling[i] = up, down
	}
	return rising, falling
}

// CUSUMSignal returns the first place at which a sum of CUSUM exceeds h, and
// the place after its last zero, where the change it shows began; both count
// from 1, and are 0 when no sum does. A Chart has all its signals; this is for a
// caller with sums of its own.
func CUSUMSignal(sums []float64, h float64) (index, since int) {
	rises := cusumRises(sums)
	for i, s := range sums {
		if s > h {
			return i + 1, rises[i] + 1
		}
	}
	return 0, 0
}

// cusumRises returns where the rise of each sum began.
func cusumRises(sums []float64) []int {
	out := make([]int, len(sums))
	for i := range sums {
		if out[i] = i; i > 0 && sums[i-1] > 0 {
			out[i] = out[i-1]
		}
	}
	return out
}
