package developed

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

	"sensito/plot/internal/figure"
	"sensito/plot/internal/parts"
	"sensito/sensito/logbook"
	"sensito/sensito/printable"
)

const (
	logWidth   = 180 * vg.Millimeter
	logHigh    = 30 * vg.Millimeter // of the data of a film
	logCelsius = 0.7                // of it, for the temperatures
	logTitle   = vg.Length(5)       // between a panel and the name above it
)

// Log returns the times of a log of developments against their dates, a panel for each
// film, with a symbol for each developer: solid for films, open for test strips, and a
// dash where another time was planned. Below are the temperatures, with a line from
// begin to end. The error is for options outside their limits, no development, or more
// films than a page can hold.
func Log(l *logbook.Log, o figure.Options) (*figure.Figure, error) {
	if len(l.Developments) == 0 {
		return nil, errors.New("no development to draw")
	}
	last := l.Latest()[0]
	o, err := o.WithDefaults(last.Pair().String() + ": " + last.String())
	if err != nil {
		return nil, err
	}
	w := cmp.Or(o.Width, logWidth)
	b := newLogBody(l, o, w)
	if least := b.height(w); o.Height == 0 && least > figure.MaxSide {
		return nil, fmt.Errorf("%d films need a figure %.0f mm high, and %.0f mm is the most: draw a part of the log", len(b.panels), math.Ceil(float64(least/vg.Millimeter)), figure.MaxSide/vg.Millimeter)
	}
	fig := o.Figure(w, cmp.Or(o.Height, b.height(w)), b)
	plots, areas := b.areas(fig.Page())
	for i, p := range plots {
		const least = 30 // for a few ticks
		if err := parts.Room(p.DataCanvas(areas[i]), least); err != nil {
			return nil, err
		}
	}
	return fig, nil
}

// logBody is the drawing of a log.
type logBody struct {
	parts.Heading
	first     string // date, from which days are counted
	panels    []*logPanel
	celsius   *logPanel // nil where no temperature is known
	developer []string  // in the order of their looks
}

// logPanel is one quantity of some developments.
type logPanel struct {
	plot  *gplot.Plot
	name  string
	marks []logMark
}

// logMark is a development in a panel.
type logMark struct {
	plotter.XY
	to        float64 // the temperature at the end; NaN for none
	planned   float64 // NaN where nothing else was
	strip     bool
	look      parts.Look
	developer string
	remark    string
}

func newLogBody(l *logbook.Log, o figure.Options, w vg.Length) *logBody {
	b := &logBody{Heading: parts.Heading{Title: o.Title, Bare: o.Page, Sub: logScope(l)}}
	oldest := l.Developments[len(l.Developments)-1]
	b.first = oldest.Date
	for _, d := range slices.Backward(l.Developments) {
		if name := developerOf(d); !slices.Contains(b.developer, name) {
			b.developer = append(b.developer, name)
		}
	}
	looks := parts.Unordered(len(b.developer))
	celsius := &logPanel{name: "temperature of the developer, °C, from begin to end"}
	for _, d := range slices.Backward(l.Developments) {
		m := logMark{XY: plotter.XY{X: b.day(d.Date), Y: float64(d.Minutes)}, to: math.NaN(), planned: math.NaN(), strip: d.Strip > 0, developer: developerOf(d)}
		m.look = looks[slices.Index(b.developer, m.developer)]
		if m.strip {
			m.remark = fmt.Sprintf("strip %d of %s", d.Strip, d.File)
		}
		if d.Planned != 0 && d.Planned.Clock(1) != d.Minutes.Clock(1) {
			m.planned = float64(d.Planned)
			m.remark = "planned " + d.Planned.Clock(1)
		}
		p := b.panel(d.Pair().Film)
		p.marks = append(p.marks, m)
		if begin := cmp.Or(d.TemperatureC, d.EndedC); begin != 0 {
			m.Y, m.planned, m.remark = begin, math.NaN(), d.Pair().Film
			if d.EndedC != 0 {
				m.to = d.EndedC
			}
			celsius.marks = append(celsius.marks, m)
		}
	}
	if len(celsius.marks) > 0 {
		b.celsius = celsius
	}
	b.scale(b.day(l.Developments[0].Date), w)
	b.Foot = b.legend()
	return b
}

