package scene

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"sensito/fit"
	"sensito/sensito"
	"sensito/sensito/camera"
	"sensito/sensito/development"
	"sensito/sensito/paper"
)

// Check returns an error naming what is outside its limits.
func (g Given) Check() error {
	if err := camera.CheckMeterIndex(g.Index); err != nil {
		return err
	}
	if g.Keep != "" && !slices.Contains(AllKept, g.Keep) {
		return fmt.Errorf("what to keep, %q, is none of %s, %s and %s", g.Keep, KeepHighlight, KeepMetered, KeepRange)
	}
	return nil
}

// ForIndex returns how long to develop film that is exposed at an index that is
// given: the time at which the lightest or the metered tone has the net density, or the
// scene the density range, of the answer of For, as a plain number. The film follows the
// same laws as there, so at the index of that answer the time is that answer's. The
// error is Unanswerable where For cannot tell the density that is kept, and where no
// time gives it; it says what would serve.
func ForIndex(f *development.Family, s Scene, g Given) (*Answer, error) {
	if err := g.Check(); err != nil {
		return nil, err
	}
	if g.Keep == "" {
		g.Keep = KeepHighlight
	}
	normal, err := asTested(f, s, tableTones())
	if err != nil {
		return nil, err
	}
	if normal.ExposureIndex == nil {
		return nil, &sensito.Unanswerable{
			Reason: "an exposure index needs exposures that are known in lux seconds: those of the trial are relative",
			Hint:   "state the illuminance and the seconds of the strips, or expose an even target by the meter, kind = \"camera\"",
		}
	}
	today, err := s.Today.For(f)
	if err != nil {
		return nil, err
	}
	if !today.Corrects() || today.Drift.SpeedStops == nil {
		return normal.exposedAt(g, today, nil)
	}
	// Film that has lost speed is exposed as though its index were higher.
	without := *today
	without.Correct = false
	was, err := normal.exposedAt(g, &without, nil)
	if err != nil {
		return nil, err
	}
	p, err := normal.exposedAt(g, today, today.Drift.SpeedStops)
	if err != nil {
		return nil, err
	}
	p.Uncorrected = was
	if p.AsTested != nil {
		p.AsTested = was.AsTested
	}
	return p, nil
}

// indexTime is how the time at an index that is given was found.
type indexTime struct {
	normal  *Answer
	given   Given
	metered sensito.LogExposure // of the metered tone, as the film of the trial has it
	gained  sensito.LogRange    // by which that is more than the index says
	tone    float64             // kept, or the lightest of the range, in stops from the metered one
	density float64             // that is kept, in normal: net of the tone, or the range
	film    filmAt              // of the strips of normal
	slope   float64             // of the density kept by log exposure
	alone   keptAlone
}

// exposedAt returns the answer at an index that is given, adjusted to today, for film
// that has gained speed, in stops; nil for none.
func (p *Answer) exposedAt(g Given, today *Adjustment, gained *sensito.Estimate[float64]) (*Answer, error) {
	exposures := p.Family.Trial.Exposures()
	x := &indexTime{normal: p, given: g}
	unsure := unsureExposure{float64(exposures.CommonSD()), math.Inf(1)}
	if gained != nil {
		x.gained = sensito.LogRange(gained.Value) * sensito.Stop
		unsure.sd, unsure.dof = fit.Joined(unsure.sd, unsure.dof, gained.StdErr*float64(sensito.Stop), gained.DoF)
	}
	x.metered = exposures.Meter().LogExposure(g.Index).Add(x.gained)
	x.film = p.filmIn(p.Table())
	out, err := x.solve(unsure)
	if err != nil {
		return nil, err
	}
	normal, err := today.Adjust(p)
	if err != nil {
		return nil, err
	}
	if out, err = today.Adjust(out); err != nil {
		return nil, err
	}
	for _, before := range []*Answer{out.AsTested, out.Uncorrected} {
		if before != nil {
			before.AtIndex = x.describe(before, p)
		}
	}
	out.AtIndex = x.describe(out, normal)
	if out.AtIndex.black, err = out.printsBlack(); err != nil {
		return nil, err
	}
	for _, keep := range AllKept {
		if keep != g.Keep {
			out.AtIndex.Others = append(out.AtIndex.Others, x.other(keep, out.Minutes.Value/sensito.Minutes(out.Base.Minutes), out.exposure))
		}
	}
	return out, nil
}

// other returns the time that keeps something else, exposed only so surely, so many times as
// long as in the trial; without minutes where that cannot be answered.
func (x *indexTime) other(keep Kept, longer sensito.Minutes, unsure unsureExposure) KeptTime {
	o := *x
	o.given.Keep = keep
	p, err := o.solve(unsure)
	if err != nil {
		return KeptTime{Keep: keep}
	}
	minutes := p.Base.Minutes
	return KeptTime{keep, sensito.NetDensity(o.wanted(minutes, o.film.fogOf(o.film.table.Rows))), sensito.Minutes(minutes) * longer}
}

