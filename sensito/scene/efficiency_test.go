package scene_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"

	"sensito/sensito"
	"sensito/sensito/internal/blind"
	"sensito/sensito/internal/simulated"
	"sensito/sensito/scene"
)

// unknowns returns pointers to what an estimator of a film of one layer does not
// know, development included.
func unknowns(d *simulated.Developing) []*float64 {
	l := &d.Layers[0]
	p := []*float64{&d.Base, &d.Fog, &l.Amplitude, &l.Width, &d.Rates[0], &d.Induction, &d.Speed, &d.Move, &d.Settling}
	if l.Shape == simulated.Shouldered {
		p = append(p, &l.Span, &l.SpanWidth)
	}
	return p
}

// derivatives returns those of g by the unknowns of the film.
func derivatives(d simulated.Developing, g func(simulated.Developing) float64) []float64 {
	const h = 1e-4
	at := func(j int, by float64) float64 {
		e := d
		e.Film = d.Scaled(func(int) float64 { return 1 }) // a copy
		e.Rates = append([]float64(nil), d.Rates...)
		*unknowns(&e)[j] += by
		return g(e)
	}
	out := make([]float64, len(unknowns(&d)))
	for j := range out {
		out[j] = (at(j, h) - at(j, -h)) / (2 * h)
	}
	return out
}

// timeAndPoint returns the logarithm of the right time for a scene without flare, and
// the speed point then.
func timeAndPoint(d simulated.Developing, lit simulated.Lit) (lnMinutes, point float64) {
	minutes := simulated.Bisect(d.Minutes[0]/3, 3*d.Minutes[4], func(t float64) float64 { return d.At(t).Spans(lit) - 1.05 })
	return math.Log(minutes), d.At(minutes).SpeedPoint()
}

// bounds returns the Cramer-Rao bounds of the logarithm of the time and of the speed
// point then, for one who knows the form of the film and the law by which it
// develops but no parameter, from the readings of all strips: noise and rounding.
func bounds(t *testing.T, d simulated.Developing, b simulated.Bench, lit simulated.Lit) (lnMinutes, point float64) {
	n := len(unknowns(&d))
	info := mat.NewSymDense(n, nil)
	variance := b.Noise*b.Noise + 0.01*0.01/12
	for _, minutes := range d.Minutes {
		for i := range b.Steps {
			x := float64(i) * b.Step
			info.SymRankOne(info, 1/variance, mat.NewVecDense(n, derivatives(d, func(e simulated.Developing) float64 { return e.At(minutes).Density(x) })))
		}
		info.SymRankOne(info, float64(b.BaseRead)/variance, mat.NewVecDense(n, derivatives(d, func(e simulated.Developing) float64 { return e.At(minutes).Base })))
	}
	var chol mat.Cholesky
	require.True(t, chol.Factorize(info), "information of %+v", d)
	sd := func(q func(simulated.Developing) float64) float64 {
		g, v := mat.NewVecDense(n, derivatives(d, q)), mat.NewVecDense(n, nil)
		_ = chol.SolveVecTo(v, g) // a poor condition shows in the figures
		return math.Sqrt(mat.Dot(g, v))
	}
	return sd(func(e simulated.Developing) float64 { v, _ := timeAndPoint(e, lit); return v }),
		sd(func(e simulated.Developing) float64 { _, v := timeAndPoint(e, lit); return v })
}

// Films of one layer against the Cramer-Rao bound of their own five strips. What
// counts is the rms error over the rms bound: an estimator that makes full use of the
// readings, and knows the form of the film, gives 1.
func TestEfficiency(t *testing.T) {
	t.Parallel()
	var minutes, index blind.Tally
	lit := simulated.LitBy(7, 4, sensito.Flare{Kind: sensito.FlareNone})
	n := 24 * blind.Effort(t)
	for i := range n {
		r := rand.New(rand.NewPCG(uint64(i), 41))
		d, b, family := blind.Family(t, simulated.Reaching, r, i%2)
		lnMinutes, point := timeAndPoint(d, lit)
		if right := math.Exp(lnMinutes); right < d.Minutes[0] || right > d.Minutes[4] {
			continue
		}
		answer, err := scene.For(family, scene.Scene{Stops: 7, Flare: sensito.Flare{Kind: sensito.FlareNone}})
		require.NoError(t, err)
		sdMinutes, sdPoint := bounds(t, d, b, lit)
		blind.Judge(&minutes, &answer.Minutes, math.Exp(lnMinutes), blind.InShare, sdMinutes)
		blind.Judge(&index, answer.ExposureIndex, 8.125/(16*math.Pow(10, point+b.Faint())), blind.InStops, sdPoint/math.Log10(2))
	}
	for name, a := range map[string]*blind.Tally{"time": &minutes, "index": &index} {
		over := a.OverBound()
		t.Logf("%-6s n %d bias %+.4f rms %.4f bound %.4f over it %.2f cover %.1f", name, a.N, a.Bias(), a.RMS(), a.RMS()/over, over, 100*a.Coverage())
		// The sampling error of the ratio is 1/sqrt(2n).
		assert.LessOrEqual(t, over, 1.15+2/math.Sqrt(2*float64(a.N)), "rms error of the %s over its bound", name)
	}
}
