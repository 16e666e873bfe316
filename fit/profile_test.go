package fit

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
)

// goldenLimit is a limit in golden/kinetics.json: a number or "Infinity".
type goldenLimit float64

func (l *goldenLimit) UnmarshalJSON(b []byte) error {
	if string(b) == `"Infinity"` {
		*l = goldenLimit(math.Inf(1))
		return nil
	}
	return json.Unmarshal(b, (*float64)(l))
}

func assertLimit(t *testing.T, want, got float64, of string) {
	t.Helper()
	if math.IsInf(want, 0) || want == 0 {
		assert.Equal(t, want, got, of)
		return
	}
	assert.InEpsilon(t, want, got, 1e-6, of)
}

// golden/kinetics.json: profile limits at 95 % by root finding in SciPy 1.10.1,
// noise from residuals. Of the four times that stop short of the plateau Limit
// has no upper limit and Rate none above zero.
func TestKineticsProfileGolden(t *testing.T) {
	raw, err := os.ReadFile("../testdata/golden/kinetics.json")
	require.NoError(t, err)
	type block struct {
		Reference struct{ Params []float64 }
		Profile   [][2]goldenLimit `json:"profile_ci_95"`
	}
	var file struct {
		Kinetics map[string]struct {
			T, Y       []float64
			Three, Two *block
		}
	}
	require.NoError(t, json.Unmarshal(raw, &file))
	checked, open := 0, 0
	for name, set := range file.Kinetics {
		for _, want := range []*block{set.Three, set.Two} {
			if want == nil {
				continue
			}
			lo, hi := math.Inf(-1), set.T[0]
			if len(want.Reference.Params) == 2 {
				lo, hi = 0, 0
			}
			f, err := fitKinetics(set.T, set.Y, nil, growthData{earliest: lo, latest: hi})
			require.NoError(t, err)
			rate := func(level float64) (lo, hi float64) {
				return Profile(f.data.problem(), f.Solution, 1, f.Noise, level)
			}
			for i, interval := range []func(float64) (float64, float64){f.LimitInterval, rate, f.InductionInterval}[:len(want.Profile)] {
				lo, hi := interval(0.95)
				if name == "k3_four_times_short" && i == 2 {
					assert.InEpsilon(t, inductionOfLine(t, f), lo, 1e-9)
					lo = inductionBoxed(t, f)
				}
				assertLimit(t, float64(want.Profile[i][0]), lo, name+" low")
				assertLimit(t, float64(want.Profile[i][1]), hi, name+" high")
				checked++
				if math.IsInf(hi, 1) || lo == 0 {
					open++
				}
			}
		}
	}
	assert.Equal(t, 22, checked)
	assert.Equal(t, 4, open)
}

// The reference was searched with Limit at most 1000. Where the lower limit of
// Induction lies on a straight line, as it does once, that box moves it by
// 0.003 min: within the same box the reference is met, and without it the
// closed form of the line.
func inductionBoxed(t *testing.T, f KineticsFit) float64 {
	p := Problem{ // Slope, 1/Limit, Induction
		M: len(f.data.t), N: 3,
		Lower: []float64{0, 1e-3, math.Inf(-1)},
		Upper: []float64{math.Inf(1), math.Inf(1), f.data.latest},
		Eval: func(p, r, jac []float64) {
			for i, at := range f.data.t {
				v, d := growth(p[0], p[0]*p[1], at-p[2])
				r[i] = v - f.data.g[i]
				jac[3*i], jac[3*i+1], jac[3*i+2] = d[0]+p[1]*d[1], p[0]*d[1], d[2]
			}
		},
	}
	s := Minimize(p, []float64{f.Slope, 1 / f.Limit, f.Induction}, Options{})
	require.InEpsilon(t, f.RSS, s.RSS, 1e-9)
	lo, _ := Profile(p, s, 2, NoiseFromResiduals, 0.95)
	return lo
}

// inductionOfLine returns where a straight line through the fit's data may
// begin at the earliest at 95 %.
func inductionOfLine(t *testing.T, f KineticsFit) float64 {
	start, err := Root(func(t0 float64) float64 {
		var uu, ug, gg float64
		for i, at := range f.data.t {
			u, g := at-t0, f.data.g[i]
			uu, ug, gg = uu+u*u, ug+u*g, gg+g*g
		}
		return gg - ug*ug/uu - f.RSS - f.rise(f.Noise, 0.95)
	}, -20, -2, 0) // the best line begins later than -2
	require.NoError(t, err)
	return start
}

