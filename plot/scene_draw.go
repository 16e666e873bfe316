package plot

import (
	"image/color"
	"math"
	"slices"

	gplot "gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"sensito/plot/internal/parts"
)

// What stands around the data of the plate.
const (
	patchRow   = vg.Length(13)
	patchGap   = vg.Length(2)
	bracketRow = vg.Length(5) // under tones that run together
	stopsRow   = vg.Length(parts.SmallSize + 3)
	arrowRow   = vg.Length(2 * parts.SmallSize)
	spotsRow   = vg.Length(1.6 * parts.SmallSize)
	printSide  = vg.Length(34) // of the axis of the print

	leastDensity = vg.Length(72) // height of 1.0; on wider pages it is as long as log exposure

	narrowPlate = 120 * vg.Millimeter // below it the axis holds the scene alone
)

// free returns what the plot may fill on a page, its axes included, the size of its
// data there, and how high they want to be.
func (b *plate) free(page draw.Canvas) (area draw.Canvas, size vg.Point, high vg.Length) {
	top, bottom, right := patchRow+patchGap+stopsRow+arrowRow, 2*patchGap+patchRow, 2*patchGap
	if len(b.spots) > 0 {
		top += spotsRow
	}
	if len(b.print.Line) > 0 {
		bottom, right = bottom+patchGap+patchRow+b.under, printSide
	}
	area = draw.Crop(b.Below(page), 0, -right, bottom, -top)
	size = b.plot.DataCanvas(area).Size()
	unit := size.X / vg.Length(b.plot.X.Max-b.plot.X.Min)
	return area, size, max(unit, leastDensity) * vg.Length(b.plot.Y.Max-b.plot.Y.Min)
}

// area returns where the plot stands on a page, its axes included.
func (b *plate) area(page draw.Canvas) draw.Canvas {
	area, size, high := b.free(page)
	if high > size.Y+0.01 {
		return parts.EqualScales(b.plot, area)
	}
	for range 3 { // numbers at the ends of the axis take more or less as it moves
		area.Min.Y += b.plot.DataCanvas(area).Size().Y - high
	}
	return area
}

func (b *plate) data(page draw.Canvas) draw.Canvas { return b.plot.DataCanvas(b.area(page)) }

// height returns the height at which the plate fills a page of a width.
func (b *plate) height(w vg.Length) vg.Length {
	const tall = 5
	page := parts.Page(w, tall*w)
	bottom := b.Below(page).Min.Y
	below := b.area(parts.Page(w, tall*w)).Min.Y - bottom // with the rows of patches
	rows := 2*patchGap + patchRow
	if len(b.print.Line) > 0 {
		rows += patchGap + patchRow + b.under
	}
	h := tall*w - (below - rows)
	_, size, high := b.free(parts.Page(w, h)) // where numbers at the ends of the axis take more
	return h + max(0, high-size.Y)
}

// scale sets the ends of both axes for a page of a width, and their ticks, at every
// 0.3 where there is room for that.
func (b *plate) scale(w vg.Length) {
	x, y := &b.plot.X, &b.plot.Y
	if w < narrowPlate {
		const beside = 0.9 // stops
		b.from, b.to = min(b.darkest, b.point)-beside, b.lightest+beside
		for _, s := range b.spots {
			b.to = max(b.to, s.stops+beside)
		}
		x.Min, x.Max = b.at(b.from), b.at(b.to)
	}
	top := 0.5
	for _, r := range []parts.Ribbon{b.negative, b.print} {
		for _, at := range append(r.Line, r.High...) {
			if at.X >= x.Min && at.X <= x.Max {
				top = max(top, at.Y)
			}
		}
	}
	y.Min, y.Max = -0.05, top+0.1
	parts.FitLabel(b.plot, b.area(parts.Page(w, 5*w)))
	unit := b.data(parts.Page(w, 5*w)).Size().X / vg.Length(b.plot.X.Max-b.plot.X.Min)
	step := func(room vg.Length) gplot.Ticker {
		for _, major := range []float64{0.3, 0.6, 0.9, 1.5} {
			if vg.Length(major)*unit >= room {
				return parts.Steps{Major: major, Every: int(math.Round(major / 0.3))}
			}
		}
		return parts.Steps{Major: 3, Every: 10}
	}
	x.Tick.Marker = step(28)
	y.Tick.Marker = parts.Steps{Major: 0.3, Every: 1}
}

