package strips

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"sensito/plot/internal/figure"
	"sensito/plot/internal/parts"
	"sensito/sensito"
	"sensito/sensito/paper"
)

// Paper returns the characteristic curves of a paper, one for each grade, laid on
// their speed points so that their contrasts are compared, from the softest, the
// lightest, to the hardest; and below them a bar for each grade from white to black,
// with its ISO range and speed. A strip alone is drawn on its own exposures, with the
// ends of its range and what its readings differ by from the curve. The error is for
// options outside their limits, no strip with a curve, or too many. Strips without a
// curve are left out.
func Paper(p *paper.Paper, o figure.Options) (*figure.Figure, error) {
	strips := slices.DeleteFunc(slices.Clone(p.Strips), func(m *paper.Strip) bool { return m.Fit == nil })
	if err := drawable(len(strips)); err != nil {
		return nil, err
	}
	o, err := o.WithDefaults("")
	if err != nil {
		return nil, err
	}
	slices.SortStableFunc(strips, func(a, b *paper.Strip) int { return cmp.Compare(logRange(b), logRange(a)) })
	o = o.Answered(paperAnswer(strips, o.Confidence))
	if len(strips) == 1 {
		return newPaperStrip(strips[0], o).figure(o)
	}
	return newGrades(p.Trial, strips, o).figure(o)
}

// logRange returns the log exposure range of a strip; one without any comes last.
func logRange(m *paper.Strip) sensito.LogRange {
	if m.LogRange == nil {
		return 0
	}
	return m.LogRange.Value
}

// gradeLabel names a strip by its grade, and by its number where several are of one
// grade or it has none.
func gradeLabel(m *paper.Strip) string {
	if m.Grade == "" {
		return fmt.Sprintf("strip %d", m.Strip.Number())
	}
	for _, other := range m.Strip.Trial().Strips() {
		if other.Grade() == m.Grade && other.Number() != m.Strip.Number() {
			return fmt.Sprintf("grade %s, strip %d", m.Grade, m.Strip.Number())
		}
	}
	return "grade " + m.Grade
}

// paperAnswer says in a sentence what the strips tell, from the softest to the hardest.
func paperAnswer(ms []*paper.Strip, level float64) string {
	var told []string
	if len(ms) == 1 {
		if ms[0].LogRange != nil {
			told = append(told, rangeWithin(ms[0], level))
		}
		if e := ms[0].Speed; e != nil {
			told = append(told, "speed "+parts.Interval(*e, level, parts.SpeedPlaces(e.Value)))
		}
		return sentence(told, ", ", "Characteristic curve of "+gradeLabel(ms[0]))
	}
	var ranged []*paper.Strip
	low, high := sensito.Speed(math.Inf(1)), sensito.Speed(0)
	for _, m := range ms {
		if m.LogRange != nil {
			ranged = append(ranged, m)
		}
		if m.Speed != nil {
			low, high = min(low, m.Speed.Value), max(high, m.Speed.Value)
		}
	}
	if n := len(ranged); n > 0 {
		end := func(m *paper.Strip) string {
			return boundRange(m) + " at " + gradeLabel(m)
		}
		name := "ISO range "
		if slices.ContainsFunc(ranged, (*paper.Strip).Pictured) {
			name = "range "
		}
		told = append(told, name+end(ranged[0]))
		if n > 1 {
			told[0] += " to " + end(ranged[n-1])
		}
	}
	if high > 0 {
		told = append(told, "speeds of "+parts.Speed(low)+" to "+parts.Speed(high)+" among them")
	}
	return sentence(told, "; ", fmt.Sprintf("Characteristic curves of %d grades", len(ms)))
}

// rangeWithin returns the range of a strip with its interval, that of ISO 6846 where it may
// be called so.
func rangeWithin(m *paper.Strip, level float64) string {
	if e := m.ISORange(); e != nil {
		return "ISO range " + parts.Interval(*e, level, 0)
	}
	return "log range " + parts.Interval(*m.LogRange, level, 2)
}

// boundRange is rangeWithin without the interval and without what a number of ISO 6846 is.
func boundRange(m *paper.Strip) string {
	if e := m.ISORange(); e != nil {
		return bound(*e, 0)
	}
	return bound(*m.LogRange, 2)
}

