package sensito

import (
	"errors"
	"fmt"
	"math"

	"sensito/fit"
)

// Frame is one scene of a roll.
type Frame struct {
	Name     string
	Stops    float64   // between the darkest and the lightest tone that must keep detail
	Metering *Metering // the spot readings behind Stops; nil when there are none
}

// Roll is how to develop a roll of film whose frames have scenes of unlike
// range: one time for all, and for each the print material that suits it then.
type Roll struct {
	Family *Family
	Scene  Scene // aim, flare and placement common to all frames; Stops unused

	Minutes       Estimate[Minutes]
	ExposureIndex *Estimate[Speed] // nil when the exposures are relative
	DensityRange  NetDensity       // of the aim
	Extrapolated  bool             // Minutes lies outside the tested times
	Frames        []RollFrame      // in the order given
	Worst         int              // index of the frame that suffers most
	Warnings      []Warning

	laws []growth // of the density range of each frame
}

// DensityRangeAt returns the density range that a frame, counted from 0, gets
// when the roll is developed for the given time.
func (r *Roll) DensityRangeAt(frame int, t Minutes) NetDensity {
	return NetDensity(r.laws[frame].At(float64(t)))
}

// RollFrame is what one frame gets.
type RollFrame struct {
	Frame
	FilmRange    LogRange
	DensityRange Estimate[NetDensity] // of the negative
	PaperRange   LogRange             // the log exposure range that prints it
	Mismatch     LogRange             // PaperRange less that of the aim
	Print        *PrintChoice         // the print material that comes nearest; nil for a scan
	Rest         LogRange             // PaperRange less that of Print, 0 for a scan
	Fits         bool                 // PaperRange lies within what the print materials span
	EV           *EV                  // to set on the camera; nil without spot readings or index
}

// maxFrames is far above the frames of any roll.
const maxFrames = 500

// ForRoll returns the development time that serves all frames: the worst
// departure of the paper range that a frame needs from that of the aim is as
// small as one time can make it, so that the flattest scene falls as far short
// of the aim as the most contrasty one exceeds it. With an aim for a scan, whose
// greatest density no frame may exceed, the most contrasty frame decides. The
// error is Unanswerable when no time can serve, or joins what is wrong with the
// frames.
func (f *Family) ForRoll(s Scene, frames []Frame) (*Roll, error) {
	if n := len(frames); n < 1 || n > maxFrames {
		return nil, fmt.Errorf("%d frames is outside 1 to %d", n, maxFrames)
	}
	s = s.withDefaults()
	r := &Roll{Family: f, Scene: s, Warnings: append([]Warning{}, f.Warnings...)}
	var errs []error
	flattest, steepest := 0, 0 // frames
	for i, frame := range frames {
		one := s
		one.Stops = frame.Stops
		if err := one.Check(); err != nil {
			errs = append(errs, fmt.Errorf("%s: %w", frame.Name, err))
			continue
		}
		r.Frames = append(r.Frames, RollFrame{Frame: frame, FilmRange: one.filmRange()})
		if frame.Stops < frames[flattest].Stops {
			flattest = i
		}
		if frame.Stops > frames[steepest].Stops {
			steepest = i
		}
	}
	if err := errors.Join(errs...); err != nil {
		return nil, err
	}

	// The rises of all frames, in one table.
	ranges := make([]LogRange, len(frames))
	for i, frame := range r.Frames {
		ranges[i] = frame.FilmRange
	}
	g, t, err := f.rising(ranges[steepest])
	if err != nil {
		return nil, err
	}
	d, err := f.developed(g, ranges)
	if err != nil {
		return nil, err
	}
	models := make([]growthModel, len(frames))
	grown := func(rows [][]float64) ([]growth, error) {
		out := make([]growth, len(frames))
		for i := range frames {
			g, err := d.table.grow(d.column(i), rows, models[i])
			if err != nil {
				return nil, fmt.Errorf("%s: %w", frames[i].Name, err)
			}
			out[i] = g
		}
		return out, nil
	}
	laws, err := grown(d.table.rows)
	if err != nil {
		return nil, err
	}
	for i, law := range laws {
		models[i] = law.model
	}
	solve := func(rows [][]float64, laws []growth) (float64, error) {
		fog := d.table.trend(colFog, rows, math.Log, d.fog.degree())
		return fit.Root(func(lnT float64) float64 {
			minutes := math.Exp(lnT)
			most := laws[steepest].At(minutes)
			if s.ScanMax == 0 {
				most = (most + laws[flattest].At(minutes)) / 2
			}
			return most - float64(s.wanted(Density(fog.at(lnT))))
		}, math.Log(t[0]/4), math.Log(1.3*t[len(t)-1]), 1e-9)
	}
	lnT, err := solve(d.table.rows, laws)
	if err != nil {
		return nil, &Unanswerable{
			Reason: fmt.Sprintf("no time up to %.1f min balances scenes of %g to %g stops about %s",
				1.3*t[len(t)-1], frames[flattest].Stops, frames[steepest].Stops, s.AimText()),
			Hint: "develop the odd frame apart, or aim at another paper",
		}
	}
	told := math.Exp(lnT)
	r.laws = laws
	inflate := map[int]float64{colSpeedPoint: d.speed.scatter}
	for i := range ranges {
		inflate[d.column(i)] = g.scatter
	}
	const before = 2 // values ahead of those of the frames
	all, err := d.table.propagate(inflate, func(rows [][]float64) ([]float64, error) {
		laws, err := grown(rows)
		if err != nil {
			return nil, err
		}
		lnT, err := solve(rows, laws)
		if err != nil {
			return nil, err
		}
		out := []float64{lnT, d.table.trend(colSpeedPoint, rows, g.development, d.speed.degree()).at(g.development(told))}
		for i := range ranges {
			out = append(out, laws[i].At(told))
		}
		return out, nil
	})
	if err != nil {
		return nil, err
	}
	dof := spread(g.scatter, g.dof, d.table.dof)
	var ofAim float64 // the aim's own error, in ln t
	if sd := s.wantedSD(); sd > 0 {
		slope := func(g growth) float64 { return 1 / g.perAim(g.At(told)) }
		ofAim = 2 * sd / (slope(laws[steepest]) + slope(laws[flattest]))
	}
	r.Minutes = Estimate[Minutes]{Value: Minutes(told), StdErr: Minutes(told * math.Hypot(all.sd(0), ofAim)), DoF: dof, Log: true}
	r.DensityRange = s.wanted(Density(d.fog.at(lnT)))
	if exposures := f.Trial.exposures; exposures.absolute {
		h := f.speedPointAt(all.values[1], all.sd(1), spread(d.speed.scatter, d.speed.dof, d.table.dof))
		r.ExposureIndex = speedEstimate(h, func(h LogExposure) Speed { return exposures.meter.Index(h, s.ShadowStops) })
	} else {
		r.warn("relative_exposure", "%v, and no exposure index; give reference_speed_point_log_h to tie them down", ErrRelativeExposure)
	}
	for i := range r.Frames {
		r.Frames[i].DensityRange = Estimate[NetDensity]{Value: NetDensity(all.values[before+i]), StdErr: NetDensity(all.sd(before + i)), DoF: dof}
		r.suit(&r.Frames[i])
		// The two extremes suffer alike; the first is named.
		if math.Abs(float64(r.Frames[i].Mismatch)) > math.Abs(float64(r.Frames[r.Worst].Mismatch))+1e-4 {
			r.Worst = i
		}
	}
	r.Extrapolated = told < t[0] || told > t[len(t)-1]
	if r.Extrapolated {
		r.warn("extrapolated", "%.1f min lies outside the tested times of %.4g to %.4g min: test a strip there before relying on it", told, t[0], t[len(t)-1])
	}
	if told < shortTime {
		r.warn("short_time", "%s", shortTimeText)
	}
	return r, nil
}

