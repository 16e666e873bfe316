package chart

import (
	"bufio"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"maps"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat"
)

// The worked examples of the NIST/SEMATECH e-Handbook of Statistical Methods.
type handbook struct {
	Individuals struct {
		X         []float64
		Ranges    []float64 `json:"moving_ranges"`
		Published struct {
			Mean, UCL, LCL, D2 float64
			Range              float64 `json:"mr_bar"`
		}
	} `json:"individuals_6_3_2_2"`
	EWMA struct {
		X            []float64
		Lambda, S, K float64
		Target       float64
		Published    struct {
			EWMA     []float64 `json:"ewma_0_to_20"`
			UCL, LCL float64
		}
	} `json:"ewma_6_3_2_4"`
	CUSUM struct {
		X         []float64
		K, H      float64
		Target    float64
		Published struct {
			High    []float64 `json:"s_hi"`
			Low     []float64 `json:"s_lo"`
			Signals []int     `json:"signals_high_1_based"`
		}
	} `json:"cusum_6_3_2_3"`
}

// The same charts in double precision, and constants.
type recomputed struct {
	Constants   map[string]map[string]float64
	Individuals struct {
		Mean   float64
		Ranges []float64 `json:"moving_ranges"`
		Range  float64   `json:"mr_bar"`
		Sigma  float64   `json:"sigma_d2_exact"`
		UCL    float64   `json:"ucl_d2_exact"`
		LCL    float64   `json:"lcl_d2_exact"`
		MRUCL  float64   `json:"mr_ucl_exact"`
	}
	EWMA struct {
		EWMA     []float64
		UCL, LCL float64
		UCLs     []float64 `json:"ucl_exact_i"`
		LCLs     []float64 `json:"lcl_exact_i"`
	}
	CUSUM struct {
		High    []float64 `json:"s_hi"`
		Low     []float64 `json:"s_lo"`
		Signals []int     `json:"signals_high_1_based"`
	}
}

func spcJSON(t *testing.T, name string, into any) {
	t.Helper()
	data, err := os.ReadFile("../../../testdata/spc/" + name)
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(data, into))
}

// spcRows reads a CSV file with comments as rows by column.
func spcRows(t *testing.T, name string) []map[string]string {
	t.Helper()
	f, err := os.Open("../../../testdata/spc/" + name)
	require.NoError(t, err)
	defer f.Close()
	r := csv.NewReader(bufio.NewReader(f))
	r.Comment, r.TrimLeadingSpace = '#', true
	all, err := r.ReadAll()
	require.NoError(t, err)
	var rows []map[string]string
	for _, line := range all[1:] {
		row := map[string]string{}
		for i, v := range line {
			row[all[0][i]] = v
		}
		rows = append(rows, row)
	}
	require.NotEmpty(t, rows)
	return rows
}

func parsed(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(strings.TrimSpace(s), 64)
	require.NoError(t, err)
	return v
}

// requireClose holds values to a relative tolerance, or as absolute near 0.
func requireClose(t *testing.T, want, got []float64, tol float64, what string) {
	t.Helper()
	require.Len(t, got, len(want), what)
	for i := range want {
		require.InDelta(t, want[i], got[i], tol*math.Max(1, math.Abs(want[i])), "%s %d", what, i+1)
	}
}

// printed returns v as a source prints it.
func printed(v float64, places int) string { return strconv.FormatFloat(v, 'f', places, 64) }

