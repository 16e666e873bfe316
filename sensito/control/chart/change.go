package chart

import "math"

// Change is the way in which a process has most likely left its centre.
type Change struct {
	From    int     // the first value that has, from 0
	Level   float64 // distance from the centre at the last value
	LevelSD float64 // standard deviation of Level

	// Length is the days over which it drifted, so that Level over Length is its
	// rate; 0 for a step. RateSD is the standard deviation of that rate.
	Length, RateSD float64
}

// FindChange returns the step or the drift of greatest likelihood under normal
// errors of standard deviation sigma (Samuel, Pignatiello and Calvin, Quality
// Engineering 10, 521, 1998, for a step; Perry, Pignatiello and Simpson, Quality
// and Reliability Engineering International 22, 671, 2006, for a drift; from
// memory), of values that deviate from the centre by x on days, in order. Its
// error is the second moment about it of all steps and drifts by their
// likelihoods, since neither the shape nor the start of the change is known.
// It panics for no values.
func FindChange(days, x []float64, sigma float64) Change {
	all := candidates(days, x)
	best := all[0]
	for _, c := range all {
		if c.gain > best.gain {
			best = c
		}
	}
	var sum, level, driftSum, rate float64
	for _, c := range all {
		w := math.Exp((c.gain - best.gain) / (2 * sigma * sigma))
		sum += w
		level += w * (math.Pow(sigma*c.share, 2) + math.Pow(c.level-best.level, 2))
		if c.length > 0 && best.length > 0 {
			driftSum += w
			rate += w * (math.Pow(sigma*c.share/c.length, 2) + math.Pow(c.level/c.length-best.level/best.length, 2))
		}
	}
	out := Change{From: best.from, Level: best.level, LevelSD: math.Sqrt(level / sum), Length: best.length}
	if best.length > 0 {
		out.RateSD = math.Sqrt(rate / driftSum)
	}
	return out
}

// candidate is one way in which deviations from a centre may have changed.
type candidate struct {
	from   int     // the first of them that has
	level  float64 // at the end
	share  float64 // standard deviation of level in those of a deviation
	gain   float64 // by how much it lessens the sum of squares
	length float64 // days over which it drifted; 0 for a step
}

// driftDays is how many days with values a drift must have been seen on.
const driftDays = 3

// tail is the sums over the deviations x from one on, t days after it.
type tail struct {
	n, sum    float64
	t, tt, tx float64
	days      int // with values
}

// tails returns the tail from every deviation on, in one pass from the last back.
func tails(days, x []float64) []tail {
	out := make([]tail, len(x))
	s := tail{days: 1}
	for i := len(x) - 1; i >= 0; i-- {
		if i+1 < len(x) && days[i+1] != days[i] {
			by := days[i+1] - days[i]
			s.days++
			s.tt += by * (2*s.t + by*s.n)
			s.tx += by * s.sum
			s.t += by * s.n
		}
		s.n, s.sum = s.n+1, s.sum+x[i]
		out[i] = s
	}
	return out
}

// candidates returns every step and every drift from the centre that deviations
// x may show; a drift starts on the day before its first value.
func candidates(days, x []float64) []candidate {
	var out []candidate
	all := tails(days, x)
	for from, s := range all {
		n, m := s.n, s.sum/s.n
		out = append(out, candidate{from: from, level: m, share: 1 / math.Sqrt(n), gain: n * m * m})
		start := max(0, from-1)
		if s = all[start]; s.days <= driftDays {
			continue
		}
		length := days[len(days)-1] - days[start]
		out = append(out, candidate{from: from, level: s.tx / s.tt * length, share: length / math.Sqrt(s.tt), gain: s.tx * s.tx / s.tt, length: length})
	}
	return out
}
