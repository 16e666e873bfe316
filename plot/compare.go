package plot

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	gplot "gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"sensito/plot/internal/parts"
	"sensito/sensito"
	"sensito/sensito/compare"
	"sensito/sensito/curve"
	"sensito/sensito/scene"
)

// How many trials one drawing can hold and still be read, and with intervals.
const (
	maxCompared = 9
	maxBars     = 4
)

const compareWidth = 190 * vg.Millimeter

// The figures of a comparison.
const (
	CompareCurves   = "curves"   // density against log exposure
	CompareAligned  = "aligned"  // net density, the speed points laid on each other
	CompareGradient = "gradient" // local gradient, likewise
	CompareTime     = "time"     // contrast against development time
	CompareSpeed    = "speed"    // speed against contrast
)

// CompareFigures returns the names of the figures of a comparison.
func CompareFigures() []string {
	return []string{CompareCurves, CompareAligned, CompareGradient, CompareTime, CompareSpeed}
}

// Compare returns the figures of a comparison as panels of one page, or the one
// of the given name alone. Each trial has a number, a line and a symbol of its
// own, which differ in black and white; the lines are named at their ends.
// Trials on relative exposures are in the panels that need no speed. The error
// is for options outside their limits, an unknown name, more than nine trials,
// or a figure of speeds where no trial has one.
func Compare(c *compare.Comparison, name string, o Options) (*Figure, error) {
	o, err := o.withDefaults(fmt.Sprintf("Compared at an average gradient of %.2f", c.Gradient))
	if err != nil {
		return nil, err
	}
	if len(c.Trials) > maxCompared {
		return nil, fmt.Errorf("%d trials are too many for one drawing: at most %d", len(c.Trials), maxCompared)
	}
	var today *scene.Adjustment
	if i := slices.IndexFunc(c.Trials, func(t *compare.Compared) bool {
		return t.Reason == nil && ofToday(t.Answer.Today)+uncorrected(t.Answer.Today) != ""
	}); i >= 0 {
		today = c.Trials[i].Answer.Today
	}
	b := &compareBody{Heading: cautioned(parts.Heading{Title: o.Title, Sub: fmt.Sprintf("from the darkest to the lightest tone, %.2f log H apart on the film", float64(c.FilmRange))}, today)}
	if text := ofToday(today); text != "" {
		b.Sub += "; " + text
	}
	if today.Corrects() { // by the log, which is of the first trial
		b.Sub += " for 1"
	}
	b.addKey(c)
	builders := map[string]func(*compare.Comparison, Options) *comparePanel{
		CompareCurves: curvesPanel, CompareAligned: alignedPanel, CompareGradient: gradientPanel, CompareTime: timePanel, CompareSpeed: speedPanel,
	}
	if name != "" {
		build := builders[name]
		if build == nil {
			return nil, fmt.Errorf("%q is not a figure of a comparison; use %s", name, strings.Join(CompareFigures(), ", "))
		}
		p := build(c, o)
		if len(p.lines) == 0 {
			return nil, fmt.Errorf("the figure %q needs exposures in lux seconds, and every trial has relative ones", name)
		}
		b.panels, b.alone = []*comparePanel{p}, true
	} else {
		for _, n := range CompareFigures() {
			if p := builders[n](c, o); len(p.lines) > 0 {
				b.panels = append(b.panels, p)
			}
		}
		b.shareScales()
	}
	if b.barred() {
		b.Sub += "; intervals: " + parts.Percent(o.Confidence)
	}
	fig := o.figure(compareWidth, b.height(cmp.Or(o.Width, compareWidth)), b)
	if err := b.room(fig.page()); err != nil {
		return nil, err
	}
	return fig, nil
}

// comparePanel is one figure: a line for each trial that has it.
type comparePanel struct {
	title string
	plot  *gplot.Plot
	lines []compareLine
	equal bool        // scales of both axes
	top   float64     // of the vertical axis, that the lines need
	rule  *plotter.XY // what is common to all trials is drawn along its axes; NaN for none
}