// run returns the part of the curve over which the density kept is gained.
func (x *indexTime) run(at Placement) Run {
	r := at.Run()
	switch x.given.Keep {
	case KeepMetered:
		r.To = at.Above(0)
		fallthrough
	case KeepHighlight:
		r.From, r.fromNet = 0, true
	}
	return r
}

// placed returns where the tones land when the film is developed for so many minutes.
func (x *indexTime) placed(minutes float64) Placement {
	at := x.normal.placement
	at.ShadowStops = float64(x.metered.Sub(sensito.LogExposure(x.film.pointAt(x.film.table.Rows, minutes)))) / float64(sensito.Stop)
	return at
}

// scans says that the tone kept is the one that a scan gives a density of its own.
func (x *indexTime) scans() bool {
	return x.normal.Scene.ScanMax != 0 && x.given.Keep == KeepHighlight
}

// wanted returns the density that is kept: for the lightest tone of a scan it depends on
// base plus fog.
func (x *indexTime) wanted(minutes float64, fogAt func(minutes float64) float64) float64 {
	if x.scans() {
		return float64(x.normal.Scene.ScanMax) - fogAt(minutes)
	}
	return x.density
}

// times returns the shortest and the longest time of the strips that reach over the
// scene at the film's own index.
func (x *indexTime) times() (shortest, longest float64) {
	t, _, _ := x.film.table.Column(ColumnRise, x.film.table.Rows)
	return slices.Min(t), slices.Max(t)
}

// begin finds what is kept, and begins the answer that keeps it.
func (x *indexTime) begin() (*Answer, error) {
	normal := x.normal
	if x.tone = 0; x.given.Keep != KeepMetered {
		x.tone = normal.placement.Lightest
	}
	p := Unsolved(normal.Family, normal.Scene)
	p.Growth, p.Aim, p.alone = normal.Growth, normal.Aim, &x.alone
	kept, err := x.normally(normal.Base.Minutes)
	x.density = kept
	return p, err
}

// normally returns what is kept as the film has it at its own index when it is developed
// for so many minutes.
func (x *indexTime) normally(minutes float64) (float64, error) {
	r := x.run(x.normal.placement)
	n, err := x.normal.negative(r.around())
	if err != nil {
		return 0, err
	}
	kept, _ := r.of(n.netsAt(n.table.Rows, minutes))
	return kept, nil
}

// solve finds the time, and what the film has then, exposed only so surely.
func (x *indexTime) solve(unsure unsureExposure) (*Answer, error) {
	p, err := x.begin()
	if err != nil {
		return nil, err
	}
	p.exposure = unsure
	minutes, err := x.time(p)
	if err != nil {
		return nil, err
	}
	p.placement = x.placed(minutes)
	p.Warnings = append(p.Warnings, p.Family.Warnings...)
	p.leans()
	if err := x.estimate(p, minutes); err != nil {
		return nil, err
	}
	p.ExposureIndex = &sensito.Estimate[sensito.Speed]{Value: x.given.Index, DoF: math.Inf(1)}
	if err := p.deliver(nil); err != nil {
		return nil, err
	}
	if !p.Delivered.Known(reportedLevel) {
		return nil, x.beyondStrips(p)
	}
	if p.Tones, err = p.tones(tableTones()); err != nil {
		return nil, err
	}
	p.DensityRange = p.Delivered.Value
	p.AverageGradient = float64(p.DensityRange) / float64(p.FilmRange)
	x.warn(p)
	return p, nil
}

// reportedLevel is that of intervals unless told otherwise.
const reportedLevel = 0.95

// time returns when the film has the density kept. The places of a negative count from
// the speed point, which moves a little with the time.
func (x *indexTime) time(p *Answer) (float64, error) {
	fogAt := x.film.fogOf(x.film.table.Rows)
	shortest, longest := x.times()
	lnT := math.Log(x.normal.Base.Minutes)
	const rounds = 20
	for range rounds {
		p.placement = x.placed(math.Exp(lnT))
		r := x.run(p.placement)
		n, err := p.negative(r.around())
		if err != nil {
			return 0, err
		}
		over := func(lnT float64) float64 {
			t := math.Exp(lnT)
			kept, slope := r.of(n.netsAt(n.table.Rows, t))
			x.slope = slope
			return kept + slope*float64(x.run(x.placed(t)).To-r.To) - x.wanted(t, fogAt)
		}
		if math.IsNaN(over(lnT)) {
			return 0, x.beyondStrips(p)
		}
		was := lnT
		lnT, err = fit.RootFrom(over, was, 0.05, math.Log(farthest*farthest*longest/shortest), 1e-12)
		switch {
		case err != nil && over(was) > 0 || err == nil && math.Exp(lnT) < shortest/farthest:
			return 0, x.tooShort(shortest)
		case err != nil || math.Exp(lnT) > farthest*longest:
			return 0, x.tooLong(p, longest)
		}
		over(lnT)
		if math.Abs(lnT-was) < 1e-10 {
			break
		}
	}
	return math.Exp(lnT), nil
}