// bound returns a value, "or more" or "or less" where that is all that is known of it.
func bound[Q ~float64](e sensito.Estimate[Q], places int) string {
	s := parts.Fixed(float64(e.Value), places)
	switch {
	case e.AtLeast:
		s += " or more"
	case e.AtMost:
		s += " or less"
	}
	return s
}

// newPaperStrip returns the figure of a strip of paper alone.
func newPaperStrip(m *paper.Strip, o figure.Options) *single {
	b := newSingle(m.Strip, m.Fit, gradeLabel(m), o)
	b.Sub += "\n" + gradeLabel(m)
	if m.AverageGradient != nil {
		b.Sub += ", average gradient " + parts.Interval(*m.AverageGradient, o.Confidence, 2)
	}
	c := m.Fit.Curve
	end := func(at *sensito.Estimate[sensito.LogExposure], reached bool, name, what string, up bool) {
		if at == nil {
			return
		}
		place := plotter.XY{X: float64(at.Value), Y: float64(c.Density(at.Value))}
		b.hold(place.X)
		b.dots = append(b.dots, dot{place, !reached})
		b.lines = append(b.lines, styled{fence, plotter.XYs{place, {X: place.X, Y: 0}}})
		b.names = append(b.names, placeName{XY: place, text: name + ", " + what + ":\nlog H " + parts.Interval(*at, o.Confidence, 2), short: name, up: up})
	}
	end(m.White, m.WhiteReached, "white", "0.04 above the paper", true)
	end(m.Black, m.BlackReached, "black", "90 % of the net maximum density", false)
	if w, ok := speedWhisker(m.SpeedPoint, c, b.strip.Look, o.Confidence); ok {
		b.whiskers = append(b.whiskers, w)
		b.hold(w.X)
		b.names = append(b.names, placeName{XY: w.XY, text: "speed point, 0.60 above the paper:\nlog H " + parts.Interval(*m.SpeedPoint, o.Confidence, 2), short: "speed point", up: true})
	}
	if m.LogRange != nil {
		b.extent = &extent{from: float64(m.White.Value), to: float64(m.Black.Value), openFrom: !m.WhiteReached, openTo: !m.BlackReached,
			label: "log range " + bound(*m.LogRange, 2)}
	}
	if e := m.MaxDensity; e != nil {
		lo, hi := c.Domain()
		b.lines = append(b.lines, styled{parts.BaseLine, plotter.XYs{{X: float64(lo), Y: float64(e.Value)}, {X: float64(hi), Y: float64(e.Value)}}})
		b.names = append(b.names, placeName{XY: plotter.XY{X: float64(lo.Add(hi.Sub(lo) * 0.15)), Y: float64(e.Value)},
			text: "maximum density: " + parts.Interval(*e, o.Confidence, 2), short: "maximum density"})
	}
	base := ""
	if m.MinDensity != nil {
		b.strip.base = float64(m.MinDensity.Value)
		base = "paper white: " + parts.Interval(*m.MinDensity, o.Confidence, 2)
	}
	b.measured = gradeSeries([]*paper.Strip{m}, o.Confidence)
	return b.finish(c, base, "unexposed paper")
}

// gradeSeries returns ranges and speeds of grades, the softest first.
func gradeSeries(ms []*paper.Strip, level float64) []figure.Series {
	var out []figure.Series
	for i, m := range ms {
		add := func(y string, v figure.Value) {
			out = append(out, figure.Series{Panel: "measured", Name: gradeLabel(m), X: "grades from the softest", Y: y, Values: []figure.Value{v}})
		}
		x := float64(i + 1)
		if e := m.ISORange(); e != nil {
			add("ISO range", estimated(x, *e, level))
		}
		if e := m.LogRange; e != nil && m.Pictured() {
			add("log range", estimated(x, *e, level))
		}
		if e := m.Speed; e != nil {
			add("speed", estimated(x, *e, level))
		}
		if e := m.White; e != nil {
			add("white, log H", estimated(x, *e, level))
		}
		if e := m.Black; e != nil {
			add("black, log H", estimated(x, *e, level))
		}
		if e := m.SpeedPoint; e != nil {
			add("speed point, log H", estimated(x, *e, level))
		}
	}
	return out
}

