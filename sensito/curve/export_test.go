package curve

import (
	"sensito/fit"
	"sensito/sensito"
)

// Evaluations returns how many times a curve is evaluated at all readings of a strip of
// film until one is chosen.
func Evaluations(strip *sensito.Strip) int {
	var s fit.Solver
	r := newReadings(strip)
	r.bestBy(&s, false)
	return s.Evals
}