// ask makes an answer to what is asked of the time when the tones land as the
// placement of p has them, and returns its table.
func (x *indexTime) ask(p *Answer, minutes float64) (*development.Table, error) {
	s := x.normal.Scene
	r := x.run(p.placement)
	gained := r.gained(x.wanted(minutes, x.film.fogOf(x.film.table.Rows)))
	if !x.scans() {
		s.ScanMax, s.Paper, s.Callier, s.DensityRange = 0, nil, 1, sensito.NetDensity(gained)
	}
	k := Unsolved(p.Family, s)
	k.placement, k.over = p.placement, r
	k.Aim, k.parts = sensito.NetDensity(gained), &development.MeasuredParts{}
	tb := k.Table()
	if len(tb.Rows) == 0 {
		return nil, x.beyondStrips(p)
	}
	var err error
	k.Growth, err = tb.Grow(ColumnRise, tb.Rows, development.Growth{})
	x.alone.answer = k
	return tb, err
}

// estimate finds the error of the time, and what the film has then. The time follows the
// growth of the density kept, whose place on the curve moves with the speed points.
func (x *indexTime) estimate(p *Answer, minutes float64) error {
	tb, err := x.ask(p, minutes)
	if err != nil {
		return err
	}
	k, g := x.alone.answer, x.alone.answer.Growth
	film := p.filmIn(tb)
	film.minutes, x.film.minutes = minutes, minutes
	point := film.pointAt(tb.Rows, minutes)
	// lnTime is for film that is exposed by so much less.
	lnTime := func(rows [][]float64, less float64) (float64, error) {
		g, err := tb.Grow(ColumnRise, rows, g)
		if err != nil {
			return 0, err
		}
		fogAt := film.fogOf(rows)
		return fit.RootFrom(func(lnT float64) float64 {
			t := math.Exp(lnT)
			return g.At(t) - k.over.gained(x.wanted(t, fogAt)) - x.slope*(film.pointAt(rows, t)-point+less)
		}, math.Log(minutes), 0.02, math.Log(1000), 1e-10)
	}
	const lnMinutes, lnAlone, ofFilm = 0, 1, 2 // of the propagated values
	d, err := tb.Propagate(film.inflated(g), func(rows [][]float64) ([]float64, error) {
		ln, err := lnTime(rows, 0)
		if err != nil {
			return nil, err
		}
		g, err := tb.Grow(ColumnRise, rows, g)
		if err != nil {
			return nil, err
		}
		fogAt := film.fogOf(rows)
		alone, _, err := k.Scene.TimeFor(g.Time, fogAt, k.Aim)
		if err != nil {
			return nil, err
		}
		return append([]float64{ln, math.Log(alone)}, film.values(rows, fogAt)...), nil
	})
	if errors.Is(err, fit.ErrBeyondLimit) || errors.Is(err, fit.ErrNoBracket) {
		_, longest := x.times()
		return x.tooLong(p, longest)
	}
	if err != nil {
		return err
	}
	held, err := k.heldSD(tb, g)
	if err != nil {
		return err
	}
	const less = 0.01
	nearer, err := lnTime(tb.Rows, -less)
	if err != nil {
		return err
	}
	perLogH := (d.Values[lnMinutes] - nearer) / less // of ln t
	total := math.Hypot(d.SD(lnMinutes), perLogH*p.exposure.sd)
	alone := math.Exp(d.Values[lnAlone])
	x.alone.lnTold, x.alone.more = math.Log(minutes/alone), math.Sqrt(math.Max(0, total*total-math.Pow(d.SD(lnAlone), 2)))

	p.shares, p.parts = tb.Shares(d, lnMinutes), k.parts
	k.shares = p.shares
	p.Base = k.TimeBase(tb, g, alone, total, held)
	limits := p.Base.limits
	p.Base.limits = func(level float64) (low, high float64, ok bool) {
		low, high, ok = limits(level)
		return low * minutes / alone, high * minutes / alone, ok
	}
	p.Base.Minutes, p.Base.atLeast = minutes, x.normal.Scene.AimOpen()
	p.Base.ofAim = x.ofAim() * g.PerAim(float64(k.Aim))
	p.ofExposure = perLogH * p.exposure.sd
	p.Minutes = p.Base.Estimate(minutes, total, 0, math.Inf(1))
	if _, high := p.Minutes.Closed(reportedLevel); math.IsInf(float64(high), 1) {
		p.Warnings.Add("open_interval")
	}
	film.tell(p, d.From(ofFilm), g)
	own := x.film.values(x.film.table.Rows, x.film.fogOf(x.film.table.Rows)) // of all strips of normal
	p.SpeedPoint.Value, p.BaseFog.Value = sensito.LogExposure(own[filmSpeedPoint]), sensito.Density(own[filmBaseFog])
	return nil
}

