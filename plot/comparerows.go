package plot

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	gplot "gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"sensito/plot/internal/parts"
	"sensito/sensito"
	"sensito/sensito/compare"
)

// differenceRows are the differences of each trial and the first in a few
// quantities: a row a trial, a column a quantity, a whisker for each.
type differenceRows struct {
	rows    []compareRow
	columns []differenceColumn
	column  bool // of a narrow page: two bands of columns under each other
}

// compareRow is one trial.
type compareRow struct {
	name, short, detail string
	trial               int
	look                *parts.Look // nil for a trial that is not compared
}

// differenceColumn is one quantity.
type differenceColumn struct {
	title    string
	quantity string
	places   int
	axis     *gplot.Plot
	whiskers []*parts.Whisker // by row; nil for one that is not known
}

var differenceColumns = []differenceColumn{
	{title: "speed, stops", quantity: compare.DiffSpeedStops, places: 2},
	{title: "time, min", quantity: compare.DiffMinutes, places: 1},
	{title: "base plus fog", quantity: compare.DiffBaseFog, places: 3},
	{title: "toe, log H", quantity: compare.DiffToe, places: 2},
}

func newDifferenceRows(c *compare.Comparison, o Options, column bool) *differenceRows {
	b := &differenceRows{column: column}
	b.addRows(c)
	for _, col := range differenceColumns {
		col.add(c, b.rows, o)
		b.columns = append(b.columns, col)
	}
	return b
}

// addRows adds the first trial, then the others from the fastest to the slowest,
// or by time where no speed is known, and those that are not compared.
func (b *differenceRows) addRows(c *compare.Comparison) {
	looks, short := parts.Unordered(len(c.Trials)), shortNames(c)
	for i, t := range c.Trials {
		r := compareRow{name: t.Name, short: short[i], trial: i, detail: "not compared"}
		if t.Reason == nil {
			r.look = &looks[i]
			r.detail = compareDetail(t)
		}
		b.rows = append(b.rows, r)
	}
	rank := func(r compareRow) [2]float64 {
		switch t := c.Trials[r.trial]; {
		case r.trial == reference(c):
			return [2]float64{0, 0}
		case t.Reason != nil:
			return [2]float64{3, 0}
		case t.Speed != nil:
			return [2]float64{1, -float64(t.Speed.Value)}
		default:
			return [2]float64{2, float64(t.Minutes.Value)}
		}
	}
	slices.SortStableFunc(b.rows, func(a, b compareRow) int {
		x, y := rank(a), rank(b)
		return cmp.Or(cmp.Compare(x[0], y[0]), cmp.Compare(x[1], y[1]))
	})
}

// compareDetail tells time and speed of a trial.
func compareDetail(t *compare.Compared) string {
	text := keyDetail(t.Minutes.Value, t.Speed)
	if ofToday(t.Answer.Today) != "" {
		text = "today " + text + "; as tested and drawn " + keyDetail(t.Answer.Tested().Minutes.Value, cmp.Or(t.UncorrectedSpeed, t.Speed))
	}
	if t.Answer.Extrapolated {
		text += ", outside the tested times"
	}
	return text
}

func keyDetail(m sensito.Minutes, speed *sensito.Estimate[sensito.Speed]) string {
	if speed == nil {
		return parts.Planned(m)
	}
	return fmt.Sprintf("%s, speed %.0f", parts.Planned(m), float64(speed.Value))
}

// add adds the whiskers and the axis that holds them.
func (d *differenceColumn) add(c *compare.Comparison, rows []compareRow, o Options) {
	d.whiskers = make([]*parts.Whisker, len(rows))
	var ends []float64
	for i, r := range rows {
		if r.trial == reference(c) {
			d.whiskers[i] = &parts.Whisker{XY: plotter.XY{Y: -float64(i)}, Filled: true, Across: true, Look: *r.look}
			continue
		}
		for _, x := range fromReference(c, r.trial) {
			if x.Quantity != d.quantity || x.Value == nil {
				continue
			}
			low, high := x.Value.Interval(o.Confidence)
			d.whiskers[i] = &parts.Whisker{XY: plotter.XY{X: x.Value.Value, Y: -float64(i)}, Low: low, High: high, Filled: x.Real, Across: true, Look: *r.look}
			ends = append(ends, max(math.Abs(low), math.Abs(high)))
		}
	}
	d.axis = parts.NewAxes("", "")
	d.axis.HideY()
	d.axis.Y.Min, d.axis.Y.Max = -float64(len(rows))+0.5, 0.5
	d.axis.X.Tick.Marker = parts.DecimalTicks{Want: 4}
	d.axis.X.Min, d.axis.X.Max = 0, 0
	if len(ends) == 0 {
		d.axis.X.Min, d.axis.X.Max = -1, 1
		return
	}
	const most = 4 // times the surest; what errs by more has arrows
	reach := most * slices.Min(ends)
	for _, w := range d.whiskers {
		if w != nil {
			d.axis.X.Min = min(d.axis.X.Min, w.X, max(w.Low, w.X-reach))
			d.axis.X.Max = max(d.axis.X.Max, w.X, min(w.High, w.X+reach))
		}
	}
	by := 0.08 * (d.axis.X.Max - d.axis.X.Min)
	d.axis.X.Min, d.axis.X.Max = d.axis.X.Min-by, d.axis.X.Max+by
}

