package strips

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"sensito/plot/internal/figure"
	"sensito/plot/internal/parts"
	"sensito/sensito"
	"sensito/sensito/curve"
)

// maxCurves is how many strips one drawing can hold and still be read.
const maxCurves = 24

const curvesWidth = 180 * vg.Millimeter

// Curves returns the characteristic curves of strips of one trial, from the shortest
// development, the lightest, to the longest: readings as open symbols, those set aside
// crossed out, the fitted curve with the confidence band of its density, thin where
// there are no readings, and the speed points with their intervals. Both axes have the
// same scale: one unit of log exposure is as long as one unit of density. A strip
// alone is drawn with its contrast-index ray, the readings of its base and what its
// readings differ by from the curve, and with Options.Triangle the triangle of ISO 6.
// The error is for options outside their limits, no strip with a curve, too many, or
// strips of different trials. Strips without a curve are left out.
func Curves(ms []*curve.Measured, o figure.Options) (*figure.Figure, error) {
	return CurvesAsked(ms, nil, o)
}

// CurvesAsked is Curves with the curve that a scene asks for among those of several
// strips, nil for none.
func CurvesAsked(ms []*curve.Measured, asked *Asked, o figure.Options) (*figure.Figure, error) {
	ms = slices.DeleteFunc(slices.Clone(ms), func(m *curve.Measured) bool { return m.Fit == nil })
	if err := drawable(len(ms)); err != nil {
		return nil, err
	}
	trial := ms[0].Strip.Trial()
	for _, m := range ms {
		if m.Strip.Trial() != trial {
			return nil, errors.New("the strips of one drawing must be of one trial")
		}
	}
	slices.SortStableFunc(ms, func(a, b *curve.Measured) int { return cmp.Compare(a.Strip.Minutes(), b.Strip.Minutes()) })
	o, err := o.WithDefaults("")
	if err != nil {
		return nil, err
	}
	o = o.Answered(curvesAnswer(ms, o.Confidence))
	if len(ms) == 1 {
		return newFilmStrip(ms[0], o).figure(o)
	}
	return newCurves(ms, asked, o).figure(o)
}

// drawable returns an error unless so many strips can be drawn.
func drawable(strips int) error {
	switch {
	case strips == 0:
		return errors.New("no strip to draw")
	case strips > maxCurves:
		return fmt.Errorf("%d strips are too many for one drawing: at most %d", strips, maxCurves)
	}
	return nil
}

// curvesAnswer says in a sentence what the strips tell, in order of time.
func curvesAnswer(ms []*curve.Measured, level float64) string {
	if len(ms) == 1 {
		return stripAnswer(ms[0], level)
	}
	var indices []*curve.Measured
	slowest, fastest := math.Inf(1), 0.0
	for _, m := range ms {
		if m.ContrastIndex != nil {
			indices = append(indices, m)
		}
		if m.Speed != nil {
			slowest, fastest = min(slowest, float64(m.Speed.Value)), max(fastest, float64(m.Speed.Value))
		}
	}
	var told []string
	if n := len(indices); n > 0 {
		first, last := indices[0], indices[n-1]
		if first.Strip.Minutes() == last.Strip.Minutes() {
			slices.SortFunc(indices, func(a, b *curve.Measured) int { return cmp.Compare(a.ContrastIndex.Value, b.ContrastIndex.Value) })
			told = append(told, fmt.Sprintf("Contrast index %.2f to %.2f at %s", indices[0].ContrastIndex.Value, indices[n-1].ContrastIndex.Value, parts.Clock(first.Strip.Minutes())))
		} else {
			told = append(told, fmt.Sprintf("Contrast index %.2f at %s to %.2f at %s", first.ContrastIndex.Value, parts.Clock(first.Strip.Minutes()),
				last.ContrastIndex.Value, parts.Clock(last.Strip.Minutes())))
		}
	}
	if fastest > 0 {
		told = append(told, fmt.Sprintf("speed %s to %s", parts.Speed(slowest), parts.Speed(fastest)))
	}
	return sentence(told, "; ", fmt.Sprintf("Characteristic curves of %d strips", len(ms)))
}

// sentence joins what a title tells, or returns what stands for nothing.
func sentence(told []string, between, nothing string) string {
	if len(told) == 0 {
		return nothing
	}
	s := strings.Join(told, between)
	return strings.ToUpper(s[:1]) + s[1:]
}

