package parts

import (
	"math"
	"slices"
	"strconv"
	"time"

	gplot "gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"sensito/plot/internal/canvas"
	"sensito/sensito"
)

// NewAxes returns an empty plot in the style of the figures, with a grid.
func NewAxes(x, y string) *gplot.Plot {
	p := BareAxes(x, y)
	g := plotter.NewGrid()
	g.Horizontal, g.Vertical = Line(0.5, GridGrey), Line(0.5, GridGrey)
	p.Add(g)
	return p
}

// BareAxes is NewAxes without the grid.
func BareAxes(x, y string) *gplot.Plot {
	p := gplot.New()
	p.BackgroundColor = nil // the page is white already
	p.TextHandler = canvas.TextHandler
	p.Title.TextStyle = TextStyle(TitleSize, text.XCenter, text.YTop)
	p.Legend.TextStyle = TextStyle(BodySize, text.XLeft, text.YCenter)
	for _, a := range []*gplot.Axis{&p.X, &p.Y} {
		a.Padding = 0
		a.LineStyle = Line(0.6, Ink)
		a.Tick.LineStyle = Line(0.5, Ink)
		a.Tick.Length = 4
		a.Label.Padding = 2
	}
	p.X.Label.Text, p.Y.Label.Text = x, y
	p.X.Label.TextStyle = TextStyle(BodySize, text.XCenter, text.YBottom)
	p.Y.Label.TextStyle = TextStyle(BodySize, text.XCenter, text.YBottom)
	p.X.Label.TextStyle.Color, p.Y.Label.TextStyle.Color = AxisInk, AxisInk
	p.X.Tick.Label = TextStyle(BodySize, text.XCenter, text.YTop)
	p.Y.Tick.Label = TextStyle(BodySize, text.XRight, text.YCenter)
	return p
}

// Frame closes the two axes to a rectangle.
func Frame(c draw.Canvas) {
	c.StrokeLines(Line(0.6, Ink), []vg.Point{{X: c.Min.X, Y: c.Max.Y}, c.Max, {X: c.Max.X, Y: c.Min.Y}})
}

// Steps marks a linear axis at multiples of major, each divided in every parts.
type Steps struct {
	Major float64
	Every int
}

func (s Steps) Ticks(lo, hi float64) []gplot.Tick {
	minor := s.Major / float64(s.Every)
	places := max(0, int(math.Ceil(-math.Log10(s.Major)-1e-9)))
	var ticks []gplot.Tick
	for i := int(math.Ceil(lo/minor - 1e-9)); float64(i)*minor <= hi+1e-9*minor; i++ {
		t := gplot.Tick{Value: float64(i) * minor}
		if i%s.Every == 0 {
			t.Label = strconv.FormatFloat(t.Value, 'f', places, 64)
		}
		ticks = append(ticks, t)
	}
	return ticks
}

// StopTicks marks an axis of density or log exposure at the multiples of 0.3, one
// stop, each divided in three. Those at multiples of Every stops are labelled; all
// have their line in a grid.
type StopTicks struct{ Every int }

const stopTick = 0.3

// NewStopTicks returns the ticks for an axis on which a unit is so long, as many of
// them labelled as stand clear of each other.
func NewStopTicks(unit vg.Length) StopTicks {
	room := TextWidth(BodySize, "-0.0") * 1.3
	every := 1
	for vg.Length(every)*stopTick*unit < room {
		every *= 2
	}
	return StopTicks{every}
}

// Ticks returns the ticks from lo to hi.
func (s StopTicks) Ticks(lo, hi float64) []gplot.Tick {
	const thirds = 3
	all := Steps{Major: stopTick, Every: thirds}.Ticks(lo, hi)
	labelled := map[string]bool{}
	for _, t := range (Steps{Major: stopTick * float64(s.Every), Every: 1}).Ticks(lo, hi) {
		labelled[Fixed(t.Value, 1)] = true
	}
	for i, t := range all {
		switch at := Fixed(t.Value, 1); {
		case t.Label == "":
		case labelled[at]:
			all[i].Label = at
		default:
			all[i].Label = " " // a major tick still
		}
	}
	return all
}

// DecimalTicks marks a linear axis at steps of 1, 2 or 5, in want intervals or
// somewhat fewer.
type DecimalTicks struct{ Want float64 }

func (d DecimalTicks) Ticks(lo, hi float64) []gplot.Tick {
	least := (hi - lo) / d.Want
	decade := math.Pow(10, math.Floor(math.Log10(least)))
	for _, s := range []Steps{{decade, 5}, {2 * decade, 2}, {5 * decade, 5}} {
		if s.Major >= least*0.9999 {
			return s.Ticks(lo, hi)
		}
	}
	return Steps{10 * decade, 5}.Ticks(lo, hi)
}

// TimeTicks marks a logarithmic axis of minutes.
type TimeTicks struct{}

// The places labelled in one decade, coarse to fine.
var timeLevels = [][]float64{
	{1, 2, 5},
	{1, 1.5, 2, 3, 4, 6, 8},
	{1, 1.2, 1.5, 2, 2.5, 3, 4, 5, 6, 8},
	{1, 1.1, 1.2, 1.3, 1.4, 1.5, 1.6, 1.8, 2, 2.2, 2.5, 3, 3.5, 4, 4.5, 5, 5.5, 6, 6.5, 7, 7.5, 8, 8.5, 9, 9.5},
	{1, 1.1, 1.2, 1.3, 1.4, 1.5, 1.6, 1.8, 2, 2.2, 2.5, 3, 3.5, 4, 4.5, 5, 5.5, 6, 7, 8, 9}, // where those are too many
}

