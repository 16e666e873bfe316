package curve

import (
	"slices"

	"sensito/fit"
	"sensito/fit/joint"
	"sensito/sensito"
)

// Together is what the strips of a film share that are fitted together.
type Together struct {
	Directions int // of the error of each strip, its first ones, that are those of all
	Alike      int // the last of these, that all readings have in common

	// By chance strips that do share a shape differ as much with this probability;
	// where it is small, errors are Wider times what they would be.
	Chance, Wider float64
}

// sharedCurve is the curve of one of several strips that share a shape.
type sharedCurve struct {
	*joint.Curve
	along  []joint.Part // so far along directions of the error
	lo, hi sensito.LogExposure
}

func (c sharedCurve) at(x float64) (y, slope float64) { return c.AtSlope(x, c.along) }

func (c sharedCurve) Density(h sensito.LogExposure) sensito.Density {
	y, _ := c.at(float64(h))
	return sensito.Density(y)
}

func (c sharedCurve) Slope(h sensito.LogExposure) float64 {
	_, slope := c.at(float64(h))
	return slope
}

func (c sharedCurve) BaseFog() sensito.Density             { return sensito.Density(c.Base(c.along)) }
func (c sharedCurve) Domain() (lo, hi sensito.LogExposure) { return c.lo, c.hi }

func (c sharedCurve) LogExposure(d sensito.Density) (sensito.LogExposure, error) {
	return Inverse(c, c.at, d)
}

// propagate is fit.Propagate for the directions of the curve's error.
func (c sharedCurve) propagate(values []float64, g func(Curve) ([]float64, error)) (fit.Derived, error) {
	d := fit.Derived{Values: values, Moves: make([][]float64, c.Directions())}
	for k := range d.Moves {
		var err error
		if d.Moves[k], err = fit.Along(values, 1, func(by float64) ([]float64, error) {
			return g(sharedCurve{Curve: c.Curve, along: []joint.Part{{Direction: k, By: by}}, lo: c.lo, hi: c.hi})
		}); err != nil {
			return fit.Derived{}, err
		}
	}
	return d, nil
}

// derive is propagate for quantities that read the curve at places which do not depend
// on it: they follow from what was read, and that moves as the curve does there. ok is
// false where they cannot be had, or the places depend on the curve.
func (c sharedCurve) derive(g func(Curve) ([]float64, error)) (d fit.Derived, ok bool) {
	r := &readCurve{sharedCurve: c}
	var err error
	if d.Values, err = g(r); err != nil || r.elsewhere || len(r.of) > c.Directions() {
		return fit.Derived{}, false
	}
	r.known = true
	by := make([][]float64, len(r.of)) // the quantities, by each value read
	for i, v := range r.values {
		by[i], err = fit.Along(d.Values, 1, func(by float64) ([]float64, error) {
			r.values[i], r.next = v+by, 0
			return g(r)
		})
		if r.values[i] = v; err != nil || r.elsewhere {
			return fit.Derived{}, false
		}
	}
	back := make([]float64, c.Directions()*len(d.Values))
	d.Moves = make([][]float64, c.Directions())
	for k := range d.Moves {
		d.Moves[k], back = back[:len(d.Values):len(d.Values)], back[len(d.Values):]
	}
	for i, read := range r.of {
		c.Moves(float64(read.h), func(k int, y, slope float64) {
			move := y
			switch read.what {
			case readSlope:
				move = slope
			case readBase:
				move = c.Curve.Base([]joint.Part{{Direction: k, By: 1}}) - c.Curve.Base(nil)
			}
			for q, v := range by[i] {
				d.Moves[k][q] += v * move
			}
		})
	}
	return d, true
}

// readCurve is a curve that keeps what is read of it. Once that is known it gives those
// values alone.
type readCurve struct {
	sharedCurve
	of        []reading
	values    []float64
	order     []int // in which they are read
	known     bool
	next      int  // in order
	elsewhere bool // something else was read than what is known, or a place was asked for
}

// reading is what was read of a curve, and where.
type reading struct {
	what int
	h    sensito.LogExposure
}

const (
	readDensity = iota
	readSlope
	readBase
)

func (r *readCurve) read(what int, h sensito.LogExposure, value func() float64) float64 {
	this := reading{what, h}
	if r.known {
		if r.next >= len(r.order) || r.of[r.order[r.next]] != this {
			r.elsewhere = true
			return value()
		}
		r.next++
		return r.values[r.order[r.next-1]]
	}
	at := slices.Index(r.of, this)
	if at < 0 {
		at = len(r.of)
		r.of, r.values = append(r.of, this), append(r.values, value())
	}
	r.order = append(r.order, at)
	return r.values[at]
}

func (r *readCurve) Density(h sensito.LogExposure) sensito.Density {
	return sensito.Density(r.read(readDensity, h, func() float64 { return float64(r.sharedCurve.Density(h)) }))
}

func (r *readCurve) Slope(h sensito.LogExposure) float64 {
	return r.read(readSlope, h, func() float64 { return r.sharedCurve.Slope(h) })
}

func (r *readCurve) BaseFog() sensito.Density {
	return sensito.Density(r.read(readBase, 0, func() float64 { return float64(r.sharedCurve.BaseFog()) }))
}

func (r *readCurve) LogExposure(d sensito.Density) (sensito.LogExposure, error) {
	r.elsewhere = true
	return r.sharedCurve.LogExposure(d)
}
