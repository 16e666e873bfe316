package plot

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	gplot "gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"sensito/plot/internal/parts"
	"sensito/sensito/scene"
)

const (
	rollWidth  = 160 * vg.Millimeter
	rollHeight = 120 * vg.Millimeter
)

// Roll returns the density range of every frame of a roll against development
// time: a line for each range of scene, dashed outside the tested times and
// named at its end, the aim as a level line, the chosen time as a vertical with
// its interval, and the print materials on the right as levels. The frame that
// suffers most is drawn heavier. The error is for options outside their limits.
func Roll(r *scene.Roll, o Options) (*Figure, error) {
	o, err := o.withDefaults(r.Family.Trial.Title())
	if err != nil {
		return nil, err
	}
	fig := o.figure(rollWidth, rollHeight, nil)
	b := newRoll(r, o)
	if err := b.makeRoom(fig.page()); err != nil {
		return nil, err
	}
	fig.body = b
	return fig, nil
}

// rollBody is the drawing of a roll.
type rollBody struct {
	parts.Heading
	timeline
	plot   *gplot.Plot
	lines  []rollLine
	end    float64 // minutes at which the lines end
	aim    level
	levels []level // of the print materials
	note   parts.Note
}

// rollLine is how the frames of one range of scene grow.
type rollLine struct {
	parts.Ribbon
	names []string
	at    parts.Whisker // at the chosen time, with its interval
	worst bool
}

// level is a named density range.
type level struct {
	y    float64
	name string
}

func newRoll(r *scene.Roll, o Options) *rollBody {
	b := &rollBody{Heading: cautioned(newHeading(o, r.Family.Trial), r.Today)}
	tested := r.Tested().Minutes
	low, high := tested.Interval(o.Confidence)
	m := &mark{minutes: float64(tested.Value), low: float64(low), high: float64(high), label: marked(parts.Planned(tested.Value)+" for all", r.Extrapolated, r.Today, r.Minutes.Value)}
	b.timeline = newTimeline(r.Family, m)
	b.end = b.hi
	b.note = withToday(parts.Note{parts.Develop(r.Minutes, o.Confidence)}, r.Today, tested.Value)
	if e := r.ExposureIndex; e != nil {
		b.note = append(b.note, "set the meter to EI "+parts.Interval(*e, o.Confidence, 0))
	}
	b.note = append(b.note, "intervals: "+parts.Percent(o.Confidence))

	b.aim = level{float64(r.DensityRange), fmt.Sprintf("aim %.2f", float64(r.DensityRange))}
	bottom, top := b.aim.y, b.aim.y
	suffers := r.Worst
	if r.Scene.ScanMax != 0 || math.Abs(float64(r.Frames[r.Worst].Mismatch)) < 0.005 {
		suffers = -1
	} else {
		b.note = append(b.note, "heavy: the scene that suffers most")
	}
	for i, f := range r.Frames {
		if j := slices.IndexFunc(b.lines, func(l rollLine) bool { return l.sameAs(rangeAt(r, i, o.Confidence)) }); j >= 0 {
			b.lines[j].names = append(b.lines[j].names, f.Name)
			b.lines[j].worst = b.lines[j].worst || i == suffers
			continue
		}
		l := rollLine{Ribbon: parts.Ribbon{From: b.from, To: b.to}, names: []string{f.Name}, worst: i == suffers,
			at: rangeAt(r, i, o.Confidence)}
		bottom, top = min(bottom, l.at.Low), max(top, l.at.High)
		for _, minutes := range b.times() {
			y := float64(r.DensityRangeAt(i, minutes))
			l.Line = append(l.Line, plotter.XY{X: float64(minutes), Y: y})
			bottom, top = min(bottom, y), max(top, y)
		}
		b.lines = append(b.lines, l)
	}
	// From the top, as they stand at the ends.
	slices.SortStableFunc(b.lines, func(a, b rollLine) int { return cmp.Compare(b.last().Y, a.last().Y) })

	axis := "density range of the negative"
	if r.Scene.ScanMax != 0 {
		axis = "density of the lightest tone above net 0.10"
	}
	b.plot = b.axes(axis)
	b.plot.X.Tick.Marker = until{parts.TimeTicks{}, b.end}
	by := 0.06 * (top - bottom)
	b.plot.Y.Min, b.plot.Y.Max = bottom-by, top+by
	b.plot.Y.Tick.Marker = parts.DecimalTicks{Want: 6}
	for _, c := range r.Scene.Prints() {
		if y := float64(c.Negative); y > b.plot.Y.Min && y < b.plot.Y.Max {
			b.levels = append(b.levels, level{y, c.Name})
		}
	}
	b.plot.Add(levels{b.levels, b.aim.y, b.end}, markLine{m}, aimLevel{b.aim, b.end})
	for _, l := range b.lines {
		b.plot.Add(l)
	}
	return b
}

// rangeAt returns the density range that a frame gets at the chosen time.
func rangeAt(r *scene.Roll, frame int, level float64) parts.Whisker {
	e := r.Frames[frame].DensityRange
	low, high := e.Interval(level)
	tested := r.Tested().Minutes.Value
	y := r.DensityRangeAt(frame, tested)
	return parts.Whisker{XY: plotter.XY{X: float64(tested), Y: float64(y)}, Low: float64(y + low - e.Value), High: float64(y + high - e.Value)}
}

// sameAs says whether a frame would be drawn on the same line.
func (l rollLine) sameAs(at parts.Whisker) bool {
	const close = 0.0005
	return math.Abs(l.at.Y-at.Y) < close
}

func (l rollLine) last() plotter.XY { return l.Line[len(l.Line)-1] }

// Plot draws the line and its place at the chosen time.
func (l rollLine) Plot(c draw.Canvas, p *gplot.Plot) {
	l.Style = parts.Line(0.8, parts.Ink)
	if l.worst {
		l.Style = parts.Line(1.6, parts.Ink)
	}
	l.Ribbon.Plot(c, p)
	const half = vg.Length(2)
	for _, y := range []float64{l.at.Low, l.at.High} {
		end := parts.Place(c, p, plotter.XY{X: l.at.X, Y: y})
		c.StrokeLine2(parts.Line(0.6, parts.Ink), end.X-half, end.Y, end.X+half, end.Y)
	}
	parts.FillDot(c, parts.Ink, 1.7, parts.Place(c, p, l.at.XY))
}

// levels are faint lines across, as far as the frames' lines go.
type levels struct {
	at       []level
	aim, end float64 // at the aim there is a line already
}

func (l levels) Plot(c draw.Canvas, p *gplot.Plot) {
	for _, v := range l.at {
		if math.Abs(v.y-l.aim) < 0.002 {
			continue
		}
		parts.PlotLine(c, p, parts.BaseLine, plotter.XYs{{X: p.X.Min, Y: v.y}, {X: l.end, Y: v.y}})
	}
}

// aimLevel is the line of the aim.
type aimLevel struct {
	level
	end float64
}

func (a aimLevel) Plot(c draw.Canvas, p *gplot.Plot) {
	parts.PlotLine(c, p, parts.Line(0.8, parts.Ink, 7, 3), plotter.XYs{{X: p.X.Min, Y: a.y}, {X: a.end, Y: a.y}})
}

// until marks an axis no further than an end.
type until struct {
	gplot.Ticker
	end float64
}

func (u until) Ticks(lo, hi float64) []gplot.Tick { return u.Ticker.Ticks(lo, min(hi, u.end)) }
