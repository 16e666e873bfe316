package development

import (
	"fmt"
	"math"
	"slices"

	"sensito/fit"
	"sensito/sensito"
	"sensito/sensito/curve"
)

// NewFamily measures the strips of a trial, tied down by its frame (see Tie), and joins
// those developed under its conditions. The error is Unanswerable when no strip gives a curve.
func NewFamily(t *sensito.Trial, o curve.MeasureOptions) (*Family, error) {
	t, tied := Tie(t, o)
	ms, errs := curve.MeasureStrips(t, o)
	return FamilyOf(t, tied, ms, errs)
}

// FamilyOf is NewFamily for a trial that Tie returned, with its warnings, whose strips
// curve.MeasureStrips measured. These stay as they are.
func FamilyOf(t *sensito.Trial, tied sensito.Warnings, ms []*curve.Measured, errs []error) (*Family, error) {
	f := &Family{Trial: t, Warnings: append(sensito.Warnings{}, tied...)}
	own := make([]*curve.Measured, len(ms)) // which are told how they belong
	for i, m := range ms {
		if m != nil {
			one := *m
			own[i] = &one
		}
	}
	if err := f.gather(own, errs); err != nil {
		return nil, err
	}
	f.testReciprocity()
	if f.table == nil {
		f.tabulate()
	}
	f.Fog = f.table.Trend(curve.ColumnFog, f.table.Rows, Fogging, -1)
	f.NoContrast = f.fitContrast()
	if len(f.table.values(curve.ColumnSpeedPoint, f.table.Rows)) > 0 {
		p := f.table.PlaceTrend(curve.ColumnSpeedPoint, f.table.Rows, f.Development)
		f.SpeedPoints = &p
	}
	if f.NoContrast == nil {
		f.iso()
	}
	return f, nil
}

