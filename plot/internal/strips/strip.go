package strips

import (
	"cmp"
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
	"sensito/sensito"
	"sensito/sensito/curve"
)

// strip is one measured strip of film or paper as it is drawn, in log exposure and
// density.
type strip struct {
	parts.Look
	name   string // development time or grade, and what else tells it from others
	detail string // contrast with its interval; may be empty
	steps  int    // of its wedge

	readings  plotter.XYs
	aside     []aside
	curve     plotter.XYs // over the readings
	below     plotter.XYs // from the left edge to the readings
	above     plotter.XYs // from the readings up to one stop further
	low, high plotter.XYs // ends of the band; empty when the error is unknown
	base      float64     // base plus fog, or paper white
	unexposed []float64   // readings of it
	density   func(h float64) float64
}

// aside is a reading that was not used.
type aside struct {
	plotter.XY
	step int
	over bool // it lies over the curve
}

const (
	CurvePlaces = 160
	bandPlaces  = 60
)

// newStrip returns a strip with everything but the parts of the curve beyond
// the readings, which depend on the axes.
func newStrip(m *sensito.Strip, f *curve.Fit, l parts.Look, name string, o figure.Options) *strip {
	c, leftOut := f.Curve, f.LeftOut()
	s := &strip{Look: l, name: name, steps: m.StepsRead(), base: float64(curve.BaseFog(c)),
		density: func(h float64) float64 { return float64(c.Density(sensito.LogExposure(h))) }}
	for _, step := range m.Steps() {
		at := plotter.XY{X: float64(step.LogH), Y: float64(step.Density)}
		switch {
		case math.IsNaN(at.Y): // not read
		case step.Ignored || slices.Contains(leftOut, step.Number):
			s.aside = append(s.aside, aside{at, step.Number, step.Density > c.Density(step.LogH)})
		default:
			s.readings = append(s.readings, at)
		}
	}
	for _, d := range m.BaseFog() {
		s.unexposed = append(s.unexposed, float64(d))
	}
	lo, hi := c.Domain()
	s.curve = Sample(c, lo, hi, CurvePlaces)
	for _, p := range Sample(c, lo, hi, bandPlaces) {
		e, err := curve.Derive(f, func(c curve.Curve) (sensito.Density, error) {
			return c.Density(sensito.LogExposure(p.X)), nil
		})
		if err != nil {
			s.low, s.high = nil, nil
			break
		}
		l, h := e.Interval(o.Confidence)
		s.low = append(s.low, plotter.XY{X: p.X, Y: float64(l)})
		s.high = append(s.high, plotter.XY{X: p.X, Y: float64(h)})
	}
	return s
}

// shift moves the strip along the exposures.
func (s *strip) shift(by float64) {
	for _, part := range []plotter.XYs{s.readings, s.curve, s.below, s.above, s.low, s.high} {
		for i := range part {
			part[i].X += by
		}
	}
	for i := range s.aside {
		s.aside[i].X += by
	}
	density := s.density
	s.density = func(h float64) float64 { return density(h - by) }
}

// clip leaves out what lies beyond two exposures.
func (s *strip) clip(from, to float64) {
	beyond := func(at plotter.XY) bool { return at.X < from || at.X > to }
	for _, part := range []*plotter.XYs{&s.readings, &s.curve, &s.below, &s.above, &s.low, &s.high} {
		*part = slices.DeleteFunc(*part, beyond)
	}
	s.aside = slices.DeleteFunc(s.aside, func(a aside) bool { return beyond(a.XY) })
}

// time returns the name without what tells strips of one time apart.
func (s *strip) time() string {
	time, _, _ := strings.Cut(s.name, ",")
	return time
}

// extend adds the parts of the curve beyond the readings: down to the left
// edge, and up by a stop or to the right edge.
func (s *strip) extend(c curve.Curve, left, right sensito.LogExposure) {
	lo, hi := c.Domain()
	if left < lo {
		s.below = Sample(c, left, lo, CurvePlaces/4)
	}
	if to := min(right, hi.Add(sensito.Stop)); to > hi {
		s.above = Sample(c, hi, to, CurvePlaces/4)
	}
}

// span returns the exposures of the readings and of the curve.
func (s *strip) span() []float64 {
	out := []float64{s.curve[0].X, s.curve[len(s.curve)-1].X}
	for _, r := range s.readings {
		out = append(out, r.X)
	}
	for _, a := range s.aside {
		out = append(out, a.X)
	}
	return out
}

// end returns where the drawn curve ends on the right.
func (s *strip) end() plotter.XY {
	if n := len(s.above); n > 0 {
		return s.above[n-1]
	}
	return s.curve[len(s.curve)-1]
}

func Sample(c curve.Curve, lo, hi sensito.LogExposure, n int) plotter.XYs {
	out := make(plotter.XYs, n)
	for i := range out {
		h := lo.Add(hi.Sub(lo) * sensito.LogRange(i) / sensito.LogRange(n-1))
		out[i] = plotter.XY{X: float64(h), Y: float64(c.Density(h))}
	}
	return out
}

// DataRange makes the axes hold the strip.
func (s *strip) DataRange() (xmin, xmax, ymin, ymax float64) {
	all := slices.Concat(s.readings, s.curve, s.below, s.above)
	for _, a := range s.aside {
		all = append(all, a.XY)
	}
	return plotter.XYRange(all)
}

