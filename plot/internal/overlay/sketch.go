package overlay

import (
	"image"
	"image/color"
	"math"
	"slices"
	"strconv"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"sensito/plot/internal/canvas"
	"sensito/plot/internal/parts"
	"sensito/sensito/picture"
)

// sketch is all that is drawn over the picture, on the page.
type sketch struct {
	frame  vg.Rectangle // of the picture
	room   vg.Rectangle // for names and numbers: a line's height around it too
	grey   *image.Gray
	rows   []row
	places []quad

	texts   []written
	leaders [][]vg.Point // from names to what they name
}

// row is a row of steps on the page.
type row struct {
	Row
	steps, patches []quad
	has            []bool   // a patch
	along, across  vg.Point // unit vectors
}

// written is a text at its place.
type written struct {
	vg.Rectangle // of the letters and their rim
	size         vg.Length
	text         string
}

// sketched lays out rows, places, and their names and numbers.
func (b *body) sketched(frame vg.Rectangle) *sketch {
	s := &sketch{frame: frame, room: frame, grey: b.grey}
	s.room.Min, s.room.Max = s.room.Min.Sub(vg.Point{X: margin, Y: legendGap}), s.room.Max.Add(vg.Point{X: margin, Y: margin})
	onPage := func(corners [4]picture.Point) quad {
		var q quad
		for i, p := range corners {
			q[i] = vg.Point{X: frame.Min.X + vg.Length(p.X)*b.pixel, Y: frame.Max.Y - vg.Length(p.Y)*b.pixel}
		}
		return q
	}
	for _, seen := range b.seen.Rows {
		if len(seen.Steps) == 0 {
			continue
		}
		r := row{Row: seen}
		first, last := onPage(seen.Steps[0].Corners), onPage(seen.Steps[len(seen.Steps)-1].Corners)
		r.along = unit(last.middle().Sub(first.middle()))
		if len(seen.Steps) == 1 {
			r.along = unit(first[1].Sub(first[0]))
		}
		for _, step := range seen.Steps {
			r.steps = append(r.steps, onPage(step.Corners).from(r.along))
			r.patches = append(r.patches, onPage(step.Patch).from(r.along))
			r.has = append(r.has, step.Patch != [4]picture.Point{})
		}
		r.across = vg.Point{X: -r.along.Y, Y: r.along.X}
		s.rows = append(s.rows, r)
	}
	for _, p := range b.seen.Places {
		s.places = append(s.places, onPage(p.Corners))
	}
	s.numbers()
	var named []quad
	var names []string
	for i, p := range b.seen.Places {
		named, names = append(named, s.places[i]), append(names, name(p.Name))
	}
	for _, r := range s.rows {
		named, names = append(named, r.steps[0]), append(names, name(r.Name))
	}
	for i, text := range names {
		if text != "" {
			s.name(text, named, i)
		}
	}
	return s
}

const (
	rim        = vg.Length(0.9) // of letters, on every side
	numberSize = vg.Length(7.5)
	nameSize   = vg.Length(8)
)

// textBox returns the room of a text about a point. It has no descender: numbers have none, and
// that of a name is allowed for by the caller.
func textBox(size vg.Length, text string, about vg.Point, below vg.Length) vg.Rectangle {
	w, h := parts.TextWidth(size, text)+2*rim, parts.CapHeight*size+2*rim
	return vg.Rectangle{Min: vg.Point{X: about.X - w/2, Y: about.Y - h/2 - below}, Max: vg.Point{X: about.X + w/2, Y: about.Y + h/2}}
}

