package plot

import (
	"cmp"
	"fmt"
	"math"

	gplot "gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"sensito/plot/internal/parts"
	"sensito/sensito/control"
	"sensito/sensito/control/chart"
)

const (
	controlWidth = 190 * vg.Millimeter
	controlRoom  = vg.Length(72) // right of the panels, for the names of lines
	fullPanel    = 26 * vg.Millimeter
)

// Control returns the charts of a control log under each other on one axis of
// dates: the values, the centre and the limits with their names, the strips
// that limits rest on shaded. Points at which a chart speaks are filled and
// named by their rule where each first speaks. Where single strips have changed,
// the step or drift is drawn through them. The error is for options outside
// their limits, or no chart.
func Control(c *control.Evaluation, o Options) (*Figure, error) {
	title := c.Log.Title()
	if title == "" {
		title = "Control strips"
	}
	o, err := o.withDefaults(title)
	if err != nil {
		return nil, err
	}
	if len(c.Charts) == 0 {
		return nil, fmt.Errorf("no chart to draw")
	}
	b := newControlBody(c, o)
	height := 30 * vg.Millimeter
	for _, share := range b.shares {
		height += vg.Length(share)*fullPanel + parts.PanelGap + parts.SmallSize*1.4
	}
	fig := o.figure(controlWidth, min(height, maxSide), b)
	plots, areas := b.layout(fig.page())
	for i, p := range plots {
		const least = 18 // for three labelled ticks
		if err := parts.Room(p.DataCanvas(areas[i]), least); err != nil {
			return nil, err
		}
	}
	return fig, nil
}

// controlShares are the heights of the charts against each other.
var controlShares = map[chart.Kind]float64{
	chart.KindIndividuals: 1, chart.KindMovingRange: 0.6, chart.KindEWMA: 0.8, chart.KindCUSUM: 0.8,
}

type controlBody struct {
	parts.Heading
	panels []*controlPanel
	shares []float64
}

func newControlBody(c *control.Evaluation, o Options) *controlBody {
	strips := c.Log.Strips()
	b := &controlBody{Heading: parts.Heading{Title: o.Title, Sub: controlVerdict(c)}}
	x := newControlAxis(c)
	for i := range c.Charts {
		ch := &c.Charts[i]
		p := newControlPanel(c, ch, x)
		if i > 0 && c.Charts[i-1].Quantity == ch.Quantity {
			p.name = chartTitle(ch.Kind)
		}
		p.plot.X.Tick.Marker = newDateTicks(strips[0].Date)
		b.panels, b.shares = append(b.panels, p), append(b.shares, controlShares[ch.Kind])
	}
	for _, p := range b.panels[:len(b.panels)-1] {
		p.plot.X.Tick.Marker = parts.Unlabelled{p.plot.X.Tick.Marker}
		p.plot.X.Tick.Label.Font.Size = 1
	}
	return b
}

// controlVerdict is the line below the title.
func controlVerdict(c *control.Evaluation) string {
	strips := c.Log.Strips()
	s := c.First
	count, dates := "1 strip", strips[0].Date
	if len(strips) > 1 {
		count, dates = fmt.Sprintf("%d strips", len(strips)), dates+" to "+strips[len(strips)-1].Date
	}
	if s == nil {
		return fmt.Sprintf("%s, %s: no chart speaks", count, dates)
	}
	text := fmt.Sprintf("%s; first signal %s, strip %d, %s of the %s", count, strips[s.Index-1].Date, s.Index, chartTitle(s.Kind), quantityTitle(s.Quantity))
	if s.Since < s.Index {
		text += ", on its way since " + strips[s.Since-1].Date
	}
	return text
}

func chartTitle(kind chart.Kind) string {
	return cmp.Or(map[chart.Kind]string{chart.KindIndividuals: "single strips", chart.KindMovingRange: "moving ranges", chart.KindEWMA: "EWMA"}[kind], "CUSUM")
}

func quantityTitle(quantity string) string {
	return cmp.Or(map[string]string{control.QuantityBaseFog: "base plus fog", control.QuantityLow: "low density",
		control.QuantityDifference: "density difference"}[quantity], "patch "+quantity)
}

// layout returns the plots and their areas on a page.
func (b *controlBody) layout(page draw.Canvas) ([]*gplot.Plot, []draw.Canvas) {
	whole := b.Below(page)
	whole.Max.X -= controlRoom
	whole.Max.Y -= parts.SmallSize // between heading and the first panel's name
	plots := make([]*gplot.Plot, len(b.panels))
	for i, p := range b.panels {
		plots[i] = p.plot
	}
	return plots, parts.Stack(whole, plots, b.shares)
}

func (b *controlBody) draw(page draw.Canvas) {
	_, areas := b.layout(page)
	for i, p := range b.panels {
		p.plot.Draw(areas[i])
		c := p.plot.DataCanvas(areas[i])
		parts.Frame(c)
		if i == 0 {
			b.Heading.Draw(page)
		}
		size, name := parts.Fitted(parts.SmallSize, c.Size().X, p.name)
		parts.Write(c, size, parts.Ink, parts.FromLeft, vg.Point{X: c.Min.X, Y: c.Max.Y + 2.5}, name)
		p.nameLines(c)
		p.nameSignals(c)
	}
}

// controlAxis is what the panels share along the dates, in days from the first
// strip.
type controlAxis struct {
	days     []float64
	lo, hi   float64
	baseline plotter.XYs // begin and end of runs of baseline strips, as X and Y
	fresh    []float64
}

func newControlAxis(c *control.Evaluation) controlAxis {
	a := controlAxis{days: c.Log.Days()}
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
	}
	return a
}

// Plot shades the baseline and marks fresh starts.
func (a controlAxis) Plot(c draw.Canvas, p *gplot.Plot) {
	at := func(day float64) vg.Length { return parts.Place(c, p, plotter.XY{X: day, Y: p.Y.Min}).X }
	for _, run := range a.baseline {
		const beside = 3
		c.SetColor(parts.MarkGrey)
		c.Fill(vg.Rectangle{Min: vg.Point{X: max(at(run.X)-beside, c.Min.X), Y: c.Min.Y}, Max: vg.Point{X: min(at(run.Y)+beside, c.Max.X), Y: c.Max.Y}}.Path())
	}
	for _, day := range a.fresh {
		x := at(day)
		c.StrokeLine2(parts.Line(0.8, parts.Ink, 5, 2), x, c.Min.Y, x, c.Max.Y)
	}
}
