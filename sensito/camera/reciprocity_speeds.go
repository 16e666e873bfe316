package camera

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"sensito/fit"
	"sensito/sensito"
)

// SpeedAfter is the speed point of a strip that was exposed for some seconds,
// every step of it alike.
type SpeedAfter struct {
	Seconds    sensito.Seconds
	SpeedPoint sensito.Estimate[sensito.LogExposure]
}

// ReciprocityFromSpeeds returns the law that the speed points of strips show
// which were exposed for two or more different times and developed alike. At the
// speed point a strip exposed for tc has received H, and 1/H tells the speed
// left; the speed without loss is fitted along, so that the shortest time need
// not be free of it.
//
// Two laws compete: tc = tm + a tm^b, b being 1.62 give or take 0.2 before the
// strips tell (see NewReciprocityAdditive), and the bounded form of Schwarzschild's
// law (see NewReciprocitySchwarzschild). The one that is closer to the strips is
// returned; the other, weighted by how likely it makes them, widens its error by
// how far the two differ (Buckland, Burnham and Augustin 1997), for films follow
// neither of them exactly.
//
// The speed points' errors are taken as independent; what all strips share, such
// as the lamp's error, hardly matters here, and counting it is on the safe side.
// They are widened where the strips scatter about the law by more than they say.
// The error is Unanswerable, or names a value outside its limits.
func ReciprocityFromSpeeds(strips []SpeedAfter) (*Reciprocity, error) {
	strips = slices.SortedFunc(slices.Values(strips), func(a, b SpeedAfter) int { return cmp.Compare(a.Seconds, b.Seconds) })
	if err := checkSpeeds(strips); err != nil {
		return nil, err
	}
	d := reciprocityData{shifted: true}
	dof := math.Inf(1)
	base := strips[0].SpeedPoint
	for _, s := range strips {
		e := s.SpeedPoint
		lost := math.Ln10 * float64(e.Value-base.Value)
		sd := math.Ln10 * float64(e.StdErr)
		both := math.Hypot(sd, math.Ln10*float64(base.StdErr))
		d.add(math.Log(float64(s.Seconds)), math.Log(float64(s.Seconds))-lost, sd, lost > math.Max(informativeShare, 2*both))
		dof = math.Min(dof, e.DoF)
	}
	l, err := d.additive()
	if err != nil {
		return nil, err
	}
	r, shift := between(l, d.schwarzschild(), dof)
	for i, s := range strips {
		if i == 0 || s.Seconds > strips[i-1].Seconds {
			r.pairs = append(r.pairs, sensito.ReciprocityPair{Corrected: s.Seconds})
		}
		p := &r.pairs[len(r.pairs)-1]
		p.Metered = sensito.Seconds(math.Exp(meanOf(d.lnMetered, d.lnCorrected, math.Log(float64(s.Seconds))) + shift))
	}
	return r, nil
}

func checkSpeeds(strips []SpeedAfter) error {
	times := 0
	for i, s := range strips {
		if !(s.Seconds >= sensito.ShortestExposure && s.Seconds <= sensito.LongestExposure) {
			return fmt.Errorf("strip exposed for %g s is outside %g to %g s", float64(s.Seconds), float64(sensito.ShortestExposure), float64(sensito.LongestExposure))
		}
		if !(s.SpeedPoint.StdErr > 0) || math.IsInf(float64(s.SpeedPoint.StdErr), 0) {
			return fmt.Errorf("strip exposed for %v: %w of its speed point", s.Seconds, sensito.ErrNoUncertainty)
		}
		if i == 0 || s.Seconds > strips[i-1].Seconds {
			times++
		}
	}
	if times < 2 {
		return &sensito.Unanswerable{Reason: "a loss of speed shows between two exposure times or more", Hint: "expose a strip for a long time and develop it with one exposed for a short one"}
	}
	return nil
}

// meanOf returns the mean of the values whose places are at x.
func meanOf(values, places []float64, x float64) float64 {
	sum, n := 0.0, 0.0
	for i, v := range values {
		if places[i] == x {
			sum, n = sum+v, n+1
		}
	}
	return sum / n
}

// schwarzschild returns the fit of a schwarzschildLaw: the logarithm of what is
// lost is a line in that of tc + 1, with the slope 1 - p.
func (d *reciprocityData) schwarzschild() *lawFit {
	var w, wx, wy, wxx, wxy float64
	at := func(i int) (x, y, weight float64) {
		return math.Log1p(math.Exp(d.lnCorrected[i])), d.lnCorrected[i] - d.lnMetered[i], 1 / (d.sd[i] * d.sd[i])
	}
	for i := range d.sd {
		x, y, weight := at(i)
		w, wx, wy = w+weight, wx+weight*x, wy+weight*y
	}
	mx, my := wx/w, wy/w
	for i := range d.sd {
		x, y, weight := at(i)
		wxx, wxy = wxx+weight*(x-mx)*(x-mx), wxy+weight*(x-mx)*(y-my)
	}
	slope := math.Min(math.Max(0, wxy/wxx), 1-sensito.LowestSchwarzschildP)
	l := &lawFit{fittedLaw: fittedLaw{law: schwarzschildLaw(1 - slope), cov: []float64{1 / wxx}}, shift: my - slope*mx, dof: len(d.sd) - 2}
	for i := range d.sd {
		x, y, weight := at(i)
		l.rss += weight * math.Pow(y-my-slope*(x-mx), 2)
	}
	if slope == 0 {
		l.cov, l.warnings = nil, sensito.Warnings{noLoss}
	}
	return l
}

// unlikelyFit is the chance below which strips are taken to scatter about the
// law by more than the errors of their speed points, which have dof degrees of
// freedom.
const unlikelyFit = 0.05

// between returns the better one of two laws, a when they are equal, with the
// other as its rival, and its common factor.
func between(a, b *lawFit, dof float64) (*Reciprocity, float64) {
	if b.rss < a.rss-1e-9 {
		a, b = b, a
	}
	scale := 1.0
	if fit.TailProbability(a.rss, float64(a.dof)) < unlikelyFit {
		scatter := fit.Scatter(a.rss, a.dof)
		scale, dof = scatter*scatter, fit.ScatterDoF(scatter, a.dof, dof)
	}
	widened := func(l *lawFit, weight float64) fittedLaw {
		f := fittedLaw{l.law, slices.Clone(l.cov), weight}
		for i := range f.cov {
			f.cov[i] *= scale
		}
		return f
	}
	r := &Reciprocity{law: a.law, dof: dof, warnings: a.warnings}
	odds := math.Exp((a.rss - b.rss) / scale / 2)
	if b.cov == nil {
		odds = 0
	}
	r.fits = []fittedLaw{widened(a, 1/(1+odds))}
	if odds > 0 {
		r.fits = append(r.fits, widened(b, odds/(1+odds)))
	}
	return r, a.shift
}
