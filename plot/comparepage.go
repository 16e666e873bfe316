package plot

import (
	"cmp"
	"fmt"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"sensito/plot/internal/parts"
	"sensito/sensito"
	"sensito/sensito/compare"
)

// compareBody is a page of panels, in two columns with the key of the trials
// last, or one panel with the names of the trials beside it.
type compareBody struct {
	parts.Heading
	panels []*comparePanel
	alone  bool
	key    []keyEntry
}

// keyEntry names one trial.
type keyEntry struct {
	number       int
	name, detail string
	look         *parts.Look // nil for a trial that is not compared
}

func (b *compareBody) addKey(c *compare.Comparison) {
	looks := parts.Unordered(len(c.Trials))
	for i, t := range c.Trials {
		k := keyEntry{number: i + 1, name: t.Name}
		if t.Reason != nil {
			k.detail = "not compared"
		} else {
			k.look = &looks[i]
			k.detail = keyDetail(t.Minutes.Value, t.Speed)
			if ofToday(t.Answer.Today) != "" {
				k.detail = "today " + k.detail + "; as tested and drawn " + keyDetail(t.Answer.Tested().Minutes.Value, cmp.Or(t.UncorrectedSpeed, t.Speed))
			}
			if t.Answer.Extrapolated {
				k.detail += ", outside the tested times"
			}
		}
		b.key = append(b.key, k)
	}
}

func keyDetail(m sensito.Minutes, speed *sensito.Estimate[sensito.Speed]) string {
	if speed == nil {
		return parts.Planned(m)
	}
	return fmt.Sprintf("%s, speed %.0f", parts.Planned(m), float64(speed.Value))
}

// barred says whether any interval is drawn.
func (b *compareBody) barred() bool {
	for _, p := range b.panels {
		for _, l := range p.lines {
			if l.barred() {
				return true
			}
		}
	}
	return false
}

// shareScales gives the panels of equal scales axes of the same length, so that
// one unit is as long in all of them.
func (b *compareBody) shareScales() {
	var x, y float64
	for _, p := range b.panels {
		if p.equal {
			x, y = max(x, p.plot.X.Max-p.plot.X.Min), max(y, p.plot.Y.Max-p.plot.Y.Min)
		}
	}
	for _, p := range b.panels {
		if p.equal {
			p.plot.X.Max, p.top = p.plot.X.Min+x, p.plot.Y.Min+y
		}
	}
}

const (
	panelTitle  = 1.7 * parts.BodySize
	numberLabel = labelGap + parts.BodySize // beside a panel, for the numbers of the lines
	columnGap   = vg.Length(10)
	rowGap      = vg.Length(10)
	leastPanel  = vg.Length(70)
	keyLeading  = 1.25 * parts.SmallSize
)

// rows returns how many rows of panels and key there are.
func (b *compareBody) rows() int {
	if b.alone {
		return 1
	}
	return (len(b.panels) + 2) / 2
}

// nameWidth returns the width of the names beside a panel alone.
func (b *compareBody) nameWidth(page draw.Canvas) vg.Length {
	var w vg.Length
	for _, k := range b.key {
		w = max(w, parts.TextWidth(parts.BodySize, k.name))
	}
	return min(w, page.Size().X/3)
}

// cell returns the area of the ith panel with its axes; the one after the last
// is that of the key.
func (b *compareBody) cell(page draw.Canvas, i int) draw.Canvas {
	a := b.Below(page)
	if b.alone {
		a.Max.Y -= panelTitle
		a.Max.X -= labelGap + labelKey + 2*parts.BodySize + b.nameWidth(page)
		return a
	}
	n := b.rows()
	wide := (a.Size().X - columnGap) / 2
	high := (a.Size().Y - rowGap*vg.Length(n-1)) / vg.Length(n)
	column, row := vg.Length(i%2), vg.Length(i/2)
	a.Min.X += column * (wide + columnGap)
	a.Max.X = a.Min.X + wide
	a.Max.Y -= row * (high + rowGap)
	a.Min.Y = a.Max.Y - high
	a.Max.Y -= panelTitle
	if i < len(b.panels) {
		a.Max.X -= numberLabel
	}
	return a
}

// areas returns where the panels are drawn, with their data in line: sides in
// each column, upper and lower ends in each row. Panels of equal scales get room
// above their lines where they are high, and give up some of their sides where
// they are low.
func (b *compareBody) areas(page draw.Canvas) []draw.Canvas {
	out := make([]draw.Canvas, len(b.panels))
	for i := range out {
		out[i] = b.cell(page, i)
	}
	const columns = 2
	for range 6 {
		data := make([]draw.Canvas, len(out))
		common := make([]draw.Canvas, len(out))
		for i, p := range b.panels {
			if p.equal {
				p.plot.Y.Max = max(p.top, p.fills(out[i]))
			}
			data[i] = p.plot.DataCanvas(out[i])
			common[i] = data[i]
		}
		for i := range out {
			for j := range out {
				if i%columns == j%columns {
					common[i].Min.X, common[i].Max.X = max(common[i].Min.X, data[j].Min.X), min(common[i].Max.X, data[j].Max.X)
				}
				if i/columns == j/columns {
					common[i].Min.Y, common[i].Max.Y = max(common[i].Min.Y, data[j].Min.Y), min(common[i].Max.Y, data[j].Max.Y)
				}
			}
			c, d := common[i], data[i]
			out[i] = draw.Crop(out[i], c.Min.X-d.Min.X, c.Max.X-d.Max.X, c.Min.Y-d.Min.Y, c.Max.Y-d.Max.Y)
		}
	}
	for i, p := range b.panels {
		if p.equal {
			p.plot.Y.Max = max(p.top, p.fills(out[i]))
			out[i] = parts.EqualScales(p.plot, out[i])
		}
	}
	return out
}

