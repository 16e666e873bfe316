package development

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"sync"

	"sensito/fit"
	"sensito/sensito"
	"sensito/sensito/camera"
	"sensito/sensito/curve"
)

// Family is a trial's strips taken together: contrast, speed and fog against
// development time.
type Family struct {
	Trial  *sensito.Trial
	Strips []*curve.Measured // that belong together, by rising time

	Quantity string // the contrast that Contrast describes: QuantityContrastIndex or QuantityAverageGradient
	Model    string // "first order", "first order with induction" or "two times"

	// The kinetics of the contrast. Limit is nil when the strips do not bound
	// it; Induction is nil without one.
	Limit, Rate, Induction *sensito.Estimate[float64]

	// Temperature is how the rate follows the temperature, where strips at several
	// were developed and tell it; nil otherwise.
	Temperature *TemperatureLaw

	ISOMinutes *sensito.Estimate[sensito.Minutes] // when the ISO density difference is 0.80
	ISOSpeed   *sensito.Estimate[sensito.Speed]   // the speed then

	// NoContrast says why the strips give no law of contrast, in which case the
	// fields above mean nothing. A scene may still be planned from the strips.
	NoContrast error

	Warnings []sensito.Warning

	stated    *camera.Reciprocity // what the trial states; nil where it states nothing, and with notStated
	notStated error

	apart  []*curve.Measured   // exposed for other times than the trial's; not among Strips
	tested *camera.Reciprocity // by these; nil without, and with noTest
	noTest error               // why they give no law

	options  curve.MeasureOptions
	compared sync.Once         // fills others, when they are first asked for
	others   []*curve.Measured // developed otherwise, which measure what that does
	parts    MeasuredParts
	lnQ10    float64 // by which the times of strips at other temperatures count

	table       *Table
	contrast    int // column of the contrast
	Growth      Growth
	SpeedPoints *fit.Trend // of the speed point
	Fog         fit.Trend
}

// The contrasts that a family can describe.
const (
	QuantityContrastIndex   = "contrast_index"
	QuantityAverageGradient = "average_gradient"
)

// Scatter is the least share by which the contrast of strips
// developed alike differs, whatever their readings: 0.1 degrees C (0.7 % of the
// rate at a factor of 2 for 10 degrees) and 2 seconds in 6 minutes move contrast
// by about 0.4 % each, agitation and the law of growth itself by as much
// (TestDevelopmentScatter); with it the intervals of blind trials cover as they
// should.
const Scatter = 0.008

// NewFamily measures the strips of a trial and joins those developed under its
// conditions. The error is Unanswerable when no strip gives a curve.
func NewFamily(t *sensito.Trial, o curve.MeasureOptions) (*Family, error) {
	f := &Family{Trial: t, Warnings: []sensito.Warning{}, options: o}
	if err := f.gather(o); err != nil {
		return nil, err
	}
	f.testReciprocity()
	if f.table == nil {
		f.tabulate()
	}
	x, y, sd := f.table.Column(curve.ColumnFog, f.table.Rows)
	f.Fog = fit.FitTrend(fit.Logs(x), y, sd, -1)
	f.NoContrast = f.fitContrast()
	if t, y, sd := f.table.Column(curve.ColumnSpeedPoint, f.table.Rows); len(t) > 0 {
		p := fit.FitTrend(fit.Each(t, f.Development), y, sd, -1)
		f.SpeedPoints = &p
	}
	if f.NoContrast == nil {
		f.iso()
	}
	return f, nil
}

// Development measures a development time by what the speed depends on most
// simply: the contrast that it gives, or the time itself where there is no law
// of that.
func (f *Family) Development(minutes float64) float64 {
	if f.NoContrast != nil {
		return math.Log(minutes)
	}
	return f.Growth.Development(minutes)
}

// SpeedPointIn returns the speed point at a development time by the law of the
// family's strips, with the values taken from rows of a table that holds them.
func (f *Family) SpeedPointIn(tb *Table, rows [][]float64, minutes float64) float64 {
	return tb.Trend(curve.ColumnSpeedPoint, rows, f.Development, f.SpeedPoints.Degree()).At(f.Development(minutes))
}

// tabulate joins the quantities of the strips.
func (f *Family) tabulate() {
	f.table = tableOf(f.Strips)
}

