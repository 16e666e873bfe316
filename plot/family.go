package plot

import (
	"fmt"
	"math"

	gplot "gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"sensito/plot/internal/figure"
	"sensito/plot/internal/parts"
	"sensito/sensito"
	"sensito/sensito/curve"
	"sensito/sensito/development"
	"sensito/sensito/scene"
)

const (
	familyWidth  = 150 * vg.Millimeter
	familyHeight = 190 * vg.Millimeter
)

// Family returns contrast, speed and base plus fog against development time,
// in panels on one logarithmic time axis: the strips with their intervals, and
// the fitted laws with their bands, dashed outside the tested times. Without
// absolute exposures there is no panel of speed. Mark, when not nil, is a
// chosen time to be drawn through all panels with its interval; without one the
// time of ISO 6 is told as it is today, nil for as in the trial. The error is
// for options outside their limits, or of a law that cannot be followed.
func Family(f *development.Family, today *scene.Adjustment, mark *scene.Answer, o Options) (*Figure, error) {
	o, err := o.WithDefaults("")
	if err != nil {
		return nil, err
	}
	b, err := newFamilyBody(f, today, mark, &o)
	if err != nil {
		return nil, err
	}
	height := vg.Length(familyHeight)
	if len(b.panels) == 2 {
		height *= 0.72
	}
	fig := o.Figure(familyWidth, height, b)
	return fig.WithRoom(b.layout(fig.Page()))
}

type familyBody struct {
	parts.Heading
	timeline
	panels []*panel
	shares []float64  // of the height
	note   parts.Note // in the first panel
}

func newFamilyBody(f *development.Family, today *scene.Adjustment, chosen *scene.Answer, o *Options) (*familyBody, error) {
	b := &familyBody{note: familyNote(f, *o)}
	if chosen != nil {
		today = chosen.Today
		b.mark = newMark(chosen, o.Confidence)
	}
	b.Heading = o.Headed(familyTitle(f, today, chosen, *o), f.Trial, figure.OfToday(today), "bars and bands: "+parts.Percent(o.Confidence))
	if chosen != nil || today != nil || f.ISOMinutes != nil {
		b.Heading = figure.Cautioned(b.Heading, today)
	}
	b.timeline = newTimeline(f, b.mark)
	s, err := followed(f, b.timeline, o.Confidence)
	if err != nil {
		return nil, err
	}
	contrast := b.panel(contrastName(f), s.contrast, contrastPoints(f, o.Confidence)).pad(0.05)
	b.add(1, contrast)
	if err := contrast.markISO(f, o.Confidence); err != nil {
		return nil, err
	}
	if len(s.speed.Line) > 0 {
		p := b.panel("speed", s.speed, stripPoints(f, o.Confidence, func(m *curve.Measured) *sensito.Estimate[sensito.Speed] { return m.Speed }))
		p.plot.Y.Scale, p.plot.Y.Tick.Marker = gplot.LogScale{}, parts.SpeedTicks{}
		b.add(0.8, p.padLog(2))
	}
	fog := b.panel("base plus fog", s.fog, stripPoints(f, o.Confidence, func(m *curve.Measured) *sensito.Estimate[sensito.Density] { return m.BaseFog }))
	fog.plot.Y.Tick.Marker = parts.DecimalTicks{Want: 4}
	b.add(0.55, fog.pad(0.04))
	for _, p := range b.panels[:len(b.panels)-1] {
		p.plot.X.Label.Text = ""
		p.plot.X.Tick.Marker = parts.Unlabelled{Ticker: p.plot.X.Tick.Marker}
		p.plot.X.Tick.Label.Font.Size = 1
	}
	return b, nil
}

func (b *familyBody) add(share float64, p *panel) {
	b.panels, b.shares = append(b.panels, p), append(b.shares, share)
}

// laws are what a family says along a timeline.
type laws struct{ contrast, speed, fog parts.Ribbon }

