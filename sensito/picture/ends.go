package picture

import (
	"fmt"
	"math"

	"sensito/sensito"
)

// A Row asks for one row of steps in a picture: a strip or a tablet.
type Row struct {
	Ends    Ends    // marked by somebody, within some 0.3 of a step
	Steps   int     // between the ends
	PatchPx float64 // width that is read across, in pixels; 0 takes 60 % of what is found
}

// A Lattice is an even row of steps as it was found in a picture. Step 1 begins at the first of its ends.
type Lattice struct {
	Ends       Ends    // middles of the outer edges of the first and of the last step
	Across     Point   // direction of the edges between steps, of length 1
	Steps      int     // between the ends
	Width      float64 // pixels across, from side to side of the row
	PatchWidth float64 // pixels across that are read
	Edges      int     // how many of the Steps+1 edges were seen; the others lie where the lattice has them
	Spread     float64 // sd of the seen edges about the lattice, in steps
	Blur       float64 // sd of an edge in pixels, of the best half of those seen
}

// The limits of a row that can be read.
const (
	// fewestEdges is how many edges must be seen. Three or four fall on a lattice by chance (TestFewEdges).
	fewestEdges = 5
	// shortestStep in pixels: below it two edges are one (TestRefusedRows).
	shortestStep = 6
	// coarse is what lies between two values along a band, in steps, as long as its edges are looked for
	// (BenchmarkLargePicture).
	coarse = 0.012
	// mostMoved is how far, in steps, an end may lie from its mark: further off the number of steps is another
	// (TestWrongCount).
	mostMoved = 0.7
)

// Find returns where the steps of a row are, refined from the marks of its ends, with warnings: an edge one step beyond
// a mark, or a step at a mark that goes against the others. An error is Unanswerable where the picture does not have such a row, and says what to do; or it names a mark
// outside the picture.
func Find(im *Image, plane int, r Row) (*Lattice, sensito.Warnings, error) {
	if err := checkRow(im, plane, r); err != nil {
		return nil, nil, err
	}
	ras := of(im, plane)
	// First along the marks, in a narrow band; then along the sides that were found, in what is read.
	pitch := r.Ends.Last.minus(r.Ends.First).length() / float64(r.Steps)
	first := bandOf(ras, r.Ends, firstReach*pitch, beyondEnds*pitch, max(1, coarse*pitch)).place(0, r.Steps, true)
	along := first.along(r.Ends, r.Steps)
	s := sidesOf(ras, along, r.Steps)
	half := usedAcross / 2 * s.width
	if r.PatchPx > 0 {
		half = r.PatchPx / 2
	}
	pitch = s.ends.Last.minus(s.ends.First).length() / float64(r.Steps)
	lean := bandOf(ras, s.ends, half, beyondEnds*pitch, max(1, coarse*pitch)).sharpest(pitch)
	found := bandOf(ras, s.ends, half, beyondEnds*pitch, 1).place(lean, r.Steps, false)
	ends, width := found.along(s.ends, r.Steps), s.width
	f := frameOf(ends)
	l := &Lattice{Ends: ends, Steps: r.Steps, Width: width, PatchWidth: r.PatchPx, Edges: found.seen, Spread: found.spread,
		Blur: found.blur, Across: f.across.plus(f.along, lean).unit()}
	if r.PatchPx == 0 {
		l.PatchWidth = max(min(usedAcross*width, width-2*blurInset*l.Blur), (1-2*mostInset)*width)
	}
	if err := l.check(im, found, r.Ends); err != nil {
		return nil, nil, err
	}
	var warnings sensito.Warnings
	for i, mark := range []string{"first", "last"} {
		if found.beyond[i] {
			warnings = append(warnings, sensito.Warn("step_beyond_mark", mark, r.Steps))
		}
		if found.turned[i] {
			warnings = append(warnings, sensito.Warn("row_turns", []int{1, r.Steps}[i], mark))
		}
	}
	return l, warnings, nil
}

// along returns the ends of a lattice that lies along a line between others.
func (p *placed) along(e Ends, steps int) Ends {
	f := frameOf(e)
	return Ends{f.at(p.start, 0), f.at(p.start+float64(steps)*p.pitch, 0)}
}