// stripNames names strips by their development time, and by their number where several
// have the same.
func stripNames(ms []*curve.Measured) []string {
	count := map[string]int{}
	for _, m := range ms {
		count[parts.Clock(m.Strip.Minutes())]++
	}
	out := make([]string, len(ms))
	for i, m := range ms {
		if out[i] = parts.Clock(m.Strip.Minutes()); count[out[i]] > 1 {
			out[i] += ", strip " + strconv.Itoa(m.Strip.Number())
		}
	}
	return out
}

// curves is the figure of several strips of film.
type curves struct {
	parts.Heading
	*stripAxes
	strips []*strip
	speeds plotter.XYs // speed points on the curves
	rows   speedRows   // below them
	names  []placeName

	asked    *Asked // nil for none
	column   string // what the details of the strips are
	under    bool   // the strips are listed under the axes, where no room is beside them
	measured []figure.Series
}

func newCurves(ms []*curve.Measured, asked *Asked, o figure.Options) *curves {
	trial := ms[0].Strip.Trial()
	b := &curves{asked: asked, Heading: o.Headed("", trial), stripAxes: newStripAxes(trial, stripsOf(ms)), column: "contrast index"}
	names, looks := stripNames(ms), parts.Ordered(len(ms))
	for i, m := range ms {
		s := newStrip(m.Strip, m.Fit, looks[i], names[i], o)
		switch {
		case m.ContrastIndex != nil:
			s.detail = parts.Interval(*m.ContrastIndex, o.Confidence, 2)
		case m.AverageGradient != nil:
			s.detail = "gradient " + parts.Interval(*m.AverageGradient, o.Confidence, 2)
		}
		b.hold(s.span()...)
		if w, ok := speedWhisker(m.SpeedPoint, m.Fit.Curve, looks[i], o.Confidence); ok {
			b.hold(w.X)
			b.speeds = append(b.speeds, w.XY)
			w.Y = float64(len(b.rows))
			row := speedRow{Whisker: w}
			if m.Speed != nil {
				row.speed = parts.Interval(*m.Speed, o.Confidence, 0)
			}
			b.rows = append(b.rows, row)
		}
		b.strips = append(b.strips, s)
		b.names = append(b.names, s.asideNames(false)...)
	}
	b.close(func(i int) curve.Curve { return ms[i].Fit.Curve }, b.strips)
	b.addPanel(ms)
	b.measured = measuredSeries(ms, o.Confidence)
	b.Foot = curvesFoot(b.strips, o)
	if b.asked != nil {
		b.Foot = b.asked.caption() + " " + b.Foot
	}
	return b
}

// addPanel puts the speed points below the curves, and the scene that asks for one.
func (b *curves) addPanel(ms []*curve.Measured) {
	if len(b.rows) == 0 && b.asked == nil {
		return
	}
	p, rows := b.rows.axes(b.plot), len(b.rows)
	names := []string{"speed points (dots), 0.10 above base plus fog" + b.rows.told(), "speed points (dots)" + b.rows.told()}
	if rows == 0 {
		names = []string{""}
	}
	if b.asked != nil {
		weakest, strongest := ms[0].Strip.Trial().Exposures().Span()
		b.asked.lay(float64(weakest), float64(strongest))
		p.Add(b.asked.extent(rows))
		rows += askedRows
		p.Y.Max += askedRows
	}
	b.panel(p, vg.Length(rows+1)*speedPitch, names...)
}

func stripsOf(ms []*curve.Measured) []*sensito.Strip {
	var out []*sensito.Strip
	for _, m := range ms {
		out = append(out, m.Strip)
	}
	return out
}

// curvesFoot explains what the drawing of strips does not name in place.
func curvesFoot(strips []*strip, o figure.Options) string {
	said := []string{"Brackets, caps and grey bands: " + parts.Percent(o.Confidence) + " interval.", "Symbols: readings; dotted curve: no readings there."}
	for _, s := range strips {
		if len(s.aside) > 0 {
			said = append(said, "Crossed: left out of the curve.")
			break
		}
	}
	return strings.Join(said, " ")
}

// The column of labels to the right of the frame.
const (
	labelGap   = vg.Length(16) // for leaders
	labelKey   = vg.Length(22) // for a sample of line and symbol
	labelPitch = parts.BodySize * 1.3
	leastWide  = vg.Length(230) // of the axes beside which the strips are listed
)

