package plot

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	gplot "gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"sensito/plot/internal/parts"
	"sensito/sensito"
	"sensito/sensito/curve"
)

// maxCurves is how many strips one drawing can hold and still be read.
const maxCurves = 24

const curvesWidth = 180 * vg.Millimeter

// Curves returns the characteristic curves of strips of one trial: readings as
// open symbols, those set aside crossed out, the fitted curve with the
// confidence band of its density, thin where there are no readings, and the
// speed point. Both axes have the same scale: one unit of log exposure is as
// long as one unit of density. A strip alone is drawn with its contrast-index
// ray and a note of its values. The error is for options outside their limits,
// no strip with a curve, too many, or strips of different trials. Strips
// without a curve are left out.
func Curves(ms []*curve.Measured, o Options) (*Figure, error) {
	ms = slices.DeleteFunc(slices.Clone(ms), func(m *curve.Measured) bool { return m.Fit == nil })
	if len(ms) == 0 {
		return nil, errors.New("no strip to draw")
	}
	if len(ms) > maxCurves {
		return nil, fmt.Errorf("%d strips are too many for one drawing: at most %d", len(ms), maxCurves)
	}
	trial := ms[0].Strip.Trial()
	for _, m := range ms {
		if m.Strip.Trial() != trial {
			return nil, errors.New("the strips of one drawing must be of one trial")
		}
	}
	o, err := o.withDefaults(trial.Title())
	if err != nil {
		return nil, err
	}
	return newCurves(ms, o).figure(o)
}

// figure returns the curves on a page of the size asked for, or one that suits
// them.
func (b *curves) figure(o Options) (*Figure, error) {
	w := cmp.Or(o.Width, curvesWidth)
	b.clear(w)
	h := cmp.Or(o.Height, b.height(w))
	if err := b.roomFor(w, h); err != nil {
		return nil, err
	}
	b.nameDensity(w, h)
	return o.figure(w, h, b), nil
}

type curves struct {
	parts.Heading
	plot   *gplot.Plot
	strips []*strip
	ranges []paperRange // of papers
	note   parts.Note

	yLabels []string // long to short
}

func newCurves(ms []*curve.Measured, o Options) *curves {
	trial := ms[0].Strip.Trial()
	b := &curves{Heading: newHeading(o, trial)}
	b.yLabels = []string{"density (ISO 5 visual diffuse)", "density"}
	if trial.Reading().Zero == sensito.ZeroBase {
		b.yLabels = []string{"density above the film base (ISO 5 visual diffuse)", "density above the film base", "density"}
	}
	b.plot = parts.NewAxes(exposureLabel(trial), b.yLabels[len(b.yLabels)-1])

	left, right := math.Inf(1), math.Inf(-1)
	hold := func(h sensito.LogExposure) { left, right = min(left, float64(h)), max(right, float64(h)) }
	times := map[sensito.Minutes]int{}
	looks := parts.Ordered(len(ms))
	for i, m := range ms {
		s := newStrip(m, looks[i], o)
		lo, hi := m.Fit.Curve.Domain()
		hold(lo)
		hold(hi)
		for _, step := range m.Strip.Steps() {
			if step.Density == step.Density {
				hold(step.LogH)
			}
		}
		if m.SpeedPoint != nil {
			hold(m.SpeedPoint.Value)
		}
		if len(ms) == 1 {
			if ray, err := curve.IndexRay(m.Fit.Curve); err == nil {
				s.ray = &ray
				hold(ray.Start)
				hold(ray.Far)
			}
			s.alone, b.note = true, curveNote(m, o)
		}
		times[m.Strip.Minutes()]++
		b.strips = append(b.strips, s)
	}
	const beside = 0.1 // log H left free beside the readings
	left, right = math.Floor(10*(left-beside))/10, math.Ceil(10*(right+beside))/10
	for i, m := range ms {
		s := b.strips[i]
		s.extend(m.Fit.Curve, sensito.LogExposure(left), sensito.LogExposure(right))
		if times[m.Strip.Minutes()] > 1 {
			s.detail = strings.TrimSuffix(fmt.Sprintf("strip %d, %s", m.Strip.Number(), s.detail), ", ")
		}
		b.plot.Add(s)
	}
	b.scale(left, right)
	return b
}