// numbers writes the numbers of the steps: all of them, or else every second, fifth, tenth and the
// ends; in the band beside the patches, or else beside the row. Rows have them alike where they can.
func (s *sketch) numbers() {
	for _, w := range ways {
		var all []written
		for _, r := range s.rows {
			all = append(all, s.numbered(r, w)...)
		}
		if s.free(all) {
			s.texts = append(s.texts, all...)
			return
		}
	}
	for _, r := range s.rows {
		i := slices.IndexFunc(ways, func(w way) bool { return s.free(s.numbered(r, w)) })
		if i >= 0 {
			s.texts = append(s.texts, s.numbered(r, ways[i])...)
			continue
		}
		// On the steps themselves, rather than not at all, as many as keep apart.
		for _, t := range s.numbered(r, way{1, parts.LeastSize, on}) {
			if s.apart(t, nil) && inside(t.Rectangle, s.room) {
				s.texts = append(s.texts, t)
			}
		}
	}
}

// A way to number the steps of a row.
type way struct {
	every int
	size  vg.Length
	place func(r row, step int, box vg.Rectangle) vg.Point
}

// ways are those there are, the best first.
var ways = func() []way {
	var out []way
	places := []func(row, int, vg.Rectangle) vg.Point{inBand(1), inBand(-1), beside(1), beside(-1)}
	for _, every := range []int{1, 2, 5, 10, 20, 50} {
		for _, size := range []vg.Length{numberSize, parts.LeastSize} {
			for _, place := range places {
				out = append(out, way{every, size, place})
			}
		}
	}
	return out
}()

// numbered returns the numbers of a row, its ends among them.
func (s *sketch) numbered(r row, w way) []written {
	var out []written
	last := len(r.Steps) - 1
	for i, step := range r.Steps {
		told := step.Number%w.every == 0 && last-i >= w.every
		if w.every == 2 { // from the first on
			told = i%2 == 0 && (last-i >= 2)
		}
		if !told && i > 0 && i < last && w.every > 1 {
			continue
		}
		text := strconv.Itoa(step.Number)
		about := w.place(r, i, textBox(w.size, text, vg.Point{}, 0))
		out = append(out, written{textBox(w.size, text, about, 0), w.size, text})
	}
	return out
}

// on returns the middle of a step.
func on(r row, i int, _ vg.Rectangle) vg.Point { return r.steps[i].middle() }

// inBand returns the middle of the band between a step's edge on one side and its patch.
func inBand(side vg.Length) func(row, int, vg.Rectangle) vg.Point {
	return func(r row, i int, _ vg.Rectangle) vg.Point {
		if !r.has[i] {
			return r.steps[i].middle()
		}
		out := r.across.Scale(side)
		_, edge := r.steps[i].along(out)
		_, patch := r.patches[i].along(out)
		m := r.steps[i].middle()
		return m.Add(out.Scale((edge+patch)/2 - dotProduct(m, out)))
	}
}

// beside returns the place beside a step where a box does not touch it.
func beside(side vg.Length) func(row, int, vg.Rectangle) vg.Point {
	return func(r row, i int, box vg.Rectangle) vg.Point {
		const gap = 1.5
		out := r.across.Scale(side)
		_, edge := r.steps[i].along(out)
		size := box.Size()
		reach := (size.X*vg.Length(math.Abs(float64(out.X))) + size.Y*vg.Length(math.Abs(float64(out.Y)))) / 2
		m := r.steps[i].middle()
		return m.Add(out.Scale(edge + reach + gap - dotProduct(m, out)))
	}
}

// free says whether texts lie in the picture, apart from each other and from what was written, and
// hide no patch and no place, nor the edge of a step across the row.
func (s *sketch) free(texts []written) bool {
	for i, t := range texts {
		if !inside(t.Rectangle, s.room) || !s.apart(t, texts[:i]) || s.hides(t.Rectangle, false) {
			return false
		}
	}
	return true
}

func (s *sketch) apart(t written, others []written) bool {
	for _, all := range [][]written{s.texts, others} {
		for _, o := range all {
			if overlap(t.Rectangle, o.Rectangle) {
				return false
			}
		}
	}
	for _, l := range s.leaders {
		if stroke(l).meets(t.Rectangle) {
			return false
		}
	}
	return true
}