func (b *plate) DrawOn(page draw.Canvas) {
	b.Heading.Draw(page)
	b.plot.Draw(b.area(page))
	c := b.data(page)
	b.drawGround(c)
	b.drawCurves(c)
	b.drawMarks(c)
	parts.Frame(c)
	for _, along := range b.curveNames(c) {
		along.Draw(c)
	}
	for _, m := range b.named {
		m.Draw(c, m.at)
	}
	b.drawAbove(page, c)
	b.drawBelow(page, c)
	if len(b.print.Line) > 0 {
		b.drawPrintAxis(page, c)
	}
}

// x returns where a tone stands.
func (b *plate) x(c draw.Canvas, stops float64) vg.Length {
	return parts.Place(c, b.plot, plotter.XY{X: b.at(stops)}).X
}

// drawGround draws what of the scene lies under the speed point, lines at whole stops and
// the ends of the scene.
func (b *plate) drawGround(c draw.Canvas) {
	if b.lost > 0 {
		left, right := b.x(c, b.darkest), b.x(c, b.darkest+b.lost)
		c.FillPolygon(parts.MarkGrey, []vg.Point{{X: left, Y: c.Min.Y}, {X: right, Y: c.Min.Y}, {X: right, Y: c.Max.Y}, {X: left, Y: c.Max.Y}})
	}
	for s := math.Ceil(b.from); s <= b.to; s++ {
		x := b.x(c, s)
		c.StrokeLine2(parts.Line(0.5, parts.GridGrey), x, c.Min.Y, x, c.Max.Y)
	}
	for _, s := range []float64{b.darkest, b.lightest} {
		x := b.x(c, s)
		c.StrokeLine2(parts.Line(0.6, parts.Faint, 3, 2), x, c.Min.Y, x, c.Max.Y)
	}
}

func (b *plate) drawCurves(c draw.Canvas) {
	for _, r := range []parts.Ribbon{b.negative, b.print} {
		r.PlotBand(c, b.plot)
	}
	parts.PlotLine(c, b.plot, parts.Line(0.9, parts.Ink, 3, 2), b.unflared)
	for _, r := range []parts.Ribbon{b.negative, b.print} {
		r.PlotLine(c, b.plot)
	}
	for _, t := range b.tones {
		dot := func(density float64, col color.Color) {
			parts.FillDot(c, col, 1.6, parts.Place(c, b.plot, plotter.XY{X: b.at(t.Stops), Y: density}))
		}
		if e := t.NetDensity; e != nil {
			dot(float64(e.Value), b.negative.Style.Color)
		}
		if e := t.Print; e != nil {
			dot(float64(e.Value), b.print.Style.Color)
		}
	}
}

// rangeBar returns the ends of the bar of the density range, beside the darkest tone.
func (b *plate) rangeBar(c draw.Canvas) (low, high vg.Point) {
	x := b.at(b.darkest) - besideDarkest
	return parts.Place(c, b.plot, plotter.XY{X: x, Y: b.low}), parts.Place(c, b.plot, plotter.XY{X: x, Y: b.high})
}

