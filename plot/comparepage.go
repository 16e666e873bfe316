package plot

import (
	"slices"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"sensito/plot/internal/figure"
	"sensito/plot/internal/parts"
)

// compareBody is a page of the differences, with the panels of lines below them,
// or one of these alone.
type compareBody struct {
	parts.Heading
	rows   *differenceRows // nil for a panel alone
	panels []*comparePanel // the first is large, the others small
	alone  bool
	column bool // the page is as narrow as a column of text
}

const (
	comparePage       = 120 * vg.Millimeter // narrower ones are laid out as a column
	comparePanelTitle = 1.7 * parts.BodySize
	comparePanelGap   = vg.Length(12)
	compareLeast      = vg.Length(45)

	compareLabelGap = vg.Length(12)                    // for leaders
	compareSample   = vg.Length(22)                    // of line and symbol
	comparePitch    = 1.2 * vg.Length(parts.SmallSize) // of names
)

// intervals says whether any interval is drawn.
func (b *compareBody) intervals() bool {
	if b.rows != nil {
		return true
	}
	for _, p := range b.panels {
		for _, l := range p.lines {
			if l.barred() || l.low != nil || p.low != nil {
				return true
			}
		}
	}
	return false
}

// differences says whether what is drawn are differences, proven or not.
func (b *compareBody) differences() bool {
	return b.rows != nil || slices.ContainsFunc(b.panels[0].lines, func(l compareLine) bool { return l.proven != nil })
}

// labelWidth returns what the names take beside a panel, of a page so wide.
func (p *comparePanel) labelWidth(wide vg.Length) vg.Length {
	if !p.named {
		return 0
	}
	var w vg.Length
	for _, l := range p.lines {
		w = max(w, parts.TextWidth(parts.SmallSize, l.short))
	}
	share := vg.Length(0.25)
	if p.column {
		share = 0.2
	}
	return p.labelGap() + p.sample() + 4 + min(w, share*wide)
}

// labelGap returns the room for leaders to the names.
func (p *comparePanel) labelGap() vg.Length {
	if p.column {
		return compareLabelGap / 2
	}
	return compareLabelGap
}

// sample returns the length of a sample of line and symbol, shorter where little
// room is.
func (p *comparePanel) sample() vg.Length {
	if p.column {
		return compareSample / 2
	}
	return compareSample
}

// lines returns the panels that stand beside each other.
func (b *compareBody) lines() [][]*comparePanel {
	var out [][]*comparePanel
	for i, p := range b.panels {
		if i == 2 && !b.column {
			out[1] = append(out[1], p)
			continue
		}
		out = append(out, []*comparePanel{p})
	}
	return out
}

// wanted returns the height that suits a panel so wide, its title included.
func (b *compareBody) wanted(p *comparePanel, wide vg.Length) vg.Length {
	const high = 1000
	wide -= p.labelWidth(wide)
	data := p.plot.DataCanvas(parts.Page(wide, high)).Size()
	axes := high - data.Y
	names := vg.Length(0)
	if p.named {
		names = comparePitch*vg.Length(len(p.lines)) + parts.BodySize
	}
	if p.equal {
		return comparePanelTitle + parts.SmallSize + axes + max(names, data.X*vg.Length((p.top-p.plot.Y.Min)/(p.plot.X.Max-p.plot.X.Min)))
	}
	share := vg.Length(0.5)
	switch {
	case b.column && b.alone:
		share = 0.9
	case b.column:
		share = 0.62
	}
	return comparePanelTitle + axes + max(names, share*data.X)
}

// heights returns the heights that suit the lines of panels on a page so wide.
func (b *compareBody) heights(wide vg.Length) []vg.Length {
	var out []vg.Length
	for _, line := range b.lines() {
		each := (wide - parts.TableGap*vg.Length(len(line)-1)) / vg.Length(len(line))
		h := b.wanted(line[0], each)
		if len(line) == 1 && !line[0].equal && len(out) > 0 {
			h = min(h, 165) // a small one on a narrow page
		}
		out = append(out, h)
	}
	return out
}

// fitLabels breaks the names of axes that are longer than these on a page so wide.
func (b *compareBody) fitLabels(w vg.Length) {
	wide := b.Below(parts.Page(w, w)).Size().X
	for _, line := range b.lines() {
		each := (wide - parts.TableGap*vg.Length(len(line)-1)) / vg.Length(len(line))
		for _, p := range line {
			area := parts.Page(each-p.labelWidth(each), 1000)
			parts.FitLabel(p.plot, area)
			const label = 22 // of a number with its sign, clear of the next
			most := float64(p.plot.DataCanvas(area).Size().X) / label
			switch ticks := p.plot.X.Tick.Marker.(type) {
			case parts.DecimalTicks:
				p.plot.X.Tick.Marker = parts.DecimalTicks{Want: max(2, min(ticks.Want, most))}
			case parts.Steps:
				if p.equal && (p.plot.X.Max-p.plot.X.Min)/ticks.Major > most {
					p.plot.X.Tick.Marker = parts.Steps{Major: 2 * ticks.Major, Every: ticks.Every}
				}
			}
		}
	}
}

// height returns the page height that suits a page so wide.
func (b *compareBody) height(w vg.Length) vg.Length {
	page := parts.Page(w, w)
	below := b.Below(page)
	h := w - below.Size().Y
	if b.rows != nil {
		h += b.rows.Height(below.Size().X)
		if len(b.panels) > 0 {
			h += comparePanelGap
		}
	}
	heights := b.heights(below.Size().X)
	for _, line := range heights {
		h += line
	}
	return h + comparePanelGap*vg.Length(max(0, len(heights)-1))
}

