package plot

import (
	"math"
	"slices"
	"strings"

	gplot "gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"sensito/plot/internal/figure"
	"sensito/plot/internal/parts"
	"sensito/sensito/answers"
	"sensito/sensito/control"
	"sensito/sensito/control/chart"
)

// controlPanel is one chart, or single strips with their EWMA.
type controlPanel struct {
	plot     *gplot.Plot
	quantity string
	name     string
	short    string // of it, where it has no room; "" for none
	axis     *controlAxis
	layers   []controlLayer
	lines    []namedLine    // centre and limits
	band     [2]plotter.XYs // between the limits of single strips
	wash     [2]float64     // days from the onset of a change to its first signal; equal for none
	first    bool           // names what all rows share
}

// controlLayer is one chart as it is drawn.
type controlLayer struct {
	kind      chart.Kind
	runs      []plotter.XYs // values by run
	falling   []plotter.XYs // sums of a CUSUM
	signals   []signalPoint
	low, high []float64 // limits at the strips, with their days
	days      []float64
}

// namedLine is a centre line or limit with its name at the right, or none.
type namedLine struct {
	plotter.XYs
	name   string
	center bool
}

// signalPoint is a point that speaks; label names the rules that first speak
// there.
type signalPoint struct {
	plotter.XY
	label string
}

func newControlPanel(c *control.Evaluation, charts []*control.Chart, x *controlAxis) *controlPanel {
	p := &controlPanel{name: chartName(charts[0].Kind), quantity: quantityName(charts[0].Quantity), axis: x, wash: washOf(c, charts[0].Quantity, x)}
	for i, ch := range charts {
		unit := 1.0
		if ch.Kind == chart.KindCUSUM {
			unit = ch.Sigma
		}
		l := controlLayer{kind: ch.Kind, runs: runsOf(c, ch.Values, x, unit), falling: runsOf(c, ch.Falling, x, unit), days: x.days}
		l.low, l.high = limitsAt(ch, unit)
		l.addSignals(c, ch, unit)
		p.layers = append(p.layers, l)
		p.addLines(c, ch, i == 0, unit)
	}
	p.scale(charts[0].Kind)
	p.plot.Add(p)
	return p
}

// runsOf returns values at their days, parted where the process was set right.
func runsOf(c *control.Evaluation, values []float64, x *controlAxis, unit float64) []plotter.XYs {
	var out []plotter.XYs
	var run plotter.XYs
	strips := c.Log.Strips()
	for i, v := range values {
		if len(run) > 0 && strips[i].Fresh {
			out, run = append(out, run), nil
		}
		if !math.IsNaN(v) {
			run = append(run, plotter.XY{X: x.days[i], Y: v / unit})
		}
	}
	if len(run) > 0 {
		out = append(out, run)
	}
	return out
}

// washOf returns the days from the onset of a change to its first signal.
func washOf(c *control.Evaluation, quantity string, x *controlAxis) [2]float64 {
	lv := levelOf(c, quantity)
	first := answers.FirstSignal(c, lv)
	if lv.Since == 0 || first <= lv.Since {
		return [2]float64{}
	}
	return [2]float64{x.days[lv.Since-1], x.days[first-1]}
}

// scale gives the panel axes that hold all that is drawn.
func (p *controlPanel) scale(kind chart.Kind) {
	p.plot = parts.NewAxes("", "")
	p.plot.X.Min, p.plot.X.Max = p.axis.lo, p.axis.hi
	p.plot.Y.Tick.Marker = parts.DecimalTicks{Want: 4}
	p.plot.Title.Text = " " // room for the name
	p.plot.Title.TextStyle.Font.Size = parts.SmallSize
	all := slices.Concat(p.band[:]...)
	for _, l := range p.layers {
		all = append(all, slices.Concat(slices.Concat(l.runs, l.falling)...)...)
	}
	for _, l := range p.lines {
		all = append(all, l.XYs...)
	}
	_, _, lo, hi := plotter.XYRange(all)
	by := 0.1 * (hi - lo)
	p.plot.Y.Min, p.plot.Y.Max = lo-by, hi+by
	if kind == chart.KindMovingRange {
		p.plot.Y.Min = 0
	}
}

