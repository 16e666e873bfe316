package plot

import (
	"math"

	gplot "gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"sensito/plot/internal/figure"
	"sensito/plot/internal/parts"
	"sensito/sensito"
	"sensito/sensito/answers"
	"sensito/sensito/development"
	"sensito/sensito/scene"
)

// panel is one quantity of a family against development time.
type panel struct {
	plot   *gplot.Plot
	law    parts.Ribbon
	points []parts.Whisker
	mark   *mark
	iso    *isoPoint // nil without
}

// timeAxis names the axis of times.
const timeAxis = "development time, min"

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
	m.label = figure.Marked(parts.Planned(p.Minutes.Value)+" for "+parts.Number(p.Scene.Stops)+" stops", answers.Outside(p.Extrapolation), today, minutes)
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
	p := parts.NewAxes(timeAxis, quantity)
	p.X.Min, p.X.Max = t.lo, t.hi
	p.X.Scale = gplot.LogScale{}
	p.X.Tick.Marker = parts.TimeTicks{}
	p.Y.Tick.Marker = parts.DecimalTicks{Want: 5}
	if t.mark != nil {
		p.Add(t.mark)
	}
	return p
}

// panel returns a panel on the timeline; its vertical axis holds the points
// with their intervals and the law, but not all of a wide band.
func (t timeline) panel(quantity string, l parts.Ribbon, points []parts.Whisker) *panel {
	l.From, l.To = t.from, t.to
	p := &panel{plot: t.axes(quantity), law: l, points: points, mark: t.mark}
	lo, hi := math.Inf(1), math.Inf(-1)
	hold := func(v float64) { lo, hi = min(lo, v), max(hi, v) }
	for _, pt := range points {
		hold(pt.Low)
		hold(pt.High)
	}
	for i, at := range l.Line {
		hold(at.Y)
		if at.X >= t.from && at.X <= t.to {
			hold(l.Low[i].Y)
			hold(l.High[i].Y)
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

// Plot draws the interval of the chosen time.
func (m *mark) Plot(c draw.Canvas, p *gplot.Plot) {
	y := p.Y.Min
	low, high := plotter.XYs{{X: max(m.low, p.X.Min), Y: y}}, plotter.XYs{{X: min(m.high, p.X.Max), Y: y}}
	l, h := parts.Place(c, p, low[0]).X, parts.Place(c, p, high[0]).X
	c.SetColor(parts.MarkGrey)
	c.Fill(vg.Rectangle{Min: vg.Point{X: l, Y: c.Min.Y}, Max: vg.Point{X: h, Y: c.Max.Y}}.Path())
}

// markLine is the chosen time itself, drawn over the bands.
type markLine struct{ *mark }

func (m markLine) Plot(c draw.Canvas, p *gplot.Plot) {
	x := parts.Place(c, p, plotter.XY{X: m.minutes, Y: p.Y.Min}).X
	c.StrokeLine2(parts.Line(0.8, parts.Ink), x, c.Min.Y, x, c.Max.Y)
}

// drawLabel names the mark above a panel, within its sides.
func (m *mark) drawLabel(c draw.Canvas, p *gplot.Plot) {
	x := parts.Place(c, p, plotter.XY{X: m.minutes, Y: p.Y.Min}).X
	size, s := parts.Fitted(parts.BodySize, c.Size().X, m.label)
	half := parts.TextWidth(size, s) / 2
	x = min(max(x, c.Min.X+half), c.Max.X-half)
	parts.Write(c, size, parts.Ink, parts.Centred, vg.Point{X: x, Y: c.Max.Y + 3}, s)
}

// occupied returns the points that a note in the panel should not hide.
func (p *panel) occupied(c draw.Canvas) []vg.Point {
	var out []vg.Point
	for _, part := range []plotter.XYs{p.law.Line, p.law.Low, p.law.High} {
		out = append(out, parts.Places(c, p.plot, part)...)
	}
	if p.mark != nil {
		const n = 40
		x := parts.Place(c, p.plot, plotter.XY{X: p.mark.minutes, Y: p.plot.Y.Min}).X
		for i := range n + 1 {
			out = append(out, vg.Point{X: x, Y: c.Min.Y + c.Size().Y*vg.Length(i)/n})
		}
	}
	if p.iso != nil {
		at := parts.Places(c, p.plot, p.iso.Ends())
		out = append(append(out, at...), at[0].Add(vg.Point{X: 2 * parts.SmallSize, Y: -1.4 * parts.SmallSize}))
	}
	for _, pt := range p.points {
		out = append(out, parts.Places(c, p.plot, pt.Ends())...)
	}
	return out
}
