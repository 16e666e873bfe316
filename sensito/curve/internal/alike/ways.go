package alike

import (
	"slices"

	"sensito/fit/joint"
	"sensito/sensito"
)

// Ways are what the readings of a strip are off alike, by the way in which they were read:
// in pictures by each of the calibrations of the trial, or by its densitometer. Directions
// are those of all ways, in one order for all strips, and nothing for strips of another way.
type Ways struct {
	calibrations []sensito.Calibration
	off          [][][3]float64 // of each calibration, then of the densitometer
	pictures     int            // directions of calibrations, before those of the densitometer
	all          int
}

// NewWays returns the ways in which strips of a trial were read.
func NewWays(t *sensito.Trial) Ways {
	w := Ways{calibrations: t.Calibrations()}
	for _, c := range w.calibrations {
		w.off = append(w.off, c.Directions())
		w.pictures += len(w.off[len(w.off)-1])
	}
	scale, offset := t.Reading().AlikeSD()
	var instrument [][3]float64
	if scale > 0 {
		instrument = append(instrument, [3]float64{1: scale})
	}
	if offset > 0 {
		instrument = append(instrument, [3]float64{float64(offset)})
	}
	if w.all = w.pictures + len(instrument); w.all > 0 {
		w.off = append(w.off, instrument)
	}
	return w
}

// Count returns how many directions come of pictures, the first, and how many there are.
func (w Ways) Count() (pictures, all int) { return w.pictures, w.all }

// wayOf returns the place of the way in which a strip was read.
func (w Ways) wayOf(s *sensito.Strip) int {
	c := s.Calibration()
	if c == nil {
		return len(w.calibrations)
	}
	return slices.Index(w.calibrations, *c)
}

// Off returns what the readings of a strip are off along each direction.
func (w Ways) Off(s *sensito.Strip) []joint.Off {
	of, at := w.wayOf(s), 0
	out := make([]joint.Off, w.all)
	for k, way := range w.off {
		for _, direction := range way {
			if k == of {
				out[at] = direction
			}
			at++
		}
	}
	return out
}

// Differ says whether strips were read in different ways, so that what they have in common
// tells how the errors of these differ. Of one way nothing is to be learned: a curve that is
// off as all of its readings are follows them as well.
func (w Ways) Differ(strips []*sensito.Strip) bool {
	return slices.ContainsFunc(strips, func(s *sensito.Strip) bool { return w.wayOf(s) != w.wayOf(strips[0]) })
}
