package development

import (
	"sensito/fit"
	"sensito/sensito/curve"
)

// Direction is how the values of a table move along one direction of the errors of its
// strips, by a standard deviation.
type Direction struct {
	Of    Source
	First int         // the first strip that moves
	By    [][]float64 // the values of that strip and of those after it, 0 for the rest
}

// At returns how a value of a strip moves.
func (d Direction) At(j, column int) float64 {
	if j -= d.First; j >= 0 && j < len(d.By) {
		return d.By[j][column]
	}
	return 0
}

// Times returns the direction with all that moves multiplied.
func (d Direction) Times(by float64) Direction {
	out := Direction{Of: d.Of, First: d.First}
	for _, row := range d.By {
		out.By = append(out.By, fit.Each(row, func(v float64) float64 { return by * v }))
	}
	return out
}

// Source says where an error comes from.
type Source int

// The sources of the errors of a table, and of what Propagate adds to them.
const (
	OfReadings     Source = iota // of single strips
	OfShape                      // of the curve, which all strips share
	OfDensitometer               // in all readings alike
	OfProcess                    // which repeats only so well
	OfLaw                        // of growth, as far as it is known beforehand only
	Sources                      // how many there are
)

// sourceOf returns where a direction of the error of a strip comes from.
func sourceOf(with *curve.Together, direction int) Source {
	switch {
	case with == nil || direction >= with.Directions:
		return OfReadings
	case direction >= with.Directions-with.Alike:
		return OfDensitometer
	}
	return OfShape
}
