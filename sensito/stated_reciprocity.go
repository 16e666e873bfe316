package sensito

import (
	"slices"

	"sensito/sensito/internal/check"
)

// StatedReciprocity is what a photographer states of a film's long exposures:
// pairs of times, or a law with its constant.
type StatedReciprocity struct {
	Pairs    []ReciprocityPair // 1 to 100, rising in both times; nil with a law
	Law      ReciprocityLaw    // "" with pairs
	Constant float64
}

// ReciprocityPair is a metered time and the time that the film needs instead.
type ReciprocityPair struct {
	Metered, Corrected Seconds
}

// ReciprocityLaw names a law of one constant by its key in a notebook.
type ReciprocityLaw string

const (
	PowerLaw         ReciprocityLaw = "exponent"        // see camera.NewReciprocityPower
	SchwarzschildLaw ReciprocityLaw = "schwarzschild_p" // see camera.NewReciprocitySchwarzschild
	AdditiveLaw      ReciprocityLaw = "extra_at_1_s"    // see camera.NewReciprocityAdditive
)

// The limits of what may be stated; LowestSchwarzschildP is that of the exponent.
const (
	minPairs, maxPairs                = 1, 100
	ShortestExposure, LongestExposure = Seconds(0.001), MaxSeconds // of a pair
	highestPowerExponent              = 2.0
	LowestSchwarzschildP              = 0.5
)

// Check returns an error that joins a FieldError for every fault, with keys such
// as "reciprocity.exponent" and "reciprocity[1].metered_s"; nil for nil.
func (s *StatedReciprocity) Check() error {
	var f check.Faults
	switch {
	case s == nil:
	case s.Law != "" && len(s.Pairs) > 0:
		f.Add("reciprocity", "a law, %s, does not go with pairs of times", s.Law)
	case s.Law == PowerLaw:
		f.Within("reciprocity.exponent", s.Constant, 1, highestPowerExponent, "")
	case s.Law == SchwarzschildLaw:
		f.Within("reciprocity.schwarzschild_p", s.Constant, LowestSchwarzschildP, 1, "")
	case s.Law == AdditiveLaw:
		f.Within("reciprocity.extra_at_1_s", s.Constant, 0, 10, " s")
	case s.Law != "":
		f.Add("reciprocity", "%q is not one of the laws", s.Law)
	default:
		checkPairs(&f, s.Pairs)
	}
	return f.Err()
}

// clone returns a copy that shares nothing, nil for nil.
func (s *StatedReciprocity) clone() *StatedReciprocity {
	if s == nil {
		return nil
	}
	c := *s
	c.Pairs = slices.Clone(s.Pairs)
	return &c
}

func checkPairs(f *check.Faults, pairs []ReciprocityPair) {
	if n := len(pairs); n < minPairs || n > maxPairs {
		f.Add("reciprocity", "%d pairs of times is outside %d to %d", n, minPairs, maxPairs)
		return
	}
	for i, p := range pairs {
		const metered, corrected = "metered_s", "corrected_s"
		at := check.Place{Table: "reciprocity", Number: i + 1}
		at.Within(f, metered, float64(p.Metered), float64(ShortestExposure), float64(LongestExposure), " s")
		at.Within(f, corrected, float64(p.Corrected), float64(ShortestExposure), float64(LongestExposure), " s")
		if p.Corrected < p.Metered {
			at.Add(f, corrected, "%g s is shorter than the metered %g s; no film needs less in dim light", float64(p.Corrected), float64(p.Metered))
		}
		if i == 0 {
			continue
		}
		if before := pairs[i-1].Metered; p.Metered <= before {
			at.Add(f, metered, "%g s after %g s; the times must rise from pair to pair", float64(p.Metered), float64(before))
		}
		if before := pairs[i-1].Corrected; p.Corrected <= before {
			at.Add(f, corrected, "%g s after %g s; the times must rise from pair to pair", float64(p.Corrected), float64(before))
		}
	}
}