// manySteps is the number of steps from which readings are drawn as small dots, with
// the curve over them.
const manySteps = 30

// mark sets the size of the symbols, the smaller the more steps the strip has, the
// closer they stand and the more strips there are in the drawing.
func (s *strip) mark(unit vg.Length, strips int) {
	if s.steps >= manySteps {
		s.Symbol = parts.Symbol{Scale: 0.42}
		return
	}
	const usual, few, share = 21, 4, 0.3 // share of the way to the next reading
	apart := unit
	if n := len(s.readings); n > 1 {
		apart = unit * vg.Length(math.Abs(s.readings[n-1].X-s.readings[0].X)/float64(n-1))
	}
	s.Symbol.Scale = min(1, max(0.5, min(share*apart/parts.SymbolRadius, usual/vg.Length(max(s.steps, 1)), vg.Length(math.Sqrt(few/float64(strips))))))
}

// Plot draws the strip's curve with its band; the readings are drawn by plotReadings.
func (s *strip) Plot(c draw.Canvas, p *gplot.Plot) {
	parts.PlotBand(c, p, s.low, s.high, parts.BandGrey)
	if s.steps >= manySteps {
		s.plotReadings(c, p)
	}
	parts.PlotLine(c, p, parts.Beyond, s.below)
	parts.PlotLine(c, p, parts.Beyond, s.above)
	parts.PlotLine(c, p, s.LineStyle, s.curve)
}

// plotReadings draws the readings, those set aside crossed out.
func (s *strip) plotReadings(c draw.Canvas, p *gplot.Plot) {
	for _, r := range s.readings {
		s.Symbol.Draw(c, s.Color, parts.Place(c, p, r))
	}
	for _, a := range s.aside {
		pt := parts.Place(c, p, a.XY)
		s.Symbol.Draw(c, s.Color, pt)
		parts.Strike(c, parts.Ink, pt)
	}
}

// data returns the readings and places along the curve.
func (s *strip) data(c draw.Canvas, p *gplot.Plot) []vg.Point {
	all := slices.Concat(s.readings, s.curve, s.below, s.above)
	for _, a := range s.aside {
		all = append(all, a.XY)
	}
	return parts.Places(c, p, all)
}

// placeName is a text that names a place of the data, and a shorter one for where there
// is little room.
type placeName struct {
	plotter.XY
	text, short string
	up          bool
	or          plotter.XYs // other points that it may name as well
}

// asideNames names the readings set aside by their steps, those beside each other
// together. The strip is named where there are several.
func (s *strip) asideNames(alone bool) []placeName {
	prefix := ""
	if !alone {
		prefix = s.name + ", "
	}
	var out []placeName
	for i := 0; i < len(s.aside); {
		j := i
		for j+1 < len(s.aside) && s.aside[j+1].step == s.aside[j].step+1 {
			j++
		}
		text := fmt.Sprintf("%sstep %d", prefix, s.aside[i].step)
		switch j - i {
		case 0:
		case 1:
			text = fmt.Sprintf("%ssteps %d and %d", prefix, s.aside[i].step, s.aside[j].step)
		default:
			text = fmt.Sprintf("%ssteps %d to %d", prefix, s.aside[i].step, s.aside[j].step)
		}
		middle := s.aside[(i+j)/2]
		out = append(out, placeName{XY: middle.XY, text: text, short: text, up: middle.over})
		i = j + 1
	}
	return out
}

// residuals returns the readings less the curve, and its band.
func (s *strip) residuals() parts.Residuals {
	r := parts.Residuals{Look: s.Look}
	if s.steps >= manySteps {
		r.Symbol.Scale = 0.6
	}
	less := func(at plotter.XY) plotter.XY { return plotter.XY{X: at.X, Y: at.Y - s.density(at.X)} }
	for _, at := range s.readings {
		r.Readings = append(r.Readings, less(at))
	}
	for _, a := range s.aside {
		r.Aside = append(r.Aside, less(a.XY))
	}
	for i := range s.low {
		r.Low, r.High = append(r.Low, less(s.low[i])), append(r.High, less(s.high[i]))
	}
	return r
}

// numbers returns readings and curve.
func (s *strip) numbers(x, y string) []figure.Series {
	read := figure.Plain(s.readings)
	for _, a := range s.aside {
		v := figure.Plain(plotter.XYs{a.XY})[0]
		v.Remark = fmt.Sprintf("set aside, step %d", a.step)
		read = append(read, v)
	}
	slices.SortFunc(read, func(a, b figure.Value) int { return cmp.Compare(a.X, b.X) })
	out := []figure.Series{{Panel: "readings", Name: s.name, X: x, Y: y, Values: read}}
	line := make(plotter.XYs, len(s.low))
	for i, at := range s.low {
		line[i] = plotter.XY{X: at.X, Y: s.density(at.X)}
	}
	if len(line) == 0 {
		line = s.curve
	}
	out = append(out, figure.Series{Panel: "curve", Name: s.name, X: x, Y: y, Values: figure.Between(line, s.low, s.high)})
	if len(s.unexposed) > 0 {
		var base plotter.XYs
		for _, d := range s.unexposed {
			base = append(base, plotter.XY{X: math.NaN(), Y: d})
		}
		out = append(out, figure.Series{Panel: "readings", Name: strings.TrimSpace(s.name + ", unexposed"), X: x, Y: y, Values: figure.Plain(base)})
	}
	return out
}