func exposureLabel(t *sensito.Trial) string {
	if !t.Exposures().Absolute() {
		return "relative log exposure"
	}
	return "log exposure, log10 lx s"
}

// scale sets the ends and the ticks of both axes.
func (b *curves) scale(left, right float64) {
	b.plot.X.Min, b.plot.X.Max = left, right
	b.plot.Y.Min = math.Floor(10*min(0, b.plot.Y.Min)) / 10
	b.plot.Y.Max = math.Ceil(10*(b.plot.Y.Max+0.05)) / 10
	for _, a := range []*gplot.Axis{&b.plot.X, &b.plot.Y} {
		a.Tick.Marker = halfTicks(max(right-left, b.plot.Y.Max-b.plot.Y.Min))
	}
}

// halfTicks gives both axes the same steps, of 0.5 unless the range is long.
func halfTicks(span float64) gplot.Ticker {
	if span > 6 {
		return parts.Steps{Major: 1, Every: 5}
	}
	return parts.Steps{Major: 0.5, Every: 5}
}

// curveNote says in a few lines what a strip drawn alone tells.
func curveNote(m *curve.Measured, o Options) parts.Note {
	var n parts.Note
	if e := m.BaseFog; e != nil {
		n = append(n, "base plus fog "+parts.Interval(*e, o.Confidence, 2))
	}
	if e := m.SpeedPoint; e != nil {
		n = append(n, "speed point (dot) at log H "+parts.Interval(*e, o.Confidence, 2))
	}
	if e := m.Speed; e != nil {
		n = append(n, "speed "+parts.Interval(*e, o.Confidence, 0))
	}
	if e := m.ContrastIndex; e != nil {
		n = append(n, "contrast index (ray) "+parts.Interval(*e, o.Confidence, 2))
	}
	if e := m.Gamma; e != nil {
		n = append(n, "gamma "+parts.Interval(*e, o.Confidence, 2))
	}
	if len(n) > 0 {
		n = append(n, "intervals and band: "+parts.Percent(o.Confidence))
	}
	return n
}

// The column of labels to the right of the frame.
const (
	labelGap   = vg.Length(16) // for leaders
	labelKey   = vg.Length(22) // for a sample of line and symbol
	labelPitch = parts.BodySize * 1.3
)

// labelColumns returns the widths of the two parts of the labels.
func (b *curves) labelColumns() (label, detail vg.Length) {
	for _, s := range b.strips {
		label = max(label, parts.TextWidth(parts.BodySize, s.label))
		if s.detail != "" {
			detail = max(detail, parts.TextWidth(parts.BodySize, s.detail)+parts.BodySize)
		}
	}
	return label, detail
}

func (b *curves) labelWidth() vg.Length {
	label, detail := b.labelColumns()
	return labelGap + labelKey + 4 + label + detail
}

// area returns where axes and data are drawn.
func (b *curves) area(page draw.Canvas) draw.Canvas {
	a := draw.Crop(b.Below(page), 0, -b.labelWidth(), 0, 0)
	return parts.EqualScales(b.plot, a)
}

const leastCurves = vg.Length(40) // height of the data

// roomFor returns an error when a page leaves too little for the data.
func (b *curves) roomFor(w, h vg.Length) error {
	free := draw.Crop(b.Below(parts.Page(w, h)), 0, -b.labelWidth(), 0, 0)
	if err := parts.Room(b.plot.DataCanvas(free), leastCurves); err != nil {
		return err
	}
	return parts.Room(b.plot.DataCanvas(b.area(parts.Page(w, h))), leastCurves)
}

// height returns the page height at which the axes fill a page of width w.
func (b *curves) height(w vg.Length) vg.Length {
	tall := parts.Page(w, 4*w)
	if b.roomFor(w, 4*w) != nil {
		return w // to be refused
	}
	h := tall.Max.Y - b.area(tall).Min.Y + parts.PageMargin
	return min(max(h, w/3), 1.3*w)
}

// nameDensity gives the vertical axis the longest label that it has room for.
func (b *curves) nameDensity(w, h vg.Length) {
	height := b.plot.DataCanvas(b.area(parts.Page(w, h))).Size().Y
	for _, label := range b.yLabels {
		if b.plot.Y.Label.Text = label; parts.TextWidth(parts.BodySize, label) <= height {
			return
		}
	}
}