// drawMarks draws the range, the lift of flare, the speed point and the spot
// readings.
func (b *plate) drawMarks(c draw.Canvas) {
	low, high := b.rangeBar(c)
	c.StrokeLines(parts.Leader, []vg.Point{high, parts.Place(c, b.plot, plotter.XY{X: b.at(b.lightest), Y: b.high})})
	c.StrokeLines(parts.Line(0.8, parts.Ink), []vg.Point{low, high})
	parts.ArrowHead(c, parts.Ink, low, vg.Point{Y: -1})
	parts.ArrowHead(c, parts.Ink, high, vg.Point{Y: 1})
	for _, l := range b.spotLines(c) {
		c.StrokeLines(parts.Line(0.8, parts.Ink), l)
		parts.ArrowHead(c, parts.Ink, l[0].Sub(vg.Point{Y: 6}), vg.Point{Y: -1})
	}
	if b.lift > 0 {
		tip := parts.Place(c, b.plot, plotter.XY{X: b.at(b.darkest), Y: b.low})
		foot := parts.Place(c, b.plot, plotter.XY{X: b.at(b.darkest), Y: b.low - b.lift})
		c.StrokeLines(parts.Line(1.2, parts.Ink), []vg.Point{foot, tip})
		if tip.Y-foot.Y > 7 {
			parts.ArrowHead(c, parts.Ink, tip.Sub(vg.Point{Y: 1.6}), vg.Point{Y: 1})
		}
	}
	b.speedPoint.Plot(c, b.plot)
}

// spotLines returns the line of each spot reading, from above.
func (b *plate) spotLines(c draw.Canvas) [][]vg.Point {
	var out [][]vg.Point
	for _, s := range b.spots {
		x := b.x(c, s.stops)
		out = append(out, []vg.Point{{X: x, Y: c.Max.Y}, {X: x, Y: c.Min.Y}})
	}
	return out
}

// occupied returns the places that no name should hide.
func (b *plate) occupied(c draw.Canvas) []vg.Point {
	low, high := b.rangeBar(c)
	end := parts.Place(c, b.plot, plotter.XY{X: b.at(b.lightest), Y: b.high})
	lines := [][]vg.Point{{low, high}, {high, end}, parts.Places(c, b.plot, b.speedPoint.Ends())}
	for _, l := range []plotter.XYs{b.negative.Line, b.negative.Low, b.negative.High, b.print.Line, b.print.Low, b.print.High, b.unflared} {
		lines = append(lines, c.ClipLinesXY(parts.Places(c, b.plot, l))...)
	}
	lines = append(lines, b.spotLines(c)...)
	if b.lift > 0 {
		lines = append(lines, parts.Places(c, b.plot, plotter.XYs{{X: b.at(b.darkest), Y: b.low - b.lift}, {X: b.at(b.darkest), Y: b.low}}))
	}
	out := parts.Between(lines...)
	for _, along := range b.curveNames(c) {
		out = append(out, parts.Filled(along.Box())...)
	}
	return out
}

// curveNames returns the names of the curves, each along its curve where it hides
// the fewest tones.
func (b *plate) curveNames(c draw.Canvas) []parts.Along {
	var out []parts.Along
	for _, l := range []struct {
		parts.Ribbon
		name string
	}{{b.negative, "negative"}, {b.print, "print"}} {
		line := c.ClipLinesXY(parts.Places(c, b.plot, l.Line))
		if len(line) == 0 {
			continue
		}
		dots := parts.Between(b.spotLines(c)...)
		for _, t := range b.tones {
			at := b.at(t.Stops)
			for _, curve := range []plotter.XYs{b.negative.Line, b.print.Line} {
				i := slices.IndexFunc(curve, func(p plotter.XY) bool { return math.Abs(p.X-at) < 1e-9 })
				if i >= 0 {
					dots = append(dots, parts.Place(c, b.plot, curve[i]))
				}
			}
		}
		best, fewest := parts.Along{}, len(dots)+1
		for _, at := range []float64{0.85, 0.8, 0.75, 0.7, 0.65, 0.9, 0.3, 0.25, 0.2, 0.15, 0.1} {
			along := parts.Along{Text: l.name, Size: parts.SmallSize, Color: l.Style.Color}
			if !along.Fit(line[0], at) || along.Box().Max.X > c.Max.X || along.Box().Min.X < c.Min.X {
				continue
			}
			if n := parts.Within(along.Box(), dots, 1); n < fewest {
				best, fewest = along, n
			}
		}
		if best.Text != "" {
			out = append(out, best)
		}
	}
	return out
}