// addLines adds the centre and the limits: of single strips a band, of the others
// broken lines. Those of an EWMA widen after every fresh start.
func (p *controlPanel) addLines(c *control.Evaluation, ch *control.Chart, main bool, unit float64) {
	const places = 3
	across := func(y float64) plotter.XYs {
		return plotter.XYs{{X: p.axis.lo, Y: y / unit}, {X: p.axis.hi, Y: y / unit}}
	}
	center := map[string]string{"aim": "aim", "reference": "reference", "baseline": "mean"}[c.Baseline.Center]
	named := func(y float64, name string) { p.lines = append(p.lines, namedLine{XYs: across(y), name: name}) }
	switch ch.Kind {
	case chart.KindCUSUM:
		p.name += ", sd"
		p.lines = append(p.lines, namedLine{across(ch.Limits.Center), "", true})
		named(ch.Limits.Upper, "")
		named(ch.Limits.Lower, "")
		return
	case chart.KindMovingRange: // a range has no lower limit but 0
		p.lines = append(p.lines, namedLine{across(ch.Limits.Center), "mean " + parts.Fixed(ch.Limits.Center, places), true})
		named(ch.Limits.Upper, "limit "+parts.Fixed(ch.Limits.Upper, places))
		return
	}
	if main {
		p.lines = append(p.lines, namedLine{across(ch.Limits.Center), center + " " + parts.Fixed(ch.Limits.Center, places), true})
	}
	if ch.Kind == chart.KindIndividuals {
		p.band = [2]plotter.XYs{across(ch.Limits.Lower), across(ch.Limits.Upper)}
		named(ch.Limits.Upper, "limit "+parts.Fixed(ch.Limits.Upper, places))
		named(ch.Limits.Lower, "limit "+parts.Fixed(ch.Limits.Lower, places))
		return
	}
	p.addWidening(c, ch)
}

// addWidening adds the limits of an EWMA, named by what they are where they end.
func (p *controlPanel) addWidening(c *control.Evaluation, ch *control.Chart) {
	strips := c.Log.Strips()
	var upper, lower namedLine
	for i, day := range p.axis.days {
		if i > 0 && strips[i].Fresh {
			p.lines = append(p.lines, namedLine{XYs: upper.XYs}, namedLine{XYs: lower.XYs})
			upper.XYs, lower.XYs = nil, nil
		}
		l := ch.LimitsAt(i + 1)
		upper.XYs = append(upper.XYs, plotter.XY{X: day, Y: l.Upper})
		lower.XYs = append(lower.XYs, plotter.XY{X: day, Y: l.Lower})
		upper.name, lower.name = "EWMA limit "+parts.Fixed(l.Upper, 3), "EWMA limit "+parts.Fixed(l.Lower, 3)
	}
	for _, l := range []*namedLine{&upper, &lower} {
		if len(l.XYs) == 1 { // a single strip still shows what it is held to
			l.XYs = append(l.XYs, plotter.XY{X: p.axis.hi, Y: l.XYs[0].Y})
		}
	}
	p.lines = append(p.lines, upper, lower)
}

