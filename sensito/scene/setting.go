package scene

import (
	"fmt"
	"math"

	"sensito/sensito"
	"sensito/sensito/camera"
)

// Setting is how to set the camera for a metered scene.
type Setting struct {
	Shot     camera.Shot
	EV       sensito.Estimate[camera.EV] // as the meter would read it with its index set to the exposure index
	Aperture sensito.FNumber             // as marked on the lens
	Shutter  camera.Shutter              // the time and how it came about
}

// EV returns the exposure value to set: that of the spot reading, on its zone,
// at the exposure index. It is nil without spot readings or without an index, and
// for film that has been exposed.
func (p *Answer) EV() *sensito.Estimate[camera.EV] {
	m, ei := p.Scene.Metering, p.ExposureIndex
	if m == nil || ei == nil || p.AtIndex != nil && p.AtIndex.Exposed {
		return nil
	}
	return &sensito.Estimate[camera.EV]{Value: m.Exposure(ei.Value), StdErr: camera.EV(ei.StdErr / ei.Value / math.Ln2), DoF: ei.DoF}
}

// Setting returns the camera's setting for the scene. From the aperture it
// gives the time, lengthened for the factors and then for reciprocity failure
// as Family.Reciprocity says; from the time, the aperture. The error is
// Unanswerable without spot readings or an exposure index, where the
// reciprocity data do not reach, and where the time asks for an aperture that
// no lens has; it names a time outside its limits.
func (p *Answer) Setting(c camera.Shot) (*Setting, error) {
	ev := p.EV()
	if ev == nil {
		return nil, &sensito.Unanswerable{
			Reason: "an exposure needs spot readings of the scene and an exposure index",
			Hint:   "meter a shadow and a highlight, and take a trial whose exposures are known in lux seconds",
			Way:    sensito.SpotReadings,
		}
	}
	law, _ := p.Family.Reciprocity() // the family's warnings say why there is none
	s := &Setting{Shot: c, EV: *ev, Aperture: c.Aperture}
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
