package strips

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"sensito/plot/internal/figure"
	"sensito/plot/internal/parts"
	"sensito/sensito"
)

// Keyed is a strip as far as it is keyed in. Everything is in density, whatever the unit
// of the readings.
type Keyed struct {
	Strip *sensito.Strip
	Curve []sensito.Density // smooth through the readings, at every step

	Beside      *sensito.Strip // the strip nearest to it in time; nil for none
	BesideCurve []sensito.Density

	Judged *Judged // nil where no reading was keyed in just now
}

// Judged is the reading that was keyed in last.
type Judged struct {
	Step       int
	Questioned bool // and not in the strip
	Read       sensito.Density
	ReadAs     string // 1.18, in the unit of the readings

	Expected   sensito.Density // NaN where nothing was expected of it
	ExpectedAs string          // 1.08, in the unit of the readings
}

// shapeOfKeying is how much of density the axes show for each unit of log exposure. It
// stays the same, so that what stands below the figure stays where it is.
const shapeOfKeying = 0.75

const ringRadius = vg.Length(3.1)

const keyingWidth = 120 * vg.Millimeter

// keying is the figure of a strip that is keyed in.
type keying struct {
	parts.Heading
	*stripAxes
	name, besideName string
	readings         plotter.XYs
	curve            []plotter.XYs // as far as read, in rising exposure
	beside           []plotter.XYs
	read, expected   *plotter.XY // of the reading that was keyed in last; nil for none
	readAs, about    string
	questioned       bool
	lead             []plotter.XYs // from the readings next to a questioned one to what was expected
}

// Keying returns a strip as far as it is keyed in: the readings with a smooth curve
// through those of neighbouring steps, the nearest other strip in grey, and of the
// reading keyed in last what was expected, as a ring; one that is questioned is crossed,
// with its value, and dashes lead from the curve to the ring. Nothing is drawn of a step
// that is not read. Both axes have the same scale, and the figure of one strip the same
// size whatever is read. The error is for options outside their limits or too small a page.
func Keying(k Keyed, o figure.Options) (*figure.Figure, error) {
	o, err := o.WithDefaults("")
	if err != nil {
		return nil, err
	}
	b := newKeying(k, &o)
	w := cmp.Or(o.Width, vg.Length(keyingWidth))
	h := cmp.Or(o.Height, b.height(w))
	b.widen()
	free := b.free(parts.Page(w, h))
	if err := b.roomFor(free); err != nil {
		return nil, err
	}
	b.fit(free)
	return o.Figure(w, h, b), nil
}

func newKeying(k Keyed, o *figure.Options) *keying {
	trial := k.Strip.Trial()
	b := &keying{stripAxes: newStripAxes(trial, []*sensito.Strip{k.Strip}), name: keyedName(k.Strip)}
	b.curve = runs(k.Strip, k.Curve)
	b.readings = keyedReadings(k.Strip)
	for _, step := range k.Strip.Steps() {
		b.hold(float64(step.LogH))
	}
	about := "The strip of " + b.name + " so far"
	if k.Beside != nil {
		b.beside, b.besideName = runs(k.Beside, k.BesideCurve), keyedName(k.Beside)
		which := "that of " + b.besideName
		if b.besideName == b.name {
			b.besideName = fmt.Sprintf("strip %d", k.Beside.Number())
			which = b.besideName
		}
		about += ", beside " + which
		for _, run := range b.beside {
			b.hold(run[0].X, run[len(run)-1].X)
		}
	}
	about += ". Circles: readings; ring: what the others led to, once it was keyed in."
	if unit := trial.Reading().Unit; unit != sensito.UnitDensity {
		about += fmt.Sprintf(" Drawn in density; the readings are in %s.", unit)
	}
	if k.Judged != nil {
		b.judge(k)
	}
	b.Heading = o.Headed(fmt.Sprintf("Strip of %s, %d of %d steps read", b.name, len(b.readings), len(k.Strip.Steps())), trial, "density against log exposure")
	b.Foot = about

	const beside = 0.1 // log H left free beside the readings
	b.plot.X.Min, b.plot.X.Max = math.Floor(10*(b.left-beside))/10, math.Ceil(10*(b.right+beside))/10
	b.plot.Y.Min, b.plot.Y.Max = 0, shapeOfKeying*(b.plot.X.Max-b.plot.X.Min)
	ticks := parts.StopTicks{Every: 1}
	b.plot.X.Tick.Marker, b.plot.Y.Tick.Marker = ticks, ticks
	return b
}

