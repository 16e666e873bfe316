package curve

import (
	"math"
	"slices"

	"sensito/fit"
	"sensito/fit/joint"
	"sensito/sensito"
	"sensito/sensito/curve/internal/alike"
	"sensito/sensito/curve/internal/tape"
)

// Origin says where an error that strips have in common comes from.
type Origin int

// The origins of common errors.
const (
	OfShape      Origin = iota // of the curve
	OfWedge                    // the steps of which are off on all strips alike
	OfPictures                 // of the calibrations that densities were told by
	OfInstrument               // that read the strips, and its scale
)

// originsOf returns the origins of so many directions of each kind of package alike.
func originsOf(kinds []int) []Origin {
	var out []Origin
	for kind, n := range kinds {
		of := OfInstrument
		switch kind {
		case 0:
			of = OfWedge
		case alike.OfPictures:
			of = OfPictures
		}
		out = append(out, slices.Repeat([]Origin{of}, n)...)
	}
	return out
}

// ofWays returns the origins of the directions of ways of reading.
func ofWays(pictures, all int) []Origin {
	return append(slices.Repeat([]Origin{OfPictures}, pictures), slices.Repeat([]Origin{OfInstrument}, all-pictures)...)
}

// Together is what the strips of a film share that are fitted together.
type Together struct {
	Of []Origin // of the directions of the error of each strip, its first ones, that are those of all

	// AsStated says that the last of these, of the ways of reading, are as the trial states
	// them, and the same for strips of the trial that are fitted apart.
	AsStated bool

	// By chance strips that do share a shape differ as much with this probability;
	// where it is small, errors are Wider times what they would be.
	Chance, Wider float64

	// Bases is how far those of the strips lie beside what their development explains, as a
	// root mean square.
	Bases   float64
	oneBase bool // since one strip has another base than the rest
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

// propagate is fit.Propagate for the directions of the curve's error. Most of what is
// computed reads the curve close to where it did before: then what was read is moved along
// a direction, and the curve is not asked again.
func (c sharedCurve) propagate(values []float64, g func(Curve) ([]float64, error)) (fit.Derived, error) {
	d := fit.Derived{Values: values, Moves: make([][]float64, c.Directions())}
	r := &readCurve{sharedCurve: c}
	_, err := g(r)
	kept := err == nil && !r.Elsewhere
	read, moves := slices.Clone(r.Values), c.moves(r.Places)
	for k := range d.Moves {
		if kept {
			d.Moves[k], err = fit.Along(values, 1, func(by float64) ([]float64, error) {
				for i, v := range read {
					r.Values[i] = v + by*moves[k][i]
				}
				r.Replay()
				return g(r)
			})
			if kept = !r.Elsewhere; kept && err != nil {
				return fit.Derived{}, err
			}
		}
		if kept {
			continue
		}
		if d.Moves[k], err = fit.Along(values, 1, func(by float64) ([]float64, error) {
			return g(sharedCurve{Curve: c.Curve, along: []joint.Part{{Direction: k, By: by}}, lo: c.lo, hi: c.hi})
		}); err != nil {
			return fit.Derived{}, err
		}
	}
	return d, nil
}

// moves returns how what was read of the curve moves along each direction of its error.
func (c sharedCurve) moves(read []tape.Place) [][]float64 {
	out := fit.NoMoves(c.Directions(), len(read))
	for i, p := range read {
		c.Moves(float64(p.At), func(k int, y, slope float64) {
			switch out[k][i] = y; p.What {
			case readSlope:
				out[k][i] = slope
			case readBase:
				out[k][i] = c.BaseMove(k)
			}
		})
	}
	return out
}

// derive is propagate for quantities that read the curve at places which do not depend
// on it: they follow from what was read, and that moves as the curve does there. ok is
// false where they cannot be had, or the places depend on the curve.
func (c sharedCurve) derive(g func(Curve) ([]float64, error)) (d fit.Derived, ok bool) {
	r := &readCurve{sharedCurve: c}
	var err error
	if d.Values, err = g(r); err != nil || r.Elsewhere || len(r.Places) > c.Directions() {
		return fit.Derived{}, false
	}
	r.Still = true
	by := make([][]float64, len(r.Places)) // the quantities, by each value read
	for i, v := range r.Values {
		by[i], err = fit.Along(d.Values, 1, func(by float64) ([]float64, error) {
			r.Values[i] = v + by
			r.Replay()
			return g(r)
		})
		if r.Values[i] = v; err != nil || r.Elsewhere {
			return fit.Derived{}, false
		}
	}
	d.Moves = fit.NoMoves(c.Directions(), len(d.Values))
	for k, moves := range c.moves(r.Places) {
		for i, move := range moves {
			for q, v := range by[i] {
				d.Moves[k][q] += v * move
			}
		}
	}
	return d, true
}

// readCurve is a curve of which what is read is kept.
type readCurve struct {
	sharedCurve
	tape.Tape
}

// What is read of a curve.
const (
	readDensity = iota
	readSlope
	readBase
)

func (r *readCurve) Density(h sensito.LogExposure) sensito.Density {
	return sensito.Density(r.Read(readDensity, h, func() (v, slope float64) { return r.at(float64(h)) }))
}

func (r *readCurve) Slope(h sensito.LogExposure) float64 {
	return r.Read(readSlope, h, func() (v, slope float64) { return r.sharedCurve.Slope(h), math.NaN() })
}

func (r *readCurve) BaseFog() sensito.Density {
	return sensito.Density(r.Read(readBase, 0, func() (v, slope float64) { return float64(r.sharedCurve.BaseFog()), math.NaN() }))
}

func (r *readCurve) LogExposure(d sensito.Density) (sensito.LogExposure, error) {
	r.Elsewhere = true
	return r.sharedCurve.LogExposure(d)
}
