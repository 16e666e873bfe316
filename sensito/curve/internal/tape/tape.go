// Package tape keeps what a calculation reads of a curve, so that it can be made again
// from other values without the curve.
//
// Begin with Tape.Read.
package tape

import (
	"math"
	"slices"

	"sensito/sensito"
)

// Place is what was read, by the caller's number, and where.
type Place struct {
	What int
	At   sensito.LogExposure
}

// Tape is what a calculation reads. The zero value keeps what is read; once Replayed, it
// gives Values alone.
type Tape struct {
	Places []Place
	Values []float64 // by place

	// Elsewhere is set where a calculation made again reads something else than the
	// first time, or what cannot be kept.
	Elsewhere bool

	Still bool // places do not move

	slopes []float64 // of the values, by place
	order  []int     // of the places, as they are read
	known  bool
	next   int // in order
}

// near is how far a place may move between two calculations, in log H: much farther than a
// small change of the values moves one, so that the order of the places is held by it.
const near = 0.01

// Replay makes the tape give its values, from the first on.
func (t *Tape) Replay() { t.known, t.next = true, 0 }

// Read returns the value at a place: by the function, or what is kept, which follows the
// slope there where the place has moved a little. The slope is NaN where it is unknown.
func (t *Tape) Read(what int, at sensito.LogExposure, value func() (v, slope float64)) float64 {
	if t.known {
		if t.next < len(t.order) {
			i := t.order[t.next]
			if was := t.Places[i]; was.What == what {
				if was.At == at || math.IsNaN(float64(was.At)) && math.IsNaN(float64(at)) {
					t.next++
					return t.Values[i]
				}
				if off := float64(at.Sub(was.At)); !t.Still && math.Abs(off) <= near && !math.IsNaN(t.slopes[i]) {
					t.next++
					return t.Values[i] + off*t.slopes[i]
				}
			}
		}
		t.Elsewhere = true
		v, _ := value()
		return v
	}
	i := slices.Index(t.Places, Place{what, at})
	if i < 0 {
		i = len(t.Places)
		v, slope := value()
		t.Places, t.Values, t.slopes = append(t.Places, Place{what, at}), append(t.Values, v), append(t.slopes, slope)
	}
	t.order = append(t.order, i)
	return t.Values[i]
}