// checkRow returns an error that names what no picture could have.
func checkRow(im *Image, plane int, r Row) error {
	switch {
	case plane < 0 || plane >= len(im.Planes):
		return fmt.Errorf("the picture has no channel %d", plane+1)
	case r.Steps < fewestEdges-1:
		return fmt.Errorf("%d steps are too few to be found: a row has %d or more", r.Steps, fewestEdges-1)
	case r.PatchPx < 0:
		return fmt.Errorf("a width of %g pixels is none", r.PatchPx)
	}
	for _, p := range []Point{r.Ends.First, r.Ends.Last} {
		if !im.within(p) {
			return outOfPicture("the mark at %.0f,%.0f", im, p)
		}
	}
	if pitch := r.Ends.Last.minus(r.Ends.First).length() / float64(r.Steps); !(pitch >= shortestStep) {
		return &sensito.Unanswerable{Reason: fmt.Sprintf("from mark to mark %d steps are %.1f pixels each, fewer than the %d that tell two edges apart", r.Steps, pitch, shortestStep),
			Hint: "mark the outer edges of the first and of the last step, or picture it at more pixels to the inch"}
	}
	return nil
}

// outOfPicture returns the error of a place outside the picture.
func outOfPicture(what string, im *Image, p Point) error {
	return fmt.Errorf(what+" is outside the picture, which is %d x %d pixels", p.X, p.Y, im.Width, im.Height)
}

// check returns why a lattice cannot be relied on, nil if it can.
func (l *Lattice) check(im *Image, found *placed, marks Ends) error {
	const mark = "mark the middles of the outer edges of the first and of the last step, and count the steps between them"
	if l.Edges < fewestEdges {
		return &sensito.Unanswerable{Reason: fmt.Sprintf("%d edges of steps are seen between the marks, and %d are needed", l.Edges, fewestEdges), Hint: mark}
	}
	if found.between > l.Edges/2 {
		return &sensito.Unanswerable{Reason: fmt.Sprintf("%d edges lie elsewhere than %d even steps have theirs", found.between, l.Steps), Hint: mark}
	}
	along := frameOf(l.Ends).along
	for i, off := range []Point{l.Ends.First.minus(marks.First), l.Ends.Last.minus(marks.Last)} {
		if d := math.Abs(off.X*along.X+off.Y*along.Y) / l.Pitch(); d > mostMoved {
			return &sensito.Unanswerable{Reason: fmt.Sprintf("%d steps as long as those seen end %.1f of a step from the %s mark", l.Steps, d, []string{"first", "last"}[i]), Hint: mark}
		}
	}
	for _, step := range []int{1, l.Steps} {
		for _, p := range l.PatchCorners(step) {
			if !im.within(p) {
				return outOfPicture(fmt.Sprintf("what is to be read of step %d, at %%.0f,%%.0f,", step), im, p)
			}
		}
	}
	return nil
}

// Corners returns the corners of a step, one after the other around it. A step below 1 or beyond the last is where the
// lattice would have it.
func (l *Lattice) Corners(step int) [4]Point {
	return l.corners(float64(step-1), float64(step), l.Width)
}

// PatchCorners returns the corners of what is read of a step: the middle of it, as far from its edges as their blur asks.
func (l *Lattice) PatchCorners(step int) [4]Point {
	pitch := l.Pitch()
	inset := min(max((1-patchShare)/2, blurInset*l.Blur/pitch), mostInset)
	return l.corners(float64(step-1)+inset, float64(step)-inset, l.PatchWidth)
}

// Pitch returns the length of a step in pixels.
func (l *Lattice) Pitch() float64 { return l.Ends.Last.minus(l.Ends.First).length() / float64(l.Steps) }

// corners returns the corners of what lies between two places along the row, in steps, about its middle.
func (l *Lattice) corners(from, to, width float64) [4]Point {
	return l.area(from, to, -width/2, width/2)
}

// area returns the corners of what lies between two places along the row, in steps, and two across it, in pixels from its middle.
func (l *Lattice) area(from, to, near, far float64) [4]Point {
	step := Point{}.plus(l.Ends.Last.minus(l.Ends.First), 1/float64(l.Steps))
	a, b := l.Ends.First.plus(step, from), l.Ends.First.plus(step, to)
	return [4]Point{a.plus(l.Across, near), b.plus(l.Across, near), b.plus(l.Across, far), a.plus(l.Across, far)}
}