// addSignals marks the points that speak; a rule is named where it first does,
// and anew in the present run.
func (l *controlLayer) addSignals(c *control.Evaluation, ch *control.Chart, unit float64) {
	named := map[string]bool{}
	at := map[int]int{}
	last := 0
	for _, s := range ch.Signals {
		i := s.Index - 1
		for ; last < i; last++ {
			if last+1 == c.RunFrom()-1 {
				clear(named)
			}
		}
		y := ch.Values[i]
		if ch.Falling != nil && y <= ch.Limits.Upper {
			y = ch.Falling[i]
		}
		k, seen := at[i]
		if !seen {
			k = len(l.signals)
			at[i] = k
			l.signals = append(l.signals, signalPoint{XY: plotter.XY{X: l.days[i], Y: y / unit}})
		}
		if named[s.Rule] {
			continue
		}
		named[s.Rule] = true
		if label := &l.signals[k].label; *label == "" {
			*label = signalName(ch.Kind, s.Rule)
		} else { // of the same set, so the number tells
			*label += ", " + s.Rule[strings.LastIndex(s.Rule, "_")+1:]
		}
	}
}

// Plot draws band, wash, lines, values and signals, in this order.
func (p *controlPanel) Plot(c draw.Canvas, pl *gplot.Plot) {
	if p.band[0] != nil {
		parts.PlotBand(c, pl, p.band[0], p.band[1], parts.GridGrey)
	}
	if p.wash[1] > p.wash[0] {
		from, to := parts.Place(c, pl, plotter.XY{X: p.wash[0], Y: pl.Y.Min}), parts.Place(c, pl, plotter.XY{X: p.wash[1], Y: pl.Y.Max})
		c.SetColor(parts.BandGrey)
		c.Fill(vg.Rectangle{Min: from, Max: to}.Path())
	}
	p.axis.plot(c, pl)
	if p.first {
		p.axis.plotFlags(c, pl)
	}
	for _, l := range p.lines {
		style := parts.Line(0.6, parts.Faint, 4, 2.5)
		if l.center {
			style = parts.Line(0.6, parts.Faint)
		}
		if p.band[0] != nil && len(l.XYs) > 0 && (l.XYs[0] == p.band[0][0] || l.XYs[0] == p.band[1][0]) {
			continue // the edge of the band is seen
		}
		parts.PlotLine(c, pl, style, l.XYs)
	}
	for _, l := range p.layers {
		l.plot(c, pl, p.axis.dot())
	}
}

// plot draws the values of a chart. Those that speak are told by their form, also where
// they are many and small: single strips by a cross, those on a line by a dot.
func (l *controlLayer) plot(c draw.Canvas, pl *gplot.Plot, dot vg.Length) {
	style, broken := parts.Line(1.1, parts.Plain.Color), parts.Line(1.1, parts.Plain.Color, 3, 1.5)
	if l.kind == chart.KindMovingRange {
		style.Width = 0.6
	}
	if l.kind != chart.KindIndividuals {
		for _, run := range l.runs {
			parts.PlotLine(c, pl, style, run)
		}
		for _, run := range l.falling {
			parts.PlotLine(c, pl, broken, run)
		}
	}
	ring := parts.Symbol{Scale: dot / parts.SymbolRadius}
	spoken := map[plotter.XY]bool{}
	for _, s := range l.signals {
		spoken[s.XY] = true
	}
	for _, run := range l.runs {
		for i, pt := range parts.Places(c, pl, run) {
			switch {
			case l.kind == chart.KindIndividuals && spoken[run[i]]:
			case l.kind == chart.KindIndividuals:
				ring.Draw(c, parts.Plain.Color, pt)
			case len(run) == 1: // a line of one value is seen by its dot alone
				parts.FillDot(c, parts.Plain.Color, 0.7*dot, pt)
			}
		}
	}
	for _, s := range l.signals {
		pt := parts.Place(c, pl, s.XY)
		if l.kind == chart.KindIndividuals {
			parts.Cross(c, parts.Speaks, max(leastCross, 1.2*dot), pt)
		} else {
			parts.FillDot(c, parts.Speaks, 0.8*dot, pt)
		}
	}
}

// leastCross is half the width of the smallest cross that is told from a ring.
const leastCross = vg.Length(1.7)