// nameInPlace names marks beside their places, and reports whether all find room that
// are not named at the foot; the first that does not is to be named there.
func (b *plate) nameInPlace(page draw.Canvas) bool {
	c := b.data(page)
	taken := b.occupied(c)
	b.named = nil
	for i, m := range b.marks {
		if m.below {
			continue
		}
		k := parts.Callout{Note: m.beside, At: parts.Place(c, b.plot, m.XY)}
		r, ok := k.Place(c, taken)
		if !ok {
			b.marks[i].below = true
			return false
		}
		b.named = append(b.named, placed{k, r})
		taken = append(taken, parts.Filled(r)...)
	}
	return true
}

// drawAbove draws the scene: its patches with the zones, the stops, its range and the
// spot readings.
func (b *plate) drawAbove(page, c draw.Canvas) {
	y := c.Max.Y + patchGap
	b.drawRow(page, c, y, "zone", func(t plateTone) (float64, string, bool) { return t.relative, zoneOf(t.Stops).String(), true })
	y += patchRow
	half := vg.Length(parts.CapHeight * parts.SmallSize / 2)
	patched := map[float64]bool{}
	for _, t := range b.tones {
		patched[t.Stops] = true
	}
	end := vg.Length(0)
	for s := math.Ceil(b.from); s <= b.to; s++ {
		x := b.x(c, s)
		if z := zoneOf(s); !patched[s] && z >= 0 && z <= 10 {
			parts.Write(page, parts.LeastSize, parts.Faint, parts.Centred, vg.Point{X: x, Y: y - patchRow/2 - parts.CapHeight*parts.LeastSize/2}, z.String())
		}
		name := parts.Stops(s)
		if w := parts.TextWidth(parts.SmallSize, name) / 2; x-w > end+2 {
			parts.Write(page, parts.SmallSize, parts.Ink, parts.Centred, vg.Point{X: x, Y: y + 3}, name)
			end = x + w
		}
	}
	parts.Write(page, parts.SmallSize, parts.Ink, parts.FromRight, vg.Point{X: c.Min.X - 4, Y: y + 3}, "stops")
	y += stopsRow + 3
	parts.Across(page, b.x(c, b.darkest), b.x(c, b.lightest), y, b.scene)
	if len(b.spots) == 0 {
		return
	}
	y += arrowRow - half
	b.drawSpots(page, c, y)
}

// drawSpots names the spot readings, each over its place, apart from each other.
func (b *plate) drawSpots(page, c draw.Canvas, y vg.Length) {
	shadow, highlight := b.spots[0], b.spots[1]
	wide := func(s plateSpot) vg.Length { return parts.TextWidth(parts.SmallSize, s.name) }
	left, right := c.Min.X, page.Max.X-parts.PageMargin
	x1 := max(left, b.x(c, shadow.stops)-wide(shadow)/2)
	x2 := min(right-wide(highlight), max(b.x(c, highlight.stops)-wide(highlight)/2, x1+wide(shadow)+8))
	x1 = min(x1, x2-8-wide(shadow))
	parts.Write(page, parts.SmallSize, parts.Ink, parts.FromLeft, vg.Point{X: x1, Y: y}, shadow.name)
	parts.Write(page, parts.SmallSize, parts.Ink, parts.FromLeft, vg.Point{X: x2, Y: y}, highlight.name)
}