func tableOf(strips []*curve.Measured) *Table {
	tb := NewTable(strips, func(m *curve.Measured) (fit.Derived, error) { return m.Derived, nil })
	for _, i := range []int{curve.ColumnIndex, curve.ColumnGradient, curve.ColumnISO} {
		tb.Unsteady(i, Scatter)
	}
	return tb
}

// gather measures the strips that belong together.
func (f *Family) gather(o curve.MeasureOptions) error {
	var elsewhere []string
	var others []*curve.Measured // at other temperatures
	var failed []error
	for _, s := range f.Trial.Strips() {
		if s.CopyOf() > 0 {
			f.warn("strip_copied", "%s", s.Copied())
			continue
		}
		warmer := s.OnlyIn(sensito.ConditionTemperature) && !s.ExposedApart()
		if !warmer && !sensito.SameProcess(s.Process(), f.Trial.Process()) {
			elsewhere = append(elsewhere, fmt.Sprint(s.Number()))
			continue
		}
		m, err := curve.Measure(s, o)
		if err != nil {
			failed = append(failed, err)
			f.warn("strip_left_out", "%v", err)
			continue
		}
		if m.Fit.Root == nil {
			f.warn("strip_left_out", "strip %d: its readings do not determine the curve", s.Number())
			continue
		}
		for _, w := range m.Fit.Warnings {
			f.warn(w.Code, "strip %d: %s", s.Number(), w.Message)
		}
		if s.ExposedApart() {
			f.apart = append(f.apart, m)
			continue
		}
		if warmer {
			others = append(others, m)
			continue
		}
		f.Strips = append(f.Strips, m)
	}
	f.warnApart()
	if len(elsewhere) > 0 {
		f.warn("other_conditions", "left out, developed under other conditions than the trial: strip %s", strings.Join(elsewhere, ", "))
	}
	if len(f.Strips) == 0 && len(others) == 0 {
		if len(failed) > 0 {
			return failed[0]
		}
		if len(f.apart) > 0 {
			return &sensito.Unanswerable{
				Reason: fmt.Sprintf("every strip was exposed for another time than the %v of the trial", f.Trial.Exposures().Seconds()),
				Hint:   "state in [exposure] how the strips to plan from were exposed, and in a strip only what differs",
			}
		}
		return &sensito.Unanswerable{Reason: "no strip was developed under the conditions of the trial", Hint: "state the conditions in [process]"}
	}
	f.sort()
	return f.joinTemperatures(others)
}

// contrastColumn returns the column of the contrast that the family describes.
func (f *Family) contrastColumn() int {
	index, _, _ := f.table.Column(curve.ColumnIndex, f.table.Rows)
	gradient, _, _ := f.table.Column(curve.ColumnGradient, f.table.Rows)
	if len(gradient) > len(index) {
		return curve.ColumnGradient
	}
	return curve.ColumnIndex
}

