package plot

import (
	"cmp"
	"math"
	"slices"
	"strconv"

	"gonum.org/v1/gonum/interp"
	gplot "gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"sensito/plot/internal/parts"
	"sensito/sensito/scene"
)

const (
	sceneWidth  = 150 * vg.Millimeter
	sceneHeight = 190 * vg.Millimeter
)

// Scene returns the answer for a scene: the chosen time on contrast against
// development time and, below it, the net density that each tone of the scene
// gets at the index and the time, flare included. A box there spans the scene
// and the density range that it gets, from corner to corner of the curve. The
// error is for options outside their limits.
func Scene(p *scene.Answer, o Options) (*Figure, error) {
	o, err := o.withDefaults(p.Family.Trial.Title())
	if err != nil {
		return nil, err
	}
	b := &sceneBody{Heading: cautioned(newHeading(o, p.Family.Trial), p.Today), note: sceneNote(p, o), tones: newTones(p, o)}
	b.timeline = newTimeline(p.Family, newMark(p, o.Confidence))
	s, err := followed(p.Family, b.timeline, o.Confidence)
	if err != nil {
		return nil, err
	}
	b.contrast = b.panel(contrastName(p.Family), s.contrast, contrastPoints(p.Family, o.Confidence)).pad(0.05)
	fig := o.figure(sceneWidth, sceneHeight, b)
	return fig.withRoom(b.layout(fig.page()))
}

type sceneBody struct {
	parts.Heading
	timeline
	contrast *panel
	tones    *tones
	note     parts.Note
}

// sceneNote says what to set and how long to develop.
func sceneNote(p *scene.Answer, o Options) parts.Note {
	n := withToday(parts.Note{parts.Develop(p.Minutes, o.Confidence)}, p.Today, p.Tested().Minutes.Value)
	if e := p.ExposureIndex; e != nil {
		n = append(n, "set the meter to EI "+parts.Interval(*e, o.Confidence, 0))
	}
	if e := p.ContrastIndex; e != nil {
		n = append(n, "contrast index "+parts.Interval(*e, o.Confidence, 2))
	}
	return append(n, "intervals and bands: "+parts.Percent(o.Confidence))
}

// tones are the densities that the tones of a scene get.
type tones struct {
	plot   *gplot.Plot
	points []parts.Whisker
	curve  plotter.XYs // through the points, without overshoot

	shadow, highlight float64 // stops from the metered tone
	low, high         float64 // net density of these
	delivers, flare   string
}

func newTones(p *scene.Answer, o Options) *tones {
	darkest, lightest := p.Ends[0], p.Ends[1]
	t := &tones{
		shadow: darkest.Stops, highlight: lightest.Stops,
		low: float64(darkest.NetDensity.Value), high: float64(lightest.NetDensity.Value),
		delivers: "density range " + parts.Interval(*p.Delivered, o.Confidence, 2), flare: "no flare",
	}
	if p.Veil > 0 {
		t.flare = "flare: a veil of " + parts.Percent(math.Round(1e4*p.Veil)/1e4) + " of the lightest tone"
	}
	top := t.high
	left, right := t.shadow-0.5, t.highlight
	for _, tone := range p.Tones {
		left, right = min(left, tone.Stops), max(right, tone.Stops)
		if e := tone.NetDensity; e != nil {
			low, high := e.Interval(o.Confidence)
			t.points = append(t.points, parts.Whisker{XY: plotter.XY{X: tone.Stops, Y: float64(e.Value)}, Low: float64(low), High: float64(high)})
			top = max(top, float64(high))
		}
	}
	t.curve = smooth(t.points, darkest, lightest)

	t.plot = parts.NewAxes("tone of the scene, stops from the metered one", "net density of the negative")
	t.plot.X.Min, t.plot.X.Max = left-0.5, right+0.5
	t.plot.X.Tick.Marker = stopTicks{}
	// A quarter of the height stays free above for the ranges.
	t.plot.Y.Min, t.plot.Y.Max = -0.05, math.Ceil(10*1.3*top)/10
	for _, pt := range t.points {
		t.plot.Y.Min = min(t.plot.Y.Min, pt.Low-0.02)
	}
	t.plot.Y.Tick.Marker = parts.DecimalTicks{Want: 6}
	t.plot.Add(t)
	for _, pt := range t.points {
		t.plot.Add(pt)
	}
	return t
}

