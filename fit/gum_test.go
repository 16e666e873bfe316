package fit

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

// gumValues are results of one example as golden/gum.json has them, exact, by
// 1e7 draws, or as published; nil for what is not there.
type gumValues struct {
	Y            *float64 `json:"y"`
	U            *float64 `json:"u"`
	Low          *float64 `json:"low"`
	High         *float64 `json:"high"`
	Symmetric    *float64 `json:"symmetric_low"`
	SymmetricTop *float64 `json:"symmetric_high"`
	Shortest     *float64 `json:"shortest_low"`
	ShortestTop  *float64 `json:"shortest_high"`
}

type gumDraws struct {
	Mean, SD     gumDrawn
	Low          gumDrawn `json:"symmetric_low"`
	High         gumDrawn `json:"symmetric_high"`
	Shortest     gumDrawn `json:"shortest_low"`
	ShortestHigh gumDrawn `json:"shortest_high"`
}

type gumDrawn struct{ Value float64 }

type gumFile struct {
	Additive map[string]json.RawMessage `json:"s1_9_2_additive"`
	Mass     struct {
		Exact     gumValues
		Draws     gumDraws `json:"monte_carlo"`
		Published struct {
			MCM gumValues
		}
	} `json:"s1_9_3_mass"`
	Loss struct {
		Uncorrelated []struct {
			X1        float64
			Exact     gumValues
			Published struct{ MCM gumValues }
		}
		Correlated []struct {
			X1    float64
			Draws gumDraws `json:"monte_carlo"`
		} `json:"correlated_0_9"`
	} `json:"s1_9_4_comparison_loss"`
	Gauge struct {
		Exact     gumValues
		Draws     gumDraws `json:"monte_carlo"`
		Published struct{ MCM gumValues }
	} `json:"s1_9_5_gauge_block"`
	EndGauge struct {
		Published struct{ L, U float64 }
		Computed  struct{ L, U float64 }
	} `json:"gum_h1_end_gauge"`
	Impedance struct {
		V, Phi    []float64
		I         []float64 `json:"I_mA"`
		Published map[string]float64
		Computed  struct {
			R, X, Z float64
			U       []float64
			Corr    [][]float64
		}
	} `json:"gum_h2_impedance"`
	Thermometer struct {
		T, B      []float64
		Published struct {
			Y1   float64 `json:"y1"`
			UY1  float64 `json:"u_y1"`
			Y2   float64 `json:"y2"`
			UY2  float64 `json:"u_y2"`
			R, S float64
			B30  float64 `json:"b30"`
			UB30 float64 `json:"u_b30"`
		}
		Computed struct {
			Y, U []float64
			R, S float64
			B30  float64 `json:"b30"`
			UB30 float64 `json:"u_b30"`
		}
	} `json:"gum_h3_thermometer"`
	Log struct {
		Exact     gumValues
		Published struct{ MCM gumValues }
	} `json:"npl_log"`
	Expansion struct {
		Published map[string]float64
		Computed  struct{ Value float64 }
	} `json:"tn1900_e13_thermal_expansion"`
}

func readGUM(t testing.TB) gumFile {
	raw, err := os.ReadFile("../testdata/golden/gum.json")
	require.NoError(t, err)
	var file gumFile
	require.NoError(t, json.Unmarshal(raw, &file))
	return file
}

func (d gumDraws) values() gumValues {
	return gumValues{
		Y: &d.Mean.Value, U: &d.SD.Value, Symmetric: &d.Low.Value, SymmetricTop: &d.High.Value,
		Shortest: &d.Shortest.Value, ShortestTop: &d.ShortestHigh.Value,
	}
}

const sqrt3 = 1.7320508075688772

func rectangular(r *rand.Rand, lo, hi float64) float64 { return lo + (hi-lo)*r.Float64() }

func student(r *rand.Rand, mean, scale, nu float64) float64 {
	return distuv.StudentsT{Mu: mean, Sigma: scale, Nu: nu, Src: r}.Rand()
}

func arcsine(r *rand.Rand, lo, hi float64) float64 {
	return (lo+hi)/2 + (hi-lo)/2*math.Sin(2*math.Pi*r.Float64())
}

// trapezoid is rectangular with limits known to d (JCGM 101:2008, 6.4.3).
func trapezoid(r *rand.Rand, lo, hi, d float64) float64 {
	a := lo - d + 2*d*r.Float64()
	return rectangular(r, a, lo+hi-a)
}

// gumExample is one worked example: its model, and what it must come to.
type gumExample struct {
	source    string
	level     float64
	model     func(r *rand.Rand) float64
	want      gumValues // exact, or by 1e7 draws
	published gumValues
	unit      float64 // of the last digit published
}

