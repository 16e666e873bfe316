package camera

import (
	"math"
	"slices"

	"sensito/fit"
	"sensito/sensito"
)

// FitReciprocity returns the law tc = tm + a tm^b fitted to measured pairs, with
// errors from their scatter. b is fitted when two pairs or more show a loss of
// over 2 %, otherwise it is 1.62 (see NewReciprocityAdditive). Errors are
// unknown while there are no more pairs than constants. The error is as for
// NewReciprocityTable, or Unanswerable.
//
// The pairs are taken to have the same relative error. A power of the time alone
// is not used: fitted to pairs it shortens the short ones.
//
// It is for programs that use the library; strips of a trial are fitted by
// ReciprocityFromSpeeds.
func FitReciprocity(pairs []sensito.ReciprocityPair) (*Reciprocity, error) {
	if err := (&sensito.StatedReciprocity{Pairs: pairs}).Check(); err != nil {
		return nil, err
	}
	d := reciprocityData{}
	for _, p := range pairs {
		d.add(math.Log(float64(p.Corrected)), math.Log(float64(p.Metered)), 1, lnLoss(p) > informativeShare)
	}
	l, err := d.additive()
	if err != nil {
		return nil, err
	}
	return &Reciprocity{law: l.law, fits: []fittedLaw{{l.law, l.cov, 1}}, dof: float64(l.dof), pairs: slices.Clone(pairs), warnings: l.warnings}, nil
}

// exponentSD is the standard deviation of the exponents of films about 1.62, as
// far as it is known before strips tell (common practice, no source). Without it
// the exponent may come near 1, a power of the time, which strips cannot tell
// from a film that has lost much of its speed at the shortest time already.
const exponentSD = 0.2

// reciprocityData is what an additiveLaw is fitted to: metered times, with their
// errors, for corrected times that are known, all as natural logarithms.
type reciprocityData struct {
	lnCorrected, lnMetered, sd []float64
	informative                int
	shifted                    bool // the metered times are known up to a common factor; else sd is relative
}

func (d *reciprocityData) add(lnCorrected, lnMetered, sd float64, informative bool) {
	d.lnCorrected, d.lnMetered, d.sd = append(d.lnCorrected, lnCorrected), append(d.lnMetered, lnMetered), append(d.sd, sd)
	if informative {
		d.informative++
	}
}

// lawFit is a law fitted to reciprocityData, with what it is judged by.
type lawFit struct {
	fittedLaw
	shift    float64 // logarithm of the common factor
	rss      float64
	dof      int
	warnings sensito.Warnings
}

var noLoss = sensito.Warn("reciprocity_no_loss")

// additive returns the fit of an additiveLaw. To pairs of times the exponent is
// fitted where they can tell it; of strips, exponentSD counts as one more reading.
func (d *reciprocityData) additive() (*lawFit, error) {
	const level, exponent, shift, n = 0, 1, 2, 3
	centre := 0.0
	for _, x := range d.lnCorrected {
		centre += x / float64(len(d.lnCorrected))
	}
	law := func(p []float64) additiveLaw {
		return additiveLaw{level: p[level], at: math.Exp(centre), exponent: p[exponent]}
	}
	problem := fit.Problem{M: len(d.sd), N: n,
		Lower: []float64{0, additiveExponent, 0}, Upper: []float64{1e6, additiveExponent, 0},
		Eval: func(p, r, jac []float64) {
			l := law(p)
			for i, sd := range d.sd {
				x, byLevel, byExponent := l.metered(d.lnCorrected[i])
				r[i] = (d.lnMetered[i] + p[shift] - x) / sd
				if jac != nil {
					jac[n*i+level], jac[n*i+exponent], jac[n*i+shift] = -byLevel/sd, -byExponent/sd, 1/sd
				}
			}
			if i := len(d.sd); i < len(r) {
				r[i] = (p[exponent] - additiveExponent) / exponentSD
				if jac != nil {
					jac[n*i+level], jac[n*i+exponent], jac[n*i+shift] = 0, 1/exponentSD, 0
				}
			}
		}}
	noise := fit.NoiseFromResiduals
	if d.shifted {
		problem.M++
		problem.Lower[shift], problem.Upper[shift], noise = -10, 10, fit.NoiseGiven
	}
	last := len(d.sd) - 1
	far := (additiveExponent - 1) * (d.lnCorrected[last] - centre)
	start := []float64{math.Max(1e-3, math.Expm1(d.lnCorrected[last]-d.lnMetered[last])*math.Exp(-far)), additiveExponent, 0}
	found := fit.Minimize(problem, start, fit.Options{})
	if (d.shifted || d.informative >= 2) && found.Params[level] > 0 {
		problem.Lower[exponent], problem.Upper[exponent] = lowestExp, topExp
		free := fit.Minimize(problem, found.Params, fit.Options{})
		if free.Status == fit.Converged && free.Cov != nil && !free.AtBound[level] {
			found = free
		}
	}
	if found.Status != fit.Converged {
		return nil, &sensito.Unanswerable{Reason: "no law of the form tm + a tm^b fits the times: " + found.Status.String(), Hint: "check the times"}
	}
	l := &lawFit{fittedLaw: fittedLaw{law: law(found.Params)}, shift: found.Params[shift], rss: found.RSS, dof: found.DoF()}
	if found.AtBound[exponent] && found.Params[exponent] != additiveExponent {
		l.warnings = append(l.warnings, sensito.Warn("reciprocity_exponent", found.Params[exponent]))
	}
	if found.Params[level] == 0 {
		l.warnings = append(l.warnings, noLoss)
	} else if cov := found.Covariance(noise); cov != nil {
		l.cov = []float64{cov.At(level, level), cov.At(level, exponent), cov.At(exponent, exponent)}
	}
	return l, nil
}
