package plot

import (
	"sort"
	"strings"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"sensito/sensito"
	"sensito/sensito/printable"
	"sensito/sensito/scene"
)

// pageMargin is left free on every side of a figure.
const pageMargin = vg.Length(10)

// leastSize is the smallest type that is set, in points (common practice, no
// source).
const leastSize = vg.Length(5.5)

// heading is the title of a figure with a smaller line below it, and what stands
// at its foot.
type heading struct{ title, sub, foot string }

func newHeading(o Options, t *sensito.Trial) heading { return headingFor(o, t, t.Process()) }

// headingFor is newHeading with a development in place of the trial's.
func headingFor(o Options, t *sensito.Trial, p sensito.Process) heading {
	h := heading{title: o.Title}
	film := t.Film().Name
	if b := t.Film().Batch; b != "" {
		film = strings.TrimSpace(film + " batch " + b)
	}
	h.sub = film
	if c := p.String(); c != "" {
		h.sub = strings.TrimPrefix(film+", "+c, ", ")
	}
	return h
}

// cautioned returns the heading for a figure that tells a development time of
// today.
func (h heading) cautioned(today *scene.Adjustment) heading {
	h.foot = uncorrected(today) + "\n" + startingPoint + " " + caution + " " + furtherCaution
	return h
}

const (
	footSize = 6
	footLine = 1.25 * vg.Length(footSize)
)

// footLines returns the foot in lines across the page.
func (h heading) footLines(page draw.Canvas) []string {
	if h.foot == "" {
		return nil
	}
	const most = 6
	var lines []string
	for s := range strings.SplitSeq(strings.Trim(h.foot, "\n"), "\n") {
		lines = append(lines, wrapped(footSize, page.Size().X-2*pageMargin, s, most)...)
	}
	return lines
}

// below returns the page less margins, heading and foot.
func (h heading) below(page draw.Canvas) draw.Canvas {
	const apart = 2
	foot := vg.Length(0)
	if lines := h.footLines(page); len(lines) > 0 {
		foot = vg.Length(len(lines))*footLine + apart
	}
	return draw.Crop(page, pageMargin, -pageMargin, pageMargin+foot, -pageMargin-2*1.4*titleSize)
}

// draw sets the heading at the top of the page, beginning at x, and the foot at
// the bottom.
func (h heading) draw(page draw.Canvas, x vg.Length) {
	room := page.Max.X - pageMargin - x
	y := page.Max.Y - pageMargin - titleSize
	size, s := fitted(titleSize, room, h.title)
	write(page, size, ink, fromLeft, vg.Point{X: x, Y: y}, s)
	size, s = fitted(bodySize, room, h.sub)
	write(page, size, faint, fromLeft, vg.Point{X: x, Y: y - 1.3*titleSize}, s)

	lines := h.footLines(page)
	for i, line := range lines {
		y := page.Min.Y + pageMargin + footLine*vg.Length(len(lines)-1-i)
		write(page, footSize, ink, fromLeft, vg.Point{X: page.Min.X + pageMargin, Y: y}, line)
	}
}

// fitted returns the size, no larger than the one given, at which s is no
// wider than room; a text that would become unreadable is cut short instead.
func fitted(size, room vg.Length, s string) (vg.Length, string) {
	s = printable.Text(strings.Join(strings.Fields(s), " "))
	if w := textWidth(size, s); w > room {
		size = max(min(size, leastSize), size*room/w*0.999)
	}
	return size, shortened(size, room, s)
}

// shortened cuts s short where it is wider than room.
func shortened(size, room vg.Length, s string) string {
	s = printable.Text(s)
	if textWidth(size, s) <= room {
		return s
	}
	r := []rune(s)
	cut := func(left int) string { return strings.TrimSpace(string(r[:left])) + "..." }
	fitting := sort.Search(len(r), func(left int) bool { return textWidth(size, cut(left)) > room }) - 1
	return cut(max(0, fitting))
}

// wrapped returns s in lines no wider than room, at most so many; what is left
// then is cut short.
func wrapped(size, room vg.Length, s string, most int) []string {
	var lines []string
	at, width := "", vg.Length(0)
	words := strings.Fields(s)
	for i, word := range words {
		next := textWidth(size, word)
		if spaced := textWidth(size, " ") + next; at == "" {
			at, width = word, next
		} else if width+spaced <= room || width+spaced < room+1 && textWidth(size, at+" "+word) <= room { // a sum of words is rounded
			at, width = at+" "+word, width+spaced
		} else if len(lines) == most-1 {
			at += " " + strings.Join(words[i:], " ")
			break
		} else {
			lines = append(lines, shortened(size, room, at))
			at, width = word, next
		}
	}
	return append(lines, shortened(size, room, at))
}
