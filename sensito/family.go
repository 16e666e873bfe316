package sensito

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"sync"

	"sensito/fit"
)

// Family is a trial's strips taken together: contrast, speed and fog against
// development time.
type Family struct {
	Trial  *Trial
	Strips []*Measured // that belong together, by rising time

	Quantity string // the contrast that Contrast describes: QuantityContrastIndex or QuantityAverageGradient
	Model    string // "first order", "first order with induction" or "two times"

	// The kinetics of the contrast. Limit is nil when the strips do not bound
	// it; Induction is nil without one.
	Limit, Rate, Induction *Estimate[float64]

	// Temperature is how the rate follows the temperature, where strips at several
	// were developed and tell it; nil otherwise.
	Temperature *TemperatureLaw

	ISOMinutes *Estimate[Minutes] // when the ISO density difference is 0.80
	ISOSpeed   *Estimate[Speed]   // the speed then

	// NoContrast says why the strips give no law of contrast, in which case the
	// fields above mean nothing. A scene may still be planned from the strips.
	NoContrast error

	Warnings []Warning

	stated    *Reciprocity // what the trial states; nil where it states nothing, and with notStated
	notStated error

	apart  []*Measured  // exposed for other times than the trial's; not among Strips
	tested *Reciprocity // by these; nil without, and with noTest
	noTest error        // why they give no law

	options  MeasureOptions
	compared sync.Once   // fills others, when they are first asked for
	others   []*Measured // developed otherwise, which measure what that does
	parts    measuredParts
	lnQ10    float64 // by which the times of strips at other temperatures count

	table    *table
	contrast int // column of the contrast
	growth   growth
	speed    *trend // of the speed point
	fog      trend
}

// The contrasts that a family can describe.
const (
	QuantityContrastIndex   = "contrast_index"
	QuantityAverageGradient = "average_gradient"
)

// developmentScatter is the least share by which the contrast of strips
// developed alike differs, whatever their readings: 0.1 degrees C (0.7 % of the
// rate at a factor of 2 for 10 degrees) and 2 seconds in 6 minutes move contrast
// by about 0.4 % each, agitation and the law of growth itself by as much
// (TestDevelopmentScatter); with it the intervals of blind trials cover as they
// should.
const developmentScatter = 0.008

// NewFamily measures the strips of a trial and joins those developed under its
// conditions. The error is Unanswerable when no strip gives a curve.
func NewFamily(t *Trial, o MeasureOptions) (*Family, error) {
	f := &Family{Trial: t, Warnings: []Warning{}, options: o}
	if err := f.gather(o); err != nil {
		return nil, err
	}
	f.testReciprocity()
	if f.table == nil {
		f.tabulate()
	}
	x, y, sd := f.table.column(colFog, f.table.rows)
	f.fog = fitTrend(logs(x), y, sd, -1)
	f.NoContrast = f.fitContrast()
	if t, y, sd := f.table.column(colSpeedPoint, f.table.rows); len(t) > 0 {
		p := fitTrend(each(t, f.development), y, sd, -1)
		f.speed = &p
	}
	if f.NoContrast == nil {
		f.iso()
	}
	return f, nil
}

// development measures a development time by what the speed depends on most
// simply: the contrast that it gives, or the time itself where there is no law
// of that.
func (f *Family) development(minutes float64) float64 {
	if f.NoContrast != nil {
		return math.Log(minutes)
	}
	return f.growth.development(minutes)
}

// speedPointIn returns the speed point at a development time by the law of the
// family's strips, with the values taken from rows of a table that holds them.
func (f *Family) speedPointIn(tb *table, rows [][]float64, minutes float64) float64 {
	return tb.trend(colSpeedPoint, rows, f.development, f.speed.degree()).at(f.development(minutes))
}

// tabulate joins the quantities of the strips.
func (f *Family) tabulate() {
	f.table = tableOf(f.Strips)
}

func tableOf(strips []*Measured) *table {
	tb := newTable(strips, func(m *Measured) (derived, error) { return m.derived, nil })
	for _, i := range []int{colIndex, colGradient, colISO} {
		tb.unsteady(i, developmentScatter)
	}
	return tb
}

// gather measures the strips that belong together.
func (f *Family) gather(o MeasureOptions) error {
	var elsewhere []string
	var others []*Measured // at other temperatures
	var failed []error
	for _, s := range f.Trial.strips {
		if s.copyOf > 0 {
			f.warn("strip_copied", "%s", s.copied())
			continue
		}
		warmer := s.onlyIn(temperature) && !s.exposedApart()
		if !warmer && !sameProcess(s.process, f.Trial.process) {
			elsewhere = append(elsewhere, fmt.Sprint(s.number))
			continue
		}
		m, err := Measure(s, o)
		if err != nil {
			failed = append(failed, err)
			f.warn("strip_left_out", "%v", err)
			continue
		}
		if m.Fit.root == nil {
			f.warn("strip_left_out", "strip %d: its readings do not determine the curve", s.number)
			continue
		}
		for _, w := range m.Fit.Warnings {
			f.warn(w.Code, "strip %d: %s", s.number, w.Message)
		}
		if s.exposedApart() {
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
			return &Unanswerable{
				Reason: fmt.Sprintf("every strip was exposed for another time than the %v of the trial", f.Trial.exposures.seconds),
				Hint:   "state in [exposure] how the strips to plan from were exposed, and in a strip only what differs",
			}
		}
		return &Unanswerable{Reason: "no strip was developed under the conditions of the trial", Hint: "state the conditions in [process]"}
	}
	f.sort()
	return f.joinTemperatures(others)
}

