package picture

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// farthest is more pixels than any picture has along a side.
const farthest = 1 << 20

// ParsePoint returns the place that a text such as 412,300 tells, in pixels. The error says what is
// wrong with the text.
func ParsePoint(text string) (Point, error) {
	x, y, ok := strings.Cut(text, ",")
	if p := (Point{}); ok {
		var okX, okY bool
		p.X, okX = coordinate(x)
		p.Y, okY = coordinate(y)
		if okX && okY {
			return p, nil
		}
	}
	return Point{}, fmt.Errorf("%q is not a place like 412,300, pixels from the left and from the top", text)
}

// coordinate reads pixels, which are counted from an edge of the picture.
func coordinate(text string) (float64, bool) {
	v, err := strconv.ParseFloat(strings.TrimSpace(text), 64)
	return v, err == nil && v >= 0 && v <= farthest // NaN fails
}

// ParseEnds returns the ends that a text such as 412,300:2890,318 tells: the first step comes first.
func ParseEnds(text string) (Ends, error) {
	first, last, ok := strings.Cut(text, ":")
	if !ok {
		return Ends{}, fmt.Errorf("%q is not two ends like 412,300:2890,318: the outer edge of the first step, and of the last", text)
	}
	var e Ends
	var err error
	if e.First, err = ParsePoint(first); err == nil {
		e.Last, err = ParsePoint(last)
	}
	if err == nil && e.Length() < 2 {
		err = fmt.Errorf("%q: the two ends are the same place", text)
	}
	return e, err
}

// String returns the place as ParsePoint reads it, to a tenth of a pixel.
func (p Point) String() string { return tenths(p.X) + "," + tenths(p.Y) }

func tenths(v float64) string { return strconv.FormatFloat(math.Round(v*10)/10+0, 'f', -1, 64) } // + 0: no -0

// String returns the ends as ParseEnds reads them.
func (e Ends) String() string { return e.First.String() + ":" + e.Last.String() }

// Length returns how far the ends are apart, in pixels.
func (e Ends) Length() float64 { return math.Hypot(e.Last.X-e.First.X, e.Last.Y-e.First.Y) }

// Middle returns the middle of a step, of so many between the ends. Those beyond either end, 0 and steps + 1, are
// where the next would be.
func (e Ends) Middle(step, steps int) Point {
	t := (float64(step) - 0.5) / float64(steps)
	return Point{e.First.X + t*(e.Last.X-e.First.X), e.First.Y + t*(e.Last.Y-e.First.Y)}
}

// SameRow says whether other ends are those of the same row, or of it from its other end: their middles lie closer than a
// tenth of its length.
func (e Ends) SameRow(other Ends) bool {
	a, b := e.Middle(1, 1), other.Middle(1, 1)
	return math.Hypot(a.X-b.X, a.Y-b.Y) < e.Length()/10
}

// mostSteps is more than any strip has.
const mostSteps = 200

// A Place is where something is read: a point, or a step counted on beyond either end of its row.
type Place struct {
	At     Point
	Step   int
	ByStep bool // Step counts, and At does not
}

// ParsePlace returns the place that a text such as 412,300 or step=22 tells.
func ParsePlace(text string) (Place, error) {
	if n, ok := strings.CutPrefix(text, "step="); ok {
		step, err := strconv.Atoi(n)
		if err != nil || step < 0 || step > mostSteps {
			return Place{}, fmt.Errorf("%q is not a step like step=22", text)
		}
		return Place{Step: step, ByStep: true}, nil
	}
	p, err := ParsePoint(text)
	if err != nil {
		return Place{}, fmt.Errorf("%w, nor a step like step=22", err)
	}
	return Place{At: p}, nil
}

// densest is the highest density that a densitometer reads.
const densest = 6

// ParseAnchor returns the step and the density of a densitometer that a text such as 21=0.11 tells.
func ParseAnchor(text string) (Anchor, error) {
	step, density, _ := strings.Cut(text, "=")
	n, errStep := strconv.Atoi(strings.TrimSpace(step))
	d, errDensity := strconv.ParseFloat(strings.TrimSpace(density), 64)
	if errStep != nil || errDensity != nil || n < 1 || n > mostSteps || !(d >= 0 && d <= densest) {
		return Anchor{}, fmt.Errorf("%q is not a step and its density like 21=0.11", text)
	}
	return Anchor{Step: n, Density: d}, nil
}
