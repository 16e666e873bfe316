package development

import (
	"fmt"
	"math"
	"strings"

	"sensito/sensito"
	"sensito/sensito/curve"
)

// Where a frame ties exposures down: how far beyond the readings of a strip it may lie, and
// how well it must tell, as a standard deviation, in log H (common practice, no source).
const (
	frameReach          = 0.15
	frameSD             = 0.15
	frameLowest         = 0.02 // net density
	frameHint           = "expose a frame to a net density of 0.3 to 1.2, and develop it with a strip"
	stopsOf     float64 = 1 / float64(sensito.Stop)
)

// Tie returns a trial whose relative exposures are made absolute by its frame in the
// camera: the curves of strips developed as long tell at which relative exposure film gets
// the frame's density, and what the frame got is known from the meter. The error of that,
// of the frame's reading over the slope, of its own development and of the curve there,
// joins what all exposures share. A trial without a frame is returned as it is, one whose
// frame tells nothing too; the warnings say so, and how well the frame ties.
func Tie(t *sensito.Trial, o curve.MeasureOptions) (*sensito.Trial, sensito.Warnings) {
	e := t.Exposures()
	frame := e.Frame()
	if frame == nil || e.Absolute() {
		return t, nil
	}
	at, sd, err := placeOf(t, *frame, o)
	if err != nil {
		return t, sensito.Warnings{sensito.Warn("frame_not_used", err)}
	}
	got := e.Meter().LogExposure(frame.Index).Add(sensito.LogRange(frame.Stops) * sensito.Stop)
	spec := t.Spec()
	spec.Exposures = e.ShiftedTo(got.Sub(at), sd)
	tied, err := sensito.NewTrial(spec)
	if err != nil {
		return t, sensito.Warnings{sensito.Warn("frame_not_used", err)}
	}
	all := float64(tied.Exposures().CommonSD())
	return tied, sensito.Warnings{sensito.Warn("tied_by_frame", wordsOf(t, frame.Density), stopsOf*all)}
}

// wordsOf returns readings as they were read.
func wordsOf(t *sensito.Trial, read []sensito.Density) string {
	var out []string
	for _, v := range read {
		out = append(out, t.Reading().Words(t.Reading().Density(v)))
	}
	return strings.Join(out, " and ")
}

// placeOf returns the relative exposure at which film developed as the frame has its
// density, and what that is known to besides the speed point of the film.
func placeOf(t *sensito.Trial, frame sensito.Frame, o curve.MeasureOptions) (at sensito.LogExposure, sd sensito.LogRange, err error) {
	read := t.Reading()
	var densities []sensito.Density
	for _, v := range frame.Density {
		densities = append(densities, read.Density(v))
	}
	density, n := sensito.AverageDensity(densities), float64(len(densities))
	one := math.Hypot(float64(t.Repeatability())/math.Sqrt(n), math.Sqrt(read.RoundingVariance()))
	err = &sensito.Unanswerable{Reason: fmt.Sprintf("no strip of %s gives a curve", frame.Minutes.Clock(1)), Hint: frameHint}
	ms, _ := curve.MeasureStrips(t, o)
	var sum, squares, count float64
	for _, m := range ms {
		if m == nil || m.Fit.Root == nil || m.Strip.CopyOf() > 0 || math.Abs(float64(m.Strip.Minutes()-frame.Minutes)) > 1e-6 ||
			m.Strip.ExposedApart() || !sensito.SameProcess(m.Strip.Process(), t.Process()) {
			continue
		}
		// Counted from the base, so that what is off in all readings alike cancels.
		net := float64(density.Above(curve.BaseFog(m.Fit.Curve)))
		if net < frameLowest {
			return 0, 0, frameError(t, density, "lies on base plus fog")
		}
		place := func(c curve.Curve) (float64, error) {
			h, err := c.LogExposure(curve.BaseFog(c) + sensito.Density(net))
			return float64(h), err
		}
		const frameAt, fromSpeed = 0, 1
		d, failed := curve.DeriveAll(m.Fit, func(c curve.Curve) ([]float64, error) {
			h, err := place(c)
			if err != nil {
				return nil, err
			}
			point, err := curve.SpeedPoint(c)
			if err != nil {
				return []float64{h, math.NaN()}, nil
			}
			return []float64{h, h - float64(point)}, nil
		})
		lo, hi := m.Fit.Curve.Domain()
		if failed != nil || d.Values[frameAt] < float64(lo)-frameReach || d.Values[frameAt] > float64(hi)+frameReach {
			return 0, 0, frameError(t, density, "lies beyond what the steps of the strip show")
		}
		slope := m.Fit.Curve.Slope(sensito.LogExposure(d.Values[frameAt]))
		variance := (one*one + math.Pow(Scatter*net, 2)) / (slope * slope)
		// What moves speed point and place alike does not count twice.
		own := d.SD(frameAt)
		if m.SpeedPoint != nil && !math.IsNaN(d.SD(fromSpeed)) {
			own = math.Sqrt(math.Max(0, math.Pow(d.SD(fromSpeed), 2)-math.Pow(m.Derived.SD(curve.ColumnSpeedPoint), 2)))
		}
		sum, squares, count = sum+d.Values[frameAt], squares+variance+own*own, count+1
		err = nil
	}
	if err != nil {
		return 0, 0, err
	}
	if sd = sensito.LogRange(math.Sqrt(squares / count)); sd > frameSD {
		return 0, 0, frameError(t, density, fmt.Sprintf("lies where the film hardly answers: it tells its exposure to ±%.1f stops only", stopsOf*float64(sd)))
	}
	return sensito.LogExposure(sum / count), sd, nil
}

// frameError says why a frame ties nothing down.
func frameError(t *sensito.Trial, density sensito.Density, why string) error {
	return &sensito.Unanswerable{Reason: fmt.Sprintf("the frame in the camera, %s, %s", t.Reading().Words(density), why), Hint: frameHint}
}
