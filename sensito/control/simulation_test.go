package control

import (
	"math"
	"math/rand/v2"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/integrate/quad"

	"sensito/sensito/control/chart"
)

// driftRunLength returns the mean number of values up to the first signal when
// the ith, from 1, is normal about i times slope: the probability of no signal
// yet, by quadrature of the density of the statistic where it does not signal
// (Knoth, in Frontiers in Statistical Quality Control 7, 2004, for the method; it
// uses nothing of the charts).
func driftRunLength(slope float64, kind chart.Kind) float64 {
	phi := func(v float64) float64 { return math.Exp(-v*v/2) / math.Sqrt(2*math.Pi) }
	below := func(v float64) float64 { return 0.5 * math.Erfc(-v/math.Sqrt2) }
	const nodes = 120
	x, w := make([]float64, nodes), make([]float64, nodes)
	density, last := make([]float64, nodes), make([]float64, nodes)
	lastX, lastW := make([]float64, nodes), make([]float64, nodes)
	zero := 1.0 // probability that a CUSUM is 0
	length, quiet := 0.0, 1.0
	for i := 1; i < 400 && quiet > 1e-12; i++ {
		length += quiet
		shift := slope * float64(i)
		switch kind {
		case chart.KindIndividuals:
			quiet *= below(3-shift) - below(-3-shift)
			continue
		case chart.KindEWMA:
			l := 2.962 * math.Sqrt(0.2/1.8*(1-math.Pow(0.8, float64(2*i))))
			quad.Legendre{}.FixedLocations(x, w, -l, l)
			for j, z := range x {
				density[j] = 0
				if i == 1 {
					density[j] = phi(z/0.2-shift) / 0.2
					continue
				}
				for k, before := range lastX {
					density[j] += lastW[k] * last[k] * phi((z-0.8*before)/0.2-shift) / 0.2
				}
			}
			zero = 0
		case chart.KindCUSUM:
			quad.Legendre{}.FixedLocations(x, w, 0, 5)
			wasZero := zero
			zero *= below(0.5 - shift)
			for k, before := range lastX {
				if i > 1 {
					zero += lastW[k] * last[k] * below(0.5-shift-before)
				}
			}
			for j, s := range x {
				density[j] = wasZero * phi(s+0.5-shift)
				for k, before := range lastX {
					if i > 1 {
						density[j] += lastW[k] * last[k] * phi(s-before+0.5-shift)
					}
				}
			}
		}
		quiet = zero
		for j := range x {
			quiet += w[j] * density[j]
		}
		copy(last, density)
		copy(lastX, x)
		copy(lastW, w)
	}
	return length
}

// The quadrature where it has a closed form: drifts so steep that the second
// value always signals.
func TestDriftRunLength(t *testing.T) {
	below := func(v float64) float64 { return 0.5 * math.Erfc(-v/math.Sqrt2) }
	assert.InDelta(t, 1+below(3-20), driftRunLength(20, chart.KindIndividuals), 1e-9)
	assert.InDelta(t, 1+below(2.962-6), driftRunLength(6, chart.KindEWMA), 1e-4)
	assert.InDelta(t, 1+below(5.5-8), driftRunLength(8, chart.KindCUSUM), 1e-4)
}

