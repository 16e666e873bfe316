package plot

import (
	"cmp"
	"maps"
	"math"
	"slices"

	gplot "gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"sensito/plot/internal/parts"
	"sensito/plot/internal/strips"
	"sensito/sensito"
	"sensito/sensito/answers"
	"sensito/sensito/compare"
	"sensito/sensito/curve"
)

// comparePanel is one figure: a line for each trial that has it.
type comparePanel struct {
	title string
	plot  *gplot.Plot
	lines []compareLine
	equal bool        // scales of both axes
	top   float64     // of the vertical axis, that the lines need
	rule  *plotter.XY // what is common to all trials is drawn along its axes; NaN for none
	named bool        // lines have their names beside the panel

	column bool // of a narrow page

	low, high plotter.XYs // of a band that stands for those of all lines; nil for none
}

// compareLine is one trial in a panel.
type compareLine struct {
	parts.Look
	name, short string
	along       plotter.XYs
	points      plotter.XYs   // strips, or the tones of the scene
	proven      []bool        // of points that are differences
	low, high   plotter.XYs   // of its band; nil for none
	dot         *plotter.XY   // the trial at the gradient
	bar         [2]plotter.XY // its interval
}

const comparePlaces = 120

// newComparePanel returns an empty panel.
func newComparePanel(title, x, y string) *comparePanel {
	p := &comparePanel{title: title, plot: parts.NewAxes(x, y), rule: &plotter.XY{X: math.NaN(), Y: math.NaN()}}
	p.plot.X.Tick.Marker, p.plot.Y.Tick.Marker = parts.DecimalTicks{Want: 6}, parts.DecimalTicks{Want: 5}
	p.plot.Add(p)
	return p
}

// each calls f with every trial that is compared, and adds the line it returns
// when that has anything to show.
func (p *comparePanel) each(c *compare.Comparison, f func(t *compare.Compared, l *compareLine)) *comparePanel {
	looks, short := parts.Unordered(len(c.Trials)), answers.Names(c)
	for i, t := range c.Trials {
		if t.Reason != nil {
			continue
		}
		l := compareLine{Look: looks[i], name: t.Name, short: short[i]}
		f(t, &l)
		if len(l.along) > 0 {
			p.lines = append(p.lines, l)
		}
	}
	return p
}

func curvesPanel(c *compare.Comparison, o Options) *comparePanel {
	p := newComparePanel("Density against exposure", "log exposure, log10 lx s", "density").each(c, func(t *compare.Compared, l *compareLine) {
		if t.Speed == nil {
			return
		}
		lo, hi := t.Curve.Domain()
		l.along = strips.Sample(t.Curve, lo, hi, comparePlaces)
		h := t.Answer.Tested().SpeedPoint.Value // of the trial's own process, as the curve is
		l.dot = &plotter.XY{X: float64(h), Y: float64(t.Curve.Density(h))}
	})
	p.equal = true
	return p.hold(0.1)
}

// maxBands is how many bands can lie on each other and still be told apart.
const maxBands = 3

// tonesPanel draws the net density of each trial less that of the first at every
// tone of the scene. Where there are many, one band about nothing is as wide as
// the least sure of them.
func tonesPanel(c *compare.Comparison, o Options) *comparePanel {
	first := answers.Reference(c)
	p := newComparePanel("Net density less that of the first", "stops from the metered tone", "density difference")
	p.each(c, func(t *compare.Compared, l *compareLine) {
		if t == c.Trials[first] {
			for _, tone := range t.Tones {
				if tone.NetDensity == nil {
					continue
				}
				l.along = append(l.along, plotter.XY{X: tone.Stops})
			}
			return
		}
		for _, d := range answers.FromReference(c, slices.Index(c.Trials, t)) {
			if d.Quantity != compare.DiffTone || d.Value == nil {
				continue
			}
			low, high := d.Value.Interval(o.Confidence)
			l.along = append(l.along, plotter.XY{X: *d.Stops, Y: d.Value.Value})
			l.low, l.high = append(l.low, plotter.XY{X: *d.Stops, Y: low}), append(l.high, plotter.XY{X: *d.Stops, Y: high})
			l.proven = append(l.proven, d.Real)
		}
		l.points = l.along
	})
	if p.title += ", with bands"; len(p.lines) > 1+maxBands {
		p.title = "Net density less that of the first; grey: the widest interval of all"
		p.low, p.high = widestBand(p.lines)
	}
	p.plot.X.Tick.Marker = parts.Steps{Major: 1, Every: 1}
	p.rule.Y = 0
	return p.hold(0)
}

