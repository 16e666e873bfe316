// Package alike knows the errors that readings of all strips of a trial have alike: those
// of the steps of a wedge or a tablet that are what they are nominally, give or take, of a
// scale that is read coarsely, and of the densitometer or the calibration of pictures that
// strips were read by.
//
// Begin with NewErrors, and NewWays for what is off by the way of reading.
package alike

import (
	"math"
	"slices"

	vec "gonum.org/v1/gonum/floats"

	"sensito/fit/joint"
	"sensito/sensito"
)

// The kinds of errors: of the steps of a wedge, of those of a tablet, of the marks of a
// scale so coarse that readings of one density are rounded alike, and, where strips were
// read in different ways, of the calibrations of pictures and of the densitometer.
const (
	ofWedge = iota
	ofTablet
	ofScale
	OfPictures
	ofInstrument
	kinds
)

// Errors are those that the readings of a trial have alike.
type Errors struct {
	count  [kinds]int
	wedge  float64 // standard deviations: of log H, and of densities
	scale  float64
	read   sensito.Reading
	lowest float64 // density of the first mark, a width of the scale apart
	ways   Ways
}

// least is the smallest standard deviation of a rounding that counts as one alike, in
// density: half of what a densitometer repeats to.
const least = 0.005

// NewErrors returns the errors of a trial.
func NewErrors(t *sensito.Trial) Errors {
	e := Errors{read: t.Reading(), wedge: float64(t.Exposures().WedgeSD())}
	if e.wedge > 0 {
		e.count[ofWedge] = t.Exposures().Len()
	}
	if e.read.TabletSD > 0 {
		e.count[ofTablet] = len(e.read.Tablet)
	}
	width := e.read.Width()
	if e.scale = roundedAlike(width, float64(t.Repeatability())); e.scale < least {
		e.scale = 0
		return e
	}
	lowest, highest := math.Inf(1), math.Inf(-1)
	for _, s := range t.Strips() {
		if s.Calibration() != nil { // read by no such scale
			continue
		}
		for _, step := range s.Steps() {
			if step.Read() {
				lowest, highest = math.Min(lowest, float64(step.Density)), math.Max(highest, float64(step.Density))
			}
		}
		for _, d := range s.BaseFog() {
			lowest, highest = math.Min(lowest, float64(d)), math.Max(highest, float64(d))
		}
	}
	if highest > lowest {
		e.lowest, e.count[ofScale] = lowest-width, int((highest-lowest)/width)+4
	}
	return e
}

// roundedAlike returns the standard deviation of what rounding does to all readings of one
// density alike, where they are rounded to a width and repeat to sd: the variance of the
// saw tooth of the error, each term of whose Fourier series the scatter of the readings
// makes smaller.
func roundedAlike(width, sd float64) float64 {
	variance := 0.0
	for k := 1.0; k <= 10; k++ {
		turn := 2 * math.Pi * k
		variance += 2 * math.Pow(width/turn, 2) * math.Exp(-math.Pow(turn*sd/width, 2))
	}
	return math.Sqrt(variance)
}

// ByDensity says whether the density of a reading decides which of the errors it has.
func (e Errors) ByDensity() bool { return e.count[ofTablet]+e.count[ofScale] > 0 }

// Count returns how many errors there are of each kind, and in all; nil where there are
// none. The first kind is that of the wedge.
func (e Errors) Count() (each []int, all int) {
	for _, n := range e.count {
		all += n
	}
	if all == 0 {
		return nil, 0
	}
	return e.count[:], all
}

// Among returns the errors with those of the ways in which strips were read, where these
// differ.
func (e Errors) Among(w Ways) Errors {
	e.ways = w
	e.count[OfPictures], e.count[ofInstrument] = w.pictures, w.all-w.pictures
	return e
}

// ReadingSD returns the standard deviation of one reading of a strip by itself, without
// these errors.
func (e Errors) ReadingSD(s *sensito.Strip) float64 {
	sd := float64(s.ReadingSD())
	if e.count[ofScale] == 0 || s.Calibration() != nil {
		return sd
	}
	return math.Sqrt(math.Pow(sd, 2) - e.scale*e.scale)
}

// Of returns what readings of a strip have of the errors: of steps, whose numbers are from
// 1, then of the base. It is nil where there are none. The densities are to be those of a curve and
// not the readings: of which step of a tablet a reading has most would else depend on its
// own error, and the fit would take that for an error of the step.
func (e Errors) Of(strip *sensito.Strip, steps []int, density, base []float64) [][]joint.Alike {
	if _, n := e.Count(); n == 0 {
		return nil
	}
	var out [][]joint.Alike
	var off []joint.Off
	if e.count[OfPictures]+e.count[ofInstrument] > 0 {
		off = e.ways.Off(strip)
	}
	pictured := strip.Calibration() != nil
	add := func(d float64, step int) {
		var of []joint.Alike
		begins := func(kind int) (at int) {
			for k := range kind {
				at += e.count[k]
			}
			return at
		}
		between := func(kind, i int, share, sd float64) {
			at := begins(kind) + i
			of = append(of, joint.Alike{Error: at, Up: sd * (1 - share)}, joint.Alike{Error: at + 1, Up: sd * share})
		}
		if step > 0 && e.count[ofWedge] > 0 {
			of = append(of, joint.Alike{Error: step - 1, Along: e.wedge})
		}
		if e.count[ofTablet] > 0 {
			i, share := e.read.TabletShare(sensito.Density(d))
			between(ofTablet, i, share, float64(e.read.TabletSD))
		}
		if n := e.count[ofScale]; n > 0 && !pictured {
			at := math.Min(math.Max((d-e.lowest)/e.read.Width(), 0), float64(n-1)-1e-9)
			// Between two marks the mean square of both shares is 2/3.
			between(ofScale, int(at), at-math.Floor(at), math.Sqrt(1.5)*e.scale)
		}
		for k, o := range off {
			if o != (joint.Off{}) {
				of = append(of, joint.Alike{Error: begins(OfPictures) + k, Up: o.Of(d)})
			}
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

// Variance returns what the errors add to the variance of the readings of a strip in the
// mean, by the slopes between them.
func (e Errors) Variance(strip *sensito.Strip, steps []int, x, density []float64) float64 {
	sum, last := 0.0, len(x)-1
	for i, of := range e.Of(strip, steps, density, nil) {
		a, b := max(i-1, 0), min(i+1, last)
		slope := 0.0
		if x[b] > x[a] {
			slope = (density[b] - density[a]) / (x[b] - x[a])
		}
		for _, a := range of {
			sum += math.Pow(a.Along*slope+a.Up, 2)
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
