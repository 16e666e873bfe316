package plot

import (
	"fmt"
	"math"
	"strings"

	gplot "gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"sensito/plot/internal/figure"
	"sensito/plot/internal/parts"
	"sensito/sensito"
	"sensito/sensito/answers"
	"sensito/sensito/development"
	"sensito/sensito/scene"
)

const (
	temperaturesWidth  = 170 * vg.Millimeter
	temperaturesHeight = 130 * vg.Millimeter

	chartLeader = vg.Length(12) // from a line's end to its name
)

// Temperatures returns a time-temperature chart: development time, on a
// logarithmic axis, against the temperature of the developer in degrees Celsius and
// Fahrenheit, a line with its band for each whole N of the card, nearly straight. The
// temperatures that are not usual are shaded and the lines dashed there; that of the
// trial is marked. The error is for options outside their limits, or of the times.
func Temperatures(t *scene.TemperatureTable, o Options) (*Figure, error) {
	o, err := o.WithDefaults("")
	if err != nil {
		return nil, err
	}
	b, err := newTemperatures(t, &o)
	if err != nil {
		return nil, err
	}
	fig := o.Figure(temperaturesWidth, temperaturesHeight, b)
	if err := parts.Room(b.plot.DataCanvas(b.area(fig.Page())), 120); err != nil {
		return nil, err
	}
	return fig, nil
}

type temperatures struct {
	parts.Heading
	plot       *gplot.Plot
	fahrenheit parts.OtherScale
	lines      []temperatureLine
	tested     float64
	name       string // of the tested temperature
}

// temperatureLine is the times of one N.
type temperatureLine struct {
	parts.Ribbon
	parts.Look
	name string
	row  int // of the card
}

// beyondUsual is how far the chart goes on either side of the usual
// temperatures, in degrees Celsius.
const beyondUsual = 2

func newTemperatures(t *scene.TemperatureTable, o *Options) (*temperatures, error) {
	trial := t.Card.Family.Trial
	b := &temperatures{tested: trial.Process().TemperatureC}
	lo, hi := float64(development.Coolest), float64(development.Warmest)
	from, to := lo-beyondUsual, hi+beyondUsual
	if at := b.tested; at != 0 { // and some way beyond the trial's
		from, to = math.Min(from, math.Floor(at)-1), math.Max(to, math.Ceil(at)+1)
	}
	if err := b.follow(t, from, to, o.Confidence); err != nil {
		return nil, err
	}
	b.name = "tested at " + parts.Number(b.tested) + " °C"
	today := figure.OfToday(t.Card.Today)
	if today != "" {
		b.name = parts.Number(b.tested) + " °C, as in the trial"
	}
	conditions := []string{today, "band of N: " + parts.Percent(o.Confidence) + "; those of the others are as wide; broken: unusual temperatures",
		"rate at 30 °C over that at 20: " + parts.Interval(t.Coefficient.Q10, o.Confidence, 2) + ", " + t.Coefficient.Source}
	var drawn []scene.Extrapolation
	for _, l := range b.lines {
		drawn = append(drawn, t.Card.Rows[l.row].Answer.Extrapolation)
	}
	if outside := answers.Outside(drawn...); outside != "" {
		conditions = append(conditions, "* rests on a time "+outside+": test a strip there first")
	}
	b.Heading = figure.Cautioned(o.Headed(b.title(t), trial, conditions...), t.Card.Today)

	p := parts.NewAxes("temperature of the developer, °C", "development time, min:s")
	p.X.Min, p.X.Max = from, to
	p.X.Tick.Marker = parts.Steps{Major: 1, Every: 2}
	shortest, longest := math.Inf(1), 0.0
	for _, l := range b.lines {
		for _, at := range l.Line {
			shortest, longest = math.Min(shortest, at.Y), math.Max(longest, at.Y)
		}
	}
	p.Y.Min, p.Y.Max = shortest/1.08, longest*1.08
	p.Y.Scale = gplot.LogScale{}
	p.Y.Tick.Marker = clockTicks{}
	b.plot = p
	b.fahrenheit = fahrenheit(from, to)
	p.Add(unusual{lo, hi}, b)
	return b, nil
}