// keyedName names a strip by its grade or its time.
func keyedName(s *sensito.Strip) string {
	switch {
	case s.Grade() != "":
		return s.Grade()
	case s.Minutes() > 0:
		return parts.Clock(s.Minutes())
	}
	return fmt.Sprintf("number %d", s.Number())
}

// keyedReadings returns the readings of a strip, means where a step has several.
func keyedReadings(s *sensito.Strip) plotter.XYs {
	var out plotter.XYs
	for _, step := range s.Steps() {
		if !math.IsNaN(float64(step.Density)) {
			out = append(out, plotter.XY{X: float64(step.LogH), Y: float64(step.Density)})
		}
	}
	return out
}

// runs returns the curve of a strip where neighbouring steps are read.
func runs(s *sensito.Strip, curve []sensito.Density) []plotter.XYs {
	var out []plotter.XYs
	open := false
	for i, step := range s.Steps() {
		if !step.Read() || i >= len(curve) || math.IsNaN(float64(curve[i])) {
			open = false
			continue
		}
		if !open {
			out, open = append(out, nil), true
		}
		out[len(out)-1] = append(out[len(out)-1], plotter.XY{X: float64(step.LogH), Y: float64(curve[i])})
	}
	for _, run := range out {
		slices.SortFunc(run, func(a, b plotter.XY) int { return cmp.Compare(a.X, b.X) })
	}
	return out
}

// judge adds what is said of the reading that was keyed in last.
func (b *keying) judge(k Keyed) {
	j, steps := k.Judged, k.Strip.Steps()
	at := float64(steps[j.Step-1].LogH)
	b.questioned = j.Questioned
	if j.Questioned {
		b.read, b.readAs = &plotter.XY{X: at, Y: float64(j.Read)}, j.ReadAs
	}
	if math.IsNaN(float64(j.Expected)) {
		return
	}
	b.expected, b.about = &plotter.XY{X: at, Y: float64(j.Expected)}, j.ExpectedAs+" expected"
	for _, i := range []int{j.Step - 2, j.Step} {
		if j.Questioned && i >= 0 && i < len(steps) && i < len(k.Curve) && steps[i].Read() {
			b.lead = append(b.lead, plotter.XYs{{X: float64(steps[i].LogH), Y: float64(k.Curve[i])}, *b.expected})
		}
	}
}

// held returns all that the axes are to hold.
func (b *keying) held() plotter.XYs {
	all := slices.Clone(b.readings)
	for _, run := range slices.Concat(b.curve, b.beside) {
		all = append(all, run...)
	}
	for _, at := range []*plotter.XY{b.read, b.expected} {
		if at != nil {
			all = append(all, *at)
		}
	}
	return all
}

// widen makes the axes hold everything, in the same shape.
func (b *keying) widen() {
	const over = 0.1 // density
	x, y := &b.plot.X, &b.plot.Y
	for _, at := range b.held() {
		y.Min, y.Max = min(y.Min, math.Floor(10*at.Y)/10), max(y.Max, at.Y+over)
	}
	if more := (y.Max-y.Min)/shapeOfKeying - (x.Max - x.Min); more > 0 {
		x.Min, x.Max = x.Min-more/2, x.Max+more/2
	}
}

// nameGap is left between the end of a curve and its name.
const nameGap = vg.Length(4)

// free returns what the axes may fill: the names stand beside them.
func (b *keying) free(page draw.Canvas) draw.Canvas {
	names := nameGap + max(parts.TextWidth(parts.BodySize, b.name), parts.TextWidth(parts.BodySize, b.besideName))
	return draw.Crop(b.Below(page), 0, -names, 0, -b.above())
}

// height returns the height of a page of width w that the axes fill.
func (b *keying) height(w vg.Length) vg.Length {
	tall := parts.Page(w, 4*w)
	free := b.free(tall)
	b.fit(free)
	return tall.Max.Y - b.bottom(free, 4*w) + b.Below(tall).Min.Y
}