// followed samples a family along a timeline.
func followed(f *development.Family, t timeline, level float64) (laws, error) {
	var s laws
	times := t.times()
	all, err := f.Along(times)
	if err != nil {
		return laws{}, err
	}
	for i, at := range all {
		minutes := float64(times[i])
		appendLaw(&s.contrast, minutes, at.Contrast, level)
		appendLaw(&s.fog, minutes, at.BaseFog, level)
		if at.Speed != nil {
			appendLaw(&s.speed, minutes, *at.Speed, level)
		}
	}
	return s, nil
}

func appendLaw[Q ~float64](l *parts.Ribbon, minutes float64, e sensito.Estimate[Q], level float64) {
	low, high := e.Interval(level)
	l.Add(minutes, float64(e.Value), float64(low), float64(high))
}

// stripPoints returns one quantity of the strips that have it.
func stripPoints[Q ~float64](f *development.Family, level float64, of func(*curve.Measured) *sensito.Estimate[Q]) []parts.Whisker {
	var out []parts.Whisker
	for _, m := range f.Strips {
		e := of(m)
		if e == nil {
			continue
		}
		low, high := e.Interval(level)
		out = append(out, parts.Whisker{
			XY:  plotter.XY{X: float64(m.Minutes()), Y: float64(e.Value)},
			Low: float64(low), High: float64(high),
		})
	}
	return out
}

func contrastPoints(f *development.Family, level float64) []parts.Whisker {
	return stripPoints(f, level, func(m *curve.Measured) *sensito.Estimate[float64] {
		if f.Quantity == development.QuantityAverageGradient {
			return m.AverageGradient
		}
		return m.ContrastIndex
	})
}

func contrastName(f *development.Family) string {
	if f.Quantity == development.QuantityAverageGradient {
		return "average gradient"
	}
	return "contrast index"
}

// familyNote names the law of the contrast and its constants.
func familyNote(f *development.Family, o Options) parts.Note {
	n := parts.Note{"line: " + f.Model + "; broken: not tested"}
	if f.Limit != nil {
		n = append(n, "limit "+parts.Interval(*f.Limit, o.Confidence, 2))
	}
	if f.Rate != nil {
		n = append(n, "rate "+parts.Interval(*f.Rate, o.Confidence, 3)+" per min")
	}
	if f.Induction != nil {
		n = append(n, "induction "+parts.Interval(*f.Induction, o.Confidence, 2)+" min")
	}
	return n
}

// familyTitle is the time for a scene or, without one, what the tested times reach
// and the time of ISO 6.
func familyTitle(f *development.Family, today *scene.Adjustment, chosen *scene.Answer, o Options) string {
	if chosen != nil {
		return figure.Capital(parts.Develop(chosen.Minutes, o.Confidence)) + " for " + parts.Number(chosen.Scene.Stops) + " stops" + testedAs(today, chosen.Tested().Minutes.Value)
	}
	lo, hi := f.Times()
	var text string
	points := contrastPoints(f, o.Confidence)
	switch n := len(points); {
	case n == 0:
		text = fmt.Sprintf("Strips of %s to %s", parts.Clock(lo), parts.Clock(hi))
	case n == 1 || lo == hi:
		text = fmt.Sprintf("%s %s at %s", figure.Capital(contrastName(f)), parts.Fixed(points[0].Y, 2), parts.Clock(lo))
	default:
		first, last := points[0], points[n-1]
		text = fmt.Sprintf("%s %s at %s to %s at %s", figure.Capital(contrastName(f)), parts.Fixed(first.Y, 2), parts.Clock(sensito.Minutes(first.X)), parts.Fixed(last.Y, 2), parts.Clock(sensito.Minutes(last.X)))
	}
	if f.ISOMinutes != nil {
		text += "; the contrast of ISO 6 at " + parts.Planned(today.Minutes(f.ISOMinutes).Value) + testedAs(today, f.ISOMinutes.Value)
	}
	return text
}

// testedAs tells the time as tested where that of today is another.
func testedAs(today *scene.Adjustment, tested sensito.Minutes) string {
	if figure.OfToday(today) == "" {
		return ""
	}
	return ", as tested and drawn " + parts.Planned(tested)
}

