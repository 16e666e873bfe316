package strips

import (
	"cmp"
	"math"
	"slices"
	"strconv"
	"strings"

	gplot "gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"sensito/plot/internal/parts"
	"sensito/sensito"
	"sensito/sensito/curve"
)

// stripAxes are the axes of strips: log exposure and density at one scale, with the
// steps of the wedge along the top.
type stripAxes struct {
	plot        *gplot.Plot
	lower       *gplot.Plot // the panel below, on the same exposures; may be nil
	lowerData   vg.Length   // its height, without the axis
	lowerNames  []string    // written above it, long to short
	xLabel      string
	yLabels     []string // long to short
	left, right float64

	topLabel string
	top      []topMark
}

// topMark is a number along the top of the axes.
type topMark struct{ at, number float64 }

func newStripAxes(t *sensito.Trial, strips []*sensito.Strip) *stripAxes {
	a := &stripAxes{xLabel: "log exposure, log10 lx s", left: math.Inf(1), right: math.Inf(-1)}
	if !t.Exposures().Absolute() {
		a.xLabel = "relative log exposure"
	}
	base, density := "film base", "density (ISO 5 visual diffuse)"
	if t.Material() == sensito.PaperMaterial {
		base, density = "paper", "reflection density (ISO 5)"
		if slices.ContainsFunc(strips, func(s *sensito.Strip) bool { return s.Calibration() != nil }) {
			density = "reflection density, read in pictures"
		}
	}
	switch pictured := t.Pictured(); {
	case pictured == nil, t.Material() == sensito.PaperMaterial:
	case len(pictured) < len(t.Strips()):
		density = "density (" + t.HowRead() + ")"
	default:
		density = "density (read in pictures)"
	}
	a.yLabels = []string{density, "density"}
	if t.Reading().Zero == sensito.ZeroBase {
		a.yLabels = []string{strings.Replace(density, "density", "density above the "+base, 1), "density above the " + base, "density"}
	}
	a.plot = parts.NewAxes(a.xLabel, a.yLabels[len(a.yLabels)-1])
	a.number(t.Exposures(), strips)
	return a
}

// number puts the stops of a camera along the top, or else the steps of the wedge,
// where they are the same of all strips.
func (a *stripAxes) number(e sensito.Exposures, strips []*sensito.Strip) {
	first := strips[0].Steps()
	for _, s := range strips[1:] {
		if !slices.EqualFunc(first, s.Steps(), func(a, b sensito.Step) bool { return a.LogH == b.LogH }) {
			return
		}
	}
	stops := e.Stops()
	a.topLabel = "step of the wedge"
	switch {
	case stops != nil:
		a.topLabel = "stops from the metered exposure"
	case e.Kind() == sensito.Relative:
		a.topLabel = "step"
	}
	for i, step := range first {
		m := topMark{float64(step.LogH), float64(step.Number)}
		if stops != nil {
			m.number = stops[i]
		}
		a.top = append(a.top, m)
	}
	slices.SortFunc(a.top, func(a, b topMark) int { return cmp.Compare(a.at, b.at) })
}

// above returns the height of what stands on the axes.
func (a *stripAxes) above() vg.Length {
	if len(a.top) == 0 {
		return parts.SmallSize + 4 // the heads of the labels
	}
	return parts.OtherScale{Label: a.topLabel}.Height()
}

// drawTop draws the numbers along the top, so many of them as stand clear.
func (a *stripAxes) drawTop(c draw.Canvas) {
	if len(a.top) == 0 {
		return
	}
	apart := c.Size().X / vg.Length(a.plot.X.Max-a.plot.X.Min) * vg.Length(a.top[len(a.top)-1].at-a.top[0].at) / vg.Length(len(a.top))
	every := float64(parts.Every(apart))
	s := parts.OtherScale{Label: a.topLabel}
	for _, m := range a.top {
		t := gplot.Tick{Value: m.at}
		if math.Mod(m.number, every) == 0 {
			t.Label = strconv.FormatFloat(m.number, 'f', -1, 64)
			if a.topLabel != "step" && a.topLabel != "step of the wedge" && m.number > 0 {
				t.Label = "+" + t.Label
			}
		}
		s.Marks = append(s.Marks, t)
	}
	s.Draw(c, a.plot)
}