func TestIndividualsOfTheHandbook(t *testing.T) {
	var h handbook
	var r recomputed
	spcJSON(t, "nist_spc.json", &h)
	spcJSON(t, "spc_computed.json", &r)
	x, p := h.Individuals.X, h.Individuals.Published
	ranges := MovingRanges(x)
	requireClose(t, h.Individuals.Ranges, ranges, 1e-12, "printed ranges, NIST 6.3.2.2")
	requireClose(t, r.Individuals.Ranges, ranges, 1e-12, "ranges")

	// NIST divides by d2 rounded to 1.128: with it the printed digits come out.
	l := IndividualsLimits(stat.Mean(x, nil), stat.Mean(ranges, nil)/p.D2)
	for _, c := range []struct {
		what      string
		want, got float64
		places    int
	}{
		{"mean", p.Mean, l.Center, 2}, {"mean range", p.Range, stat.Mean(ranges, nil), 4}, {"UCL", p.UCL, l.Upper, 4}, {"LCL", p.LCL, l.Lower, 4},
	} {
		assert.Equal(t, printed(c.want, c.places), printed(c.got, c.places), "NIST 6.3.2.2, %s", c.what)
	}
	for _, v := range x {
		assert.Zero(t, l.beyond(v), "NIST 6.3.2.2: no point outside")
	}

	l = IndividualsLimits(stat.Mean(x, nil), RangeSigma(ranges))
	m := MovingRangeLimits(RangeSigma(ranges))
	requireClose(t, []float64{r.Individuals.Mean, r.Individuals.Range, r.Individuals.Sigma, r.Individuals.UCL, r.Individuals.LCL, r.Individuals.Range, r.Individuals.MRUCL, 0},
		[]float64{l.Center, stat.Mean(ranges, nil), RangeSigma(ranges), l.Upper, l.Lower, m.Center, m.Upper, m.Lower}, 1e-12, "exact d2")
	c := r.Constants["2"]
	requireClose(t, []float64{c["d2"], c["d3"], c["D4"]}, []float64{rangeD2, rangeD3, rangeD4}, 1e-12, "constants")
	assert.Equal(t, []string{"1.128", "0.853", "3.267"}, []string{printed(rangeD2, 3), printed(rangeD3, 3), printed(rangeD4, 3)}, "as handbooks print them")
	assert.True(t, math.IsNaN(RangeSigma(MovingRanges(x[:1]))))
}

// Montgomery and Runger, Applied Statistics and Probability for Engineers, 3rd
// ed., chapter 16: data of table 16-3 and sums of table 16-7; the printed limits
// are from memory and not used.
func TestIndividualsOfMontgomeryAndRunger(t *testing.T) {
	var x, ranges, want []float64
	for i, row := range spcRows(t, "spc_individuals_concentration.csv") {
		x = append(x, parsed(t, row["x"]))
		if i > 0 {
			want = append(want, parsed(t, row["moving_range"]))
		}
	}
	ranges = MovingRanges(x)
	requireClose(t, want, ranges, 1e-12, "ranges")
	l := IndividualsLimits(stat.Mean(x, nil), stat.Mean(ranges, nil)/1.128)
	assert.Equal(t, []string{"99.095", "2.589474", "105.982", "92.208"},
		[]string{printed(l.Center, 3), printed(stat.Mean(ranges, nil), 6), printed(l.Upper, 3), printed(l.Lower, 3)})
}

func TestEWMAOfTheHandbook(t *testing.T) {
	var h handbook
	var r recomputed
	spcJSON(t, "nist_spc.json", &h)
	spcJSON(t, "spc_computed.json", &r)
	e := h.EWMA
	z := append([]float64{e.Target}, EWMA(e.X, e.Target, e.Lambda)...)
	requireClose(t, r.EWMA.EWMA, z, 1e-12, "EWMA")
	for i, want := range e.Published.EWMA {
		assert.InDelta(t, want, z[i], 0.0051, "NIST 6.3.2.4, average %d, printed to 2 places", i)
	}
	l := EWMALimits(e.Target, e.S, e.Lambda, e.K, 0)
	requireClose(t, []float64{r.EWMA.LCL, r.EWMA.UCL}, []float64{l.Lower, l.Upper}, 1e-12, "settled limits")
	// NIST prints the upper limit with the exact factor and the lower one with the
	// factor rounded to 0.4201.
	assert.Equal(t, printed(e.Published.UCL, 4), printed(l.Upper, 4), "NIST 6.3.2.4")
	assert.Equal(t, printed(e.Published.LCL, 4), printed(e.Target-e.K*0.4201*e.S, 4), "NIST 6.3.2.4")
	assert.Equal(t, "0.4201", printed((l.Upper-l.Center)/(e.K*e.S), 4), "NIST 6.3.2.4")
	for i, v := range z[1:] {
		assert.Zero(t, l.beyond(v), "NIST 6.3.2.4: no point outside")
		l := EWMALimits(e.Target, e.S, e.Lambda, e.K, i+1)
		requireClose(t, []float64{r.EWMA.LCLs[i], r.EWMA.UCLs[i]}, []float64{l.Lower, l.Upper}, 1e-12, "limits of the nth")
	}
	assert.Panics(t, func() { EWMA(e.X, 50, 0) })
	assert.Panics(t, func() { EWMA(e.X, 50, math.NaN()) })
}

