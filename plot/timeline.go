package plot

import (
	"math"

	gplot "gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"sensito/sensito"
	"sensito/sensito/development"
	"sensito/sensito/scene"
)

// panel is one quantity of a family against development time.
type panel struct {
	plot   *gplot.Plot
	law    law
	points []point
	mark   *mark
}

// point is a value with its interval.
type point struct {
	plotter.XY
	low, high float64
}

// law is a fitted law with its band. It is drawn dashed outside from and to.
type law struct {
	line, low, high plotter.XYs
	from, to        float64
	width           vg.Length // 0 means 1.1 points
}

// timeline is the time axis that the panels of a figure share.
type timeline struct {
	lo, hi   float64 // of the axis, minutes
	from, to float64 // tested
	mark     *mark
}

// mark is a chosen development time.
type mark struct {
	minutes, low, high float64
	label              string
}

// newMark returns the time of an answer as tested, since the axis is of times of the
// trial.
func newMark(p *scene.Answer, level float64) *mark {
	today, minutes := p.Today, p.Minutes.Value
	p = p.Tested()
	low, high := p.Minutes.Interval(level)
	m := &mark{minutes: float64(p.Minutes.Value), low: float64(low), high: float64(high)}
	m.label = marked(planned(p.Minutes.Value)+" for "+number(p.Scene.Stops)+" stops", p.Extrapolated, today, minutes)
	return m
}

// newTimeline returns an axis that holds the tested times and the mark.
func newTimeline(f *development.Family, m *mark) timeline {
	lo, hi := f.Times()
	t := timeline{lo: float64(lo), hi: float64(hi), from: float64(lo), to: float64(hi), mark: m}
	if m != nil {
		t.lo, t.hi = min(t.lo, m.minutes), max(t.hi, m.minutes)
	}
	const beside = 1.2
	t.lo, t.hi = t.lo/beside, t.hi*beside
	return t
}

const lawPlaces = 61

// times returns where the laws are sampled, the tested ends included.
func (t timeline) times() []sensito.Minutes {
	var out []sensito.Minutes
	add := func(lo, hi float64, n int) {
		for i := range n {
			out = append(out, sensito.Minutes(lo*math.Pow(hi/lo, float64(i)/float64(n))))
		}
	}
	add(t.lo, t.from, lawPlaces/5)
	if t.to > t.from {
		add(t.from, t.to, lawPlaces-2*(lawPlaces/5)-1)
	}
	add(t.to, t.hi, lawPlaces/5)
	return append(out, sensito.Minutes(t.hi))
}

// axes returns empty axes of a quantity against time.
func (t timeline) axes(quantity string) *gplot.Plot {
	p := newAxes("development time, min", quantity)
	p.X.Min, p.X.Max = t.lo, t.hi
	p.X.Scale = gplot.LogScale{}
	p.X.Tick.Marker = timeTicks{}
	p.Y.Tick.Marker = decimalTicks{want: 5}
	if t.mark != nil {
		p.Add(t.mark)
	}
	return p
}

// panel returns a panel on the timeline; its vertical axis holds the points
// with their intervals and the law, but not all of a wide band.
func (t timeline) panel(quantity string, l law, points []point) *panel {
	l.from, l.to = t.from, t.to
	p := &panel{plot: t.axes(quantity), law: l, points: points, mark: t.mark}
	lo, hi := math.Inf(1), math.Inf(-1)
	hold := func(v float64) { lo, hi = min(lo, v), max(hi, v) }
	for _, pt := range points {
		hold(pt.low)
		hold(pt.high)
	}
	for i, at := range l.line {
		hold(at.Y)
		if at.X >= t.from && at.X <= t.to {
			hold(l.low[i].Y)
			hold(l.high[i].Y)
		}
	}
	p.plot.Y.Min, p.plot.Y.Max = lo, hi
	p.plot.Add(l)
	if t.mark != nil {
		p.plot.Add(markLine{t.mark})
	}
	for _, pt := range points {
		p.plot.Add(pt)
	}
	return p
}

// pad widens the vertical axis by a part of its range on both sides.
func (p *panel) pad(least float64) *panel {
	y := &p.plot.Y
	by := max(0.06*(y.Max-y.Min), (least-(y.Max-y.Min))/2)
	y.Min, y.Max = y.Min-by, y.Max+by
	return p
}