func (TimeTicks) Ticks(lo, hi float64) []gplot.Tick {
	const few, many = 5, 9
	var ticks []gplot.Tick
	for i, level := range timeLevels {
		ticks = ticks[:0]
		for e := math.Floor(math.Log10(lo)); e <= math.Log10(hi); e++ {
			for _, f := range level {
				if t := f * math.Pow(10, e); t >= lo*0.9999 && t <= hi*1.0001 {
					ticks = append(ticks, gplot.Tick{Value: t, Label: strconv.FormatFloat(t, 'g', 4, 64)})
				}
			}
		}
		if n := len(ticks); n >= few && (n <= many || i < len(timeLevels)-2) {
			break
		}
	}
	return ticks
}

// SpeedTicks marks a logarithmic axis at the standard speeds, a third of a
// stop apart; on a long axis only the full stops are labelled.
type SpeedTicks struct{}

func (SpeedTicks) Ticks(lo, hi float64) []gplot.Tick {
	degrees := func(s float64) float64 { return 1 + 10*math.Log10(s) }
	long := degrees(hi)-degrees(lo) > 8
	var ticks []gplot.Tick
	for d := math.Floor(degrees(lo)); d <= degrees(hi)+1; d++ {
		s, n := sensito.Speed(math.Pow(10, (d-1)/10)).Standard()
		if v := float64(s); v >= lo && v <= hi {
			t := gplot.Tick{Value: v, Label: strconv.FormatFloat(v, 'g', 5, 64)}
			if long && n%3 != 0 { // 21 degrees, 100, is a full stop
				t.Label = ""
			}
			ticks = append(ticks, t)
		}
	}
	return ticks
}

// Unlabelled are the ticks of an axis that shares the labels of another.
type Unlabelled struct{ gplot.Ticker }

func (u Unlabelled) Ticks(lo, hi float64) []gplot.Tick {
	ticks := slices.Clone(u.Ticker.Ticks(lo, hi)) // those of ConstantTicks are shared
	for i := range ticks {
		if ticks[i].Label != "" {
			ticks[i].Label = " " // a major tick still
		}
	}
	return ticks
}

// EqualScales returns the part of the area, from its top left, on which one
// unit of x is drawn as long as one unit of y.
func EqualScales(p *gplot.Plot, area draw.Canvas) draw.Canvas {
	for range 100 {
		c := p.DataCanvas(area)
		scaleX := c.Size().X / vg.Length(p.X.Max-p.X.Min)
		scaleY := c.Size().Y / vg.Length(p.Y.Max-p.Y.Min)
		switch {
		case scaleX > scaleY:
			area.Max.X -= (scaleX - scaleY) * vg.Length(p.X.Max-p.X.Min)
		default:
			area.Min.Y += (scaleY - scaleX) * vg.Length(p.Y.Max-p.Y.Min)
		}
		if math.Abs(float64(scaleX-scaleY)) < 1e-9 {
			break
		}
	}
	return area
}

// DateTicks marks an axis of days from a first date.
type DateTicks struct {
	first time.Time
	most  int
}

// NewDateTicks returns the ticks for days from a date, YYYY-MM-DD, at most so many.
func NewDateTicks(first string, most int) DateTicks {
	t, _ := time.Parse(time.DateOnly, first) // checked by the caller
	return DateTicks{t, most}
}

// Day returns the days from the first date to another, YYYY-MM-DD.
func (d DateTicks) Day(date string) float64 {
	t, _ := time.Parse(time.DateOnly, date) // checked by the caller
	return sensito.DaysBetween(d.first, t)
}

// Ends marks the first day and the last one alone, for a short axis.
func (d DateTicks) Ends(last float64) gplot.ConstantTicks {
	ticks := []gplot.Tick{d.tick(d.first, "2 Jan")}
	if last > 0 {
		ticks = append(ticks, d.tick(d.first.AddDate(0, 0, int(last)), "2 Jan"))
	}
	return d.withYears(ticks)
}

// Ticks marks days, weeks, months or years; the first of all and
// the first of each year carry the year.
func (d DateTicks) Ticks(lo, hi float64) []gplot.Tick {
	most := max(d.most, 1)
	for _, days := range []int{1, 2, 7, 14, 28} {
		if (hi-lo)/float64(days) > float64(most) {
			continue
		}
		var ticks []gplot.Tick
		for n := days * int(math.Ceil(lo/float64(days))); float64(n) <= hi; n += days {
			ticks = append(ticks, d.tick(d.first.AddDate(0, 0, n), "2 Jan"))
		}
		return d.withYears(ticks)
	}
	start := time.Date(d.first.Year(), 1, 1, 0, 0, 0, 0, time.UTC)
	const year = 12
	for months := 3; ; months *= 2 {
		layout := "Jan"
		if months >= year {
			layout = "2006"
		}
		var ticks []gplot.Tick
		for n := 0; ; n += months {
			t := d.tick(start.AddDate(0, n, 0), layout)
			if t.Value > hi {
				break
			}
			if t.Value >= lo {
				ticks = append(ticks, t)
			}
		}
		switch {
		case len(ticks) > most:
		case months >= year:
			return ticks
		default:
			return d.withYears(ticks)
		}
	}
}

func (d DateTicks) tick(at time.Time, layout string) gplot.Tick {
	return gplot.Tick{Value: sensito.DaysBetween(d.first, at), Label: at.Format(layout)}
}

// withYears adds the year to the first tick and to the first of each year.
func (d DateTicks) withYears(ticks []gplot.Tick) []gplot.Tick {
	last := 0
	for i := range ticks {
		year := d.first.AddDate(0, 0, int(ticks[i].Value)).Year()
		if year != last {
			ticks[i].Label += time.Date(year, 1, 1, 0, 0, 0, 0, time.UTC).Format(" 2006")
		}
		last = year
	}
	return ticks
}
