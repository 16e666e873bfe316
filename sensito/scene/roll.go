package scene

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"

	"sensito/fit"
	"sensito/sensito"
	"sensito/sensito/camera"
	"sensito/sensito/curve"
	"sensito/sensito/development"
)

// Frame is one scene of a roll.
type Frame struct {
	Name     string
	Stops    float64          // between the darkest and the lightest tone that must keep detail
	Metering *camera.Metering // the spot readings behind Stops; nil when there are none
}

// Roll is how to develop a roll of film whose frames have scenes of unlike
// range: one time for all, and for each the print material that suits it then.
type Roll struct {
	Family *development.Family
	Scene  Scene // aim, flare and placement common to all frames; Stops unused

	Minutes       sensito.Estimate[sensito.Minutes]
	ExposureIndex *sensito.Estimate[sensito.Speed] // nil when the exposures are relative
	DensityRange  sensito.NetDensity               // of the aim
	Frames        []RollFrame                      // in the order given
	Worst         int                              // index of the frame that suffers most
	Warnings      sensito.Warnings
	Extrapolation // of Minutes

	// As of Answer.
	Today                 *Adjustment
	AsTested, Uncorrected *Roll

	design *rollDesign
}

// Tested returns the roll as it is by the trial itself.
func (r *Roll) Tested() *Roll {
	switch {
	case r.AsTested != nil:
		return r.AsTested
	case r.Uncorrected != nil:
		return r.Uncorrected
	}
	return r
}

// givenTime returns the frames with their density ranges as Answer.givenTime has
// them.
func (r *Roll) givenTime(t todaysTime) []RollFrame {
	out := slices.Clone(r.Frames)
	for i := range out {
		p := r.design.answers[r.design.at[i]]
		out[i].DensityRange = *p.givenTime(&out[i].DensityRange, t)
	}
	return out
}

// DensityRangeAt returns the density range that a frame, counted from 0, gets
// when the roll is developed for the given time; for a scan, from net density
// 0.10 on.
func (r *Roll) DensityRangeAt(frame int, t sensito.Minutes) sensito.NetDensity {
	return sensito.NetDensity(r.design.laws[r.design.at[frame]].At(float64(t)))
}

// RollFrame is what one frame gets.
type RollFrame struct {
	Frame
	FilmRange    sensito.LogRange
	DensityRange sensito.Estimate[sensito.NetDensity] // of the negative
	PaperRange   sensito.LogRange                     // the log exposure range that prints it
	Mismatch     sensito.LogRange                     // PaperRange less that of the aim
	Print        *PrintChoice                         // the print material that comes nearest; nil for a scan
	Rest         sensito.LogRange                     // PaperRange less that of Print, 0 for a scan
	Fits         bool                                 // PaperRange lies within what the print materials span
	EV           *camera.EV                           // to set on the camera; nil without spot readings or index
}

// maxFrames is far above the frames of any roll.
const maxFrames = 500

// ForRoll returns the development time that serves all frames: the largest and
// the smallest density range that any of them gets are equally far from the aim.
// With an aim for a scan, whose greatest density no frame may exceed, the frame
// that becomes densest decides. The error is Unanswerable when no time can
// serve, or joins what is wrong with the frames. Time and index are those of the
// scene's Today.
func ForRoll(f *development.Family, s Scene, frames []Frame) (*Roll, error) {
	if n := len(frames); n < 1 || n > maxFrames {
		return nil, fmt.Errorf("%d frames is outside 1 to %d", n, maxFrames)
	}
	s = s.WithDefaults()
	r := &Roll{Family: f, Scene: s, Warnings: append(sensito.Warnings{}, f.Warnings...)}
	d := &rollDesign{family: f, at: make([]int, len(frames))}
	var errs []error
	for i, frame := range frames {
		one := s
		one.Stops, one.Metering = frame.Stops, frame.Metering
		if err := one.Check(); err != nil {
			errs = append(errs, fmt.Errorf("%s: %w", frame.Name, err))
			continue
		}
		r.Frames = append(r.Frames, RollFrame{Frame: frame, FilmRange: one.FilmRange()})
		d.add(i, Unsolved(f, one))
	}
	if err := errors.Join(errs...); err != nil {
		return nil, err
	}
	if err := d.solve(r); err != nil {
		return nil, err
	}
	for i := range r.Frames {
		p := d.answers[d.at[i]]
		r.Frames[i].DensityRange = *p.Delivered
		r.suit(&r.Frames[i], r.DensityRangeAt(i, r.Minutes.Value))
		// The two extremes suffer alike; the first is named.
		if math.Abs(float64(r.Frames[i].Mismatch)) > math.Abs(float64(r.Frames[r.Worst].Mismatch))+1e-4 {
			r.Worst = i
		}
	}
	lo, hi := sensito.Minutes(d.times[0]), sensito.Minutes(d.times[len(d.times)-1])
	extrapolation, warned := extrapolationOf(f, r.Minutes.Value, lo, hi, len(d.times) < len(f.Strips))
	r.Extrapolation, r.Warnings = extrapolation, append(r.Warnings, warned...)
	r.Warnings = append(r.Warnings, ShortTime(r.Minutes.Value)...)
	r.Warnings = append(r.Warnings, s.AimWarnings()...)
	today, err := s.Today.For(f)
	if err != nil {
		return nil, err
	}
	return today.roll(r), nil
}

