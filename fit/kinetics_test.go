package fit

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// readChecks returns the numbers of a table in testdata/reference by column.
func readChecks(t *testing.T, name string) []map[string]float64 {
	file, err := os.Open("../testdata/reference/" + name)
	require.NoError(t, err)
	defer file.Close()
	r := csv.NewReader(file)
	r.Comment = '#'
	rows, err := r.ReadAll()
	require.NoError(t, err)
	var out []map[string]float64
	for _, row := range rows[1:] {
		m := make(map[string]float64)
		for i, cell := range row {
			if v, err := strconv.ParseFloat(cell, 64); err == nil {
				m[rows[0][i]] = v
			}
		}
		out = append(out, m)
	}
	require.NotEmpty(t, out)
	return out
}

// Exact values for the constants of H. E. Ives, Airplane Photography, 1920,
// ch. XXII, and others: kinetics_first_order_checks.csv.
func TestKineticsAt(t *testing.T) {
	for _, c := range readChecks(t, "kinetics_first_order_checks.csv") {
		k := Kinetics{Limit: c["gamma_inf"], Rate: c["k_per_min"], Induction: c["t0_min"]}
		assert.InDelta(t, c["gamma"], k.At(c["t_min"]), 1e-6, "%v", c)
		if g := k.At(c["t_min"]); g > 0 {
			got, err := k.Time(g)
			require.NoError(t, err)
			assert.InEpsilon(t, c["t_min"], got, 1e-10)
		}
	}
	// The form of 1890, Limit (1 - a^t) with a = exp(-Rate).
	assert.InDelta(t, 1-math.Pow(0.7, 3), Kinetics{Limit: 1, Rate: -math.Log(0.7)}.At(3), 1e-15)
}

func TestKineticsTime(t *testing.T) {
	k := Kinetics{Limit: 1.45, Rate: 0.32, Induction: 0.5}
	assert.Zero(t, k.At(0.5))
	assert.Zero(t, k.At(-3), "nothing before the induction time")
	got, err := k.Time(0)
	require.NoError(t, err)
	assert.Equal(t, 0.5, got)
	got, err = k.Time(0.95 * 1.45)
	require.NoError(t, err)
	assert.InDelta(t, 0.5+math.Log(20)/0.32, got, 1e-12)
	for _, g := range []float64{1.45, 2} {
		_, err = k.Time(g)
		require.ErrorIs(t, err, ErrBeyondLimit)
	}
	for _, g := range []float64{-0.1, math.NaN()} {
		_, err = k.Time(g)
		require.Error(t, err)
		require.NotErrorIs(t, err, ErrBeyondLimit)
	}
	line := Kinetics{Limit: math.Inf(1), Induction: 1, Slope: 0.25}
	assert.Equal(t, 0.5, line.At(3))
	got, err = line.Time(0.5)
	require.NoError(t, err)
	assert.Equal(t, 3.0, got)
	_, err = Kinetics{}.Time(0.5)
	require.ErrorIs(t, err, ErrBeyondLimit, "no growth at all")
}

// kinetics_two_times_checks.csv: round trips from known constants and exact
// values for round readings.
func TestTwoTimes(t *testing.T) {
	for _, c := range readChecks(t, "kinetics_two_times_checks.csv") {
		k, err := TwoTimes(c["t1_min"], c["g1"], c["t2_min"], c["g2"])
		require.NoError(t, err)
		assert.InEpsilon(t, c["k_per_min"], k.Rate, 1e-8, "%v", c)
		assert.InEpsilon(t, c["gamma_inf"], k.Limit, 1e-8, "%v", c)
		assert.InEpsilon(t, k.Limit*k.Rate, k.Slope, 1e-14)
		assert.Zero(t, k.Induction)
	}
}

// Any two times of a known growth give it back, near doubling as well as at it.
func TestTwoTimesAnyRatio(t *testing.T) {
	for _, rate := range []float64{0.01, 0.15, 1, 5} {
		want := Kinetics{Limit: 1.2, Rate: rate}
		for _, ratio := range []float64{1.1, 1.5, 1.999999, 2, 2.000001, 3, 10} {
			k, err := TwoTimes(2, want.At(2), 2*ratio, want.At(2*ratio))
			require.NoError(t, err)
			assert.InEpsilon(t, want.Limit, k.Limit, 1e-10, "rate %g, ratio %g", rate, ratio)
			assert.InDelta(t, want.At(2), k.At(2), 1e-12)
			assert.InDelta(t, want.At(2*ratio), k.At(2*ratio), 1e-12)
		}
	}
}

// The error cases of the method: no growth, growth without a limit, growth
// faster than time, decline.
func TestTwoTimesErrors(t *testing.T) {
	for _, c := range []struct {
		t1, g1, t2, g2 float64
		unknown        bool
		message        string
	}{
		{5, 0.5, 10, 0.5, true, "0.5 at 10 is not above 0.5 at 5"},
		{5, 0.5, 10, 1.0, true, "shows no limit"},
		{5, 0.5, 10, 1.2, true, "a growth by a factor of 2.4 from 5 to 10"},
		{5, 0.5, 10, 0.4, true, "not above"},
		{4, 0.5, 10, 1.25, true, "shows no limit"},
		{10, 0.5, 5, 0.7, false, "not positive and rising"},
		{0, 0.5, 5, 0.7, false, "not positive and rising"},
		{5, 0, 10, 0.7, false, "not positive and finite"},
		{5, 0.5, 10, math.NaN(), false, "not positive and finite"},
		{5, 0.5, math.Inf(1), 0.7, false, "not positive and rising"},
	} {
		k, err := TwoTimes(c.t1, c.g1, c.t2, c.g2)
		require.ErrorContains(t, err, c.message, "%v", c)
		assert.Equal(t, c.unknown, unknownRate(err), "%v", c)
		assert.Zero(t, k)
	}
}
