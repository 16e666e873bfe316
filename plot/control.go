package plot

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	gplot "gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"sensito/plot/internal/figure"
	"sensito/plot/internal/parts"
	"sensito/sensito/answers"
	"sensito/sensito/control"
	"sensito/sensito/control/chart"
)

const (
	controlWidth  = 180 * vg.Millimeter
	controlPage   = 150 * vg.Millimeter // narrower ones have every CUSUM below its row
	controlHigh   = 34 * vg.Millimeter  // of a row
	controlSide   = 0.24                // of the width, for the CUSUM beside a row
	controlGap    = vg.Length(8)        // between a row and its CUSUM
	slimPanel     = 0.55                // of the height of a row
	controlLabels = vg.Length(4)        // between a row and the names of its limits
)

// Control returns the charts of a control log, a row for each quantity, contrast
// first, on one axis of dates: single strips as rings, as crosses where a rule speaks
// and named by the rule where it first does, on the band of their limits; the EWMA
// as a line within its own; a flag in the first row on each day of which something was
// noted; and beside each row, or below it on a narrow page, the
// CUSUM in standard deviations. A wash runs from where a quantity began to change
// to its first signal. Moving ranges are drawn where they alone speak or were
// asked for alone. The error is for options outside their limits, or no chart.
func Control(c *control.Evaluation, o Options) (*Figure, error) {
	o, err := o.WithDefaults(answers.Control(c))
	if err != nil {
		return nil, err
	}
	if len(c.Charts) == 0 {
		return nil, fmt.Errorf("no chart to draw")
	}
	width := cmp.Or(o.Width, controlWidth)
	b := newControlBody(c, o, width)
	_, shares := b.stacked()
	height := width - b.Below(parts.Page(width, width)).Size().Y + 2*parts.BodySize
	for _, share := range shares {
		height += vg.Length(share)*controlHigh + parts.PanelGap + parts.SmallSize*1.4
	}
	fig := o.Figure(width, min(height, figure.MaxSide), b)
	for _, p := range b.placed(fig.Page()) {
		const least = 18 // for three labelled ticks
		if c := p.plot.DataCanvas(p.area); c.Size().Y < least || !p.beside && c.Size().X < 80 {
			return nil, parts.Room(draw.Canvas{}, least)
		}
	}
	return fig, nil
}

// controlBody is a figure of rows.
type controlBody struct {
	parts.Heading
	rows   []controlRow
	column bool // CUSUMs lie below their rows
}

// controlRow is one quantity. CUSUM and moving ranges may be nil.
type controlRow struct{ main, ranges, cusum *controlPanel }

// rowOrder is that of the quantities; further patches follow.
var rowOrder = []string{control.QuantityDifference, control.QuantityLow, control.QuantityBaseFog}

func newControlBody(c *control.Evaluation, o Options, width vg.Length) *controlBody {
	b := &controlBody{column: width < controlPage, Heading: parts.Heading{Title: o.Title, Bare: o.Page, Sub: controlConditions(c, o.Confidence)}}
	quantities := c.Log.Quantities()
	slices.SortStableFunc(quantities, func(a, b string) int { // further patches last
		return cmp.Compare(uint(slices.Index(rowOrder, a)), uint(slices.Index(rowOrder, b)))
	})
	x := newControlAxis(c)
	for _, q := range quantities {
		b.rows = append(b.rows, newControlRow(c, q, x))
	}
	b.rows[0].main.first = true
	if b.Foot = b.legend(); b.Bare {
		b.Foot += " Numbers of the axes are densities, those of a CUSUM standard deviations."
	}
	const label, most, few = 42, 9, 4 // points of a date
	fits := min(most, int((1-controlSide)*width-b.labelRoom())/label)
	ticks := parts.NewDateTicks(c.Log.Strips()[0].Date, fits)
	dates := func(plots []*gplot.Plot, short bool) { // below the last alone
		for i, p := range plots {
			if p.X.Tick.Marker = ticks; short {
				p.X.Tick.Marker = ticks.Ends(x.days[len(x.days)-1])
			}
			if i < len(plots)-1 {
				p.X.Tick.Marker = parts.Unlabelled{Ticker: p.X.Tick.Marker}
				p.X.Tick.Label.Font.Size = 1
			}
		}
	}
	plots, _ := b.stacked()
	dates(plots, fits < few)
	dates(b.beside(), true)
	return b
}

// newControlRow returns the charts of a quantity, those that there are.
func newControlRow(c *control.Evaluation, quantity string, x *controlAxis) controlRow {
	charts := map[chart.Kind]*control.Chart{}
	spoken := map[chart.Kind]bool{}
	for i := range c.Charts {
		if ch := &c.Charts[i]; ch.Quantity == quantity {
			charts[ch.Kind] = ch
			spoken[ch.Kind] = slices.ContainsFunc(ch.Signals, func(s chart.Signal) bool { return s.Index >= c.RunFrom() })
		}
	}
	panel := func(kinds ...chart.Kind) *controlPanel {
		var of []*control.Chart
		for _, kind := range kinds {
			if ch := charts[kind]; ch != nil {
				of = append(of, ch)
			}
		}
		if len(of) == 0 {
			return nil
		}
		return newControlPanel(c, of, x)
	}
	r := controlRow{main: panel(chart.KindIndividuals, chart.KindEWMA), cusum: panel(chart.KindCUSUM)}
	if len(charts) == 1 || spoken[chart.KindMovingRange] && !spoken[chart.KindIndividuals] && !spoken[chart.KindEWMA] && !spoken[chart.KindCUSUM] {
		r.ranges = panel(chart.KindMovingRange)
	}
	for _, p := range []**controlPanel{&r.cusum, &r.ranges} {
		if r.main == nil {
			r.main, *p = *p, nil
		}
	}
	row, state := controlRowName(quantity), controlState(c, quantity)
	r.main.name = row + state
	if short, _, found := strings.Cut(row, " ("); found {
		r.main.short = short + state
	}
	return r
}