// grades is the figure of several grades of a paper.
type grades struct {
	parts.Heading
	*stripAxes
	strips     []*strip
	speedPoint plotter.XYs // where the curves meet; empty where none has one
	bars       *gradeBars
	names      []placeName
	from, to   float64 // what of the exposures is drawn
	measured   []figure.Series
}

func newGrades(t *sensito.Trial, ms []*paper.Strip, o figure.Options) *grades {
	b := &grades{Heading: o.Headed("", t), measured: gradeSeries(ms, o.Confidence)}
	laid := slices.DeleteFunc(slices.Clone(ms), func(m *paper.Strip) bool { return m.SpeedPoint == nil })
	b.stripAxes = newStripAxes(t, stripsOfPaper(ms))
	b.top = nil
	b.bars = &gradeBars{}
	origin := func(m *paper.Strip) float64 { return float64(m.SpeedPoint.Value) }
	laidOn := len(laid) > 0
	if !laidOn { // on their exposures, then
		laid, origin = ms, func(*paper.Strip) float64 { return 0 }
	} else {
		b.xLabel = "log exposure from the speed point"
		b.plot.X.Label.Text = b.xLabel
	}
	looks := parts.Ordered(len(laid))
	for i, m := range laid {
		s := newStrip(m.Strip, m.Fit, looks[i], gradeLabel(m), o)
		lo, hi := m.Fit.Curve.Domain()
		s.extend(m.Fit.Curve, lo.Add(-1), hi.Add(1))
		s.shift(-origin(m))
		b.strips = append(b.strips, s)
		b.names = append(b.names, s.asideNames(false)...)
		b.bars.add(m, looks[i], origin(m), o.Confidence)
	}
	if laidOn {
		const text = "speed point, 0.60 above the paper"
		b.speedPoint = plotter.XYs{{X: 0, Y: b.strips[0].density(0)}}
		b.names = append([]placeName{{XY: b.speedPoint[0], text: text, short: text}}, b.names...)
	}
	b.from, b.to = b.bars.span()
	if math.IsInf(b.from, 0) {
		for _, s := range b.strips {
			b.hold(s.span()...)
		}
		b.from, b.to = b.left, b.right
	}
	b.Foot = gradesFoot(ms, laid, b.strips, o)
	return b
}

func stripsOfPaper(ms []*paper.Strip) []*sensito.Strip {
	var out []*sensito.Strip
	for _, m := range ms {
		out = append(out, m.Strip)
	}
	return out
}

// gradesFoot explains what the drawing does not name in place.
func gradesFoot(ms, laid []*paper.Strip, strips []*strip, o figure.Options) string {
	by := " (ISO 6846)"
	if slices.ContainsFunc(ms, (*paper.Strip).Pictured) {
		by = ""
	}
	foot := "Bars: from white, 0.04 above the paper, to black, 90 % of the net maximum density" + by + "; the caps are the interval of the range, an arrow goes on beyond the steps.\n" +
		curvesFoot(strips, o)
	var without []string
	for _, m := range ms {
		if !slices.Contains(laid, m) {
			without = append(without, gradeLabel(m))
		}
	}
	if len(without) > 0 {
		foot = "Left out, without a speed point: " + strings.Join(without, ", ") + ".\n" + foot
	}
	return foot
}