// nameLines writes the names of the lines at the right of the panel.
func (p *controlPanel) nameLines(c draw.Canvas, room vg.Length) {
	var heights []vg.Length
	var named []namedLine
	for _, l := range p.lines {
		if l.name == "" {
			continue
		}
		named = append(named, l)
		heights = append(heights, parts.Place(c, p.plot, l.XYs[len(l.XYs)-1]).Y)
	}
	const gap = 1.15 * parts.LeastSize
	heights = parts.Spread(heights, gap, c.Min.Y, c.Max.Y)
	for i, l := range named {
		size, s := parts.Fitted(parts.LeastSize, room, l.name)
		parts.Write(c, size, parts.Ink, parts.FromLeft, vg.Point{X: c.Max.X + controlLabels, Y: heights[i] - parts.CapHeight*size/2}, s)
	}
}

// drawn returns points along all lines and values of the panel.
func (p *controlPanel) drawn(c draw.Canvas) []vg.Point {
	var data []vg.Point
	along := func(xys plotter.XYs) { data = append(data, parts.Between(parts.Places(c, p.plot, xys))...) }
	for _, l := range p.layers {
		for _, run := range slices.Concat(l.runs, l.falling) {
			if l.kind == chart.KindIndividuals { // rings without a line
				data = append(data, parts.Places(c, p.plot, run)...)
				continue
			}
			along(run)
		}
	}
	for _, l := range p.lines {
		along(l.XYs)
	}
	for _, day := range p.axis.fresh {
		along(plotter.XYs{{X: day, Y: p.plot.Y.Min}, {X: day, Y: p.plot.Y.Max}})
	}
	return data
}

// nameMarks writes the rules where they first speak, and in the first row what
// all rows share: above or below their points, where they hide the fewest of the
// values; those without room are left out, for the report has them all.
func (p *controlPanel) nameMarks(c draw.Canvas) {
	data := p.drawn(c)
	var marks []signalPoint
	if p.first {
		marks = p.axis.marks(p.plot)
		data = append(data, p.axis.flags(c, p.plot)...)
	}
	for _, l := range p.layers {
		for _, s := range l.signals {
			if s.label != "" {
				marks = append(marks, s)
			}
		}
	}
	named := make([]parts.Mark, len(marks))
	for i, s := range marks {
		named[i] = parts.Mark{At: parts.Place(c, p.plot, s.XY), Label: s.label}
	}
	parts.NameMarks(c, data, named)
}

// numbers returns the values of each chart with their limits as an interval.
func (p *controlPanel) numbers(row string) []figure.Series {
	var out []figure.Series
	for _, l := range p.layers {
		spoken := map[plotter.XY]bool{}
		for _, s := range l.signals {
			spoken[s.XY] = true
		}
		for part, runs := range [][]plotter.XYs{l.runs, l.falling} {
			s := figure.Series{Panel: row, Name: chartName(l.kind), X: "days from the first strip", Y: "density"}
			if l.kind == chart.KindCUSUM {
				s.Name += []string{", rising", ", falling"}[part]
				s.Y = "standard deviations"
			}
			for _, at := range slices.Concat(runs...) {
				i := slices.Index(l.days, at.X)
				v := figure.Value{XY: at, Low: l.low[i], High: l.high[i]}
				if spoken[at] {
					v.Remark = "signal"
				}
				s.Values = append(s.Values, v)
			}
			if len(s.Values) > 0 {
				out = append(out, s)
			}
		}
	}
	return out
}

// controlAxis is what the panels share along the dates, in days from the first
// strip.
type controlAxis struct {
	days     []float64
	lo, hi   float64
	baseline plotter.XYs // begin and end of runs of baseline strips, as X and Y
	fresh    []float64
	noted    []float64 // days with a note
}

