package camera

import (
	"fmt"
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

// Setting is how to set the camera for a metered scene.
type Setting struct {
	Shot     Shot
	EV       sensito.Estimate[EV] // as the meter would read it with its index set to the exposure index
	Aperture sensito.FNumber      // as marked on the lens
	Shutter  Shutter              // the time and how it came about
}

// Setting returns the setting for an exposure value. From the aperture it gives the time,
// lengthened for the factors and then for reciprocity failure; from the time, the aperture.
// The error is Unanswerable where the reciprocity data do not reach, and where the time asks
// for an aperture that no lens has; it names a time outside its limits.
func (c Shot) Setting(ev sensito.Estimate[EV], law *Reciprocity) (*Setting, error) {
	s := &Setting{Shot: c, EV: ev, Aperture: c.Aperture}
	metered := ev.Value.Shutter(c.Aperture)
	var err error
	if c.Time != 0 {
		if metered, err = law.MeteredFor(c.Time, c.Factors()...); err != nil {
			return nil, err
		}
		s.Aperture = ev.Value.Aperture(metered)
		if s.Aperture < sensito.MinFNumber || s.Aperture > sensito.MaxFNumber {
			return nil, &sensito.Unanswerable{
				Reason: fmt.Sprintf("%v needs an aperture of %v", c.Time, s.Aperture),
				Hint:   "choose another time, or the aperture",
				Way:    sensito.OtherSetting,
			}
		}
	}
	if s.Shutter, err = law.Correct(metered, c.Factors()...); err != nil {
		return nil, err
	}
	return s, nil
}
