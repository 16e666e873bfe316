package plot

import (
	"image/color"
	"sensito/plot/internal/parts"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// The type of a sheet. Sizes are of that of the baths, and the steps are larger.
// At arm's length a reader wants 9 points for what matters.
const (
	sheetMargin  = 13 * vg.Millimeter
	largestSheet = vg.Length(16)
	leastSheet   = vg.Length(8.5)

	sheetTitle    = 1.15
	sheetHeadline = 1.9
	sheetStep     = 1.15
	sheetTime     = 1.45
	sheetDetail   = 0.85
	sheetNote     = 0.8

	leastNoteLines = 2 // of room to write
	noteLine       = 1.7
	mostWrapped    = 8 // lines of a paragraph, more than any has in type that fits
)

// pen sets text from the top of an area down, or only measures it.
type pen struct {
	page draw.Canvas
	area vg.Rectangle
	y    vg.Length
	base vg.Length // of the last line
	dry  bool
}

// line sets one line and moves on.
func (p *pen) line(size vg.Length, col color.Color, x vg.Length, s string) {
	p.y -= textLeading * size
	p.base = p.y + 0.3*size
	p.at(size, col, parts.FromLeft, x, s)
}

// at sets text on the base of the last line.
func (p *pen) at(size vg.Length, col color.Color, align float64, x vg.Length, s string) {
	if !p.dry {
		parts.Write(p.page, size, col, align, vg.Point{X: x, Y: p.base}, s)
	}
}

// paragraph sets wrapped text.
func (p *pen) paragraph(size vg.Length, col color.Color, s string) {
	for _, l := range parts.Wrapped(size, p.area.Size().X, s, mostWrapped) {
		p.line(size, col, p.area.Min.X, l)
	}
}

// rule draws a line across.
func (p *pen) rule(width vg.Length, from, to vg.Length) {
	if !p.dry {
		p.page.StrokeLine2(parts.Line(width, parts.Ink), from, p.y, to, p.y)
	}
}

// blank draws a line to write on at the base of the last line.
func (p *pen) blank(from, to vg.Length) {
	if !p.dry {
		p.page.StrokeLine2(parts.Line(0.5, parts.Ink), from, p.base-1, to, p.base-1)
	}
}

// fit returns the largest type in which the sheet goes on a page; ok is false
// when there is none.
func (b *sheetBody) fit(w, h vg.Length) (size vg.Length, ok bool) {
	const step = 0.1
	for size = largestSheet; size > leastSheet-step/2; size -= step {
		if p := newPen(parts.Page(w, h), true); b.set(p, size) && p.y >= p.area.Min.Y {
			return size, true
		}
	}
	return 0, false
}

func newPen(page draw.Canvas, dry bool) *pen {
	area := draw.Crop(page, sheetMargin, -sheetMargin, sheetMargin, -sheetMargin).Rectangle
	return &pen{page: page, area: area, y: area.Max.Y, dry: dry}
}

func (b *sheetBody) DrawOn(page draw.Canvas) {
	b.set(newPen(page, false), b.size)
}

// set sets the sheet in a size, its foot on the lower margin where it is drawn,
// and says whether its columns have room.
func (b *sheetBody) set(p *pen, size vg.Length) bool {
	width := p.area.Size().X
	for _, l := range parts.WrappedName(sheetTitle*size, width, b.title, 2) {
		p.line(sheetTitle*size, parts.Ink, p.area.Min.X, l)
	}
	p.paragraph(sheetDetail*size, parts.Faint, b.sub)
	p.y -= 0.25 * size
	headline, text := parts.Fitted(sheetHeadline*size, width, b.headline)
	p.line(headline, parts.Ink, p.area.Min.X, text)
	p.paragraph(sheetDetail*size, parts.Ink, b.basis)
	for _, l := range b.lines {
		p.paragraph(size, parts.Ink, l)
	}
	b.setMix(p, size)
	ok := b.setSteps(p, size)
	p.y -= 0.4 * size
	for _, s := range b.words {
		p.paragraph(sheetDetail*size, parts.Ink, s)
	}
	for _, s := range b.warnings {
		p.paragraph(sheetNote*size, parts.Ink, s)
	}
	b.setRoom(p, size)
	return ok
}

// setMix sets the volumes of the baths.
func (b *sheetBody) setMix(p *pen, size vg.Length) {
	if len(b.mix) == 0 {
		return
	}
	p.y -= 0.5 * size
	width, gap := p.area.Size().X, size
	column := func(i int, most vg.Length) (w vg.Length) {
		for _, row := range b.mix {
			w = max(w, parts.TextWidth(size, row[i]))
		}
		return min(w, most)
	}
	left, right := column(0, 0.36*width), column(2, 0.26*width)
	x := [3]vg.Length{p.area.Min.X, p.area.Min.X + left + gap, p.area.Max.X - right}
	room := [3]vg.Length{left, x[2] - x[1] - gap, right}
	p.line(sheetNote*size, parts.Faint, x[0], "to mix")
	p.at(sheetNote*size, parts.Faint, parts.FromLeft, x[1], "concentrate, water")
	p.rule(0.5, p.area.Min.X, p.area.Max.X)
	for _, row := range b.mix {
		top, lowest := p.y, p.y
		for i, cell := range row {
			p.y = top
			for _, l := range parts.Wrapped(size, room[i], cell, 3) {
				p.line(size, parts.Ink, x[i], l)
			}
			lowest = min(lowest, p.y)
		}
		p.y = lowest
	}
	for _, s := range b.uses {
		p.paragraph(sheetDetail*size, parts.Ink, s)
	}
}

// setSteps sets the steps and says whether their columns have room.
func (b *sheetBody) setSteps(p *pen, size vg.Length) bool {
	p.y -= 0.5 * size
	name, times := sheetStep*size, sheetTime*size
	actual := p.area.Max.X - 4.2*size // room to write begins here
	timeRight := actual - 0.6*size
	clockRight := timeRight - parts.TextWidth(times, "000:00") - 0.4*size
	left := p.area.Min.X + parts.TextWidth(name, "000")
	room := clockRight - parts.TextWidth(name, "000:00") - 0.4*size - left
	p.line(sheetNote*size, parts.Faint, left, "step; shaded: in the dark")
	for _, head := range []struct {
		at vg.Length
		s  string
	}{{clockRight, "clock"}, {timeRight, "time"}, {p.area.Max.X, "actual"}} {
		p.at(sheetNote*size, parts.Faint, parts.FromRight, head.at, head.s)
	}
	p.rule(0.8, p.area.Min.X, p.area.Max.X)
	for _, row := range b.steps {
		names := parts.Wrapped(name, room, row.name, 3)
		var details []string
		if row.detail != "" {
			details = parts.Wrapped(sheetDetail*size, room, row.detail, mostWrapped)
		}
		high := textLeading*(name*vg.Length(len(names))+sheetDetail*size*vg.Length(len(details))) + 0.45*size + boxPitch*size*vg.Length(row.boxLines(room/size))
		b.frame(p, row, high)
		top := p.y
		p.y -= 0.2 * size
		for i, l := range names {
			p.line(name, parts.Ink, left, l)
			if i > 0 {
				continue
			}
			p.at(name, parts.Ink, parts.FromLeft, p.area.Min.X+0.3*size, row.number)
			if row.timed {
				p.at(name, parts.Ink, parts.FromRight, clockRight, row.clock)
				p.at(times, parts.Ink, parts.FromRight, timeRight, row.time)
				p.blank(actual, p.area.Max.X-0.3*size)
			}
		}
		for _, l := range details {
			p.line(sheetDetail*size, parts.Ink, left, l)
		}
		row.setBoxes(p, size, left, room/size)
		p.y = top - high
		p.rule(0.5, p.area.Min.X, p.area.Max.X)
	}
	if b.end != "" {
		p.line(name, parts.Ink, left, "End")
		p.at(name, parts.Ink, parts.FromRight, clockRight, b.end)
	}
	return room > 8*size
}

// The boxes to tick, of the size of the type.
const (
	boxSide  = vg.Length(0.85)
	boxPitch = vg.Length(1.35)
)

// boxLines returns how many lines the boxes of a row take in a room of so many sizes.
func (row sheetRow) boxLines(room vg.Length) int {
	each := max(1, int(room/boxPitch))
	return (row.changes + each - 1) / each
}

// setBoxes draws a box to tick for each change of the bath, and moves on.
func (row sheetRow) setBoxes(p *pen, size, left, room vg.Length) {
	each := max(1, int(room/boxPitch))
	for i := range row.changes {
		if i%each == 0 {
			p.y -= boxPitch * size
		}
		if !p.dry {
			at := vg.Point{X: left + boxPitch*size*vg.Length(i%each), Y: p.y + 0.15*size}
			p.page.SetLineStyle(parts.Line(0.6, parts.Ink))
			p.page.Stroke(vg.Rectangle{Min: at, Max: at.Add(vg.Point{X: boxSide * size, Y: boxSide * size})}.Path())
		}
	}
}

// frame shades a step in the dark and frames one whose time is critical.
func (b *sheetBody) frame(p *pen, row sheetRow, high vg.Length) {
	if p.dry {
		return
	}
	box := vg.Rectangle{Min: vg.Point{X: p.area.Min.X, Y: p.y - high}, Max: vg.Point{X: p.area.Max.X, Y: p.y}}
	if row.dark {
		p.page.SetColor(parts.MarkGrey)
		const ruled = 0.5 // the line above is not painted over
		p.page.Fill(vg.Rectangle{Min: box.Min, Max: vg.Point{X: box.Max.X, Y: box.Max.Y - ruled}}.Path())
	}
	if row.critical {
		const width = 1.6
		inner := vg.Rectangle{Min: vg.Point{X: box.Min.X + width/2, Y: box.Min.Y + width/2}, Max: vg.Point{X: box.Max.X - width/2, Y: box.Max.Y - width/2}}
		p.page.SetLineStyle(parts.Line(width, parts.Ink))
		p.page.Stroke(inner.Path())
	}
}

// setRoom sets the room to write and, below it, the cautions. Where the sheet is
// drawn the cautions stand at the foot and lines fill what is left.
func (b *sheetBody) setRoom(p *pen, size vg.Length) {
	s := sheetDetail * size
	p.y -= 0.9 * size
	x := p.area.Min.X
	p.line(size, parts.Ink, x, "Done")
	x += parts.TextWidth(size, "Done") + size
	rest := (p.area.Max.X - x) / 4
	for i, label := range []string{"date", "developed", "from, °C", "to, °C"} {
		at := x + rest*vg.Length(i)
		p.at(s, parts.Faint, parts.FromLeft, at, label)
		p.blank(at+parts.TextWidth(s, label)+0.3*size, at+rest-0.6*size)
	}
	var foot []string
	for _, c := range b.cautions {
		foot = append(foot, parts.Wrapped(sheetNote*size, p.area.Size().X, c, mostWrapped)...)
	}
	bottom := p.area.Min.Y + textLeading*sheetNote*size*vg.Length(len(foot))
	lines := leastNoteLines
	if !p.dry {
		lines = int((p.y - bottom - 0.5*size) / (noteLine * size))
	}
	for range lines {
		p.y -= noteLine * size
		p.rule(0.4, p.area.Min.X, p.area.Max.X)
	}
	if !p.dry {
		p.y = bottom
	} else {
		p.y -= 0.5 * size
	}
	for _, l := range foot {
		p.line(sheetNote*size, parts.Ink, p.area.Min.X, l)
	}
}
