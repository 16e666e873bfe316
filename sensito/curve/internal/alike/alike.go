// Package alike knows the errors that readings of all strips of a trial have alike: those
// of the steps of a wedge or a tablet that are what they are nominally, give or take.
//
// Begin with Of.
package alike

import (
	"math"
	"slices"

	vec "gonum.org/v1/gonum/floats"

	"sensito/fit/joint"
	"sensito/sensito"
)

// Kinds returns how many such errors a trial has of each kind, those of the wedge first,
// then those of the tablet; nil where it has none.
func Kinds(t *sensito.Trial) []int {
	out := []int{0, 0}
	if t.Exposures().WedgeSD() > 0 {
		out[0] = t.Exposures().Len()
	}
	if r := t.Reading(); r.TabletSD > 0 {
		out[1] = len(r.Tablet)
	}
	if out[0]+out[1] == 0 {
		return nil
	}
	return out
}

// Of returns what readings have of the errors of their trial: of steps, whose numbers are
// from 1, then of the base. It is nil where there are none. The densities are to be those
// of a curve and not the readings: of which step of a tablet a reading has most would else
// depend on its own error, and the fit would take that for an error of the step.
func Of(t *sensito.Trial, steps []int, density, base []float64) [][]joint.Alike {
	kinds, read := Kinds(t), t.Reading()
	if kinds == nil {
		return nil
	}
	var out [][]joint.Alike
	add := func(d float64, step int) {
		var of []joint.Alike
		if step > 0 && kinds[0] > 0 {
			of = append(of, joint.Alike{Error: step - 1, Along: float64(t.Exposures().WedgeSD())})
		}
		if kinds[1] > 0 {
			i, share := read.TabletShare(sensito.Density(d))
			sd := float64(read.TabletSD)
			of = append(of, joint.Alike{Error: kinds[0] + i, Up: sd * (1 - share)}, joint.Alike{Error: kinds[0] + i + 1, Up: sd * share})
		}
		out = append(out, of)
	}
	for i, d := range density {
		add(d, steps[i])
	}
	for _, d := range base {
		add(d, 0)
	}
	return out
}

// Variance returns what the errors of their trial add to the variance of the readings of a
// strip in the mean, by the slopes between them.
func Variance(t *sensito.Trial, steps []int, x, density []float64) float64 {
	sum, last := 0.0, len(x)-1
	for i, of := range Of(t, steps, density, nil) {
		a, b := max(i-1, 0), min(i+1, last)
		slope := 0.0
		if x[b] > x[a] {
			slope = (density[b] - density[a]) / (x[b] - x[a])
		}
		for _, e := range of {
			sum += math.Pow(e.Along*slope+e.Up, 2)
		}
	}
	return sum / math.Max(float64(len(x)), 1)
}

// Directions returns how the parameters of a least-squares fit move with each of so many
// errors, by its standard deviation: of has what the readings, of such slopes of the curve
// and of the variance, have of them, nothing where they were left out; root are the
// directions of the error of the parameters, and expected what the curve has for readings.
func Directions(of [][]joint.Alike, errors int, slopes, params []float64, root [][]float64, expected func(p []float64) []float64, variance float64) [][]float64 {
	out := make([][]float64, errors)
	for e := range out {
		out[e] = make([]float64, len(params))
	}
	for _, direction := range root {
		up, down := slices.Clone(params), slices.Clone(params)
		vec.AddScaled(up, 0.5, direction)
		vec.AddScaled(down, -0.5, direction)
		above, below := expected(up), expected(down)
		for i, shares := range of {
			for _, a := range shares {
				off := (a.Along*slopes[i] + a.Up) / variance
				vec.AddScaled(out[a.Error], off*(above[i]-below[i]), direction)
			}
		}
	}
	return out
}

// Scale multiplies the directions of an error.
func Scale(root [][]float64, by float64) {
	for _, direction := range root {
		vec.Scale(by, direction)
	}
}
