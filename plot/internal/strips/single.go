package strips

import (
	"cmp"
	"fmt"
	"strings"

	gplot "gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"sensito/plot/internal/figure"
	"sensito/plot/internal/parts"
	"sensito/sensito"
	"sensito/sensito/curve"
)

// single is the figure of one strip, of film or of paper: its curve with what is
// measured on it named in place, and below what the readings differ by from the curve.
type single struct {
	parts.Heading
	*stripAxes
	strip    *strip
	lines    []styled
	whiskers []parts.Whisker
	dots     []dot
	extent   *extent // of the range of a paper
	names    []placeName
	measured []figure.Series
}

// styled is a line of its own style.
type styled struct {
	draw.LineStyle
	plotter.XYs
}

// dot marks a place on the curve. One at an end that the steps do not show is open.
type dot struct {
	plotter.XY
	open bool
}

// extent is a distance along the exposures, with an arrow where it goes on.
type extent struct {
	from, to         float64
	base             float64 // the density that the label stands above
	openFrom, openTo bool
	label            string
}

// The lines of what is measured.
var (
	fence        = parts.Line(0.5, parts.Ink, 3, 2)
	triangleLine = parts.Line(0.8, parts.Ink, 5, 2)
)

// newSingle returns the figure of a strip with its axes not yet closed.
func newSingle(m *sensito.Strip, f *curve.Fit, name string, o figure.Options) *single {
	t := m.Trial()
	b := &single{Heading: o.HeadedFor("", t, m.Process()), stripAxes: newStripAxes(t, []*sensito.Strip{m})}
	b.strip = newStrip(m, f, parts.Ordered(1)[0], name, o)
	b.hold(b.strip.span()...)
	b.names = b.strip.asideNames(true)
	b.Foot = curvesFoot([]*strip{b.strip}, o)
	return b
}

// finish closes the axes and adds what hangs on their ends: the level of the base with
// its readings, and the residuals.
func (b *single) finish(c curve.Curve, base, unexposed string) *single {
	b.close(func(int) curve.Curve { return c }, []*strip{b.strip})
	left, right := b.plot.X.Min, b.plot.X.Max
	if b.extent != nil {
		b.extent.base = b.strip.base
	}
	b.lines = append([]styled{{parts.BaseLine, plotter.XYs{{X: left, Y: b.strip.base}, {X: right, Y: b.strip.base}}}}, b.lines...)
	if base != "" {
		short, _, _ := strings.Cut(base, ":")
		at := func(share float64) plotter.XY { return plotter.XY{X: left + share*(right-left), Y: b.strip.base} }
		b.names = append(b.names, placeName{XY: at(0.85), or: plotter.XYs{at(0.9), at(0.95), at(0.8)}, text: base, short: short, up: true})
	}
	if n := len(b.strip.unexposed); n > 0 {
		mean := 0.0
		for _, d := range b.strip.unexposed {
			mean += d / float64(n)
		}
		b.names = append(b.names, placeName{XY: plotter.XY{X: left, Y: mean}, text: readingsOf(unexposed, b.strip.unexposed), short: unexposed, up: true})
	}
	b.panel(parts.NewResiduals(b.strip.residuals(), b.plot, "difference"), residualHeight, "readings less the curve; band: the interval of the curve, not of a reading", "readings less the curve")
	b.lower.Add(plotterOf(func(c draw.Canvas, p *gplot.Plot) { b.drawUnexposed(c, p, b.strip.base) }))
	return b
}

// readingsOf names readings of one thing, by their values while they are few.
func readingsOf(what string, d []float64) string {
	const few = 4
	if len(d) > few {
		return fmt.Sprintf("%d readings of %s", len(d), what)
	}
	var each []string
	for _, v := range d {
		each = append(each, parts.Fixed(v, 2))
	}
	return what + ": " + strings.Join(each, ", ")
}

// newFilmStrip returns the figure of a strip of film.
func newFilmStrip(m *curve.Measured, o figure.Options) *single {
	b := newSingle(m.Strip, m.Fit, parts.Clock(m.Strip.Minutes()), o)
	b.Sub += fmt.Sprintf("\nstrip %d, developed %s", m.Strip.Number(), parts.Clock(m.Strip.Minutes()))
	if m.Gamma != nil {
		b.Sub += ", gamma " + parts.Interval(*m.Gamma, o.Confidence, 2)
	}
	b.measured = measuredSeries([]*curve.Measured{m}, o.Confidence)
	c := m.Fit.Curve
	if w, ok := speedWhisker(m.SpeedPoint, c, b.strip.Look, o.Confidence); ok {
		b.whiskers = append(b.whiskers, w)
		b.hold(w.X)
		b.names = append([]placeName{{XY: w.XY, text: "speed point, 0.10 above base plus fog:\nlog H " + parts.Interval(*m.SpeedPoint, o.Confidence, 2), short: "speed point"}}, b.names...)
		b.lines = append(b.lines, styled{fence, plotter.XYs{w.XY, {X: w.X, Y: 0}}})
		if o.Triangle {
			b.addTriangle(m, w.XY, o)
		}
	}
	if ray, err := curve.IndexRay(c); err == nil && m.ContrastIndex != nil {
		b.addRay(ray, "contrast-index ray: "+parts.Interval(*m.ContrastIndex, o.Confidence, 2))
	}
	base := ""
	if m.BaseFog != nil {
		base = "base plus fog: " + parts.Interval(*m.BaseFog, o.Confidence, 2)
	}
	return b.finish(c, base, "unexposed film")
}

