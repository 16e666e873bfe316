package development

import (
	"errors"
	"fmt"
	"math"

	"sensito/fit"
	"sensito/sensito"
)

// GrowthModel names the law by which a contrast grows with development time.
type GrowthModel string

const (
	FirstOrder          GrowthModel = "first order"                // from time 0 on
	FirstOrderInduction GrowthModel = "first order with induction" // from a time on that is fitted as well
	TwoTimes            GrowthModel = "two times"                  // first order through two times, which nothing checks
)

// Growth is a contrast-like quantity against development time, by first-order
// kinetics (Hurter and Driffield 1890; Sheppard and Mees 1907):
// G = Limit (1 - exp(-Rate (t - Induction))).
type Growth struct {
	fit.Kinetics
	Model   GrowthModel
	Scatter float64 // see fit.Scatter
	warp    float64 // ln q10 beyond that of the times; 0 unless fitted
	DoF     int     // strips less parameters
	chi2    float64
}

// Development measures a development time by the contrast it gives, on which
// speed depends more simply than on the time: ln G.
func (g Growth) Development(minutes float64) float64 {
	const least = 1e-3 // before the induction time there is none
	return math.Log(math.Max(g.At(minutes), least))
}

// UncheckedScatter is taken for two strips, which no third one checks. With it
// the errors of their times are as large as they say where flare does not add to
// them (TestBlindTwoStrips).
const UncheckedScatter = 1.5

// inductionGain is how much chi squared an induction must gain. Akaike's
// criterion asks for 2 where the standard deviations are known; but contrast
// follows the law only nearly, and an induction taken for that misses the time
// by more than it explains. At 6 one film in 140 that has none is given one
// (TestInductionByChance), and the intervals of blind trials cover as they should;
// at 2 they are too short.
const inductionGain = 6

// FitGrowth fits the law to values g with standard deviations sd at times t.
// The model is chosen when it is empty: two strips by the two-times method,
// three without induction, four times or more with one where that gains enough.
// Two strips have the two-times method whatever the model. The error is Unanswerable
// for one time alone, and where contrast does not grow or no law fits.
func FitGrowth(t, g, sd []float64, model GrowthModel) (Growth, error) {
	times := fit.Distinct(t)
	switch {
	case len(times) < 2:
		return Growth{}, &sensito.Unanswerable{
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
			return Growth{}, &sensito.Unanswerable{
				Reason: fmt.Sprintf("two times do not give a rate: %v", err),
				Hint:   "check both strips, or develop a third",
			}
		}
		return Growth{Kinetics: k, Model: TwoTimes, Scatter: UncheckedScatter}, nil
	}
	if model != "" {
		return GrowthOf(t, g, sd, model)
	}
	plain, err := GrowthOf(t, g, sd, FirstOrder)
	if err != nil || len(times) < 4 {
		return plain, err
	}
	induced, err := GrowthOf(t, g, sd, FirstOrderInduction)
	if err != nil || induced.Induction <= 0 {
		return plain, nil
	}
	if induced.chi2+inductionGain < plain.chi2 {
		return induced, nil
	}
	return plain, nil
}

// GrowthOf fits one law, with induction or without, to contrasts g with standard
// deviations sd at times t in minutes. The error is Unanswerable where contrast
// does not grow, or no law fits.
func GrowthOf(t, g, sd []float64, model GrowthModel) (Growth, error) {
	f, err := fit.FitKinetics(t, g, sd, model == FirstOrderInduction)
	if errors.Is(err, fit.ErrRateUnknown) {
		return Growth{}, NoGrowth(t, g)
	}
	if err != nil {
		return Growth{}, err
	}
	if f.Status != fit.Converged {
		return Growth{}, &sensito.Unanswerable{
			Reason: fmt.Sprintf("contrast against time could not be fitted (%v)", f.Status),
			Hint:   "check the strips for one that does not belong",
		}
	}
	out := Growth{Kinetics: f.Kinetics, Model: model, DoF: len(t) - 2}
	if model == FirstOrderInduction {
		out.DoF--
	}
	out.chi2 = f.RSS
	out.Scatter = fit.Scatter(out.chi2, out.DoF)
	return out, nil
}

// fitWarpedGrowth is FitGrowth with times that count as t exp(warp u), the warp
// fitted as well; the search for it begins at each of the starts.
func fitWarpedGrowth(t, g, sd, u []float64, model GrowthModel, starts ...float64) (Growth, error) {
	if model != "" {
		return warpedGrowthOf(t, g, sd, u, model, starts)
	}
	plain, err := warpedGrowthOf(t, g, sd, u, FirstOrder, starts)
	if err != nil || len(fit.Distinct(t)) < 4 || plain.DoF < 2 {
		return plain, err
	}
	induced, err := warpedGrowthOf(t, g, sd, u, FirstOrderInduction, []float64{plain.warp})
	if err == nil && induced.Induction > 0 && induced.chi2+inductionGain < plain.chi2 {
		return induced, nil
	}
	return plain, nil
}

func warpedGrowthOf(t, g, sd, u []float64, model GrowthModel, starts []float64) (Growth, error) {
	f, err := fit.FitWarped(t, g, sd, u, model == FirstOrderInduction, starts...)
	if errors.Is(err, fit.ErrRateUnknown) {
		return Growth{}, NoGrowth(t, g)
	}
	if err != nil || f.Status != fit.Converged || f.Cov == nil || f.AtBound[3] {
		return Growth{}, &sensito.Unanswerable{
			Reason: "contrast against time and temperature could not be fitted together",
			Hint:   "develop two strips or more for different times at one temperature",
		}
	}
	out := Growth{Kinetics: f.Kinetics, Model: model, DoF: len(t) - 3, chi2: f.RSS, warp: f.Warp}
	if model == FirstOrderInduction {
		out.DoF--
	}
	if out.Scatter = fit.Scatter(out.chi2, out.DoF); out.DoF == 0 {
		out.Scatter = UncheckedScatter
	}
	return out, nil
}

// Limits returns the interval of the time at which the growth reaches g, by
// profile likelihood: near the end of development the error of a time is far
// from symmetric, and may have no upper end (TestTimeCoverage in package fit:
// beyond 90 % of the limit an interval from the standard deviation covers 79 to
// 91 of 100 where the profile covers 95). dof are the degrees of freedom behind
// the standard deviations. ok is false where there is no profile.
func (g Growth) Limits(t, y, sd []float64, aim, dof, level float64) (low, high float64, ok bool) {
	wide := g.Scatter * fit.StudentT(level, dof) / fit.StudentT(level, math.Inf(1))
	f, err := fit.FitKinetics(t, y, fit.Each(sd, func(v float64) float64 { return wide * v }), g.Model == FirstOrderInduction)
	if err != nil {
		return 0, 0, false
	}
	low, high = f.TimeInterval(aim, level)
	return low, high, low > 0 && high > low
}

// PerAim returns how far ln t moves with the contrast aimed at, at g: the rate
// at which an error of the aim becomes one of the time. It is infinite where
// development has ended.
func (g Growth) PerAim(aim float64) float64 {
	const by = 1e-4
	low, errLow := g.Time(aim - by)
	high, errHigh := g.Time(aim + by)
	if errLow != nil || errHigh != nil {
		return math.Inf(1)
	}
	return math.Log(high/low) / (2 * by)
}
