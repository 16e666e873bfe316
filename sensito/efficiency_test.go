package sensito_test

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
	"sensito/sensito/scene"
)

// parameters returns pointers to what an estimator of the film does not know.
func (f *film) parameters() []*float64 {
	p := []*float64{&f.base}
	for i := range f.layers {
		l := &f.layers[i]
		p = append(p, &l.amplitude, &l.at, &l.width)
		switch l.shape {
		case shouldered:
			p = append(p, &l.span, &l.spanWidth)
		case skewed:
			p = append(p, &l.spanWidth)
		case upswept:
			p = append(p, &l.bend)
		}
	}
	return p
}

// gradient returns the derivatives of g by the parameters of the film.
func (f film) gradient(g func(film) float64) []float64 {
	const h = 1e-4
	at := func(j int, by float64) float64 {
		e := f.scaled(func(int) float64 { return 1 }) // a copy
		*e.parameters()[j] += by
		return g(e)
	}
	d := make([]float64, len(f.parameters()))
	for j := range d {
		d[j] = (at(j, h) - at(j, -h)) / (2 * h)
	}
	return d
}

// bounds returns the Cramer-Rao bounds on the standard deviations of unbiased
// estimates of the quantities, for one who knows the shape of the film's curve
// but no parameter, from the readings of a bench: noise and rounding.
func (b bench) bounds(t testing.TB, f film, quantities ...func(film) float64) []float64 {
	n := len(f.parameters())
	info := mat.NewSymDense(n, nil)
	variance := b.noise*b.noise + 0.01*0.01/12
	for i := range b.steps {
		x := float64(i) * b.step
		info.SymRankOne(info, 1/variance, mat.NewVecDense(n, f.gradient(func(e film) float64 { return e.density(x) })))
	}
	info.SymRankOne(info, float64(b.baseRead)/variance, mat.NewVecDense(n, f.gradient(func(e film) float64 { return e.base })))
	var chol mat.Cholesky
	require.True(t, chol.Factorize(info), "information of %+v", f)
	var out []float64
	for _, q := range quantities {
		g, v := mat.NewVecDense(n, f.gradient(q)), mat.NewVecDense(n, nil)
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
			p := careless
			p.baseRead = []int{baseRead}
			var speed, index tally
			n := 60 * effort(t)
			for i := range n {
				f, b, m := p.strip(t, rand.New(rand.NewPCG(uint64(i), 3)), class)
				require.NotNil(t, m.SpeedPoint)
				require.NotNil(t, m.ContrastIndex)
				bound := b.bounds(t, f, film.speedPoint, film.contrastIndex)
				judge(&speed, m.SpeedPoint, f.speedPoint()+b.faint(), apart, bound[0])
				judge(&index, m.ContrastIndex, f.contrastIndex(), apart, bound[1])
			}
			root := func(sum float64) float64 { return math.Sqrt(sum / float64(n)) }
			for k, a := range []*tally{&speed, &index} {
				name := []string{"speed point", "contrast index"}[k]
				fmt.Fprintf(&text, "%c     %d         %4d  %-14s %7.4f %7.4f %7.4f %7.2f %10.2f\n", classNames[class], baseRead, n, name,
					a.bias(), a.rms(), root(a.bounds), a.overBound(), root(a.shares))
				// The sampling error of the ratio is 1/sqrt(2n).
				assert.LessOrEqual(t, a.overBound(), 1.15+2/math.Sqrt(2*float64(n)), "%s of class %c, base read %d times: rms error over bound", name, classNames[class], baseRead)
			}
		}
	}
	t.Log("\n" + text.String())
}

// report gives the coverage of the 95 % intervals.
func (a *tally) report(b *testing.B, name string) {
	b.ReportMetric(100*a.coverage(), name+"-cover-%")
}

