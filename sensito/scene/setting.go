package scene

import (
	"math"

	"sensito/sensito"
	"sensito/sensito/camera"
)

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

// Setting returns the camera's setting for the scene, lengthened for reciprocity failure as
// Family.Reciprocity says. The error is that of camera.Shot.Setting, and Unanswerable without
// spot readings or an exposure index.
func (p *Answer) Setting(c camera.Shot) (*camera.Setting, error) {
	ev := p.EV()
	if ev == nil {
		return nil, &sensito.Unanswerable{
			Reason: "an exposure needs spot readings of the scene and an exposure index",
			Hint:   "meter a shadow and a highlight, and take a trial whose exposures are known in lux seconds",
			Way:    sensito.SpotReadings,
		}
	}
	law, _ := p.Family.Reciprocity() // the family's warnings say why there is none
	return c.Setting(*ev, law)
}