// rollDesign is a roll while its time is sought. Frames whose tones are placed
// alike share an answer.
type rollDesign struct {
	family  *development.Family
	answers []*Answer
	at      []int // the answer of each frame
	longest int   // the answer whose lightest tone lands furthest up
	table   *development.Table
	laws    []development.Growth // of the density that each answer gains over its run
	fog     fit.Trend
	times   []float64 // of the strips that reach over the longest
}

func (d *rollDesign) add(frame int, p *Answer) {
	i := slices.IndexFunc(d.answers, func(q *Answer) bool { return q.placement == p.placement })
	if i < 0 {
		i = len(d.answers)
		d.answers = append(d.answers, p)
	}
	d.at[frame] = i
}

// grow fits the laws, like those given where they are not nil.
func (d *rollDesign) grow(rows [][]float64, like []development.Growth) ([]development.Growth, error) {
	out := make([]development.Growth, len(d.answers))
	for i := range d.answers {
		var law development.Growth
		if like != nil {
			law = like[i]
		}
		g, err := d.table.Grow(ColumnRise+i, rows, law)
		if err != nil {
			return nil, fmt.Errorf("a scene of %g stops: %w", d.answers[i].Scene.Stops, err)
		}
		out[i] = g
	}
	return out, nil
}

// deciding returns the answers that gain least and most at a time, between which
// it is chosen; for a scan the densest alone decides.
func deciding(laws []development.Growth, s Scene, minutes float64) (least, most int) {
	for i, g := range laws {
		if v := g.At(minutes); v < laws[least].At(minutes) {
			least = i
		} else if v > laws[most].At(minutes) {
			most = i
		}
	}
	if s.ScanMax != 0 {
		least = most
	}
	return least, most
}

// solve finds the time and the index of the roll, and what each answer delivers
// then.
func (d *rollDesign) solve(r *Roll) error {
	f, s := d.family, r.Scene
	d.longest = slices.Index(d.answers, slices.MaxFunc(d.answers, func(a, b *Answer) int { return cmp.Compare(a.RunEnd(), b.RunEnd()) }))
	var runs []Run
	for _, p := range d.answers {
		runs = append(runs, p.over)
	}
	d.table = placedTable(f, f.Strips, runs...)
	d.fog = d.table.Trend(curve.ColumnFog, d.table.Rows, development.Fogging, f.Fog.Degree())
	if d.times, _, _ = d.table.Column(ColumnRise+d.longest, d.table.Rows); len(d.times) < 2 && len(d.times) < len(f.Strips) {
		return d.answers[d.longest].tooShort(len(d.times))
	}
	aim := s.Wanted(sensito.Density(f.Fog.At(development.Fogging(slices.Max(d.times)))))
	if err := d.sought(s, development.Growth{}, float64(aim)).underControl(); err != nil {
		return err
	}
	laws, err := d.grow(d.table.Rows, nil)
	if err != nil {
		return err
	}
	d.laws = laws
	leaning := d.answers[d.longest]
	leaning.leans()
	r.Warnings = append(r.Warnings, leaning.Warnings...)
	told, balanced, err := d.time(d.table.Rows, laws, s, aim)
	if err != nil {
		return d.sought(s, laws[d.longest], balanced).short()
	}
	least, most := deciding(laws, s, told)
	main := laws[most] // whose scatter stands for all
	speed := f.SpeedPoints
	inflate := map[int]float64{curve.ColumnSpeedPoint: speed.Scatter, curve.ColumnFog: f.Fog.Scatter}
	for i := range d.answers {
		inflate[ColumnRise+i] = main.Scatter
	}
	pointAt := f.SpeedPointIn(d.table)
	all, err := d.table.Propagate(inflate, func(rows [][]float64) ([]float64, error) {
		again, err := d.grow(rows, laws)
		if err != nil {
			return nil, err
		}
		minutes, _, err := d.time(rows, again, s, aim)
		return []float64{math.Log(minutes), pointAt(rows, told)}, err
	})
	if errors.Is(err, fit.ErrNoBracket) {
		return d.sought(s, laws[d.longest], balanced).short()
	}
	if err != nil {
		return err
	}
	dof := main.Behind(d.table.DoF)
	var ofAim float64 // the aim's own error, in ln t
	for i := range laws {
		d.answers[i].Aim = sensito.NetDensity(laws[i].At(told))
	}
	if sd := s.WantedSD(); sd > 0 {
		slope := func(g development.Growth) float64 { return 1 / g.PerAim(g.At(told)) }
		ofAim = 2 * sd / (slope(laws[most]) + slope(laws[least]))
	}
	r.Minutes = sensito.Estimate[sensito.Minutes]{Value: sensito.Minutes(told), StdErr: sensito.Minutes(told * math.Hypot(all.SD(0), ofAim)), DoF: fit.JoinedDoF(all.SD(0), dof, ofAim, math.Inf(1)), Log: true, AtLeast: r.Scene.AimOpen()}
	r.DensityRange = sensito.NetDensity(balanced)
	if exposures := f.Trial.Exposures(); exposures.Absolute() {
		h := f.SpeedPointAt(all.Values[1], all.SD(1), fit.ScatterDoF(speed.Scatter, speed.DoF, d.table.DoF))
		r.ExposureIndex = curve.SpeedEstimate(h, func(h sensito.LogExposure) sensito.Speed { return exposures.Meter().Index(h, s.ShadowStops) })
	} else {
		r.Warnings.Add("relative_exposure/5", sensito.ErrRelativeExposure)
	}
	for i, p := range d.answers {
		p.Growth, p.Base.Minutes = laws[i], told
		if err := p.deliver(nil); err != nil {
			return err
		}
	}
	r.design = d
	return nil
}

