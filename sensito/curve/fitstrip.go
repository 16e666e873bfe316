package curve

import (
	"fmt"
	"math"

	"sensito/fit"
	"sensito/sensito"
)

// FitOptions say how a curve is fitted to a strip. The zero value is the
// recommended run.
type FitOptions struct {
	// KeepAll uses every reading; otherwise a reading that cannot belong to the
	// curve, at a false-alarm rate of 0.1 % a strip, is set aside and named.
	KeepAll bool

	// Noise says where the standard deviation of a reading comes from: from the
	// scatter about the curve (zero), or from the stated repeatability.
	Noise fit.Noise
}

// FitStrip fits a characteristic curve to a strip. The error is Unanswerable
// when the readings cannot determine one.
func FitStrip(strip *sensito.Strip, o FitOptions) (*Fit, error) {
	r := newReadings(strip)
	last := len(r.X) - 1
	if strip.Trial().Material() != sensito.PaperMaterial && !o.KeepAll {
		last = r.reversal()
	}
	if err := r.upTo(last).check(strip); err != nil {
		return nil, err
	}
	if strip.Trial().Material() == sensito.PaperMaterial {
		return r.result(strip, r.bestPaper(o.KeepAll), o)
	}
	if o.KeepAll {
		return r.result(strip, r.on(r.best(true)), o)
	}
	r, c, reversed := r.bestUpTo(last)
	f, err := r.result(strip, r.on(c), o)
	if err == nil && len(reversed) > 0 {
		f.Reversed = reversed
		f.Warnings.Add("reversal", sensito.StepList(reversed))
	}
	return f, err
}

// on returns the curve of a candidate over the readings, with those of other forms
// that were fitted beside it as its rivals.
func (r readings) on(c candidate) chosen {
	if r.quiet() {
		return r.among(c)
	}
	lo, hi := sensito.LogExposure(r.X[0]), sensito.LogExposure(r.X[len(r.X)-1])
	ts := append(make([]trace, 0, 1+len(c.others)), trace{chosen: c.chosen(r, lo, hi), score: c.score})
	for _, o := range c.others {
		ts = append(ts, trace{chosen: o.chosen(r, lo, hi), score: o.score})
	}
	return believed(ts, filmEvidence)
}

// result turns the chosen curve into a Fit.
func (r readings) result(strip *sensito.Strip, c chosen, o FitOptions) (*Fit, error) {
	if c.status != fit.Converged {
		return nil, &sensito.Unanswerable{
			Reason: fmt.Sprintf("strip %d: no curve could be fitted (%v)", strip.Number(), c.status),
			Hint:   "check the readings and the order of the wedge",
		}
	}
	f := &Fit{
		Model: c.model, Names: c.names, Params: c.params, vary: c.vary,
		DoF: c.dof, ResidualDoF: c.dof, Noise: o.Noise, Status: fit.Converged,
		ResidualSD: sensito.Density(math.Sqrt(c.rss/c.dof) * r.Sigma),
		Warnings:   sensito.Warnings{},
	}
	if c.model == modelSpline {
		f.Warnings.Add("smooth_curve")
	}
	f.Curve = f.vary(f.Params, nil)
	if o.Noise == fit.NoiseGiven {
		f.DoF = math.Inf(1)
	}
	if f.Cov = c.covariance(o.Noise); f.Cov != nil {
		f.Root = fit.SquareRoot(f.Cov)
	}
	for _, other := range c.rivals {
		if cov := other.covariance(o.Noise); cov != nil {
			other.root = fit.SquareRoot(cov)
			f.rivals = append(f.rivals, other)
		}
	}
	f.read, f.steps, f.drop = r.BendData, r.step, c.drop
	if strip.Trial().Material() != sensito.PaperMaterial {
		f.stepsAlike(strip, r.alike, c.variance(o.Noise))
	}
	f.offAlike(strip)
	f.note(strip, c.rss, c.dof)
	return f, nil
}

// note says what was set aside and what else a reader of the fit must know; rss is
// of the residuals, in units of the stated variance, with dof degrees of freedom.
func (f *Fit) note(strip *sensito.Strip, rss, dof float64) {
	r := f.read
	words := strip.Trial().Reading().Words
	baseName := "base plus fog"
	if strip.Trial().Material() == sensito.PaperMaterial {
		baseName = "paper white"
	}
	for _, i := range f.drop {
		read, expected := pair(r, i, f.Curve)
		out := SetAside{Density: sensito.Density(read), Expected: sensito.Density(expected)}
		name := "a reading of " + baseName
		if i < len(r.X) {
			out.Step = f.steps[i]
			name = fmt.Sprintf("step %d", out.Step)
		}
		f.SetAside = append(f.SetAside, out)
		f.Warnings.Add("set_aside", name, words(out.Density), words(out.Expected)).Step = out.Step
	}
	f.Warnings = append(f.Warnings, sensito.RepeatWarnings(strip)...)
	if strip.NextStep() > 0 {
		f.Warnings.Add("not_complete", strip.NextStep()).Step = strip.NextStep()
	}
	if base, foot, far := footBelowBase(r); far {
		f.Warnings.Add("below_base", words(sensito.Density(foot)), baseName, words(sensito.Density(base)), baseName, baseName)
	}
	if p := fit.TailProbability(rss, dof); p < 0.001 {
		f.Warnings.Add("lack_of_fit", float64(f.ResidualSD), float64(strip.Repeatability()))
	}
	if len(r.Base) == 0 {
		lo, _ := f.Curve.Domain()
		if steep, _ := Steepest(f.Curve); f.Curve.Slope(lo) > 0.1*steep {
			f.Warnings.Add("base_not_read", baseName)
		}
	}
}
