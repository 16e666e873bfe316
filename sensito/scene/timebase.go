package scene

import (
	"math"

	"sensito/fit"
	"sensito/sensito"
	"sensito/sensito/development"
)

// TimeBase is what the error of a development time rests on, as standard
// deviations of its logarithm.
type TimeBase struct {
	Minutes float64 // under the conditions of the trial
	Total   float64 // of the strips, the temperature coefficient they measured and their speed points included
	SD      float64 // the same with those held
	ofAim   float64 // of the range that the negative must span
	dof     float64
	atLeast bool // that range may be longer, and then the time is

	// limits is the interval by profile likelihood with these held; ok is false
	// where there is none.
	limits func(level float64) (low, high float64, ok bool)
}

// Estimate returns a time that stands for the one solved for, under conditions
// that leave it with the error sd by the strips and sdKnown by what is known
// from elsewhere.
func (b TimeBase) Estimate(minutes, sd, sdKnown, dofKnown float64) sensito.Estimate[sensito.Minutes] {
	own := math.Hypot(sd, b.ofAim)
	e := sensito.Estimate[sensito.Minutes]{Value: sensito.Minutes(minutes), StdErr: sensito.Minutes(minutes * math.Hypot(own, sdKnown)), DoF: b.dof, Log: true, AtLeast: b.atLeast}
	if sdKnown > 0 {
		e.DoF = fit.JoinedDoF(own, b.dof, sdKnown, dofKnown)
	}
	symmetric := e
	e.Limits = func(level float64) (sensito.Minutes, sensito.Minutes) {
		low, high, ok := b.limits(level)
		if !ok {
			return symmetric.Interval(level)
		}
		more := fit.StudentT(level, math.Inf(1)) * b.ofAim
		scale := 1.0
		if sd >= b.SD {
			more = math.Hypot(more, fit.StudentT(level, b.dof)*math.Sqrt(sd*sd-b.SD*b.SD))
		} else if b.SD > 0 { // the strips of the condition compare at the aim itself
			scale = sd / b.SD
		}
		more = math.Hypot(more, fit.StudentT(level, dofKnown)*sdKnown)
		further := func(end float64) sensito.Minutes {
			apart := scale * math.Log(end/b.Minutes)
			return sensito.Minutes(minutes * math.Exp(math.Copysign(math.Hypot(apart, more), apart)))
		}
		return further(low), further(high)
	}
	return e
}

// TimeBase returns what the error of a time in minutes rests on, that the law g
// of the strips in a table gives; total is its standard deviation by the strips,
// in ln t, and held that of heldSD.
func (p *Answer) TimeBase(tb *development.Table, g development.Growth, minutes, total, held float64) TimeBase {
	dof := fit.ScatterDoF(g.Scatter, g.DoF, tb.DoF)
	t, rises, sdRise := tb.Timed(ColumnRise, g)
	limits := func(level float64) (low, high float64, ok bool) {
		if p.Scene.ScanMax != 0 {
			return 0, 0, false
		}
		return g.Limits(t, rises, sdRise, float64(p.Aim), dof, level)
	}
	return TimeBase{Minutes: minutes, Total: total, SD: held, ofAim: p.ofAim(g), dof: dof, atLeast: p.Scene.AimOpen(), limits: limits}
}

// heldSD returns the standard deviation of the logarithm of the time with the
// temperature coefficient and the speed points held as they were fitted.
func (p *Answer) heldSD(tb *development.Table, g development.Growth) (float64, error) {
	held := *tb
	held.Warp, held.Placed = nil, nil
	held.Minutes = tb.Warped(g)
	d, err := held.Propagate(map[int]float64{ColumnRise: g.Scatter}, func(rows [][]float64) ([]float64, error) {
		g, err := held.Grow(ColumnRise, rows, g.Model)
		if err != nil {
			return nil, err
		}
		t, err := g.Time(float64(p.Aim))
		return []float64{math.Log(t)}, err
	})
	if err != nil {
		return 0, err
	}
	return d.SD(0), nil
}
