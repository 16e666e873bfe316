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

	"sensito/plot/internal/figure"
	"sensito/plot/internal/parts"
	"sensito/sensito/answers"
	"sensito/sensito/scene"
)

const rollWidth = 180 * vg.Millimeter

// Roll returns the density range that every frame of a roll gets at its one time,
// with its interval, against the aim: a row a frame, the longest range first, each
// with its name on the left and the print material for it on the right. The frame
// that suffers most is solid. Of many frames those of one range share a row. The
// error is for options outside their limits, too small a page, or more frames than
// a page can hold.
func Roll(r *scene.Roll, o Options) (*Figure, error) {
	o, err := o.WithDefaults("")
	if err != nil {
		return nil, err
	}
	b := newRoll(r, &o)
	w := cmp.Or(o.Width, rollWidth)
	for b.names = mostName * w; ; b.names-- {
		if b.scale(w); b.names < leastName || b.data(parts.Page(w, 5*w)).Size().X >= leastRange {
			break
		}
	}
	fig := o.Figure(w, cmp.Or(o.Height, b.height(w)), b)
	if least := b.height(w); fig.Page().Size().Y < least-0.01 || least > figure.MaxSide {
		return nil, fmt.Errorf("%d rows of scenes need a figure %.0f mm high: make it so, at most %.0f mm, or draw the roll in parts", len(b.rows), math.Ceil(float64(least/vg.Millimeter)), figure.MaxSide/vg.Millimeter)
	}
	if b.data(fig.Page()).Size().X < leastRange {
		return nil, errors.New("the figure leaves no room for its data: make it wider")
	}
	return fig, nil
}

// developRoll is the answer in one sentence.
func developRoll(r *scene.Roll, level float64) string {
	low, high := math.Inf(1), math.Inf(-1)
	for _, f := range r.Frames {
		low, high = min(low, f.Stops), max(high, f.Stops)
	}
	scenes := fmt.Sprintf("%d scenes of %s to %s", len(r.Frames), parts.Number(math.Round(10*low)/10), inStops(high))
	switch {
	case len(r.Frames) == 1:
		scenes = "a scene of " + inStops(low)
	case low == high:
		scenes = fmt.Sprintf("%d scenes of %s", len(r.Frames), inStops(low))
	}
	develop := parts.Develop(r.Minutes, level)
	if r.ExposureIndex == nil {
		return "D" + develop[1:] + " for " + scenes
	}
	return "Set EI " + standardIndex(*r.ExposureIndex) + " and " + develop + " for " + scenes
}

// rollBody is the drawing of a roll.
type rollBody struct {
	parts.Heading
	plot   *gplot.Plot
	rows   []rollRow // from the top
	aim    level
	levels []level   // of the print materials
	prints bool      // each row names one
	names  vg.Length // the most that a name takes
}

// rollRow is what the frames of one range get.
type rollRow struct {
	names  []string
	stops  float64
	at     parts.Whisker // Y counts rows from below
	print  string        // the material that comes nearest, with what it leaves over
	beyond bool          // no material prints it
	worst  bool
}

// level is a named density range.
type level struct {
	x    float64
	name string
}

// mostRows is how many frames have a row each even where ranges are alike.
const mostRows = 72

func newRoll(r *scene.Roll, o *Options) *rollBody {
	b := &rollBody{Heading: rollHeading(r, o), prints: r.Scene.ScanMax == 0}
	b.aim = level{float64(r.DensityRange), fmt.Sprintf("aim %.2f", float64(r.DensityRange))}
	suffers := r.Worst
	if !b.prints || math.Abs(float64(r.Frames[r.Worst].Mismatch)) < 0.005 {
		suffers = -1
	} else {
		b.Foot = "Solid: the scene that suffers most. " + b.Foot
	}
	for i, f := range r.Frames {
		row := rollRow{names: []string{f.Name}, stops: f.Stops, at: rangeAt(r, i, o.Confidence), worst: i == suffers, beyond: !f.Fits}
		row.at.Filled = row.worst
		if f.Print != nil {
			row.print = printName(r, *f.Print) + ", " + parts.Signed(float64(f.Rest), 2)
		}
		j := slices.IndexFunc(b.rows, func(other rollRow) bool { return other.sameAs(row) })
		if j < 0 || len(r.Frames) <= mostRows {
			b.rows = append(b.rows, row)
			continue
		}
		b.rows[j].names = append(b.rows[j].names, f.Name)
		b.rows[j].worst = b.rows[j].worst || row.worst
		b.rows[j].at.Filled = b.rows[j].worst
	}
	slices.SortStableFunc(b.rows, func(a, b rollRow) int { return cmp.Compare(b.at.X, a.at.X) })
	for i := range b.rows {
		b.rows[i].at.Y = float64(len(b.rows) - 1 - i)
	}
	for _, c := range r.Scene.Prints() {
		b.levels = append(b.levels, level{float64(c.Negative), printName(r, c)})
	}
	slices.SortFunc(b.levels, func(a, b level) int { return cmp.Compare(a.x, b.x) })
	b.addAxes()
	return b
}