// logScope says in words what is drawn.
func logScope(l *logbook.Log) string {
	strips := 0
	for _, d := range l.Developments {
		if d.Strip > 0 {
			strips++
		}
	}
	var counted []string
	if n := len(l.Developments) - strips; n > 0 {
		counted = append(counted, printable.Counted(n, "development")+" of film")
	}
	if strips > 0 {
		counted = append(counted, printable.Counted(strips, "test strip"))
	}
	from, to := l.Developments[len(l.Developments)-1].Date, l.Developments[0].Date
	if from == to {
		return strings.Join(counted, " and ") + ", " + from
	}
	return strings.Join(counted, " and ") + ", " + from + " to " + to
}

// developerOf names the developer of a mark.
func developerOf(d logbook.Development) string { return cmp.Or(d.Pair().Developer, "not stated") }

// panel returns the panel of a film, a new one for the first of it.
func (b *logBody) panel(film string) *logPanel {
	for _, p := range b.panels {
		if p.name == film {
			return p
		}
	}
	b.panels = append(b.panels, &logPanel{name: film})
	return b.panels[len(b.panels)-1]
}

// day returns the days from the first date to another.
func (b *logBody) day(date string) float64 { return parts.NewDateTicks(b.first, 1).Day(date) }

// all returns the panels from the top.
func (b *logBody) all() []*logPanel {
	if b.celsius == nil {
		return b.panels
	}
	return append(slices.Clone(b.panels), b.celsius)
}

// scale gives the panels axes that hold their marks, on one axis of dates.
func (b *logBody) scale(last float64, w vg.Length) {
	beside := math.Max(0.05*last, 0.8)
	for _, p := range b.all() {
		y := "min"
		if p == b.celsius {
			y = "°C"
		}
		p.plot = parts.NewAxes("", y)
		p.plot.X.Min, p.plot.X.Max = -beside, last+beside
		lo, hi := math.Inf(1), math.Inf(-1)
		for _, m := range p.marks {
			for _, v := range []float64{m.Y, m.to, m.planned} {
				if !math.IsNaN(v) {
					lo, hi = min(lo, v), max(hi, v)
				}
			}
		}
		if p == b.celsius {
			p.plot.Y.Min, p.plot.Y.Max = math.Min(lo-0.6, (lo+hi)/2-1), math.Max(hi+0.6, (lo+hi)/2+1)
			p.plot.Y.Tick.Marker = parts.DecimalTicks{Want: 4}
			continue
		}
		p.plot.Y.Scale, p.plot.Y.Tick.Marker = gplot.LogScale{}, parts.TimeTicks{}
		p.plot.Y.Min, p.plot.Y.Max = lo/1.25, hi*1.25
	}
	const label, most, few = 46, 9, 4 // points of a date
	fits := min(most, int((w-60)/label))
	ticks := gplot.Ticker(parts.NewDateTicks(b.first, fits))
	if fits < few || last < few {
		ticks = parts.NewDateTicks(b.first, fits).Ends(last)
	}
	panels := b.all()
	for i, p := range panels {
		if p.plot.X.Tick.Marker = ticks; i < len(panels)-1 {
			p.plot.X.Tick.Marker = parts.Unlabelled{Ticker: ticks}
			p.plot.X.Tick.Label.Font.Size = 1
		}
		p.plot.Add(p)
	}
}

// legend explains the marks that are drawn.
func (b *logBody) legend() string {
	films, strips, planned := false, false, false
	for _, p := range b.panels {
		for _, m := range p.marks {
			films, strips, planned = films || !m.strip, strips || m.strip, planned || !math.IsNaN(m.planned)
		}
	}
	var said []string
	if films {
		said = append(said, "Solid: films.")
	}
	if strips {
		said = append(said, "Open: test strips.")
	}
	if planned {
		said = append(said, "Dash: the time that was planned.")
	}
	return strings.Join(append(said, "Each developer has a symbol, named where it was used last."), " ")
}

// stacked returns the plots from the top with their shares of the height.
func (b *logBody) stacked() (plots []*gplot.Plot, shares []float64) {
	for _, p := range b.all() {
		share := 1.0
		if p == b.celsius {
			share = logCelsius
		}
		plots, shares = append(plots, p.plot), append(shares, share)
	}
	return plots, shares
}