// contrastColumn returns the column of the contrast that the family describes.
func (f *Family) contrastColumn() int {
	index, _, _ := f.table.column(colIndex, f.table.rows)
	gradient, _, _ := f.table.column(colGradient, f.table.rows)
	if len(gradient) > len(index) {
		return colGradient
	}
	return colIndex
}

// fitContrast fits the kinetics of the contrast index, or of the average
// gradient where more strips reach far enough for that.
func (f *Family) fitContrast() error {
	f.Quantity, f.contrast = QuantityContrastIndex, f.contrastColumn()
	if f.contrast == colGradient {
		f.Quantity = QuantityAverageGradient
	}
	t, _, _ := f.table.column(f.contrast, f.table.rows)
	if len(t) < len(f.Strips) {
		if len(distinct(t)) < 2 {
			if err := f.tooMuchLight(); err != nil {
				return err
			}
			return &Unanswerable{
				Reason: fmt.Sprintf("%d of %d strips reach far enough for a contrast, and a rate needs two times", len(t), len(f.Strips)),
				Hint:   "expose more; where the toe is then lost, use a longer wedge",
			}
		}
		f.warn("strip_left_out", "%d of %d strips have no contrast: their exposures do not reach far enough", len(f.Strips)-len(t), len(f.Strips))
	}
	if t, y, sd := f.table.column(f.contrast, f.table.rows); len(t) > 1 && noControl(t, y, sd) {
		return &Unanswerable{
			Reason: fmt.Sprintf("time is no control here: at times from %s to %s the contrast %s",
				Minutes(slices.Min(t)).Clock(1), Minutes(slices.Max(t)).Clock(1), lies(slices.Min(y), slices.Max(y))),
			Hint: otherControls,
		}
	}
	g, err := f.table.grow(f.contrast, f.table.rows, "")
	if err != nil {
		return err
	}
	f.growth, f.Model = g, string(g.model)
	switch {
	case g.model == twoTimes:
		f.warn("two_strips", "the rate rests on two strips and nothing checks it; develop a third")
	case g.dof == 0:
		f.warn("two_strips", "the rate and what temperature does to it rest on as few strips as can be, and nothing checks them; develop another")
	}
	d, err := f.table.propagate(map[int]float64{f.contrast: g.scatter}, func(rows [][]float64) ([]float64, error) {
		g, err := f.table.grow(f.contrast, rows, f.growth.model)
		return []float64{g.Limit, g.Rate, g.Induction, g.warp}, err
	})
	if err != nil {
		return err
	}
	dof := fit.ScatterDoF(g.scatter, g.dof, f.table.dof)
	if !math.IsInf(g.Limit, 0) && !math.IsNaN(d.sd(0)) {
		f.Limit = &Estimate[float64]{Value: g.Limit, StdErr: d.sd(0), DoF: dof, Log: true}
	} else {
		f.warn("no_limit", "contrast still grows in proportion to time: these strips do not show where it ends; develop one for longer")
	}
	f.Rate = &Estimate[float64]{Value: g.Rate, StdErr: d.sd(1), DoF: dof, Log: true}
	if g.model == firstOrderInduction {
		f.Induction = &Estimate[float64]{Value: g.Induction, StdErr: d.sd(2), DoF: dof}
	}
	if f.table.warp != nil {
		f.Temperature = f.temperatureLaw(d, 3, dof)
		f.warnVagueQ10()
	}
	if g.scatter > 2 {
		f.warn("strips_scatter", "the strips scatter %.1f times as much about the law of growth as their readings explain; the uncertainties are widened to match", g.scatter)
	}
	return nil
}

// formShare is the part of the error of a strip's speed point that all strips of
// a film share, beside its standard deviation: what is known of toes beforehand
// pulls them the same way. It brings the intervals of exposure indices of films
// with a plain toe from 91 to 93 of 100 (BenchmarkSceneCoverage), and the errors of
// speeds from many strips to what they say (TestBlindManyStrips).
const formShare = 0.2

// speedPointAt adds to a speed point joined from several strips the errors that
// they share: of their exposures, and of the form of the curve.
func (f *Family) speedPointAt(value, sd, dof float64) Estimate[LogExposure] {
	h := Estimate[LogExposure]{Value: LogExposure(value), StdErr: LogExposure(sd), DoF: dof}
	if _, _, own := f.table.column(colSpeedPoint, f.table.rows); len(own) > 0 {
		slices.Sort(own)
		h.addCommon(LogRange(formShare * own[(len(own)-1)/2]))
	}
	h.addCommon(f.Trial.exposures.commonSD)
	return h
}

