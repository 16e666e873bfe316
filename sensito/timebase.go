package sensito

import (
	"math"

	"sensito/fit"
)

// timeBase is what the error of a development time rests on, as standard
// deviations of its logarithm.
type timeBase struct {
	minutes float64 // under the conditions of the trial
	total   float64 // of the strips, the temperature coefficient they measured and their speed points included
	sd      float64 // the same with those held
	ofAim   float64 // of the range that the negative must span
	dof     float64
	atLeast bool // that range may be longer, and then the time is

	// limits is the interval by profile likelihood with these held; ok is false
	// where there is none.
	limits func(level float64) (low, high float64, ok bool)
}

// estimate returns a time that stands for the one solved for, under conditions
// that leave it with the error sd by the strips and sdKnown by what is known
// from elsewhere.
func (b timeBase) estimate(minutes, sd, sdKnown, dofKnown float64) Estimate[Minutes] {
	own := math.Hypot(sd, b.ofAim)
	e := Estimate[Minutes]{Value: Minutes(minutes), StdErr: Minutes(minutes * math.Hypot(own, sdKnown)), DoF: b.dof, Log: true, AtLeast: b.atLeast}
	if sdKnown > 0 {
		e.DoF = joinedDoF(own, b.dof, sdKnown, dofKnown)
	}
	symmetric := e
	e.Limits = func(level float64) (Minutes, Minutes) {
		low, high, ok := b.limits(level)
		if !ok {
			return symmetric.Interval(level)
		}
		more := studentT(level, math.Inf(1)) * b.ofAim
		scale := 1.0
		if sd >= b.sd {
			more = math.Hypot(more, studentT(level, b.dof)*math.Sqrt(sd*sd-b.sd*b.sd))
		} else if b.sd > 0 { // the strips of the condition compare at the aim itself
			scale = sd / b.sd
		}
		more = math.Hypot(more, studentT(level, dofKnown)*sdKnown)
		further := func(end float64) Minutes {
			apart := scale * math.Log(end/b.minutes)
			return Minutes(minutes * math.Exp(math.Copysign(math.Hypot(apart, more), apart)))
		}
		return further(low), further(high)
	}
	return e
}

// timeBase returns what the error of a time in minutes rests on, that the law g
// of the strips in a table gives; total is its standard deviation by the strips,
// in ln t, and held that of heldSD.
func (p *Plan) timeBase(tb *table, g growth, minutes, total, held float64) timeBase {
	dof := fit.ScatterDoF(g.scatter, g.dof, tb.dof)
	t, rises, sdRise := tb.timed(sceneRise, g)
	limits := func(level float64) (low, high float64, ok bool) {
		if p.Scene.ScanMax != 0 {
			return 0, 0, false
		}
		return g.limits(t, rises, sdRise, float64(p.aim), dof, level)
	}
	return timeBase{minutes: minutes, total: total, sd: held, ofAim: p.ofAim(g), dof: dof, atLeast: p.Scene.aimOpen(), limits: limits}
}

// heldSD returns the standard deviation of the logarithm of the time with the
// temperature coefficient and the speed points held as they were fitted.
func (p *Plan) heldSD(tb *table, g growth) (float64, error) {
	held := *tb
	held.warp, held.placed = nil, nil
	held.minutes = tb.warped(g)
	d, err := held.propagate(map[int]float64{sceneRise: g.scatter}, func(rows [][]float64) ([]float64, error) {
		g, err := held.grow(sceneRise, rows, g.model)
		if err != nil {
			return nil, err
		}
		t, err := g.Time(float64(p.aim))
		return []float64{math.Log(t)}, err
	})
	if err != nil {
		return 0, err
	}
	return d.sd(0), nil
}