// follow samples the times of each whole N of the card.
func (b *temperatures) follow(t *scene.TemperatureTable, from, to, level float64) error {
	lines := make([]temperatureLine, len(t.Card.Rows))
	const each = 0.5
	for i := range int(math.Round((to-from)/each)) + 1 {
		celsius := from + each*float64(i)
		row, err := t.At(celsius)
		if err != nil {
			return err
		}
		for j, e := range row {
			if e != nil {
				low, high := e.Interval(level)
				lines[j].Add(celsius, float64(e.Value), float64(low), float64(high))
			}
		}
	}
	for j, row := range t.Card.Rows {
		l := lines[j]
		if len(l.Line) == 0 || row.N != math.Trunc(row.N) {
			continue
		}
		l.row, l.From, l.To = j, float64(development.Coolest), float64(development.Warmest)
		l.name = fmt.Sprintf("%s, %s stops", developmentName(row.N), parts.Number(row.Stops))
		if row.Answer.Extrapolated {
			l.name += "*"
		}
		b.lines = append(b.lines, l)
	}
	for i, look := range parts.Ordered(len(b.lines)) {
		b.lines[i].Look, b.lines[i].Style = look, look.LineStyle
	}
	return nil
}

// middle returns the line of N, or the one in the middle.
func (b *temperatures) middle() temperatureLine {
	for _, l := range b.lines {
		if strings.HasPrefix(l.name, "N,") {
			return l
		}
	}
	return b.lines[len(b.lines)/2]
}

// title tells the times of the middle row at the ends of the usual temperatures and
// at that of the trial.
func (b *temperatures) title(t *scene.TemperatureTable) string {
	if len(b.lines) == 0 {
		return "No development time can be told"
	}
	l := b.middle()
	text := fmt.Sprintf("For %s stops develop ", parts.Number(t.Card.Rows[l.row].Stops))
	var told []string
	for _, at := range l.Line {
		if at.X == l.From || at.X == l.To || at.X == b.tested {
			told = append(told, fmt.Sprintf("%s at %s °C", parts.Planned(sensito.Minutes(at.Y)), parts.Number(at.X)))
		}
	}
	return text + strings.Join(told, ", ")
}

// fahrenheit is the scale of degrees Fahrenheit over a range of degrees Celsius.
func fahrenheit(from, to float64) parts.OtherScale {
	s := parts.OtherScale{Label: "°F"}
	const each = 2
	for f := math.Ceil((from*1.8+32)/each) * each; f <= to*1.8+32; f += each {
		s.Marks = append(s.Marks, gplot.Tick{Value: (f - 32) / 1.8, Label: parts.Number(f)})
	}
	return s
}

// clockTicks marks a logarithmic axis of minutes with minutes and seconds.
type clockTicks struct{}

// The times labelled, in minutes, coarse to fine.
var clockLevels = [][]float64{
	{1, 2, 4, 8, 16, 32, 60, 120},
	{0.5, 1, 1.5, 2, 3, 4, 5, 6, 8, 10, 12, 15, 20, 30, 40, 60, 90, 120},
	{0.5, 0.75, 1, 1.25, 1.5, 1.75, 2, 2.5, 3, 3.5, 4, 4.5, 5, 5.5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15, 16, 18, 20, 22, 25, 30, 35, 40, 45, 50, 60, 75, 90, 120},
}