// padLog widens a logarithmic axis, to a factor of at least the given one.
func (p *panel) padLog(least float64) *panel {
	y := &p.plot.Y
	have := math.Log(y.Max / y.Min)
	by := math.Exp(max(0.06*have, (math.Log(least)-have)/2))
	y.Min, y.Max = y.Min/by, y.Max*by
	return p
}

// Plot draws the law over its band.
func (l law) Plot(c draw.Canvas, p *gplot.Plot) {
	if len(l.low) > 0 {
		plotBand(c, p, l.low, l.high, bandGrey)
	}
	width := l.width
	if width == 0 {
		width = 1.1
	}
	var before, within, after plotter.XYs
	for _, at := range l.line {
		if at.X <= l.from {
			before = append(before, at)
		}
		if at.X >= l.from && at.X <= l.to {
			within = append(within, at)
		}
		if at.X >= l.to {
			after = append(after, at)
		}
	}
	outside := line(width-0.1, ink, 4, 3)
	plotLine(c, p, outside, before)
	plotLine(c, p, line(width, ink), within)
	plotLine(c, p, outside, after)
}

// Plot draws the point with its interval as a bar.
func (pt point) Plot(c draw.Canvas, p *gplot.Plot) {
	const half = vg.Length(2.5)
	low := place(c, p, plotter.XY{X: pt.X, Y: pt.low})
	high := place(c, p, plotter.XY{X: pt.X, Y: pt.high})
	c.StrokeLines(line(0.7, looks[0].Color),
		[]vg.Point{low, high},
		[]vg.Point{{X: low.X - half, Y: low.Y}, {X: low.X + half, Y: low.Y}},
		[]vg.Point{{X: high.X - half, Y: high.Y}, {X: high.X + half, Y: high.Y}})
	looks[0].symbol.draw(c, looks[0].Color, place(c, p, pt.XY))
}

// Plot draws the interval of the chosen time.
func (m *mark) Plot(c draw.Canvas, p *gplot.Plot) {
	y := p.Y.Min
	low, high := plotter.XYs{{X: max(m.low, p.X.Min), Y: y}}, plotter.XYs{{X: min(m.high, p.X.Max), Y: y}}
	l, h := place(c, p, low[0]).X, place(c, p, high[0]).X
	c.SetColor(markGrey)
	c.Fill(vg.Rectangle{Min: vg.Point{X: l, Y: c.Min.Y}, Max: vg.Point{X: h, Y: c.Max.Y}}.Path())
}

// markLine is the chosen time itself, drawn over the bands.
type markLine struct{ *mark }

func (m markLine) Plot(c draw.Canvas, p *gplot.Plot) {
	x := place(c, p, plotter.XY{X: m.minutes, Y: p.Y.Min}).X
	c.StrokeLine2(line(0.8, ink), x, c.Min.Y, x, c.Max.Y)
}

// drawLabel names the mark above a panel, within its sides.
func (m *mark) drawLabel(c draw.Canvas, p *gplot.Plot) {
	x := place(c, p, plotter.XY{X: m.minutes, Y: p.Y.Min}).X
	size, s := fitted(bodySize, c.Size().X, m.label)
	half := textWidth(size, s) / 2
	x = min(max(x, c.Min.X+half), c.Max.X-half)
	write(c, size, ink, centred, vg.Point{X: x, Y: c.Max.Y + 3}, s)
}

// occupied returns the points that a note in the panel should not hide.
func (p *panel) occupied(c draw.Canvas) []vg.Point {
	var out []vg.Point
	for _, part := range []plotter.XYs{p.law.line, p.law.low, p.law.high} {
		out = append(out, places(c, p.plot, part)...)
	}
	if p.mark != nil {
		const n = 40
		x := place(c, p.plot, plotter.XY{X: p.mark.minutes, Y: p.plot.Y.Min}).X
		for i := range n + 1 {
			out = append(out, vg.Point{X: x, Y: c.Min.Y + c.Size().Y*vg.Length(i)/n})
		}
	}
	for _, pt := range p.points {
		out = append(out, places(c, p.plot, plotter.XYs{pt.XY, {X: pt.X, Y: pt.low}, {X: pt.X, Y: pt.high}})...)
	}
	return out
}
