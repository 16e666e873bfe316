package control

import (
	"math"
	"math/rand/v2"

	"sensito/sensito"
	"sensito/sensito/control/chart"
)

// The simulation of FalseShare; the seed keeps the answer the same.
const (
	falseRuns   = 400
	falseStrips = 80_000 // in all runs together, at most
	falseSeed   = 1931
)

// FalseShare returns how often a steady process with as many strips, judged
// alike, gives a first signal all the same: by simulation of patches that
// scatter normally and independently, to 0.025 or better for logs of up to 200
// strips.
func (c *Evaluation) FalseShare() float64 {
	r := rand.New(rand.NewPCG(falseSeed, 0))
	spec := c.Log.spec
	spec.Strips = c.Log.Strips()
	if spec.Aim != nil {
		spec.Aim = &Patches{High: 1}
	}
	quiet := &Evaluation{Log: &Log{spec: spec, others: c.Log.others}, Baseline: c.Baseline, Rules: c.Rules, kinds: c.kinds, tolerances: c.tolerances}
	patches := steadyPatches(c.tolerances, c.Log.others)
	runs := max(20, min(falseRuns, falseStrips/len(spec.Strips)))
	found := 0
	for range runs {
		for i := range spec.Strips {
			spec.Strips[i].Patches = patches(r)
		}
		if quiet.speaks() {
			found++
		}
	}
	return float64(found) / float64(runs)
}

// steadyPatches returns a source of patches about 0, the high one about 1. They
// scatter by a third of the limits that do not rest on strips, and by 1 otherwise.
func steadyPatches(t Tolerances, others []string) func(*rand.Rand) Patches {
	sd := func(tolerance sensito.Density) float64 {
		if tolerance > 0 {
			return float64(tolerance) / 3
		}
		return 1
	}
	fog, low, difference := sd(t.BaseFog), sd(t.Low), sd(t.Difference)
	switch {
	case t.Difference == 0:
		difference = math.Sqrt2 * low
	case t.Low == 0:
		low = difference / math.Sqrt2
	}
	return func(r *rand.Rand) Patches {
		p := Patches{BaseFog: sensito.Density(fog * r.NormFloat64()), Others: map[string]sensito.Density{}}
		l, own := low*r.NormFloat64(), r.NormFloat64()
		high := l + difference*own // where the limits say that the two move together
		if difference > low {
			high = math.Sqrt(difference*difference-low*low) * own
		}
		p.Low, p.High = sensito.Density(l), sensito.Density(1+high)
		for _, name := range others {
			p.Others[name] = sensito.Density(sd(t.Others[name]) * r.NormFloat64())
		}
		return p
	}
}

// speaks says whether a chart gives a first signal.
func (c *Evaluation) speaks() bool {
	runs := c.Log.runs()
	for _, q := range c.Log.Quantities() {
		s, x := c.standard(q), c.Log.series(q)
		for _, kind := range c.kinds {
			if kind == chart.KindMovingRange {
				continue
			}
			ch := newControlChart(kind, s, x, runs, c.Rules)
			if firstSignal([]Chart{ch}, runs[len(runs)-2]) != nil {
				return true
			}
		}
	}
	return false
}