func gumExamples(t *testing.T) []gumExample {
	g := readGUM(t)
	additive := func(name string) (v struct {
		Exact     gumValues
		Published gumValues
		MCM       gumValues `json:"published_mcm"`
	}) {
		require.NoError(t, json.Unmarshal(g.Additive[name], &v))
		return v
	}
	sum := func(scale float64) func(r *rand.Rand) float64 {
		return func(r *rand.Rand) float64 {
			h := sqrt3
			return rectangular(r, -h, h) + rectangular(r, -h, h) + rectangular(r, -h, h) + scale*rectangular(r, -h, h)
		}
	}
	symmetric := func(v gumValues) gumValues { // low and high are ends of the symmetric interval
		v.Symmetric, v.SymmetricTop = v.Low, v.High
		return v
	}
	shortest := func(v gumValues) gumValues {
		v.Shortest, v.ShortestTop = v.Low, v.High
		return v
	}
	loss := func(x1, corr float64) func(r *rand.Rand) float64 {
		return func(r *rand.Rand) float64 {
			a, b := r.NormFloat64(), r.NormFloat64()
			p, q := x1+0.005*a, 0.005*(corr*a+math.Sqrt(1-corr*corr)*b)
			return p*p + q*q
		}
	}
	normal, rect, dominant := additive("normal"), additive("rectangular"), additive("rectangular_one_dominant")
	all := []gumExample{
		{"JCGM 101 9.2.2, four normal", 0.95, func(r *rand.Rand) float64 {
			return r.NormFloat64() + r.NormFloat64() + r.NormFloat64() + r.NormFloat64()
		}, symmetric(normal.Exact), symmetric(normal.Published), 0.01},
		{"JCGM 101 9.2.3, four rectangular", 0.95, sum(1), symmetric(rect.Exact), symmetric(rect.MCM), 0.01},
		{"JCGM 101 9.2.4, one dominant (recalled)", 0.95, sum(10), symmetric(dominant.Exact), symmetric(dominant.MCM), 0.1},
		{"JCGM 101 9.3, mass (recalled)", 0.95, func(r *rand.Rand) float64 {
			m, dm := 100000+0.050*r.NormFloat64(), 1.234+0.020*r.NormFloat64()
			a, w, ref := rectangular(r, 1.10, 1.30), rectangular(r, 7000, 9000), rectangular(r, 7950, 8050)
			return (m+dm)*(1+(a-1.2)*(1/w-1/ref)) - 100000
		}, merge(g.Mass.Draws.values(), g.Mass.Exact), shortest(g.Mass.Published.MCM), 1e-4},
		{"JCGM 101 9.5, gauge block (recalled)", 0.99, func(r *rand.Rand) float64 {
			ls, d := student(r, 50000623, 25, 18), student(r, 215, 6, 24)+student(r, 0, 4, 5)+student(r, 0, 7, 8)
			as, theta := rectangular(r, 9.5e-6, 13.5e-6), -0.1+0.2*r.NormFloat64()+arcsine(r, -0.5, 0.5)
			return ls + d - ls*(trapezoid(r, -1e-6, 1e-6, 1e-7)*theta+as*trapezoid(r, -0.05, 0.05, 0.025)) - 50000000
		}, merge(g.Gauge.Draws.values(), g.Gauge.Exact), shortest(g.Gauge.Published.MCM), 1},
		{"NPL DEM-ES-011 9.2, logarithm", 0.95, func(r *rand.Rand) float64 {
			return math.Log(rectangular(r, 0.1, 1.1))
		}, g.Log.Exact, g.Log.Published.MCM, 0.001},
	}
	for _, c := range g.Loss.Uncorrelated {
		all = append(all, gumExample{"JCGM 101 9.4, loss, uncorrelated (recalled)", 0.95, loss(c.X1, 0), c.Exact, shortest(c.Published.MCM), 1e-6})
	}
	for _, c := range g.Loss.Correlated {
		all = append(all, gumExample{"JCGM 101 9.4, loss, correlation 0.9", 0.95, loss(c.X1, 0.9), c.Draws.values(), gumValues{}, 0})
	}
	return all
}

// merge prefers exact values to drawn ones.
func merge(drawn, exact gumValues) gumValues {
	drawn.Y, drawn.U = exact.Y, exact.U
	return drawn
}

// sampled is a sample with the standard errors of what it says, whatever its
// distribution.
type sampled struct {
	Sample
	mean, sd float64
}

