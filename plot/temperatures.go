package plot

import (
	"fmt"
	"math"

	gplot "gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"sensito/plot/internal/parts"
	"sensito/sensito"
	"sensito/sensito/development"
	"sensito/sensito/scene"
)

const (
	temperaturesWidth  = 170 * vg.Millimeter
	temperaturesHeight = 130 * vg.Millimeter
)

// Temperatures returns a time-temperature chart: development time, on a
// logarithmic axis, against the temperature of the developer, a line for each
// whole N of the card, nearly straight. The temperatures that are not usual are
// shaded and the lines dashed there; that of the trial is marked. The error is
// for options outside their limits, or of the times.
func Temperatures(t *scene.TemperatureTable, o Options) (*Figure, error) {
	o, err := o.withDefaults(t.Card.Family.Trial.Title())
	if err != nil {
		return nil, err
	}
	b, err := newTemperatures(t, o)
	if err != nil {
		return nil, err
	}
	fig := o.figure(temperaturesWidth, temperaturesHeight, b)
	if err := parts.Room(b.plot.DataCanvas(b.area(fig.page())), 120); err != nil {
		return nil, err
	}
	b.fill(fig.page().Max.Y)
	return fig, nil
}

type temperatures struct {
	parts.Heading
	plot   *gplot.Plot
	lines  []temperatureLine
	tested float64
	name   string // of the tested temperature
	note   parts.Note
}

// temperatureLine is the times of one N.
type temperatureLine struct {
	parts.Ribbon
	parts.Look
	name string
}

// beyondUsual is how far the chart goes on either side of the usual
// temperatures, in degrees Celsius.
const beyondUsual = 2

func newTemperatures(t *scene.TemperatureTable, o Options) (*temperatures, error) {
	trial := t.Card.Family.Trial
	b := &temperatures{Heading: cautioned(newHeading(o, trial), t.Card.Today), tested: trial.Process().TemperatureC}
	lo, hi := float64(development.Coolest), float64(development.Warmest)
	from, to := lo-beyondUsual, hi+beyondUsual
	if at := b.tested; at != 0 { // and some way beyond the trial's
		from, to = math.Min(from, math.Floor(at)-1), math.Max(to, math.Ceil(at)+1)
	}
	lines := make([]temperatureLine, len(t.Card.Rows))
	const each = 0.5
	for i := range int(math.Round((to-from)/each)) + 1 {
		celsius := from + each*float64(i)
		row, err := t.At(celsius)
		if err != nil {
			return nil, err
		}
		for j, e := range row {
			if e != nil {
				lines[j].Line = append(lines[j].Line, plotter.XY{X: celsius, Y: float64(e.Value)})
			}
		}
	}
	shortest, longest := math.Inf(1), 0.0
	for j, row := range t.Card.Rows {
		l := lines[j]
		if len(l.Line) == 0 || row.N != math.Trunc(row.N) {
			continue
		}
		l.name = fmt.Sprintf("%s, %s stops", developmentName(row.N), parts.Number(row.Stops))
		if row.Answer.Extrapolated {
			l.name += "*"
		}
		l.From, l.To = lo, hi
		for _, xy := range l.Line {
			shortest, longest = math.Min(shortest, xy.Y), math.Max(longest, xy.Y)
		}
		b.lines = append(b.lines, l)
	}
	for i, look := range parts.Ordered(len(b.lines)) {
		b.lines[i].Look = look
	}
	b.note = parts.Note{fmt.Sprintf("rate at 30 °C over that at 20: %s", parts.Interval(t.Coefficient.Q10, o.Confidence, 2)), t.Coefficient.Source}
	for _, row := range t.Card.Rows {
		if row.Answer != nil && row.Answer.Extrapolated && row.N == math.Trunc(row.N) {
			b.note = append(b.note, "* as tested outside the tested times: test a strip there first")
			break
		}
	}
	b.name = "tested at " + parts.Number(b.tested) + " °C"
	if text := ofToday(t.Card.Today); text != "" {
		b.Sub += "; " + text
		b.name = parts.Number(b.tested) + " °C, as in the trial"
	}

	p := parts.NewAxes("temperature of the developer, °C", "development time, min:s")
	p.X.Min, p.X.Max = from, to
	p.X.Tick.Marker = parts.Steps{1, 2}
	p.Y.Min, p.Y.Max = shortest/1.08, longest*1.08
	p.Y.Scale = gplot.LogScale{}
	p.Y.Tick.Marker = clockTicks{}
	b.plot = p
	p.Add(unusual{lo, hi})
	for _, l := range b.lines {
		p.Add(l)
	}
	return b, nil
}

// fill makes room for the note at the foot of the chart.
func (b *temperatures) fill(height vg.Length) {
	share := float64((b.note.Size().Y + 2*parts.NoteMargin + 3*parts.BodySize) / height)
	b.plot.Y.Min /= math.Pow(b.plot.Y.Max/b.plot.Y.Min, share/(1-share))
}

// clockTicks marks a logarithmic axis of minutes with minutes and seconds.
type clockTicks struct{}

// The times labelled, in minutes, coarse to fine.
var clockLevels = [][]float64{
	{1, 2, 4, 8, 16, 32, 60, 120},
	{0.5, 1, 1.5, 2, 3, 4, 5, 6, 8, 10, 12, 15, 20, 30, 40, 60, 90, 120},
	{0.5, 0.75, 1, 1.25, 1.5, 1.75, 2, 2.5, 3, 3.5, 4, 4.5, 5, 5.5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15, 16, 18, 20, 22, 25, 30, 35, 40, 45, 50, 60, 75, 90, 120},
}

