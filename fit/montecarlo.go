package fit

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strconv"

	"gonum.org/v1/gonum/stat/distuv"
)

// ErrUnsettled reports draws whose results have not settled to the tolerance
// asked for.
var ErrUnsettled = errors.New("not settled")

// Sample is the distribution of a quantity by draws of what it is computed from
// (JCGM 101:2008, Propagation of distributions using a Monte Carlo method).
type Sample struct {
	Mean, SD float64 // of the N draws with an answer (7.6)
	N        int
	Failed   int   // draws for which the model has no answer, apart from N
	Failure  error // the first of their errors; nil when none failed

	sorted []float64
}

// Propagate calls model the given number of times and returns what it answers.
// The numbers of model must come from its argument, a generator started from
// seed, and then the same seed gives the same sample. An error of model, or a
// value that is not finite, is a draw that failed: counted, and not in Mean, SD
// or the intervals, which hold on the condition that there is an answer. The
// error reports fewer than two draws with an answer, and wraps the first
// failure.
func Propagate(seed uint64, draws int, model func(r *rand.Rand) (float64, error)) (Sample, error) {
	var s Sample
	s.draw(generator(seed), draws, model)
	return s, s.finish()
}

// PropagateUntil draws in blocks until Mean, SD and the ends of Interval(level)
// are each known to NumericalTolerance of SD, by Student's 95 % half-width over
// the blocks (JCGM 101:2008, 7.9.4, which takes twice the standard deviation
// and with two or three blocks stops too soon). It never exceeds most draws: the
// error is then ErrUnsettled, and the sample is still returned. Other errors are
// those of Propagate. It panics unless 0 < level < 1.
func PropagateUntil(seed uint64, most, digits int, level float64, model func(r *rand.Rand) (float64, error)) (Sample, error) {
	checkLevel(level)
	block := max(10_000, int(math.Ceil(100/(1-level))))
	r := generator(seed)
	var all Sample
	var found [4][]float64
	for drawn := block; drawn <= most; drawn += block {
		var s Sample
		s.draw(r, block, model)
		if err := s.finish(); err != nil {
			return s, err
		}
		lo, hi := s.Interval(level)
		for i, v := range [4]float64{s.Mean, s.SD, lo, hi} {
			found[i] = append(found[i], v)
		}
		all.sorted = append(all.sorted, s.sorted...)
		all.Failed += s.Failed
		if all.Failure == nil {
			all.Failure = s.Failure
		}
		if all.settled(found, digits) {
			return all, all.finish()
		}
	}
	if err := all.finish(); err != nil {
		return all, err
	}
	return all, fmt.Errorf("%d draws: %w", all.N, ErrUnsettled)
}

// settled says whether the averages over the blocks are known well enough.
func (s *Sample) settled(found [4][]float64, digits int) bool {
	if len(found[0]) < 2 {
		return false
	}
	_, sd := moments(s.sorted)
	tolerance := NumericalTolerance(sd, digits)
	blocks := float64(len(found[0]))
	t := distuv.StudentsT{Sigma: 1, Nu: blocks - 1}.Quantile(0.975)
	for _, v := range found {
		if _, sd := moments(v); !(t*sd/math.Sqrt(blocks) <= tolerance) {
			return false
		}
	}
	return true
}

func generator(seed uint64) *rand.Rand { return rand.New(rand.NewPCG(seed, 0x9e3779b97f4a7c15)) }

func (s *Sample) draw(r *rand.Rand, draws int, model func(r *rand.Rand) (float64, error)) {
	s.sorted = slices.Grow(s.sorted, max(draws, 0))
	for range draws {
		v, err := model(r)
		if err == nil && (math.IsNaN(v) || math.IsInf(v, 0)) {
			err = fmt.Errorf("value %g is not finite", v)
		}
		if err == nil {
			s.sorted = append(s.sorted, v)
			continue
		}
		s.Failed++
		if s.Failure == nil {
			s.Failure = err
		}
	}
}

func (s *Sample) finish() error {
	s.N = len(s.sorted)
	slices.Sort(s.sorted)
	s.Mean, s.SD = moments(s.sorted)
	switch {
	case s.N >= 2:
		return nil
	case s.Failure != nil:
		return fmt.Errorf("%d of %d draws have an answer, 2 needed: %w", s.N, s.N+s.Failed, s.Failure)
	}
	return fmt.Errorf("%d draws, 2 needed", s.N)
}

// moments returns the mean and the standard deviation of v, NaN where there
// are too few values.
func moments(v []float64) (mean, sd float64) {
	n := float64(len(v))
	for _, x := range v {
		mean += x / n
	}
	var squares, rest float64 // rest is the rounding of the mean
	for _, x := range v {
		squares += (x - mean) * (x - mean)
		rest += x - mean
	}
	if n == 0 {
		return math.NaN(), math.NaN()
	}
	return mean + rest/n, math.Sqrt((squares - rest*rest/n) / (n - 1))
}

// Interval returns the probabilistically symmetric coverage interval at the
// level (JCGM 101:2008, 7.7.2): as much probability lies below it as above. It
// is NaN when the level needs more draws than there are; JCGM 101 asks for
// 10,000 divided by 1 - level (7.2.2). It panics unless 0 < level < 1.
func (s Sample) Interval(level float64) (lo, hi float64) {
	q := s.within(level)
	r := (s.N - q + 1) / 2 // (M-q)/2, or the integer part of (M-q+1)/2
	if r < 1 {
		return math.NaN(), math.NaN()
	}
	return s.sorted[r-1], s.sorted[r+q-1]
}

// Shortest returns the shortest coverage interval at the level (JCGM 101:2008,
// 5.3.4 and 7.7.4), the lowest of equally short ones, with NaN and panics as
// Interval.
func (s Sample) Shortest(level float64) (lo, hi float64) {
	q := s.within(level)
	if q >= s.N {
		return math.NaN(), math.NaN()
	}
	best := 0
	for r := range s.N - q {
		if s.sorted[r+q]-s.sorted[r] < s.sorted[best+q]-s.sorted[best] {
			best = r
		}
	}
	return s.sorted[best], s.sorted[best+q]
}

// within returns how many draws an interval at the level spans: pM, or the
// integer part of pM + 1/2.
func (s Sample) within(level float64) int {
	checkLevel(level)
	return int(level*float64(s.N) + 0.5)
}

func checkLevel(level float64) {
	if !(level > 0 && level < 1) {
		panic("fit: level outside (0, 1)")
	}
}

// NumericalTolerance returns half a unit in the last place of a standard
// uncertainty u that is stated with the given number of significant digits, one
// or two as a rule (JCGM 101:2008, 7.9.2). It is NaN for a u that is not
// positive and finite, and panics when digits is below one.
func NumericalTolerance(u float64, digits int) float64 {
	if digits < 1 {
		panic("fit: fewer than one significant digit")
	}
	if !(u > 0) || math.IsInf(u, 1) {
		return math.NaN()
	}
	// u = c 10^l, c an integer of that many digits; formatting rounds to it.
	text := strconv.FormatFloat(u, 'e', digits-1, 64)
	exponent, _ := strconv.Atoi(text[slices.Index([]byte(text), 'e')+1:])
	return 0.5 * math.Pow10(exponent-digits+1)
}