// Ticks labels times and marks those between them by the quarter of a minute where
// that is no less than a fiftieth of the time, by the half and the whole minute beyond.
func (clockTicks) Ticks(lo, hi float64) []gplot.Tick {
	var ticks []gplot.Tick
	labelled := map[float64]bool{}
	for _, level := range clockLevels {
		ticks = ticks[:0]
		clear(labelled)
		for _, t := range level {
			if t >= lo*0.9999 && t <= hi*1.0001 {
				ticks = append(ticks, gplot.Tick{Value: t, Label: parts.Clock(sensito.Minutes(t))})
				labelled[t] = true
			}
		}
		if len(ticks) >= 6 {
			break
		}
	}
	const finest, quarter = 50, 0.25
	for i := math.Ceil(lo / quarter); i*quarter <= hi; i++ {
		t := i * quarter
		each := quarter
		for t > finest*each {
			each *= 2
		}
		if math.Mod(t, each) == 0 && !labelled[t] {
			ticks = append(ticks, gplot.Tick{Value: t})
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

// Plot draws the lines over the band of one of them: those of the others are alike in
// share, and would hide each other.
func (b *temperatures) Plot(c draw.Canvas, p *gplot.Plot) {
	if len(b.lines) > 0 {
		b.middle().PlotBand(c, p)
	}
	for _, l := range b.lines {
		l.PlotLine(c, p)
	}
}

// area returns where the plot stands on a page: the names of the lines need room
// on the right.
func (b *temperatures) area(page draw.Canvas) draw.Canvas {
	area := b.Below(page)
	area.Max.Y -= b.fahrenheit.Height()
	var wide vg.Length
	for _, l := range b.lines {
		wide = max(wide, parts.TextWidth(parts.SmallSize, l.name))
	}
	area.Max.X -= wide + chartLeader
	return area
}

func (b *temperatures) DrawOn(page draw.Canvas) {
	area := b.area(page)
	b.plot.Draw(area)
	c := b.plot.DataCanvas(area)
	parts.Frame(c)
	b.Heading.Draw(page)
	b.fahrenheit.Draw(c, b.plot)
	b.drawTested(c)
	b.drawShort(c)
	b.drawNames(page, c)
	usual := parts.Place(c, b.plot, plotter.XY{X: development.Coolest, Y: b.plot.Y.Min}).X - c.Min.X
	const name = "unusual"
	if parts.TextWidth(parts.SmallSize, name) < usual {
		for _, x := range []vg.Length{c.Min.X + usual/2, c.Max.X - usual/2} {
			parts.Write(c, parts.SmallSize, parts.Ink, parts.Centred, vg.Point{X: x, Y: c.Max.Y - 1.2*parts.SmallSize}, name)
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
	at := vg.Point{X: x + 3, Y: c.Max.Y - 1.2*parts.SmallSize}
	if at.X+parts.TextWidth(parts.SmallSize, b.name) > c.Max.X {
		at.X = x - 3 - parts.TextWidth(parts.SmallSize, b.name)
	}
	parts.Write(c, parts.SmallSize, parts.Ink, parts.FromLeft, at, b.name)
}

// drawShort marks the time below which development is easily uneven.
func (b *temperatures) drawShort(c draw.Canvas) {
	const short = 5
	if b.plot.Y.Min > short || b.plot.Y.Max < short {
		return
	}
	y := parts.Place(c, b.plot, plotter.XY{X: b.plot.X.Min, Y: short}).Y
	c.StrokeLine2(parts.Line(0.6, parts.Ink, 5, 2, 1, 2), c.Min.X, y, c.Max.X, y)
	parts.Write(c, parts.SmallSize, parts.Ink, parts.FromLeft, b.shortName(c, y).Min, shortName)
}

const shortName = "below: easily uneven"

// shortName returns where the name of the line at y of easily uneven times stands: under
// it, or over it at the foot of the chart, as far right as fewest of the other lines
// pass through it.
func (b *temperatures) shortName(c draw.Canvas, y vg.Length) vg.Rectangle {
	var taken []vg.Point
	for _, l := range b.lines {
		points := parts.Places(c, b.plot, l.Line)
		for i := 1; i < len(points); i++ {
			const near = 20 // points of a line, which is drawn between few
			for n := range near {
				taken = append(taken, points[i-1].Add(points[i].Sub(points[i-1]).Scale(vg.Length(n)/near)))
			}
		}
	}
	tested := parts.Place(c, b.plot, plotter.XY{X: b.tested, Y: b.plot.Y.Min})
	taken = append(taken, vg.Point{X: tested.X, Y: y})
	wide := parts.TextWidth(parts.SmallSize, shortName)
	at := vg.Point{X: c.Max.X - 3 - wide, Y: y - 1.15*parts.SmallSize}
	if at.Y < c.Min.Y+2 {
		at.Y = y + 3
	}
	best, fewest := vg.Rectangle{}, math.MaxInt
	for ; at.X > c.Min.X+3 && fewest > 0; at.X -= 3 {
		r := vg.Rectangle{Min: at, Max: at.Add(vg.Point{X: wide, Y: parts.SmallSize})}
		if n := parts.Within(r, taken, 2); n < fewest {
			best, fewest = r, n
		}
	}
	return best
}

func (b *temperatures) Numbers() []figure.Series {
	var out []figure.Series
	for _, l := range b.lines {
		out = append(out, figure.Series{Name: l.name, X: b.plot.X.Label.Text, Y: "development time, min", Values: figure.Between(l.Line, l.Low, l.High)})
	}
	return out
}

// drawNames sets the names of the lines at their ends, none upon another.
func (b *temperatures) drawNames(page, c draw.Canvas) {
	want := make([]vg.Length, len(b.lines))
	for i, l := range b.lines {
		want[i] = parts.Place(c, b.plot, l.Line[len(l.Line)-1]).Y
	}
	const half = parts.CapHeight * parts.SmallSize / 2
	for i, y := range parts.Spread(want, parts.NoteLeading, c.Min.Y+half, c.Max.Y-half) {
		c.StrokeLines(parts.Leader, []vg.Point{{X: c.Max.X, Y: want[i]}, {X: c.Max.X + chartLeader - 3, Y: y}})
		parts.Write(page, parts.SmallSize, b.lines[i].Color, parts.FromLeft, vg.Point{X: c.Max.X + chartLeader - 1, Y: y - half}, b.lines[i].name)
	}
}
