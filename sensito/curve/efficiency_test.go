package curve_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"

	"sensito/sensito"
	"sensito/sensito/curve"
	"sensito/sensito/internal/blind"
	"sensito/sensito/internal/simulated"
)

// parameters returns pointers to what an estimator of the film does not know.
func parameters(f *simulated.Film) []*float64 {
	p := []*float64{&f.Base}
	for i := range f.Layers {
		l := &f.Layers[i]
		p = append(p, &l.Amplitude, &l.At, &l.Width)
		switch l.Shape {
		case simulated.Shouldered:
			p = append(p, &l.Span, &l.SpanWidth)
		case simulated.Skewed:
			p = append(p, &l.SpanWidth)
		case simulated.Upswept:
			p = append(p, &l.Bend)
		}
	}
	return p
}

// gradient returns the derivatives of g by the parameters of the film.
func gradient(f simulated.Film, g func(simulated.Film) float64) []float64 {
	const h = 1e-4
	at := func(j int, by float64) float64 {
		e := f.Scaled(func(int) float64 { return 1 }) // a copy
		*parameters(&e)[j] += by
		return g(e)
	}
	d := make([]float64, len(parameters(&f)))
	for j := range d {
		d[j] = (at(j, h) - at(j, -h)) / (2 * h)
	}
	return d
}

// bounds returns the Cramer-Rao bounds on the standard deviations of unbiased
// estimates of the quantities, for one who knows the shape of the film's curve
// but no parameter, from the readings of a bench: noise and rounding.
func bounds(t testing.TB, b simulated.Bench, f simulated.Film, quantities ...func(simulated.Film) float64) []float64 {
	n := len(parameters(&f))
	info := mat.NewSymDense(n, nil)
	variance := b.Noise*b.Noise + 0.01*0.01/12
	for i := range b.Steps {
		x := float64(i) * b.Step
		info.SymRankOne(info, 1/variance, mat.NewVecDense(n, gradient(f, func(e simulated.Film) float64 { return e.Density(x) })))
	}
	info.SymRankOne(info, float64(b.BaseRead)/variance, mat.NewVecDense(n, gradient(f, func(e simulated.Film) float64 { return e.Base })))
	var chol mat.Cholesky
	require.True(t, chol.Factorize(info), "information of %+v", f)
	var out []float64
	for _, q := range quantities {
		g, v := mat.NewVecDense(n, gradient(f, q)), mat.NewVecDense(n, nil)
		_ = chol.SolveVecTo(v, g) // a poor condition shows in the figures
		out = append(out, math.Sqrt(mat.Dot(g, v)))
	}
	return out
}

// Films of classes a and b, which are of the fitted family, against the
// Cramer-Rao bound of their own strip. What counts is the rms error over the
// rms bound: an estimator that makes full use of the readings gives 1.
func TestEfficiency(t *testing.T) {
	t.Parallel()
	var text strings.Builder
	fmt.Fprintln(&text, "class base read   n  quantity          bias     rms   bound  rms/bound  rms(error/bound)")
	for class := range 2 {
		for _, baseRead := range []int{2, 0} {
			p := simulated.Careless
			p.BaseRead = []int{baseRead}
			var speed, index blind.Tally
			n := 60 * blind.Effort(t)
			for i := range n {
				f, b, m := blindStrip(t, p, rand.New(rand.NewPCG(uint64(i), 3)), class)
				require.NotNil(t, m.SpeedPoint)
				require.NotNil(t, m.ContrastIndex)
				bound := bounds(t, b, f, simulated.Film.SpeedPoint, simulated.Film.ContrastIndex)
				blind.Judge(&speed, m.SpeedPoint, f.SpeedPoint()+b.Faint(), blind.Apart, bound[0])
				blind.Judge(&index, m.ContrastIndex, f.ContrastIndex(), blind.Apart, bound[1])
			}
			root := func(sum float64) float64 { return math.Sqrt(sum / float64(n)) }
			for k, a := range []*blind.Tally{&speed, &index} {
				name := []string{"speed point", "contrast index"}[k]
				fmt.Fprintf(&text, "%c     %d         %4d  %-14s %7.4f %7.4f %7.4f %7.2f %10.2f\n", simulated.ClassNames[class], baseRead, n, name,
					a.Bias(), a.RMS(), root(a.Bounds), a.OverBound(), root(a.Shares))
				// The sampling error of the ratio is 1/sqrt(2n).
				assert.LessOrEqual(t, a.OverBound(), 1.15+2/math.Sqrt(2*float64(n)), "%s of class %c, base read %d times: rms error over bound", name, simulated.ClassNames[class], baseRead)
			}
		}
	}
	t.Log("\n" + text.String())
}

