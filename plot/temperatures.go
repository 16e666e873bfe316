package plot

import (
	"fmt"
	"math"

	gplot "gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

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
	if err := room(b.plot.DataCanvas(b.area(page(fig.Width, fig.Height))), 120); err != nil {
		return nil, err
	}
	b.fill(fig.Height)
	return fig, nil
}

type temperatures struct {
	heading
	plot   *gplot.Plot
	lines  []temperatureLine
	tested float64
	name   string // of the tested temperature
	note   note
}

// temperatureLine is the times of one N.
type temperatureLine struct {
	law
	look
	name string
}

// beyondUsual is how far the chart goes on either side of the usual
// temperatures, in degrees Celsius.
const beyondUsual = 2

func newTemperatures(t *scene.TemperatureTable, o Options) (*temperatures, error) {
	trial := t.Card.Family.Trial
	b := &temperatures{heading: newHeading(o, trial).cautioned(t.Card.Today), tested: trial.Process().TemperatureC}
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
				lines[j].line = append(lines[j].line, plotter.XY{X: celsius, Y: float64(e.Value)})
			}
		}
	}
	shortest, longest := math.Inf(1), 0.0
	for j, row := range t.Card.Rows {
		l := lines[j]
		if len(l.line) == 0 || row.N != math.Trunc(row.N) {
			continue
		}
		l.name = fmt.Sprintf("%s, %s stops", developmentName(row.N), number(row.Stops))
		if row.Answer.Extrapolated {
			l.name += "*"
		}
		l.look = looks[len(b.lines)%len(looks)]
		l.from, l.to = lo, hi
		for _, xy := range l.line {
			shortest, longest = math.Min(shortest, xy.Y), math.Max(longest, xy.Y)
		}
		b.lines = append(b.lines, l)
	}
	b.note = note{fmt.Sprintf("rate at 30 °C over that at 20: %s", interval(t.Coefficient.Q10, o.Confidence, 2)), t.Coefficient.Source}
	for _, row := range t.Card.Rows {
		if row.Answer != nil && row.Answer.Extrapolated && row.N == math.Trunc(row.N) {
			b.note = append(b.note, "* as tested outside the tested times: test a strip there first")
			break
		}
	}
	b.name = "tested at " + number(b.tested) + " °C"
	if text := ofToday(t.Card.Today); text != "" {
		b.sub += "; " + text
		b.name = number(b.tested) + " °C, as in the trial"
	}

	p := newAxes("temperature of the developer, °C", "development time, min:s")
	p.X.Min, p.X.Max = from, to
	p.X.Tick.Marker = steps{1, 2}
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
	share := float64((b.note.size().Y + 2*noteMargin + 3*bodySize) / height)
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
				ticks = append(ticks, gplot.Tick{Value: t, Label: clock(sensito.Minutes(t))})
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
	c.SetColor(markGrey)
	for _, x := range [][2]float64{{p.X.Min, u.lo}, {u.hi, p.X.Max}} {
		left, right := place(c, p, plotter.XY{X: x[0], Y: p.Y.Min}), place(c, p, plotter.XY{X: x[1], Y: p.Y.Max})
		c.Fill(vg.Rectangle{Min: left, Max: right}.Path())
	}
}

// Plot draws the times of one N.
func (l temperatureLine) Plot(c draw.Canvas, p *gplot.Plot) {
	var inside, cool, warm plotter.XYs
	for _, xy := range l.line {
		if xy.X <= l.from {
			cool = append(cool, xy)
		}
		if xy.X >= l.from && xy.X <= l.to {
			inside = append(inside, xy)
		}
		if xy.X >= l.to {
			warm = append(warm, xy)
		}
	}
	plotLine(c, p, l.LineStyle, inside)
	for _, xys := range []plotter.XYs{cool, warm} {
		plotLine(c, p, beyond, xys)
	}
}

// area returns where the plot stands on a page: the names of the lines need room
// on the right.
func (b *temperatures) area(page draw.Canvas) draw.Canvas {
	area := b.below(page)
	area.Max.Y -= 1.3 * bodySize
	var wide vg.Length
	for _, l := range b.lines {
		wide = max(wide, textWidth(smallSize, l.name))
	}
	area.Max.X -= wide + rollLeader
	return area
}

func (b *temperatures) draw(page draw.Canvas) {
	area := b.area(page)
	b.plot.Draw(area)
	c := b.plot.DataCanvas(area)
	frame(c)
	b.heading.draw(page, c.Min.X)
	b.drawTested(c)
	b.drawShort(c)
	b.drawNames(page, c)
	at := place(c, b.plot, plotter.XY{X: development.Coolest, Y: b.plot.Y.Min})
	for i, s := range b.note {
		b.note[i] = shortened(smallSize, c.Max.X-at.X-2*noteMargin, s)
	}
	size := b.note.size()
	corner := vg.Point{X: at.X + noteMargin, Y: c.Min.Y + noteMargin}
	b.note.draw(c, vg.Rectangle{Min: corner, Max: corner.Add(size)})
	unusual := "unusual"
	for _, x := range []vg.Length{(c.Min.X + at.X) / 2, c.Max.X - (at.X-c.Min.X)/2} {
		if textWidth(smallSize, unusual) < at.X-c.Min.X {
			write(c, smallSize, faint, centred, vg.Point{X: x, Y: c.Min.Y + noteMargin}, unusual)
		}
	}
}

// drawTested marks the temperature of the trial.
func (b *temperatures) drawTested(c draw.Canvas) {
	if b.tested == 0 {
		return
	}
	x := place(c, b.plot, plotter.XY{X: b.tested, Y: b.plot.Y.Min}).X
	c.StrokeLine2(line(0.9, ink, 1.5, 1.5), x, c.Min.Y, x, c.Max.Y)
	write(c, smallSize, ink, centred, vg.Point{X: x, Y: c.Max.Y + 3}, b.name)
}

// drawShort marks the time below which development is easily uneven.
func (b *temperatures) drawShort(c draw.Canvas) {
	const short = 5
	if b.plot.Y.Min > short || b.plot.Y.Max < short {
		return
	}
	y := place(c, b.plot, plotter.XY{X: b.plot.X.Min, Y: short}).Y
	c.StrokeLine2(line(0.6, ink, 5, 2, 1, 2), c.Min.X, y, c.Max.X, y)
	write(c, smallSize, ink, fromLeft, vg.Point{X: c.Min.X + 3, Y: y - 1.15*smallSize}, "below: easily uneven")
}

// drawNames sets the names of the lines at their ends, none upon another.
func (b *temperatures) drawNames(page, c draw.Canvas) {
	want := make([]vg.Length, len(b.lines))
	for i, l := range b.lines {
		want[i] = place(c, b.plot, l.line[len(l.line)-1]).Y
	}
	const half = capHeight * smallSize / 2
	for i, y := range spread(want, noteLeading, c.Min.Y+half, c.Max.Y-half) {
		c.StrokeLines(leader, []vg.Point{{X: c.Max.X, Y: want[i]}, {X: c.Max.X + rollLeader - 3, Y: y}})
		write(page, smallSize, b.lines[i].Color, fromLeft, vg.Point{X: c.Max.X + rollLeader - 1, Y: y - half}, b.lines[i].name)
	}
}
