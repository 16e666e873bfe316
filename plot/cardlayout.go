package plot

import (
	"sensito/plot/internal/parts"
	"strings"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// The type of a card. Sizes are of the table's, and no type is smaller than
// leastSize.
const (
	cardMargin  = 5 * vg.Millimeter
	largestCard = vg.Length(10.5)
	comfortable = vg.Length(7.5) // below this the notes are shortened

	titleShare, lineShare, noteShare = 1.35, 0.9, 0.8

	textLeading = 1.25 // of a line, to its size
	rowLeading  = 1.2  // least of a row of the table
	cardGap     = 0.6  // above and below the table, to its size
	cellGap     = 1.6  // between columns, to their size
	closeGap    = 1.0  // the same where the page is narrow
	widest      = 1.75 // of rowLeading, on a page with room to spare

	mostLines = 4 // of a paragraph
)

// cardLayout is a card's text broken into lines for a page.
type cardLayout struct {
	size, lineSize, noteSize vg.Length
	row                      vg.Length // height of a row of the table
	lines, notes             []string
	columns                  []vg.Length // widths, gaps included
	gap                      vg.Length
	height                   vg.Length
}

// layout returns the largest type in which the card fits a page, with the notes
// shortened rather than the type made small. ok is false when a page is too
// small for the smallest type.
func (b *card) layout(w, h vg.Length) (l cardLayout, ok bool) {
	for _, try := range []struct {
		notes []string
		least vg.Length
	}{{b.notes, comfortable}, {b.short, parts.LeastSize}} {
		const step = 0.1
		for size := largestCard; size > try.least-step/2; size -= step {
			for _, gap := range []vg.Length{cellGap, closeGap} {
				l = b.set(size, gap*size, w-2*cardMargin, try.notes)
				if spare := h - 2*cardMargin - l.height; spare >= 0 && sum(l.columns) <= w-2*cardMargin {
					l.row = min(l.row+spare/vg.Length(len(b.table)), widest*size)
					return l, true
				}
			}
		}
	}
	return l, false
}

// set breaks the text into lines for a width.
func (b *card) set(size, gap, w vg.Length, notes []string) cardLayout {
	l := cardLayout{size: size, gap: gap, row: rowLeading * size, lineSize: max(parts.LeastSize, lineShare*size), noteSize: max(parts.LeastSize, noteShare*size),
		columns: make([]vg.Length, len(cardColumns))}
	for _, s := range b.lines {
		l.lines = append(l.lines, parts.Wrapped(l.lineSize, w, s, mostLines)...)
	}
	for _, s := range notes {
		l.notes = append(l.notes, parts.Wrapped(l.noteSize, w, s, mostLines)...)
	}
	for _, row := range b.table {
		for i, cell := range row {
			l.columns[i] = max(l.columns[i], parts.TextWidth(size, cell)+gap)
		}
	}
	l.height = textLeading*(titleShare*size+l.lineSize*vg.Length(len(l.lines))+l.noteSize*vg.Length(len(l.notes))) +
		(rowLeading*vg.Length(len(b.table))+2*cardGap)*size
	return l
}

func (b *card) DrawOn(page draw.Canvas) {
	cutMarks(page)
	l, _ := b.layout(page.Size().X, page.Size().Y)
	area := draw.Crop(page, cardMargin, -cardMargin, cardMargin, -cardMargin)
	y := area.Max.Y
	text := func(size, advance vg.Length, s string) {
		y -= textLeading * advance
		parts.Write(page, size, parts.Ink, parts.FromLeft, vg.Point{X: area.Min.X, Y: y + 0.3*advance}, s)
	}
	titleSize, title := parts.FittedName(titleShare*l.size, area.Size().X, b.title)
	if titleSize < l.lineSize { // the lines below it tell film and developer in full
		titleSize, title = l.lineSize, parts.Abridged(l.lineSize, area.Size().X, b.title)
	}
	text(titleSize, titleShare*l.size, title)
	for _, s := range l.lines {
		text(l.lineSize, l.lineSize, s)
	}
	y -= cardGap * l.size
	y = b.drawTable(page, area, l, y)
	y -= cardGap * l.size
	for _, s := range l.notes {
		text(l.noteSize, l.noteSize, s)
	}
}

// drawTable draws the table from top down and returns where it ends.
func (b *card) drawTable(c, area draw.Canvas, l cardLayout, top vg.Length) vg.Length {
	spare := (area.Size().X - sum(l.columns)) / vg.Length(len(l.columns))
	y, high := top, l.row
	for i, row := range b.table {
		y -= high
		if row[0] == "N" {
			c.SetColor(parts.MarkGrey)
			c.Fill(vg.Rectangle{Min: vg.Point{X: area.Min.X, Y: y}, Max: vg.Point{X: area.Max.X, Y: y + high}}.Path())
		}
		right := area.Min.X
		for k, cell := range row {
			left := right
			right += l.columns[k] + spare
			at := vg.Point{X: right - l.gap/2, Y: y + (l.row-parts.CapHeight*l.size)/2}
			if k == 0 {
				at.X = left + l.gap/2
				parts.Write(c, l.size, parts.Ink, parts.FromLeft, at, cell)
				continue
			}
			// The star hangs, so that the figures stay aligned.
			plain := strings.TrimSuffix(cell, "*")
			parts.Write(c, l.size, parts.Ink, parts.FromRight, at, plain)
			parts.Write(c, l.size, parts.Ink, parts.FromLeft, at, cell[len(plain):])
		}
		if i == 0 {
			c.StrokeLine2(parts.Line(0.6, parts.Ink), area.Min.X, y, area.Max.X, y)
		}
	}
	c.StrokeLine2(parts.Line(0.6, parts.Ink), area.Min.X, y, area.Max.X, y)
	return y
}

func sum(lengths []vg.Length) (total vg.Length) {
	for _, v := range lengths {
		total += v
	}
	return total
}
