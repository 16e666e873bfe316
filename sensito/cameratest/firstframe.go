package cameratest

import (
	"math"

	"sensito/sensito"
	"sensito/sensito/camera"
	"sensito/sensito/internal/check"
)

// FirstFrame is the faintest frame that the eye tells from the clear edge, of an even
// target that was photographed ever darker.
type FirstFrame struct {
	MeterIndex  sensito.Speed // that was set on the meter
	Stops       float64       // of that frame, from the metered exposure; negative is darker
	Step        float64       // stops from one frame to the next, of which the next darker one is not told
	ShadowStops float64       // below the metered tone, of the tone that the index lays on the speed point
}

// Check returns an error naming what is outside its limits.
func (t FirstFrame) Check() error {
	if err := camera.CheckMeterIndex(t.MeterIndex); err != nil {
		return err
	}
	var f check.Faults
	f.Within("first frame", t.Stops, -12, 0, " stops")
	f.Within("step from frame to frame", t.Step, 0.1, 2, " stops")
	f.Within("shadow stops", t.ShadowStops, 1, 10, "")
	return f.Err()
}

// What the eye tells, with an even light behind the film and the clear edge beside the
// frame: a net density between these (common practice, no source). On films of many forms
// net 0.10 then lies so many stops above, give or take (TestBlindFirstFrame).
const (
	SeenLow, SeenHigh sensito.NetDensity = 0.03, 0.10

	toSpeedPoint, toSpeedPointSD = 0.45, 0.30
)

// framesSD is how well shutter and diaphragm repeat from frame to frame, in stops (common
// practice, no source). What they and the meter have in common goes with the index.
const framesSD = 0.1

// IndexFound is an exposure index by a FirstFrame.
type IndexFound struct {
	Test          FirstFrame
	ExposureIndex sensito.Estimate[sensito.Speed]
	SpeedPoint    sensito.Estimate[float64] // stops from the metered exposure at net 0.10

	// Of the error, standard deviations in stops: what the eye tells and where net 0.10
	// lies above that, the step between frames, and how well these repeat.
	OfEye, OfStep, OfFrames float64
}

// IndexByFirstFrame returns the index that lays an even tone ShadowStops below the metered
// one on the speed point. What is just told lies between the frame that is seen and the
// next, half a step darker. The error names what is outside its limits.
func IndexByFirstFrame(t FirstFrame) (*IndexFound, error) {
	if err := t.Check(); err != nil {
		return nil, err
	}
	r := &IndexFound{Test: t, OfEye: toSpeedPointSD, OfStep: t.Step / math.Sqrt(12), OfFrames: framesSD}
	sd := math.Hypot(math.Hypot(r.OfEye, r.OfStep), r.OfFrames)
	point := t.Stops - t.Step/2 + toSpeedPoint
	r.SpeedPoint = sensito.Estimate[float64]{Value: point, StdErr: sd, DoF: math.Inf(1)}
	index := t.MeterIndex * sensito.Speed(math.Exp2(-point-t.ShadowStops))
	r.ExposureIndex = sensito.Estimate[sensito.Speed]{Value: index, StdErr: index * sensito.Speed(sd*math.Ln2), DoF: math.Inf(1), Log: true}
	return r, nil
}
