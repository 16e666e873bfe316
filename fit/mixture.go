package fit

import "math"

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