// areas returns the plots and where they stand on a page, with room above each for its
// name.
func (b *logBody) areas(page draw.Canvas) ([]*gplot.Plot, []draw.Canvas) {
	plots, shares := b.stacked()
	areas := parts.Stack(b.Below(page), plots, shares)
	for i := range areas {
		areas[i].Max.Y -= parts.SmallSize + logTitle
	}
	return plots, areas
}

// height returns the height of a page at which the panels have theirs.
func (b *logBody) height(w vg.Length) vg.Length {
	tall := vg.Length(5000)
	page := parts.Page(w, tall)
	h := tall - b.Below(page).Size().Y
	plots, shares := b.stacked()
	for i, p := range plots {
		axes := page.Size().Y - p.DataCanvas(page).Size().Y
		h += axes + logHigh*vg.Length(shares[i]) + parts.SmallSize + logTitle + parts.PanelGap
	}
	return h
}

func (b *logBody) DrawOn(page draw.Canvas) {
	b.Heading.Draw(page)
	plots, areas := b.areas(page)
	for i, p := range b.all() {
		plots[i].Draw(areas[i])
		c := plots[i].DataCanvas(areas[i])
		parts.Frame(c)
		name := p.name
		if p != b.celsius {
			name += ", minutes developed"
		}
		size, name := parts.FittedName(parts.SmallSize, c.Size().X, name)
		parts.Write(c, size, parts.Ink, parts.FromLeft, vg.Point{X: c.Min.X, Y: c.Max.Y + 3}, name)
		if p != b.celsius {
			p.nameDevelopers(c)
		}
	}
}

// Plot draws the marks.
func (p *logPanel) Plot(c draw.Canvas, pl *gplot.Plot) {
	for _, m := range p.marks {
		at := parts.Place(c, pl, m.XY)
		style := parts.Line(0.8, m.look.Color)
		if !math.IsNaN(m.to) {
			c.StrokeLines(style, []vg.Point{at, parts.Place(c, pl, plotter.XY{X: m.X, Y: m.to})})
		}
		if !math.IsNaN(m.planned) {
			const half = vg.Length(3.5)
			was := parts.Place(c, pl, plotter.XY{X: m.X, Y: m.planned})
			c.StrokeLines(style, []vg.Point{at, was}, []vg.Point{{X: was.X - half, Y: was.Y}, {X: was.X + half, Y: was.Y}})
		}
		if m.strip {
			m.look.Symbol.Draw(c, m.look.Color, at)
		} else {
			m.look.Symbol.Fill(c, m.look.Color, at)
		}
	}
}

// nameDevelopers names each developer at its marks, the last if there is room.
func (p *logPanel) nameDevelopers(c draw.Canvas) {
	var names []parts.Named
	var points []vg.Point
	at := map[string]int{}
	for _, m := range slices.Backward(p.marks) {
		pt := parts.Place(c, p.plot, m.XY)
		const r = parts.SymbolRadius
		points = append(points, pt, pt.Add(vg.Point{X: r}), pt.Sub(vg.Point{X: r}), pt.Add(vg.Point{Y: r}), pt.Sub(vg.Point{Y: r}))
		k, seen := at[m.developer]
		if !seen {
			at[m.developer] = len(names)
			names = append(names, parts.Named{Text: parts.Shortened(parts.SmallSize, 0.5*c.Size().X, m.developer), At: pt, Up: true})
			continue
		}
		names[k].Or = append(names[k].Or, pt)
	}
	for _, n := range parts.PlaceNames(c, names, points) {
		n.Draw(c)
	}
}

// Numbers returns the times and the temperatures of each film and developer.
func (b *logBody) Numbers() []figure.Series {
	var out []figure.Series
	for _, p := range b.all() {
		y := "development time, min"
		if p == b.celsius {
			y = "temperature at the start, °C; low and high from begin to end"
		}
		for _, developer := range b.developer {
			s := figure.Series{Panel: p.name, Name: developer, X: "days from " + b.first, Y: y}
			for _, m := range p.marks {
				if m.developer != developer {
					continue
				}
				v := figure.Value{XY: m.XY, Low: math.NaN(), High: math.NaN(), Remark: m.remark}
				if p == b.celsius && !math.IsNaN(m.to) {
					v.Low, v.High = min(m.Y, m.to), max(m.Y, m.to)
				}
				s.Values = append(s.Values, v)
			}
			if len(s.Values) > 0 {
				out = append(out, s)
			}
		}
	}
	return out
}