// rollHeading says below the answer what it is for and what was tested behind it,
// and at the foot what the figure shows.
func rollHeading(r *scene.Roll, o *Options) parts.Heading {
	h := figure.Cautioned(o.Headed(developRoll(r, o.Confidence), r.Family.Trial), r.Today)
	h.Sub += "\nFor " + r.Scene.AimText()
	if e := r.ExposureIndex; e != nil {
		h.Sub += "; EI " + parts.Interval(*e, o.Confidence, parts.SpeedPlaces(e.Value))
	}
	tested := r.Tested()
	h.Sub += figure.Behind(r.Today, tested.Minutes.Value, tested.ExposureIndex, answers.Outside(r.Extrapolation))
	key := "Whiskers: " + parts.Percent(o.Confidence) + " intervals; grey: how far a scene lies from the aim, the dashed line; dotted: what other print materials are for."
	if r.Scene.ScanMax == 0 {
		key += " Beside each scene the print material that comes nearest, with the log exposure range that the negative has over it, or lacks; ! beyond what any prints."
	}
	h.Foot = key + "\n" + strings.TrimSpace(h.Foot)
	return h
}

// printName returns a print material without the name of the paper, which the aim
// tells.
func printName(r *scene.Roll, c scene.PrintChoice) string {
	if p := r.Scene.Paper; p != nil {
		return strings.TrimPrefix(c.Name, p.Strip.Trial().Film().Name+" ")
	}
	return c.Name
}

// rangeAt returns the density range that a frame gets at the one time, as tested,
// across.
func rangeAt(r *scene.Roll, frame int, level float64) parts.Whisker {
	e := r.Frames[frame].DensityRange
	low, high := e.Interval(level)
	x := r.DensityRangeAt(frame, r.Tested().Minutes.Value)
	return parts.Whisker{XY: plotter.XY{X: float64(x)}, Low: float64(x + low - e.Value), High: float64(x + high - e.Value), Across: true}
}

// sameAs says whether a frame would be drawn alike.
func (row rollRow) sameAs(other rollRow) bool {
	const close = 0.0005
	return math.Abs(row.at.X-other.at.X) < close
}

func (b *rollBody) addAxes() {
	label := "density range of the negative"
	if !b.prints {
		label = "density of the lightest tone above net 0.10"
	}
	b.plot = parts.BareAxes(label, "")
	left, right := b.aim.x, b.aim.x
	for _, row := range b.rows {
		left, right = min(left, row.at.Low), max(right, row.at.High)
	}
	by := max(0.08*(right-left), 0.04)
	x, y := &b.plot.X, &b.plot.Y
	x.Min, x.Max = left-by, right+by
	y.Min, y.Max = -0.7, float64(len(b.rows))-0.3
	y.Tick.Marker = gplot.ConstantTicks{}
	b.levels = slices.DeleteFunc(b.levels, func(l level) bool { return l.x <= x.Min || l.x >= x.Max })
	grid := plotter.NewGrid()
	grid.Vertical, grid.Horizontal.Color = parts.Line(0.5, parts.GridGrey), nil
	b.plot.Add(grid)
}

// numbers returns what is drawn, a series a row.
func (b *rollBody) Numbers() []figure.Series {
	var out []figure.Series
	for _, row := range b.rows {
		out = append(out, figure.Series{Name: strings.Join(row.names, ", "), X: parts.AxisName(b.plot.X), Y: "scene, stops", Values: []figure.Value{
			{XY: plotter.XY{X: row.at.X, Y: row.stops}, Low: row.at.Low, High: row.at.High, Remark: strings.TrimSpace(row.print)}}})
	}
	return append(out, figure.Series{Name: "aim", X: parts.AxisName(b.plot.X), Values: figure.Plain(plotter.XYs{{X: b.aim.x, Y: math.NaN()}})})
}
