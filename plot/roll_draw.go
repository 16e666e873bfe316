package plot

import (
	"fmt"
	"math"
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
	fitting := sort.Search(len(names), func(i int) bool { return textWidth(smallSize, text(i+1)) > room })
	if fitting > 1 {
		return text(fitting)
	}
	rest := more(len(names) - 1)
	return shortened(smallSize, room-textWidth(smallSize, rest), names[0]) + rest
}

// area returns where the plot stands on a page: the names of the print
// materials need room on the right.
func (b *rollBody) area(page draw.Canvas) draw.Canvas {
	area := b.below(page)
	area.Max.Y -= 1.3 * bodySize
	var wide vg.Length
	for _, l := range b.levels {
		wide = max(wide, textWidth(smallSize, l.name))
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
	if err := room(c, 120); err != nil {
		return err
	}
	var wide vg.Length
	for _, l := range b.labels(b.most(c), nameRoom*c.Size().X) {
		wide = max(wide, textWidth(smallSize, l.text))
	}
	share := float64((wide + rollLeader + 6) / c.Size().X)
	b.plot.X.Max = math.Exp((math.Log(b.end) - share*math.Log(b.lo)) / (1 - share))
	return nil
}

// most returns how many names fit under each other.
func (b *rollBody) most(c draw.Canvas) int { return max(1, int(c.Size().Y/noteLeading)) }

func (b *rollBody) draw(page draw.Canvas) {
	area := b.area(page)
	b.plot.Draw(area)
	c := b.plot.DataCanvas(area)
	frame(c)
	b.heading.draw(page, c.Min.X)
	b.mark.drawLabel(c, b.plot)
	b.drawNames(c)
	b.drawLevels(page, c)
	left := c // of the names
	left.Max.X = place(c, b.plot, plotter.XY{X: b.end, Y: b.aim.y}).X
	taken := b.occupied(c)
	if at, hidden := b.note.corner(left, taken); hidden == 0 {
		b.note.draw(c, at)
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
	y := place(c, b.plot, plotter.XY{X: b.lo, Y: b.aim.y}).Y + 2.5
	size := vg.Point{X: textWidth(smallSize, b.aim.name), Y: capHeight * smallSize}
	var best vg.Point
	fewest := len(taken) + 1
	for x := left.Min.X + 4; x+size.X < left.Max.X; x += 4 {
		at := vg.Point{X: x, Y: y}
		if n := within(vg.Rectangle{Min: at, Max: at.Add(size)}, taken, 2); n < fewest {
			best, fewest = at, n
		}
	}
	write(c, smallSize, ink, fromLeft, best, b.aim.name)
}

// drawNames sets the names of the frames beyond the ends of their lines.
func (b *rollBody) drawNames(c draw.Canvas) {
	labels := b.labels(b.most(c), nameRoom*c.Size().X)
	want := make([]vg.Length, len(labels))
	for i, l := range labels {
		for _, end := range places(c, b.plot, l.from) {
			want[i] += end.Y / vg.Length(len(l.from))
		}
	}
	const half = capHeight * smallSize / 2
	for i, y := range spread(want, noteLeading, c.Min.Y+half+2, c.Max.Y-half-2) {
		for _, end := range places(c, b.plot, labels[i].from) {
			x := end.X + rollLeader
			c.StrokeLines(leader, []vg.Point{{X: end.X + 1.5, Y: end.Y}, {X: x - 1.5, Y: y}})
		}
		write(c, smallSize, ink, fromLeft, vg.Point{X: place(c, b.plot, labels[i].from[0]).X + rollLeader, Y: y - half}, labels[i].text)
	}
}

// drawLevels sets the names of the print materials on the right.
func (b *rollBody) drawLevels(page, c draw.Canvas) {
	want := make([]vg.Length, len(b.levels))
	for i, l := range b.levels {
		want[i] = place(c, b.plot, plotter.XY{X: b.lo, Y: l.y}).Y
	}
	const half = capHeight * smallSize / 2
	for i, y := range spread(want, noteLeading, c.Min.Y+half, c.Max.Y-half) {
		c.StrokeLines(line(0.5, ink), []vg.Point{{X: c.Max.X - 4, Y: want[i]}, {X: c.Max.X, Y: want[i]}})
		c.StrokeLines(leader, []vg.Point{{X: c.Max.X, Y: want[i]}, {X: c.Max.X + 6, Y: y}})
		room := page.Max.X - pageMargin - c.Max.X - 8
		write(page, smallSize, ink, fromLeft, vg.Point{X: c.Max.X + 8, Y: y - half}, shortened(smallSize, room, b.levels[i].name))
	}
}

// occupied returns the points that the note should not hide.
func (b *rollBody) occupied(c draw.Canvas) []vg.Point {
	var out []vg.Point
	for _, l := range b.lines {
		out = append(out, places(c, b.plot, l.line)...)
	}
	const n = 60
	x := place(c, b.plot, plotter.XY{X: b.mark.minutes, Y: b.plot.Y.Min}).X
	aim := place(c, b.plot, plotter.XY{X: b.lo, Y: b.aim.y})
	end := place(c, b.plot, plotter.XY{X: b.end, Y: b.aim.y})
	for i := range n + 1 {
		part := vg.Length(i) / n
		out = append(out, vg.Point{X: x, Y: c.Min.Y + c.Size().Y*part}, vg.Point{X: aim.X + (end.X-aim.X)*part, Y: aim.Y - 1})
	}
	return out
}