// gather takes those of the measured strips that belong together.
func (f *Family) gather(ms []*curve.Measured, errs []error) error {
	var elsewhere []int
	var others []*curve.Measured // at other temperatures
	var failed []error
	f.others = developedOtherwise(ms)
	for i, s := range f.Trial.Strips() {
		if s.CopyOf() > 0 {
			f.Warnings.Add("strip_copied", s.Copied())
			continue
		}
		warmer := s.OnlyIn(sensito.ConditionTemperature) && !s.ExposedApart()
		if !warmer && !sensito.SameProcess(s.Process(), f.Trial.Process()) {
			elsewhere = append(elsewhere, s.Number())
			continue
		}
		m, err := ms[i], errs[i]
		if err != nil {
			failed = append(failed, err)
			f.Warnings.Add("strip_left_out", err)
			continue
		}
		if m.Fit.Root == nil {
			f.Warnings.Add("strip_left_out/2").Strip = s.Number()
			continue
		}
		for _, w := range m.Fit.Warnings {
			f.Warnings = append(f.Warnings, w.OfStrip(s.Number()))
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
		f.Warnings.Add("other_conditions/2", sensito.StripList(elsewhere))
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
	var differ sensito.Warnings
	if with := f.together(); with != nil {
		differ = with.Warnings()
	}
	f.Warnings = append(f.Warnings, differ...)
	for _, m := range f.Strips {
		if m.ByItself != nil && len(differ) == 0 {
			f.Warnings.Add("strip_disagrees").Strip = m.Strip.Number()
		}
	}
	return f.joinTemperatures(others)
}

// TooMuchLight returns an error, Unanswerable, where all strips but one do not
// show their speed point because they were exposed too much.
func (f *Family) TooMuchLight() error {
	dark := 0
	for _, m := range f.Strips {
		if m.Overexposed() {
			dark++
		}
	}
	if dark == 0 || dark <= len(f.Strips)-2 {
		return nil
	}
	return &sensito.Unanswerable{Reason: fmt.Sprintf("%d of %d strips do not show their speed point: they are denser already at the faintest step", dark, len(f.Strips)),
		Hint: "expose strips less, or under a wedge whose dark end is denser, so that the speed point lies three to six steps inside"}
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
		if len(fit.Distinct(t)) < 2 && !f.table.OneTime() {
			if err := f.TooMuchLight(); err != nil {
				return err
			}
			return &sensito.Unanswerable{
				Reason: fmt.Sprintf("%d of %d strips reach far enough for a contrast, and a rate needs two times", len(t), len(f.Strips)),
				Hint:   "expose more; where the toe is then lost, use a longer wedge",
			}
		}
		f.Warnings.Add("strip_left_out/3", len(f.Strips)-len(t), len(f.Strips))
	}
	if t, y, sd := f.table.Column(f.contrast, f.table.Rows); len(t) > 1 && NoControl(t, y, sd) {
		return &sensito.Unanswerable{
			Reason: fmt.Sprintf("time is no control here: at times from %s to %s the contrast %s",
				sensito.Minutes(slices.Min(t)).Clock(1), sensito.Minutes(slices.Max(t)).Clock(1), SpanText(slices.Min(y), slices.Max(y))),
			Hint: OtherControls,
		}
	}
	g, err := f.table.Grow(f.contrast, f.table.Rows, Growth{})
	if err != nil {
		return err
	}
	f.Growth, f.Model = g, string(g.Model)
	switch {
	case g.Model == OneTime:
		f.Warnings.Add("one_strip", sensito.Minutes(t[0]).Clock(1))
	case g.Model == TwoTimes:
		f.Warnings.Add("two_strips")
	case g.DoF == 0:
		f.Warnings.Add("two_strips/2")
	}
	d, err := f.table.Propagate(map[int]float64{f.contrast: g.Scatter}, func(rows [][]float64) ([]float64, error) {
		g, err := f.table.Grow(f.contrast, rows, f.Growth)
		return []float64{g.Limit, g.Rate, g.Induction, g.warp}, err
	})
	if err != nil {
		return err
	}
	dof := g.Behind(f.table.DoF)
	if !math.IsInf(g.Limit, 0) && !math.IsNaN(d.SD(0)) {
		f.Limit = &sensito.Estimate[float64]{Value: g.Limit, StdErr: d.SD(0), DoF: dof, Log: true}
	} else {
		f.Warnings.Add("no_limit")
	}
	f.Rate = &sensito.Estimate[float64]{Value: g.Rate, StdErr: d.SD(1), DoF: dof, Log: true}
	if g.Model == FirstOrderInduction || g.Model == OneTime {
		f.Induction = &sensito.Estimate[float64]{Value: g.Induction, StdErr: d.SD(2), DoF: dof}
	}
	if f.table.Warp != nil {
		f.Temperature = f.temperatureLaw(d, 3, dof)
		f.warnVagueQ10()
	}
	if g.excess > 2 {
		f.Warnings.Add("strips_scatter", g.excess)
	}
	f.wronglyDeveloped()
	return nil
}

// isoReach is how many times less than the shortest tested time, or more than the longest,
// tells nothing of use: film for line drawings never has the contrast of ISO 6.
// TestISOOutside holds it.
const isoReach = 4

// iso finds when the ISO contrast condition is met, if the strips show it.
func (f *Family) iso() {
	t, _, _ := f.table.Column(curve.ColumnISO, f.table.Rows)
	if len(t) < 2 || f.SpeedPoints == nil || f.Trial.Pictured() != nil {
		return
	}
	g, err := f.table.Grow(curve.ColumnISO, f.table.Rows, Growth{})
	if err != nil {
		return
	}
	speedPoint := f.SpeedPointIn(f.table)
	at := func(rows [][]float64) ([]float64, error) {
		g, err := f.table.Grow(curve.ColumnISO, rows, g)
		if err != nil {
			return nil, err
		}
		minutes, err := g.Time(curve.ISODifferenceAim)
		if err != nil {
			return nil, err
		}
		return []float64{math.Log(minutes), speedPoint(rows, minutes)}, nil
	}
	inflate := map[int]float64{curve.ColumnISO: g.Scatter, curve.ColumnSpeedPoint: f.SpeedPoints.Scatter}
	d, err := f.table.Propagate(inflate, at)
	if err != nil {
		return
	}
	minutes := sensito.Minutes(math.Exp(d.Values[0]))
	lo, hi := f.Times()
	if minutes < lo || minutes > hi {
		if minutes > lo/isoReach && minutes < isoReach*hi {
			f.Warnings.Add("iso_outside", minutes.Clock(5))
		}
		return
	}
	f.ISOMinutes = &sensito.Estimate[sensito.Minutes]{Value: minutes, StdErr: minutes * sensito.Minutes(d.SD(0)), DoF: g.Behind(f.table.DoF), Log: true}
	if f.Trial.Exposures().Absolute() {
		f.ISOSpeed = curve.SpeedEstimate(f.SpeedPointAt(d.Values[1], d.SD(1), fit.ScatterDoF(f.SpeedPoints.Scatter, f.SpeedPoints.DoF, f.table.DoF)), sensito.SpeedAt)
	}
}