func TestCUSUMOfTheHandbook(t *testing.T) {
	var h handbook
	var r recomputed
	spcJSON(t, "nist_spc.json", &h)
	spcJSON(t, "spc_computed.json", &r)
	c := h.CUSUM
	rising, falling := CUSUM(c.X, c.Target, c.K)
	requireClose(t, r.CUSUM.High, rising, 1e-12, "rising")
	requireClose(t, r.CUSUM.Low, falling, 1e-12, "falling")
	for i := range c.X {
		assert.InDelta(t, c.Published.High[i], rising[i], 0.0051, "NIST 6.3.2.3, group %d", i+1)
		assert.InDelta(t, c.Published.Low[i], falling[i], 0.0051, "NIST 6.3.2.3, group %d", i+1)
	}
	var signals []int
	for i, s := range rising {
		if s > c.H {
			signals = append(signals, i+1)
		}
	}
	assert.Equal(t, c.Published.Signals, signals)
	index, since := CUSUMSignal(rising, c.H)
	assert.Equal(t, [2]int{14, 13}, [2]int{index, since}, "NIST 6.3.2.3; its sum is 0 up to group 12")
	index, since = CUSUMSignal(falling, c.H)
	assert.Equal(t, [2]int{0, 0}, [2]int{index, since})
	for i, row := range spcRows(t, "spc_cusum_example.csv") {
		assert.InDelta(t, parsed(t, row["s_hi_exact"]), rising[i], 1e-9)
		assert.InDelta(t, parsed(t, row["s_lo_exact"]), falling[i], 1e-9)
		assert.Equal(t, row["signal"] == "1", rising[i] > c.H)
	}
}

func TestRunRules(t *testing.T) {
	columns := map[string]string{}
	for i := 1; i <= 8; i++ {
		columns[fmt.Sprintf("nelson_%d", i)] = fmt.Sprintf("N%d", i)
	}
	for i := 1; i <= 4; i++ {
		columns[fmt.Sprintf("western_electric_%d", i)] = fmt.Sprintf("W%d", i)
	}
	checked := 0
	for _, row := range spcRows(t, "spc_rule_sequences.csv") {
		var z []float64
		for _, s := range strings.Fields(row["z_values"]) {
			z = append(z, parsed(t, s))
		}
		mirrored := make([]float64, len(z))
		for i, v := range z {
			mirrored[i] = -v
		}
		for _, set := range []RuleSet{WesternElectric, Nelson} {
			for _, r := range Rules(set) {
				want := 0
				if s := row[columns[r.Name]]; s != "" {
					want = int(parsed(t, s))
				}
				for _, z := range [][]float64{z, mirrored} {
					first := 0
					if signals := r.Signals(z); len(signals) > 0 {
						first = signals[0].Index
						assert.LessOrEqual(t, signals[0].Since, first)
						assert.Equal(t, r.Name, signals[0].Rule)
					}
					assert.Equal(t, want, first, "sequence %s, %s (Nelson 1984; Western Electric 1956)", row["seq"], r.Name)
					checked++
				}
			}
		}
	}
	assert.Equal(t, 11*12*2, checked)
	assert.Nil(t, Rules("unknown"))
	assert.Equal(t, "six in a row rising or falling", MeaningOf("nelson_3"))
	assert.Empty(t, MeaningOf("nelson_9"))
	assert.Equal(t, []Signal{{"western_electric_2", 4, 2}}, Rules(WesternElectric)[1].Signals([]float64{0.3, 2.2, -0.4, 2.3, 0.1}), "the first of the two, not the first of the three")
	assert.Equal(t, []Signal{{"nelson_3", 7, 2}}, Rules(Nelson)[2].Signals([]float64{5, -0.9, -0.5, -0.1, 0.3, 0.7, 1.2}))
}