// crosses says whether a line runs over a text, a step or a place other than the one it leads to,
// which is counted among places first and rows then.
func (s *sketch) crosses(line []vg.Point, to int) bool {
	box := stroke(line)
	for _, t := range s.texts {
		if box.meets(t.Rectangle) {
			return true
		}
	}
	for i, p := range s.places {
		if i != to && box.meets(p.bounds()) {
			return true
		}
	}
	for i, r := range s.rows {
		for _, q := range r.steps {
			if i != to-len(s.places) && box.meets(q.bounds()) {
				return true
			}
		}
	}
	return false
}

// hides says whether a box covers something that is looked at: a patch, a place, the outline of a
// row, or with steps any step.
func (s *sketch) hides(box vg.Rectangle, steps bool) bool {
	for _, r := range s.rows {
		for i, q := range r.steps {
			if !q.meets(box) {
				continue
			}
			if steps || r.has[i] && r.patches[i].meets(box) {
				return true
			}
			for _, side := range []vg.Length{1, -1} { // the long edges
				out := r.across.Scale(side)
				_, edge := q.along(out)
				low, high := corners(box).along(out)
				if low < edge && high > edge {
					return true
				}
			}
		}
	}
	for _, p := range s.places {
		if p.meets(box) {
			return true
		}
	}
	return false
}

// name writes the name of a figure as near to it as there is room, nearer than to any other that is
// named; with a line to it where it has to stand away. Best is in the picture and apart from steps,
// then in the margin, and on a step that is not read last.
func (s *sketch) name(text string, named []quad, of int) {
	const (
		gap     = 2.5
		grid    = 3.0
		reach   = 90.0 // how far is near
		outside = 8.0  // how much farther is as good as in the margin
		onSteps = 60.0
		unclear = 12.0 // nearer to another
		away    = 7.0  // from where on a line leads to it
	)
	below := 0.2 * nameSize
	figure := named[of].bounds()
	about := textBox(nameSize, text, vg.Point{}, below)
	half := about.Size().Scale(0.5)
	best := written{size: nameSize, text: text}
	least := vg.Length(math.Inf(1))
	for y := figure.Min.Y - reach; y <= figure.Max.Y+reach; y += grid {
		for x := figure.Min.X - reach - half.X; x <= figure.Max.X+reach+half.X; x += grid {
			b := about.Add(vg.Point{X: x, Y: y})
			d := distance(b, figure)
			cost := d
			if !inside(b, s.frame) {
				cost += outside
			}
			for i, other := range named {
				if i != of && distance(b, other.bounds()) < d+gap {
					cost += unclear
				}
			}
			if d < gap || d > reach || cost >= least || !inside(b, s.room) || !s.apart(spaced(written{b, nameSize, text}), nil) || s.hides(b, false) {
				continue
			}
			if s.hides(b, true) || d > away && s.crosses(leader(b, figure), of) {
				cost += onSteps
			}
			if cost < least {
				best.Rectangle, least = b, cost
			}
		}
	}
	if math.IsInf(float64(least), 1) { // on the figure itself
		m := named[of].middle()
		m.X = min(max(m.X, s.frame.Min.X+half.X), s.frame.Max.X-half.X)
		best.Rectangle = textBox(nameSize, text, m, below)
		if !s.apart(best, nil) || !inside(best.Rectangle, s.room) {
			return // the legend has it
		}
	} else if distance(best.Rectangle, figure) > away {
		s.leaders = append(s.leaders, leader(best.Rectangle, figure))
	}
	s.texts = append(s.texts, best)
}

// leader returns the shortest line between two boxes.
func leader(a, b vg.Rectangle) []vg.Point {
	nearest := func(lowA, highA, lowB, highB vg.Length) (vg.Length, vg.Length) {
		switch {
		case highA < lowB:
			return highA, lowB
		case highB < lowA:
			return lowA, highB
		}
		m := (max(lowA, lowB) + min(highA, highB)) / 2
		return m, m
	}
	var from, to vg.Point
	from.X, to.X = nearest(a.Min.X, a.Max.X, b.Min.X, b.Max.X)
	from.Y, to.Y = nearest(a.Min.Y, a.Max.Y, b.Min.Y, b.Max.Y)
	return []vg.Point{from, to}
}

