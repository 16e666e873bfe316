package plot

import (
	"fmt"
	"math"
	"sensito/plot/internal/parts"
	"slices"
	"sort"
	"strings"

	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// rollLabel is a name at the end of one line or of several.
type rollLabel struct {
	from plotter.XYs // ends of the lines
	text string
}

const rollLeader = vg.Length(12) // from a line's end to its name

// labels returns the names for the ends of the lines, in no more than most
// labels, each no wider than room.
func (b *rollBody) labels(most int, room vg.Length) []rollLabel {
	each := (len(b.lines) + most - 1) / most // lines a label
	var out []rollLabel
	for chunk := range slices.Chunk(b.lines, each) {
		var l rollLabel
		var names []string
		for _, line := range chunk {
			l.from = append(l.from, line.last())
			names = append(names, line.names...)
		}
		l.text = joined(names, room)
		out = append(out, l)
	}
	return out
}

// joined returns as many of the names as there is room for, and how many more
// there are.
func joined(names []string, room vg.Length) string {
	more := func(left int) string {
		if left == 0 {
			return ""
		}
		return fmt.Sprintf(" and %d more", left)
	}
	text := func(n int) string { return strings.Join(names[:n], ", ") + more(len(names)-n) }
	fitting := sort.Search(len(names), func(i int) bool { return parts.TextWidth(parts.SmallSize, text(i+1)) > room })
	if fitting > 1 {
		return text(fitting)
	}
	rest := more(len(names) - 1)
	return parts.Shortened(parts.SmallSize, room-parts.TextWidth(parts.SmallSize, rest), names[0]) + rest
}

// area returns where the plot stands on a page: the names of the print
// materials need room on the right.
func (b *rollBody) area(page draw.Canvas) draw.Canvas {
	area := b.Below(page)
	area.Max.Y -= 1.3 * parts.BodySize
	var wide vg.Length
	for _, l := range b.levels {
		wide = max(wide, parts.TextWidth(parts.SmallSize, l.name))
	}
	if wide > 0 {
		area.Max.X -= min(wide, area.Size().X/5) + 8
	}
	return area
}

const nameRoom = 0.30 // of the width, for the names of the frames

// makeRoom lengthens the axis so that the names fit beyond the ends of the
// lines.
func (b *rollBody) makeRoom(page draw.Canvas) error {
	c := b.plot.DataCanvas(b.area(page))
	if err := parts.Room(c, 120); err != nil {
		return err
	}
	var wide vg.Length
	for _, l := range b.labels(b.most(c), nameRoom*c.Size().X) {
		wide = max(wide, parts.TextWidth(parts.SmallSize, l.text))
	}
	share := float64((wide + rollLeader + 6) / c.Size().X)
	b.plot.X.Max = math.Exp((math.Log(b.end) - share*math.Log(b.lo)) / (1 - share))
	return nil
}

// most returns how many names fit under each other.
func (b *rollBody) most(c draw.Canvas) int { return max(1, int(c.Size().Y/parts.NoteLeading)) }

func (b *rollBody) draw(page draw.Canvas) {
	area := b.area(page)
	b.plot.Draw(area)
	c := b.plot.DataCanvas(area)
	parts.Frame(c)
	b.Heading.Draw(page)
	b.mark.drawLabel(c, b.plot)
	b.drawNames(c)
	b.drawLevels(page, c)
	left := c // of the names
	left.Max.X = parts.Place(c, b.plot, plotter.XY{X: b.end, Y: b.aim.y}).X
	taken := b.occupied(c)
	if at, hidden := b.note.Corner(left, taken); hidden == 0 {
		b.note.Draw(c, at)
		taken = append(taken, filled(at)...)
	}
	b.drawAim(left, c, taken)
}

// filled returns points all over a rectangle.
func filled(r vg.Rectangle) []vg.Point {
	const n = 20
	var out []vg.Point
	for i := range n + 1 {
		for j := range n + 1 {
			out = append(out, vg.Point{X: r.Min.X + r.Size().X*vg.Length(i)/n, Y: r.Min.Y + r.Size().Y*vg.Length(j)/n})
		}
	}
	return out
}

// drawAim names the line of the aim where it hides least.
func (b *rollBody) drawAim(left, c draw.Canvas, taken []vg.Point) {
	y := parts.Place(c, b.plot, plotter.XY{X: b.lo, Y: b.aim.y}).Y + 2.5
	size := vg.Point{X: parts.TextWidth(parts.SmallSize, b.aim.name), Y: parts.CapHeight * parts.SmallSize}
	var best vg.Point
	fewest := len(taken) + 1
	for x := left.Min.X + 4; x+size.X < left.Max.X; x += 4 {
		at := vg.Point{X: x, Y: y}
		if n := parts.Within(vg.Rectangle{Min: at, Max: at.Add(size)}, taken, 2); n < fewest {
			best, fewest = at, n
		}
	}
	parts.Write(c, parts.SmallSize, parts.Ink, parts.FromLeft, best, b.aim.name)
}

// drawNames sets the names of the frames beyond the ends of their lines.
func (b *rollBody) drawNames(c draw.Canvas) {
	labels := b.labels(b.most(c), nameRoom*c.Size().X)
	want := make([]vg.Length, len(labels))
	for i, l := range labels {
		for _, end := range parts.Places(c, b.plot, l.from) {
			want[i] += end.Y / vg.Length(len(l.from))
		}
	}
	const half = parts.CapHeight * parts.SmallSize / 2
	for i, y := range parts.Spread(want, parts.NoteLeading, c.Min.Y+half+2, c.Max.Y-half-2) {
		for _, end := range parts.Places(c, b.plot, labels[i].from) {
			x := end.X + rollLeader
			c.StrokeLines(parts.Leader, []vg.Point{{X: end.X + 1.5, Y: end.Y}, {X: x - 1.5, Y: y}})
		}
		parts.Write(c, parts.SmallSize, parts.Ink, parts.FromLeft, vg.Point{X: parts.Place(c, b.plot, labels[i].from[0]).X + rollLeader, Y: y - half}, labels[i].text)
	}
}

// drawLevels sets the names of the print materials on the right.
func (b *rollBody) drawLevels(page, c draw.Canvas) {
	want := make([]vg.Length, len(b.levels))
	for i, l := range b.levels {
		want[i] = parts.Place(c, b.plot, plotter.XY{X: b.lo, Y: l.y}).Y
	}
	const half = parts.CapHeight * parts.SmallSize / 2
	for i, y := range parts.Spread(want, parts.NoteLeading, c.Min.Y+half, c.Max.Y-half) {
		c.StrokeLines(parts.Line(0.5, parts.Ink), []vg.Point{{X: c.Max.X - 4, Y: want[i]}, {X: c.Max.X, Y: want[i]}})
		c.StrokeLines(parts.Leader, []vg.Point{{X: c.Max.X, Y: want[i]}, {X: c.Max.X + 6, Y: y}})
		room := page.Max.X - parts.PageMargin - c.Max.X - 8
		parts.Write(page, parts.SmallSize, parts.Ink, parts.FromLeft, vg.Point{X: c.Max.X + 8, Y: y - half}, parts.Shortened(parts.SmallSize, room, b.levels[i].name))
	}
}

// occupied returns the points that the note should not hide.
func (b *rollBody) occupied(c draw.Canvas) []vg.Point {
	var out []vg.Point
	for _, l := range b.lines {
		out = append(out, parts.Places(c, b.plot, l.Line)...)
	}
	const n = 60
	x := parts.Place(c, b.plot, plotter.XY{X: b.mark.minutes, Y: b.plot.Y.Min}).X
	aim := parts.Place(c, b.plot, plotter.XY{X: b.lo, Y: b.aim.y})
	end := parts.Place(c, b.plot, plotter.XY{X: b.end, Y: b.aim.y})
	for i := range n + 1 {
		part := vg.Length(i) / n
		out = append(out, vg.Point{X: x, Y: c.Min.Y + c.Size().Y*part}, vg.Point{X: aim.X + (end.X-aim.X)*part, Y: aim.Y - 1})
	}
	return out
}