// smooth returns a monotone curve through the points and the ends of the scene
// (Fritsch and Butland, SIAM J. Sci. Stat. Comput. 5, 300, 1984).
func smooth(points []parts.Whisker, ends ...scene.Tone) plotter.XYs {
	var at plotter.XYs
	for _, pt := range points {
		at = append(at, pt.XY)
	}
	for _, end := range ends {
		if !slices.ContainsFunc(at, func(a plotter.XY) bool { return math.Abs(a.X-end.Stops) < 1e-6 }) {
			at = append(at, plotter.XY{X: end.Stops, Y: float64(end.NetDensity.Value)})
		}
	}
	slices.SortFunc(at, func(a, b plotter.XY) int { return cmp.Compare(a.X, b.X) })
	var xs, ys []float64
	for _, a := range at {
		xs, ys = append(xs, a.X), append(ys, a.Y)
	}
	var f interp.FritschButland
	if err := f.Fit(xs, ys); err != nil {
		return nil
	}
	const each = 12
	var out plotter.XYs
	for i := range len(xs) - 1 {
		for k := range each {
			x := xs[i] + (xs[i+1]-xs[i])*float64(k)/each
			out = append(out, plotter.XY{X: x, Y: f.Predict(x)})
		}
	}
	return append(out, plotter.XY{X: xs[len(xs)-1], Y: ys[len(ys)-1]})
}

// stopTicks marks whole stops, with their sign.
type stopTicks struct{}

func (stopTicks) Ticks(lo, hi float64) []gplot.Tick {
	var ticks []gplot.Tick
	for n := math.Ceil(lo); n <= hi; n++ {
		label := strconv.Itoa(int(n))
		if n > 0 {
			label = "+" + label
		}
		ticks = append(ticks, gplot.Tick{Value: n, Label: label})
	}
	return ticks
}

// Plot draws the box of the scene and its density range, and the curve.
func (t *tones) Plot(c draw.Canvas, p *gplot.Plot) {
	min, max := parts.Place(c, p, plotter.XY{X: t.shadow, Y: t.low}), parts.Place(c, p, plotter.XY{X: t.highlight, Y: t.high})
	c.SetColor(parts.MarkGrey)
	c.Fill(vg.Rectangle{Min: min, Max: max}.Path())
	fence := parts.Line(0.6, parts.Faint, 3, 2)
	for _, x := range []float64{t.shadow, t.highlight} {
		at := parts.Place(c, p, plotter.XY{X: x}).X
		c.StrokeLine2(fence, at, c.Min.Y, at, c.Max.Y)
	}
	parts.PlotLine(c, p, parts.Line(1.1, parts.Ink), t.curve)
}

// drawRanges writes the ranges of scene and negative along arrows.
func (t *tones) drawRanges(c draw.Canvas) {
	x := func(stops float64) vg.Length { return parts.Place(c, t.plot, plotter.XY{X: stops}).X }
	y := c.Max.Y - 1.6*parts.SmallSize
	parts.Across(c, x(t.shadow), x(t.highlight), y, rangeLabel("scene", t.highlight-t.shadow))
	parts.Write(c, parts.SmallSize, parts.Ink, parts.Centred, vg.Point{X: (x(t.shadow) + x(t.highlight)) / 2, Y: y - 1.4*parts.SmallSize}, t.flare)
	low, high := parts.Place(c, t.plot, plotter.XY{X: t.shadow, Y: t.low}), parts.Place(c, t.plot, plotter.XY{X: t.shadow, Y: t.high})
	at := low.X - 6
	c.StrokeLines(parts.Line(0.6, parts.Ink), []vg.Point{{X: at, Y: low.Y}, {X: at, Y: high.Y}})
	parts.ArrowHead(c, parts.Ink, vg.Point{X: at, Y: low.Y}, vg.Point{Y: -1})
	parts.ArrowHead(c, parts.Ink, vg.Point{X: at, Y: high.Y}, vg.Point{Y: 1})
	parts.Write(c, parts.SmallSize, parts.Ink, parts.FromLeft, vg.Point{X: low.X + 4, Y: high.Y - 1.4*parts.SmallSize}, t.delivers)
}

func rangeLabel(name string, stops float64) string {
	return name + ": " + strconv.FormatFloat(math.Round(10*stops)/10, 'f', -1, 64) + " stops"
}

// layout returns the plots and their areas on a page.
func (b *sceneBody) layout(page draw.Canvas) ([]*gplot.Plot, []draw.Canvas) {
	whole := b.Below(page)
	whole.Max.Y -= 1.3 * parts.BodySize
	plots := []*gplot.Plot{b.contrast.plot, b.tones.plot}
	return plots, parts.Stack(whole, plots, []float64{1, 1.25})
}

func (b *sceneBody) draw(page draw.Canvas) {
	_, areas := b.layout(page)
	b.contrast.plot.Draw(areas[0])
	c := b.contrast.plot.DataCanvas(areas[0])
	parts.Frame(c)
	b.Heading.Draw(page)
	b.mark.drawLabel(c, b.contrast.plot)
	if at, hidden := b.note.Corner(c, b.contrast.occupied(c)); hidden == 0 {
		b.note.Draw(c, at)
	}

	b.tones.plot.Draw(areas[1])
	c = b.tones.plot.DataCanvas(areas[1])
	parts.Frame(c)
	b.tones.drawRanges(c)
}
