package plot

import (
	"math"
	"sensito/plot/internal/parts"
	"slices"
	"strings"

	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// What stands around the quadrants.
const (
	toneTick  = vg.Length(4)
	toneTitle = vg.Length(1.5 * parts.BodySize)                          // the name of an axis
	toneSide  = toneTick + 2 + toneTitle + vg.Length(2.3*parts.BodySize) // and its numbers, on the left
	toneBelow = toneTick + 2 + toneTitle + parts.BodySize
	toneAbove = toneBelow + 0.8*parts.BodySize // apart from the heading
	toneRight = vg.Length(2 * parts.SmallSize)

	leastToneUnit = vg.Length(28) // of log exposure
	bareToneUnit  = vg.Length(20) // of that on a page of HTML, beside its table
)

// leastUnit returns the length of one unit of every axis that can be read.
func (b *tone) leastUnit() vg.Length {
	if b.Bare {
		return bareToneUnit
	}
	return leastToneUnit
}

// area returns where quadrants may be drawn.
func (b *tone) area(page draw.Canvas) draw.Canvas {
	return draw.Crop(b.Below(page), toneSide, -toneRight, toneBelow, -toneAbove)
}

// unit returns how long one unit of every axis is on a page.
func (b *tone) unit(page draw.Canvas) vg.Length {
	size := b.area(page).Size()
	return min(size.X/vg.Length(b.negative.length()+b.scene.length()), size.Y/vg.Length(b.film.length()+b.print.length()))
}

// height returns the height at which the quadrants fill a page of a width, unless
// they are far higher than wide.
func (b *tone) height(w vg.Length) vg.Length {
	tall := parts.Page(w, 10*w)
	around := 10*w - b.area(tall).Size().Y
	need := b.unit(tall)*vg.Length(b.film.length()+b.print.length()) + around
	return min(need, max(1.4*w, around+w))
}

// toneLayout are the quadrants on a page.
type toneLayout struct {
	*tone
	page   draw.Canvas
	unit   vg.Length
	centre vg.Point // where the four meet
	frame  vg.Rectangle
}

func (b *tone) layout(page draw.Canvas) toneLayout {
	area, unit := b.area(page), b.unit(page)
	l := toneLayout{tone: b, page: page, unit: unit}
	l.frame.Min.X = area.Min.X
	l.frame.Max.Y = area.Max.Y
	l.centre = vg.Point{X: area.Min.X + unit*vg.Length(b.negative.length()), Y: area.Max.Y - unit*vg.Length(b.print.length())}
	l.frame.Max.X = l.centre.X + unit*vg.Length(b.scene.length())
	l.frame.Min.Y = l.centre.Y - unit*vg.Length(b.film.length())
	return l
}

// The places of values on the page.
func (l toneLayout) sceneAt(v float64) vg.Length {
	return l.centre.X + l.unit*vg.Length(v-l.scene.from)
}
func (l toneLayout) filmAt(v float64) vg.Length { return l.centre.Y + l.unit*vg.Length(v-l.film.to) }
func (l toneLayout) printAt(v float64) vg.Length {
	return l.centre.Y + l.unit*vg.Length(v-l.print.from)
}
func (l toneLayout) negativeAt(v float64) vg.Length {
	return l.centre.X - l.unit*vg.Length(v-l.negative.to)
}

// at returns where a point of a quadrant is drawn.
func (l toneLayout) at(quadrant int, p plotter.XY) vg.Point {
	switch quadrant {
	case cameraStage:
		return vg.Point{X: l.sceneAt(p.X), Y: l.filmAt(p.Y)}
	case film:
		return vg.Point{X: l.negativeAt(p.X), Y: l.filmAt(p.Y)}
	case paperStage:
		return vg.Point{X: l.negativeAt(p.X), Y: l.printAt(p.Y)}
	}
	return vg.Point{X: l.sceneAt(p.X), Y: l.printAt(p.Y)}
}

func (l toneLayout) points(quadrant int, xys plotter.XYs) []vg.Point {
	out := make([]vg.Point, len(xys))
	for i, p := range xys {
		out[i] = l.at(quadrant, p)
	}
	return out
}

// outward is the direction from the centre to the corner of a quadrant.
var outward = [quadrants]vg.Point{cameraStage: {X: 1, Y: -1}, film: {X: -1, Y: -1}, paperStage: {X: -1, Y: 1}, reproduced: {X: 1, Y: 1}}

// canvas returns the part of the page that a quadrant takes.
func (l toneLayout) canvas(quadrant int) draw.Canvas {
	c := l.page
	c.Rectangle = vg.Rectangle{Min: l.centre, Max: l.frame.Max}
	if outward[quadrant].X < 0 {
		c.Min.X, c.Max.X = l.frame.Min.X, l.centre.X
	}
	if outward[quadrant].Y < 0 {
		c.Min.Y, c.Max.Y = l.frame.Min.Y, l.centre.Y
	}
	return c
}

// noteAt returns where the note of a quadrant stands: in the outer corner,
// which neither curve nor guides reach.
func (l toneLayout) noteAt(quadrant int) vg.Rectangle {
	size, c := l.notes[quadrant].Size(), l.canvas(quadrant)
	at := vg.Point{X: c.Max.X - parts.NoteMargin - size.X, Y: c.Max.Y - parts.NoteMargin - size.Y}
	if outward[quadrant].X < 0 {
		at.X = c.Min.X + parts.NoteMargin
	}
	if outward[quadrant].Y < 0 {
		at.Y = c.Min.Y + parts.NoteMargin
	}
	return vg.Rectangle{Min: at, Max: at.Add(size)}
}

// drawn returns places along the lines of a quadrant, close enough for nothing
// to slip between.
func (l toneLayout) drawn(quadrant int) []vg.Point {
	var out []vg.Point
	for _, part := range l.lines[quadrant] {
		pts := l.points(quadrant, part.at)
		for i := range len(pts) - 1 {
			const each = 2
			way := pts[i+1].Sub(pts[i])
			n := 1 + int(math.Hypot(float64(way.X), float64(way.Y))/each)
			for k := range n {
				out = append(out, pts[i].Add(way.Scale(vg.Length(k)/vg.Length(n))))
			}
		}
	}
	return out
}

// hidden says whether the note of a quadrant would stand on something.
func (l toneLayout) hidden(quadrant int) bool {
	at, c := l.noteAt(quadrant), l.canvas(quadrant)
	if at.Min.X < c.Min.X || at.Max.X > c.Max.X || at.Min.Y < c.Min.Y || at.Max.Y > c.Max.Y {
		return true
	}
	if parts.Within(at, l.drawn(quadrant), parts.NoteMargin/2) > 0 || parts.Touches(at, l.labels(quadrant), parts.NoteMargin/2) {
		return true
	}
	return l.onBlack(quadrant)
}

// onBlack says whether the note of a quadrant would stand on the level of the
// paper's black, which runs through to the right.
func (l toneLayout) onBlack(quadrant int) bool {
	at, black := l.noteAt(quadrant), l.printAt(l.black.Y)
	return quadrant == reproduced && black > at.Min.Y-parts.NoteMargin/2 && black < at.Max.Y+parts.NoteMargin/2
}

// clear lengthens the scales until the notes stand free: outwards where the page
// has room beside the quadrants, otherwise up and down. It reports whether they
// do.
func (b *tone) clear(w, h vg.Length) bool {
	const step, rounds = 0.1, 40
	for range rounds {
		height := h
		if height == 0 {
			height = b.height(w)
		}
		l := b.layout(parts.Page(w, height))
		beside := l.area(l.page).Max.X-l.frame.Max.X >= step*l.unit
		free := true
		for q, longer := range [quadrants]struct{ across, up *float64 }{
			cameraStage: {&b.scene.to, &b.film.from}, film: {&b.negative.from, &b.film.from},
			paperStage: {&b.negative.from, &b.print.to}, reproduced: {&b.scene.to, &b.print.to},
		} {
			if !l.hidden(q) {
				continue
			}
			free = false
			switch {
			case beside && !l.onBlack(q):
				*longer.across += step
			case longer.up == &b.film.from:
				*longer.up -= step
			default:
				*longer.up += step
			}
			break
		}
		if free {
			return true
		}
	}
	return false
}

// labels returns the names of the tones in a quadrant, each on the outer side of
// its corner, where it hides least. One that would touch another is left out,
// ends last.
func (l toneLayout) labels(quadrant int) []parts.Label {
	const off = vg.Length(3)
	lines, c, side := l.drawn(quadrant), l.canvas(quadrant), outward[quadrant]
	var out []parts.Label
	add := func(corner plotter.XY, name string) {
		at, half := l.at(quadrant, corner), vg.Point{X: parts.TextWidth(parts.SmallSize, name) / 2, Y: parts.CapHeight * parts.SmallSize / 2}
		across, up := side.X*(off+half.X), side.Y*(off+half.Y)
		best, fewest := parts.Label{}, len(lines)+1
		for _, away := range []vg.Point{{X: across, Y: up}, {X: across + side.X*off/2}, {Y: up + side.Y*off/2}} {
			middle := at.Add(away)
			r := vg.Rectangle{Min: middle.Sub(half), Max: middle.Add(half)}
			inside := r.Min.X >= c.Min.X && r.Max.X <= c.Max.X && r.Min.Y >= c.Min.Y && r.Max.Y <= c.Max.Y
			if hides := parts.Within(r, lines, 1); inside && hides < fewest && !parts.Touches(r, out, 2) {
				best, fewest = parts.Label{Rectangle: r, Name: name}, hides
			}
		}
		if best.Name != "" {
			out = append(out, best)
		}
	}
	named := func(g toneGuide, more string) { add(g.corner(quadrant), parts.Stops(g.stops)+more) }
	first, last := l.guides[0], len(l.guides)-1
	const speedPoint = "speed point"
	switch apart := first.film - l.speedPoint.Y; {
	case quadrant != film:
		named(first, "")
	case math.Abs(apart) < 0.02: // without flare the darkest tone lies on it
		named(first, ", "+speedPoint)
	default:
		named(first, "")
		add(l.speedPoint, speedPoint)
	}
	named(l.guides[last], "")
	for _, g := range l.guides[1:last] {
		named(g, "")
	}
	return out
}

// The lines of the diagram.
var toneStyles = map[lineKind]draw.LineStyle{
	solidLine: parts.Line(1.1, parts.Ink), referredLine: parts.Line(0.7, parts.Ink, 4, 2.5), beyondLine: parts.Beyond,
}

func (b *tone) DrawOn(page draw.Canvas) {
	l := b.layout(page)
	b.Heading.Draw(page)
	l.drawAxes()
	for q := range quadrants {
		c := l.canvas(q)
		outline := slices.Concat(b.bands[q].low, b.bands[q].high)
		slices.Reverse(outline[len(b.bands[q].low):])
		c.FillPolygon(parts.BandGrey, c.ClipPolygonXY(l.points(q, outline)))
	}
	for _, g := range b.guides {
		style := parts.Line(0.5, parts.Faint)
		if g.stops != 0 && g.stops != b.guides[0].stops && g.stops != b.guides[len(b.guides)-1].stops {
			style = parts.Line(0.5, parts.Faint, 3, 2)
		}
		var corners []vg.Point
		for q := range quadrants {
			corners = append(corners, l.at(q, g.corner(q)))
		}
		page.StrokeLines(style, append(corners, corners[0]))
	}
	l.drawMarks()
	for q := range quadrants {
		c := l.canvas(q)
		for _, part := range b.lines[q] {
			c.StrokeLines(toneStyles[part.kind], c.ClipLinesXY(l.points(q, part.at))...)
		}
		for _, g := range b.guides {
			at := l.at(q, g.corner(q))
			parts.FillDot(page, parts.Paper, 2.1, at)
			parts.FillDot(page, parts.Ink, 1.5, at)
		}
		for _, label := range l.labels(q) {
			c.SetColor(parts.Paper)
			c.Fill(vg.Rectangle{Min: label.Min.Sub(vg.Point{X: 1, Y: 1}), Max: label.Max.Add(vg.Point{X: 1, Y: 1})}.Path())
			parts.Write(page, parts.SmallSize, parts.Ink, parts.FromLeft, label.Min, label.Name)
		}
		b.notes[q].Draw(page, l.noteAt(q))
	}
}

// drawMarks rings the speed point, and the ends of the paper's range with their
// levels.
func (l toneLayout) drawMarks() {
	ring := func(at vg.Point) {
		l.page.SetLineStyle(parts.Line(0.7, parts.Ink))
		l.page.Stroke(parts.Symbol{}.Outline(at))
	}
	ring(l.at(film, l.speedPoint))
	for i, at := range []plotter.XY{l.white, l.black} {
		from := l.at(paperStage, at)
		ring(from)
		l.page.StrokeLine2(parts.BaseLine, from.X, from.Y, l.frame.Max.X+2, from.Y)
		parts.Write(l.page, parts.SmallSize, parts.Ink, parts.FromLeft, vg.Point{X: l.frame.Max.X + 4, Y: from.Y - parts.CapHeight*parts.SmallSize/2}, [...]string{"T", "S"}[i])
	}
}

// drawAxes draws the grid, the frames and what stands around them.
func (l toneLayout) drawAxes() {
	left, right, low, high := l.frame.Min.X, l.frame.Max.X, l.frame.Min.Y, l.frame.Max.Y
	b := l.tone
	l.drawTicks(b.print.from, b.print.to, func(v float64) (edge, far vg.Point) {
		return vg.Point{X: left, Y: l.printAt(v)}, vg.Point{X: right, Y: l.printAt(v)}
	})
	// Near the centre the numbers of print and negative have the room.
	l.drawTicks(b.film.from, b.film.to-float64(1.2*parts.BodySize/l.unit), func(v float64) (edge, far vg.Point) {
		return vg.Point{X: left, Y: l.filmAt(v)}, vg.Point{X: right, Y: l.filmAt(v)}
	})
	l.drawTicks(b.scene.from+max(0, float64(2.2*parts.BodySize/l.unit)+b.negative.to), b.scene.to, func(v float64) (edge, far vg.Point) {
		return vg.Point{X: l.sceneAt(v), Y: low}, vg.Point{X: l.sceneAt(v), Y: high}
	})
	l.drawTicks(0, b.negative.from, func(v float64) (edge, far vg.Point) {
		return vg.Point{X: l.negativeAt(v), Y: low}, vg.Point{X: l.negativeAt(v), Y: l.centre.Y}
	})
	l.drawTicks(b.paperAt-b.negative.from, b.paperAt-b.negative.to, func(v float64) (edge, far vg.Point) {
		x := l.negativeAt(b.paperAt - v)
		return vg.Point{X: x, Y: high}, vg.Point{X: x, Y: l.centre.Y}
	})
	for q := range quadrants {
		l.page.SetLineStyle(parts.Line(0.6, parts.Ink))
		l.page.Stroke(l.canvas(q).Path())
	}
	l.drawTitles()
}

// drawTicks marks a scale at the edge of the frame and draws its grid from
// there to the far side.
func (l toneLayout) drawTicks(from, to float64, at func(v float64) (edge, far vg.Point)) {
	marks := parts.Steps{Major: 0.5, Every: 5}
	if l.unit < 50 {
		marks = parts.Steps{Major: 1, Every: 5}
	}
	for _, t := range marks.Ticks(from, to) {
		edge, far := at(t.Value)
		length := toneTick / 2
		if t.Label != "" {
			length = toneTick
			l.page.StrokeLine2(parts.Line(0.5, parts.GridGrey), edge.X, edge.Y, far.X, far.Y)
		}
		end, label, align := edge, edge, parts.Centred
		switch {
		case edge.Y == far.Y:
			end.X -= length
			label, align = vg.Point{X: edge.X - toneTick - 2, Y: edge.Y - parts.CapHeight*parts.BodySize/2}, parts.FromRight
		case far.Y < edge.Y:
			end.Y += length
			label.Y += toneTick + 2
		default:
			end.Y -= length
			label.Y -= toneTick + 2 + parts.CapHeight*parts.BodySize
		}
		l.page.StrokeLine2(parts.Line(0.5, parts.Ink), edge.X, edge.Y, end.X, end.Y)
		parts.Write(l.page, parts.BodySize, parts.Ink, align, label, t.Label)
	}
}

// drawTitles names the axes.
func (l toneLayout) drawTitles() {
	c := l.page
	const apart = 4
	fitted := func(room vg.Length, s string) (vg.Length, string) {
		for _, more := range []string{",", " of the "} { // what the notes tell too
			if parts.TextWidth(parts.LeastSize, s) > room {
				s, _, _ = strings.Cut(s, more)
			}
		}
		return parts.Fitted(parts.BodySize, room, s)
	}
	across := func(from, to, y vg.Length, s string) {
		size, s := fitted(to-from-2*apart, s)
		parts.Write(c, size, parts.AxisInk, parts.Centred, vg.Point{X: (from + to) / 2, Y: y}, s)
	}
	below := l.frame.Min.Y - toneBelow + 0.3*parts.BodySize
	across(l.frame.Min.X, l.centre.X, below, l.negative.label)
	across(l.centre.X, l.frame.Max.X, below, l.scene.label)
	across(l.frame.Min.X, l.centre.X, l.frame.Max.Y+toneBelow-parts.CapHeight*parts.BodySize, l.paperLabel)
	beside := func(from, to vg.Length, s string) {
		size, s := fitted(to-from, s)
		style := parts.TextStyle(size, text.XCenter, text.YTop)
		style.Color = parts.AxisInk
		style.Rotation = math.Pi / 2
		c.FillText(style, vg.Point{X: l.frame.Min.X - toneSide, Y: (from + to) / 2}, s)
	}
	beside(l.frame.Min.Y, l.centre.Y, l.film.label)
	beside(l.centre.Y, l.frame.Max.Y, l.print.label)
}