// spaced returns a text with a blank on either side, by which it is not read with its neighbours.
func spaced(t written) written {
	t.Min.X, t.Max.X = t.Min.X-0.7*t.size, t.Max.X+0.7*t.size
	return t
}

// distance returns how far a box is from another, their middles counting a little, so that a name
// stands beside the middle of what it names.
func distance(a, b vg.Rectangle) vg.Length {
	gap := func(lowA, highA, lowB, highB vg.Length) float64 {
		return math.Max(0, math.Max(float64(lowB-highA), float64(lowA-highB)))
	}
	x, y := gap(a.Min.X, a.Max.X, b.Min.X, b.Max.X), gap(a.Min.Y, a.Max.Y, b.Min.Y, b.Max.Y)
	aside := math.Abs(float64(a.Min.X+a.Max.X-b.Min.X-b.Max.X)) + math.Abs(float64(a.Min.Y+a.Max.Y-b.Min.Y-b.Max.Y))
	return vg.Length(math.Hypot(x, y) + 0.02*aside)
}

// The lines, white, and how much wider the rim is on either side, as parts of the line; both thinner
// in a row whose steps are shorter than ample.
const (
	thin   = vg.Length(0.6)
	around = vg.Length(0.9)
	ample  = vg.Length(10)
)

var (
	white = color.Gray{Y: 255}
	dark  = color.Gray{Y: 16}
)

// rimmed draws a line with a dark rim.
func rimmed(c draw.Canvas, width vg.Length, dashes []vg.Length, lines ...[]vg.Point) {
	for _, s := range []draw.LineStyle{{Color: dark, Width: width * (1 + 2*around)}, {Color: white, Width: width, Dashes: dashes}} {
		c.StrokeLines(s, lines...)
	}
}

// draw draws the outline of the row, the edges of its steps beside what is read, and what is read
// of each; a step that is not read is crossed.
func (r row) draw(c draw.Canvas) {
	var dashes []vg.Length
	if r.Proposed {
		dashes = []vg.Length{3, 2}
	}
	low, high := r.steps[0].along(r.along)
	width := thin * min(max((high-low)/ample, 0.35), 1)
	var lines [][]vg.Point
	last := len(r.steps) - 1
	for i, q := range r.steps {
		lines = append(lines, []vg.Point{q[0], q[1]}, []vg.Point{q[3], q[2]})
		ends := [][2]vg.Point{{q[0], q[3]}}
		if i == last {
			ends = append(ends, [2]vg.Point{q[1], q[2]})
		}
		for k, e := range ends {
			if i == 0 && k == 0 || i == last && k == len(ends)-1 { // the ends of the row in full
				lines = append(lines, []vg.Point{e[0], e[1]})
				continue
			}
			const part = 0.16
			in := e[1].Sub(e[0]).Scale(part)
			lines = append(lines, []vg.Point{e[0], e[0].Add(in)}, []vg.Point{e[1], e[1].Sub(in)})
		}
	}
	rimmed(c, width, dashes, lines...)
	lines = nil
	for i, q := range r.patches {
		if !r.has[i] {
			continue
		}
		lines = append(lines, q.lines())
		if r.Steps[i].Why != "" {
			lines = append(lines, []vg.Point{q[0], q[2]}, []vg.Point{q[1], q[3]})
		}
	}
	rimmed(c, width, dashes, lines...)
}

// draw sets the text in white with a dark rim, on what is light the other way round.
func (t written) draw(c draw.Canvas, light bool) {
	letters, rimmed := white, dark
	if light {
		letters, rimmed = dark, white
	}
	face := canvas.Face(t.size)
	at := vg.Point{X: t.Min.X + rim, Y: t.Max.Y - rim - parts.CapHeight*t.size}
	c.SetLineStyle(draw.LineStyle{Color: rimmed, Width: 2 * rim})
	c.Stroke(canvas.Outline(face, at, t.text))
	parts.Write(c, t.size, letters, parts.FromLeft, at, t.text)
}
