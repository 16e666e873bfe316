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

// Scene is what a scene asks of a negative. Zero fields other than Stops stand
// for the defaults.
type Scene struct {
	Stops       float64 // between the darkest and the lightest tone that must keep detail
	Flare       sensito.Flare
	ShadowStops float64 // how far below the metered exposure the speed point is placed; 0 means 4

	// The aim: the log exposure range of the print material, which is the
	// density range of a negative printed by diffuse light. 0 means that of
	// Paper, or DefaultDensityRange.
	DensityRange sensito.NetDensity
	Paper        *curve.PaperStrip // the print material, where it was tested
	Grade        string            // of the published table, where DensityRange was taken from it
	Callier      float64           // printing density over diffuse density; 0 means 1, a diffusion enlarger

	// ScanMax is the gross density that the lightest tone may reach, for a
	// negative that is scanned; it takes the place of the above.
	ScanMax sensito.Density

	Metering *camera.Metering // the spot readings behind Stops; nil when there are none

	Today Today // how film is developed, where that is not as in the trial
}

// WithDefaults returns the scene with the defaults in place of zero fields.
func (s Scene) WithDefaults() Scene {
	if s.DensityRange == 0 {
		s.DensityRange = DefaultDensityRange
	}
	if s.ShadowStops == 0 {
		s.ShadowStops = DefaultShadowStops
	}
	if s.Callier == 0 {
		s.Callier = 1
	}
	return s
}

// The least that a negative may be asked for.
const (
	leastDensityRange sensito.NetDensity = 0.2
	leastScanMax      sensito.Density    = 0.5
)

// Check returns an error naming what in the scene is outside its limits.
func (s Scene) Check() error {
	s = s.WithDefaults()
	limit := func(name string, v, lo, hi float64) error {
		if !(v >= lo && v <= hi) {
			return fmt.Errorf("%s %g is outside %g to %g", name, v, lo, hi)
		}
		return nil
	}
	err := errors.Join(
		limit("scene range in stops", s.Stops, 1, 20),
		limit("density range", float64(s.DensityRange), float64(leastDensityRange), 3),
		limit("shadow stops", s.ShadowStops, 1, 10),
		limit("Callier coefficient", s.Callier, 1, 2),
	)
	if s.ScanMax != 0 {
		err = errors.Join(err, limit("greatest density for a scan", float64(s.ScanMax), float64(leastScanMax), 6))
	}
	if s.Paper != nil && s.Paper.LogRange == nil {
		err = errors.Join(err, fmt.Errorf("%s has no range to aim at", s.Paper.Name()))
	}
	switch s.Flare.Kind {
	case "", sensito.FlareFixed:
		err = errors.Join(err, limit("flare loss", s.Flare.Value, 0, 2))
	case sensito.FlareVeil:
		err = errors.Join(err, limit("flare veil", s.Flare.Value, 0, 0.5))
	case sensito.FlareNone:
	default:
		err = errors.Join(err, fmt.Errorf("flare %q is not fixed, veil or none", s.Flare.Kind))
	}
	if err == nil && s.FilmRange() < 0.3 {
		err = fmt.Errorf("flare leaves %.2f log H of a scene of %g stops: too little to develop for", float64(s.FilmRange()), s.Stops)
	}
	return err
}

func (s Scene) FilmRange() sensito.LogRange { return s.Flare.Range(s.logRange()) }

// Tone is one tone of a scene on its way to the print.
type Tone struct {
	Stops      float64                               // from the metered tone
	Film       sensito.LogExposure                   // at the film, flare included
	NetDensity *sensito.Estimate[sensito.NetDensity] // nil where the exposures of the trial do not reach
	Print      *sensito.Estimate[sensito.Density]    // nil likewise, and without a tested paper
}

