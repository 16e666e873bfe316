package fit

import (
	"encoding/csv"
	"encoding/json"
	"math"
	"os"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

type goldenRates struct {
	LnA     float64 `json:"ln_A"`
	Ea      float64 `json:"Ea_J_mol"`
	SEEa    float64 `json:"se_Ea"`
	LnK20   float64 `json:"ln_k20"`
	SELnK20 float64 `json:"se_ln_k20"`
	Known   float64 `json:"se_Ea_known_sigma"`
	RSS     float64
	DoF     int
	Predict []struct {
		C    float64 `json:"t_C"`
		LnK  float64 `json:"ln_k"`
		SELn float64 `json:"se_ln_k"`
	}
}

// golden/kinetics.json: two synthetic sets of rates, straight lines by NumPy to
// 1e-10 and the curve itself by SciPy 1.10.1 to 1e-6, R 4.2.2 agreeing.
func TestArrheniusGolden(t *testing.T) {
	raw, err := os.ReadFile("../testdata/golden/kinetics.json")
	require.NoError(t, err)
	var file struct {
		Arrhenius map[string]struct {
			C        []float64 `json:"t_C"`
			K        []float64
			UK       []float64 `json:"u_k"`
			OLS, WLS goldenRates
			NLS      struct {
				K20  float64 `json:"k20"`
				Ea   float64 `json:"Ea_J_mol"`
				SE20 float64 `json:"se_k20"`
				SEEa float64 `json:"se_Ea"`
				RSS  float64
			}
		}
	}
	require.NoError(t, json.Unmarshal(raw, &file))
	require.Len(t, file.Arrhenius, 2)
	for name, set := range file.Arrhenius {
		for _, c := range []struct {
			sd   []float64
			want goldenRates
		}{{nil, set.OLS}, {set.UK, set.WLS}} {
			got, err := FitArrhenius(set.C, set.K, c.sd, 20, NoiseFromResiduals)
			require.NoError(t, err)
			const tol = 1e-10
			assert.InEpsilon(t, c.want.Ea, got.Ea, tol, name)
			assert.InEpsilon(t, c.want.LnK20, got.LnRef, tol, name)
			assert.InEpsilon(t, c.want.LnA, got.LnRate(-zeroCelsius+1e12), 1e-6, name) // as T grows
			assert.InEpsilon(t, c.want.SEEa, math.Sqrt(got.Cov[2]), tol, name)
			assert.InEpsilon(t, c.want.SELnK20, math.Sqrt(got.Cov[0]), tol, name)
			assert.InEpsilon(t, c.want.RSS, got.RSS, 1e-8, name)
			assert.Equal(t, c.want.DoF, got.DoF)
			for _, p := range c.want.Predict {
				assert.InEpsilon(t, p.LnK, got.LnRate(p.C), tol, name)
				assert.InEpsilon(t, p.SELn, got.LnRateSD(p.C), tol, name)
			}
			if c.sd != nil {
				known, err := FitArrhenius(set.C, set.K, c.sd, 20, NoiseGiven)
				require.NoError(t, err)
				assert.InEpsilon(t, c.want.Known, math.Sqrt(known.Cov[2]), tol, name)
			}
		}

		s := Minimize(Problem{M: len(set.K), N: 2, Eval: func(p, r, jac []float64) {
			a := Arrhenius{LnRef: math.Log(p[0]), Ea: 1000 * p[1], RefC: 20} // kJ, for scale
			for i, c := range set.C {
				k := math.Exp(a.LnRate(c))
				r[i] = k - set.K[i]
				jac[2*i], jac[2*i+1] = k/p[0], 1000*k*inverse(20, c)
			}
		}}, []float64{0.2, 50}, Options{})
		require.Equal(t, Converged, s.Status)
		se := s.StdErrs(NoiseFromResiduals)
		assert.InEpsilon(t, set.NLS.K20, s.Params[0], 1e-6, name)
		assert.InEpsilon(t, set.NLS.Ea, 1000*s.Params[1], 1e-6, name)
		assert.InEpsilon(t, set.NLS.SE20, se[0], 1e-6, name)
		assert.InEpsilon(t, set.NLS.SEEa, 1000*se[1], 1e-6, name)
		assert.InEpsilon(t, set.NLS.RSS, s.RSS, 1e-6, name)
	}
}

// columns reads a table of numbers, NaN where there is none.
func columns(t *testing.T, path string) (map[string][]float64, []map[string]string) {
	f, err := os.Open(path)
	require.NoError(t, err)
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment, r.FieldsPerRecord = '#', -1
	all, err := r.ReadAll()
	require.NoError(t, err)
	numbers, texts := map[string][]float64{}, []map[string]string{}
	for _, row := range all[1:] {
		text := map[string]string{}
		for j, name := range all[0] {
			v, err := strconv.ParseFloat(row[j], 64)
			if err != nil {
				v = math.NaN()
			}
			numbers[name] = append(numbers[name], v)
			text[name] = row[j]
		}
		texts = append(texts, text)
	}
	return numbers, texts
}

// reference/temperature_equivalent_time_checks.csv: exact arithmetic.
func TestEquivalentTimes(t *testing.T) {
	c, rows := columns(t, "../testdata/reference/temperature_equivalent_time_checks.csv")
	require.Len(t, rows, 64)
	for i := range rows {
		q, at := c["q_per_10C"][i], c["temp_C"][i]
		assert.InDelta(t, c["arrhenius_min"][i], 10*math.Exp(-math.Log(q)*TensOfDegrees(20, at)), 1e-5)
		a := Arrhenius{Ea: ActivationEnergy(q), RefC: 20}
		assert.InDelta(t, c["arrhenius_min"][i], 10*math.Exp(-a.LnRate(at)), 1e-5)
		assert.InDelta(t, c["loglinear_min"][i], 10*math.Pow(q, -(at-20)/10), 1e-5)
		assert.InDelta(t, c["Ea_kJ_per_mol"][i], a.Ea/1000, 1e-4)
		assert.InDelta(t, q, Q10(a.Ea), 1e-12)
	}
	for _, row := range []struct{ q, ea float64 }{{1.9, 47.4261}, {2, 51.2162}, {2.5, 67.7041}, {2.8, 76.0779}} {
		assert.InDelta(t, row.ea, ActivationEnergy(row.q)/1000, 1e-4, "development notes 3.1")
	}
}

// Published time-temperature tables: ln t against Celsius by least squares, as
// recomputed with them. The law of Arrhenius gives the same coefficient nearly.
func TestPublishedTimeTemperature(t *testing.T) {
	state, _ := columns(t, "../testdata/reference/time_temperature_state_regulation.csv")
	military, _ := columns(t, "../testdata/reference/time_temperature_military_radiography.csv")
	_, rotary := columns(t, "../testdata/reference/time_temperature_rotary_datasheet.csv")
	fahrenheit := func(f float64) float64 { return (f - 32) / 1.8 }
	degrees := []float64{fahrenheit(68), fahrenheit(70), fahrenheit(72), fahrenheit(75)}
	times := func(film, developer string) []float64 {
		for _, row := range rotary {
			if row["film"] != film || row["developer"] != developer || row["format"] == "120" {
				continue
			}
			var out []float64
			for _, name := range []string{"t_68F", "t_70F", "t_72F", "t_75F"} {
				v, err := strconv.ParseFloat(row[name], 64)
				require.NoError(t, err)
				out = append(out, v)
			}
			return out
		}
		t.Fatalf("no row of %s in %s", film, developer)
		return nil
	}
	celsius := func(c map[string][]float64) []float64 {
		out := make([]float64, len(c["temp_F"]))
		for i, f := range c["temp_F"] {
			out[i] = fahrenheit(f)
		}
		return out
	}
	for _, c := range []struct {
		source           string
		x, minutes       []float64
		n                int
		slope, at20, q10 float64
	}{
		{"New Mexico Adm. Code 20.3.6.612 App. C", celsius(state), state["time_min"], 21, -0.13313, 5.026, 3.786},
		{"US Air Force T.O. 33B-1-1, table 6-16, normal", celsius(military), military["normal_min"], 7, -0.06503, 4.916, 1.916},
		{"US Air Force T.O. 33B-1-1, table 6-16, maximum", celsius(military), military["maximum_min"], 7, -0.03866, 7.943, 1.472},
		{"data sheet F-32, MQ-borax, film A", degrees, times("film A (ISO 100)", "M MQ-borax stock"), 4, -0.06790, 0, 1.972},
		{"data sheet F-32, ascorbate, film A", degrees, times("film A (ISO 100)", "X ascorbate stock"), 4, -0.10287, 0, 2.797},
	} {
		require.Len(t, c.minutes, c.n, c.source)
		y := make([]float64, c.n)
		rates := make([]float64, c.n)
		for i, m := range c.minutes {
			y[i], rates[i] = math.Log(m), 1/m
		}
		l, err := FitLine(c.x, y, nil, nil, nil)
		require.NoError(t, err)
		const tol = 1e-3
		assert.InDelta(t, c.slope, l.Slope, tol, c.source)
		assert.InDelta(t, c.q10, math.Exp(-10*l.Slope), tol, c.source)
		if c.at20 != 0 {
			assert.InDelta(t, c.at20, math.Exp(l.At(20)), tol, c.source)
		}
		a, err := FitArrhenius(c.x, rates, nil, 20, NoiseFromResiduals)
		require.NoError(t, err)
		// From 20 to 30 the law of Arrhenius gains a little less at the warm end
		// than the straight line through the same times.
		assert.InEpsilon(t, c.q10, Q10(a.Ea), 0.04, c.source)
		assert.InEpsilon(t, math.Exp(l.At(20)), math.Exp(-a.LnRef), 0.01, c.source)
	}
}

func TestArrheniusRefuses(t *testing.T) {
	_, err := FitArrhenius([]float64{20, 22}, []float64{0.1, 0}, nil, 20, NoiseFromResiduals)
	assert.ErrorContains(t, err, "rate 2: 0 is not positive and finite")
	_, err = FitArrhenius([]float64{20, 20}, []float64{0.1, 0.2}, nil, 20, NoiseFromResiduals)
	assert.ErrorIs(t, err, ErrNoLine)
	two, err := FitArrhenius([]float64{20, 30}, []float64{0.1, 0.2}, nil, 20, NoiseFromResiduals)
	require.NoError(t, err)
	assert.InDelta(t, 2, Q10(two.Ea), 1e-12)
	assert.True(t, math.IsNaN(two.LnRateSD(25)), "two rates do not tell their error")
	assert.Panics(t, func() { _, _ = FitArrhenius([]float64{20}, nil, nil, 20, NoiseFromResiduals) })
}

// Exact growth at three temperatures gives back its law; its covariance is that
// of differences.
func TestFitWarped(t *testing.T) {
	want := Kinetics{Limit: 1.1, Rate: 0.12, Slope: 1.1 * 0.12}
	const warp = 0.8
	times := []float64{4, 8, 12, 4, 8, 6, 10}
	u := []float64{0, 0, 0, 0.4, 0.4, -0.2, -0.2}
	for _, induction := range []float64{0, 0.6} {
		want.Induction = induction
		g, sd := make([]float64, len(times)), make([]float64, len(times))
		for i, m := range times {
			g[i], sd[i] = want.At(m*math.Exp(warp*u[i])), 0.01
		}
		got, err := FitWarped(times, g, sd, u, induction > 0, 0, 1.5)
		require.NoError(t, err)
		require.Equal(t, Converged, got.Status)
		assert.InDelta(t, warp, got.Warp, 1e-6)
		assert.InEpsilon(t, want.Limit, got.Limit, 1e-5)
		assert.InEpsilon(t, want.Rate, got.Rate, 1e-5)
		assert.InDelta(t, induction, got.Induction, 1e-5)
		require.NotNil(t, got.Cov)

		// How far the warp follows each value is the row of (J'J)^-1 J'W.
		var variance float64
		for i := range g {
			const by = 1e-5
			moved := append([]float64(nil), g...)
			moved[i] += by
			up, err := FitWarped(times, moved, sd, u, induction > 0, warp)
			require.NoError(t, err)
			moved[i] -= 2 * by
			down, err := FitWarped(times, moved, sd, u, induction > 0, warp)
			require.NoError(t, err)
			variance += math.Pow((up.Warp-down.Warp)/(2*by)*sd[i], 2)
		}
		assert.InEpsilon(t, variance, got.Cov.At(3, 3), 1e-3)
	}
	_, err := FitWarped([]float64{4, 8}, []float64{0.4, 0.6}, []float64{1, 1}, []float64{0, 0.4}, false, 0)
	assert.ErrorContains(t, err, "2 values, 3 needed")
	assert.Panics(t, func() { _, _ = FitWarped([]float64{4}, nil, nil, nil, false, 0) })
}
