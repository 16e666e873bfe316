package overlay

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"sensito/plot/internal/parts"
)

// line is one of the legend.
type line struct {
	text  string
	size  vg.Length
	signs []sign // in place of a text
}

const leading = 1.35

// legend returns what stands below the picture: its title, what was read, what was not and why,
// and what the signs mean.
func (b *body) legend() []line {
	var out []line
	add := func(size vg.Length, most int, text string) {
		for _, s := range parts.Wrapped(size, b.room, text, most) {
			out = append(out, line{text: s, size: size})
		}
	}
	if b.title != "" {
		add(parts.TitleSize, 2, b.title)
	}
	for _, s := range b.seen.Text {
		add(parts.BodySize, 3, s)
	}
	for _, r := range b.seen.Rows {
		for _, s := range r.notRead() {
			add(parts.BodySize, 3, s)
		}
	}
	used := b.room // of the line that signs are put on
	for _, s := range b.signs() {
		if used += s.width(); used > b.room {
			out = append(out, line{size: parts.SmallSize})
			used = s.width()
		}
		last := &out[len(out)-1]
		last.signs = append(last.signs, s)
	}
	return out
}

// notRead says which steps of a row are not read, a sentence for each reason.
func (r Row) notRead() []string {
	name := r.Name
	if name == "" {
		name = "row"
	}
	if r.Proposed {
		return []string{name + ": ends proposed, nothing read"}
	}
	var reasons []string
	by := map[string][]int{}
	for _, s := range r.Steps {
		if s.Why == "" {
			continue
		}
		if by[s.Why] == nil {
			reasons = append(reasons, s.Why)
		}
		by[s.Why] = append(by[s.Why], s.Number)
	}
	var out []string
	for _, why := range reasons {
		steps := "steps "
		if len(by[why]) == 1 {
			steps = "step "
		}
		out = append(out, fmt.Sprintf("%s: %s%s not read: %s", name, steps, ranges(by[why]), why))
	}
	return out
}

// ranges writes numbers as "1 to 3, 5".
func ranges(numbers []int) string {
	numbers = slices.Sorted(slices.Values(numbers))
	var out []string
	for i := 0; i < len(numbers); {
		j := i
		for j+1 < len(numbers) && numbers[j+1] == numbers[j]+1 {
			j++
		}
		switch first := strconv.Itoa(numbers[i]); j - i {
		case 0:
			out = append(out, first)
		case 1:
			out = append(out, first, strconv.Itoa(numbers[j]))
		default:
			out = append(out, first+" to "+strconv.Itoa(numbers[j]))
		}
		i = j + 1
	}
	return strings.Join(out, ", ")
}

// sign is what a sign means, and how it is drawn in a box.
type sign struct {
	text string
	draw func(c draw.Canvas, q quad)
}

// signs returns those that occur.
func (b *body) signs() []sign {
	read, crossed, aside := false, false, false
	for _, r := range b.seen.Rows {
		for _, s := range r.Steps {
			read = read || s.Why == "" && !r.Proposed
			crossed = crossed || s.Why != ""
			aside = aside || len(s.Aside) > 0
		}
	}
	var out []sign
	if read {
		out = append(out, sign{"read", func(c draw.Canvas, q quad) { rimmed(c, thin, nil, q.lines()) }})
	}
	if crossed {
		out = append(out, sign{"not read", func(c draw.Canvas, q quad) {
			rimmed(c, thin, nil, q.lines(), []vg.Point{q[0], q[2]}, []vg.Point{q[1], q[3]})
		}})
	}
	if aside {
		out = append(out, sign{"set aside (dust, scratches)", func(c draw.Canvas, q quad) {
			const half = 1.3
			m := q.middle()
			to := vg.Point{X: half, Y: half}
			box := vg.Rectangle{Min: m.Sub(to), Max: m.Add(to)}
			rimmed(c, thin, nil, corners(box).lines())
			c.SetColor(dark)
			c.Fill(box.Path())
		}})
	}
	return out
}

// legendHeight returns the room below the picture.
func (b *body) legendHeight() vg.Length {
	h := vg.Length(0)
	for _, l := range b.lines {
		h += leading * l.size
		if l.signs != nil {
			h += signGap
		}
	}
	if h > 0 {
		h += legendGap
	}
	return h
}

const (
	legendGap = vg.Length(14) // between picture and legend: a line of numbers may stand there
	signGap   = vg.Length(4)  // above the signs
)

// drawLegend sets the legend below a height.
func (b *body) drawLegend(page draw.Canvas, top vg.Length) {
	y := top - legendGap
	for _, l := range b.lines {
		if l.signs != nil {
			y -= signGap
		}
		y -= leading * l.size
		at := vg.Point{X: page.Min.X + margin, Y: y + (leading-1)*l.size}
		for _, s := range l.signs {
			s.set(page, at, l.size)
			at.X += s.width()
		}
		parts.Write(page, l.size, parts.Ink, parts.FromLeft, at, l.text)
	}
}

// The box that a sign stands in, and the gaps after it and after its text.
const (
	signWide, signHigh  = vg.Length(13), vg.Length(10)
	signText, signApart = vg.Length(4), vg.Length(14)
)

// width returns the room that a sign and its text need.
func (s sign) width() vg.Length {
	return signWide + signText + parts.TextWidth(parts.SmallSize, s.text) + signApart
}

// set draws the sign on a grey box, with its text.
func (s sign) set(page draw.Canvas, at vg.Point, size vg.Length) {
	const in = 2.4
	low := at.Y + parts.CapHeight*size/2 - signHigh/2
	page.SetColor(parts.Faint)
	page.Fill(vg.Rectangle{Min: vg.Point{X: at.X, Y: low}, Max: vg.Point{X: at.X + signWide, Y: low + signHigh}}.Path())
	l, r, d, u := at.X+in, at.X+signWide-in, low+in, low+signHigh-in
	s.draw(page, quad{{X: l, Y: d}, {X: r, Y: d}, {X: r, Y: u}, {X: l, Y: u}})
	parts.Write(page, size, parts.Ink, parts.FromLeft, vg.Point{X: at.X + signWide + signText, Y: at.Y}, s.text)
}