// TestSlowDriftIsCalledInTime: a low density that moves by 0.02 a week, with
// noise of 0.01, is called after as many strips as theory gives for each chart.
func TestSlowDriftIsCalledInTime(t *testing.T) {
	t.Parallel()
	runs := 400
	if os.Getenv("SENSITO_BLIND") != "" {
		runs = 20_000
	}
	r := rand.New(rand.NewPCG(7, 0))
	for _, perWeek := range []int{1, 2, 4} {
		slope := 0.02 / float64(perWeek) // density a strip
		for _, kind := range []chart.Kind{chart.KindIndividuals, chart.KindEWMA, chart.KindCUSUM} {
			want := driftRunLength(slope/0.01, kind)
			var sum, squares float64
			for range runs {
				spec := aimed(controlSpec(40, 7/perWeek, func(i int) float64 { return slope*float64(i+1) + 0.01*r.NormFloat64() }, nothing))
				c := evaluated(t, spec, Options{Kinds: []chart.Kind{kind}})
				require.NotNil(t, c.First)
				require.Equal(t, QuantityLow, c.First.Quantity)
				n := float64(c.First.Index)
				sum, squares = sum+n, squares+n*n
			}
			m := sum / float64(runs)
			se := math.Sqrt((squares/float64(runs) - m*m) / float64(runs))
			t.Logf("%d strips a week, %-12s theory %.3f strips, %.2f weeks; simulated %.3f ± %.3f", perWeek, kind, want, want/float64(perWeek), m, se)
			assert.InDelta(t, want, m, 4*se, "%d a week, %s", perWeek, kind)
		}
	}
}

// A steady process signals as often as FalseShare says, and, with single strips
// alone, as three-sigma limits have it.
func TestFalseShare(t *testing.T) {
	const strips = 28
	spec := aimed(controlSpec(strips, 3, nothing, nothing))
	c := evaluated(t, spec, Options{Kinds: []chart.Kind{chart.KindIndividuals, chart.KindMovingRange}})
	each := 1 - math.Pow(1-1/370.398347345, strips) // of one quantity
	all := 1 - math.Pow(1-each, 3)                  // were the difference independent of the low patch
	assert.Greater(t, c.FalseShare(), 1-math.Pow(1-each, 2)-0.06)
	assert.Less(t, c.FalseShare(), all+0.06)
	assert.Equal(t, c.FalseShare(), c.FalseShare(), "the same again")

	share := func(spec LogSpec) float64 {
		return evaluated(t, spec, Options{}).FalseShare()
	}
	free := controlSpec(strips, 3, nothing, nothing)
	known, estimated := share(spec), share(free)
	t.Logf("28 strips, all charts: limits known %.2f, from 12 strips %.2f", known, estimated)
	assert.InDelta(t, 0.31, known, 0.07, "own simulation with SciPy, 1500 runs")
	assert.InDelta(t, 0.59, estimated, 0.07, "the same")
	assert.Less(t, share(aimed(controlSpec(6, 3, nothing, nothing))), known)

	for _, tol := range []Tolerances{{Low: 0.03}, {Difference: 0.03}, {Low: 0.06, Difference: 0.03, BaseFog: 0.01}} {
		odd := free
		odd.Tolerances = tol
		assert.Less(t, share(odd), 0.8, "%+v", tol)
	}
}

// The interval of the present level covers the truth, though the start of the
// change and its shape are found from the same strips.
func TestLevelCoverage(t *testing.T) {
	runs := 300
	if os.Getenv("SENSITO_BLIND") != "" {
		runs = 5000
	}
	r := rand.New(rand.NewPCG(11, 0))
	for _, c := range []struct {
		name string
		low  func(i int) float64
		now  float64
	}{
		{"step of 0.04", func(i int) float64 { return map[bool]float64{true: -0.04}[i >= 16] }, -0.04},
		{"drift of 0.02 a week", func(i int) float64 { return -0.01 * math.Max(0, float64(i-15)) }, -0.12},
	} {
		covered, since := 0, 0.0
		for range runs {
			spec := aimed(controlSpec(28, 3, func(i int) float64 { return c.low(i) + 0.01*r.NormFloat64() }, nothing))
			lv := evaluated(t, spec, Options{}).levelOf(QuantityLow)
			lo, hi := lv.Change.Interval(0.95)
			if lo <= c.now && c.now <= hi {
				covered++
			}
			since += float64(lv.Since) / float64(runs)
		}
		share := float64(covered) / float64(runs)
		t.Logf("%s: 95 %% interval covers %.1f %%, change dated to strip %.1f on average (17)", c.name, 100*share, since)
		assert.InDelta(t, 0.945, share, 0.04)
		assert.InDelta(t, 17, since, 1.5)
	}
}