// labelColumns returns the widths of the two parts of the labels.
func (b *curves) labelColumns() (name, detail vg.Length) {
	name, detail = parts.TextWidth(parts.SmallSize, nameColumn), parts.TextWidth(parts.SmallSize, b.column)
	for _, s := range b.strips {
		name = max(name, parts.TextWidth(parts.BodySize, s.name))
		detail = max(detail, parts.TextWidth(parts.SmallSize, s.detail))
	}
	return name, detail + parts.BodySize
}

const nameColumn = "developed"

// beside returns the width of what stands beside the axes.
func (b *curves) beside() vg.Length {
	if b.under {
		var time vg.Length
		for _, s := range b.strips {
			time = max(time, parts.TextWidth(parts.BodySize, s.time()))
		}
		return labelGap + time
	}
	name, detail := b.labelColumns()
	return labelGap + labelKey + 4 + name + detail
}

// below returns the height of what stands under the axes.
func (b *curves) below() vg.Length {
	if !b.under || b.Bare { // a page of HTML lists the strips in its table
		return 0
	}
	return labelPitch * (vg.Length(len(b.strips)) + 1.5)
}

// free returns what the axes may fill.
func (b *curves) free(page draw.Canvas) draw.Canvas {
	return draw.Crop(b.Below(page), 0, -b.beside(), b.below(), -b.above())
}

// height returns the page height at which the axes fill a page of width w and the
// labels stand clear of each other.
func (b *curves) height(w vg.Length) vg.Length {
	tall := parts.Page(w, 4*w)
	free := b.free(tall)
	if b.roomFor(free) != nil {
		return w // to be refused
	}
	foot, top := b.Below(tall).Min.Y+b.below(), tall.Max.Y-free.Max.Y
	h := tall.Max.Y - b.bottom(free, w) + foot
	if b.under {
		return h
	}
	return max(h, top+labelPitch*vg.Length(len(b.strips)+1)+foot)
}

// figure returns the curves on a page of the size asked for, or one that suits
// them.
func (b *curves) figure(o figure.Options) (*figure.Figure, error) {
	w := cmp.Or(o.Width, curvesWidth)
	b.under = b.Bare || w-2*parts.PageMargin-b.beside() < leastWide
	if o.Height == 0 && b.roomFor(b.free(parts.Page(w, 4*w))) == nil {
		b.clear(func() int {
			_, hidden := b.placedNames(b.data(b.free(parts.Page(w, 4*w))))
			return hidden
		})
	}
	h := cmp.Or(o.Height, b.height(w))
	free := b.free(parts.Page(w, h))
	if err := b.roomFor(free); err != nil {
		return nil, err
	}
	b.fit(free)
	unit := b.unit(b.data(free))
	for _, s := range b.strips {
		s.mark(unit, len(b.strips))
	}
	return o.Figure(w, h, b), nil
}

func (b *curves) DrawOn(page draw.Canvas) {
	free := b.free(page)
	b.Heading.Draw(page)
	c := b.drawAxes(free)
	if b.asked != nil {
		b.asked.draw(c, b.plot)
	}
	b.drawPoints(c, b.strips, b.speeds)
	names, _ := b.placedNames(c)
	for _, l := range names {
		l.Draw(c)
	}
	b.drawLabels(page, c)
}

// placedNames returns the names of places of the data, where they stand, and how many
// of the data they hide.
func (b *curves) placedNames(c draw.Canvas) ([]parts.Named, int) {
	points := parts.Places(c, b.plot, b.speeds)
	for _, s := range b.strips {
		points = append(points, s.data(c, b.plot)...)
	}
	if b.asked != nil {
		points = append(points, parts.Between(parts.Places(c, b.plot, b.asked.line))...)
	}
	return b.placed(c, b.names, points)
}

