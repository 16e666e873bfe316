package plot

import (
	"cmp"
	"math"
	"slices"
	"strings"

	gplot "gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"sensito/plot/internal/parts"
	"sensito/sensito/testplan"
)

const (
	proposalWidth  = 150 * vg.Millimeter
	proposalHeight = 105 * vg.Millimeter
)

// Proposal returns how far an end of the answer's interval would lie from the
// answer, against the time for which one strip more is developed, as a line; the
// strips chosen together as dots, each with what all up to it leave; and what
// there is now and what is wanted as levels. Intervals that stay open are not
// drawn. Confidence is the proposal's own. The error is for options outside
// their limits.
func Proposal(p *testplan.Proposal, o Options) (*Figure, error) {
	o.Confidence = p.Options.Level
	o, err := o.withDefaults(p.Family.Trial.Title())
	if err != nil {
		return nil, err
	}
	b := newProposalBody(p, o)
	fig := o.figure(proposalWidth, proposalHeight, b)
	return fig.withRoom(b.layout(fig.page()))
}

type proposalBody struct {
	parts.Heading
	plot   *gplot.Plot
	alone  plotter.XYs // one strip by itself, by rising time; +Inf where it stays open
	chosen plotter.XYs // in the order chosen
	tested plotter.XYs
	levels []halfLevel
	note   parts.Note
}

// halfLevel is a half width, with its name.
type halfLevel struct {
	name    string
	percent float64
	draw.LineStyle
}

func newProposalBody(p *testplan.Proposal, o Options) *proposalBody {
	b := &proposalBody{Heading: cautioned(newHeading(o, p.Family.Trial), p.Today)}
	what := "time"
	if p.Options.Wanted == testplan.WantedIndex {
		what = "exposure index"
	}
	b.plot = parts.NewAxes("development time of one strip more, min", "interval of the "+what+", ±%")
	for _, c := range p.Candidates {
		if c.Action == nil {
			b.alone = append(b.alone, plotter.XY{X: float64(c.Minutes), Y: 100 * c.Half})
		}
	}
	slices.SortFunc(b.alone, func(a, b plotter.XY) int { return cmp.Compare(a.X, b.X) })
	for _, c := range p.Chosen {
		if c.Action == nil && !math.IsInf(c.Half, 1) {
			b.chosen = append(b.chosen, plotter.XY{X: float64(c.Minutes), Y: 100 * c.Half})
		}
	}
	for _, m := range p.Family.Strips {
		b.tested = append(b.tested, plotter.XY{X: float64(m.Minutes())})
	}
	b.levels = append(b.levels, halfLevel{"wanted", 100 * p.Options.Within, parts.Line(0.9, parts.Ink)})
	if now := p.Before; now != nil {
		if half := testplan.HalfWidth(*now, o.Confidence); !math.IsInf(half, 1) {
			b.levels = append(b.levels, halfLevel{"now", 100 * half, parts.Line(0.9, parts.Ink, 4, 3)})
		}
	}
	b.scale()
	b.plot.Add(b)
	b.note = proposalNote(p, o)
	return b
}

// scale sets both axes, logarithmic, to hold all.
func (b *proposalBody) scale() {
	x, y := &b.plot.X, &b.plot.Y
	x.Min, x.Max, y.Min, y.Max = math.Inf(1), 0, math.Inf(1), 0
	holdX := func(v float64) { x.Min, x.Max = min(x.Min, v), max(x.Max, v) }
	holdY := func(v float64) { y.Min, y.Max = min(y.Min, v), max(y.Max, v) }
	for _, at := range slices.Concat(b.alone, b.chosen) {
		holdX(at.X)
		if !math.IsInf(at.Y, 1) {
			holdY(at.Y)
		}
	}
	for _, at := range b.tested {
		holdX(at.X)
	}
	for _, l := range b.levels {
		holdY(l.percent)
	}
	const beside = 1.1
	x.Min, x.Max = x.Min/beside, x.Max*beside
	// Room below for the note, and for the strips tested.
	y.Max *= 1.25
	y.Min /= math.Max(2, math.Sqrt(y.Max/y.Min))
	for i := range b.tested {
		b.tested[i].Y = y.Min
	}
	for _, a := range []*gplot.Axis{x, y} {
		a.Scale, a.Tick.Marker = gplot.LogScale{}, parts.TimeTicks{}
	}
}