func (clockTicks) Ticks(lo, hi float64) []gplot.Tick {
	var ticks []gplot.Tick
	for _, level := range clockLevels {
		ticks = ticks[:0]
		for _, t := range level {
			if t >= lo*0.9999 && t <= hi*1.0001 {
				ticks = append(ticks, gplot.Tick{Value: t, Label: parts.Clock(sensito.Minutes(t))})
			}
		}
		if len(ticks) >= 6 {
			break
		}
	}
	return ticks
}

// unusual shades the temperatures outside the usual ones.
type unusual struct{ lo, hi float64 }

func (u unusual) Plot(c draw.Canvas, p *gplot.Plot) {
	c.SetColor(parts.MarkGrey)
	for _, x := range [][2]float64{{p.X.Min, u.lo}, {u.hi, p.X.Max}} {
		left, right := parts.Place(c, p, plotter.XY{X: x[0], Y: p.Y.Min}), parts.Place(c, p, plotter.XY{X: x[1], Y: p.Y.Max})
		c.Fill(vg.Rectangle{Min: left, Max: right}.Path())
	}
}

// Plot draws the times of one N.
func (l temperatureLine) Plot(c draw.Canvas, p *gplot.Plot) {
	var inside, cool, warm plotter.XYs
	for _, xy := range l.Line {
		if xy.X <= l.From {
			cool = append(cool, xy)
		}
		if xy.X >= l.From && xy.X <= l.To {
			inside = append(inside, xy)
		}
		if xy.X >= l.To {
			warm = append(warm, xy)
		}
	}
	parts.PlotLine(c, p, l.LineStyle, inside)
	for _, xys := range []plotter.XYs{cool, warm} {
		parts.PlotLine(c, p, parts.Beyond, xys)
	}
}

// area returns where the plot stands on a page: the names of the lines need room
// on the right.
func (b *temperatures) area(page draw.Canvas) draw.Canvas {
	area := b.Below(page)
	area.Max.Y -= 1.3 * parts.BodySize
	var wide vg.Length
	for _, l := range b.lines {
		wide = max(wide, parts.TextWidth(parts.SmallSize, l.name))
	}
	area.Max.X -= wide + rollLeader
	return area
}

func (b *temperatures) draw(page draw.Canvas) {
	area := b.area(page)
	b.plot.Draw(area)
	c := b.plot.DataCanvas(area)
	parts.Frame(c)
	b.Heading.Draw(page)
	b.drawTested(c)
	b.drawShort(c)
	b.drawNames(page, c)
	at := parts.Place(c, b.plot, plotter.XY{X: development.Coolest, Y: b.plot.Y.Min})
	for i, s := range b.note {
		b.note[i] = parts.Shortened(parts.SmallSize, c.Max.X-at.X-2*parts.NoteMargin, s)
	}
	size := b.note.Size()
	corner := vg.Point{X: at.X + parts.NoteMargin, Y: c.Min.Y + parts.NoteMargin}
	b.note.Draw(c, vg.Rectangle{Min: corner, Max: corner.Add(size)})
	unusual := "unusual"
	for _, x := range []vg.Length{(c.Min.X + at.X) / 2, c.Max.X - (at.X-c.Min.X)/2} {
		if parts.TextWidth(parts.SmallSize, unusual) < at.X-c.Min.X {
			parts.Write(c, parts.SmallSize, parts.Faint, parts.Centred, vg.Point{X: x, Y: c.Min.Y + parts.NoteMargin}, unusual)
		}
	}
}

// drawTested marks the temperature of the trial.
func (b *temperatures) drawTested(c draw.Canvas) {
	if b.tested == 0 {
		return
	}
	x := parts.Place(c, b.plot, plotter.XY{X: b.tested, Y: b.plot.Y.Min}).X
	c.StrokeLine2(parts.Line(0.9, parts.Ink, 1.5, 1.5), x, c.Min.Y, x, c.Max.Y)
	parts.Write(c, parts.SmallSize, parts.Ink, parts.Centred, vg.Point{X: x, Y: c.Max.Y + 3}, b.name)
}

// drawShort marks the time below which development is easily uneven.
func (b *temperatures) drawShort(c draw.Canvas) {
	const short = 5
	if b.plot.Y.Min > short || b.plot.Y.Max < short {
		return
	}
	y := parts.Place(c, b.plot, plotter.XY{X: b.plot.X.Min, Y: short}).Y
	c.StrokeLine2(parts.Line(0.6, parts.Ink, 5, 2, 1, 2), c.Min.X, y, c.Max.X, y)
	parts.Write(c, parts.SmallSize, parts.Ink, parts.FromLeft, vg.Point{X: c.Min.X + 3, Y: y - 1.15*parts.SmallSize}, "below: easily uneven")
}

// drawNames sets the names of the lines at their ends, none upon another.
func (b *temperatures) drawNames(page, c draw.Canvas) {
	want := make([]vg.Length, len(b.lines))
	for i, l := range b.lines {
		want[i] = parts.Place(c, b.plot, l.Line[len(l.Line)-1]).Y
	}
	const half = parts.CapHeight * parts.SmallSize / 2
	for i, y := range parts.Spread(want, parts.NoteLeading, c.Min.Y+half, c.Max.Y-half) {
		c.StrokeLines(parts.Leader, []vg.Point{{X: c.Max.X, Y: want[i]}, {X: c.Max.X + rollLeader - 3, Y: y}})
		parts.Write(page, parts.SmallSize, b.lines[i].Color, parts.FromLeft, vg.Point{X: c.Max.X + rollLeader - 1, Y: y - half}, b.lines[i].name)
	}
}
