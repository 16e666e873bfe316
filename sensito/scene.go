package sensito

import (
	"errors"
	"fmt"
	"math"
)

// Flare says how stray light in the camera shortens the range that reaches the
// film. The zero value is a fixed loss of 0.40 log H, Jones and Condit's mean
// (restated in discussions of their 1941 paper).
type Flare struct {
	Kind  FlareKind
	Value float64 // log H for FlareFixed, a fraction of the highlight luminance for FlareVeil
}

// FlareKind names a model of flare.
type FlareKind string

const (
	FlareFixed FlareKind = "fixed" // a fixed loss in log H; "" means the same
	FlareVeil  FlareKind = "veil"  // a uniform veil, as a fraction of the highlight luminance
	FlareNone  FlareKind = "none"
)

// DefaultFlareLoss is the fixed loss when none is given.
const DefaultFlareLoss = 0.40

// Range returns the log exposure range at the film for a scene of log
// luminance range l: l less the loss, or log10((1 + v) / (10^-l + v)) for a veil v.
func (fl Flare) Range(l LogRange) LogRange {
	switch fl.Kind {
	case FlareNone:
		return l
	case FlareVeil:
		return LogRange(math.Log10((1 + fl.Value) / (math.Pow(10, -float64(l)) + fl.Value)))
	}
	loss := fl.Value
	if loss == 0 {
		loss = DefaultFlareLoss
	}
	return l - LogRange(loss)
}

// Scene is what a scene asks of a negative. Zero fields other than Stops stand
// for the defaults.
type Scene struct {
	Stops        float64    // between the darkest and the lightest tone that must keep detail
	DensityRange NetDensity // the aim; 0 means DefaultDensityRange
	Flare        Flare
	ShadowStops  float64 // how far below the metered exposure the darkest tone is placed; 0 means 4
}

// The defaults of a Scene. A density range of 1.05 prints on a paper of ISO
// range 105, grade 2 (ISO 6846; inner grade limits from memory).
const (
	DefaultDensityRange NetDensity = 1.05
	DefaultShadowStops  float64    = 4
	normalStops         float64    = 7 // scene range of N: zones I to VIII
)

func (s Scene) withDefaults() Scene {
	if s.DensityRange == 0 {
		s.DensityRange = DefaultDensityRange
	}
	if s.ShadowStops == 0 {
		s.ShadowStops = DefaultShadowStops
	}
	return s
}

// Check returns an error naming what in the scene is outside its limits.
func (s Scene) Check() error {
	s = s.withDefaults()
	limit := func(name string, v, lo, hi float64) error {
		if !(v >= lo && v <= hi) {
			return fmt.Errorf("%s %g is outside %g to %g", name, v, lo, hi)
		}
		return nil
	}
	err := errors.Join(
		limit("scene range in stops", s.Stops, 1, 20),
		limit("density range", float64(s.DensityRange), 0.2, 3),
		limit("shadow stops", s.ShadowStops, 1, 10),
	)
	switch s.Flare.Kind {
	case "", FlareFixed:
		err = errors.Join(err, limit("flare loss", s.Flare.Value, 0, 2))
	case FlareVeil:
		err = errors.Join(err, limit("flare veil", s.Flare.Value, 0, 0.5))
	case FlareNone:
	default:
		err = errors.Join(err, fmt.Errorf("flare %q is not fixed, veil or none", s.Flare.Kind))
	}
	if err == nil && s.filmRange() < 0.3 {
		err = fmt.Errorf("flare leaves %.2f log H of a scene of %g stops: too little to develop for", float64(s.filmRange()), s.Stops)
	}
	return err
}

func (s Scene) filmRange() LogRange { return s.Flare.Range(LogRange(s.Stops) * Stop) }

// Tone is where one tone of the scene falls on the negative: an even target
// exposed Stops from the metered exposure. NetDensity is nil where the exposures
// of the trial do not reach.
type Tone struct {
	Stops      float64
	NetDensity *Estimate[NetDensity]
}