const (
	differenceTitle   = 1.5 * parts.BodySize
	differenceAxis    = vg.Length(18) // for the tick labels of a column
	differenceLeading = 1.2 * parts.SmallSize
	differenceLead    = vg.Length(6) // between rows
	differenceGap     = vg.Length(10)
	differenceBandGap = vg.Length(8)
	differenceMost    = 5 // that have room for details in every band of a narrow page
)

// nameWidth returns the width of the names, of a block so wide.
func (b *differenceRows) nameWidth(wide vg.Length) vg.Length {
	var w vg.Length
	for _, r := range b.rows {
		name := r.name
		if b.column {
			name = r.short
		}
		w = max(w, parts.TextWidth(parts.SmallSize, name))
	}
	return min(w, 0.36*wide)
}

// label returns the lines of a row's name and of its details in a band of columns.
func (b *differenceRows) label(i, band int, wide vg.Length) (name, detail []string) {
	r, room := b.rows[i], b.nameWidth(wide)
	if !b.column {
		return parts.Wrapped(parts.SmallSize, room, r.name, 2), parts.Wrapped(parts.LeastSize, room, r.detail, 2)
	}
	name = parts.Wrapped(parts.SmallSize, room, r.short, 2)
	if band == 0 || len(b.rows) <= differenceMost && r.look != nil {
		detail = parts.Wrapped(parts.LeastSize, room, r.detail, 3)
	}
	return name, detail
}

// bands returns how many columns stand beside each other, and how often.
func (b *differenceRows) bands() (columns, bands int) {
	if b.column {
		return 2, 2
	}
	return 4, 1
}

// pitch returns the distance of rows in a band.
func (b *differenceRows) pitch(band int, wide vg.Length) vg.Length {
	most := 0
	for i := range b.rows {
		name, detail := b.label(i, band, wide)
		most = max(most, len(name)+len(detail))
	}
	return differenceLeading*vg.Length(most) + differenceLead
}

// height returns what the rows take on a page so wide.
func (b *differenceRows) height(wide vg.Length) vg.Length {
	_, bands := b.bands()
	h := differenceBandGap * vg.Length(bands-1)
	for band := range bands {
		h += differenceTitle + differenceAxis + vg.Length(len(b.rows))*b.pitch(band, wide)
	}
	return h
}

// cells returns the areas of the data of all columns.
func (b *differenceRows) cells(area draw.Canvas) []draw.Canvas {
	columns, _ := b.bands()
	wide := area.Size().X
	left := area.Min.X + b.nameWidth(wide) + compareLabelGap + differenceGap
	each := (area.Max.X - left - differenceGap*vg.Length(columns-1)) / vg.Length(columns)
	out := make([]draw.Canvas, len(b.columns))
	top := area.Max.Y
	for i := range out {
		band, k := i/columns, i%columns
		if band > 0 && k == 0 {
			top -= differenceTitle + differenceAxis + differenceBandGap + vg.Length(len(b.rows))*b.pitch(band-1, wide)
		}
		c := area
		c.Min.X = left + vg.Length(k)*(each+differenceGap)
		c.Max.X = c.Min.X + each
		c.Max.Y = top - differenceTitle
		c.Min.Y = c.Max.Y - vg.Length(len(b.rows))*b.pitch(band, wide)
		out[i] = c
	}
	return out
}

func (b *differenceRows) draw(area draw.Canvas) {
	columns, _ := b.bands()
	cells := b.cells(area)
	for i := range b.columns {
		if i%columns == 0 {
			b.drawNames(area, cells[i], i/columns)
		}
	}
	for i, d := range b.columns {
		d.draw(cells[i], cells[i].Size().Y/vg.Length(len(b.rows)))
	}
}