// clear makes room above the curves when the note would hide data in every
// corner on a page of width w, if a little room is enough.
func (b *curves) clear(w vg.Length) {
	if len(b.note) == 0 || b.roomFor(w, 4*w) != nil {
		return
	}
	const most = 6 // tenths of a density
	top := b.plot.Y.Max
	for range most {
		c := b.plot.DataCanvas(b.area(parts.Page(w, 4*w)))
		if _, hidden := b.note.Corner(c, b.occupied(c)); hidden == 0 {
			return
		}
		b.plot.Y.Max += 0.1
	}
	b.plot.Y.Max = top
}

// occupied returns the points that a note should not hide.
func (b *curves) occupied(c draw.Canvas) []vg.Point {
	out := b.data(c)
	for _, s := range b.strips {
		if r := s.ray; r != nil {
			for i := range 40 {
				d := r.Far.Sub(r.Start) * sensito.LogRange(i) / 39
				out = append(out, parts.Place(c, b.plot, plotter.XY{X: float64(r.Start.Add(d)), Y: float64(r.Base) + r.Slope()*float64(d)}))
			}
		}
		if s.speedPoint != nil {
			at := parts.Place(c, b.plot, *s.speedPoint)
			out = append(out, at, vg.Point{X: at.X, Y: (at.Y + c.Min.Y) / 2})
		}
	}
	for _, r := range b.ranges {
		out = append(out, r.occupied(c, b.plot)...)
	}
	for _, l := range b.asideLabels(c) {
		out = append(out, l.Min, l.Max)
	}
	return out
}

func (b *curves) draw(page draw.Canvas) {
	area := b.area(page)
	c := b.plot.DataCanvas(area)
	b.Heading.Draw(page)
	b.plot.Draw(area)
	parts.Frame(c)
	for _, s := range b.strips {
		s.plotReadings(c, b.plot)
	}
	for _, s := range b.strips {
		s.plotSpeedPoint(c, b.plot)
	}
	for _, r := range b.ranges {
		r.draw(c, b.plot)
	}
	if corner, hidden := b.note.Corner(c, b.occupied(c)); hidden == 0 {
		b.note.Draw(c, corner)
	}
	for _, l := range b.asideLabels(c) {
		parts.Write(c, parts.SmallSize, parts.Ink, parts.FromLeft, l.Min, l.name)
	}
	b.drawLabels(page, c)
}

// drawLabels names the curves at their right ends, with leaders to labels that
// had to give way.
func (b *curves) drawLabels(page, c draw.Canvas) {
	want := make([]vg.Length, len(b.strips))
	ends := make([]vg.Point, len(b.strips))
	for i, s := range b.strips {
		ends[i] = parts.Place(c, b.plot, s.end())
		want[i] = ends[i].Y
		if len(b.ranges) > 0 { // papers end at one black: in the order of the grades
			want[i] = ends[0].Y - vg.Length(i)*1e-3
		}
	}
	label, _ := b.labelColumns()
	lo := c.Min.Y + parts.BodySize/2
	at := parts.Spread(want, labelPitch, lo, max(c.Max.Y-parts.BodySize/2, lo))
	for i, s := range b.strips {
		x := c.Max.X + labelGap
		c.StrokeLines(parts.Leader, []vg.Point{{X: ends[i].X + 1, Y: ends[i].Y}, {X: c.Max.X + 2, Y: ends[i].Y}, {X: x - 2, Y: at[i]}})
		c.StrokeLine2(s.LineStyle, x, at[i], x+labelKey, at[i])
		s.Symbol.Draw(c, s.Color, vg.Point{X: x + labelKey/2, Y: at[i]})
		text := vg.Point{X: x + labelKey + 4 + label, Y: at[i] - parts.CapHeight*parts.BodySize/2}
		parts.Write(page, parts.BodySize, parts.Ink, parts.FromRight, text, s.label)
		text.X += parts.BodySize
		parts.Write(page, parts.BodySize, parts.Ink, parts.FromLeft, text, s.detail)
	}
}