// BenchmarkCoverage measures the errors of blind ordinary strips, not time; run
// it with -benchtime 200x. The bound is for one who knows the shape of the
// film's curve. Films of classes c and e have up to ten parameters, and an
// estimator of fewer can stay below their bound at the price of a bias.
func BenchmarkCoverage(b *testing.B) {
	for class := range classNames {
		for _, noise := range []float64{0.005, 0.010, 0.020} {
			for _, wedge := range []kit{{steps: 21, step: 0.15}, {steps: 31, step: 0.10}, {steps: 41, step: 0.075}} {
				p := ordinary
				p.kit = kit{wedge.steps, wedge.step, noise}
				b.Run(fmt.Sprintf("film=%c/noise=%.3f/wedge=%dx%g", classNames[class], noise, p.steps, p.step), func(b *testing.B) {
					var speed, index, gradient tally
					for i := 0; b.Loop(); i++ {
						f, bench, m := p.strip(b, rand.New(rand.NewPCG(uint64(i), 5)), class)
						mean := func(f film) float64 { return f.rise(1.5) / 1.5 }
						bound := bench.bounds(b, f, film.speedPoint, film.contrastIndex, mean)
						judge(&speed, m.SpeedPoint, f.speedPoint()+bench.faint(), apart, bound[0])
						judge(&index, m.ContrastIndex, f.contrastIndex(), apart, bound[1])
						judge(&gradient, m.AverageGradient, mean(f), apart, bound[2])
					}
					b.ReportMetric(0, "ns/op")
					for name, a := range map[string]*tally{"speed": &speed, "index": &index, "grad": &gradient} {
						a.report(b, name)
						b.ReportMetric(a.overBound(), name+"-rms/bound")
						b.ReportMetric(a.rms(), name+"-rms")
					}
					b.ReportMetric(float64(speed.missing+index.missing+gradient.missing), "missing")
				})
			}
		}
	}
}

// BenchmarkSceneCoverage is the same for the plan of a scene of seven stops from
// a blind family of five strips.
func BenchmarkSceneCoverage(b *testing.B) {
	for class := range classNames {
		b.Run(fmt.Sprintf("film=%c/noise=%.3f/wedge=%dx%g", classNames[class], usual.noise, usual.steps, usual.step), func(b *testing.B) {
			var time, index tally
			for i := 0; b.Loop(); i++ {
				d, bench, family := ordinary.family(b, rand.New(rand.NewPCG(uint64(i), 6)), class)
				minutes, ei, ok := d.right(bench, 7)
				if !ok {
					continue
				}
				plan, err := scene.For(family, scene.Scene{Stops: 7})
				if err != nil {
					time.missing++
					continue
				}
				judge(&time, &plan.Minutes, minutes, inShare, math.NaN())
				judge(&index, plan.ExposureIndex, ei, inStops, math.NaN())
			}
			b.ReportMetric(0, "ns/op")
			time.report(b, "time")
			b.ReportMetric(100*time.rms(), "time-rms-%")
			index.report(b, "EI")
			b.ReportMetric(index.rms(), "EI-rms-stops")
			b.ReportMetric(float64(time.missing+index.missing), "missing")
		})
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
			n, found, alone := 6*effort(t), 0, 0
			var squares [2]float64
			var far [2]int
			for i := range n {
				r := rand.New(rand.NewPCG(uint64(i), 4))
				f, b := careless.film(r, i%len(classNames)), careless.bench(r)
				spec := b.read(r, f)
				clean, err := curve.Measure(b.trial(t, spec).Strips()[0], curve.MeasureOptions{})
				require.NoError(t, err)
				at := r.IntN(b.steps)
				if faint := 0; place > 0 {
					if !b.reversed {
						faint = b.steps - 1
					}
					at = map[int]int{1: faint, 2: b.steps - 1 - faint}[place]
				}
				spec.Density[at] += sensito.Density(size)
				m, err := curve.Measure(b.trial(t, spec).Strips()[0], curve.MeasureOptions{})
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
