package lighttable

import (
	"math/rand/v2"

	"sensito/sensito"
	"sensito/sensito/internal/simulated"
)

// Strip returns the exact densities of a film's steps on a bench, in the order in which
// the bench reads them, and that of its base.
func Strip(b simulated.Bench, f simulated.Film) (steps []float64, base float64) {
	b.Reader = func(_ *rand.Rand, density float64) sensito.Density { return sensito.Density(density) }
	for _, d := range b.Read(nil, f).Density {
		steps = append(steps, float64(d))
	}
	return steps, f.Base
}