// time returns when the frames balance about the density wanted by the laws, and
// that density, which is about as told.
func (d *rollDesign) time(rows [][]float64, laws []development.Growth, s Scene, about sensito.NetDensity) (minutes, balanced float64, err error) {
	lo, hi := math.Log(d.times[0]/1000), math.Log(farthest*slices.Max(d.times))
	fog := d.table.TrendLike(curve.ColumnFog, rows, d.fog)
	balance := func(wanted float64) (float64, error) {
		lnT, err := fit.Root(func(lnT float64) float64 {
			minutes := math.Exp(lnT)
			least, most := deciding(laws, s, minutes)
			return (laws[most].At(minutes)+laws[least].At(minutes))/2 - wanted
		}, lo, hi, 1e-9)
		return math.Exp(lnT), err
	}
	return s.TimeFor(balance, func(minutes float64) float64 { return fog.At(development.Fogging(minutes)) }, about)
}

// sought returns what is wanted of the time of the roll: for each strip that
// reaches over the longest scene the mean of the largest and the smallest density
// range, or for a scan the largest density.
func (d *rollDesign) sought(scene Scene, g development.Growth, aim float64) sought {
	s, tb := sought{scene: scene, aim: aim}, d.table
	s.t, _, _ = tb.Timed(ColumnRise+d.longest, g)
	for j, row := range tb.Rows {
		if !tb.Gives(j, ColumnRise+d.longest) {
			continue
		}
		least, most := ColumnRise, ColumnRise
		for i := ColumnRise; i < ColumnRise+len(d.answers); i++ {
			if row[i] < row[least] {
				least = i
			}
			if row[i] > row[most] {
				most = i
			}
		}
		if scene.ScanMax != 0 {
			least = most
		}
		s.y = append(s.y, (row[least]+row[most])/2)
		s.sd = append(s.sd, (tb.SD[j][least]+tb.SD[j][most])/2)
	}
	longest, shortest := d.answers[d.longest], slices.MinFunc(d.answers, func(a, b *Answer) int { return cmp.Compare(a.Scene.Stops, b.Scene.Stops) })
	scenes := fmt.Sprintf("scenes of %s and %s stops", stopsText(shortest.Scene.Stops), stopsText(longest.Scene.Stops))
	s.name = "the mean density range of " + scenes
	s.wish = fmt.Sprintf("a mean density range of %.2f in %s", aim, scenes)
	if shortest == longest {
		s.name, s.wish = longest.wish(aim)
	}
	return s.scanned()
}

// short says why no time serves a roll.
func (s sought) short() error {
	g, err := development.FitGrowth(s.t, s.y, s.sd, development.Growth{})
	if err != nil {
		return err
	}
	return s.unreached(g)
}

// suit finds the print material for a frame, whose density gains so much over
// the aimed run.
func (r *Roll) suit(frame *RollFrame, gained sensito.NetDensity) {
	s := r.Scene
	with := s.suited(frame.DensityRange.Value)
	frame.PaperRange, frame.Print, frame.Rest, frame.Fits = with.paperRange, with.print, with.rest, with.fits
	frame.Mismatch = frame.PaperRange - sensito.LogRange(float64(r.DensityRange)*s.Callier)
	if s.ScanMax != 0 { // which the lightest tone must suit, wherever the darkest lies
		frame.Mismatch = sensito.LogRange(gained - r.DensityRange)
	}
	if !frame.Fits {
		r.Warnings = append(r.Warnings, with.outOfPaper(frame.Name, frame.DensityRange.Value))
	}
	if m := frame.Metering; m != nil && r.ExposureIndex != nil {
		ev := m.Exposure(r.ExposureIndex.Value)
		frame.EV = &ev
	}
}
