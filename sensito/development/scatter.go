package development

import (
	"math"
	"slices"

	"sensito/fit"
	"sensito/sensito/curve"
)

// Scatter is the share by which the contrast of strips developed alike usually
// differs, whatever their readings: 0.1 degrees C (0.7 % of the rate at a factor of 2
// for 10 degrees) and 2 seconds in 6 minutes move contrast by about 0.4 % each,
// agitation and the law of growth itself by as much (TestDevelopmentScatter).
const Scatter = 0.008

// scatters are the shares by which it may differ, and how likely each is before the
// strips are seen: about alike from one doubling to the next, so that a process that
// repeats well and one that does not are judged by their strips, and 6 % hardly ever
// (common practice, no source). TestScatterOfStrips and TestBlindForms hold them.
var scatters = []struct{ share, likely float64 }{
	{Scatter / 4, 1}, {Scatter / 2, 1}, {Scatter, 1}, {2 * Scatter, 1.5}, {4 * Scatter, 1.5}, {8 * Scatter, 0.25},
}

// scatter judges by how much strips scatter about the law beside their readings: each
// of the shares counts by the likelihood of the strips with it, whatever the constants
// of the law. The errors of the mixture are told by the Student's t that is nearest: its
// rare large shares would widen every interval if they were told by their variance.
func (g *Growth) scatter(t, y, sd []float64) {
	if g.stated.Stated() {
		g.repeatsAs(t, y, sd)
		return
	}
	law := func(kinetics fit.Kinetics, t float64) float64 { return math.Log(math.Max(kinetics.At(t), 1e-6)) }
	begins := g.known(t)
	const step = 1e-4
	faster, later := g.Kinetics, g.Kinetics
	faster.Rate *= 1 + step
	faster.Limit = g.Slope / faster.Rate
	later.Induction += step * begins.InductionSD
	var rows [][]float64 // derivatives by the logarithms of limit and rate, and by the induction in its errors
	var off, own []float64
	for j := range t {
		here := law(g.Kinetics, t[j])
		rows = append(rows, []float64{1, (law(faster, t[j]) - here) / step, (law(later, t[j]) - here) / step})
		off = append(off, math.Log(math.Max(y[j], 1e-6))-here)
		own = append(own, math.Max(math.Pow(sd[j]/y[j], 2)-Scatter*Scatter, 1e-10))
	}
	var extra []float64
	for _, s := range scatters {
		extra = append(extra, s.share*s.share)
	}
	known, before := []float64{1e-6, 1e-2, 1}, []float64{0, 0, (g.Induction - begins.Induction) / begins.InductionSD}
	ln := fit.LnRestricted(rows, off, own, known, before, extra)
	var ratios, repeats fit.Mixture
	likeliest := slices.Max(ln) // strips that agree in nothing make the others as good as impossible
	for k, s := range scatters {
		ratio := 0.0 // of the variance to that which the strips are weighted by
		for _, v := range own {
			ratio += (v + extra[k]) / (v + Scatter*Scatter) / float64(len(own))
		}
		weight := s.likely * math.Exp(ln[k]-likeliest)
		ratios = append(ratios, fit.Normal{Weight: weight, SD: math.Sqrt(ratio)})
		repeats = append(repeats, fit.Normal{Weight: weight, SD: s.share})
	}
	g.mixed, g.dof = ratios, ratios.DoF()
	g.Scatter, g.Repeats = ratios.Scale(g.dof), repeats.Scale(g.dof)
}

// repeatsAs is scatter for a process whose repeatability is stated: what thermometer
// and clock do to contrast at the time of each strip, and half of the usual scatter for
// agitation and the law itself.
func (g *Growth) repeatsAs(t, y, sd []float64) {
	share := func(minutes float64) float64 {
		const step = 1e-3
		elasticity := (math.Log(g.At(minutes*(1+step))) - math.Log(g.At(minutes))) / step
		lnTime := math.Hypot(math.Log(DefaultQ10)/10*g.stated.TemperatureSDC, float64(g.stated.TimeSD)/60/minutes)
		return math.Hypot(elasticity*lnTime, Scatter/2)
	}
	ratio := 0.0
	for j := range t {
		own := math.Max(math.Pow(sd[j]/y[j], 2)-Scatter*Scatter, 0)
		ratio += (own + math.Pow(share(t[j]), 2)) / (own + Scatter*Scatter) / float64(len(t))
	}
	g.Scatter, g.Repeats, g.dof = math.Sqrt(ratio), share(geometricMean(t)), math.Inf(1)
	g.mixed = fit.Mixture{{Weight: 1, SD: g.Scatter}}
}