// Plan is how to expose and develop for one scene.
type Plan struct {
	Family *development.Family
	Scene  Scene // defaults filled in

	FilmRange       sensito.LogRange
	Veil            float64            // of flare, as a fraction of the luminance of the lightest tone
	DensityRange    sensito.NetDensity // of the negative: the aim, or for a scan what comes of it
	AverageGradient float64            // DensityRange over FilmRange
	N               float64            // 7 less the scene range in stops: 0 is normal, +1 an expansion

	Minutes       sensito.Estimate[sensito.Minutes]
	ExposureIndex *sensito.Estimate[sensito.Speed] // nil when the exposures are relative

	// Delivered is the density range that the scene gets at Minutes and
	// ExposureIndex, taken as plain numbers.
	Delivered *sensito.Estimate[sensito.NetDensity]

	// Ends are the darkest and the lightest tone that must keep detail.
	Ends [2]Tone

	ContrastIndex *sensito.Estimate[float64]
	BaseFog       sensito.Estimate[sensito.Density]
	Extrapolated  bool // Minutes lies outside the tested times
	Tones         []Tone
	Warnings      []sensito.Warning

	placement  Placement
	SpeedPoint sensito.Estimate[sensito.LogExposure] // at Minutes, by the strips alone
	over       Run                                   // on which the aim says what the density gains
	Aim        sensito.NetDensity                    // density gained over it
	Growth     development.Growth                    // of that
	Base       TimeBase
	parts      *development.MeasuredParts
	today      todaysTime // as all densities count it

	// Today is what the process of today makes of the trial's, nil for as in the
	// trial. AsTested is the plan under the conditions of the trial, nil where they
	// are those of today; Uncorrected is the plan of today less the correction by a
	// control log, nil without one.
	Today                 *Adjustment
	AsTested, Uncorrected *Plan
}

// Tested returns the plan as it is by the trial itself.
func (p *Plan) Tested() *Plan {
	switch {
	case p.AsTested != nil:
		return p.AsTested
	case p.Uncorrected != nil:
		return p.Uncorrected
	}
	return p
}

// SceneRise is the column of a scene's table after those of the strips: the
// density rise over the scene.
const SceneRise = curve.ColumnFractional + 1

const LowestTone, HighestTone = -5, 5 // stops from the metered exposure

// For returns the exposure index and the development time at which the tones of
// the scene, exposed at that index with flare, span the density range of the
// aim. Each strip says what density it gains between the places where the
// darkest and the lightest tone land, from the speed point that the strips
// together give its development, and first-order kinetics give the time between
// the strips.
// Both are those of the scene's Today. The error is Unanswerable when no time can
// serve, and says what would.
func For(f *development.Family, s Scene) (*Plan, error) {
	p, err := planFor(f, s)
	if err != nil {
		return nil, err
	}
	if err := p.solveTones(); err != nil {
		return nil, err
	}
	today, err := s.Today.For(f)
	if err != nil {
		return nil, err
	}
	return today.Plan(p)
}

// planFor is For as in the trial, without the table of tones.
func planFor(f *development.Family, s Scene) (*Plan, error) {
	if err := s.Check(); err != nil {
		return nil, err
	}
	s = s.WithDefaults()
	p := PlanOf(f, s)
	p.Warnings = append(p.Warnings, f.Warnings...)

	tb := p.Table()
	t, _, _ := tb.Column(SceneRise, tb.Rows)
	if len(t) < len(f.Strips) {
		p.warn("strip_left_out", "%d of %d strips do not reach from their speed point over the %.2f log H of this scene",
			len(f.Strips)-len(t), len(f.Strips), float64(p.FilmRange))
	}
	if len(t) < 2 && len(t) < len(f.Strips) {
		return nil, p.TooShort(len(t))
	}
	p.leans()
	p.Aim = s.Wanted(sensito.Density(p.Family.Fog.At(math.Log(t[len(t)-1]))))
	if err := p.Sought(tb, development.Growth{}).UnderControl(); err != nil {
		return nil, err
	}
	g, err := tb.Grow(SceneRise, tb.Rows, "")
	if err != nil {
		return nil, err
	}
	lo, hi := sensito.Minutes(t[0]), sensito.Minutes(t[len(t)-1])
	if err := p.solve(tb, g); err != nil {
		return nil, err
	}
	if err := p.deliver(); err != nil {
		return nil, err
	}
	if p.DensityRange = p.Aim; s.ScanMax != 0 {
		p.DensityRange = p.Delivered.Value
	}
	p.AverageGradient = float64(p.DensityRange) / float64(p.FilmRange)
	p.Extrapolated = p.Minutes.Value < lo || p.Minutes.Value > hi
	if p.Extrapolated {
		p.warn("extrapolated", "%s", outsideTimes(p.Minutes.Value, lo, hi, len(t) < len(f.Strips)))
		if advice := s.advice(g, p.Aim, float64(lo), float64(hi)); advice != "" {
			p.warn("other_paper", "within the tested times %s", advice)
		}
	}
	p.Warnings = append(p.Warnings, p.short()...)
	p.Warnings = append(p.Warnings, s.AimWarnings()...)
	p.onShoulder()
	if s.ScanMax != 0 && f.Trial.Reading().Zero == sensito.ZeroBase {
		p.warn("zero_on_base", "the densitometer was zeroed on the base, so the density for the scan is above it: take the density of the base off what the scanner bears")
	}
	return p, nil
}