func drawn(t *testing.T, seed uint64, draws int, model func(r *rand.Rand) float64) sampled {
	s := propagate(t, seed, draws, func(r *rand.Rand) (float64, error) { return model(r), nil })
	var fourth float64
	for _, v := range s.sorted {
		z := (v - s.Mean) * (v - s.Mean) / (s.SD * s.SD)
		fourth += z * z / float64(draws)
	}
	m := float64(draws)
	return sampled{Sample: s, mean: s.SD / math.Sqrt(m), sd: s.SD * math.Sqrt((fourth-1)/(4*m))}
}

// end returns the quantile p of the draws and its standard error.
func (s sampled) end(p float64) (value, se float64) {
	d := math.Sqrt(p * (1 - p) / float64(s.N))
	at := func(p float64) float64 { return stat.Quantile(p, stat.LinInterp, s.sorted, nil) }
	return at(p), (at(p+d) - at(p-d)) / 2
}

// share returns the part of the draws within lo and hi.
func (s sampled) share(lo, hi float64) float64 {
	a, _ := slices.BinarySearch(s.sorted, lo)
	b, _ := slices.BinarySearch(s.sorted, hi)
	return float64(b-a) / float64(s.N)
}

// Every example of golden/gum.json that is a distribution: mean, standard
// uncertainty and ends of the symmetric interval within four of their standard
// errors of the exact value (the references by draws have 1e7 of them); the
// shortest interval by its width and by what it covers. Published numbers
// within half a unit of their last digit besides.
//
// Not tested: the first- and second-order results beside them, with the
// effective degrees of freedom and coverage factor of H.1, for which this
// package has no function; and the ends of published shortest intervals, which
// wander from run to run.
func TestGUMExamples(t *testing.T) {
	const draws = 200_000
	for i, c := range gumExamples(t) {
		t.Run(c.source, func(t *testing.T) {
			s := drawn(t, uint64(i+1), draws, c.model)
			tail := (1 - c.level) / 2
			lo, hi := s.Interval(c.level)
			_, seLo := s.end(tail)
			_, seHi := s.end(1 - tail)
			shortLo, shortHi := s.Shortest(c.level)
			coverage := 4 * math.Sqrt(c.level*(1-c.level)/draws)
			assert.InDelta(t, c.level, s.share(shortLo, shortHi), 1e-5)
			assert.LessOrEqual(t, shortHi-shortLo, hi-lo)

			near := func(want *float64, got, se, unit float64, of string) {
				if want != nil {
					assert.InDelta(t, *want, got, 4*se+unit/2, of)
				}
			}
			for _, v := range []struct {
				of   string
				want gumValues
				unit float64
			}{{"reference", c.want, 0}, {"published", c.published, c.unit}} {
				near(v.want.Y, s.Mean, s.mean, v.unit, v.of+" mean")
				near(v.want.U, s.SD, s.sd, v.unit, v.of+" u")
				near(v.want.Symmetric, lo, seLo, v.unit, v.of+" low")
				near(v.want.SymmetricTop, hi, seHi, v.unit, v.of+" high")
				if v.want.Shortest != nil {
					width := *v.want.ShortestTop - *v.want.Shortest
					near(&width, shortHi-shortLo, math.Hypot(seLo, seHi), 2*v.unit, v.of+" shortest width")
					if v.unit == 0 {
						assert.InDelta(t, c.level, s.share(*v.want.Shortest, *v.want.ShortestTop), coverage, "shortest coverage")
					}
				}
			}
		})
	}
}

// JCGM 100 H.1, end gauge. The published u of 32 nm is first order; its model
// made linear must give that. The model as it stands has second-order terms,
// with which H.1.7 has 34 nm (from memory).
func TestGUMEndGauge(t *testing.T) {
	g := readGUM(t).EndGauge
	model := func(linear bool) func(r *rand.Rand) float64 {
		return func(r *rand.Rand) float64 {
			ls, d := 25*r.NormFloat64(), 5.8*r.NormFloat64()+3.9*r.NormFloat64()+6.7*r.NormFloat64()
			da, theta := 0.58e-6*r.NormFloat64(), 0.41*r.NormFloat64()
			as, dth := 1.2e-6*r.NormFloat64(), 0.029*r.NormFloat64()
			if linear {
				return 838 + ls + d - 50000623*(da*-0.1+11.5e-6*dth)
			}
			return 838 + ls + d - (50000623+ls)*(da*(theta-0.1)+(as+11.5e-6)*dth)
		}
	}
	s := drawn(t, 1, 200_000, model(true))
	assert.InDelta(t, g.Computed.L-50e6, s.Mean, 4*s.mean)
	assert.InDelta(t, g.Computed.U, s.SD, 4*s.sd)
	assert.Equal(t, g.Published.U, math.Round(s.SD))
	assert.InDelta(t, g.Published.L-50e6, s.Mean, 0.5+4*s.mean)
	s = drawn(t, 2, 200_000, model(false))
	assert.InDelta(t, 838, s.Mean, 4*s.mean)
	exact := math.Sqrt(g.Computed.U*g.Computed.U + 50000623.*50000623*(math.Pow(0.58e-6*0.41, 2)+math.Pow(1.2e-6*0.029, 2)))
	assert.InDelta(t, exact, s.SD, 4*s.sd)
	assert.Equal(t, 34., math.Round(s.SD))
}