// ofAim returns the standard deviation of the density kept that comes from the print
// material's own test.
func (x *indexTime) ofAim() float64 {
	sd := x.normal.Scene.WantedSD()
	if sd == 0 {
		return 0
	}
	const by = 0.01 // of ln t
	t := x.normal.Base.Minutes
	more, err := x.normally(t * math.Exp(by))
	less, errLess := x.normally(t * math.Exp(-by))
	if err != nil || errLess != nil {
		return math.Inf(1)
	}
	return sd * x.normal.Growth.PerAim(float64(x.normal.Aim)) * (more - less) / (2 * by)
}

// warn adds the warnings of the time and of where the tones land.
func (x *indexTime) warn(p *Answer) {
	shortest, longest := x.times()
	left := len(p.Family.Strips) - len(x.film.table.Rows)
	if left > 0 {
		p.Warnings.Add("strip_left_out/4", left, len(p.Family.Strips), float64(p.FilmRange))
	}
	lo, hi := sensito.Minutes(shortest), sensito.Minutes(longest)
	extrapolation, warned := extrapolationOf(p.Family, p.Minutes.Value, lo, hi, left > 0)
	p.Extrapolation, p.Warnings = extrapolation, append(p.Warnings, warned...)
	if p.Extrapolated && p.Minutes.Value > hi {
		if most, ok := x.mostAt(longest); ok {
			p.Warnings.Add("other_index", figures(most), hi.Clock(1))
		}
	}
	p.Warnings = append(p.Warnings, p.short()...)
	p.Warnings = append(p.Warnings, p.Scene.AimWarnings()...)
	p.onShoulder()
	if x.scans() && p.Family.Trial.Reading().Zero == sensito.ZeroBase {
		p.Warnings.Add("zero_on_base/3")
	}
}

// describe returns what the index makes of the scene.
func (x *indexTime) describe(p, normal *Answer) *AtIndex {
	own := normal.ExposureIndex
	a := &AtIndex{Given: x.given, Normal: normal, Tone: x.tone, Density: sensito.NetDensity(x.wanted(p.Base.Minutes, x.film.fogOf(x.film.table.Rows))),
		Push: sensito.Estimate[float64]{Value: math.Log2(float64(x.given.Index / own.Value)), StdErr: float64(own.StdErr/own.Value) / math.Ln2, DoF: own.DoF}}
	h := p.Family.SpeedPointAt(float64(p.SpeedPoint.Value), float64(p.SpeedPoint.StdErr), p.SpeedPoint.DoF)
	a.SpeedPoint = sensito.Estimate[float64]{Value: -p.placement.ShadowStops, StdErr: sensito.LogRange(h.StdErr).Stops(), DoF: h.DoF}
	a.Lost = math.Min(math.Max(0, a.SpeedPoint.Value-p.placement.Darkest), p.Scene.Stops)
	suited := p.Scene.suited(p.Delivered.Value)
	a.PaperRange, a.Print, a.Rest = suited.paperRange, suited.print, suited.rest
	if !suited.fits {
		p.Warnings = append(p.Warnings, suited.outOfPaper("the scene", p.Delivered.Value))
	}
	return a
}

// printsBlack returns the tone that prints at the paper's black point, in stops from the
// metered one, nil where none is dark enough, and without a tested paper.
func (p *Answer) printsBlack() (*float64, error) {
	if !p.prints() {
		return nil, nil
	}
	const step, below = 0.125, 3 // stops; below the darkest tone
	var at []float64
	for l := p.placement.Lightest; l >= p.placement.Darkest-below; l -= step {
		at = append(at, l)
	}
	tones, err := p.tones(at)
	if err != nil {
		return nil, err
	}
	wanted := paper.NegativeRange(p.Scene.paperRange(), p.Scene.Callier)
	last, density := at[0], sensito.NetDensity(0) // below the lightest tone
	for i, t := range tones[1:] {
		if t.NetDensity == nil {
			break
		}
		d := tones[0].NetDensity.Value - t.NetDensity.Value
		if d >= wanted {
			stops := last + (at[i+1]-last)*float64((wanted-density)/(d-density))
			return &stops, nil
		}
		last, density = at[i+1], d
	}
	return nil, nil
}
