package parts

import (
	"image/color"
	"sort"
	"strings"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"sensito/sensito/printable"
)

// PageMargin is left free on every side of a figure.
const PageMargin = vg.Length(10)

// LeastSize is the smallest type that is set, in points (common practice, no
// source).
const LeastSize = vg.Length(6.5)

// Heading is the answer of a figure, its title, with the conditions below it in
// smaller type, and what stands at its foot.
type Heading struct {
	Title, Sub, Foot string
	Bare             bool // the page of HTML that the figure stands on says it all
}

// Description says below the title what a figure shows.
func (h Heading) Description() string { return h.Sub }

// Caption explains what a figure does not name in place.
func (h Heading) Caption() string { return h.Foot }

const (
	titleLine = 1.25 * vg.Length(TitleSize)
	subLine   = 1.3 * vg.Length(BodySize)
	footLine  = 1.25 * vg.Length(LeastSize)
)

// block is text in lines of one size.
type block struct {
	lines         []string
	size, leading vg.Length
	vg.Length     // height
}

func newBlock(page draw.Canvas, size, leading vg.Length, s string, most int) block {
	b := block{size: size, leading: leading}
	if s = strings.TrimSpace(s); s == "" {
		return b
	}
	for part := range strings.SplitSeq(s, "\n") {
		b.lines = append(b.lines, Wrapped(size, page.Size().X-2*PageMargin, part, most)...)
	}
	b.Length = leading * vg.Length(len(b.lines))
	return b
}

// blocks returns title, conditions and foot as they stand on a page.
func (h Heading) blocks(page draw.Canvas) (title, sub, foot block) {
	const mostTitle, mostSub, mostFoot = 3, 8, 8
	return newBlock(page, TitleSize, titleLine, h.Title, mostTitle), newBlock(page, BodySize, subLine, h.Sub, mostSub), newBlock(page, LeastSize, footLine, h.Foot, mostFoot)
}

// Below returns the page less margins, heading and foot.
func (h Heading) Below(page draw.Canvas) draw.Canvas {
	if h.Bare {
		return draw.Crop(page, PageMargin, -PageMargin, PageMargin, -PageMargin)
	}
	const apart = 4
	title, sub, foot := h.blocks(page)
	bottom := vg.Length(PageMargin)
	if foot.Length > 0 {
		bottom += foot.Length + apart
	}
	return draw.Crop(page, PageMargin, -PageMargin, bottom, -PageMargin-title.Length-sub.Length-apart)
}

// Draw sets the heading at the top of the page and the foot at the bottom.
func (h Heading) Draw(page draw.Canvas) {
	if h.Bare {
		return
	}
	title, sub, foot := h.blocks(page)
	top := page.Max.Y - PageMargin
	title.draw(page, Ink, top)
	sub.draw(page, Faint, top-title.Length)
	foot.draw(page, Ink, page.Min.Y+PageMargin+foot.Length)
}

// draw sets the lines from a height downwards.
func (b block) draw(page draw.Canvas, col color.Color, top vg.Length) {
	for i, line := range b.lines {
		y := top - b.size - b.leading*vg.Length(i)
		Write(page, b.size, col, FromLeft, vg.Point{X: page.Min.X + PageMargin, Y: y}, line)
	}
}

// Fitted returns the size, no larger than the one given, at which s is no
// wider than room; a text that would become unreadable is cut short instead.
func Fitted(size, room vg.Length, s string) (vg.Length, string) {
	size, s = fitted(size, room, s)
	return size, Shortened(size, room, s)
}

// FittedName is Fitted for a name, which is cut as Abridged cuts it.
func FittedName(size, room vg.Length, s string) (vg.Length, string) {
	size, s = fitted(size, room, s)
	return size, Abridged(size, room, s)
}

func fitted(size, room vg.Length, s string) (vg.Length, string) {
	s = printable.Text(strings.Join(strings.Fields(s), " "))
	if w := TextWidth(size, s); w > room {
		size = max(min(size, LeastSize), size*room/w*0.999)
	}
	return size, s
}

// WrappedName is Wrapped for a name, which is cut as Abridged cuts it.
func WrappedName(size, room vg.Length, s string, most int) []string {
	for whole := room * vg.Length(most); ; whole *= 0.88 {
		lines := Wrapped(size, room, Abridged(size, whole, s), most+1)
		if len(lines) <= most || whole < room {
			return lines[:min(most, len(lines))]
		}
	}
}

// Shortened cuts s short where it is wider than room.
func Shortened(size, room vg.Length, s string) string {
	return cutTo(size, room, s, func(r []rune, left int) string { return strings.TrimSpace(string(r[:left])) + "..." })
}

// Abridged is Shortened for a name: it cuts the middle, since names of one kind often
// differ at their ends alone.
func Abridged(size, room vg.Length, s string) string {
	return cutTo(size, room, s, func(r []rune, left int) string {
		front, back := string(r[:left-left/2]), string(r[len(r)-left/2:])
		return strings.TrimSpace(front) + "..." + strings.TrimSpace(back)
	})
}

// cutTo returns s as it is where it is no wider than room, or else cut to as many
// characters as fit.
func cutTo(size, room vg.Length, s string, cut func(r []rune, left int) string) string {
	s = printable.Text(s)
	if TextWidth(size, s) <= room {
		return s
	}
	r := []rune(s)
	fitting := sort.Search(len(r), func(left int) bool { return TextWidth(size, cut(r, left)) > room }) - 1
	return cut(r, max(0, fitting))
}

// wordsOf returns the words of s between which a line may end: a percent sign or a
// degree stays with its number, and a unit is one word.
func wordsOf(s string) []string {
	var out []string
	for word := range strings.FieldsSeq(s) {
		if n := len(out); n > 0 && (strings.HasPrefix(word, "%") || strings.HasPrefix(word, "°") || out[n-1] == "log10" || out[n-1] == "log10 lx") {
			out[n-1] += " " + word
			continue
		}
		out = append(out, word)
	}
	return out
}

// Wrapped returns s in lines no wider than room, at most so many; what is left
// then is cut short. A word wider than room, such as a sentence of a script that
// sets no spaces, is broken; a number and its percent sign are one word.
func Wrapped(size, room vg.Length, s string, most int) []string {
	var lines []string
	at, width := "", vg.Length(0)
	words := wordsOf(printable.Text(s))
	for len(words) > 0 {
		word := words[0]
		next := TextWidth(size, word)
		spaced := TextWidth(size, " ") + next
		switch {
		case at != "" && (width+spaced <= room || width+spaced < room+1 && TextWidth(size, at+" "+word) <= room): // a sum of words is rounded
			at, width = at+" "+word, width+spaced
		case len(lines) == most-1 && (at != "" || next > room):
			rest := strings.Join(words, " ")
			return append(lines, Shortened(size, room, strings.TrimSpace(at+" "+rest)))
		case at != "":
			lines, at = append(lines, at), ""
			continue
		case next > room && word != "":
			r := []rune(word)
			fits := sort.Search(len(r), func(n int) bool { return TextWidth(size, string(r[:n+1])) > room })
			fits = min(max(1, fits), len(r))
			lines = append(lines, string(r[:fits]))
			if words[0] = string(r[fits:]); words[0] != "" {
				continue
			}
		default:
			at, width = word, next
		}
		words = words[1:]
	}
	if at != "" || len(lines) == 0 {
		lines = append(lines, at)
	}
	return lines
}