// drawNames sets the names of the trials beside the rows of a band, with their
// symbols, and a thin line to the whiskers.
func (b *differenceRows) drawNames(area, cell draw.Canvas, band int) {
	wide := area.Size().X
	pitch := b.pitch(band, wide)
	x := area.Min.X + compareLabelGap
	for i, r := range b.rows {
		y := cell.Max.Y - (vg.Length(i)+0.5)*pitch
		area.StrokeLine2(parts.Line(0.5, parts.GridGrey), cell.Min.X-differenceGap/2, y, area.Max.X, y)
		if r.look != nil {
			r.look.Symbol.Draw(area, r.look.Color, vg.Point{X: area.Min.X + 4, Y: y})
		}
		name, detail := b.label(i, band, wide)
		top := y + differenceLeading*vg.Length(len(name)+len(detail))/2
		for k, s := range append(slices.Clone(name), detail...) {
			size, col := vg.Length(parts.SmallSize), parts.Ink
			if k >= len(name) {
				size, col = parts.LeastSize, parts.Faint
			}
			at := top - differenceLeading*(vg.Length(k)+0.5) - parts.CapHeight*size/2
			parts.Write(area, size, col, parts.FromLeft, vg.Point{X: x, Y: at}, s)
		}
	}
}

// draw draws one column: its axis below, nothing of the first as a line, the
// whiskers with their values above them.
func (d *differenceColumn) draw(c draw.Canvas, pitch vg.Length) {
	size, title := parts.Fitted(parts.BodySize, c.Size().X+differenceGap/2, d.title)
	parts.Write(c, size, parts.Ink, parts.FromLeft, vg.Point{X: c.Min.X, Y: c.Max.Y + 4}, title)
	x, _ := d.axis.Transforms(&c)
	c.StrokeLine2(parts.Line(0.6, parts.Ink), c.Min.X, c.Min.Y, c.Max.X, c.Min.Y)
	end := c.Min.X - differenceGap
	for _, t := range d.axis.X.Tick.Marker.Ticks(d.axis.X.Min, d.axis.X.Max) {
		at := x(t.Value)
		half := parts.TextWidth(parts.SmallSize, t.Label) / 2
		if t.Label == "" || at-half < end {
			continue
		}
		end = at + half + 4
		c.StrokeLine2(parts.Line(0.5, parts.Ink), at, c.Min.Y-3, at, c.Min.Y)
		parts.Write(c, parts.SmallSize, parts.Ink, parts.Centred, vg.Point{X: at, Y: c.Min.Y - 5 - parts.CapHeight*parts.SmallSize}, t.Label)
	}
	c.StrokeLine2(parts.Line(0.8, parts.Faint), x(0), c.Min.Y, x(0), c.Max.Y)
	for i, w := range d.whiskers {
		y := c.Max.Y - (vg.Length(i)+0.5)*pitch
		if w == nil {
			parts.Write(c, parts.LeastSize, parts.Faint, parts.Centred, vg.Point{X: (c.Min.X + c.Max.X) / 2, Y: y + 2}, "not known")
			continue
		}
		w.Plot(c, d.axis)
		if w.Low == w.High { // the first itself
			continue
		}
		const least = 16 // of a pitch with room for the value
		if pitch < least {
			continue
		}
		text := signed(w.X, d.places)
		half := parts.TextWidth(parts.LeastSize, text) / 2
		at := min(max(x(w.X), c.Min.X+half), c.Max.X-half)
		c.SetColor(parts.Paper) // on the line of the first
		c.Fill(vg.Rectangle{Min: vg.Point{X: at - half - 1, Y: y + 3.5}, Max: vg.Point{X: at + half + 1, Y: y + 4.5 + parts.CapHeight*parts.LeastSize}}.Path())
		parts.Write(c, parts.LeastSize, parts.Ink, parts.Centred, vg.Point{X: at, Y: y + 4}, text)
	}
}

// signed returns a difference with its sign.
func signed(v float64, places int) string {
	text := parts.Fixed(v, places)
	if math.Round(v*math.Pow(10, float64(places))) > 0 {
		return "+" + text
	}
	return text
}

// numbers returns a series for each quantity and trial.
func (b *differenceRows) numbers() []series {
	var out []series
	for _, d := range b.columns {
		for i, w := range d.whiskers {
			if w == nil || w.Low == w.High {
				continue
			}
			remark := "not proven"
			if w.Filled {
				remark = "proven"
			}
			out = append(out, series{panel: CompareDifferences, name: b.rows[i].name, y: "difference of " + d.title + ", from the first",
				values: []value{{XY: plotter.XY{X: math.NaN(), Y: w.X}, low: w.Low, high: w.High, remark: remark}}})
		}
	}
	return out
}
