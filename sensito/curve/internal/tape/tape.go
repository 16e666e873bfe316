// Package tape keeps what a calculation reads of a curve, so that it can be made again
// from other values without the curve.
//
// Begin with Tape.Read.
package tape

import (
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

	order []int // of the places, as they are read
	known bool
	next  int // in order
}

// Replay makes the tape give its values, from the first on.
func (t *Tape) Replay() { t.known, t.next = true, 0 }

// Read returns the value at a place: by the function, or what is kept.
func (t *Tape) Read(what int, at sensito.LogExposure, value func() float64) float64 {
	this := Place{what, at}
	if t.known {
		if t.next >= len(t.order) || t.Places[t.order[t.next]] != this {
			t.Elsewhere = true
			return value()
		}
		t.next++
		return t.Values[t.order[t.next-1]]
	}
	i := slices.Index(t.Places, this)
	if i < 0 {
		i = len(t.Places)
		t.Places, t.Values = append(t.Places, this), append(t.Values, value())
	}
	t.order = append(t.order, i)
	return t.Values[i]
}