// rising returns the law by which the density rise over a range from the speed
// point grows, and the times of the strips behind it.
func (f *Family) rising(r LogRange) (growth, []float64, error) {
	p := &Plan{Family: f, FilmRange: r}
	tb := p.table()
	t, _, _ := tb.column(sceneRise, tb.rows)
	if len(t) < 2 {
		return growth{}, nil, p.tooShort(len(t))
	}
	g, err := tb.grow(sceneRise, tb.rows, "")
	return g, t, err
}

// suit finds the print material for a frame.
func (r *Roll) suit(frame *RollFrame) {
	s := r.Scene
	frame.PaperRange = LogRange(float64(frame.DensityRange.Value) * s.Callier)
	frame.Mismatch = frame.PaperRange - LogRange(float64(r.DensityRange)*s.Callier)
	low, high, nearest := math.Inf(1), math.Inf(-1), math.Inf(1)
	for _, c := range s.Prints() {
		low, high = math.Min(low, float64(c.low)), math.Max(high, float64(c.high))
		if rest := float64(frame.PaperRange - c.Range); math.Abs(rest) < nearest {
			nearest = math.Abs(rest)
			frame.Print, frame.Rest = &c, LogRange(rest)
		}
	}
	frame.Fits = frame.Print == nil || float64(frame.PaperRange) >= low && float64(frame.PaperRange) <= high
	if !frame.Fits {
		r.warn("out_of_paper", "%s: a negative of density range %.2f needs a paper of ISO range %.0f, and the papers go from %.0f to %.0f",
			frame.Name, float64(frame.DensityRange.Value), 100*float64(frame.PaperRange), 100*low, 100*high)
	}
	if m := frame.Metering; m != nil && r.ExposureIndex != nil {
		ev := m.Exposure(r.ExposureIndex.Value)
		frame.EV = &ev
	}
}

func (r *Roll) warn(code, format string, args ...any) {
	r.Warnings = append(r.Warnings, Warning{Code: code, Message: fmt.Sprintf(format, args...)})
}