// BenchmarkCoverage measures the errors of blind ordinary strips, not time; run
// it with -benchtime 200x. The bound is for one who knows the shape of the
// film's curve. Films of classes c and e have up to ten parameters, and an
// estimator of fewer can stay below their bound at the price of a bias.
func BenchmarkCoverage(b *testing.B) {
	for class := range simulated.ClassNames {
		for _, noise := range []float64{0.005, 0.010, 0.020} {
			for _, wedge := range []simulated.Kit{{Steps: 21, Step: 0.15}, {Steps: 31, Step: 0.10}, {Steps: 41, Step: 0.075}} {
				p := simulated.Ordinary
				p.Kit = simulated.Kit{Steps: wedge.Steps, Step: wedge.Step, Noise: noise}
				b.Run(fmt.Sprintf("film=%c/noise=%.3f/wedge=%dx%g", simulated.ClassNames[class], noise, p.Steps, p.Step), func(b *testing.B) {
					var speed, index, gradient blind.Tally
					for i := 0; b.Loop(); i++ {
						f, bench, m := blindStrip(b, p, rand.New(rand.NewPCG(uint64(i), 5)), class)
						mean := func(f simulated.Film) float64 { return f.Rise(1.5) / 1.5 }
						bound := bounds(b, bench, f, simulated.Film.SpeedPoint, simulated.Film.ContrastIndex, mean)
						blind.Judge(&speed, m.SpeedPoint, f.SpeedPoint()+bench.Faint(), blind.Apart, bound[0])
						blind.Judge(&index, m.ContrastIndex, f.ContrastIndex(), blind.Apart, bound[1])
						blind.Judge(&gradient, m.AverageGradient, mean(f), blind.Apart, bound[2])
					}
					b.ReportMetric(0, "ns/op")
					for name, a := range map[string]*blind.Tally{"speed": &speed, "index": &index, "grad": &gradient} {
						b.ReportMetric(100*a.Coverage(), name+"-cover-%")
						b.ReportMetric(a.OverBound(), name+"-rms/bound")
						b.ReportMetric(a.RMS(), name+"-rms")
					}
					b.ReportMetric(float64(speed.Missing+index.Missing+gradient.Missing), "missing")
				})
			}
		}
	}
}

// Strips with one reading too high, as by a slip of the pen: whether it is found
// and named, and how far the answers move from those of the strip without it,
// in units of their own standard error.
func TestSlips(t *testing.T) {
	t.Parallel()
	var text strings.Builder
	fmt.Fprintln(&text, "slip  step      n  found  only it   speed point moves: rms  over 1 sd   contrast index: rms  over 1 sd")
	for _, size := range []float64{0.10, 0.20, 1.00} {
		for place, name := range []string{"any", "faint", "dense"} {
			n, found, alone := 6*blind.Effort(t), 0, 0
			var squares [2]float64
			var far [2]int
			for i := range n {
				r := rand.New(rand.NewPCG(uint64(i), 4))
				f, b := simulated.Careless.Film(r, i%len(simulated.ClassNames)), simulated.Careless.Bench(r)
				spec := b.Read(r, f)
				clean, err := curve.Measure(b.Trial(t, spec).Strips()[0], curve.MeasureOptions{})
				require.NoError(t, err)
				at := r.IntN(b.Steps)
				if faint := 0; place > 0 {
					if !b.Reversed {
						faint = b.Steps - 1
					}
					at = map[int]int{1: faint, 2: b.Steps - 1 - faint}[place]
				}
				spec.Density[at] += sensito.Density(size)
				m, err := curve.Measure(b.Trial(t, spec).Strips()[0], curve.MeasureOptions{})
				require.NoError(t, err)
				for _, s := range m.Fit.SetAside {
					if s.Step == at+1 {
						found++
						if len(m.Fit.SetAside) == 1 {
							alone++
						}
					}
				}
				moves := []float64{math.Inf(1), math.Inf(1)}
				if m.SpeedPoint != nil && clean.SpeedPoint != nil {
					moves[0] = float64((m.SpeedPoint.Value - clean.SpeedPoint.Value) / m.SpeedPoint.StdErr)
				}
				if m.ContrastIndex != nil && clean.ContrastIndex != nil {
					moves[1] = (m.ContrastIndex.Value - clean.ContrastIndex.Value) / m.ContrastIndex.StdErr
				}
				for k, v := range moves {
					squares[k] += v * v
					if math.Abs(v) > 1 {
						far[k]++
					}
				}
			}
			share := func(k int) float64 { return 100 * float64(k) / float64(n) }
			fmt.Fprintf(&text, "%.2f  %-6s %4d %5.0f%% %7.0f%% %26.2f %9.0f%% %21.2f %9.0f%%\n", size, name, n, share(found), share(alone),
				math.Sqrt(squares[0]/float64(n)), share(far[0]), math.Sqrt(squares[1]/float64(n)), share(far[1]))
			if size > 0.1 {
				assert.GreaterOrEqual(t, share(found), 95.0, "a slip of %.2f at a step (%s): found, %%", size, name)
			}
			for k, q := range []string{"speed point", "contrast index"} {
				assert.LessOrEqual(t, math.Sqrt(squares[k]/float64(n)), 1.0, "a slip of %.2f at a step (%s): rms move of the %s in its sd", size, name, q)
			}
		}
	}
	t.Log("\n" + text.String())
}
