package plot

import (
	gplot "gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

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
	o, err := o.withDefaults(f.Trial.Title())
	if err != nil {
		return nil, err
	}
	b, err := newFamilyBody(f, today, mark, o)
	if err != nil {
		return nil, err
	}
	height := vg.Length(familyHeight)
	if len(b.panels) == 2 {
		height *= 0.72
	}
	fig := o.figure(familyWidth, height, b)
	return fig.withRoom(b.layout(page(fig.Width, fig.Height)))
}

type familyBody struct {
	heading
	timeline
	panels []*panel
	shares []float64 // of the height
	note   note      // in the first panel
}

func newFamilyBody(f *development.Family, today *scene.Adjustment, chosen *scene.Answer, o Options) (*familyBody, error) {
	b := &familyBody{heading: newHeading(o, f.Trial), note: familyNote(f, o)}
	if chosen != nil {
		if text := ofToday(chosen.Today); text != "" {
			b.note = append(note{develop(chosen.Minutes, o.Confidence), text}, b.note...)
		}
		b.mark = newMark(chosen, o.Confidence)
		b.heading = b.cautioned(chosen.Today)
	} else if today != nil {
		if text := ofToday(today); text != "" && f.ISOMinutes != nil {
			b.note = append(note{"ISO 6 contrast: " + develop(*today.Minutes(f.ISOMinutes), o.Confidence), text, "as tested " + planned(f.ISOMinutes.Value)}, b.note...)
		}
		b.heading = b.cautioned(today)
	}
	b.timeline = newTimeline(f, b.mark)
	s, err := followed(f, b.timeline, o.Confidence)
	if err != nil {
		return nil, err
	}
	b.add(1, b.panel(contrastName(f), s.contrast, contrastPoints(f, o.Confidence)).pad(0.05))
	if len(s.speed.line) > 0 {
		p := b.panel("speed", s.speed, stripPoints(f, o.Confidence, func(m *curve.Measured) *sensito.Estimate[sensito.Speed] { return m.Speed }))
		p.plot.Y.Scale, p.plot.Y.Tick.Marker = gplot.LogScale{}, speedTicks{}
		b.add(0.8, p.padLog(2))
	}
	fog := b.panel("base plus fog", s.fog, stripPoints(f, o.Confidence, func(m *curve.Measured) *sensito.Estimate[sensito.Density] { return m.BaseFog }))
	fog.plot.Y.Tick.Marker = decimalTicks{want: 4}
	b.add(0.55, fog.pad(0.04))
	for _, p := range b.panels[:len(b.panels)-1] {
		p.plot.X.Label.Text = ""
		p.plot.X.Tick.Marker = unlabelled{p.plot.X.Tick.Marker}
		p.plot.X.Tick.Label.Font.Size = 1
	}
	return b, nil
}

func (b *familyBody) add(share float64, p *panel) {
	b.panels, b.shares = append(b.panels, p), append(b.shares, share)
}

// laws are what a family says along a timeline.
type laws struct{ contrast, speed, fog law }

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

func appendLaw[Q ~float64](l *law, minutes float64, e sensito.Estimate[Q], level float64) {
	low, high := e.Interval(level)
	l.line = append(l.line, plotter.XY{X: minutes, Y: float64(e.Value)})
	l.low = append(l.low, plotter.XY{X: minutes, Y: float64(low)})
	l.high = append(l.high, plotter.XY{X: minutes, Y: float64(high)})
}

// stripPoints returns one quantity of the strips that have it.
func stripPoints[Q ~float64](f *development.Family, level float64, of func(*curve.Measured) *sensito.Estimate[Q]) []point {
	var out []point
	for _, m := range f.Strips {
		e := of(m)
		if e == nil {
			continue
		}
		low, high := e.Interval(level)
		out = append(out, point{
			XY:  plotter.XY{X: float64(m.Minutes()), Y: float64(e.Value)},
			low: float64(low), high: float64(high),
		})
	}
	return out
}

func contrastPoints(f *development.Family, level float64) []point {
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
func familyNote(f *development.Family, o Options) note {
	n := note{f.Model}
	if f.Limit != nil {
		n = append(n, "limit "+interval(*f.Limit, o.Confidence, 2))
	}
	if f.Rate != nil {
		n = append(n, "rate "+interval(*f.Rate, o.Confidence, 3)+" per min")
	}
	if f.Induction != nil {
		n = append(n, "induction "+interval(*f.Induction, o.Confidence, 2)+" min")
	}
	return append(n, "intervals and bands: "+percent(o.Confidence))
}

// layout returns the plots and their areas on a page.
func (b *familyBody) layout(page draw.Canvas) ([]*gplot.Plot, []draw.Canvas) {
	whole := b.below(page)
	if b.mark != nil {
		whole.Max.Y -= 1.3 * bodySize
	}
	plots := make([]*gplot.Plot, len(b.panels))
	for i, p := range b.panels {
		plots[i] = p.plot
	}
	return plots, stack(whole, plots, b.shares)
}

func (b *familyBody) draw(page draw.Canvas) {
	_, areas := b.layout(page)
	for i, p := range b.panels {
		p.plot.Draw(areas[i])
		c := p.plot.DataCanvas(areas[i])
		frame(c)
		if i > 0 {
			continue
		}
		b.heading.draw(page, c.Min.X)
		if b.mark != nil {
			b.mark.drawLabel(c, p.plot)
		}
		if at, hidden := b.note.corner(c, p.occupied(c)); hidden == 0 {
			b.note.draw(c, at)
		}
	}
}

const panelGap = vg.Length(8)

// stack divides an area into areas under each other, so that the data of the
// plots begin and end on the same verticals and have the given shares of the
// height.
func stack(area draw.Canvas, plots []*gplot.Plot, shares []float64) []draw.Canvas {
	rest := area.Size().Y - panelGap*vg.Length(len(plots)-1)
	axes := make([]vg.Length, len(plots))
	sum := 0.0
	for i, p := range plots {
		axes[i] = area.Size().Y - p.DataCanvas(area).Size().Y
		rest -= axes[i]
		sum += shares[i]
	}
	out := make([]draw.Canvas, len(plots))
	top := area.Max.Y
	for i := range plots {
		height := axes[i] + rest*vg.Length(shares[i]/sum)
		out[i] = area
		out[i].Max.Y, out[i].Min.Y = top, top-height
		top -= height + panelGap
	}
	alignSides(plots, out)
	return out
}
