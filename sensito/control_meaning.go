package sensito

import (
	"fmt"
	"math"
)

// meaning turns the change into stops of speed and percent of time.
func (c *Control) meaning(f *Family) {
	net := c.netLow()
	diff := c.levelOf(QuantityDifference)
	low, difference := c.standard(quantityNetLow).center, c.standard(QuantityDifference).center
	minutes := c.Log.spec.Minutes
	switch {
	case f != nil && minutes == 0:
		c.warn("no_minutes", "the log does not say for how long its strips are developed, so the trial cannot say what a change means: add minutes")
	case f != nil:
		speed, err := f.speedChange(minutes, minutes, low, net.Change)
		if err != nil {
			c.warn("no_speed_change", "what the change means in speed: %v", err)
		}
		c.SpeedStops = speed
		percent, extrapolated, err := f.timeChange(minutes, difference, diff.Change)
		if err != nil {
			c.warn("no_time_change", "what the change means in time: %v", err)
		}
		if c.TimePercent = percent; extrapolated {
			c.warn("time_extrapolated", "the time to come back to the aim lies outside the trial's tested times")
		}
		return
	case c.Log.spec.Gradient != 0:
		e := net.Change
		per := c.Log.spec.Gradient * float64(Stop)
		c.SpeedStops = &Estimate[float64]{Value: e.Value / per, StdErr: e.StdErr / per, DoF: e.DoF}
	}
	c.warn("no_trial", "what a change means in %s needs a trial of the same film and developer: give --trial TRIAL", map[bool]string{true: "time", false: "stops and in time"}[c.SpeedStops != nil])
}

// netLow is the level of the low patch above base plus fog.
func (c *Control) netLow() ControlLevel {
	return c.level(quantityNetLow, c.signalled(QuantityBaseFog) || c.signalled(QuantityLow))
}

func (c *Control) levelOf(quantity string) ControlLevel {
	for _, lv := range c.Levels {
		if lv.Quantity == quantity {
			return lv
		}
	}
	panic("sensito: no level of " + quantity)
}

// speedChange returns the stops by which a change of the low patch, whose net
// density should be low when developed for t, moves the speed: as the difference
// of the exposures that give the two densities, the changed one on the curve of
// the time now. With t for now it is the whole change; with the time whose work
// the process now does in t it is what the contrast does not explain. The error
// of the curves themselves is not in it.
func (f *Family) speedChange(t, now Minutes, low float64, change Estimate[float64]) (*Estimate[float64], error) {
	curve, err := f.CurveAt(t)
	if err != nil {
		return nil, err
	}
	base := BaseFog(curve)
	was, err := curve.LogExposure(NetDensity(low).Over(base))
	if err != nil {
		return nil, fmt.Errorf("the low patch is not on the trial's curve: %w", err)
	}
	if now != t {
		if curve, err = f.CurveAt(now); err != nil {
			return nil, err
		}
		base = BaseFog(curve)
	}
	is, err := curve.LogExposure(NetDensity(low + change.Value).Over(base))
	if err != nil {
		return nil, fmt.Errorf("the low patch has left the trial's curve: %w", err)
	}
	per := curve.Slope(is) * float64(Stop)
	if !(per > 0) {
		return nil, fmt.Errorf("the trial's curve is level at the low patch")
	}
	return &Estimate[float64]{Value: is.Sub(was).Stops(), StdErr: change.StdErr / per, DoF: change.DoF}, nil
}

// timeChange returns by how many percent development for t must be lengthened
// to bring a density difference that has changed back to what it should be. The
// process is taken to run slower or faster by one factor throughout: it now does
// in t what the trial's did in another time, by the trial's law of growth. Says
// too whether one of the times lies outside the trial's.
func (f *Family) timeChange(t Minutes, difference float64, change Estimate[float64]) (e *Estimate[float64], extrapolated bool, err error) {
	if f.NoContrast != nil {
		return nil, false, f.NoContrast
	}
	percent := func(g growth, change float64) (float64, error) {
		now, err := g.Time(g.At(float64(t)) * (1 + change/difference))
		if err != nil || !(now > 0) {
			return 0, fmt.Errorf("a density difference %.2f of what it should be is beyond the trial's law of growth", 1+change/difference)
		}
		return 100 * (float64(t)/now - 1), nil
	}
	const by = 1e-4
	value, err := percent(f.growth, change.Value)
	if err != nil {
		return nil, false, err
	}
	up, err := percent(f.growth, change.Value+by)
	if err != nil {
		return nil, false, err
	}
	d, err := f.table.propagate(map[int]float64{f.contrast: f.growth.scatter}, func(rows [][]float64) ([]float64, error) {
		g, err := f.table.grow(f.contrast, rows, f.growth.model)
		if err != nil {
			return nil, err
		}
		p, err := percent(g, change.Value)
		return []float64{p}, err
	})
	if err != nil {
		return nil, false, err
	}
	slope := (up - value) / by
	e = &Estimate[float64]{Value: value, StdErr: math.Hypot(slope*change.StdErr, d.sd(0)), DoF: change.DoF}
	lo, hi := f.Times()
	longer := t * Minutes(1+value/100)
	now := t / Minutes(1+value/100)
	return e, min(now, longer, t) < lo || max(now, longer, t) > hi, nil
}