// On a linear problem the profile is Student's t interval, and the normal one
// where the noise is given; a bound inside cuts it off.
func TestProfileLinear(t *testing.T) {
	a := mat.NewDense(5, 2, []float64{1, 0, 1, 1, 1, 2, 1, 3, 1, 5})
	p := linear(a, []float64{1.1, 1.9, 3.2, 3.8, 6.1})
	s := Minimize(p, []float64{0, 0}, Options{})
	for j := range 2 {
		for n, quantile := range map[Noise]float64{NoiseFromResiduals: 3.182446305284263, NoiseGiven: 1.959963984540054} {
			lo, hi := Profile(p, s, j, n, 0.95)
			sd := s.StdErrs(n)[j]
			assert.InDelta(t, s.Params[j]-quantile*sd, lo, 1e-9)
			assert.InDelta(t, s.Params[j]+quantile*sd, hi, 1e-9)
		}
	}
	p.Lower = []float64{math.Inf(-1), s.Params[1] - 0.01}
	p.Upper = []float64{math.Inf(1), s.Params[1] + 0.02}
	lo, hi := Profile(p, s, 1, NoiseGiven, 0.95)
	assert.Equal(t, []float64{p.Lower[1], p.Upper[1]}, []float64{lo, hi})

	s.Status = Stalled
	lo, hi = Profile(p, s, 1, NoiseGiven, 0.95)
	assert.True(t, math.IsNaN(lo) && math.IsNaN(hi))
	assert.Panics(t, func() { Profile(p, s, 0, NoiseGiven, 1) })
}

// A parameter without influence beyond some value has no limit on that side:
// 1 - exp(-p) for a value of 1 with standard deviation 0.1.
func TestProfileOpen(t *testing.T) {
	p := Problem{M: 1, N: 1, Eval: func(p, r, jac []float64) {
		r[0] = (1 - math.Exp(-p[0]) - 0.9) / 0.1
		jac[0] = math.Exp(-p[0]) / 0.1
	}}
	s := Minimize(p, []float64{1}, Options{})
	lo, hi := Profile(p, s, 0, NoiseGiven, 0.95)
	assert.InDelta(t, -math.Log(0.1+0.1*1.959963984540054), lo, 1e-9)
	assert.Equal(t, math.Inf(1), hi)
	_, hi = Profile(p, s, 0, NoiseGiven, 0.5) // 0.9 + 0.067 is below 1
	assert.InDelta(t, -math.Log(0.1-0.1*0.6744897501960817), hi, 1e-9)
}

// trueStrips returns contrasts of strips at the given times.
func trueStrips(k Kinetics, times []float64, share float64, r *rand.Rand) (g, sd []float64) {
	for _, t := range times {
		v := k.At(t)
		sd = append(sd, share*v)
		g = append(g, v*(1+share*r.NormFloat64()))
	}
	return g, sd
}

// bruteTime is the sum of squares with the value g at the time held, by a grid
// of rates and inductions, refined about the best point.
func bruteTime(d *growthData, g, time float64) float64 {
	p := d.timeHeld(g, time)
	r, jac := make([]float64, p.M), make([]float64, 2*p.M)
	sum := func(k, t0 float64) float64 {
		p.Eval([]float64{k, t0}, r, jac)
		var s float64
		for _, v := range r {
			s += v * v
		}
		return s
	}
	n := 24
	if p.Lower[1] == p.Upper[1] {
		n = 60
	}
	kLo, kHi, tLo, tHi := 0.0, d.fastest, p.Lower[1], p.Upper[1]
	best, bk, bt := math.Inf(1), 0.0, 0.0
	for zoom := range 25 {
		for i := range n + 1 {
			k := kLo + (kHi-kLo)*float64(i)/float64(n)
			if zoom == 0 {
				k = kHi * math.Pow(float64(i)/float64(n), 3)
			}
			for j := range n + 1 {
				t0 := tLo + (tHi-tLo)*float64(j)/float64(n)
				if s := sum(k, t0); s < best {
					best, bk, bt = s, k, t0
				}
				if tHi == tLo {
					break
				}
			}
		}
		shrink := math.Pow(0.6, float64(zoom+1))
		kLo, kHi = math.Max(0, bk-0.5*shrink*d.fastest), math.Min(d.fastest, bk+0.5*shrink*d.fastest)
		w := p.Upper[1] - p.Lower[1]
		tLo, tHi = math.Max(p.Lower[1], bt-0.5*shrink*w), math.Min(p.Upper[1], bt+0.5*shrink*w)
	}
	return best
}