// PlanOf returns what is known of a plan before its strips are asked. The
// defaults of the scene are filled in.
func PlanOf(f *development.Family, s Scene) *Plan {
	at := s.Placement()
	return &Plan{Family: f, Scene: s, FilmRange: s.FilmRange(), Veil: at.Veil, N: camera.NormalStops - s.Stops, placement: at, over: s.aimedRun(), today: todaysTime{dof: math.Inf(1)}, Warnings: []sensito.Warning{}}
}

// Placement returns where the tones of the plan's scene land on the film.
func (p *Plan) Placement() Placement { return p.placement }

// Table returns the quantities of the strips with their density rise over the
// aimed run.
func (p *Plan) Table() *development.Table {
	return p.tableOf(p.Family.Strips)
}

// tableOf is table for other strips beside those of the family.
func (p *Plan) tableOf(strips []*curve.Measured) *development.Table {
	return placedTable(p.Family, strips, p.over)
}

// outsideTimes says that a time lies outside those of the strips that tell it;
// some says that they are not all that were tested.
func outsideTimes(told, lo, hi sensito.Minutes, some bool) string {
	of := "the tested times"
	if some {
		of = "the times of the strips that reach this scene"
	}
	return fmt.Sprintf("%s lies outside %s, %s to %s: test a strip there before relying on it", told.Clock(1), of, lo.Clock(1), hi.Clock(1))
}

// RunEnd returns how far above the speed point the lightest tone lands.
func (p *Plan) RunEnd() sensito.LogRange { return p.placement.Run().To }

// leans warns of strips whose curve is used beyond their readings.
func (p *Plan) leans() {
	var strong, faint []int // strips that are used beyond that end
	var over, under sensito.LogRange
	for _, m := range p.Family.Strips {
		h, err := placedAt(p.Family, m, m.Fit.Curve)
		if err != nil {
			continue
		}
		lo, hi := m.Fit.Curve.Domain()
		const least sensito.LogRange = 0.005
		if beyond := h.Add(p.RunEnd()).Sub(hi); beyond > least && beyond <= SceneReach {
			strong, over = append(strong, m.Strip.Number()), max(over, beyond)
		}
		if below := lo.Sub(h); below > least {
			faint, under = append(faint, m.Strip.Number()), max(under, below)
		}
	}
	if len(strong) > 0 {
		p.warn("strip_extrapolated", "the lightest tone needs curves up to %.2f log H beyond their last step (strip %s); the interval counts that a shoulder may begin there", float64(over), sensito.StepList(slices.Sorted(slices.Values(strong))))
	}
	if len(faint) > 0 {
		p.warn("strip_extrapolated", "speed points lie up to %.2f log H below the faintest step (strip %s): give the next strips less exposure", float64(under), sensito.StepList(slices.Sorted(slices.Values(faint))))
	}
}

