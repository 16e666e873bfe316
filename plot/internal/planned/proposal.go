package planned

import (
	"math"
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

const proposalWidth = 150 * vg.Millimeter

// Proposal returns the interval of the answer now and as each thing proposed would
// leave it, a row each: what is chosen together in its order, each row with all
// before it, then single strips that would do instead. The interval that is wanted
// is shaded. Confidence is the proposal's own. The error is for options outside
// their limits.
func Proposal(p *testplan.Proposal, o figure.Options) (*figure.Figure, error) {
	o.Confidence = p.Options.Level
	o, err := o.WithDefaults("")
	if err != nil {
		return nil, err
	}
	b := newProposalBody(p, &o)
	width := vg.Length(proposalWidth)
	if o.Width != 0 {
		width = o.Width
	}
	fig := o.Figure(width, b.height(width), b)
	plots, areas := b.layout(fig.Page())
	for i, p := range plots {
		if err := parts.Room(p.DataCanvas(areas[i]), rowHeight*vg.Length(len(b.rows))/2); err != nil {
			return nil, err
		}
	}
	return fig, nil
}

// proposalBody is the answer across and the rows downwards, the first at 0, the next
// at -1.
type proposalBody struct {
	parts.Heading
	plot   *gplot.Plot
	what   string // the answer, with its unit
	rows   []proposalRow
	wanted [2]float64 // where the interval is to end
	name   string     // of that
}

// proposalRow is one interval. One that stays open reaches beyond the axis.
type proposalRow struct {
	name string
	parts.Whisker
	half string // how far the further end lies off
	gap  bool   // the row begins another kind
}

// mostAlternatives is how many single strips are shown beside those chosen.
const mostAlternatives = 4

func newProposalBody(p *testplan.Proposal, o *figure.Options) *proposalBody {
	b := &proposalBody{what: "development time, min:s"}
	quantity := "development time"
	if p.Options.Wanted == testplan.WantedIndex {
		b.what, quantity = "exposure index", "exposure index"
	}
	b.Heading = figure.Cautioned(o.Headed(proposalTitle(p, quantity), p.Family.Trial, parts.Number(p.Scene.Stops)+" stops, "+p.Scene.AimText(), figure.OfToday(p.Today), "bars: "+parts.Percent(o.Confidence)+" intervals, those to come as expected, with their longer side in %; solid: proposed"), p.Today)
	b.addRows(p, o.Confidence)
	if value := b.rows[0].X; value > 0 {
		b.wanted = [2]float64{value / (1 + p.Options.Within), value * (1 + p.Options.Within)}
		b.name = "wanted: ±" + parts.Fixed(100*p.Options.Within, 1) + " %"
	}
	b.plot = parts.NewAxes(b.what, "")
	b.scale()
	b.plot.Add(b)
	return b
}

// proposalTitle says what to do and what it brings.
func proposalTitle(p *testplan.Proposal, quantity string) string {
	if len(p.Chosen) == 0 {
		if p.Met {
			return "The " + quantity + " is as sure as wanted: nothing more to test"
		}
		return "No strip of this kind would make the " + quantity + " surer"
	}
	var do []string
	for _, c := range p.Chosen {
		do = append(do, proposed(c))
	}
	text := figure.Capital(sentenceOf(do)) + " would narrow the " + quantity + " to " + halfName(p.Chosen[len(p.Chosen)-1].Half)
	if now := p.Before; now != nil {
		text += ", now " + halfName(testplan.HalfWidth(*now, p.Options.Level))
	}
	return text
}

// sentenceOf joins what is to be done.
func sentenceOf(do []string) string {
	if len(do) == 1 {
		return do[0]
	}
	return strings.Join(do[:len(do)-1], ", ") + " and " + do[len(do)-1]
}

// proposed says in few words what is to be done.
func proposed(c testplan.Candidate) string {
	if c.Action != nil {
		return actionNames[c.Action.Code]
	}
	if c.Again {
		return "another strip of " + parts.Clock(c.Minutes)
	}
	return "a strip of " + parts.Clock(c.Minutes)
}

// actionNames say in few words what sharpens an answer beside strips.
var actionNames = map[string]string{
	testplan.ActionReadBase:     "the base read again",
	testplan.ActionReadSteps:    "missing steps read",
	testplan.ActionReachFurther: "more light on all strips",
}

// halfName tells a half width.
func halfName(half float64) string {
	if math.IsInf(half, 1) {
		return "open"
	}
	return "±" + parts.Fixed(100*half, 1) + " %"
}

func (b *proposalBody) addRows(p *testplan.Proposal, level float64) {
	add := func(name string, e sensito.Estimate[float64], gap bool) {
		low, high := e.Interval(level)
		b.rows = append(b.rows, proposalRow{name: name, half: halfName(testplan.HalfWidth(e, level)), gap: gap,
			Whisker: parts.Whisker{XY: plotter.XY{X: e.Value, Y: -float64(len(b.rows))}, Low: low, High: high, Across: true}})
	}
	if now := p.Before; now != nil {
		add("now", *now, false)
	}
	for i, c := range p.Chosen {
		name := proposed(c)
		if i > 0 {
			name = "and " + name
		}
		add(name, c.After, i == 0)
		b.rows[len(b.rows)-1].Filled = true
	}
	others := 0
	for _, c := range p.Candidates {
		if c.Action != nil || c.Far || others == mostAlternatives || len(p.Chosen) > 0 && p.Chosen[0].Action == nil && c.Minutes == p.Chosen[0].Minutes {
			continue
		}
		name := "with " + proposed(c)
		if len(p.Chosen) > 0 {
			name = "or " + proposed(c) + " alone"
		}
		add(name, c.After, others == 0)
		others++
	}
	if len(b.rows) == 0 { // nothing is known and nothing would help
		b.rows = append(b.rows, proposalRow{name: "no answer yet", Whisker: parts.Whisker{XY: plotter.XY{X: math.NaN()}}})
	}
}

// scale gives the axis what closes, within half and twice the answer.
func (b *proposalBody) scale() {
	x := &b.plot.X
	x.Min, x.Max = math.Inf(1), 0
	for _, r := range b.rows {
		if math.IsNaN(r.X) {
			continue
		}
		x.Min, x.Max = min(x.Min, max(r.Low, r.X/2)), max(x.Max, min(r.High, 2*r.X))
	}
	if b.wanted[1] > 0 {
		x.Min, x.Max = min(x.Min, b.wanted[0]), max(x.Max, b.wanted[1])
	}
	if x.Max == 0 {
		x.Min, x.Max = 1, 2
	}
	by := 0.06 * (x.Max - x.Min)
	x.Min, x.Max = x.Min-by, x.Max+by
	x.Tick.Marker = parts.DecimalTicks{Want: 6}
	if strings.HasPrefix(b.what, "development") {
		x.Tick.Marker = linearClock{}
	}
	b.plot.Y.Min, b.plot.Y.Max = 0.4-float64(len(b.rows)), 0.6
	b.plot.Y.Tick.Marker = gplot.ConstantTicks(nil)
}

// linearClock marks an axis of minutes at even steps of the clock.
type linearClock struct{}

func (linearClock) Ticks(lo, hi float64) []gplot.Tick {
	for _, seconds := range []float64{5, 10, 15, 30, 60, 120, 300, 600} {
		if step := seconds / 60; (hi-lo)/step <= 7 {
			var out []gplot.Tick
			for i := math.Ceil(lo/step - 1e-9); i*step <= hi+1e-9; i++ {
				tick := gplot.Tick{Value: i * step, Label: parts.Clock(sensito.Minutes(i * step))}
				if tick.Value-lo < 0.04*(hi-lo) {
					tick.Label = " " // would hang out of a narrow figure
				}
				out = append(out, tick)
			}
			return out
		}
	}
	return parts.DecimalTicks{Want: 5}.Ticks(lo, hi)
}

// Plot draws what is wanted and the rows.
func (b *proposalBody) Plot(c draw.Canvas, p *gplot.Plot) {
	if b.wanted[1] > 0 {
		low, high := parts.Place(c, p, plotter.XY{X: b.wanted[0]}).X, parts.Place(c, p, plotter.XY{X: b.wanted[1]}).X
		c.SetColor(parts.MarkGrey)
		c.Fill(vg.Rectangle{Min: vg.Point{X: low, Y: c.Min.Y}, Max: vg.Point{X: high, Y: c.Max.Y}}.Path())
	}
	for _, r := range b.rows {
		if r.gap {
			y := parts.Place(c, p, plotter.XY{X: p.X.Min, Y: r.Y + 0.5}).Y
			c.StrokeLine2(parts.Leader, c.Min.X, y, c.Max.X, y)
		}
		if !math.IsNaN(r.X) {
			r.Whisker.Plot(c, p)
		}
	}
}

const (
	rowHeight = vg.Length(17)
	halfRoom  = 5 * parts.BodySize
	leastRows = vg.Length(160) // width of the rows beside their names
)

// beside says how wide the names of the rows are, and whether they stand beside the
// rows; on a narrow page they stand above them.
func (b *proposalBody) beside(w vg.Length) (vg.Length, bool) {
	var most vg.Length
	for _, r := range b.rows {
		most = max(most, parts.TextWidth(parts.BodySize, r.name)+parts.BodySize)
	}
	return most, most+leastRows+halfRoom+2*parts.PageMargin <= w
}

func (b *proposalBody) height(w vg.Length) vg.Length {
	high := vg.Length(rowHeight)
	if _, beside := b.beside(w); !beside {
		high *= 1.6
	}
	tall := parts.Page(w, 10*w)
	around := 10*w - b.plot.DataCanvas(b.area(tall)).Size().Y
	return around + high*(vg.Length(len(b.rows))+0.6)
}

// area returns where axis and rows are drawn.
func (b *proposalBody) area(page draw.Canvas) draw.Canvas {
	a := draw.Crop(b.Below(page), 0, -halfRoom, 0, -1.4*parts.SmallSize)
	if names, beside := b.beside(page.Size().X); beside {
		a.Min.X += names
	}
	return a
}

// layout returns the plot and its area on a page.
func (b *proposalBody) layout(page draw.Canvas) ([]*gplot.Plot, []draw.Canvas) {
	return []*gplot.Plot{b.plot}, []draw.Canvas{b.area(page)}
}

func (b *proposalBody) DrawOn(page draw.Canvas) {
	area := b.area(page)
	b.plot.Draw(area)
	c := b.plot.DataCanvas(area)
	parts.Frame(c)
	b.Heading.Draw(page)
	if b.name != "" {
		middle := (parts.Place(c, b.plot, plotter.XY{X: b.wanted[0]}).X + parts.Place(c, b.plot, plotter.XY{X: b.wanted[1]}).X) / 2
		half := parts.TextWidth(parts.SmallSize, b.name) / 2
		middle = min(max(middle, c.Min.X+half), c.Max.X-half)
		parts.Write(page, parts.SmallSize, parts.Ink, parts.Centred, vg.Point{X: middle, Y: c.Max.Y + 3}, b.name)
	}
	_, beside := b.beside(page.Size().X)
	for _, r := range b.rows {
		y := parts.Place(c, b.plot, plotter.XY{X: b.plot.X.Min, Y: r.Y}).Y
		at := vg.Point{X: c.Min.X - parts.BodySize/2, Y: y - parts.CapHeight*parts.BodySize/2}
		if beside {
			parts.Write(page, parts.BodySize, parts.Ink, parts.FromRight, at, r.name)
		} else {
			size, name := parts.Fitted(parts.SmallSize, c.Size().X-8, r.name)
			parts.Write(page, size, parts.Ink, parts.FromLeft, vg.Point{X: c.Min.X + 4, Y: y + 5}, name)
		}
		parts.Write(page, parts.BodySize, parts.Ink, parts.FromLeft, vg.Point{X: c.Max.X + 4, Y: at.Y}, r.half)
	}
}

func (b *proposalBody) Numbers() []figure.Series {
	var out []figure.Series
	for _, r := range b.rows {
		if !math.IsNaN(r.X) {
			out = append(out, figure.Series{Name: r.name, X: "row", Y: b.what, Values: []figure.Value{{XY: plotter.XY{X: 1 - r.Y, Y: r.X}, Low: r.Low, High: r.High}}})
		}
	}
	return append(out, figure.Series{Name: "wanted", X: "row", Y: b.what, Values: []figure.Value{{XY: plotter.XY{X: math.NaN(), Y: b.rows[0].X}, Low: b.wanted[0], High: b.wanted[1]}}})
}