func newControlAxis(c *control.Evaluation) *controlAxis {
	a := &controlAxis{days: c.Log.Days()}
	last := a.days[len(a.days)-1]
	beside := math.Max(0.025*last, 0.5)
	a.lo, a.hi = -beside, last+beside
	strips := c.Baseline.Strips
	for i, n := range strips {
		day := a.days[n-1]
		if i > 0 && strips[i-1] == n-1 {
			a.baseline[len(a.baseline)-1].Y = day
		} else {
			a.baseline = append(a.baseline, plotter.XY{X: day, Y: day})
		}
	}
	for i, s := range c.Log.Strips() {
		if i > 0 && s.Fresh {
			a.fresh = append(a.fresh, (a.days[i-1]+a.days[i])/2)
		}
		if s.Note != "" {
			a.noted = append(a.noted, a.days[i])
		}
	}
	return a
}

// dot returns the radius of a value, less where there are many.
func (a *controlAxis) dot() vg.Length {
	const usual, least, many = 1.9, 0.9, 40
	return max(least, usual*vg.Length(math.Min(1, math.Sqrt(many/float64(len(a.days))))))
}

const baselineBar = vg.Length(3)

// plot shades the baseline along the lower edge and marks fresh starts.
func (a *controlAxis) plot(c draw.Canvas, p *gplot.Plot) {
	at := func(day float64) vg.Length { return parts.Place(c, p, plotter.XY{X: day, Y: p.Y.Min}).X }
	for _, run := range a.baseline {
		const beside = 3
		c.SetColor(parts.Faint)
		c.Fill(vg.Rectangle{Min: vg.Point{X: max(at(run.X)-beside, c.Min.X), Y: c.Min.Y}, Max: vg.Point{X: min(at(run.Y)+beside, c.Max.X), Y: c.Min.Y + baselineBar}}.Path())
	}
	for _, day := range a.fresh {
		x := at(day)
		c.StrokeLine2(parts.Line(0.8, parts.Ink, 5, 2), x, c.Min.Y, x, c.Max.Y)
	}
}

// A flag hangs from the upper edge.
const (
	flagPole = vg.Length(9)
	flagWide = vg.Length(4.5)
	flagHigh = vg.Length(3)
)

// plotFlags draws a flag at each day with a note.
func (a *controlAxis) plotFlags(c draw.Canvas, p *gplot.Plot) {
	for _, day := range a.noted {
		at := parts.Place(c, p, plotter.XY{X: day, Y: p.Y.Max})
		wide := flagWide
		if at.X+wide > c.Max.X {
			wide = -wide
		}
		foot := at.Y - flagPole
		c.StrokeLine2(parts.Line(0.7, parts.Ink), at.X, foot, at.X, at.Y)
		var cloth vg.Path
		cloth.Move(vg.Point{X: at.X, Y: foot})
		cloth.Line(vg.Point{X: at.X + wide, Y: foot + flagHigh/2})
		cloth.Line(vg.Point{X: at.X, Y: foot + flagHigh})
		cloth.Close()
		c.SetColor(parts.Ink)
		c.Fill(cloth)
	}
}

// flags returns points along the flags.
func (a *controlAxis) flags(c draw.Canvas, p *gplot.Plot) []vg.Point {
	var out []vg.Point
	for _, day := range a.noted {
		at := parts.Place(c, p, plotter.XY{X: day, Y: p.Y.Max})
		out = append(out, parts.Filled(vg.Rectangle{Min: vg.Point{X: at.X - flagWide/2, Y: at.Y - flagPole}, Max: vg.Point{X: at.X + flagWide, Y: at.Y}})...)
	}
	return out
}

// marks returns the names of the baseline and the fresh starts, where they are.
func (a *controlAxis) marks(p *gplot.Plot) []signalPoint {
	var out []signalPoint
	if len(a.baseline) > 0 { // one name is enough
		run := a.baseline[0]
		out = append(out, signalPoint{plotter.XY{X: (run.X + run.Y) / 2, Y: p.Y.Min}, "baseline"})
	}
	for _, day := range a.fresh {
		out = append(out, signalPoint{plotter.XY{X: day, Y: p.Y.Max - 0.1*(p.Y.Max-p.Y.Min)}, "fresh start"})
	}
	return out
}
