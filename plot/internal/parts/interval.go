package parts

import (
	"image/color"
	"math"
	"slices"

	gplot "gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// Whisker is a value with its interval: a symbol on a bar with caps. An end of the
// interval that the axes do not hold is drawn as an arrow at their edge.
type Whisker struct {
	plotter.XY
	Low, High float64
	Across    bool // the interval lies along X
	Filled    bool // a solid symbol, of what is proven
	Look      Look // the zero value means Plain
}

// Plot draws bar and symbol.
func (w Whisker) Plot(c draw.Canvas, p *gplot.Plot) {
	look := w.Look
	if look.Color == nil {
		look = Plain
	}
	at := func(v float64) (vg.Point, bool) {
		xy := plotter.XY{X: w.X, Y: v}
		lo, hi := p.Y.Min, p.Y.Max
		if w.Across {
			xy, lo, hi = plotter.XY{X: v, Y: w.Y}, p.X.Min, p.X.Max
		}
		held := math.Min(math.Max(v, lo), hi)
		if w.Across {
			xy.X = held
		} else {
			xy.Y = held
		}
		return Place(c, p, xy), held == v
	}
	low, closedLow := at(w.Low)
	high, closedHigh := at(w.High)
	c.StrokeLines(Line(0.8, look.Color), []vg.Point{low, high})
	along := vg.Point{Y: 1}
	if w.Across {
		along = vg.Point{X: 1}
	}
	w.end(c, look, low, along.Scale(-1), closedLow)
	w.end(c, look, high, along, closedHigh)
	mid := Place(c, p, w.XY)
	if w.Filled {
		look.Symbol.Fill(c, look.Color, mid)
	} else {
		look.Symbol.Draw(c, look.Color, mid)
	}
}

// end draws a cap, or an arrow where the interval goes on.
func (w Whisker) end(c draw.Canvas, look Look, at, outward vg.Point, closed bool) {
	const half = vg.Length(2.5)
	side := vg.Point{X: -outward.Y, Y: outward.X}.Scale(half)
	if closed {
		c.StrokeLines(Line(0.8, look.Color), []vg.Point{at.Sub(side), at.Add(side)})
		return
	}
	ArrowHead(c, look.Color, at, outward)
}

// Ends returns the places that a note should not hide.
func (w Whisker) Ends() plotter.XYs {
	if w.Across {
		return plotter.XYs{w.XY, {X: w.Low, Y: w.Y}, {X: w.High, Y: w.Y}}
	}
	return plotter.XYs{w.XY, {X: w.X, Y: w.Low}, {X: w.X, Y: w.High}}
}

// WhiskerColumn is a column of level whiskers, one a row, about an upright line at
// nothing, with its title above and its axis below. Their values stand above them
// where there is room.
type WhiskerColumn struct {
	Title    string
	Places   int        // of the values
	Whiskers []*Whisker // by row; nil for one that is not known; without an interval, what the others are held against
	axis     *gplot.Plot
}

// What a column takes above and below its rows.
const (
	ColumnTitle = 1.5 * BodySize
	ColumnAxis  = vg.Length(18)
)

// NewWhiskerColumn returns the column with an axis that holds nothing, all values
// and their intervals; of those many times as long as the shortest, a part.
func NewWhiskerColumn(title string, places int, whiskers []*Whisker) *WhiskerColumn {
	d := &WhiskerColumn{Title: title, Places: places, Whiskers: whiskers, axis: NewAxes("", "")}
	d.axis.Y.Min, d.axis.Y.Max = -float64(len(whiskers))+0.5, 0.5
	d.axis.X.Tick.Marker = DecimalTicks{Want: 4}
	d.axis.X.Min, d.axis.X.Max = 0, 0
	var ends []float64
	for i, w := range whiskers {
		if w == nil {
			continue
		}
		w.Across, w.Y = true, -float64(i)
		if w.Low != w.High {
			ends = append(ends, math.Max(math.Abs(w.Low), math.Abs(w.High)))
		}
	}
	if len(ends) == 0 {
		d.axis.X.Min, d.axis.X.Max = -1, 1
		return d
	}
	const most = 4 // times the shortest
	reach := most * slices.Min(ends)
	for _, w := range whiskers {
		if w != nil {
			d.axis.X.Min = min(d.axis.X.Min, w.X, max(w.Low, w.X-reach))
			d.axis.X.Max = max(d.axis.X.Max, w.X, min(w.High, w.X+reach))
		}
	}
	by := 0.08 * (d.axis.X.Max - d.axis.X.Min)
	d.axis.X.Min, d.axis.X.Max = d.axis.X.Min-by, d.axis.X.Max+by
	return d
}

// Draw draws the column; the canvas is that of its rows.
func (d *WhiskerColumn) Draw(c draw.Canvas) {
	const beside = 5 // beyond which the title may reach
	size, title := Fitted(BodySize, c.Size().X+beside, d.Title)
	Write(c, size, Ink, FromLeft, vg.Point{X: c.Min.X, Y: c.Max.Y + 4}, title)
	d.drawAxis(c)
	zero := Place(c, d.axis, plotter.XY{}).X
	c.StrokeLine2(Line(0.8, Faint), zero, c.Min.Y, zero, c.Max.Y)
	for i, w := range d.Whiskers {
		if w == nil {
			y := Place(c, d.axis, plotter.XY{Y: -float64(i)}).Y
			Write(c, LeastSize, Faint, Centred, vg.Point{X: (c.Min.X + c.Max.X) / 2, Y: y + 2}, "not known")
			continue
		}
		w.Plot(c, d.axis)
		if w.Low != w.High && c.Size().Y >= leastValued*vg.Length(len(d.Whiskers))-0.01 {
			d.drawValue(c, w)
		}
	}
}

// drawAxis draws the axis, without the labels that would touch the one before. None
// reaches over half the gap to the next column.
func (d *WhiskerColumn) drawAxis(c draw.Canvas) {
	c.StrokeLine2(Line(0.6, Ink), c.Min.X, c.Min.Y, c.Max.X, c.Min.Y)
	end := c.Min.X - PageMargin
	for _, t := range d.axis.X.Tick.Marker.Ticks(d.axis.X.Min, d.axis.X.Max) {
		at := Place(c, d.axis, plotter.XY{X: t.Value}).X
		half := TextWidth(SmallSize, t.Label) / 2
		middle := min(max(at, c.Min.X-TableGap/2+1+half), c.Max.X+TableGap/2-1-half)
		if t.Label == "" || middle-half < end {
			continue
		}
		end = middle + half + 4
		c.StrokeLine2(Line(0.5, Ink), at, c.Min.Y-3, at, c.Min.Y)
		Write(c, SmallSize, Ink, Centred, vg.Point{X: middle, Y: c.Min.Y - 5 - CapHeight*SmallSize}, t.Label)
	}
}

// drawValue sets a value above its whisker, on paper.
func (d *WhiskerColumn) drawValue(c draw.Canvas, w *Whisker) {
	text := Signed(w.X, d.Places)
	half := TextWidth(LeastSize, text) / 2
	pt := Place(c, d.axis, w.XY)
	pt.X = min(max(pt.X, c.Min.X+half), c.Max.X-half)
	c.SetColor(Paper)
	c.Fill(vg.Rectangle{Min: vg.Point{X: pt.X - half - 1, Y: pt.Y + 3.5}, Max: vg.Point{X: pt.X + half + 1, Y: pt.Y + 4.5 + CapHeight*LeastSize}}.Path())
	Write(c, LeastSize, Ink, Centred, vg.Point{X: pt.X, Y: pt.Y + 4}, text)
}

// Signed returns a difference with its sign, to a number of decimal places.
func Signed(v float64, places int) string {
	text := Fixed(v, places)
	if math.Round(v*math.Pow(10, float64(places))) > 0 {
		return "+" + text
	}
	return text
}

// WhiskerTable is rows of whiskers in columns under each other, with the name and a
// symbol at each row.
type WhiskerTable struct {
	Rows    []WhiskerRow
	Columns []*WhiskerColumn
	Narrow  bool // two columns beside each other, and short names
}

// WhiskerRow names a row.
type WhiskerRow struct {
	Name, Short, Detail string
	Look                *Look // nil for one without whiskers
}

const (
	tableLeading = 1.2 * SmallSize
	tableLead    = vg.Length(6) // between rows
	TableGap     = vg.Length(10)
	tableBandGap = vg.Length(8)
	tableSymbol  = vg.Length(12) // of a row, before its name
	tableDetails = 5             // rows that have room for details in every band of a narrow page
	leastValued  = vg.Length(16) // of a row with room for the value
)

// nameWidth returns the width of the names, of a block so wide.
func (t *WhiskerTable) nameWidth(wide vg.Length) vg.Length {
	var w vg.Length
	for _, r := range t.Rows {
		name := r.Name
		if t.Narrow {
			name = r.Short
		}
		w = max(w, TextWidth(SmallSize, name))
	}
	return min(w, 0.36*wide)
}

// label returns the lines of a row's name and of its details in a band of columns.
func (t *WhiskerTable) label(i, band int, wide vg.Length) (name, detail []string) {
	r, room := t.Rows[i], t.nameWidth(wide)
	if !t.Narrow {
		return WrappedName(SmallSize, room, r.Name, 2), Wrapped(LeastSize, room, r.Detail, 2)
	}
	if band == 0 || len(t.Rows) <= tableDetails {
		name = WrappedName(SmallSize, room, r.Short, 2)
		if band == 0 || r.Look != nil {
			detail = Wrapped(LeastSize, room, r.Detail, 3)
		}
		return name, detail
	}
	return WrappedName(SmallSize, room, r.Short, 1), nil
}

// bands returns how many columns stand beside each other, and how often.
func (t *WhiskerTable) bands() (columns, bands int) {
	if t.Narrow {
		return 2, (len(t.Columns) + 1) / 2
	}
	return len(t.Columns), 1
}

// pitch returns the distance of rows in a band.
func (t *WhiskerTable) pitch(band int, wide vg.Length) vg.Length {
	most := 0
	for i := range t.Rows {
		name, detail := t.label(i, band, wide)
		most = max(most, len(name)+len(detail))
	}
	return max(tableLeading*vg.Length(most)+tableLead, leastValued)
}

// Height returns what the rows take on a page so wide.
func (t *WhiskerTable) Height(wide vg.Length) vg.Length {
	_, bands := t.bands()
	h := tableBandGap * vg.Length(bands-1)
	for band := range bands {
		h += ColumnTitle + ColumnAxis + vg.Length(len(t.Rows))*t.pitch(band, wide)
	}
	return h
}

// cells returns the areas of the data of all columns.
func (t *WhiskerTable) cells(area draw.Canvas) []draw.Canvas {
	columns, _ := t.bands()
	wide := area.Size().X
	left := area.Min.X + t.nameWidth(wide) + tableSymbol + TableGap
	each := (area.Max.X - left - TableGap*vg.Length(columns-1)) / vg.Length(columns)
	out := make([]draw.Canvas, len(t.Columns))
	top := area.Max.Y
	for i := range out {
		band, k := i/columns, i%columns
		if band > 0 && k == 0 {
			top -= ColumnTitle + ColumnAxis + tableBandGap + vg.Length(len(t.Rows))*t.pitch(band-1, wide)
		}
		c := area
		c.Min.X = left + vg.Length(k)*(each+TableGap)
		c.Max.X = c.Min.X + each
		c.Max.Y = top - ColumnTitle
		c.Min.Y = c.Max.Y - vg.Length(len(t.Rows))*t.pitch(band, wide)
		out[i] = c
	}
	return out
}

// Draw draws the table in an area, from its top.
func (t *WhiskerTable) Draw(area draw.Canvas) {
	columns, _ := t.bands()
	cells := t.cells(area)
	for i := range t.Columns {
		if i%columns == 0 {
			t.drawNames(area, cells[i], i/columns)
		}
	}
	for i, d := range t.Columns {
		d.Draw(cells[i])
	}
}

// drawNames sets the names beside the rows of a band, with their
// symbols, and a thin line to the whiskers.
func (t *WhiskerTable) drawNames(area, cell draw.Canvas, band int) {
	wide := area.Size().X
	pitch := t.pitch(band, wide)
	x := area.Min.X + tableSymbol
	for i, r := range t.Rows {
		y := cell.Max.Y - (vg.Length(i)+0.5)*pitch
		area.StrokeLine2(Line(0.5, GridGrey), cell.Min.X-TableGap/2, y, area.Max.X, y)
		if r.Look != nil {
			r.Look.Symbol.Draw(area, r.Look.Color, vg.Point{X: area.Min.X + 4, Y: y})
		}
		name, detail := t.label(i, band, wide)
		top := y + tableLeading*vg.Length(len(name)+len(detail))/2
		for k, s := range append(slices.Clone(name), detail...) {
			size, col := vg.Length(SmallSize), Ink
			if k >= len(name) {
				size, col = LeastSize, Faint
			}
			at := top - tableLeading*(vg.Length(k)+0.5) - CapHeight*size/2
			Write(area, size, col, FromLeft, vg.Point{X: x, Y: at}, s)
		}
	}
}

// Across draws a level arrow with two heads and its label above.
func Across(c draw.Canvas, from, to, y vg.Length, label string) {
	c.StrokeLine2(Line(0.6, Ink), from, y, to, y)
	ArrowHead(c, Ink, vg.Point{X: from, Y: y}, vg.Point{X: -1})
	ArrowHead(c, Ink, vg.Point{X: to, Y: y}, vg.Point{X: 1})
	Write(c, SmallSize, Ink, Centred, vg.Point{X: (from + to) / 2, Y: y + 2.5}, label)
}

// ArrowHead draws a head at a point, in a direction along one axis.
func ArrowHead(c draw.Canvas, col color.Color, tip, direction vg.Point) {
	const length, half = 4, 1.6
	back := tip.Sub(direction.Scale(length))
	side := vg.Point{X: -direction.Y, Y: direction.X}.Scale(half)
	c.FillPolygon(col, []vg.Point{tip, back.Add(side), back.Sub(side)})
}

// RangeBar is a level bar from one value to another with an end of its own at each
// side: a dot where the range ends, an arrow where it goes on.
type RangeBar struct {
	From, To         vg.Length
	Y                vg.Length
	OpenFrom, OpenTo bool
	draw.LineStyle
}

// Draw draws the bar.
func (b RangeBar) Draw(c draw.Canvas) {
	const radius = 2
	c.StrokeLine2(b.LineStyle, b.From, b.Y, b.To, b.Y)
	for _, end := range []struct {
		x    vg.Length
		open bool
		out  vg.Length
	}{{b.From, b.OpenFrom, -1}, {b.To, b.OpenTo, 1}} {
		at := vg.Point{X: end.x, Y: b.Y}
		if end.open {
			ArrowHead(c, b.Color, at.Add(vg.Point{X: end.out * radius}), vg.Point{X: end.out})
		} else {
			FillDot(c, b.Color, radius, at)
		}
	}
}
