package planned

import (
	"cmp"
	"fmt"
	"strconv"
	"strings"

	gplot "gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"sensito/plot/internal/figure"
	"sensito/plot/internal/parts"
	"sensito/sensito"
	"sensito/sensito/testplan"
)

const (
	firstTestWidth  = 150 * vg.Millimeter
	firstTestHeight = 75 * vg.Millimeter // below the heading
)

// FirstTest returns what a first test of a film exposes and for how long it
// develops: the exposures of the steps on a scale of log exposure, with where the
// speed point is expected and what a strip should show; below it the times, with the
// published one. The error is for options outside their limits or too small a page.
func FirstTest(p *testplan.FirstProposal, o figure.Options) (*figure.Figure, error) {
	o, err := o.WithDefaults("")
	if err != nil {
		return nil, err
	}
	b := newFirstTest(p, &o)
	width := cmp.Or(o.Width, firstTestWidth)
	tall := parts.Page(width, 10*width)
	fig := o.Figure(width, tall.Size().Y-b.Below(tall).Size().Y+firstTestHeight, b)
	plots, areas := b.layout(fig.Page())
	for i, p := range plots {
		const least = 25 // for a row and its name
		if err := parts.Room(p.DataCanvas(areas[i]), least); err != nil {
			return nil, err
		}
	}
	return fig, nil
}

type firstTest struct {
	parts.Heading
	light, times *gplot.Plot
	steps        parts.OtherScale
	exposures    plotter.XYs // by step
	speedPoint   parts.Whisker
	shows        [2]float64 // log exposure
	minutes      plotter.XYs
	published    float64
}

// The rows of the upper panel.
const (
	stepsRow  = 3
	pointRow  = 2
	showsRow  = 1
	firstRows = 3
)

func newFirstTest(p *testplan.FirstProposal, o *figure.Options) *firstTest {
	b := &firstTest{published: float64(p.Spec.Minutes)}
	what := fmt.Sprintf("Expose %s lx s under the wedge", parts.Number(p.LuxSeconds))
	if p.Spec.Way == sensito.Camera {
		what = fmt.Sprintf("Expose from %s to %s stops at index %s", parts.Stops(p.Stops[0]), parts.Stops(p.Stops[len(p.Stops)-1]), parts.Number(float64(p.MeterIndex)))
	}
	var told []string
	var ticks []gplot.Tick
	for _, m := range p.Minutes {
		ticks = append(ticks, gplot.Tick{Value: float64(m), Label: parts.Clock(m)})
		told = append(told, parts.Clock(m))
		b.minutes = append(b.minutes, plotter.XY{X: float64(m), Y: 0.5})
	}
	if o.Title == "" {
		o.Title = what + " and develop strips for " + sentenceOf(told)
	}
	conditions := []string{p.Spec.Film.Name}
	if c := p.Spec.Process.String(); c != "" {
		conditions = append(conditions, c)
	}
	b.Heading = figure.Cautioned(parts.Heading{Title: o.Title, Bare: o.Page, Sub: "A first test of " + strings.Join(conditions, ", ") + ", of which only the box is known: speed " +
		parts.Number(float64(p.Spec.Film.RatedSpeed)) + ", " + parts.Clock(p.Spec.Minutes)}, nil)

	logH := p.Exposures.LogH()
	for _, h := range logH {
		b.exposures = append(b.exposures, plotter.XY{X: float64(h), Y: stepsRow})
	}
	b.steps.Label = "step"
	at, within := float64(p.SpeedPoint), float64(p.Within)
	b.speedPoint = parts.Whisker{XY: plotter.XY{X: at, Y: pointRow}, Low: at - within, High: at + within, Across: true, Filled: true}
	b.shows = [2]float64{at - within, at + within + float64(p.Shows)}

	b.light = parts.NewAxes("log exposure, log10 lx s", "")
	lo, hi := p.Exposures.Span()
	const beside = 0.1
	b.light.X.Min, b.light.X.Max = min(float64(lo), b.shows[0])-beside, max(float64(hi), b.shows[1])+beside
	b.light.X.Tick.Marker = parts.DecimalTicks{Want: 7}
	b.light.Y.Min, b.light.Y.Max = 0.4, firstRows+0.7
	b.light.Y.Tick.Marker = gplot.ConstantTicks(nil)
	b.light.Add(b)

	b.times = parts.NewAxes("development time, min:s", "")
	first, last := float64(p.Minutes[0]), float64(p.Minutes[len(p.Minutes)-1])
	const around = 1.15
	b.times.X.Min, b.times.X.Max, b.times.X.Scale = first/around, last*around, gplot.LogScale{}
	b.times.X.Tick.Marker = gplot.ConstantTicks(ticks)
	b.times.Y.Min, b.times.Y.Max = 0, 1
	b.times.Y.Tick.Marker = gplot.ConstantTicks(nil)
	return b
}