// widestBand returns a band about 0 that is at each place as wide as the widest band
// of the lines there.
func widestBand(lines []compareLine) (low, high plotter.XYs) {
	half := map[float64]float64{}
	for _, l := range lines {
		for i, at := range l.along {
			if i < len(l.low) {
				half[at.X] = max(half[at.X], (l.high[i].Y-l.low[i].Y)/2)
			}
		}
	}
	for _, x := range slices.Sorted(maps.Keys(half)) {
		low, high = append(low, plotter.XY{X: x, Y: -half[x]}), append(high, plotter.XY{X: x, Y: half[x]})
	}
	return low, high
}

func alignedPanel(c *compare.Comparison, o Options) *comparePanel {
	p := newComparePanel("Curves laid on the speed point, dashed", "log exposure from the speed point", "net density").each(c, func(t *compare.Compared, l *compareLine) {
		lo, hi := t.Curve.Domain()
		base := curve.BaseFog(t.Curve)
		for _, xy := range strips.Sample(t.Curve, lo, hi, comparePlaces) {
			l.along = append(l.along, plotter.XY{X: xy.X - float64(t.Answer.Tested().SpeedPoint.Value), Y: xy.Y - float64(base)})
		}
	})
	p.equal, p.rule = true, &plotter.XY{X: 0, Y: math.NaN()}
	return p.hold(0.1)
}

func gradientPanel(c *compare.Comparison, o Options) *comparePanel {
	p := newComparePanel("Local gradient; dashed: "+parts.Number(c.Gradient), "log exposure from the speed point", "density per log exposure").each(c, func(t *compare.Compared, l *compareLine) {
		lo, hi := t.Curve.Domain()
		for i := range comparePlaces {
			h := lo.Add(hi.Sub(lo) * sensito.LogRange(i) / (comparePlaces - 1))
			l.along = append(l.along, plotter.XY{X: float64(h.Sub(t.Answer.Tested().SpeedPoint.Value)), Y: t.Curve.Slope(h)})
		}
	})
	p.rule = &plotter.XY{X: 0, Y: c.Gradient}
	return p.hold(0.1)
}

func timePanel(c *compare.Comparison, o Options) *comparePanel {
	p := newComparePanel("Contrast against time", "development time, min", "average gradient").each(c, func(t *compare.Compared, l *compareLine) {
		tested := t.Answer.Tested().Minutes
		told := float64(tested.Value)
		lo, hi := told, told
		for _, s := range t.Strips() {
			l.points = append(l.points, plotter.XY{X: float64(s.Minutes), Y: s.Gradient})
			lo, hi = min(lo, float64(s.Minutes)), max(hi, float64(s.Minutes))
		}
		for i := range comparePlaces {
			m := lo * math.Pow(hi/lo, float64(i)/(comparePlaces-1))
			l.along = append(l.along, plotter.XY{X: m, Y: t.GradientAt(sensito.Minutes(m))})
		}
		l.dot = &plotter.XY{X: told, Y: c.Gradient}
		low, high := tested.Interval(o.Confidence)
		l.bar = [2]plotter.XY{{X: float64(low), Y: c.Gradient}, {X: math.Min(float64(high), hi*1.2), Y: c.Gradient}}
	})
	p.rule = &plotter.XY{X: math.NaN(), Y: c.Gradient}
	p.plot.X.Scale, p.plot.X.Tick.Marker = gplot.LogScale{}, parts.TimeTicks{}
	return p.hold(0)
}

func speedPanel(c *compare.Comparison, o Options) *comparePanel {
	p := newComparePanel("Speed against contrast", "average gradient", "speed, 0.8/H").each(c, func(t *compare.Compared, l *compareLine) {
		if t.Speed == nil {
			return
		}
		lo, hi := c.Gradient, c.Gradient
		for _, s := range t.Strips() {
			l.points = append(l.points, plotter.XY{X: s.Gradient, Y: float64(sensito.SpeedAt(s.SpeedPoint))})
			lo, hi = min(lo, s.Gradient), max(hi, s.Gradient)
		}
		for i := range comparePlaces {
			g := lo + (hi-lo)*float64(i)/(comparePlaces-1)
			l.along = append(l.along, plotter.XY{X: g, Y: float64(sensito.SpeedAt(t.SpeedPointAt(g)))})
		}
		tested := cmp.Or(t.UncorrectedSpeed, t.Speed)
		low, high := tested.Interval(o.Confidence)
		l.dot = &plotter.XY{X: c.Gradient, Y: float64(tested.Value)}
		l.bar = [2]plotter.XY{{X: c.Gradient, Y: float64(low)}, {X: c.Gradient, Y: float64(high)}}
	})
	p.rule = &plotter.XY{X: c.Gradient, Y: math.NaN()}
	p.plot.Y.Scale, p.plot.Y.Tick.Marker = gplot.LogScale{}, parts.SpeedTicks{}
	return p.hold(0)
}

