package camera

import (
	"slices"

	"sensito/sensito"
)

// Shot is what the photographer has settled on before an exposure is
// computed: the aperture or the time, and what stands in the way of the light.
type Shot struct {
	Aperture sensito.FNumber // 0 when Time is given
	Time     sensito.Seconds // 0 when Aperture is given
	Filters  []Factor
	Bellows  Factor // 0 without an extension worth counting
}

// Factors returns all that the exposure is multiplied by.
func (c Shot) Factors() []Factor {
	if c.Bellows == 0 {
		return c.Filters
	}
	return append(slices.Clone(c.Filters), c.Bellows)
}
