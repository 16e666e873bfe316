package control

import (
	"fmt"
	"math"

	"sensito/fit"
	"sensito/sensito"
	"sensito/sensito/development"
)

// meaning turns the change into percent of time, stops of speed and fog, each
// apart from the others.
func (c *Evaluation) meaning(f *development.Family) {
	aim := patchDensities{c.Center(QuantityBaseFog), c.Center(QuantityLow), c.Center(QuantityDifference)}
	switch minutes := c.Log.spec.Minutes; {
	case f != nil && minutes == 0:
		c.Warnings.Add("no_minutes")
	case f != nil:
		if err := c.meaningByFilm(f, aim); err != nil {
			c.Warnings.Add("no_change_told", err)
		}
	case c.Log.spec.Gradient != 0:
		c.meaningByGradient(aim)
		c.Warnings.Add("no_trial")
	default:
		c.Warnings.Add("no_trial/2")
	}
}

// meaningByFilm tells the causes by the curves of a family.
func (c *Evaluation) meaningByFilm(f *development.Family, aim patchDensities) error {
	if !(aim.net() > 0) {
		return fmt.Errorf("the low patch should be above base plus fog, and the log has it %.2f below", -aim.net())
	}
	t := c.Log.spec.Minutes
	film, err := atPatches(f, t, aim)
	if err != nil {
		return err
	}
	if film.short() {
		c.Warnings.Add("high_beyond_trial", 100*film.share)
	}
	_, _, atAim, err := film.told(aim)
	if err != nil {
		return err
	}
	p, ok := c.present(patchMatrix(atAim[:causes]))
	if !ok {
		return fmt.Errorf("the two patches tell rate and speed not apart: they lie too close together on the curve")
	}
	today := patchDensities{p.patches[QuantityBaseFog], p.patches[QuantityLow], p.patches[QuantityDifference]}
	told, dof, by, err := film.told(today)
	if err != nil {
		return err
	}
	estimate := func(k int) *sensito.Estimate[float64] {
		if math.IsNaN(told.Values[k]) {
			return nil
		}
		var row [causes]float64 // by the causes near the aim
		for l := range causes {
			for i := range causes {
				row[l] += by[k][i] * p.moves[i][l]
			}
		}
		ofStrips, ofTrial := math.Sqrt(p.cov.between(row, row)), told.SD(k)
		sd, dof := fit.Joined(ofStrips, p.dof, ofTrial, dof)
		return &sensito.Estimate[float64]{Value: told.Values[k], StdErr: sd, DoF: dof}
	}
	c.SpeedStops, c.Fog, c.SpeedUnchanged = estimate(causeSpeed), estimate(causeFog), estimate(toldUnchanged)
	rate := estimate(causeRate)
	factor := math.Exp(-rate.Value)
	c.TimePercent = &sensito.Estimate[float64]{Value: 100 * (factor - 1), StdErr: 100 * factor * rate.StdErr, DoF: rate.DoF}
	lo, hi := f.Times()
	longer, now := t*sensito.Minutes(factor), t/sensito.Minutes(factor)
	if min(now, longer, t) < lo || max(now, longer, t) > hi {
		c.Warnings.Add("time_extrapolated")
	}
	return nil
}

// How far a film is from what meaningByGradient takes it for: standard deviations
// as shares of the stops that the rate is taken to cost, and of those left. With
// them intervals of blind films cover (TestBlindControl, which tells them from
// half and from twice as much at SENSITO_BLIND=30).
const proportionShare, gradientShare = 0.3, 0.13

// meaningByGradient tells the speed alone, by the slope of the curve at the low
// patch that the log states: net densities are taken to change with the rate in
// proportion.
func (c *Evaluation) meaningByGradient(aim patchDensities) {
	moves := patchMatrix{
		{0, 0, 1},
		{aim.net(), c.Log.spec.Gradient * float64(sensito.Stop), 1},
		{aim.difference, 0, 0},
	}
	causesBy, ok := moves.inverse()
	if !ok {
		return
	}
	p, ok := c.present(causesBy)
	if !ok {
		return
	}
	speed := p.causes[causeSpeed]
	ofRate := aim.net() * p.causes[causeRate] / moves[1][causeSpeed]
	sd, dof := fit.Joined(math.Sqrt(p.cov[causeSpeed][causeSpeed]), p.dof, math.Hypot(proportionShare*ofRate, gradientShare*speed), math.Inf(1))
	c.SpeedStops = &sensito.Estimate[float64]{Value: speed, StdErr: sd, DoF: dof}
}

func (c *Evaluation) levelOf(quantity string) Level {
	for _, lv := range c.Levels {
		if lv.Quantity == quantity {
			return lv
		}
	}
	panic("sensito: no level of " + quantity)
}