// hold makes the horizontal axis hold exposures.
func (a *stripAxes) hold(at ...float64) {
	for _, h := range at {
		a.left, a.right = min(a.left, h), max(a.right, h)
	}
}

// close sets the ends of the axes and adds the strips to them.
func (a *stripAxes) close(of func(i int) curve.Curve, strips []*strip) {
	const beside = 0.1 // log H left free beside the readings
	left, right := math.Floor(10*(a.left-beside))/10, math.Ceil(10*(a.right+beside))/10
	for i, s := range strips {
		s.extend(of(i), sensito.LogExposure(left), sensito.LogExposure(right))
		a.plot.Add(s)
	}
	a.plot.X.Min, a.plot.X.Max = left, right
	a.plot.Y.Min = math.Floor(10*min(0, a.plot.Y.Min)) / 10
	a.plot.Y.Max = math.Ceil(10*(a.plot.Y.Max+0.05)) / 10
	a.plot.X.Tick.Marker, a.plot.Y.Tick.Marker = parts.StopTicks{Every: 1}, parts.StopTicks{Every: 1}
}

// unit returns how long one unit is drawn.
func (a *stripAxes) unit(c draw.Canvas) vg.Length {
	return c.Size().X / vg.Length(a.plot.X.Max-a.plot.X.Min)
}

// areas returns where the axes of the curves and those of the panel below them are
// drawn in what is free for both.
func (a *stripAxes) areas(free draw.Canvas) (upper, lower draw.Canvas) {
	if a.lower == nil {
		return parts.EqualScales(a.plot, free), lower
	}
	const gap = vg.Length(2) // besides what the ticks take
	height := a.lowerData + free.Size().Y - a.lower.DataCanvas(free).Size().Y
	plots := []*gplot.Plot{a.plot, a.lower}
	upper, lower = draw.Crop(free, 0, 0, height+gap, 0), free
	for range 5 { // each moves the other a little
		both := []draw.Canvas{upper, lower}
		parts.AlignSides(plots, both)
		upper, lower = parts.EqualScales(a.plot, both[0]), both[1]
		lower.Max.Y = upper.Min.Y - gap
		lower.Min.Y = lower.Max.Y - height
		if upper.Rectangle == both[0].Rectangle {
			break
		}
	}
	both := []draw.Canvas{upper, lower}
	parts.AlignSides(plots, both)
	return upper, both[1]
}

// bottom returns the lower end of what areas returns, with data no higher than most.
func (a *stripAxes) bottom(free draw.Canvas, most vg.Length) vg.Length {
	upper, lower := a.areas(free)
	bottom := upper.Min.Y
	if a.lower != nil {
		bottom = lower.Min.Y
	}
	return bottom + max(0, a.plot.DataCanvas(upper).Size().Y-most)
}

// data returns where the data of the curves are drawn.
func (a *stripAxes) data(free draw.Canvas) draw.Canvas {
	upper, _ := a.areas(free)
	return a.plot.DataCanvas(upper)
}

// drawAxes draws all axes with what was added to them, and returns where the data of
// the curves are drawn.
func (a *stripAxes) drawAxes(free draw.Canvas) draw.Canvas {
	upper, lower := a.areas(free)
	c := a.plot.DataCanvas(upper)
	a.plot.Draw(upper)
	parts.Frame(c)
	a.drawTop(c)
	if a.lower == nil {
		return c
	}
	a.lower.Draw(lower)
	d := a.lower.DataCanvas(lower)
	parts.Frame(d)
	name := a.lowerNames[len(a.lowerNames)-1]
	for _, long := range a.lowerNames {
		if parts.TextWidth(parts.SmallSize, long) <= d.Size().X {
			name = long
			break
		}
	}
	parts.Write(d, parts.SmallSize, parts.Ink, parts.FromLeft, vg.Point{X: d.Min.X, Y: d.Max.Y + 3}, name)
	return c
}