// Plan is how to expose and develop for one scene.
type Plan struct {
	Family *Family
	Scene  Scene // defaults filled in

	FilmRange       LogRange
	AverageGradient float64 // density range over film range
	N               float64 // 7 less the scene range in stops: 0 is normal, +1 an expansion

	Minutes       Estimate[Minutes]
	ExposureIndex *Estimate[Speed] // nil when the exposures are relative
	ContrastIndex *Estimate[float64]
	BaseFog       Estimate[Density]
	Extrapolated  bool // Minutes lies outside the tested times
	Tones         []Tone
	Warnings      []Warning
}

// The columns of a scene's table after those of the strips: the density rise
// over the scene, and the tones.
const (
	sceneRise    = colFractional + 1
	sceneTones   = sceneRise + 1
	sceneColumns = sceneTones + highestTone - lowestTone + 1
)

const lowestTone, highestTone = -5, 5 // stops from the metered exposure

// limitShare is the part of the final contrast beyond which no time is
// recommended: there time does little, and the law is least certain.
const limitShare = 0.95

// For returns the development time at which the tones of the scene span the
// density range of the aim, and the exposure index at that time. Each strip's
// density rise over the scene's range at the film is measured from the strip's
// own speed point, and first-order kinetics give the time between the strips.
// The error is Unanswerable when no time can serve, and says what would.
func (f *Family) For(s Scene) (*Plan, error) {
	if err := s.Check(); err != nil {
		return nil, err
	}
	s = s.withDefaults()
	p := &Plan{Family: f, Scene: s, FilmRange: s.filmRange(), N: normalStops - s.Stops, Warnings: []Warning{}}
	p.AverageGradient = float64(s.DensityRange) / float64(p.FilmRange)
	p.Warnings = append(p.Warnings, f.Warnings...)

	tb := newTable(f.Strips, func(m *Measured) (derived, error) {
		d, err := deriveAll(m.Fit, p.columns)
		if err != nil {
			return derived{}, err
		}
		return m.derived.with(d), nil
	})
	for i := range sceneColumns {
		if i == colIndex || i >= sceneRise {
			tb.unsteady(i, developmentScatter)
		}
	}
	t, y, sd := tb.column(sceneRise, tb.rows)
	if len(t) < len(f.Strips) {
		p.warn("strip_left_out", "%d of %d strips do not reach from their speed point over the %.2f log H of this scene",
			len(f.Strips)-len(t), len(f.Strips), float64(p.FilmRange))
	}
	if len(t) < 2 && len(t) < len(f.Strips) {
		return nil, &Unanswerable{
			Reason: fmt.Sprintf("%d of %d strips reach from their speed point over the %.2f log H of this scene; a rate needs two", len(t), len(f.Strips), float64(p.FilmRange)),
			Hint:   "expose more, or a wedge that reaches further into the dense end",
		}
	}
	p.leans()
	g, err := fitGrowth(t, y, sd, "")
	if err != nil {
		return nil, err
	}
	if err := p.reachable(g, t); err != nil {
		return nil, err
	}
	if err := p.solve(tb, g); err != nil {
		return nil, err
	}
	lo, hi := Minutes(t[0]), Minutes(t[len(t)-1])
	p.Extrapolated = p.Minutes.Value < lo || p.Minutes.Value > hi
	if p.Extrapolated {
		p.warn("extrapolated", "%.1f min lies outside the tested times of %g to %g min: test a strip there before relying on it", float64(p.Minutes.Value), float64(lo), float64(hi))
	}
	if p.Minutes.Value < 5 {
		p.warn("short_time", "under 5 minutes development is easily uneven (common practice, no source); a higher dilution or lower temperature gives a longer time")
	}
	return p, nil
}