// fitContrast fits the kinetics of the contrast index, or of the average
// gradient where more strips reach far enough for that.
func (f *Family) fitContrast() error {
	f.Quantity, f.contrast = QuantityContrastIndex, f.contrastColumn()
	if f.contrast == curve.ColumnGradient {
		f.Quantity = QuantityAverageGradient
	}
	t, _, _ := f.table.Column(f.contrast, f.table.Rows)
	if len(t) < len(f.Strips) {
		if len(fit.Distinct(t)) < 2 {
			if err := f.TooMuchLight(); err != nil {
				return err
			}
			return &sensito.Unanswerable{
				Reason: fmt.Sprintf("%d of %d strips reach far enough for a contrast, and a rate needs two times", len(t), len(f.Strips)),
				Hint:   "expose more; where the toe is then lost, use a longer wedge",
			}
		}
		f.warn("strip_left_out", "%d of %d strips have no contrast: their exposures do not reach far enough", len(f.Strips)-len(t), len(f.Strips))
	}
	if t, y, sd := f.table.Column(f.contrast, f.table.Rows); len(t) > 1 && NoControl(t, y, sd) {
		return &sensito.Unanswerable{
			Reason: fmt.Sprintf("time is no control here: at times from %s to %s the contrast %s",
				sensito.Minutes(slices.Min(t)).Clock(1), sensito.Minutes(slices.Max(t)).Clock(1), Lies(slices.Min(y), slices.Max(y))),
			Hint: OtherControls,
		}
	}
	g, err := f.table.Grow(f.contrast, f.table.Rows, "")
	if err != nil {
		return err
	}
	f.Growth, f.Model = g, string(g.Model)
	switch {
	case g.Model == TwoTimes:
		f.warn("two_strips", "the rate rests on two strips and nothing checks it; develop a third")
	case g.DoF == 0:
		f.warn("two_strips", "the rate and what temperature does to it rest on as few strips as can be, and nothing checks them; develop another")
	}
	d, err := f.table.Propagate(map[int]float64{f.contrast: g.Scatter}, func(rows [][]float64) ([]float64, error) {
		g, err := f.table.Grow(f.contrast, rows, f.Growth.Model)
		return []float64{g.Limit, g.Rate, g.Induction, g.warp}, err
	})
	if err != nil {
		return err
	}
	dof := fit.ScatterDoF(g.Scatter, g.DoF, f.table.DoF)
	if !math.IsInf(g.Limit, 0) && !math.IsNaN(d.SD(0)) {
		f.Limit = &sensito.Estimate[float64]{Value: g.Limit, StdErr: d.SD(0), DoF: dof, Log: true}
	} else {
		f.warn("no_limit", "contrast still grows in proportion to time: these strips do not show where it ends; develop one for longer")
	}
	f.Rate = &sensito.Estimate[float64]{Value: g.Rate, StdErr: d.SD(1), DoF: dof, Log: true}
	if g.Model == FirstOrderInduction {
		f.Induction = &sensito.Estimate[float64]{Value: g.Induction, StdErr: d.SD(2), DoF: dof}
	}
	if f.table.Warp != nil {
		f.Temperature = f.temperatureLaw(d, 3, dof)
		f.warnVagueQ10()
	}
	if g.Scatter > 2 {
		f.warn("strips_scatter", "the strips scatter %.1f times as much about the law of growth as their readings explain; the uncertainties are widened to match", g.Scatter)
	}
	return nil
}

// formShare is the part of the error of a strip's speed point that all strips of
// a film share, beside its standard deviation: what is known of toes beforehand
// pulls them the same way. It brings the intervals of exposure indices of films
// with a plain toe from 91 to 93 of 100 (BenchmarkSceneCoverage), and the errors of
// speeds from many strips to what they say (TestBlindManyStrips).
const formShare = 0.2

// SpeedPointAt adds to a speed point joined from several strips the errors that
// they share: of their exposures, and of the form of the curve.
func (f *Family) SpeedPointAt(value, sd, dof float64) sensito.Estimate[sensito.LogExposure] {
	h := sensito.Estimate[sensito.LogExposure]{Value: sensito.LogExposure(value), StdErr: sensito.LogExposure(sd), DoF: dof}
	if _, _, own := f.table.Column(curve.ColumnSpeedPoint, f.table.Rows); len(own) > 0 {
		slices.Sort(own)
		h.AddCommon(sensito.LogRange(formShare * own[(len(own)-1)/2]))
	}
	h.AddCommon(f.Trial.Exposures().CommonSD())
	return h
}

// iso finds when the ISO contrast condition is met, if the strips show it.
func (f *Family) iso() {
	t, _, _ := f.table.Column(curve.ColumnISO, f.table.Rows)
	if len(t) < 2 || f.SpeedPoints == nil {
		return
	}
	g, err := f.table.Grow(curve.ColumnISO, f.table.Rows, "")
	if err != nil {
		return
	}
	at := func(rows [][]float64) ([]float64, error) {
		g, err := f.table.Grow(curve.ColumnISO, rows, g.Model)
		if err != nil {
			return nil, err
		}
		minutes, err := g.Time(curve.ISODifferenceAim)
		if err != nil {
			return nil, err
		}
		return []float64{math.Log(minutes), f.SpeedPointIn(f.table, rows, minutes)}, nil
	}
	inflate := map[int]float64{curve.ColumnISO: g.Scatter, curve.ColumnSpeedPoint: f.SpeedPoints.Scatter}
	d, err := f.table.Propagate(inflate, at)
	if err != nil {
		return
	}
	minutes := sensito.Minutes(math.Exp(d.Values[0]))
	lo, hi := f.Times()
	if minutes < lo || minutes > hi {
		f.warn("iso_outside", "the ISO contrast condition would be met at %.1f min, outside the tested times", float64(minutes))
		return
	}
	f.ISOMinutes = &sensito.Estimate[sensito.Minutes]{Value: minutes, StdErr: minutes * sensito.Minutes(d.SD(0)), DoF: fit.ScatterDoF(g.Scatter, g.DoF, f.table.DoF), Log: true}
	if f.Trial.Exposures().Absolute() {
		f.ISOSpeed = curve.SpeedEstimate(f.SpeedPointAt(d.Values[1], d.SD(1), fit.ScatterDoF(f.SpeedPoints.Scatter, f.SpeedPoints.DoF, f.table.DoF)), sensito.SpeedAt)
	}
}

