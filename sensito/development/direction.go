package development

import (
	"sensito/fit"
	"sensito/sensito"
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
	OfWedge                      // the steps of which are off on all strips alike
	OfDensitometer               // in all readings alike
	OfPictures                   // the calibrations that densities were told by
	OfProcess                    // which repeats only so well
	OfLaw                        // of growth, as far as it is known beforehand only
	Sources                      // how many there are
)

// sourceOf returns where a direction of the error of a strip comes from.
func sourceOf(f *curve.Fit, direction int) Source {
	from, of := f.Shared()
	if direction < from || direction >= from+len(of) {
		return OfReadings
	}
	return map[curve.Origin]Source{curve.OfShape: OfShape, curve.OfWedge: OfWedge, curve.OfPictures: OfPictures, curve.OfInstrument: OfDensitometer}[of[direction-from]]
}

// Directions numbers the directions of the error of several strips, those once that
// strips have together.
type Directions struct {
	known map[any]int // where the shared ones begin
	count int
}

// Of returns the numbers of the directions of a strip whose fit has so many.
func (d *Directions) Of(m *curve.Measured, directions int) []int {
	out := make([]int, directions)
	var of any = m.Fit.Together
	from, origins := m.Fit.Shared()
	to := from + len(origins)
	if m.Fit.Together == nil && to > from { // strips apart have what is off alike in common
		of = m.Strip.Trial()
	}
	first := d.begin(of, to-from)
	pictures := first
	if n := picturesOf(origins); n > 0 && m.Fit.PicturesAsStated() {
		pictures = d.begin(pictured{m.Strip.Trial()}, n)
	}
	for k := range out {
		switch {
		case k < from || k >= to:
			out[k] = d.count
			d.count++
		case origins[k-from] == curve.OfPictures && m.Fit.PicturesAsStated():
			out[k] = pictures
			pictures++
		default:
			out[k] = first + k - from
		}
	}
	return out
}

// pictured stands for the calibrations of a trial, which strips have in common that are
// fitted together and apart.
type pictured struct{ trial *sensito.Trial }

func picturesOf(origins []curve.Origin) (n int) {
	for _, of := range origins {
		if of == curve.OfPictures {
			n++
		}
	}
	return n
}

// begin returns where the so many directions begin that strips have in common.
func (d *Directions) begin(of any, directions int) int {
	first, seen := d.known[of]
	if !seen {
		if d.known == nil {
			d.known = map[any]int{}
		}
		first = d.count
		d.known[of], d.count = first, d.count+directions
	}
	return first
}
