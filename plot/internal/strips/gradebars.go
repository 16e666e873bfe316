package strips

import (
	"math"
	"strings"

	gplot "gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"sensito/plot/internal/parts"
	"sensito/sensito/paper"
)

// gradeBars are the useful ranges of grades under each other, the softest on top.
type gradeBars struct {
	rows     []gradeBar
	brief    bool // the texts are without intervals
	pictured bool // a strip was read in a picture, whose range is not an ISO range
}

// gradeBar is the range of a grade, from its origin on.
type gradeBar struct {
	parts.Look
	name                 string
	ranged               bool
	white, black         float64
	low, high            float64 // the interval of the range, from white on
	openWhite, openBlack bool
	text, brief          string
}

// end returns where the bar ends with its interval.
func (r gradeBar) end() float64 {
	if r.openBlack || !r.ranged {
		return r.black
	}
	return max(r.black, r.high)
}

func (g *gradeBars) text(r gradeBar) string {
	if g.brief {
		return r.brief
	}
	return r.text
}

// add adds the range of a strip.
func (g *gradeBars) add(m *paper.Strip, l parts.Look, origin, level float64) {
	r := gradeBar{Look: l, name: strings.TrimPrefix(gradeLabel(m), "grade "), text: "no range", brief: "no range"}
	if e := m.LogRange; e != nil {
		r.ranged = true
		r.white, r.black = float64(m.White.Value)-origin, float64(m.Black.Value)-origin
		r.openWhite, r.openBlack = !m.WhiteReached, !m.BlackReached
		low, high := e.Closed(level)
		r.low, r.high = r.white+float64(low), r.white+float64(high)
		r.text, r.brief = rangeWithin(m, level), boundRange(m)
	}
	if e := m.Speed; e != nil {
		places := parts.SpeedPlaces(e.Value)
		r.text += ", speed " + parts.Interval(*e, level, places)
		r.brief += ", " + bound(*e, places)
	}
	g.pictured = g.pictured || m.Pictured()
	g.rows = append(g.rows, r)
}

// ranges returns what the ranges of the bars are called.
func (g *gradeBars) ranges() string {
	if g.pictured {
		return "range"
	}
	return "ISO range"
}

// span returns where the bars begin and end.
func (g *gradeBars) span() (from, to float64) {
	from, to = math.Inf(1), math.Inf(-1)
	for _, r := range g.rows {
		if r.ranged {
			from, to = min(from, r.white), max(to, r.end())
		}
	}
	return from, to
}

const (
	barPitch   = vg.Length(12.5) // from one bar to the next
	widestName = vg.Length(60)   // of a grade beside its bar
)

// axes returns the panel of the bars, with the horizontal axis of another.
func (g *gradeBars) axes(of *gplot.Plot) *gplot.Plot {
	p := parts.NewAxes(of.X.Label.Text, "grade")
	p.X.Min, p.X.Max, p.X.Tick.Marker = of.X.Min, of.X.Max, of.X.Tick.Marker
	var ticks gplot.ConstantTicks
	for i, r := range g.rows {
		ticks = append(ticks, gplot.Tick{Value: g.height(i), Label: parts.Shortened(parts.BodySize, widestName, r.name)})
	}
	p.Y.Min, p.Y.Max, p.Y.Tick.Marker = -0.6, float64(len(g.rows))-0.4, ticks
	p.Add(g)
	return p
}

// height returns where the bar of a row lies.
func (g *gradeBars) height(i int) float64 { return float64(len(g.rows) - 1 - i) }

// Plot draws the bars with their texts.
func (g *gradeBars) Plot(c draw.Canvas, p *gplot.Plot) {
	x, y := p.Transforms(&c)
	const thick, gap = 3.4, 7
	for i, r := range g.rows {
		at := y(g.height(i))
		end := x(r.end())
		if r.ranged {
			style := r.LineStyle
			style.Width, style.Dashes = thick, nil
			parts.RangeBar{From: x(r.white), To: x(r.black), Y: at, OpenFrom: r.openWhite, OpenTo: r.openBlack, LineStyle: style}.Draw(c)
			if !r.openBlack {
				look := r.Look
				look.Symbol = parts.Symbol{Scale: 0.75}
				parts.Whisker{XY: plotter.XY{X: r.black, Y: g.height(i)}, Low: r.low, High: r.high, Across: true, Filled: true, Look: look}.Plot(c, p)
			}
			c.StrokeLine2(parts.Line(1.2, parts.Paper), x(0), at-thick/2, x(0), at+thick/2)
		}
		parts.Write(c, parts.SmallSize, parts.Ink, parts.FromLeft, vg.Point{X: end + gap, Y: at - parts.CapHeight*parts.SmallSize/2}, g.text(r))
	}
}