// DrawnScatter returns what Scatter may be, drawn by how likely that is with a number that
// is even between 0 and 1.
func (g Growth) DrawnScatter(by float64) float64 { return g.mixed.Drawn(by) }

// MiddleScatter returns what Scatter is as often less than as more, nearly.
func (g Growth) MiddleScatter() float64 { return g.mixed.Middle() }

// Behind returns the degrees of freedom behind what follows from the law, of strips
// whose readings have so many.
func (g Growth) Behind(readings float64) float64 { return math.Min(g.dof, readings) }

// UncheckedScatter is by how much more than their errors say two strips are taken to
// scatter, which no third one checks.
const UncheckedScatter = 1.5

// How far one strip may lie off the law of the others before it is named, in standard
// deviations and as a share of its contrast, and of how many strips that is asked
// (common practice, no source; TestWronglyDeveloped holds them).
const (
	farOff      = 5
	leastOff    = 0.05
	fewestAsked = 4
	mostAsked   = 30
)

// wronglyDeveloped names a strip whose contrast is not that which the law of the
// others gives it: the one without which the others agree best.
func (f *Family) wronglyDeveloped() {
	t, y, sd := f.table.Column(f.contrast, f.table.Rows)
	if len(t) < fewestAsked || len(t) > mostAsked || len(t) < len(f.Strips) || f.table.Warp != nil {
		return
	}
	worst, least, far, share := -1, math.Inf(1), 0.0, 0.0
	for j := range t {
		without := func(v []float64) []float64 { return append(slices.Clone(v[:j]), v[j+1:]...) }
		g, err := FitGrowth(without(t), without(y), without(sd), Growth{stated: f.table.stated})
		if err != nil {
			continue
		}
		if g.excess >= least {
			continue
		}
		// Beside its own scatter there is that of the law, by fewer strips and outside them.
		off := y[j]/g.At(t[j]) - 1
		worst, least, far, share = j, g.excess, math.Abs(off)/math.Hypot(sd[j]/y[j], 2*g.Scatter*Scatter), off
	}
	if far > farOff && math.Abs(share) > leastOff {
		f.Warnings.Add("strip_off_law", 100*share).Strip = f.Strips[worst].Strip.Number()
	}
}

// Pool is the scatter of the readings of several strips together. One
// densitometer read them all, and strips weighted by their own scatter would be
// weighted by chance.
type Pool struct{ squares, dof float64 }

// NewPool returns the scatter of the readings of strips together.
func NewPool(strips []*curve.Measured) Pool {
	var p Pool
	for _, m := range strips {
		p.squares += math.Pow(float64(m.Fit.ResidualSD), 2) * m.Fit.ResidualDoF
		p.dof += m.Fit.ResidualDoF
	}
	return p
}

// Factor returns how much larger the pooled scatter is than the strip's own.
func (p Pool) Factor(m *curve.Measured) float64 {
	own := float64(m.Fit.ResidualSD)
	if m.Fit.Together != nil || m.Fit.Noise == fit.NoiseGiven || own == 0 || p.dof == 0 {
		return 1
	}
	return math.Sqrt(p.squares/p.dof) / own
}

// Widened returns quantities of a strip with the errors of the pooled scatter. What a
// calibration is known to does not depend on that.
func (p Pool) Widened(m *curve.Measured, d fit.Derived) fit.Derived {
	out := d.Widened(p.Factor(m))
	for k, move := range d.Moves {
		if sourceOf(m.Fit, k) == OfPictures {
			out.Moves[k] = move
		}
	}
	return out
}