// roomFor returns an error when an area leaves too little for the data.
func (a *stripAxes) roomFor(free draw.Canvas) error {
	const wide, high = vg.Length(100), vg.Length(40) // of the data
	if err := parts.RoomFor(a.plot.DataCanvas(free), wide, high); err != nil {
		return err
	}
	return parts.RoomFor(a.data(free), wide, high)
}

// fit gives the axes the ticks and the vertical one the longest label that they have
// room for in an area.
func (a *stripAxes) fit(free draw.Canvas) {
	c := a.data(free)
	ticks := parts.NewStopTicks(a.unit(c))
	a.plot.X.Tick.Marker, a.plot.Y.Tick.Marker = ticks, ticks
	if a.lower != nil {
		a.lower.X.Tick.Marker, a.plot.X.Tick.Marker = ticks, parts.Unlabelled{Ticker: ticks}
	}
	for _, label := range a.yLabels {
		if a.plot.Y.Label.Text = label; parts.TextWidth(parts.BodySize, label) <= c.Size().Y {
			return
		}
	}
}

// panel puts a panel below the axes, with its names, long to short.
func (a *stripAxes) panel(p *gplot.Plot, height vg.Length, names ...string) {
	a.lower, a.lowerData, a.lowerNames = p, height, names
	a.plot.X.Label.Text = ""
	a.plot.X.Tick.Marker = parts.Unlabelled{Ticker: a.plot.X.Tick.Marker}
}

// clear makes room above the curves for names that would hide data, if a little room
// is enough.
func (a *stripAxes) clear(hidden func() int) {
	const most = 8 // tenths of a density
	top, least := a.plot.Y.Max, hidden()
	if least == 0 {
		return
	}
	best := top
	for i := range most {
		a.plot.Y.Max = top + 0.1*float64(i+1)
		if n := hidden(); n < least {
			least, best = n, a.plot.Y.Max
		}
		if least == 0 {
			break
		}
	}
	a.plot.Y.Max = best
}

// placed returns the names of places of the data, where they stand, and how many of
// the points they hide.
func (a *stripAxes) placed(c draw.Canvas, names []placeName, points []vg.Point) (out []parts.Named, hidden int) {
	const share, most = 0.5, 190 // of the width
	var all []parts.Named
	for _, n := range names {
		var lines []string
		for line := range strings.SplitSeq(n.text, "\n") {
			lines = append(lines, parts.Wrapped(parts.SmallSize, min(share*c.Size().X, most), line, 4)...)
		}
		all = append(all, parts.Named{Text: strings.Join(lines, "\n"), At: parts.Place(c, a.plot, n.XY), Or: parts.Places(c, a.plot, n.or), Up: n.up})
	}
	out = parts.PlaceNames(c, all, points)
	for _, n := range out {
		hidden += parts.Within(n.Rectangle, points, 1)
	}
	return out, hidden + 100*(len(all)-len(out))
}

// drawPoints draws the readings of strips, but those of so many steps that they lie under
// the curves, and the speed points over them.
func (a *stripAxes) drawPoints(c draw.Canvas, strips []*strip, speedPoints plotter.XYs) {
	for _, s := range strips {
		if s.steps < manySteps {
			s.plotReadings(c, a.plot)
		}
	}
	for _, at := range parts.Places(c, a.plot, speedPoints) {
		parts.FillDot(c, parts.Paper, 2.2, at)
		parts.FillDot(c, parts.Ink, 1.6, at)
	}
}