func (b *keying) DrawOn(page draw.Canvas) {
	b.Heading.Draw(page)
	c := b.drawAxes(b.free(page))
	for _, run := range b.beside {
		parts.PlotLine(c, b.plot, parts.Line(0.9, parts.Faint), run)
	}
	for _, run := range b.curve {
		parts.PlotLine(c, b.plot, parts.Plain.LineStyle, run)
	}
	for _, run := range b.lead {
		parts.PlotLine(c, b.plot, parts.Line(0.8, parts.Ink, 3, 2), run)
	}
	symbol := parts.Symbol{Scale: 0.6}
	if len(b.top) >= manySteps {
		symbol.Scale = 0.42
	}
	for _, at := range parts.Places(c, b.plot, b.readings) {
		symbol.Draw(c, parts.Plain.Color, at)
	}
	if b.expected != nil {
		ring := parts.Symbol{Scale: ringRadius / parts.SymbolRadius}
		c.SetLineStyle(parts.Line(0.8, parts.Ink))
		c.Stroke(ring.Outline(parts.Place(c, b.plot, *b.expected)))
	}
	if b.read != nil {
		parts.Strike(c, parts.Speaks, parts.Place(c, b.plot, *b.read))
	}
	b.drawNames(c)
}

// drawNames names the curves at the ends of their strongest exposures, and the reading
// that was keyed in last with what was expected of it.
func (b *keying) drawNames(c draw.Canvas) {
	var at, ends []vg.Point
	var names []string
	for _, n := range []struct {
		runs []plotter.XYs
		name string
	}{{b.beside, b.besideName}, {b.curve, b.name}} {
		if len(n.runs) == 0 {
			continue
		}
		end := n.runs[0][0]
		for _, run := range n.runs {
			if last := run[len(run)-1]; last.X > end.X {
				end = last
			}
		}
		at, names = append(at, parts.Place(c, b.plot, end)), append(names, n.name)
	}
	ends = slices.Clone(at)
	if len(at) == 2 && math.Abs(float64(at[0].X-at[1].X)) < float64(parts.TextWidth(parts.BodySize, names[0])+2*nameGap) {
		apart := parts.Spread([]vg.Length{at[0].Y, at[1].Y}, 1.15*parts.BodySize, c.Min.Y, c.Max.Y)
		at[0].Y, at[1].Y = apart[0], apart[1]
		at[0].X, at[1].X = max(at[0].X, at[1].X), max(at[0].X, at[1].X)
	}
	colours := []parts.Colour{parts.Faint, parts.Ink}
	var taken []vg.Point
	for i, name := range names {
		low := vg.Point{X: at[i].X + nameGap, Y: at[i].Y - parts.CapHeight*parts.BodySize/2}
		if low.X+parts.TextWidth(parts.BodySize, name)+nameGap > c.Max.X { // it would stand upon the frame
			low.X = max(low.X, c.Max.X+nameGap)
		}
		parts.Write(c, parts.BodySize, colours[i+len(colours)-len(names)], parts.FromLeft, low, name)
		taken = append(taken, parts.Filled(vg.Rectangle{Min: low, Max: low.Add(vg.Point{X: parts.TextWidth(parts.BodySize, name), Y: parts.CapHeight * parts.BodySize})})...)
	}
	for _, run := range slices.Concat(b.curve, b.beside, b.lead) {
		taken = append(taken, parts.Between(parts.Places(c, b.plot, run))...)
	}
	taken = append(append(taken, ends...), parts.Places(c, b.plot, b.readings)...)
	var told []parts.Named
	place := func(of *plotter.XY, text string, colour parts.Colour) {
		if of != nil {
			point, within := parts.Place(c, b.plot, *of), vg.Point{X: ringRadius, Y: ringRadius}
			taken = append(taken, parts.Filled(vg.Rectangle{Min: point.Sub(within), Max: point.Add(within)})...)
			told = append(told, parts.Named{Text: text, Colour: colour, At: point, Up: b.read != nil && b.expected != nil && of.Y > min(b.read.Y, b.expected.Y)})
		}
	}
	place(b.read, b.readAs, parts.Speaks)
	place(b.expected, b.about, parts.Ink)
	for _, n := range parts.PlaceNames(c, told, taken) {
		n.Draw(c)
	}
}

func (b *keying) Numbers() []figure.Series {
	x, y := b.xLabel, b.yLabels[0]
	series := func(panel, name string, runs ...plotter.XYs) figure.Series {
		return figure.Series{Panel: panel, Name: name, X: x, Y: y, Values: figure.Plain(slices.Concat(runs...))}
	}
	out := []figure.Series{series("readings", b.name, b.readings), series("curve", b.name, b.curve...)}
	if len(b.beside) > 0 {
		out = append(out, series("curve", b.besideName, b.beside...))
	}
	if b.read != nil {
		out = append(out, series("questioned", b.name, plotter.XYs{*b.read}))
	}
	if b.expected != nil {
		out = append(out, series("expected", b.name, plotter.XYs{*b.expected}))
	}
	return out
}