// columns returns what a strip's curve says of the scene.
func (p *Plan) columns(c Curve) ([]float64, error) {
	m, err := SpeedPoint(c)
	if err != nil {
		return nil, err
	}
	r, err := rise(c, m, p.FilmRange)
	if err != nil {
		return nil, err
	}
	row := []float64{r}
	lo, hi := c.Domain()
	for n := lowestTone; n <= highestTone; n++ {
		h := m.Add(p.toneAt(n))
		if h > hi.Add(reach) || h < lo.Add(-reach) {
			row = append(row, math.NaN())
			continue
		}
		row = append(row, float64(c.Density(h).Above(BaseFog(c))))
	}
	return row, nil
}

// toneAt returns how far above the speed point a tone n stops from the metered
// exposure lies when the meter is set to the exposure index.
func (p *Plan) toneAt(n int) LogRange { return LogRange(float64(n)+p.Scene.ShadowStops) * Stop }

// leans warns of strips whose curve is used beyond their readings.
func (p *Plan) leans() {
	for _, m := range p.Family.Strips {
		h, err := SpeedPoint(m.Fit.Curve)
		if err != nil {
			continue
		}
		lo, hi := m.Fit.Curve.Domain()
		if over := h.Add(p.FilmRange).Sub(hi); over > 0.005 && over <= reach {
			p.warn("strip_extrapolated", "strip %d: its curve is used %.2f log H beyond its last step", m.Strip.number, float64(over))
		}
		if under := lo.Sub(h); under > 0.005 {
			p.warn("strip_extrapolated", "strip %d: its speed point lies %.2f log H below its faintest step", m.Strip.number, float64(under))
		}
	}
}

// reachable refuses an aim that no development can reach. An aim that is met at
// a tested time, or not far beyond, is not refused, however uncertain the limit.
func (p *Plan) reachable(g growth, t []float64) error {
	aim := float64(p.Scene.DensityRange)
	most := limitShare * g.Limit
	longest := t[len(t)-1]
	if aim < most || aim < g.At(1.3*longest) {
		return nil
	}
	reached := math.Floor(100*most) / 100 // rounded down, so as not to promise more
	return &Unanswerable{
		Reason: fmt.Sprintf("a density range of %.2f over the %.2f log H of this scene cannot be reached: with this developer it ends at %.2f, and beyond %.0f%% of that (%.2f) time does little",
			aim, float64(p.FilmRange), g.Limit, 100*limitShare, reached),
		Hint: fmt.Sprintf("aim at a density range of %.2f or less (a paper of shorter range; %g min gives %.2f), or use a more active developer",
			reached, longest, g.At(longest)),
	}
}

