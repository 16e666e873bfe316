package scene

import (
	"errors"
	"math"
	"slices"

	"sensito/fit"
	"sensito/sensito"
	"sensito/sensito/curve"
	"sensito/sensito/development"
)

// For returns the exposure index and the development time at which the tones of
// the scene, exposed at that index with flare, span the density range of the
// aim. Each strip says what density it gains between the places where the
// darkest and the lightest tone land, from the speed point that the strips
// together give its development, and first-order kinetics give the time between
// the strips.
// Both are those of the scene's Today. The error is Unanswerable when no time can
// serve, and says what would.
func For(f *development.Family, s Scene) (*Answer, error) {
	p, err := asTested(f, s, tableTones())
	if err != nil {
		return nil, err
	}
	today, err := s.Today.For(f)
	if err != nil {
		return nil, err
	}
	return today.Adjust(p)
}

// tableTones are the tones that an answer tells, in stops from the metered one.
func tableTones() []float64 {
	var stops []float64
	for n := LowestTone; n <= HighestTone; n++ {
		stops = append(stops, float64(n))
	}
	return stops
}

// asTested is For as in the trial, with tones at stops from the metered one.
func asTested(f *development.Family, s Scene, stops []float64) (*Answer, error) {
	if err := s.Check(); err != nil {
		return nil, err
	}
	s = s.WithDefaults()
	p := Unsolved(f, s)
	p.Warnings = append(p.Warnings, f.Warnings...)

	tb := p.Table()
	t, _, _ := tb.Column(ColumnRise, tb.Rows)
	if len(t) < len(f.Strips) {
		p.Warnings.Add("strip_left_out/4", len(f.Strips)-len(t), len(f.Strips), float64(p.FilmRange))
	}
	if len(t) < 2 && len(t) < len(f.Strips) {
		return nil, p.tooShort(len(t))
	}
	p.leans()
	p.Aim = s.Wanted(sensito.Density(p.Family.Fog.At(development.Fogging(t[len(t)-1]))))
	if err := p.UnderControl(tb); err != nil {
		return nil, err
	}
	g, err := tb.Grow(ColumnRise, tb.Rows, development.Growth{})
	if err != nil {
		return nil, err
	}
	lo, hi := sensito.Minutes(t[0]), sensito.Minutes(t[len(t)-1])
	if err := p.solve(tb, g); err != nil {
		return nil, err
	}
	if err := p.deliver(stops); err != nil {
		return nil, err
	}
	if p.DensityRange = p.Aim; s.ScanMax != 0 {
		p.DensityRange = p.Delivered.Value
	}
	p.AverageGradient = float64(p.DensityRange) / float64(p.FilmRange)
	extrapolation, warned := extrapolationOf(f, p.Minutes.Value, lo, hi, len(t) < len(f.Strips))
	p.Extrapolation, p.Warnings = extrapolation, append(p.Warnings, warned...)
	if p.Extrapolated {
		if advice := s.advice(g, p.Aim, float64(lo), float64(hi)); advice != "" {
			p.Warnings.Add("other_paper", advice)
		}
	}
	p.Warnings = append(p.Warnings, p.short()...)
	p.Warnings = append(p.Warnings, s.AimWarnings()...)
	p.onShoulder()
	if s.ScanMax != 0 && f.Trial.Reading().Zero == sensito.ZeroBase {
		p.Warnings.Add("zero_on_base/3")
	}
	return p, nil
}

// solve finds time, exposure index and tones together, so that the errors of
// each count the errors of all they rest on.
func (p *Answer) solve(tb *development.Table, g development.Growth) error {
	film := p.filmIn(tb)
	told, aim, err := p.Scene.TimeFor(g.Time, film.fogOf(tb.Rows), p.Aim)
	p.Aim, p.Growth = sensito.NetDensity(aim), g
	wished := p.sought(tb, g)
	if short := wished.reached(g); short != nil {
		return short
	}
	if err != nil {
		return wished.unreached(g)
	}
	film.minutes = told
	d, err := tb.Propagate(film.inflated(g), func(rows [][]float64) ([]float64, error) {
		g, err := tb.Grow(ColumnRise, rows, g)
		if err != nil {
			return nil, err
		}
		fogAt := film.fogOf(rows)
		minutes, _, err := p.Scene.TimeFor(g.Time, fogAt, p.Aim)
		if err != nil {
			return nil, err
		}
		return append([]float64{math.Log(minutes)}, film.values(rows, fogAt)...), nil
	})
	if errors.Is(err, fit.ErrBeyondLimit) {
		return wished.unreached(g)
	}
	if err != nil {
		return err
	}

	const lnMinutes = 0 // of the propagated values
	p.parts = &development.MeasuredParts{}
	held, err := p.heldSD(tb, g)
	if err != nil {
		return err
	}
	p.shares, p.Pictured = tb.Shares(d, lnMinutes), tb.Pictured(d)
	p.Base = p.TimeBase(tb, g, math.Exp(d.Values[lnMinutes]), d.SD(lnMinutes), held)
	p.Minutes = p.Base.Estimate(p.Base.Minutes, p.Base.Total, 0, math.Inf(1))
	if _, high := p.Minutes.Closed(0.95); math.IsInf(float64(high), 1) {
		p.Warnings.Add("open_interval")
	}
	film.tell(p, d.From(lnMinutes+1), g)
	exposures := p.Family.Trial.Exposures()
	if exposures.Absolute() {
		h := p.Family.SpeedPointAt(float64(p.SpeedPoint.Value), float64(p.SpeedPoint.StdErr), p.SpeedPoint.DoF)
		p.ExposureIndex = curve.SpeedEstimate(h, func(h sensito.LogExposure) sensito.Speed { return exposures.Meter().Index(h, p.Scene.ShadowStops) })
	} else {
		p.Warnings.Add("relative_exposure/5", sensito.ErrRelativeExposure)
	}
	return nil
}

