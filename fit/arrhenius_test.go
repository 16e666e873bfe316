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

// arrheniusLine returns the straight line of ln k against 1/T about 20 degrees:
// ln k at 20 and the activation energy in J/mol. A nil sd means equal errors of
// ln k, of unknown size; otherwise sd holds those of the rates.
func arrheniusLine(t *testing.T, celsius, k, sd []float64) Solution {
	x, y := make([]float64, len(k)), make([]float64, len(k))
	var sy []float64
	for i := range k {
		x[i], y[i] = inverse(20, celsius[i]), math.Log(k[i])
		if sd != nil {
			sy = append(sy, sd[i]/k[i])
		}
	}
	return lineThrough(t, x, y, nil, sy)
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
			got := arrheniusLine(t, set.C, set.K, c.sd)
			sd := got.StdErrs(NoiseFromResiduals)
			const tol = 1e-10
			assert.InEpsilon(t, c.want.Ea, got.Params[1], tol, name)
			assert.InEpsilon(t, c.want.LnK20, got.Params[0], tol, name)
			endless, _ := lineAt(got, inverse(20, 1e12), NoiseFromResiduals) // as T grows
			assert.InEpsilon(t, c.want.LnA, endless, 1e-6, name)
			assert.InEpsilon(t, c.want.SEEa, sd[1], tol, name)
			assert.InEpsilon(t, c.want.SELnK20, sd[0], tol, name)
			assert.InEpsilon(t, c.want.RSS, got.RSS, 1e-8, name)
			assert.Equal(t, c.want.DoF, got.DoF())
			for _, p := range c.want.Predict {
				lnK, sd := lineAt(got, inverse(20, p.C), NoiseFromResiduals)
				assert.InEpsilon(t, p.LnK, lnK, tol, name)
				assert.InEpsilon(t, p.SELn, sd, tol, name)
			}
			if c.sd != nil {
				assert.InEpsilon(t, c.want.Known, got.StdErrs(NoiseGiven)[1], tol, name)
			}
		}

		s := Minimize(Problem{M: len(set.K), N: 2, Eval: func(p, r, jac []float64) {
			for i, c := range set.C {
				k := p[0] * math.Exp(1000*p[1]*inverse(20, c)) // kJ, for scale
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
		ea := ActivationEnergy(q)
		assert.InDelta(t, c["arrhenius_min"][i], 10*math.Exp(-ea*inverse(20, at)), 1e-5)
		assert.InDelta(t, c["loglinear_min"][i], 10*math.Pow(q, -(at-20)/10), 1e-5)
		assert.InDelta(t, c["Ea_kJ_per_mol"][i], ea/1000, 1e-4)
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
		l := lineThrough(t, c.x, y, nil, nil)
		at20 := math.Exp(l.Params[0] + 20*l.Params[1])
		const tol = 1e-3
		assert.InDelta(t, c.slope, l.Params[1], tol, c.source)
		assert.InDelta(t, c.q10, math.Exp(-10*l.Params[1]), tol, c.source)
		if c.at20 != 0 {
			assert.InDelta(t, c.at20, at20, tol, c.source)
		}
		a := arrheniusLine(t, c.x, rates, nil)
		// From 20 to 30 the law of Arrhenius gains a little less at the warm end
		// than the straight line through the same times.
		assert.InEpsilon(t, c.q10, math.Exp(a.Params[1]/ActivationEnergy(math.E)), 0.04, c.source)
		assert.InEpsilon(t, at20, math.Exp(-a.Params[0]), 0.01, c.source)
	}
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
		got, err := fitWarpedFreely(times, g, sd, u, induction > 0, 0, 1.5)
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
			up, err := fitWarpedFreely(times, moved, sd, u, induction > 0, warp)
			require.NoError(t, err)
			moved[i] -= 2 * by
			down, err := fitWarpedFreely(times, moved, sd, u, induction > 0, warp)
			require.NoError(t, err)
			variance += math.Pow((up.Warp-down.Warp)/(2*by)*sd[i], 2)
		}
		assert.InEpsilon(t, variance, got.Cov.At(3, 3), 1e-3)
	}
	_, err := fitWarpedFreely([]float64{4, 8}, []float64{0.4, 0.6}, []float64{1, 1}, []float64{0, 0.4}, false, 0)
	assert.ErrorContains(t, err, "2 values, 3 needed")
	assert.Panics(t, func() { _, _ = fitWarpedFreely([]float64{4}, nil, nil, nil, false, 0) })
}

// fitWarpedFreely is FitWarpedBegun with nothing known of Induction, or with none.
func fitWarpedFreely(t, g, sd, u []float64, induction bool, starts ...float64) (WarpedFit, error) {
	need := 2
	if induction {
		need = 3
	}
	return fitWarps(t, g, sd, u, need, starts, func(at []float64) (KineticsFit, error) { return FitKinetics(at, g, sd, induction) })
}
