package plot

import (
	"fmt"
	"sort"
	"strings"

	gplot "gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"sensito/plot/internal/parts"
)

const (
	rollLeading = vg.Length(12)   // of a row
	rollHead    = vg.Length(22)   // above the rows: names of the levels and of the columns
	mostName    = vg.Length(0.27) // of the width, for the names of the frames
	leastName   = vg.Length(30)   // that says anything
	leastRange  = vg.Length(75)   // of the axis
	rollApart   = vg.Length(6)    // between it and the texts beside it
)

// joined returns as many of the names as there is room for, and how many more
// there are; of one alone that is too long the two ends.
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
	if len(names) == 1 {
		return parts.Abridged(parts.SmallSize, room, names[0])
	}
	rest := more(len(names) - 1)
	return parts.Shortened(parts.SmallSize, room-parts.TextWidth(parts.SmallSize, rest), names[0]) + rest
}

// printed returns what stands on the right of a row.
func (row rollRow) printed() string {
	if row.beyond {
		return "! " + row.print
	}
	return row.print
}

// sides returns what the texts on both sides of the rows take on a page of a width.
func (b *rollBody) sides(w vg.Length) (left, right vg.Length) {
	for _, row := range b.rows {
		right = max(right, parts.TextWidth(parts.SmallSize, row.printed()))
	}
	if b.prints && w >= narrowPlate {
		right = max(right, parts.TextWidth(parts.SmallSize, printColumn))
	}
	for _, row := range b.rows {
		left = max(left, parts.TextWidth(parts.SmallSize, joined(row.names, b.names)))
	}
	return min(left, b.names), right
}

// area returns where the plot stands on a page, its axis included.
func (b *rollBody) area(page draw.Canvas) draw.Canvas {
	left, right := b.sides(page.Size().X)
	area := draw.Crop(b.Below(page), 0, 0, 0, -rollHead)
	c := b.plot.DataCanvas(area)
	return draw.Crop(area, left+rollApart-(c.Min.X-area.Min.X), -right-rollApart+(area.Max.X-c.Max.X), 0, 0)
}

const printColumn = "print on, left over"

func (b *rollBody) data(page draw.Canvas) draw.Canvas { return b.plot.DataCanvas(b.area(page)) }

// height returns the height at which the rows are readable.
func (b *rollBody) height(w vg.Length) vg.Length {
	tall := vg.Length(5000)
	page := parts.Page(w, tall)
	return tall - b.data(page).Size().Y + rollLeading*vg.Length(b.plot.Y.Max-b.plot.Y.Min)
}

// scale marks the axis as closely as a page of a width has room for.
func (b *rollBody) scale(w vg.Length) {
	parts.FitLabel(b.plot, b.area(parts.Page(w, 5000)))
	b.plot.X.Tick.Marker = parts.DecimalTicks{Want: float64(max(2, min(8, b.data(parts.Page(w, 5000)).Size().X/21)))}
}

func (b *rollBody) DrawOn(page draw.Canvas) {
	b.Heading.Draw(page)
	b.plot.Draw(b.area(page))
	c := b.data(page)
	for _, l := range b.levels {
		if l.x != b.aim.x {
			b.drawLevel(c, parts.BaseLine, l)
		}
	}
	b.drawLevel(c, parts.Line(0.8, parts.Ink, 7, 3), b.aim)
	parts.Frame(c)
	half := vg.Length(parts.CapHeight * parts.SmallSize / 2)
	left, _ := b.sides(page.Size().X)
	for _, row := range b.rows {
		at := parts.Place(c, b.plot, row.at.XY)
		aim := parts.Place(c, b.plot, plotter.XY{X: b.aim.x, Y: row.at.Y})
		c.StrokeLines(parts.Line(2, parts.BandGrey), []vg.Point{aim, at})
		row.at.Plot(c, b.plot)
		parts.Write(page, parts.SmallSize, parts.Ink, parts.FromRight, vg.Point{X: c.Min.X - rollApart, Y: at.Y - half}, joined(row.names, left+0.01))
		parts.Write(page, parts.SmallSize, parts.Ink, parts.FromLeft, vg.Point{X: c.Max.X + rollApart, Y: at.Y - half}, row.printed())
	}
	b.drawHead(page, c)
}

func (b *rollBody) drawLevel(c draw.Canvas, style draw.LineStyle, l level) {
	parts.PlotLine(c, b.plot, style, plotter.XYs{{X: l.x, Y: b.plot.Y.Min}, {X: l.x, Y: b.plot.Y.Max}})
}

// drawHead names the levels and the column of the print materials. The aim goes
// before a level that it would touch.
func (b *rollBody) drawHead(page, c draw.Canvas) {
	aim := parts.OtherScale{Marks: []gplot.Tick{{Value: b.aim.x, Label: b.aim.name}}}
	up := c
	up.Max.Y += parts.NoteLeading
	x := func(v float64) vg.Length { return parts.Place(c, b.plot, plotter.XY{X: v}).X }
	half := parts.TextWidth(parts.SmallSize, b.aim.name) / 2
	at := min(max(x(b.aim.x), c.Min.X+half), c.Max.X-half)
	parts.Write(page, parts.SmallSize, parts.Ink, parts.Centred, vg.Point{X: at, Y: up.Max.Y + aim.Height() - parts.SmallSize}, b.aim.name)
	var grades parts.OtherScale
	for _, l := range b.levels {
		grades.Marks = append(grades.Marks, gplot.Tick{Value: l.x, Label: l.name})
	}
	grades.Draw(c, b.plot)
	if b.prints {
		column := printColumn
		if room := page.Max.X - parts.PageMargin - c.Max.X - rollApart; parts.TextWidth(parts.SmallSize, column) > room {
			column = "print on"
		}
		parts.Write(page, parts.SmallSize, parts.Faint, parts.FromLeft, vg.Point{X: c.Max.X + rollApart, Y: up.Max.Y + aim.Height() - parts.SmallSize}, column)
	}
}