// compareLine is one trial in a panel.
type compareLine struct {
	parts.Look
	number int
	along  plotter.XYs
	points plotter.XYs   // strips
	dot    *plotter.XY   // the trial at the gradient
	bar    [2]plotter.XY // its interval
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
	looks := parts.Unordered(len(c.Trials))
	for i, t := range c.Trials {
		if t.Reason != nil {
			continue
		}
		l := compareLine{Look: looks[i], number: i + 1}
		f(t, &l)
		if len(c.Trials) > maxBars {
			l.bar = [2]plotter.XY{}
		}
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
		l.along = sample(t.Curve, lo, hi, comparePlaces)
		h := t.Answer.Tested().SpeedPoint.Value // of the trial's own process, as the curve is
		l.dot = &plotter.XY{X: float64(h), Y: float64(t.Curve.Density(h))}
	})
	p.equal = true
	return p.hold(0.1)
}

func alignedPanel(c *compare.Comparison, o Options) *comparePanel {
	p := newComparePanel("Laid on the speed point", "log exposure from the speed point", "net density").each(c, func(t *compare.Compared, l *compareLine) {
		lo, hi := t.Curve.Domain()
		base := curve.BaseFog(t.Curve)
		for _, xy := range sample(t.Curve, lo, hi, comparePlaces) {
			l.along = append(l.along, plotter.XY{X: xy.X - float64(t.Answer.Tested().SpeedPoint.Value), Y: xy.Y - float64(base)})
		}
	})
	p.equal, p.rule = true, &plotter.XY{X: 0, Y: math.NaN()}
	return p.hold(0.1)
}

func gradientPanel(c *compare.Comparison, o Options) *comparePanel {
	p := newComparePanel("Local gradient", "log exposure from the speed point", "density per log exposure").each(c, func(t *compare.Compared, l *compareLine) {
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
		for _, pt := range l.points {
			l.Symbol.Draw(c, l.Color, parts.Place(c, plot, pt))
		}
		if len(l.points) == 0 {
			for _, pt := range l.signs(c, plot, i, len(p.lines)) {
				l.Symbol.Draw(c, l.Color, pt)
			}
		}
	}
	for _, l := range p.lines {
		if l.barred() {
			l.drawBar(c, plot)
		}
		if l.dot != nil {
			pt := parts.Place(c, plot, *l.dot)
			parts.FillDot(c, parts.Paper, 2.3, pt)
			parts.FillDot(c, l.Color, 1.8, pt)
		}
	}
}

func (l compareLine) barred() bool { return l.bar[1] != plotter.XY{} }

// drawBar draws an interval with caps, across or upright.
func (l compareLine) drawBar(c draw.Canvas, p *gplot.Plot) {
	const half = vg.Length(2.5)
	a, b := parts.Place(c, p, l.bar[0]), parts.Place(c, p, l.bar[1])
	cap := vg.Point{X: half}
	if l.bar[0].Y == l.bar[1].Y {
		cap = vg.Point{Y: half}
	}
	for _, piece := range [][]vg.Point{{a, b}, {a.Sub(cap), a.Add(cap)}, {b.Sub(cap), b.Add(cap)}} {
		c.StrokeLines(parts.Line(0.8, l.Color), c.ClipLinesXY(piece)...)
	}
}

// signs returns where the symbol of a line without points is set, so that lines
// on top of each other can be told apart: the ith of n lines has its own places
// along the panel.
func (l compareLine) signs(c draw.Canvas, p *gplot.Plot, i, n int) []vg.Point {
	const rounds = 3
	var out []vg.Point
	for r := range rounds {
		at := (float64(r) + (float64(i)+0.5)/float64(n)) / rounds
		x := l.along[0].X + at*(l.along[len(l.along)-1].X-l.along[0].X)
		k := 1
		for k < len(l.along)-1 && l.along[k].X < x {
			k++
		}
		a, b := l.along[k-1], l.along[k]
		out = append(out, parts.Place(c, p, plotter.XY{X: x, Y: a.Y + (b.Y-a.Y)*(x-a.X)/(b.X-a.X)}))
	}
	return out
}