// hold gives the axes the range of all that is drawn, with something beside;
// linear ones end at tenths when tenth is not 0.
func (p *comparePanel) hold(tenth float64) *comparePanel {
	var all plotter.XYs
	for _, l := range p.lines {
		all = append(append(all, l.along...), l.points...)
		if p.low == nil {
			all = append(append(all, l.low...), l.high...)
		}
		if l.dot != nil {
			all = append(all, *l.dot)
		}
		if l.barred() {
			all = append(all, l.bar[0], l.bar[1])
		}
	}
	if len(all) == 0 {
		return p
	}
	all = append(append(all, p.low...), p.high...)
	x, y := &p.plot.X, &p.plot.Y
	x.Min, x.Max, y.Min, y.Max = plotter.XYRange(all)
	for _, a := range []*gplot.Axis{x, y} {
		switch _, log := a.Scale.(gplot.LogScale); {
		case log:
			const beside = 1.06
			a.Min, a.Max = a.Min/beside, a.Max*beside
		case tenth > 0:
			a.Min, a.Max = math.Floor((a.Min-0.02)/tenth)*tenth, math.Ceil((a.Max+0.02)/tenth)*tenth
		default:
			by := 0.05 * (a.Max - a.Min)
			a.Min, a.Max = a.Min-by, a.Max+by
		}
	}
	if tenth > 0 {
		y.Min = min(y.Min, 0)
	}
	p.top = y.Max
	if p.equal {
		x.Tick.Marker, y.Tick.Marker = parts.Steps{Major: 0.5, Every: 5}, parts.Steps{Major: 0.5, Every: 5}
	}
	return p
}

// Plot draws the rules, the lines and what lies on them.
func (p *comparePanel) Plot(c draw.Canvas, plot *gplot.Plot) {
	p.plotBands(c, plot)
	rule := parts.Line(0.6, parts.Faint, 3, 2)
	if x := p.rule.X; !math.IsNaN(x) {
		at := parts.Place(c, plot, plotter.XY{X: x, Y: plot.Y.Min}).X
		c.StrokeLine2(rule, at, c.Min.Y, at, c.Max.Y)
	}
	if y := p.rule.Y; !math.IsNaN(y) {
		at := parts.Place(c, plot, plotter.XY{X: plot.X.Min, Y: y}).Y
		c.StrokeLine2(rule, c.Min.X, at, c.Max.X, at)
	}
	for _, l := range p.lines {
		parts.PlotLine(c, plot, l.LineStyle, l.along)
	}
	for i, l := range p.lines {
		for k, pt := range parts.Places(c, plot, l.points) {
			if l.proven != nil && l.proven[k] {
				l.Symbol.Fill(c, l.Color, pt)
			} else {
				l.Symbol.Draw(c, l.Color, pt)
			}
		}
		if len(l.points) == 0 {
			for _, pt := range parts.Places(c, plot, parts.SignsOn(l.along, i, len(p.lines))) {
				l.Symbol.Draw(c, l.Color, pt)
			}
		}
	}
	for i, l := range p.lines {
		if l.barred() {
			const apart = 3.2 // so that intervals on one line do not hide each other
			l.drawBar(c, plot, apart*(vg.Length(i)-vg.Length(len(p.lines)-1)/2))
		}
		if l.dot != nil {
			pt := parts.Place(c, plot, *l.dot)
			parts.FillDot(c, parts.Paper, 2.3, pt)
			parts.FillDot(c, l.Color, 1.8, pt)
		}
	}
}

func (l compareLine) barred() bool { return l.bar[1] != plotter.XY{} }

// plotBands draws the bands below all lines, each with an outline in the colour of
// its own, by which they are told apart.
func (p *comparePanel) plotBands(c draw.Canvas, plot *gplot.Plot) {
	if p.low != nil {
		parts.PlotBand(c, plot, p.low, p.high, parts.MarkGrey)
		return
	}
	for _, l := range p.lines {
		if l.low != nil {
			parts.PlotBand(c, plot, l.low, l.high, parts.MarkGrey)
		}
	}
	for _, l := range p.lines {
		for _, edge := range []plotter.XYs{l.low, l.high} {
			if edge != nil {
				parts.PlotLine(c, plot, parts.Line(0.3, l.Color), edge)
			}
		}
	}
}

// drawBar draws an interval with caps, across or upright, moved sideways.
func (l compareLine) drawBar(c draw.Canvas, p *gplot.Plot, aside vg.Length) {
	const half = vg.Length(1.4)
	a, b := parts.Place(c, p, l.bar[0]), parts.Place(c, p, l.bar[1])
	cap := vg.Point{X: half}
	if l.bar[0].Y == l.bar[1].Y {
		cap = vg.Point{Y: half}
	}
	a, b = a.Add(cap.Scale(aside/half)), b.Add(cap.Scale(aside/half))
	for _, piece := range [][]vg.Point{{a, b}, {a.Sub(cap), a.Add(cap)}, {b.Sub(cap), b.Add(cap)}} {
		c.StrokeLines(parts.Line(0.8, l.Color), c.ClipLinesXY(piece)...)
	}
}