// drawBelow draws how the tones look on the negative and in the print.
func (b *plate) drawBelow(page, c draw.Canvas) {
	y := b.area(page).Min.Y - patchGap - patchRow
	b.drawRow(page, c, y, "negative", func(t plateTone) (float64, string, bool) {
		if t.NetDensity == nil {
			return 0, "", false
		}
		d := float64(t.NetDensity.Value)
		return d, parts.Fixed(d, 2), true
	})
	if len(b.print.Line) == 0 {
		return
	}
	b.drawRow(page, c, y-patchGap-patchRow, "print", func(t plateTone) (float64, string, bool) {
		if t.Print == nil {
			return 0, "", false
		}
		d := float64(t.Print.Value)
		return d, parts.Fixed(d, 2), true
	})
	for _, run := range b.joined {
		parts.Bracket(page, b.x(c, b.tones[run[0]].Stops), b.x(c, b.tones[run[1]].Stops), y-patchGap-patchRow-1)
	}
}

// drawRow draws a row of patches a stop wide, with what is written on them where
// that fits.
func (b *plate) drawRow(page, c draw.Canvas, y vg.Length, name string, of func(plateTone) (density float64, written string, ok bool)) {
	base := y + patchRow/2 - parts.CapHeight*parts.SmallSize/2
	parts.Write(page, parts.SmallSize, parts.Ink, parts.FromRight, vg.Point{X: c.Min.X - 4, Y: base}, name)
	bare := b.Bare && !b.fits(c, of)
	for _, t := range b.tones {
		density, written, ok := of(t)
		if !ok {
			continue
		}
		if bare {
			written = ""
		}
		r := vg.Rectangle{Min: vg.Point{X: b.x(c, t.Stops-0.5), Y: y}, Max: vg.Point{X: b.x(c, t.Stops+0.5), Y: y + patchRow}}
		parts.Patch(page, r, density)
		ink := parts.OnTone(density)
		size := vg.Length(parts.SmallSize)
		if parts.TextWidth(size, written) > r.Size().X-1 {
			size = parts.LeastSize
		}
		if parts.TextWidth(size, written) <= r.Size().X-1 {
			parts.Write(page, size, ink, parts.Centred, vg.Point{X: (r.Min.X + r.Max.X) / 2, Y: y + patchRow/2 - parts.CapHeight*size/2}, written)
		}
	}
}

// fits says whether all that is written on a row of patches fits at a size that is
// not made smaller: a page of HTML has the same in its table.
func (b *plate) fits(c draw.Canvas, of func(plateTone) (density float64, written string, ok bool)) bool {
	for _, t := range b.tones {
		if _, written, ok := of(t); ok && parts.TextWidth(parts.SmallSize, written) > b.x(c, 1)-b.x(c, 0)-1 {
			return false
		}
	}
	return true
}

// drawPrintAxis draws the axis of the print, on the scale of the negative.
func (b *plate) drawPrintAxis(page, c draw.Canvas) {
	const length = 4
	var wide vg.Length
	for _, t := range b.plot.Y.Tick.Marker.Ticks(b.plot.Y.Min, b.plot.Y.Max) {
		at := vg.Point{X: c.Max.X, Y: parts.Place(c, b.plot, plotter.XY{X: b.plot.X.Max, Y: t.Value}).Y}
		long := vg.Length(length)
		if t.Label == "" {
			long /= 2
		}
		page.StrokeLine2(parts.Line(0.5, parts.Ink), at.X, at.Y, at.X+long, at.Y)
		parts.Write(page, parts.BodySize, parts.Ink, parts.FromLeft, vg.Point{X: at.X + length + 2, Y: at.Y - parts.CapHeight*parts.BodySize/2}, t.Label)
		wide = max(wide, parts.TextWidth(parts.BodySize, t.Label))
	}
	style := parts.TextStyle(parts.BodySize, text.XCenter, text.YTop)
	style.Rotation, style.Color = math.Pi/2, parts.AxisInk
	page.FillText(style, vg.Point{X: c.Max.X + length + wide + 4, Y: (c.Min.Y + c.Max.Y) / 2}, "density of the print")
}