// areas returns where the rows and the panels are drawn. Panels share what the
// rows leave as they wish for it.
func (b *compareBody) areas(page draw.Canvas) (rows draw.Canvas, out []draw.Canvas) {
	a := b.Below(page)
	rows = a
	if b.rows != nil {
		rows.Min.Y = rows.Max.Y - b.rows.Height(a.Size().X)
		a.Max.Y = rows.Min.Y - comparePanelGap
	}
	heights := b.heights(a.Size().X)
	var sum vg.Length
	for _, h := range heights {
		sum += h
	}
	scale := (a.Size().Y - comparePanelGap*vg.Length(len(heights)-1)) / sum
	for i, line := range b.lines() {
		each := (a.Size().X - parts.TableGap*vg.Length(len(line)-1)) / vg.Length(len(line))
		for k, p := range line {
			c := a
			c.Min.X = a.Min.X + vg.Length(k)*(each+parts.TableGap)
			c.Max.X = c.Min.X + each - p.labelWidth(each)
			c.Min.Y = a.Max.Y - scale*heights[i]
			c.Max.Y = a.Max.Y - comparePanelTitle - parts.SmallSize/2 // of a label at the upper end of the axis
			c.Max.Y += c.Max.Y - p.plot.DataCanvas(c).Max.Y           // so that all data end there
			if p.equal {
				p.plot.Y.Max = max(p.top, p.fills(c))
				c = parts.EqualScales(p.plot, c)
			}
			out = append(out, c)
		}
		a.Max.Y -= scale*heights[i] + comparePanelGap
	}
	return rows, out
}

// fills returns the upper end of the vertical axis at which the scales are equal
// in an area.
func (p *comparePanel) fills(area draw.Canvas) float64 {
	size := p.plot.DataCanvas(area).Size()
	return p.plot.Y.Min + float64(size.Y/size.X)*(p.plot.X.Max-p.plot.X.Min)
}

// room returns an error when a page leaves too little for some panel.
func (b *compareBody) room(page draw.Canvas) error {
	rows, areas := b.areas(page)
	for i, p := range b.panels {
		if err := parts.Room(p.plot.DataCanvas(areas[i]), compareLeast); err != nil {
			return err
		}
	}
	if b.rows != nil && len(b.panels) == 0 && rows.Min.Y < b.Below(page).Min.Y-0.01 {
		return parts.Room(draw.Canvas{}, compareLeast)
	}
	return nil
}

func (b *compareBody) DrawOn(page draw.Canvas) {
	rows, areas := b.areas(page)
	b.Heading.Draw(page)
	if b.rows != nil {
		b.rows.Draw(rows)
	}
	for i, p := range b.panels {
		p.plot.Draw(areas[i])
		c := p.plot.DataCanvas(areas[i])
		parts.Frame(c)
		size, title := parts.Fitted(parts.BodySize, page.Max.X-parts.PageMargin-c.Min.X, p.title)
		if len(b.panels) > 1 {
			size, title = parts.Fitted(parts.BodySize, c.Size().X+p.labelWidth(page.Size().X), p.title)
		}
		parts.Write(page, size, parts.Ink, parts.FromLeft, vg.Point{X: c.Min.X, Y: c.Max.Y + 0.45*parts.BodySize}, title)
		if p.named {
			p.drawLabels(page, c)
		}
	}
}

// drawLabels names the lines at their right ends, with leaders.
func (p *comparePanel) drawLabels(page, c draw.Canvas) {
	want, ends := make([]vg.Length, len(p.lines)), make([]vg.Point, len(p.lines))
	for i, l := range p.lines {
		ends[i] = parts.Place(c, p.plot, l.along[len(l.along)-1])
		want[i] = ends[i].Y
	}
	at := parts.Spread(want, comparePitch, c.Min.Y+parts.BodySize/2, c.Max.Y-parts.BodySize/2)
	for i, l := range p.lines {
		x := c.Max.X + p.labelGap()
		c.StrokeLines(parts.Leader, []vg.Point{{X: ends[i].X + 1, Y: ends[i].Y}, {X: c.Max.X + 2, Y: ends[i].Y}, {X: x - 2, Y: at[i]}})
		c.StrokeLine2(l.LineStyle, x, at[i], x+p.sample(), at[i])
		l.Symbol.Draw(c, l.Color, vg.Point{X: x + p.sample()/2, Y: at[i]})
		from := x + p.sample() + 4
		size, s := parts.FittedName(parts.SmallSize, page.Max.X-parts.PageMargin-from, l.short)
		parts.Write(page, size, parts.Ink, parts.FromLeft, vg.Point{X: from, Y: at[i] - parts.CapHeight*size/2}, s)
	}
}

// numbers returns what is drawn, by panel and trial.
func (b *compareBody) Numbers() []figure.Series {
	var out []figure.Series
	if b.rows != nil {
		out = b.rows.Numbers()
	}
	for _, p := range b.panels {
		for _, l := range p.lines {
			s := figure.Series{Panel: p.title, Name: l.name, X: parts.AxisName(p.plot.X), Y: p.plot.Y.Label.Text, Values: figure.Between(l.along, l.low, l.high)}
			for i := range l.proven {
				if l.proven[i] {
					s.Values[i].Remark = "proven"
				}
			}
			out = append(out, s)
			if len(l.points) > 0 && l.proven == nil {
				s.Name, s.Values = l.name+", strips", figure.Plain(l.points)
				out = append(out, s)
			}
		}
	}
	return out
}
