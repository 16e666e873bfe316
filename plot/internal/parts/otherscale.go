package parts

import (
	"cmp"
	"slices"

	gplot "gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// OtherScale is a second scale of the horizontal axis, drawn along the top of the
// data: stops, zones, the steps of a wedge, degrees Fahrenheit.
type OtherScale struct {
	Label string
	Marks []gplot.Tick // by the values of the axis below
}

const (
	otherTick = vg.Length(3)
	otherGap  = vg.Length(2)
)

// Height returns what the scale takes above the data.
func (s OtherScale) Height() vg.Length {
	h := otherTick + otherGap + CapHeight*SmallSize
	if s.Label != "" {
		h += otherGap + SmallSize
	}
	return h
}

// Every returns of how many numbers so far apart one is written for them to stand
// clear of each other.
func Every(apart vg.Length) int {
	room := TextWidth(SmallSize, "-00")
	every := 1
	for _, e := range []int{2, 5, 10, 20, 50, 100} {
		if vg.Length(every)*apart < room {
			every = e
		}
	}
	return every
}

// Draw draws the scale above the data of a plot. Labels that would touch the one
// before are left out.
func (s OtherScale) Draw(c draw.Canvas, p *gplot.Plot) {
	x, _ := p.Transforms(&c)
	end := c.Min.X - 100
	base := c.Max.Y + otherTick + otherGap
	byValue := func(a, b gplot.Tick) int { return cmp.Compare(a.Value, b.Value) }
	for _, m := range slices.SortedFunc(slices.Values(s.Marks), byValue) {
		at := x(m.Value)
		if at < c.Min.X-0.01 || at > c.Max.X+0.01 {
			continue
		}
		c.StrokeLine2(Line(0.5, Ink), at, c.Max.Y, at, c.Max.Y+otherTick)
		half := TextWidth(SmallSize, m.Label) / 2
		if m.Label == "" || at-half < end+otherGap {
			continue
		}
		Write(c, SmallSize, Ink, Centred, vg.Point{X: at, Y: base}, m.Label)
		end = at + half
	}
	if s.Label != "" {
		Write(c, SmallSize, Ink, Centred, vg.Point{X: (c.Min.X + c.Max.X) / 2, Y: base + CapHeight*SmallSize + otherGap + 1}, s.Label)
	}
}