// JCGM 100 H.2, impedance from five simultaneous observations: correlated
// inputs. The published correlations are products of rounded numbers, and
// within 0.002 of golden/gum.json.
func TestGUMImpedance(t *testing.T) {
	g := readGUM(t).Impedance
	in := [3][]float64{g.V, g.I, g.Phi}
	var mean [3]float64
	c := mat.NewSymDense(3, nil)
	for i := range in {
		mean[i] = stat.Mean(in[i], nil)
		for j := range i + 1 {
			c.SetSym(i, j, stat.Covariance(in[i], in[j], nil)/5)
		}
	}
	var chol mat.Cholesky
	require.True(t, chol.Factorize(c))
	var l mat.TriDense
	chol.LTo(&l)
	const draws = 200_000
	outputs := func(r *rand.Rand) [3]float64 {
		z := mat.NewVecDense(3, []float64{r.NormFloat64(), r.NormFloat64(), r.NormFloat64()})
		var x mat.VecDense
		x.MulVec(&l, z)
		ratio, phi := 1000*(mean[0]+x.AtVec(0))/(mean[1]+x.AtVec(1)), mean[2]+x.AtVec(2)
		return [3]float64{ratio * math.Cos(phi), ratio * math.Sin(phi), ratio}
	}
	var columns [3][]float64
	for i, want := range []float64{g.Computed.R, g.Computed.X, g.Computed.Z} {
		s := drawn(t, 5, draws, func(r *rand.Rand) float64 {
			v := outputs(r)
			columns[i] = append(columns[i], v[i])
			return v[i]
		})
		name := []string{"R", "X", "Z"}[i]
		assert.InDelta(t, want, s.Mean, 4*s.mean, name)
		assert.InDelta(t, g.Computed.U[i], s.SD, 4*s.sd, name)
		assert.InDelta(t, g.Published[name], s.Mean, 4*s.mean+5e-4, name)
		assert.InDelta(t, g.Published["u_"+name], s.SD, 4*s.sd+1e-3, name) // u_X is printed 0.295 for 0.2956
	}
	for _, p := range []struct {
		i, j int
		name string
	}{{0, 1, "r_RX"}, {0, 2, "r_RZ"}, {1, 2, "r_XZ"}} {
		want := g.Computed.Corr[p.i][p.j]
		got := stat.Correlation(columns[p.i], columns[p.j], nil)
		assert.InDelta(t, want, got, 4*(1-want*want)/math.Sqrt(draws), p.name)
		assert.InDelta(t, g.Published[p.name], got, 0.002, p.name)
	}
}

// NIST Technical Note 1900, E13: Student inputs with three degrees of freedom,
// whose fourth moment does not exist, so that the scatter of u over ten samples
// stands for its standard error.
func TestThermalExpansion(t *testing.T) {
	g := readGUM(t).Expansion
	in := func(r *rand.Rand, value, u float64) float64 { return student(r, value, u/sqrt3, 3) }
	var u, mean []float64
	for seed := range uint64(10) {
		s := drawn(t, seed, 50_000, func(r *rand.Rand) float64 {
			l0, t0, l1, t1 := in(r, 1.4999, 0.0001), in(r, 288.15, 0.02), in(r, 1.5021, 0.0002), in(r, 373.10, 0.05)
			return (l1 - l0) / (l0 * (t1 - t0))
		})
		u, mean = append(u, s.SD), append(mean, s.Mean)
	}
	m, sd := moments(mean)
	assert.InDelta(t, g.Computed.Value, m, 4*sd/math.Sqrt(10))
	assert.InDelta(t, g.Published["mc_value"], m, 4*sd/math.Sqrt(10)+0.5e-9)
	m, sd = moments(u)
	assert.InDelta(t, g.Published["mc_u"], m, 4*sd*math.Sqrt(0.1+0.05)+0.5e-8) // the published run has about 1e6 draws
	assert.Less(t, sd/m, 0.03)
}
