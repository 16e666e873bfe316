package plot

import (
	"math"
	"slices"
	"strings"
	"time"

	gplot "gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"sensito/plot/internal/parts"
	"sensito/sensito/control"
	"sensito/sensito/control/chart"
)

// controlPanel is one chart.
type controlPanel struct {
	plot    *gplot.Plot
	name    string
	lines   []namedLine   // centre and limits
	series  []plotter.XYs // values by run, lines between them
	falling bool          // the second half of series are falling sums
	change  plotter.XYs   // the step or drift through single strips; nil for none
	signals []signalPoint // at which the chart speaks
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

func newControlPanel(c *control.Evaluation, ch *control.Chart, x controlAxis) *controlPanel {
	p := &controlPanel{name: quantityTitle(ch.Quantity) + ", " + chartTitle(ch.Kind), falling: ch.Falling != nil}
	p.addLines(c, ch, x)
	strips := c.Log.Strips()
	for _, values := range [][]float64{ch.Values, ch.Falling} {
		var run plotter.XYs
		for i, v := range values {
			if len(run) > 0 && strips[i].Fresh {
				p.series, run = append(p.series, run), nil
			}
			if !math.IsNaN(v) {
				run = append(run, plotter.XY{X: x.days[i], Y: v})
			}
		}
		if len(run) > 0 {
			p.series = append(p.series, run)
		}
	}
	if ch.Kind == chart.KindIndividuals {
		p.change = changeLine(c, ch, x.days)
	}
	p.addSignals(c, ch, x.days)

	p.plot = parts.NewAxes("", "")
	p.plot.X.Min, p.plot.X.Max = x.lo, x.hi
	p.plot.Y.Tick.Marker = parts.DecimalTicks{Want: 4}
	p.plot.Title.Text = " " // room for the name
	p.plot.Title.TextStyle.Font.Size = parts.SmallSize
	all := slices.Concat(slices.Concat(p.series...), p.change)
	for _, l := range p.lines {
		all = append(all, l.XYs...)
	}
	_, _, lo, hi := plotter.XYRange(all)
	by := 0.1 * (hi - lo)
	p.plot.Y.Min, p.plot.Y.Max = lo-by, hi+by
	if ch.Kind == chart.KindMovingRange {
		p.plot.Y.Min = 0
	}
	p.plot.Add(x, p)
	return p
}

// addLines adds the centre and the limits. Those of an EWMA widen after every
// fresh start.
func (p *controlPanel) addLines(c *control.Evaluation, ch *control.Chart, x controlAxis) {
	across := func(y float64) plotter.XYs { return plotter.XYs{{X: x.lo, Y: y}, {X: x.hi, Y: y}} }
	places := 3
	center := "centre"
	if ch.Kind == chart.KindIndividuals || ch.Kind == chart.KindEWMA {
		center = map[string]string{"aim": "aim", "reference": "reference", "baseline": "baseline mean"}[c.Baseline.Center]
	}
	p.lines = append(p.lines, namedLine{across(ch.Limits.Center), center + " " + parts.Fixed(ch.Limits.Center, places), true})
	upper := namedLine{across(ch.Limits.Upper), "upper limit " + parts.Fixed(ch.Limits.Upper, places), false}
	lower := namedLine{across(ch.Limits.Lower), "lower limit " + parts.Fixed(ch.Limits.Lower, places), false}
	switch ch.Kind {
	case chart.KindMovingRange: // a range has no lower limit but 0
		p.lines = append(p.lines, upper)
		return
	case chart.KindCUSUM:
		h := parts.Fixed(ch.Limits.Upper, places)
		p.lines[0].name, upper.name, lower.name = "", "rising, h "+h, "falling, h "+h
	case chart.KindEWMA:
		strips := c.Log.Strips()
		upper.XYs, lower.XYs = nil, nil
		for i, day := range x.days {
			if i > 0 && strips[i].Fresh {
				p.lines = append(p.lines, namedLine{XYs: upper.XYs}, namedLine{XYs: lower.XYs})
				upper.XYs, lower.XYs = nil, nil
			}
			l := ch.LimitsAt(i + 1)
			upper.XYs = append(upper.XYs, plotter.XY{X: day, Y: l.Upper})
			lower.XYs = append(lower.XYs, plotter.XY{X: day, Y: l.Lower})
			// Where the lines end they are named by what they are there.
			upper.name, lower.name = "upper limit "+parts.Fixed(l.Upper, places), "lower limit "+parts.Fixed(l.Lower, places)
		}
		for _, l := range []*namedLine{&upper, &lower} {
			if len(l.XYs) == 1 { // a single strip still shows what it is held to
				l.XYs = append(l.XYs, plotter.XY{X: x.hi, Y: l.XYs[0].Y})
			}
		}
	}
	p.lines = append(p.lines, upper, lower)
}

// changeLine returns the change of single strips as the log has it.
func changeLine(c *control.Evaluation, ch *control.Chart, days []float64) plotter.XYs {
	for _, l := range c.Levels {
		if l.Quantity != ch.Quantity || l.Since == 0 {
			continue
		}
		from, to := days[l.Since-1], days[len(days)-1]
		now := ch.Limits.Center + l.Change.Value
		if l.PerWeek == nil {
			return plotter.XYs{{X: from, Y: now}, {X: to, Y: now}}
		}
		length := 7 * l.Change.Value / l.PerWeek.Value
		return plotter.XYs{{X: to - length, Y: ch.Limits.Center}, {X: to, Y: now}}
	}
	return nil
}

// addSignals marks the points that speak; a rule is named where it first does,
// and anew after every fresh start.
func (p *controlPanel) addSignals(c *control.Evaluation, ch *control.Chart, days []float64) {
	named := map[string]bool{}
	at := map[int]int{}
	strips, last := c.Log.Strips(), 0
	for _, s := range ch.Signals {
		i := s.Index - 1
		for ; last < i; last++ {
			if strips[last+1].Fresh {
				clear(named)
			}
		}
		y := ch.Values[i]
		if ch.Falling != nil && y <= ch.Limits.Upper {
			y = ch.Falling[i]
		}
		k, seen := at[i]
		if !seen {
			k = len(p.signals)
			at[i] = k
			p.signals = append(p.signals, signalPoint{XY: plotter.XY{X: days[i], Y: y}})
		}
		if named[s.Rule] {
			continue
		}
		named[s.Rule] = true
		if label := &p.signals[k].label; *label == "" {
			*label = signalName(ch.Kind, s.Rule)
		} else { // of the same set, so the number tells
			*label += ", " + s.Rule[strings.LastIndex(s.Rule, "_")+1:]
		}
	}
}

// signalName is what is written at a signal.
func signalName(kind chart.Kind, rule string) string {
	if set, ok := strings.CutPrefix(rule, "western_electric_"); ok {
		return "Western Electric " + set
	}
	if set, ok := strings.CutPrefix(rule, "nelson_"); ok {
		return "Nelson " + set
	}
	if kind == chart.KindCUSUM {
		return "beyond h"
	}
	return "beyond the limit"
}

// Plot draws lines, change, values and signals, in this order.
func (p *controlPanel) Plot(c draw.Canvas, pl *gplot.Plot) {
	for _, l := range p.lines {
		style := parts.Line(0.7, parts.Ink, 4, 2.5)
		if l.center {
			style = parts.Line(0.6, parts.Faint)
		}
		parts.PlotLine(c, pl, style, l.XYs)
	}
	if p.change != nil {
		parts.PlotLine(c, pl, parts.Line(2.2, parts.BandGrey), p.change)
	}
	spoken := map[plotter.XY]bool{}
	for _, s := range p.signals {
		spoken[s.XY] = true
	}
	for i, run := range p.series {
		look := parts.Plain
		if p.falling && 2*i >= len(p.series) {
			look = parts.Unordered(2)[1]
		}
		parts.PlotLine(c, pl, parts.Line(0.7, look.Color), run)
		for _, at := range run {
			pt := parts.Place(c, pl, at)
			switch {
			case spoken[at]: // larger than the others, and of another shape
				c.SetColor(parts.Ink)
				c.Fill(parts.Symbol{Sides: 4}.Outline(pt))
			case look.Symbol.Sides == 0:
				parts.FillDot(c, look.Color, 1.3, pt)
			default: // a falling sum: a short stroke
				c.StrokeLine2(parts.Line(1, look.Color), pt.X, pt.Y-2.2, pt.X, pt.Y+2.2)
			}
		}
	}
}

// nameLines writes the names of the lines at the right of the panel.
func (p *controlPanel) nameLines(c draw.Canvas) {
	var heights []vg.Length
	var named []namedLine
	for _, l := range p.lines {
		if l.name == "" {
			continue
		}
		named = append(named, l)
		heights = append(heights, parts.Place(c, p.plot, l.XYs[len(l.XYs)-1]).Y)
	}
	const gap = 1.15 * parts.SmallSize
	heights = parts.Spread(heights, gap, c.Min.Y, c.Max.Y)
	for i, l := range named {
		size, s := parts.Fitted(parts.SmallSize, controlRoom-4, l.name)
		parts.Write(c, size, parts.Ink, parts.FromLeft, vg.Point{X: c.Max.X + 4, Y: heights[i] - parts.CapHeight*size/2}, s)
	}
}

// nameSignals writes the rules where they first speak, above or below their
// points, where they hide the fewest of the values; those without room are left
// out, for the report has them all.
func (p *controlPanel) nameSignals(c draw.Canvas) {
	var data []vg.Point
	along := func(xys plotter.XYs) {
		at := parts.Places(c, p.plot, xys)
		data = append(data, at[0])
		for i := 1; i < len(at); i++ {
			step := at[i].Sub(at[i-1])
			parts := 1 + int(math.Hypot(float64(step.X), float64(step.Y))/3)
			for k := range parts {
				data = append(data, at[i].Sub(step.Scale(vg.Length(k)/vg.Length(parts))))
			}
		}
	}
	for _, run := range p.series {
		along(run)
	}
	for _, l := range p.lines {
		along(l.XYs)
	}
	var taken []vg.Rectangle
	const off = vg.Length(5)
	for _, s := range p.signals {
		if s.label == "" {
			continue
		}
		w, h := parts.TextWidth(parts.SmallSize, s.label), vg.Length(parts.CapHeight*parts.SmallSize)
		pt := parts.Place(c, p.plot, s.XY)
		best, fewest := vg.Rectangle{}, len(data)+1
		for _, by := range []vg.Length{off, off + h, off + 2.5*h, off + 4*h} {
			for _, at := range []vg.Point{
				{X: pt.X - w/2, Y: pt.Y + by}, {X: pt.X - w/2, Y: pt.Y - by - h},
				{X: pt.X - by - w, Y: pt.Y - h/2}, {X: pt.X + by, Y: pt.Y - h/2},
				{X: pt.X - off - w, Y: pt.Y - by - h}, {X: pt.X - off - w, Y: pt.Y + by},
			} {
				at.X = min(max(at.X, c.Min.X+2), c.Max.X-w-2)
				r := vg.Rectangle{Min: at, Max: at.Add(vg.Point{X: w, Y: h})}
				if r.Min.Y < c.Min.Y+1 || r.Max.Y > c.Max.Y-1 || slices.ContainsFunc(taken, func(o vg.Rectangle) bool { return overlap(r, o, 2) }) {
					continue
				}
				if hidden := parts.Within(r, data, 1.5); hidden < fewest {
					best, fewest = r, hidden
				}
			}
		}
		if fewest > len(data) {
			continue
		}
		taken = append(taken, best)
		near := vg.Point{X: min(max(pt.X, best.Min.X), best.Max.X), Y: min(max(pt.Y, best.Min.Y), best.Max.Y)}
		if d := near.Sub(pt); math.Hypot(float64(d.X), float64(d.Y)) > 1.5*float64(off) {
			c.StrokeLine2(parts.Leader, pt.X, pt.Y, near.X, near.Y)
		}
		parts.Write(c, parts.SmallSize, parts.Ink, parts.FromLeft, best.Min, s.label)
	}
}

func overlap(a, b vg.Rectangle, apart vg.Length) bool {
	return a.Min.X < b.Max.X+apart && b.Min.X < a.Max.X+apart && a.Min.Y < b.Max.Y+apart && b.Min.Y < a.Max.Y+apart
}

// dateTicks marks an axis of days from a first date.
type dateTicks struct{ first time.Time }

func newDateTicks(first string) dateTicks {
	t, _ := time.Parse(time.DateOnly, first) // checked by the log
	return dateTicks{t}
}

// Ticks marks days, weeks, months or years, nine at most; the first of all and
// the first of each year carry the year.
func (d dateTicks) Ticks(lo, hi float64) []gplot.Tick {
	const most = 9
	for _, days := range []int{1, 2, 7, 14, 28} {
		if (hi-lo)/float64(days) > most {
			continue
		}
		var ticks []gplot.Tick
		for n := days * int(math.Ceil(lo/float64(days))); float64(n) <= hi; n += days {
			ticks = append(ticks, d.tick(d.first.AddDate(0, 0, n), "2 Jan"))
		}
		return d.withYears(ticks)
	}
	start := time.Date(d.first.Year(), 1, 1, 0, 0, 0, 0, time.UTC)
	const year = 12
	for months := 3; ; months *= 2 {
		layout := "Jan"
		if months >= year {
			layout = "2006"
		}
		var ticks []gplot.Tick
		for n := 0; ; n += months {
			t := d.tick(start.AddDate(0, n, 0), layout)
			if t.Value > hi {
				break
			}
			if t.Value >= lo {
				ticks = append(ticks, t)
			}
		}
		switch {
		case len(ticks) > most:
		case months >= year:
			return ticks
		default:
			return d.withYears(ticks)
		}
	}
}

func (d dateTicks) tick(at time.Time, layout string) gplot.Tick {
	return gplot.Tick{Value: math.Round(at.Sub(d.first).Hours() / 24), Label: at.Format(layout)}
}

// withYears adds the year to the first tick and to the first of each year.
func (d dateTicks) withYears(ticks []gplot.Tick) []gplot.Tick {
	last := 0
	for i := range ticks {
		year := d.first.AddDate(0, 0, int(ticks[i].Value)).Year()
		if year != last {
			ticks[i].Label += time.Date(year, 1, 1, 0, 0, 0, 0, time.UTC).Format(" 2006")
		}
		last = year
	}
	return ticks
}