// closed returns the line of single strips in parts, broken where the interval
// stays open.
func (b *proposalBody) closed() []plotter.XYs {
	var out []plotter.XYs
	var part plotter.XYs
	for _, at := range append(slices.Clone(b.alone), plotter.XY{Y: math.Inf(1)}) {
		if !math.IsInf(at.Y, 1) {
			part = append(part, at)
			continue
		}
		if len(part) > 0 {
			out = append(out, part)
		}
		part = nil
	}
	return out
}

// actionNames say in few words what sharpens an answer beside strips.
var actionNames = map[string]string{
	testplan.ActionReadBase:     "the base read again",
	testplan.ActionReadSteps:    "missing steps read",
	testplan.ActionReachFurther: "more light on all strips",
}

// proposalNote says what is drawn. What is done beside strips has no time, so no
// dot, but the dots after it count it.
func proposalNote(p *testplan.Proposal, o Options) parts.Note {
	n := parts.Note{"line: one strip by itself", "circles on the axis: strips tested"}
	if text := ofToday(p.Today); text != "" {
		n = append(n, "answer for "+text)
	}
	if len(p.Candidates) == 0 {
		n[0] = "no strip would narrow the interval"
	}
	var together []string
	dots := false
	for _, c := range p.Chosen {
		if c.Action != nil {
			together = append(together, actionNames[c.Action.Code])
			continue
		}
		together, dots = append(together, parts.Clock(c.Minutes)), true
	}
	if dots {
		n = append(n, "dots: together, "+strings.Join(together, ", then "))
	}
	return append(n, "intervals: "+parts.Percent(o.Confidence))
}

// Plot draws levels, line, dots and tested strips.
func (b *proposalBody) Plot(c draw.Canvas, p *gplot.Plot) {
	for _, l := range b.levels {
		y := parts.Place(c, p, plotter.XY{X: p.X.Min, Y: l.percent}).Y
		c.StrokeLine2(l.LineStyle, c.Min.X, y, c.Max.X, y)
	}
	for _, part := range b.closed() {
		parts.PlotLine(c, p, parts.Plain.LineStyle, part)
	}
	parts.PlotLine(c, p, parts.Line(0.6, parts.Faint, 1.5, 2), b.chosen)
	for _, pt := range parts.Places(c, p, b.chosen) {
		parts.FillDot(c, parts.Paper, 3.2, pt)
		parts.FillDot(c, parts.Ink, 2.4, pt)
	}
	for _, pt := range parts.Places(c, p, b.tested) {
		parts.Plain.Symbol.Draw(c, parts.Ink, pt)
	}
}

// layout returns the plot and its area on a page.
func (b *proposalBody) layout(page draw.Canvas) ([]*gplot.Plot, []draw.Canvas) {
	return []*gplot.Plot{b.plot}, []draw.Canvas{b.Below(page)}
}

func (b *proposalBody) draw(page draw.Canvas) {
	_, areas := b.layout(page)
	b.plot.Draw(areas[0])
	c := b.plot.DataCanvas(areas[0])
	parts.Frame(c)
	b.Heading.Draw(page)
	b.drawLevels(c)
	if at, hidden := b.note.Corner(c, b.occupied(c)); hidden == 0 {
		b.note.Draw(c, at)
	}
}

// drawLevels names the levels above their lines, at the left, where a strip of
// short development seldom brings the line of single strips down.
func (b *proposalBody) drawLevels(c draw.Canvas) {
	var want []vg.Length
	for _, l := range b.levels {
		want = append(want, parts.Place(c, b.plot, plotter.XY{X: b.plot.X.Min, Y: l.percent}).Y+2.5)
	}
	for i, y := range parts.Spread(want, 1.3*parts.SmallSize, c.Min.Y+2, c.Max.Y-parts.SmallSize) {
		l := b.levels[i]
		parts.Write(c, parts.SmallSize, parts.Ink, parts.FromLeft, vg.Point{X: c.Min.X + 4, Y: y}, l.name+" "+parts.Fixed(l.percent, 1)+" %")
	}
}

// occupied returns the points that the note should not hide.
func (b *proposalBody) occupied(c draw.Canvas) []vg.Point {
	var out []vg.Point
	for _, part := range append(b.closed(), b.chosen, b.tested) {
		out = append(out, parts.Places(c, b.plot, part)...)
	}
	const n = 40
	for _, l := range b.levels {
		y := parts.Place(c, b.plot, plotter.XY{X: b.plot.X.Min, Y: l.percent}).Y
		for i := range n + 1 {
			x := c.Min.X + c.Size().X*vg.Length(i)/n
			out = append(out, vg.Point{X: x, Y: y})
			if i < n/4 {
				out = append(out, vg.Point{X: x, Y: y + parts.SmallSize})
			}
		}
	}
	return out
}
