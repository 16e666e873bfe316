package sensito

import "sensito/sensito/internal/check"

// The limits of a coefficient that a photographer states.
const leastQ10, mostQ10 = 1.1, 6

// CheckQ10 notes a stated coefficient, or its standard deviation, outside its
// limits; nil is not stated.
func CheckQ10(f *check.Faults, prefix string, q10, sd *float64) {
	switch {
	case q10 == nil && sd != nil:
		f.Add(prefix+"q10_sd", "goes with q10, the coefficient it is of")
	case q10 != nil && !(*q10 >= leastQ10 && *q10 <= mostQ10):
		f.Add(prefix+"q10", "%g is outside %g to %g; it is the rate at 30 over that at 20 degrees C", *q10, leastQ10, float64(mostQ10))
	case sd != nil && !(*sd > 0 && *sd <= *q10/2):
		f.Add(prefix+"q10_sd", "%g is not above 0 and at most half of q10, %g", *sd, *q10/2)
	}
}