// fills returns the upper end of the vertical axis at which the scales are equal
// in an area.
func (p *comparePanel) fills(area draw.Canvas) float64 {
	size := p.plot.DataCanvas(area).Size()
	return p.plot.Y.Min + float64(size.Y/size.X)*(p.plot.X.Max-p.plot.X.Min)
}

// height returns the page height that suits a page of width w: at which panels
// of equal scales, if any, hold their lines, and the others are high enough.
func (b *compareBody) height(w vg.Length) vg.Length {
	const least = 175 // of a row
	lo := least*vg.Length(b.rows()) + w - b.Below(parts.Page(w, w)).Size().Y
	if b.alone {
		if lo = w * 0.6; b.panels[0].equal {
			lo = w * 0.3
		}
	}
	low := func(h vg.Length) bool {
		areas := b.areas(parts.Page(w, h))
		for i, p := range b.panels {
			if p.equal && p.plot.DataCanvas(areas[i]).Max.X < p.plot.DataCanvas(b.cell(parts.Page(w, h), i)).Max.X-8 {
				return true // it gave up some of its side
			}
		}
		return false
	}
	hi := 1.4 * w
	if lo >= hi || !low(lo) {
		return lo
	}
	for hi-lo > 0.5 {
		if mid := (lo + hi) / 2; low(mid) {
			lo = mid
		} else {
			hi = mid
		}
	}
	return hi
}

// room returns an error when a page leaves too little for some panel.
func (b *compareBody) room(page draw.Canvas) error {
	areas := b.areas(page)
	for i, p := range b.panels {
		if err := parts.Room(p.plot.DataCanvas(areas[i]), leastPanel); err != nil {
			return err
		}
	}
	return nil
}

func (b *compareBody) draw(page draw.Canvas) {
	areas := b.areas(page)
	b.Heading.Draw(page)
	for i, p := range b.panels {
		p.plot.Draw(areas[i])
		c := p.plot.DataCanvas(areas[i])
		parts.Frame(c)
		parts.Write(page, parts.BodySize, parts.Ink, parts.FromLeft, vg.Point{X: c.Min.X, Y: c.Max.Y + 0.45*parts.BodySize}, p.title)
		b.drawLabels(page, c, p)
	}
	if !b.alone {
		b.drawKey(page, b.cell(page, len(b.panels)))
	}
}

// drawLabels names the lines at their right ends, with leaders.
func (b *compareBody) drawLabels(page, c draw.Canvas, p *comparePanel) {
	want, ends := make([]vg.Length, len(p.lines)), make([]vg.Point, len(p.lines))
	for i, l := range p.lines {
		ends[i] = parts.Place(c, p.plot, l.along[len(l.along)-1])
		want[i] = ends[i].Y
	}
	at := parts.Spread(want, labelPitch, c.Min.Y+parts.BodySize/2, c.Max.Y-parts.BodySize/2)
	for i, l := range p.lines {
		x := c.Max.X + labelGap
		c.StrokeLines(parts.Leader, []vg.Point{{X: ends[i].X + 1, Y: ends[i].Y}, {X: c.Max.X + 2, Y: ends[i].Y}, {X: x - 2, Y: at[i]}})
		text := vg.Point{X: x, Y: at[i] - parts.CapHeight*parts.BodySize/2}
		parts.Write(page, parts.BodySize, parts.Ink, parts.FromLeft, text, fmt.Sprint(l.number))
		if b.alone {
			from := x + 1.2*parts.BodySize
			b.drawSample(c, vg.Point{X: from, Y: at[i]}, &l.Look)
			text.X = from + labelKey + 4
			size, s := parts.Fitted(parts.BodySize, b.nameWidth(page), b.key[l.number-1].name)
			parts.Write(page, size, parts.Ink, parts.FromLeft, text, s)
		}
	}
}

// drawSample draws a piece of line with its symbol.
func (b *compareBody) drawSample(c draw.Canvas, at vg.Point, l *parts.Look) {
	c.StrokeLine2(l.LineStyle, at.X, at.Y, at.X+labelKey, at.Y)
	l.Symbol.Draw(c, l.Color, vg.Point{X: at.X + labelKey/2, Y: at.Y})
}

// drawKey lists the trials in a cell.
func (b *compareBody) drawKey(page, cell draw.Canvas) {
	const twoLines = 5 // trials that have room for a second line
	pitch := min(cell.Size().Y/vg.Length(len(b.key)), 3*keyLeading)
	y := cell.Max.Y - keyLeading
	for _, k := range b.key {
		parts.Write(page, parts.BodySize, parts.Ink, parts.FromLeft, vg.Point{X: cell.Min.X, Y: y - parts.CapHeight*parts.BodySize/2}, fmt.Sprint(k.number))
		x := cell.Min.X + 1.2*parts.BodySize
		if k.look != nil {
			b.drawSample(page, vg.Point{X: x, Y: y}, k.look)
		}
		at := vg.Point{X: x + labelKey + 5, Y: y - parts.CapHeight*parts.SmallSize/2}
		room := cell.Max.X - at.X
		size, s := parts.Fitted(parts.SmallSize, room, k.detail)
		if len(b.key) > twoLines {
			room -= parts.TextWidth(size, s) + parts.SmallSize
			parts.Write(page, size, parts.Faint, parts.FromRight, vg.Point{X: cell.Max.X, Y: at.Y}, s)
		} else {
			parts.Write(page, size, parts.Faint, parts.FromLeft, vg.Point{X: at.X, Y: at.Y - keyLeading}, s)
		}
		size, s = parts.Fitted(parts.SmallSize, room, k.name)
		parts.Write(page, size, parts.Ink, parts.FromLeft, at, s)
		y -= pitch
	}
}
