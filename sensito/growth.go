package sensito

import (
	"errors"
	"fmt"
	"math"

	"sensito/fit"
)

// growthModel names the law by which a contrast grows with development time.
type growthModel string

const (
	firstOrder          growthModel = "first order"
	firstOrderInduction growthModel = "first order with induction"
	twoTimes            growthModel = "two times"
)

// growth is a contrast-like quantity against development time, by first-order
// kinetics (Hurter and Driffield 1890; Sheppard and Mees 1907):
// G = Limit (1 - exp(-Rate (t - Induction))).
type growth struct {
	fit.Kinetics
	model   growthModel
	scatter float64 // see fit.Scatter
	warp    float64 // ln q10 beyond that of the times; 0 unless fitted
	dof     int
	chi2    float64
}

// development measures a development time by the contrast it gives, on which
// speed depends more simply than on the time: ln G.
func (g growth) development(minutes float64) float64 {
	const least = 1e-3 // before the induction time there is none
	return math.Log(math.Max(g.At(minutes), least))
}

// uncheckedScatter is taken for two strips, which no third one checks. With it
// the errors of their times are as large as they say where flare does not add to
// them (TestBlindTwoStrips).
const uncheckedScatter = 1.5

// inductionGain is how much chi squared an induction must gain. Akaike's
// criterion asks for 2 where the standard deviations are known; but contrast
// follows the law only nearly, and an induction taken for that misses the time
// by more than it explains. At 6 one film in 140 that has none is given one
// (TestInductionByChance), and the intervals of blind trials cover as they should;
// at 2 they are too short.
const inductionGain = 6

// fitGrowth fits the law to values g with standard deviations sd at times t.
// The model is chosen when it is empty: two strips by the two-times method,
// three without induction, four times or more with one where that gains enough.
func fitGrowth(t, g, sd []float64, model growthModel) (growth, error) {
	times := distinct(t)
	switch {
	case len(times) < 2:
		return growth{}, &Unanswerable{
			Reason: "the trial has one development time, and a rate needs two or more",
			Hint:   "develop a second strip for twice or half the time",
		}
	case len(times) == 2 && len(t) == 2:
		i, j := 0, 1
		if t[i] > t[j] {
			i, j = j, i
		}
		k, err := fit.TwoTimes(t[i], g[i], t[j], g[j])
		if err != nil {
			return growth{}, &Unanswerable{
				Reason: fmt.Sprintf("two times do not give a rate: %v", err),
				Hint:   "check both strips, or develop a third",
			}
		}
		return growth{Kinetics: k, model: twoTimes, scatter: uncheckedScatter}, nil
	}
	if model != "" {
		return growthOf(t, g, sd, model)
	}
	plain, err := growthOf(t, g, sd, firstOrder)
	if err != nil || len(times) < 4 {
		return plain, err
	}
	induced, err := growthOf(t, g, sd, firstOrderInduction)
	if err != nil || induced.Induction <= 0 {
		return plain, nil
	}
	if induced.chi2+inductionGain < plain.chi2 {
		return induced, nil
	}
	return plain, nil
}

func growthOf(t, g, sd []float64, model growthModel) (growth, error) {
	f, err := fit.FitKinetics(t, g, sd, model == firstOrderInduction)
	if errors.Is(err, fit.ErrRateUnknown) {
		return growth{}, noGrowth(t, g)
	}
	if err != nil {
		return growth{}, err
	}
	if f.Status != fit.Converged {
		return growth{}, &Unanswerable{
			Reason: fmt.Sprintf("contrast against time could not be fitted (%v)", f.Status),
			Hint:   "check the strips for one that does not belong",
		}
	}
	out := growth{Kinetics: f.Kinetics, model: model, dof: len(t) - 2}
	if model == firstOrderInduction {
		out.dof--
	}
	out.chi2 = f.RSS
	out.scatter = fit.Scatter(out.chi2, out.dof)
	return out, nil
}

// fitWarpedGrowth is fitGrowth with times that count as t exp(warp u), the warp
// fitted as well; the search for it begins at each of the starts.
func fitWarpedGrowth(t, g, sd, u []float64, model growthModel, starts ...float64) (growth, error) {
	if model != "" {
		return warpedGrowthOf(t, g, sd, u, model, starts)
	}
	plain, err := warpedGrowthOf(t, g, sd, u, firstOrder, starts)
	if err != nil || len(distinct(t)) < 4 || plain.dof < 2 {
		return plain, err
	}
	induced, err := warpedGrowthOf(t, g, sd, u, firstOrderInduction, []float64{plain.warp})
	if err == nil && induced.Induction > 0 && induced.chi2+inductionGain < plain.chi2 {
		return induced, nil
	}
	return plain, nil
}

func warpedGrowthOf(t, g, sd, u []float64, model growthModel, starts []float64) (growth, error) {
	f, err := fit.FitWarped(t, g, sd, u, model == firstOrderInduction, starts...)
	if errors.Is(err, fit.ErrRateUnknown) {
		return growth{}, noGrowth(t, g)
	}
	if err != nil || f.Status != fit.Converged || f.Cov == nil || f.AtBound[3] {
		return growth{}, &Unanswerable{
			Reason: "contrast against time and temperature could not be fitted together",
			Hint:   "develop two strips or more for different times at one temperature",
		}
	}
	out := growth{Kinetics: f.Kinetics, model: model, dof: len(t) - 3, chi2: f.RSS, warp: f.Warp}
	if model == firstOrderInduction {
		out.dof--
	}
	if out.scatter = fit.Scatter(out.chi2, out.dof); out.dof == 0 {
		out.scatter = uncheckedScatter
	}
	return out, nil
}

// limits returns the interval of the time at which the growth reaches g, by
// profile likelihood: near the end of development the error of a time is far
// from symmetric, and may have no upper end (TestTimeCoverage in package fit:
// beyond 90 % of the limit an interval from the standard deviation covers 79 to
// 91 of 100 where the profile covers 95). dof are the degrees of freedom behind
// the standard deviations. ok is false where there is no profile.
func (g growth) limits(t, y, sd []float64, aim, dof, level float64) (low, high float64, ok bool) {
	wide := g.scatter * studentT(level, dof) / studentT(level, math.Inf(1))
	f, err := fit.FitKinetics(t, y, each(sd, func(v float64) float64 { return wide * v }), g.model == firstOrderInduction)
	if err != nil {
		return 0, 0, false
	}
	low, high = f.TimeInterval(aim, level)
	return low, high, low > 0 && high > low
}

// perAim returns how far ln t moves with the contrast aimed at, at g: the rate
// at which an error of the aim becomes one of the time. It is infinite where
// development has ended.
func (g growth) perAim(aim float64) float64 {
	const by = 1e-4
	low, errLow := g.Time(aim - by)
	high, errHigh := g.Time(aim + by)
	if errLow != nil || errHigh != nil {
		return math.Inf(1)
	}
	return math.Log(high/low) / (2 * by)
}