// Times returns the shortest and the longest development time of the family, at
// the temperature of the trial.
func (f *Family) Times() (lo, hi sensito.Minutes) {
	return f.Strips[0].Minutes(), f.Strips[len(f.Strips)-1].Minutes()
}

// At holds what a family says of one development time. Speed is nil when the
// exposures are relative or no strip reaches its speed point.
type At struct {
	Contrast sensito.Estimate[float64]
	Speed    *sensito.Estimate[sensito.Speed]
	BaseFog  sensito.Estimate[sensito.Density]
}

// At returns contrast, speed and fog at a development time. The error is
// NoContrast where there is no law.
func (f *Family) At(t sensito.Minutes) (At, error) {
	all, err := f.Along([]sensito.Minutes{t})
	if err != nil {
		return At{}, err
	}
	return all[0], nil
}

// Along returns contrast, speed and fog at each of several development times, as
// At, at hardly more cost than at one.
func (f *Family) Along(times []sensito.Minutes) ([]At, error) {
	if f.NoContrast != nil {
		return nil, f.NoContrast
	}
	inflate := map[int]float64{f.contrast: f.Growth.Scatter, curve.ColumnFog: f.Fog.Scatter}
	if f.SpeedPoints != nil {
		inflate[curve.ColumnSpeedPoint] = f.SpeedPoints.Scatter
	}
	u := f.Growth.Development
	const contrast, fog, speed, columns = 0, 1, 2, 3 // of each time
	d, err := f.table.Propagate(inflate, func(rows [][]float64) ([]float64, error) {
		g, err := f.table.Grow(f.contrast, rows, f.Growth.Model)
		if err != nil {
			return nil, err
		}
		t, y, sd := f.table.Column(curve.ColumnFog, rows)
		fogs, speeds := fit.FitTrend(fit.Logs(t), y, sd, f.Fog.Degree()), fit.Trend{}
		if f.SpeedPoints != nil {
			t, y, sd = f.table.Column(curve.ColumnSpeedPoint, rows)
			speeds = fit.FitTrend(fit.Each(t, u), y, sd, f.SpeedPoints.Degree())
		}
		out := make([]float64, columns*len(times))
		for k, t := range times {
			x, out := float64(t), out[columns*k:]
			out[contrast], out[fog] = g.At(x), fogs.At(math.Log(x))
			if f.SpeedPoints != nil {
				out[speed] = speeds.At(u(x))
			}
		}
		return out, nil
	})
	if err != nil {
		return nil, err
	}
	var all []At
	for k := range times {
		i := columns * k
		a := At{
			Contrast: sensito.Estimate[float64]{Value: d.Values[i+contrast], StdErr: d.SD(i + contrast), DoF: fit.ScatterDoF(f.Growth.Scatter, f.Growth.DoF, f.table.DoF)},
			BaseFog:  sensito.Estimate[sensito.Density]{Value: sensito.Density(d.Values[i+fog]), StdErr: sensito.Density(d.SD(i + fog)), DoF: fit.ScatterDoF(f.Fog.Scatter, f.Fog.DoF, f.table.DoF)},
		}
		if f.SpeedPoints != nil && f.Trial.Exposures().Absolute() {
			a.Speed = curve.SpeedEstimate(f.SpeedPointAt(d.Values[i+speed], d.SD(i+speed), fit.ScatterDoF(f.SpeedPoints.Scatter, f.SpeedPoints.DoF, f.table.DoF)), sensito.SpeedAt)
		}
		all = append(all, a)
	}
	return all, nil
}

func (f *Family) warn(code, format string, args ...any) {
	f.Warnings = append(f.Warnings, sensito.Warning{Code: code, Message: fmt.Sprintf(format, args...)})
}