// filmAt is what the film gives when it is developed for a time that is told, so that
// the error of the time itself does not enter.
type filmAt struct {
	table    *development.Table
	family   *development.Family
	minutes  float64
	fog      fit.Trend
	indexLaw development.Growth
	pointAt  func(rows [][]float64, minutes float64) float64
}

// The values of filmAt.
const (
	filmSpeedPoint = iota
	filmBaseFog
	filmIndex
)

// filmIn returns the film of the strips in a table, its minutes yet to be told.
func (p *Answer) filmIn(tb *development.Table) filmAt {
	return filmAt{table: tb, family: p.Family, fog: tb.Trend(curve.ColumnFog, tb.Rows, development.Fogging, -1),
		indexLaw: tb.Law(curve.ColumnIndex), pointAt: p.Family.SpeedPointIn(tb)}
}

// inflated returns by how much more the columns scatter than their errors say, those
// of the density and the contrast by the law g.
func (f filmAt) inflated(g development.Growth) map[int]float64 {
	return map[int]float64{ColumnRise: g.Scatter, curve.ColumnSpeedPoint: f.family.SpeedPoints.Scatter, curve.ColumnFog: f.fog.Scatter, curve.ColumnIndex: g.Scatter}
}

// fogOf returns base plus fog against development time.
func (f filmAt) fogOf(rows [][]float64) func(minutes float64) float64 {
	law := f.table.TrendLike(curve.ColumnFog, rows, f.fog)
	return func(minutes float64) float64 { return law.At(development.Fogging(minutes)) }
}

// values returns speed point, base plus fog, by fogOf the rows, and contrast index.
func (f filmAt) values(rows [][]float64, fogAt func(minutes float64) float64) []float64 {
	return []float64{f.pointAt(rows, f.minutes), fogAt(f.minutes), f.table.Along(curve.ColumnIndex, rows, f.indexLaw, f.minutes)}
}

// tell gives an answer, whose density grows by the law g, the values with their errors.
func (f filmAt) tell(p *Answer, d fit.Derived, g development.Growth) {
	speed, dof := f.family.SpeedPoints, f.table.DoF
	p.BaseFog = sensito.Estimate[sensito.Density]{Value: sensito.Density(d.Values[filmBaseFog]), StdErr: sensito.Density(d.SD(filmBaseFog)), DoF: fit.ScatterDoF(f.fog.Scatter, f.fog.DoF, dof)}
	if v := d.Values[filmIndex]; !math.IsNaN(v) {
		p.ContrastIndex = &sensito.Estimate[float64]{Value: v, StdErr: d.SD(filmIndex), DoF: g.Behind(dof)}
	}
	p.SpeedPoint = sensito.Estimate[sensito.LogExposure]{Value: sensito.LogExposure(d.Values[filmSpeedPoint]), StdErr: sensito.LogExposure(d.SD(filmSpeedPoint)), DoF: fit.ScatterDoF(speed.Scatter, speed.DoF, dof)}
}

// Follow returns tones as Tones are, at stops from the metered one, in their order.
func (p *Answer) Follow(stops []float64) ([]Tone, error) { return p.tones(stops) }

// Unflared is Follow without the flare that index and time of the answer count:
// the characteristic curve of the film at that time.
func (p *Answer) Unflared(stops []float64) ([]Tone, error) {
	without := *p
	without.placement.Veil = 0
	return without.tones(stops)
}

// tones returns tones of the scene on their way to the print. The print is
// exposed so that the lightest tone of the scene gets the paper's white point,
// T of ISO 6846. The error of the time itself is not in the densities, but for
// what is not known of that of today.
func (p *Answer) tones(stops []float64) ([]Tone, error) {
	n, err := p.negative(p.unsurely(p.placement.each(append(slices.Clone(stops), p.placement.Lightest))))
	if err != nil {
		return nil, err
	}
	return p.tonesOf(stops, n, p.unsure(n), 0, len(stops))
}

// tonesOf is tones of a negative with its estimates: from is the place of the first of
// them there, lightest that of the lightest of the scene.
func (p *Answer) tonesOf(stops []float64, n *negative, nets fit.Parted, from, lightest int) ([]Tone, error) {
	var out []Tone
	for k, l := range stops {
		i := from + k
		tone := Tone{Stops: l, Film: p.SpeedPoint.Value.Add(n.at[i])}
		if sd, dof := nets.Error(i); !math.IsNaN(nets.Values[i]) && !math.IsNaN(sd) {
			v := netOf(nets.Values[i])
			tone.NetDensity = netEstimate(float64(v), sd, dof)
			if p.prints() {
				sd, dof := nets.ErrorBetween(lightest, i)
				e, err := p.printed(netOf(nets.Values[lightest])-v, sd, dof)
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