// stacked returns the plots under each other and their shares of the height.
func (b *controlBody) stacked() (plots []*gplot.Plot, shares []float64) {
	for _, r := range b.rows {
		plots, shares = append(plots, r.main.plot), append(shares, 1)
		if r.ranges != nil {
			plots, shares = append(plots, r.ranges.plot), append(shares, slimPanel)
		}
		if r.cusum != nil && b.column {
			plots, shares = append(plots, r.cusum.plot), append(shares, slimPanel)
		}
	}
	return plots, shares
}

// beside returns the plots beside the rows.
func (b *controlBody) beside() []*gplot.Plot {
	var plots []*gplot.Plot
	for _, r := range b.rows {
		if r.cusum != nil && !b.column {
			plots = append(plots, r.cusum.plot)
		}
	}
	return plots
}

// controlPlace is a panel and its area.
type controlPlace struct {
	*controlPanel
	area   draw.Canvas
	beside bool
}

// placed returns all panels with their areas on a page.
func (b *controlBody) placed(page draw.Canvas) []controlPlace {
	whole := b.Below(page)
	whole.Max.Y -= parts.SmallSize // between heading and the first panel's name
	left, right := whole, whole
	plots, shares := b.stacked()
	if side := b.beside(); len(side) > 0 {
		right.Min.X = right.Max.X - controlSide*whole.Size().X
		left.Max.X = right.Min.X - controlGap
	}
	left.Max.X -= b.labelRoom()
	areas := parts.Stack(left, plots, shares)
	var out []controlPlace
	take := func(p *controlPanel) {
		if p != nil {
			out = append(out, controlPlace{controlPanel: p, area: areas[0]})
			areas = areas[1:]
		}
	}
	side := b.beside()
	var level []draw.Canvas
	if len(side) > 0 {
		level = parts.Stack(right, side, slices.Repeat([]float64{1}, len(side)))
	}
	for _, r := range b.rows {
		take(r.main)
		main := r.main.plot.DataCanvas(out[len(out)-1].area)
		take(r.ranges)
		switch {
		case r.cusum == nil:
		case b.column:
			take(r.cusum)
		default: // level with its row
			own := r.cusum.plot.DataCanvas(level[0])
			area := draw.Crop(level[0], 0, 0, main.Min.Y-own.Min.Y, main.Max.Y-own.Max.Y)
			out, level = append(out, controlPlace{r.cusum, area, true}), level[1:]
		}
	}
	return out
}

// labelRoom returns what the names of the limits take beside the rows.
func (b *controlBody) labelRoom() vg.Length {
	var w vg.Length
	for _, r := range b.rows {
		for _, p := range []*controlPanel{r.main, r.ranges} {
			if p == nil {
				continue
			}
			for _, l := range p.lines {
				w = max(w, parts.TextWidth(parts.LeastSize, l.name))
			}
		}
	}
	return w + controlLabels
}

func (b *controlBody) DrawOn(page draw.Canvas) {
	b.Heading.Draw(page)
	for _, p := range b.placed(page) {
		p.plot.Draw(p.area)
		c := p.plot.DataCanvas(p.area)
		parts.Frame(c)
		room := c.Size().X
		if !p.beside {
			room += b.labelRoom()
		}
		name := p.name
		if p.short != "" && parts.TextWidth(parts.LeastSize, name) > room {
			name = p.short
		}
		size, name := parts.Fitted(parts.SmallSize, room, name)
		parts.Write(c, size, parts.Ink, parts.FromLeft, vg.Point{X: c.Min.X, Y: c.Max.Y + 2.5}, name)
		p.nameLines(c, b.labelRoom())
		p.nameMarks(c)
	}
}

// legend says what the marks are, of those that are drawn.
func (b *controlBody) legend() string {
	kinds := map[chart.Kind]bool{chart.KindCUSUM: b.rows[0].cusum != nil}
	for _, l := range b.rows[0].main.layers {
		kinds[l.kind] = true
	}
	washed := slices.ContainsFunc(b.rows, func(r controlRow) bool { return r.main.wash[1] > r.main.wash[0] })
	return controlLegend(kinds, washed, len(b.rows[0].main.axis.noted) > 0)
}

// numbers returns what is drawn, by row and chart.
func (b *controlBody) Numbers() []figure.Series {
	var out []figure.Series
	for _, r := range b.rows {
		for _, p := range []*controlPanel{r.main, r.ranges, r.cusum} {
			if p != nil {
				out = append(out, p.numbers(r.main.quantity)...)
			}
		}
	}
	return out
}

// limitsAt returns the limits of a chart at its strips as they are drawn.
func limitsAt(ch *control.Chart, unit float64) (low, high []float64) {
	for i := range ch.Values {
		l := ch.LimitsAt(i + 1)
		if ch.Kind == chart.KindMovingRange {
			l.Lower = math.NaN()
		}
		low, high = append(low, l.Lower/unit), append(high, l.Upper/unit)
	}
	return low, high
}