// figure returns the grades on a page of the size asked for, or one that suits them.
func (b *grades) figure(o figure.Options) (*figure.Figure, error) {
	w := cmp.Or(o.Width, curvesWidth)
	b.bars.brief = b.Bare || w < leastNamed
	b.closeAt(w)
	b.panel(b.bars.axes(b.plot), vg.Length(len(b.bars.rows))*barPitch, "from white to black, with "+b.bars.ranges()+" and speed", "white to black, "+b.bars.ranges()+", speed")
	tall := parts.Page(w, 4*w)
	h := cmp.Or(o.Height, tall.Max.Y-b.bottom(b.free(tall), w)+b.Below(tall).Min.Y)
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

// closeAt sets the ends of the axes on a page of width w, with room for the texts at
// the ends of the bars, and adds the curves.
func (b *grades) closeAt(w vg.Length) {
	const axis, beside = 32, 0.1 // of the vertical axis, less its names
	names := parts.TextWidth(parts.BodySize, "0.0")
	for _, r := range b.bars.rows {
		names = max(names, parts.TextWidth(parts.BodySize, r.name))
	}
	free := w - 2*parts.PageMargin - axis - min(names, widestName)
	left, right := b.from-beside, b.to
	for range 20 { // the unit depends on the room
		unit := free / vg.Length(right-left)
		right = b.to + beside
		for _, r := range b.bars.rows {
			right = max(right, r.end()+float64((parts.TextWidth(parts.SmallSize, b.bars.text(r))+12)/unit))
		}
	}
	for _, s := range b.strips {
		s.clip(left, right)
		b.plot.Add(s)
	}
	b.plot.X.Min, b.plot.X.Max = left, right
	b.plot.Y.Min, b.plot.Y.Max = 0, math.Ceil(10*(b.plot.Y.Max+0.05))/10
}

// free returns what the axes may fill.
func (b *grades) free(page draw.Canvas) draw.Canvas { return b.Below(page) }

func (b *grades) DrawOn(page draw.Canvas) {
	free := b.free(page)
	b.Heading.Draw(page)
	c := b.drawAxes(free)
	b.drawPoints(c, b.strips, b.speedPoint)
	labels, taken := b.labels(c)
	for i := range labels {
		labels[i].Draw(c)
	}
	for _, s := range b.strips {
		taken = append(taken, s.data(c, b.plot)...)
	}
	names, _ := b.placed(c, append(b.endNames(labels), b.names...), taken)
	for _, n := range names {
		n.Draw(c)
	}
}

// endNames names the softest and the hardest grade beside their curves where no label
// lies on them.
func (b *grades) endNames(labels []parts.Along) []placeName {
	var out []placeName
	for _, s := range []*strip{b.strips[0], b.strips[len(b.strips)-1]} {
		on := s.rising()
		if len(on) > 0 && !slices.ContainsFunc(labels, func(l parts.Along) bool { return l.Text == b.lineName(s) }) {
			out = append(out, placeName{XY: on[len(on)/2], text: s.name, short: s.name, up: s != b.strips[0]})
		}
	}
	return out
}

// lineName returns the name of a grade on its curve.
func (b *grades) lineName(s *strip) string {
	if b.bars.brief {
		return strings.TrimPrefix(s.name, "grade ")
	}
	return s.name
}

// labels returns the names of the grades lying on their curves, where they hide the
// fewest places of the others, and points all over them. One that would hide many is
// left to its bar.
func (b *grades) labels(c draw.Canvas) (out []parts.Along, taken []vg.Point) {
	all := make([][]vg.Point, len(b.strips))
	for i, s := range b.strips {
		all[i] = s.data(c, b.plot)
	}
	const most = 12 // of places that a name may hide
	for i, s := range b.strips {
		line := parts.Places(c, b.plot, s.rising())
		best, fewest := parts.Along{}, most+1
		for part := 0.0; part < 1; part += 0.025 {
			l := parts.Along{Text: b.lineName(s), Size: parts.SmallSize, Color: parts.Ink}
			if !l.Fit(line, part) {
				continue
			}
			hidden := 5 * parts.Within(l.Box(), taken, 1)
			for k := range all {
				if k != i {
					hidden += parts.Within(l.Box(), all[k], 0)
				}
			}
			if hidden < fewest {
				best, fewest = l, hidden
			}
		}
		if best.Text != "" {
			out = append(out, best)
			r := best.Box()
			taken = append(taken, along([]vg.Point{r.Min, r.Max})...)
			taken = append(taken, along([]vg.Point{{X: r.Min.X, Y: r.Max.Y}, {X: r.Max.X, Y: r.Min.Y}})...)
		}
	}
	return out, taken
}

// rising returns the part of the curve on which grades lie apart, between the speed
// point and the shoulder.
func (s *strip) rising() plotter.XYs {
	const above, below = 0.35, 0.93 // of the highest density
	top := s.curve[len(s.curve)-1].Y
	return slices.DeleteFunc(slices.Clone(s.curve), func(at plotter.XY) bool { return at.Y < above*top || at.Y > below*top })
}

// Numbers returns readings, curves and what was measured of each grade.
func (b *grades) Numbers() []figure.Series {
	var out []figure.Series
	for _, s := range b.strips {
		out = append(out, s.numbers(b.xLabel, b.yLabels[0])...)
	}
	return append(out, b.measured...)
}