// onShoulder warns where the lightest tones lie on the shoulder, which then does
// what a shorter development seems to: on the strip developed for the time
// nearest to the plan's the slope at the lightest tone is under half of gamma.
func (p *Plan) onShoulder() {
	nearest := slices.MinFunc(p.Family.Strips, func(a, b *curve.Measured) int {
		apart := func(m *curve.Measured) float64 { return math.Abs(math.Log(float64(m.Minutes() / p.Minutes.Value))) }
		return cmp.Compare(apart(a), apart(b))
	})
	c := nearest.Fit.Curve
	m, err := placedAt(p.Family, nearest, c)
	if err != nil {
		return
	}
	if gamma, _ := curve.Steepest(c); c.Slope(m.Add(p.RunEnd())) < gamma/2 {
		p.warn("on_shoulder", "the lightest tones lie on the shoulder of the film, where they are hardly told apart; it shortens the range, not the development. Less exposure (%.3g stops or so from the metered tone to the speed point, in place of %.3g) keeps them off it, at the cost of the darkest", max(1, p.Scene.ShadowStops-1), p.Scene.ShadowStops)
	}
}

// TimeFor returns the development time that gives the density wanted, and that
// density, which stands with the error too. With a scan it depends on base plus
// fog, and so on the time, but so little that a few rounds settle it.
func (s Scene) TimeFor(time func(wanted float64) (minutes float64, err error), fog func(minutes float64) float64, about sensito.NetDensity) (minutes, wanted float64, err error) {
	wanted = float64(about)
	const rounds = 40
	for range rounds {
		if minutes, err = time(wanted); err != nil {
			return 0, wanted, err
		}
		settled := wanted
		if wanted = float64(s.Wanted(sensito.Density(fog(minutes)))); math.Abs(wanted-settled) < 1e-9 {
			return minutes, wanted, nil
		}
	}
	return 0, wanted, fmt.Errorf("fog grows with the density: %w", fit.ErrBeyondLimit)
}

// solve finds time, exposure index and tones together, so that the errors of
// each count the errors of all they rest on.
func (p *Plan) solve(tb *development.Table, g development.Growth) error {
	fog := tb.Trend(curve.ColumnFog, tb.Rows, math.Log, -1)
	fogOf := func(rows [][]float64) func(minutes float64) float64 {
		law := tb.Trend(curve.ColumnFog, rows, math.Log, fog.Degree())
		return func(minutes float64) float64 { return law.At(math.Log(minutes)) }
	}
	told, aim, err := p.Scene.TimeFor(g.Time, fogOf(tb.Rows), p.Aim)
	p.Aim, p.Growth = sensito.NetDensity(aim), g
	wished := p.Sought(tb, g)
	if short := wished.reached(g); short != nil {
		return short
	}
	if err != nil {
		return wished.unreached(g)
	}
	speed := p.Family.SpeedPoints
	inflate := map[int]float64{SceneRise: g.Scatter, curve.ColumnSpeedPoint: speed.Scatter, curve.ColumnFog: fog.Scatter}
	inflate[curve.ColumnIndex] = g.Scatter
	indexLaw := tb.Law(curve.ColumnIndex)
	d, err := tb.Propagate(inflate, func(rows [][]float64) ([]float64, error) {
		g, err := tb.Grow(SceneRise, rows, g.Model)
		if err != nil {
			return nil, err
		}
		fogAt := fogOf(rows)
		minutes, _, err := p.Scene.TimeFor(g.Time, fogAt, p.Aim)
		if err != nil {
			return nil, err
		}
		// The rest is what the film gives when developed for the time told, so
		// the error of the time itself does not enter.
		return []float64{math.Log(minutes),
			p.Family.SpeedPointIn(tb, rows, told),
			fogAt(told),
			tb.Along(curve.ColumnIndex, rows, indexLaw, told)}, nil
	})
	if errors.Is(err, fit.ErrBeyondLimit) {
		return wished.unreached(g)
	}
	if err != nil {
		return err
	}

	const ( // of the propagated values
		lnMinutes = iota
		speedPoint
		baseFog
		index
	)
	dof := fit.ScatterDoF(g.Scatter, g.DoF, tb.DoF)
	p.parts = &development.MeasuredParts{}
	held, err := p.heldSD(tb, g)
	if err != nil {
		return err
	}
	p.Base = p.TimeBase(tb, g, math.Exp(d.Values[lnMinutes]), d.SD(lnMinutes), held)
	p.Minutes = p.Base.Estimate(p.Base.Minutes, p.Base.Total, 0, math.Inf(1))
	if _, high := p.Minutes.Closed(0.95); math.IsInf(float64(high), 1) {
		p.warn("open_interval", "the strips do not exclude that the aim is out of reach, so the time has no upper limit: develop a strip for longer")
	}
	p.BaseFog = sensito.Estimate[sensito.Density]{Value: sensito.Density(d.Values[baseFog]), StdErr: sensito.Density(d.SD(baseFog)), DoF: fit.ScatterDoF(fog.Scatter, fog.DoF, tb.DoF)}
	if v := d.Values[index]; !math.IsNaN(v) {
		p.ContrastIndex = &sensito.Estimate[float64]{Value: v, StdErr: d.SD(index), DoF: dof}
	}
	p.SpeedPoint = sensito.Estimate[sensito.LogExposure]{Value: sensito.LogExposure(d.Values[speedPoint]), StdErr: sensito.LogExposure(d.SD(speedPoint)), DoF: fit.ScatterDoF(speed.Scatter, speed.DoF, tb.DoF)}
	exposures := p.Family.Trial.Exposures()
	if exposures.Absolute() {
		h := p.Family.SpeedPointAt(d.Values[speedPoint], d.SD(speedPoint), p.SpeedPoint.DoF)
		p.ExposureIndex = curve.SpeedEstimate(h, func(h sensito.LogExposure) sensito.Speed { return exposures.Meter().Index(h, p.Scene.ShadowStops) })
	} else {
		p.warn("relative_exposure", "%v, and no exposure index; give reference_speed_point_log_h to tie them down", sensito.ErrRelativeExposure)
	}
	return nil
}