// iso finds when the ISO contrast condition is met, if the strips show it.
func (f *Family) iso() {
	t, _, _ := f.table.column(colISO, f.table.rows)
	if len(t) < 2 || f.speed == nil {
		return
	}
	g, err := f.table.grow(colISO, f.table.rows, "")
	if err != nil {
		return
	}
	at := func(rows [][]float64) ([]float64, error) {
		g, err := f.table.grow(colISO, rows, g.model)
		if err != nil {
			return nil, err
		}
		minutes, err := g.Time(ISODifferenceAim)
		if err != nil {
			return nil, err
		}
		return []float64{math.Log(minutes), f.speedPointIn(f.table, rows, minutes)}, nil
	}
	inflate := map[int]float64{colISO: g.scatter, colSpeedPoint: f.speed.scatter}
	d, err := f.table.propagate(inflate, at)
	if err != nil {
		return
	}
	minutes := Minutes(math.Exp(d.values[0]))
	lo, hi := f.Times()
	if minutes < lo || minutes > hi {
		f.warn("iso_outside", "the ISO contrast condition would be met at %.1f min, outside the tested times", float64(minutes))
		return
	}
	f.ISOMinutes = &Estimate[Minutes]{Value: minutes, StdErr: minutes * Minutes(d.sd(0)), DoF: fit.ScatterDoF(g.scatter, g.dof, f.table.dof), Log: true}
	if f.Trial.exposures.absolute {
		f.ISOSpeed = speedEstimate(f.speedPointAt(d.values[1], d.sd(1), fit.ScatterDoF(f.speed.scatter, f.speed.dof, f.table.dof)), SpeedAt)
	}
}

// Times returns the shortest and the longest development time of the family, at
// the temperature of the trial.
func (f *Family) Times() (lo, hi Minutes) {
	return f.Strips[0].Minutes(), f.Strips[len(f.Strips)-1].Minutes()
}

// At holds what a family says of one development time. Speed is nil when the
// exposures are relative or no strip reaches its speed point.
type At struct {
	Contrast Estimate[float64]
	Speed    *Estimate[Speed]
	BaseFog  Estimate[Density]
}

// At returns contrast, speed and fog at a development time. The error is
// NoContrast where there is no law.
func (f *Family) At(t Minutes) (At, error) {
	all, err := f.Along([]Minutes{t})
	if err != nil {
		return At{}, err
	}
	return all[0], nil
}

// Along returns contrast, speed and fog at each of several development times, as
// At, at hardly more cost than at one.
func (f *Family) Along(times []Minutes) ([]At, error) {
	if f.NoContrast != nil {
		return nil, f.NoContrast
	}
	inflate := map[int]float64{f.contrast: f.growth.scatter, colFog: f.fog.scatter}
	if f.speed != nil {
		inflate[colSpeedPoint] = f.speed.scatter
	}
	u := f.growth.development
	const contrast, fog, speed, columns = 0, 1, 2, 3 // of each time
	d, err := f.table.propagate(inflate, func(rows [][]float64) ([]float64, error) {
		g, err := f.table.grow(f.contrast, rows, f.growth.model)
		if err != nil {
			return nil, err
		}
		t, y, sd := f.table.column(colFog, rows)
		fogs, speeds := fitTrend(logs(t), y, sd, f.fog.degree()), trend{}
		if f.speed != nil {
			t, y, sd = f.table.column(colSpeedPoint, rows)
			speeds = fitTrend(each(t, u), y, sd, f.speed.degree())
		}
		out := make([]float64, columns*len(times))
		for k, t := range times {
			x, out := float64(t), out[columns*k:]
			out[contrast], out[fog] = g.At(x), fogs.at(math.Log(x))
			if f.speed != nil {
				out[speed] = speeds.at(u(x))
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
			Contrast: Estimate[float64]{Value: d.values[i+contrast], StdErr: d.sd(i + contrast), DoF: fit.ScatterDoF(f.growth.scatter, f.growth.dof, f.table.dof)},
			BaseFog:  Estimate[Density]{Value: Density(d.values[i+fog]), StdErr: Density(d.sd(i + fog)), DoF: fit.ScatterDoF(f.fog.scatter, f.fog.dof, f.table.dof)},
		}
		if f.speed != nil && f.Trial.exposures.absolute {
			a.Speed = speedEstimate(f.speedPointAt(d.values[i+speed], d.sd(i+speed), fit.ScatterDoF(f.speed.scatter, f.speed.dof, f.table.dof)), SpeedAt)
		}
		all = append(all, a)
	}
	return all, nil
}

func (f *Family) warn(code, format string, args ...any) {
	f.Warnings = append(f.Warnings, Warning{Code: code, Message: fmt.Sprintf(format, args...)})
}