// The limits of time against a dense grid of times with the sum of squares
// minimised by another method: every time on the grid inside them is allowed and
// none outside, with and without induction.
func TestTimeIntervalBruteForce(t *testing.T) {
	r := rand.New(rand.NewPCG(4, 7))
	open, cases := 0, 0
	for range 8 {
		for _, induction := range []bool{false, true} {
			k := Kinetics{Limit: 0.6 + 0.6*r.Float64(), Rate: 0.08 + 0.2*r.Float64()}
			if induction {
				k.Induction = 0.5 + r.Float64()
			}
			times := []float64{4, 5.5, 8, 11, 15}
			if !induction {
				times = times[:3]
			}
			share := []float64{0.01, 0.03}[r.IntN(2)]
			g, sd := trueStrips(k, times, share, r)
			f, err := FitKinetics(times, g, sd, induction)
			if err != nil {
				continue
			}
			aim := k.Limit * (0.4 + 0.6*r.Float64())
			lo, hi := f.TimeInterval(aim, 0.95)
			rise := f.rise(NoiseGiven, 0.95)
			allowed := func(at float64) bool { return bruteTime(&f.data, aim, at)-f.RSS <= rise }
			const slack = 1e-3 // relative, in the limits, for what the grid misses of the minimum
			cases++
			assert.Equal(t, math.IsInf(hi, 1), allowed(math.Inf(1)), "open side")
			if math.IsInf(lo, 1) {
				continue
			}
			for i := range 12 {
				at := 0.7*lo + (math.Min(1.3*hi, 60)-0.7*lo)*float64(i)/11
				if math.Abs(at/lo-1) < slack || math.Abs(at/hi-1) < slack {
					continue
				}
				assert.Equal(t, at > lo && at < hi, allowed(at), "time %g of %g to %g, aim %g, %+v, share %g, induction %v", at, lo, hi, aim, k, share, induction)
			}
			assert.False(t, allowed(lo*(1-slack)))
			assert.True(t, allowed(lo*(1+slack)))
			if math.IsInf(hi, 1) {
				open++
				continue
			}
			assert.False(t, allowed(hi*(1+slack)))
			assert.True(t, allowed(hi*(1-slack)))
		}
	}
	assert.Greater(t, cases, 12)
	assert.Greater(t, open, 2)
}

// With precise data the profile is the delta method, within the square of the
// relative error.
func TestTimeIntervalPrecise(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 1))
	for _, induction := range []bool{false, true} {
		k := Kinetics{Limit: 0.9, Rate: 0.15}
		if induction {
			k.Induction = 1
		}
		times := []float64{4, 6, 9, 13, 18}
		g, sd := trueStrips(k, times, 1e-6, r)
		f, err := FitKinetics(times, g, sd, induction)
		require.NoError(t, err)
		for _, aim := range []float64{0.3, 0.45, 0.72, 0.81} {
			at, err := f.Time(aim)
			require.NoError(t, err)
			lo, hi := f.TimeInterval(aim, 0.95)
			half := 1.959963984540054 * f.TimeSD(aim)
			assert.InEpsilon(t, half, at-lo, 1e-4)
			assert.InEpsilon(t, half, hi-at, 1e-4)
		}
	}
}

func TestTimeIntervalEnds(t *testing.T) {
	times := []float64{4, 6, 9, 13}
	g, sd := []float64{0.42, 0.56, 0.69, 0.80}, []float64{0.005, 0.005, 0.005, 0.005}
	f, err := FitKinetics(times, g, sd, false)
	require.NoError(t, err)
	limitLo, limitHi := f.LimitInterval(0.95)
	lo, hi := f.TimeInterval(limitLo*0.9999, 0.95)
	assert.Less(t, lo, hi)
	assert.False(t, math.IsInf(hi, 1), "all growth within the limits reaches it")
	lo, hi = f.TimeInterval(limitLo*1.0001, 0.95)
	assert.Less(t, lo, 100.0)
	assert.Equal(t, math.Inf(1), hi, "some does not")
	lo, hi = f.TimeInterval(1.0001*f.Limit, 0.95)
	assert.Less(t, lo, 100.0, "the best fit does not, but others do")
	assert.Equal(t, math.Inf(1), hi)
	lo, hi = f.TimeInterval(1.001*limitHi, 0.95)
	assert.Equal(t, []float64{math.Inf(1), math.Inf(1)}, []float64{lo, hi}, "none does")

	// The line through data without an end in sight has an open limit and
	// closed times.
	f, err = FitKinetics([]float64{4, 8}, []float64{0.40, 0.79}, []float64{0.01, 0.01}, false)
	require.NoError(t, err)
	lo, hi = f.LimitInterval(0.95)
	assert.Equal(t, math.Inf(1), hi)
	assert.Greater(t, lo, 0.79)
	lo, hi = f.TimeInterval(0.6, 0.95)
	assert.InDelta(t, 6, (lo+hi)/2, 0.3)
	assert.Less(t, hi-lo, 1.0)

	for _, bad := range []float64{-0.1, math.NaN()} {
		lo, hi = f.TimeInterval(bad, 0.95)
		assert.True(t, math.IsNaN(lo) && math.IsNaN(hi))
	}
	lo, hi = f.TimeInterval(0, 0.95)
	assert.Zero(t, lo)
	assert.Zero(t, hi, "no induction")

	noDoF, err := FitKinetics([]float64{4, 8}, []float64{0.40, 0.6}, nil, false)
	require.NoError(t, err)
	lo, hi = noDoF.TimeInterval(0.5, 0.95)
	assert.True(t, math.IsNaN(lo) && math.IsNaN(hi), "nothing to judge the noise by")
	lo, hi = KineticsFit{}.TimeInterval(0.5, 0.95)
	assert.True(t, math.IsNaN(lo) && math.IsNaN(hi))
}