// ofAim returns the standard deviation, in ln t, that the time has from what the
// strips do not average out: the aim's own, and what the film does beyond the
// last step.
func (p *Plan) ofAim(g development.Growth) float64 {
	sd := math.Hypot(p.Scene.WantedSD(), p.unseen())
	if sd == 0 {
		return 0
	}
	return sd * g.PerAim(float64(p.Aim))
}

// unseen returns the standard deviation of the density gained over the aimed run
// by what the film does beyond the last step.
func (p *Plan) unseen() float64 {
	return float64(p.Aim) * unseenToe(p.Family, p.over, p.over.To)
}

// solveTones finds where the tones of the table fall at the time of the plan.
func (p *Plan) solveTones() error {
	var stops []float64
	for n := LowestTone; n <= HighestTone; n++ {
		stops = append(stops, float64(n))
	}
	var err error
	p.Tones, err = p.tones(stops)
	return err
}

// tones returns tones of the scene on their way to the print. The print is
// exposed so that the lightest tone of the scene gets the paper's white point,
// T of ISO 6846. The error of the time itself is not in the densities, but for
// what is not known of that of today.
func (p *Plan) tones(stops []float64) ([]Tone, error) {
	lightest := len(stops) // its place, after those asked for
	var at []sensito.LogRange
	for _, l := range append(slices.Clone(stops), p.placement.Lightest) {
		at = append(at, p.placement.Above(l))
	}
	n, err := p.negative(at)
	if err != nil {
		return nil, err
	}
	nets, dof := n.estimates()
	var out []Tone
	for i, l := range stops {
		tone := Tone{Stops: l, Film: p.SpeedPoint.Value.Add(at[i])}
		if v, sd := nets.Values[i], nets.SD(i); !math.IsNaN(v) && !math.IsNaN(sd) {
			tone.NetDensity = &sensito.Estimate[sensito.NetDensity]{Value: netOf(v), StdErr: sensito.NetDensity(sd), DoF: dof}
			if p.prints() {
				e, err := p.printed(netOf(nets.Values[lightest])-netOf(v), nets.SDBetween(lightest, i), dof)
				if err != nil {
					return nil, err
				}
				tone.Print = &e
			}
		}
		out = append(out, p.toneGiven(tone, p.today))
	}
	return out, nil
}

func (p *Plan) warn(code, format string, args ...any) {
	p.Warnings = append(p.Warnings, sensito.Warning{Code: code, Message: fmt.Sprintf(format, args...)})
}