// solve finds time, exposure index and tones together, so that the errors of
// each count the errors of all they rest on.
func (p *Plan) solve(tb *table, g growth) error {
	aim := float64(p.Scene.DensityRange)
	development := g.development
	told, err := g.Time(aim)
	if err != nil {
		return err
	}
	_, _, sdRise := tb.column(sceneRise, tb.rows)
	speed := tb.trend(colSpeedPoint, tb.rows, development, -1)
	fog := tb.trend(colFog, tb.rows, math.Log, -1)
	inflate := map[int]float64{sceneRise: g.scatter, colSpeedPoint: speed.scatter, colFog: fog.scatter}
	grown := []int{colIndex} // what follows the contrast, and its scatter
	for i := sceneTones; i < sceneColumns; i++ {
		grown = append(grown, i)
	}
	laws := make([]growthModel, len(grown))
	for k, i := range grown {
		laws[k] = tb.law(i)
		inflate[i] = g.scatter
	}
	d, err := tb.propagate(inflate, func(rows [][]float64) ([]float64, error) {
		t, y, _ := tb.column(sceneRise, rows)
		g, err := fitGrowth(t, y, sdRise, g.model)
		if err != nil {
			return nil, err
		}
		minutes, err := g.Time(aim)
		if err != nil {
			return nil, err
		}
		// The rest is what the film gives when developed for the time told, so
		// the error of the time itself does not enter.
		out := []float64{math.Log(minutes),
			tb.trend(colSpeedPoint, rows, development, speed.degree()).at(development(told)),
			tb.trend(colFog, rows, math.Log, fog.degree()).at(math.Log(told))}
		for k, i := range grown {
			out = append(out, tb.along(i, rows, laws[k], told))
		}
		return out, nil
	})
	if err != nil {
		return err
	}

	const ( // of the propagated values
		lnMinutes = iota
		speedPoint
		baseFog
		index
		tones
	)
	dof := spread(g.scatter, g.dof, tb.dof)
	minutes := Minutes(math.Exp(d.values[lnMinutes]))
	p.Minutes = Estimate[Minutes]{Value: minutes, StdErr: minutes * Minutes(d.sd(lnMinutes)), DoF: dof, Log: true}
	t, rises, _ := tb.column(sceneRise, tb.rows)
	symmetric := p.Minutes
	p.Minutes.Limits = func(level float64) (Minutes, Minutes) {
		if low, high, ok := g.limits(t, rises, sdRise, aim, dof, level); ok {
			return Minutes(low), Minutes(high)
		}
		return symmetric.Interval(level)
	}
	if _, high := p.Minutes.Interval(0.95); math.IsInf(float64(high), 1) {
		p.warn("open_interval", "the strips do not exclude that the aim is out of reach, so the time has no upper limit: develop a strip for longer")
	}
	p.BaseFog = Estimate[Density]{Value: Density(d.values[baseFog]), StdErr: Density(d.sd(baseFog)), DoF: spread(fog.scatter, fog.dof, tb.dof)}
	if v := d.values[index]; !math.IsNaN(v) {
		p.ContrastIndex = &Estimate[float64]{Value: v, StdErr: d.sd(index), DoF: dof}
	}
	exposures := p.Family.Trial.exposures
	if exposures.absolute {
		h := p.Family.speedPointAt(d.values[speedPoint], d.sd(speedPoint), spread(speed.scatter, speed.dof, tb.dof))
		p.ExposureIndex = speedEstimate(h, func(h LogExposure) Speed { return exposures.meter.Index(h, p.Scene.ShadowStops) })
	} else {
		p.warn("relative_exposure", "%v, and no exposure index; give reference_speed_point_log_h to tie them down", ErrRelativeExposure)
	}
	for n := lowestTone; n <= highestTone; n++ {
		tone := Tone{Stops: float64(n)}
		i := tones + n - lowestTone
		if v := d.values[i]; !math.IsNaN(v) {
			tone.NetDensity = &Estimate[NetDensity]{Value: NetDensity(v), StdErr: NetDensity(d.sd(i)), DoF: dof}
		}
		p.Tones = append(p.Tones, tone)
	}
	return nil
}

// trend fits a trend to a column, against a measure of the development time;
// see fitTrend.
func (tb *table) trend(i int, rows [][]float64, measure func(minutes float64) float64, degree int) trend {
	t, y, sd := tb.column(i, rows)
	return fitTrend(each(t, measure), y, sd, degree)
}

// law returns the law by which a column grows, or "" when it follows a trend
// instead: densities near the base, that time hardly changes.
func (tb *table) law(i int) growthModel {
	t, y, sd := tb.column(i, tb.rows)
	if len(distinct(t)) < 2 {
		return ""
	}
	g, err := fitGrowth(t, y, sd, "")
	if err != nil {
		return ""
	}
	return g.model
}

// along returns a column at a development time, NaN when too few strips have it.
func (tb *table) along(i int, rows [][]float64, law growthModel, minutes float64) float64 {
	t, y, sd := tb.column(i, rows)
	switch {
	case len(t) < len(rows):
		return math.NaN()
	case law == "":
		return fitTrend(logs(t), y, sd, 1).at(math.Log(minutes))
	}
	g, err := fitGrowth(t, y, sd, law)
	if err != nil {
		return math.NaN()
	}
	return g.At(minutes)
}

func (p *Plan) warn(code, format string, args ...any) {
	p.Warnings = append(p.Warnings, Warning{Code: code, Message: fmt.Sprintf(format, args...)})
}
