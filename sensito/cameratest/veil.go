// Package cameratest tells what a few frames of a camera show beside the strips of a
// trial.
//
// Begin with MeasureVeil, which tells the flare of a camera by a black hollow, or
// IndexByFirstFrame, which tells an exposure index without any instrument.
package cameratest

import (
	"fmt"
	"math"

	"sensito/fit"
	"sensito/sensito"
	"sensito/sensito/curve"
	"sensito/sensito/development"
	"sensito/sensito/internal/check"
)

// VeilTest is the negative of a black hollow before a white field: a box lined
// with black velvet, its opening in the middle of a bright even surface that
// fills the frame. What light the hollow's image got is flare.
type VeilTest struct {
	Minutes       sensito.Minutes  // developed, at the temperature of the trial
	Hollow, Field sensito.Density  // gross
	BaseFog       *sensito.Density // read on the same film; nil takes that of the film's curve
}

// MeasuredVeil is the veil that a camera showed.
type MeasuredVeil struct {
	Test  VeilTest
	Veil  sensito.Estimate[float64]          // of the luminance of the field, for Flare.Value
	Ratio sensito.Estimate[sensito.LogRange] // log exposure of the field over that of the hollow

	Warnings sensito.Warnings
}

// Check returns an error naming what is outside its limits.
func (t VeilTest) Check() error {
	var f check.Faults
	f.Within("minutes", float64(t.Minutes), 0.05, 1440, " min")
	f.Within("density of the hollow", float64(t.Hollow), 0.01, float64(sensito.MaxReading), "")
	f.Within("density of the field", float64(t.Field), 0.01, float64(sensito.MaxReading), "")
	if t.BaseFog != nil {
		f.Within("base plus fog", float64(*t.BaseFog), 0, float64(sensito.MaxReading), "")
	}
	return f.Err()
}

// leastHollow is the net density that the hollow must have: in the foot of the
// toe a hundredth of density is too much of exposure.
const leastHollow sensito.NetDensity = 0.03

// MeasureVeil returns the veil of flare that a test with the camera shows,
// v = r / (1 - r) for the exposure r of the hollow over that of the field, both
// read off the film's curve at the time of development. Its error counts those
// of the two readings and of the curve. The error is Unanswerable for readings
// that the curve does not tell apart or does not reach, and says what to do.
func MeasureVeil(f *development.Family, t VeilTest) (*MeasuredVeil, error) {
	if err := t.Check(); err != nil {
		return nil, err
	}
	c, err := f.CurveAt(t.Minutes)
	if err != nil {
		return nil, err
	}
	fog := curve.BaseFog(c)
	if t.BaseFog != nil {
		fog = *t.BaseFog
	}
	hollow, field := t.Hollow.Above(fog), t.Field.Above(fog)
	switch {
	case !(field > hollow):
		return nil, &sensito.Unanswerable{Reason: fmt.Sprintf("the field, net %.2f, is no denser than the hollow, net %.2f", float64(field), float64(hollow)),
			Hint: "read both on the negative: the white field is its densest part"}
	case hollow < leastHollow:
		return nil, &sensito.Unanswerable{Reason: fmt.Sprintf("the hollow has net density %.2f, where the curve hardly tells its exposure", max(0, math.Round(100*float64(hollow))/100)),
			Hint: fmt.Sprintf("expose the test longer, so that the hollow comes to net %.2f or more; four stops above the meter's reading of the field is usual", 0.10)}
	}
	point, err := curve.SpeedPoint(c)
	if err != nil {
		return nil, err
	}
	var at [2]sensito.LogRange // of hollow and field, above the speed point
	for i, net := range []sensito.NetDensity{hollow, field} {
		h, err := c.LogExposure(net.Over(curve.BaseFog(c)))
		if _, end := c.Domain(); err != nil || h > end {
			return nil, &sensito.Unanswerable{Reason: fmt.Sprintf("net density %.2f is beyond the curve of %s", float64(net), t.Minutes.Clock(1)),
				Hint: "expose the test less, or expose strips further"}
		}
		at[i] = h.Sub(point)
	}
	m := &MeasuredVeil{Test: t, Warnings: append(sensito.Warnings{}, f.Warnings...)}
	if err := m.estimate(f, at); err != nil {
		return nil, err
	}
	if lo, hi := f.Times(); t.Minutes < lo || t.Minutes > hi {
		m.Warnings.Add("extrapolated/7", t.Minutes.Clock(1), lo.Clock(1), hi.Clock(1))
	}
	return m, nil
}

// estimate finds the veil and its error from where hollow and field lie above
// the speed point.
func (m *MeasuredVeil) estimate(f *development.Family, at [2]sensito.LogRange) error {
	const aside sensito.LogRange = 0.02
	var places []sensito.LogRange
	for _, x := range at {
		places = append(places, x-aside, x, x+aside)
	}
	d, err := f.Developed(f.Growth, places)
	if err != nil {
		return err
	}
	inflate := map[int]float64{}
	for i := range places {
		inflate[d.Column(i)] = f.Growth.Scatter
	}
	nets, err := d.Table.Propagate(inflate, func(rows [][]float64) ([]float64, error) {
		out := make([]float64, len(places))
		for i := range out {
			out[i] = d.Net(rows, i, float64(m.Test.Minutes))
		}
		return out, nil
	})
	if err != nil {
		return err
	}
	v := nets.Values
	hollow, field := (v[2]-v[0])/float64(2*aside), (v[5]-v[3])/float64(2*aside) // slopes
	if !(hollow > 0 && field > 0) {
		return &sensito.Unanswerable{Reason: "the curve is level where the test was exposed", Hint: "expose the test so that hollow and field lie on the curve"}
	}
	reading := float64(f.Trial.ReadingSD())
	variance := 0.0 // of the curve
	for _, move := range nets.Moves {
		d := move[4]/field - move[1]/hollow // more density there is less exposure for a reading
		variance += d * d
	}
	sd, dof := fit.Joined(math.Sqrt(variance), f.Growth.Behind(d.Table.DoF), math.Hypot(reading/hollow, reading/field), d.Table.DoF)
	m.Ratio = sensito.Estimate[sensito.LogRange]{Value: at[1] - at[0], StdErr: sensito.LogRange(sd), DoF: dof}
	r := math.Pow(10, -float64(m.Ratio.Value))
	veil := r / (1 - r)
	m.Veil = sensito.Estimate[float64]{Value: veil, StdErr: veil * math.Ln10 * float64(m.Ratio.StdErr) / (1 - r), DoF: dof, Log: true}
	if veil > 0.5 {
		m.Warnings.Add("veil_large", veil)
	}
	return nil
}