// isoPoint is the time at which a family meets the contrast of ISO 6, on the law.
type isoPoint struct{ parts.Whisker }

// markISO adds the point to a panel of contrast.
func (p *panel) markISO(f *development.Family, level float64) error {
	if f.ISOMinutes == nil || float64(f.ISOMinutes.Value) < p.plot.X.Min || float64(f.ISOMinutes.Value) > p.plot.X.Max {
		return nil
	}
	at, err := f.Along([]sensito.Minutes{f.ISOMinutes.Value})
	if err != nil {
		return err
	}
	low, high := f.ISOMinutes.Interval(level)
	w := parts.Whisker{XY: plotter.XY{X: float64(f.ISOMinutes.Value), Y: at[0].Contrast.Value}, Low: float64(low), High: float64(high),
		Across: true, Filled: true, Look: parts.Look{LineStyle: parts.Line(0.8, parts.Ink), Symbol: parts.Symbol{Sides: 4}}}
	p.iso = &isoPoint{w}
	p.plot.Add(p.iso)
	return nil
}

// drawLabel names the point below it, on the side that the law leaves free.
func (i *isoPoint) drawLabel(c draw.Canvas, p *gplot.Plot) {
	const name = "ISO 6"
	pt := parts.Place(c, p, i.XY)
	x := min(pt.X+6, c.Max.X-parts.TextWidth(parts.SmallSize, name)-2)
	parts.Write(c, parts.SmallSize, parts.Ink, parts.FromLeft, vg.Point{X: x, Y: max(pt.Y-6-parts.CapHeight*parts.SmallSize, c.Min.Y+2)}, name)
}

func (b *familyBody) Numbers() []figure.Series {
	var out []figure.Series
	for _, p := range b.panels {
		y := p.plot.Y.Label.Text
		out = append(out, figure.Series{Panel: y, Name: "law", X: timeAxis, Y: y, Values: figure.Between(p.law.Line, p.law.Low, p.law.High)})
		s := figure.Series{Panel: y, Name: "strips", X: timeAxis, Y: y}
		for _, pt := range p.points {
			s.Values = append(s.Values, figure.Value{XY: pt.XY, Low: pt.Low, High: pt.High})
		}
		out = append(out, s)
		if i := p.iso; i != nil {
			out = append(out, figure.Series{Panel: y, Name: "ISO 6", X: y, Y: timeAxis, Values: []figure.Value{{XY: plotter.XY{X: i.Y, Y: i.X}, Low: i.Low, High: i.High}}})
		}
	}
	if m := b.mark; m != nil {
		out = append(out, figure.Series{Name: m.label, X: "mark", Y: timeAxis, Values: []figure.Value{{XY: plotter.XY{X: math.NaN(), Y: m.minutes}, Low: m.low, High: m.high}}})
	}
	return out
}

// layout returns the plots and their areas on a page.
func (b *familyBody) layout(page draw.Canvas) ([]*gplot.Plot, []draw.Canvas) {
	whole := b.Below(page)
	if b.mark != nil {
		whole.Max.Y -= 1.3 * parts.BodySize
	}
	plots := make([]*gplot.Plot, len(b.panels))
	for i, p := range b.panels {
		plots[i] = p.plot
	}
	return plots, parts.Stack(whole, plots, b.shares)
}

func (b *familyBody) DrawOn(page draw.Canvas) {
	_, areas := b.layout(page)
	for i, p := range b.panels {
		p.plot.Draw(areas[i])
		c := p.plot.DataCanvas(areas[i])
		parts.Frame(c)
		if i > 0 {
			continue
		}
		b.Heading.Draw(page)
		if b.mark != nil {
			b.mark.drawLabel(c, p.plot)
		}
		if p.iso != nil {
			p.iso.drawLabel(c, p.plot)
		}
		if at, hidden := b.note.Corner(c, p.occupied(c)); hidden == 0 {
			b.note.Draw(c, at)
		}
	}
}