// drawLabels names the curves at their right ends, with leaders to labels that had to
// give way, or lists them under the axes.
func (b *curves) drawLabels(page, c draw.Canvas) {
	want := make([]vg.Length, len(b.strips))
	ends := make([]vg.Point, len(b.strips))
	for i, s := range b.strips {
		ends[i] = parts.Place(c, b.plot, s.end())
		want[i] = ends[i].Y
	}
	if b.asked != nil { // after those of the strips
		ends = append(ends, parts.Place(c, b.plot, b.asked.line[len(b.asked.line)-1]))
		want = append(want, ends[len(b.strips)].Y)
	}
	x := c.Max.X + labelGap
	lo := b.free(page).Min.Y + parts.BodySize/2
	at := parts.Spread(want, labelPitch, lo, max(c.Max.Y-parts.BodySize/2, lo))
	named := func(i int) bool { return true }
	if b.under {
		lo = c.Min.Y + parts.BodySize/2
		if labelPitch*vg.Length(len(at)-1) > c.Size().Y-parts.BodySize { // no room for all: the first and the last
			named = func(i int) bool { return i == 0 || i >= len(b.strips)-1 }
			copy(at, want)
		} else {
			at = parts.Spread(want, labelPitch, lo, c.Max.Y-parts.BodySize/2)
		}
	}
	for i := range ends {
		if !named(i) {
			continue
		}
		c.StrokeLines(parts.Leader, []vg.Point{{X: ends[i].X + 1, Y: ends[i].Y}, {X: c.Max.X + 2, Y: ends[i].Y}, {X: x - 2, Y: at[i]}})
		name := vg.Point{X: x, Y: at[i] - parts.CapHeight*parts.BodySize/2}
		switch {
		case i == len(b.strips):
			parts.Write(page, parts.BodySize, parts.Chosen, parts.FromLeft, name, b.asked.Time)
		case b.under:
			parts.Write(page, parts.BodySize, parts.Ink, parts.FromLeft, name, b.strips[i].time())
		default:
			b.drawRow(page, b.strips[i], vg.Point{X: x, Y: at[i]})
		}
	}
	if b.Bare {
		return
	}
	if !b.under {
		b.drawColumns(page, vg.Point{X: x, Y: c.Max.Y + 4})
		return
	}
	top := b.Below(page).Min.Y + b.below() - labelPitch
	b.drawColumns(page, vg.Point{X: page.Min.X + parts.PageMargin, Y: top})
	for i, s := range b.strips {
		b.drawRow(page, s, vg.Point{X: page.Min.X + parts.PageMargin, Y: top - labelPitch*(vg.Length(i)+0.6)})
	}
}

// drawColumns heads the list of the strips.
func (b *curves) drawColumns(page draw.Canvas, at vg.Point) {
	name, _ := b.labelColumns()
	at.X += labelKey + 4 + name
	parts.Write(page, parts.SmallSize, parts.Faint, parts.FromRight, at, nameColumn)
	at.X += parts.BodySize
	parts.Write(page, parts.SmallSize, parts.Faint, parts.FromLeft, at, b.column)
}

// drawRow writes the look, the name and the contrast of a strip.
func (b *curves) drawRow(page draw.Canvas, s *strip, at vg.Point) {
	name, _ := b.labelColumns()
	page.StrokeLine2(s.LineStyle, at.X, at.Y, at.X+labelKey, at.Y)
	s.Symbol.Draw(page, s.Color, vg.Point{X: at.X + labelKey/2, Y: at.Y})
	text := vg.Point{X: at.X + labelKey + 4 + name, Y: at.Y - parts.CapHeight*parts.BodySize/2}
	parts.Write(page, parts.BodySize, parts.Ink, parts.FromRight, text, s.name)
	text.X += parts.BodySize
	parts.Write(page, parts.SmallSize, parts.Ink, parts.FromLeft, text, s.detail)
}

// Numbers returns readings, curves and what was measured of each strip.
func (b *curves) Numbers() []figure.Series {
	var out []figure.Series
	for _, s := range b.strips {
		out = append(out, s.numbers(b.xLabel, b.yLabels[0])...)
	}
	if b.asked != nil {
		out = append(out, b.asked.numbers(b.xLabel, b.yLabels[0])...)
	}
	return append(out, b.measured...)
}

// measuredSeries returns contrast index and speed point of strips against time.
func measuredSeries(ms []*curve.Measured, level float64) []figure.Series {
	index := figure.Series{Panel: "measured", Name: "contrast index", X: "development time, min", Y: "contrast index"}
	point := figure.Series{Panel: "measured", Name: "speed point", X: "development time, min", Y: "log H of the speed point"}
	for _, m := range ms {
		if e := m.ContrastIndex; e != nil {
			index.Values = append(index.Values, estimated(float64(m.Strip.Minutes()), *e, level))
		}
		if e := m.SpeedPoint; e != nil {
			point.Values = append(point.Values, estimated(float64(m.Strip.Minutes()), *e, level))
		}
	}
	return []figure.Series{index, point}
}

// estimated returns an estimate at x as a value with its interval.
func estimated[Q ~float64](x float64, e sensito.Estimate[Q], level float64) figure.Value {
	low, high := e.Interval(level)
	return figure.Value{XY: plotter.XY{X: x, Y: float64(e.Value)}, Low: float64(low), High: float64(high)}
}