// Plot draws the rows of the upper panel.
func (b *firstTest) Plot(c draw.Canvas, p *gplot.Plot) {
	for _, at := range b.exposures {
		parts.FillDot(c, parts.Ink, 1.6, parts.Place(c, p, at))
	}
	b.speedPoint.Plot(c, p)
	from, to := parts.Place(c, p, plotter.XY{X: b.shows[0], Y: showsRow}), parts.Place(c, p, plotter.XY{X: b.shows[1], Y: showsRow})
	parts.RangeBar{From: from.X, To: to.X, Y: from.Y, LineStyle: parts.Line(1.6, parts.Ink)}.Draw(c)
}

// layout returns the plots and their areas on a page.
func (b *firstTest) layout(page draw.Canvas) ([]*gplot.Plot, []draw.Canvas) {
	whole := b.Below(page)
	whole.Max.Y -= b.steps.Height()
	plots := []*gplot.Plot{b.light, b.times}
	return plots, parts.Stack(whole, plots, []float64{1, 0.35})
}

// numbered returns the scale of the steps with as many numbers as stand clear.
func (b *firstTest) numbered(c draw.Canvas) parts.OtherScale {
	lo, hi := b.exposures[0].X, b.exposures[0].X
	for _, at := range b.exposures {
		lo, hi = min(lo, at.X), max(hi, at.X)
	}
	every := parts.Every(c.Size().X * vg.Length((hi-lo)/(b.light.X.Max-b.light.X.Min)/float64(len(b.exposures))))
	s := b.steps
	for i, at := range b.exposures {
		t := gplot.Tick{Value: at.X}
		if (i+1)%every == 0 {
			t.Label = strconv.Itoa(i + 1)
		}
		s.Marks = append(s.Marks, t)
	}
	return s
}

func (b *firstTest) DrawOn(page draw.Canvas) {
	plots, areas := b.layout(page)
	b.Heading.Draw(page)
	for i, p := range plots {
		p.Draw(areas[i])
		parts.Frame(p.DataCanvas(areas[i]))
	}
	c := b.light.DataCanvas(areas[0])
	b.numbered(c).Draw(c, b.light)
	for _, row := range []struct {
		at   float64
		name string
	}{{stepsRow, "the steps of a strip"}, {pointRow, "where the speed point is expected"}, {showsRow, "what a strip should show, wherever it lies"}} {
		y := parts.Place(c, b.light, plotter.XY{X: b.light.X.Min, Y: row.at}).Y
		parts.Write(c, parts.SmallSize, parts.Ink, parts.FromLeft, vg.Point{X: c.Min.X + 4, Y: y + 5}, parts.Shortened(parts.SmallSize, c.Size().X-8, row.name))
	}
	c = b.times.DataCanvas(areas[1])
	x := parts.Place(c, b.times, plotter.XY{X: b.published, Y: 0}).X
	c.StrokeLine2(parts.Line(0.7, parts.Ink, 3, 2), x, c.Min.Y, x, c.Max.Y)
	const published = "published"
	parts.Write(c, parts.SmallSize, parts.Ink, parts.FromLeft, vg.Point{X: min(x+3, c.Max.X-parts.TextWidth(parts.SmallSize, published)), Y: c.Min.Y + 3}, published)
	for _, at := range b.minutes {
		parts.FillDot(c, parts.Ink, 2.2, parts.Place(c, b.times, at))
	}
}

func (b *firstTest) Numbers() []figure.Series {
	h, w := b.light.X.Label.Text, b.speedPoint
	steps := figure.Series{Name: "steps", X: "step", Y: h}
	for i, at := range b.exposures {
		steps.Values = append(steps.Values, figure.Plain(plotter.XYs{{X: float64(i + 1), Y: at.X}})...)
	}
	times := figure.Series{Name: "times", X: "strip", Y: "development time, min"}
	for i, at := range b.minutes {
		times.Values = append(times.Values, figure.Plain(plotter.XYs{{X: float64(i + 1), Y: at.X}})...)
	}
	return []figure.Series{steps, times, {Name: "speed point, expected", X: "", Y: h, Values: []figure.Value{{XY: plotter.XY{Y: w.X}, Low: w.Low, High: w.High}}}}
}