// stripAnswer says in a sentence what a strip of film tells.
func stripAnswer(m *curve.Measured, level float64) string {
	var told []string
	if m.Speed != nil {
		told = append(told, "speed "+parts.Interval(*m.Speed, level, parts.SpeedPlaces(m.Speed.Value)))
	}
	switch {
	case m.ContrastIndex != nil:
		told = append(told, "contrast index "+parts.Interval(*m.ContrastIndex, level, 2))
	case m.AverageGradient != nil:
		told = append(told, "average gradient "+parts.Interval(*m.AverageGradient, level, 2))
	}
	return sentence(told, ", ", "Characteristic curve of the strip of "+parts.Clock(m.Strip.Minutes()))
}

// addRay draws the ray of the contrast index, with dots where it meets the curve.
func (b *single) addRay(r curve.Ray, name string) {
	at := func(h sensito.LogExposure) plotter.XY {
		return plotter.XY{X: float64(h), Y: float64(r.Base) + r.Slope()*float64(h.Sub(r.Start))}
	}
	b.hold(float64(r.Start), float64(r.Far))
	b.lines = append(b.lines, styled{parts.RayLine, plotter.XYs{at(r.Start), at(r.Far)}})
	b.dots = append(b.dots, dot{XY: at(r.Near)}, dot{XY: at(r.Far)})
	b.names = append(b.names, placeName{XY: at(r.Start.Add(r.Far.Sub(r.Start) * 0.62)), text: name, short: "ray", up: true})
}

// The legs of the triangle of ISO 6:1993: over 1.30 log H from the speed point the
// density must rise by 0.80, 0.05 more or less.
const isoRise = 0.80

// addTriangle draws the triangle of ISO 6 from the speed point.
func (b *single) addTriangle(m *curve.Measured, from plotter.XY, o figure.Options) {
	far := from.X + float64(curve.ISORange)
	b.hold(far)
	b.lines = append(b.lines, styled{triangleLine, plotter.XYs{from, {X: far, Y: from.Y}, {X: far, Y: from.Y + isoRise}, from}})
	text := fmt.Sprintf("triangle of ISO 6: %.2f above %.2f log H", isoRise, float64(curve.ISORange))
	if e := m.ISODifference; e != nil {
		text += ",\nhere " + parts.Interval(*e, o.Confidence, 2)
	}
	if m.ISOMet != nil {
		text += map[bool]string{true: ": met", false: ": not met"}[*m.ISOMet]
	} else if m.Strip.Trial().Pictured() != nil {
		text += ": not judged, read in pictures"
	}
	leg := func(share float64) plotter.XY { return plotter.XY{X: far, Y: from.Y + share*isoRise} }
	b.names = append(b.names, placeName{XY: leg(0.3), or: plotter.XYs{leg(0.5), leg(0.15), leg(0.8)}, text: text, short: "ISO 6"})
}

// plotterOf draws what has no type of its own.
type plotterOf func(draw.Canvas, *gplot.Plot)

func (f plotterOf) Plot(c draw.Canvas, p *gplot.Plot) { f(c, p) }

const (
	residualHeight = vg.Length(50) // of the panel
	baseTick       = vg.Length(5)
)

// free returns what the axes may fill.
func (b *single) free(page draw.Canvas) draw.Canvas {
	return draw.Crop(b.Below(page), 0, 0, 0, -b.above())
}

// leastNamed is the width of a page on which the names of places hold values.
const leastNamed = 130 * vg.Millimeter

// shorten moves the values from the names of places to the foot.
func (b *single) shorten() {
	var told []string
	for i, n := range b.names {
		if n.short != n.text {
			told = append(told, strings.ReplaceAll(n.text, "\n", " "))
			b.names[i].text = n.short
		}
	}
	if len(told) > 0 {
		b.Foot = sentence(told, "; ", "") + ".\n" + b.Foot
	}
}

// figure returns the strip on a page of the size asked for, or one that suits it.
func (b *single) figure(o figure.Options) (*figure.Figure, error) {
	w := cmp.Or(o.Width, curvesWidth)
	if w < leastNamed {
		b.shorten()
	}
	height := func() vg.Length {
		tall := parts.Page(w, 4*w)
		return tall.Max.Y - b.bottom(b.free(tall), 1.2*w) + b.Below(tall).Min.Y
	}
	if o.Height == 0 && b.roomFor(b.free(parts.Page(w, 4*w))) == nil {
		b.clear(func() int {
			_, hidden := b.placedNames(b.data(b.free(parts.Page(w, 4*w))))
			return hidden
		})
	}
	h := cmp.Or(o.Height, height())
	free := b.free(parts.Page(w, h))
	if err := b.roomFor(free); err != nil {
		return nil, err
	}
	b.fit(free)
	b.strip.mark(b.unit(b.data(free)), 1)
	return o.Figure(w, h, b), nil
}