// runLengths returns the mean number of values up to the first signal, and its
// standard error, over many runs of values that lie shift from the centre.
func runLengths(runs int, expected, shift float64, seed uint64, first func(z []float64) int) (mean, se float64) {
	r := rand.New(rand.NewPCG(seed, 1924))
	z := make([]float64, int(25*expected)+50) // a longer run has a chance of e^-25
	var sum, squares float64
	for range runs {
		for i := range z {
			z[i] = shift + r.NormFloat64()
		}
		n := float64(first(z))
		if n == 0 {
			n = float64(len(z))
		}
		sum += n
		squares += n * n
	}
	mean = sum / float64(runs)
	return mean, math.Sqrt((squares/float64(runs) - mean*mean) / float64(runs))
}

// TestRunLengths holds the charts to published average run lengths: R package
// spc 0.6.7, to 4 standard errors; the three-sigma column also to the closed form.
// Two of them are those that the logs are judged by.
func TestRunLengths(t *testing.T) {
	runs := 250
	if os.Getenv("SENSITO_BLIND") != "" {
		runs = 10_000
	}
	cusum := func(k, h float64) func([]float64) int {
		return func(z []float64) int {
			rising, falling := CUSUM(z, 0, k)
			up, _ := CUSUMSignal(rising, h)
			down, _ := CUSUMSignal(falling, h)
			if up == 0 || down > 0 && down < up {
				return down
			}
			return up
		}
	}
	ewma := func(lambda, width float64) func([]float64) int {
		l := EWMALimits(0, 1, lambda, width, 0)
		return func(z []float64) int {
			for i, v := range EWMA(z, 0, lambda) {
				if l.beyond(v) != 0 {
					return i + 1
				}
			}
			return 0
		}
	}
	charts := map[string]func([]float64) int{
		"shewhart_3sigma": func(z []float64) int {
			l := IndividualsLimits(0, 1)
			for i, v := range z {
				if l.beyond(v) != 0 {
					return i + 1
				}
			}
			return 0
		},
		"cusum_two_sided_k0.5_h4":        cusum(0.5, 4),
		"cusum_two_sided_k0.5_h5":        cusum(CUSUMAllow, CUSUMInterval),
		"ewma_l0.3_c3_steady_limits":     ewma(0.3, 3),
		"ewma_l0.2_c2.962_steady_limits": ewma(EWMAWeight, EWMAWidth),
	}
	seed := uint64(0)
	for _, row := range spcRows(t, "arl.csv") {
		shift := parsed(t, row["shift_sigma"])
		for _, name := range slices.Sorted(maps.Keys(charts)) {
			first := charts[name]
			want := parsed(t, row[name])
			seed++
			got, se := runLengths(runs, want, shift, seed, first)
			t.Logf("%-32s shift %.2f: %8.2f, simulated %8.2f ± %.2f", name, shift, want, got, se)
			assert.InDelta(t, want, got, 4*se+1e-9, "%s at a shift of %g sigma", name, shift)
		}
		beyond := 0.5 * (math.Erfc((3-shift)/math.Sqrt2) + math.Erfc((3+shift)/math.Sqrt2))
		assert.InEpsilon(t, 1/beyond, parsed(t, row["shewhart_3sigma"]), 1e-8)
	}
	// NIST/SEMATECH e-Handbook 6.3.2: 91.75 with the four tests together (after
	// Champ and Woodall, Technometrics 29, 393, 1987).
	got, se := runLengths(runs, 91.75, 0, 4, func(z []float64) int {
		rules := Rules(WesternElectric)
		for i := range z {
			for _, r := range rules {
				if r.since(z[:i+1]) >= 0 {
					return i + 1
				}
			}
		}
		return 0
	})
	t.Logf("four Western Electric tests: 91.75, simulated %.2f ± %.2f", got, se)
	assert.InDelta(t, 91.75, got, 4*se)
}