func BenchmarkTimeInterval(b *testing.B) {
	times := []float64{4, 6, 9, 13, 18}
	g, sd := []float64{0.41, 0.53, 0.66, 0.77, 0.84}, []float64{0.01, 0.01, 0.01, 0.01, 0.01}
	for name, induction := range map[string]bool{"induction=off": false, "induction=on": true} {
		f, err := FitKinetics(times, g, sd, induction)
		require.NoError(b, err)
		b.Run("strips=5/"+name, func(b *testing.B) {
			for b.Loop() {
				f.TimeInterval(0.6, 0.95)
			}
		})
	}
}

// Coarse and odd data of all kinds: limits hold the estimate, widen with the
// level, follow the unit of time, and are open above just where the aim lies
// above the lower limit of Limit.
func TestTimeIntervalProperties(t *testing.T) {
	r := rand.New(rand.NewPCG(21, 2))
	open, closed, none, stalled := 0, 0, 0, 0
	for range 600 {
		n := 2 + r.IntN(5)
		induction := n > 2 && r.IntN(2) == 0
		k := Kinetics{Limit: 0.3 + r.Float64(), Rate: math.Pow(10, -2+2*r.Float64()), Induction: 2 * r.Float64()}
		times, hours := make([]float64, n), make([]float64, n)
		for i := range times {
			times[i] = 2 + 15*r.Float64()
			hours[i] = times[i] / 60
		}
		g, sd := trueStrips(k, times, math.Pow(10, -3+2*r.Float64()), r)
		for i := range g {
			sd[i] += 0.003
			g[i] += 0.003 * r.NormFloat64()
		}
		f, err := FitKinetics(times, g, sd, induction)
		if err != nil {
			continue
		}
		if f.Status != Converged {
			stalled++ // a plateau from the first time on, where rate and induction change places
			continue
		}
		if f.DoF() > 0 && r.IntN(3) == 0 {
			f.Noise = NoiseFromResiduals
		}
		aim := k.Limit * (0.2 + r.Float64())
		lo, hi := f.TimeInterval(aim, 0.95)
		if math.IsInf(lo, 1) {
			none++
			assert.Greater(t, aim, f.Limit)
			continue
		}
		assert.Less(t, lo, hi)
		if at, err := f.Time(aim); err == nil {
			assert.Less(t, lo, at)
			assert.Greater(t, hi, at)
		}
		limitLo, _ := f.LimitInterval(0.95)
		assert.Equal(t, aim > limitLo, math.IsInf(hi, 1), "aim %g, limit from %g, times %v, values %v", aim, limitLo, times, g)
		closer, further := f.TimeInterval(aim, 0.8)
		assert.Less(t, lo, closer)
		if math.IsInf(hi, 1) {
			open++
		} else {
			closed++
			assert.Less(t, further, hi)
		}
		other, err := FitKinetics(hours, g, sd, induction)
		require.NoError(t, err)
		other.Noise = f.Noise
		shortLo, shortHi := other.TimeInterval(aim, 0.95)
		assert.InEpsilon(t, lo, 60*shortLo, 1e-6)
		if !math.IsInf(hi, 1) {
			assert.InEpsilon(t, hi, 60*shortHi, 1e-5)
		}
	}
	t.Logf("%d open, %d closed, %d without a time", open, closed, none)
	assert.Greater(t, min(open, closed, none), 20)
	assert.Less(t, stalled, 10)
}