func (b *single) DrawOn(page draw.Canvas) {
	free := b.free(page)
	b.Heading.Draw(page)
	c := b.drawAxes(free)
	for _, l := range b.lines {
		parts.PlotLine(c, b.plot, l.LineStyle, l.XYs)
	}
	if b.strip.steps < manySteps {
		b.strip.plotReadings(c, b.plot)
	}
	b.drawUnexposed(c, b.plot, 0)
	if b.extent != nil {
		b.extent.draw(c, b.plot)
	}
	for _, d := range b.dots {
		pt := parts.Place(c, b.plot, d.XY)
		parts.FillDot(c, parts.Ink, 1.7, pt)
		if d.open {
			parts.FillDot(c, parts.Paper, 1, pt)
		}
	}
	for _, w := range b.whiskers {
		w.Plot(c, b.plot)
	}
	names, _ := b.placedNames(c)
	for _, l := range names {
		l.Draw(c)
	}
}

// drawUnexposed draws the readings of the base less a level as ticks at the left edge.
func (b *single) drawUnexposed(c draw.Canvas, p *gplot.Plot, less float64) {
	for _, d := range b.strip.unexposed {
		if at := (plotter.XY{X: p.X.Min, Y: d - less}); at.Y >= p.Y.Min && at.Y <= p.Y.Max {
			pt := parts.Place(c, p, at)
			c.StrokeLine2(parts.Line(1.2, b.strip.Color), pt.X, pt.Y, pt.X+baseTick, pt.Y)
		}
	}
}

// placedNames returns the names of places of the data, where they stand, and how many
// of the data they hide.
func (b *single) placedNames(c draw.Canvas) ([]parts.Named, int) {
	points := b.strip.data(c, b.plot)
	for _, l := range b.lines {
		points = append(points, along(parts.Places(c, b.plot, l.XYs))...)
	}
	for _, w := range b.whiskers {
		points = append(points, along(parts.Places(c, b.plot, w.Ends()))...)
	}
	if b.extent != nil {
		points = append(points, b.extent.occupied(c, b.plot)...)
	}
	return b.placed(c, b.names, points)
}

// along returns points close together along a line.
func along(line []vg.Point) []vg.Point {
	const places = 80
	var out []vg.Point
	for i := 1; i < len(line); i++ {
		for k := range places {
			out = append(out, line[i-1].Add(line[i].Sub(line[i-1]).Scale(vg.Length(k)/places)))
		}
	}
	return out
}

// extentHeight is how far above the axis a range is measured.
const extentHeight = vg.Length(5)

// ends returns where the distance begins and ends.
func (e *extent) ends(c draw.Canvas, p *gplot.Plot) (from, to vg.Point) {
	x, _ := p.Transforms(&c)
	from, to = vg.Point{X: x(e.from), Y: c.Min.Y + extentHeight}, vg.Point{X: x(e.to), Y: c.Min.Y + extentHeight}
	if e.openFrom {
		from.X = c.Min.X
	}
	if e.openTo {
		to.X = c.Max.X
	}
	return from, to
}

// box returns where the label stands: towards the end, above the base.
func (e *extent) box(c draw.Canvas, p *gplot.Plot) vg.Rectangle {
	const share = 0.7
	from, to := e.ends(c, p)
	width := parts.TextWidth(parts.SmallSize, e.label)
	_, y := p.Transforms(&c)
	at := vg.Point{X: from.X + share*(to.X-from.X) - width/2, Y: max(from.Y, y(e.base)) + 3}
	return vg.Rectangle{Min: at, Max: at.Add(vg.Point{X: width, Y: parts.CapHeight * parts.SmallSize})}
}

func (e *extent) draw(c draw.Canvas, p *gplot.Plot) {
	from, to := e.ends(c, p)
	parts.Across(c, from.X, to.X, from.Y, "")
	parts.Write(c, parts.SmallSize, parts.Ink, parts.FromLeft, e.box(c, p).Min, e.label)
}

// occupied returns the points that a text should not hide.
func (e *extent) occupied(c draw.Canvas, p *gplot.Plot) []vg.Point {
	from, to := e.ends(c, p)
	box := e.box(c, p)
	return append(along([]vg.Point{from, to}), along([]vg.Point{box.Min, box.Max})...)
}

// Numbers returns readings, curve, residuals and what was measured.
func (b *single) Numbers() []figure.Series {
	out := b.strip.numbers(b.xLabel, b.yLabels[0])
	r := b.strip.residuals()
	values := figure.Plain(r.Readings)
	for _, v := range figure.Plain(r.Aside) {
		v.Remark = "set aside"
		values = append(values, v)
	}
	out = append(out, figure.Series{Panel: "residuals", Name: b.strip.name, X: b.xLabel, Y: "density of the reading less that of the curve", Values: values})
	return append(out, b.measured...)
}
