package sensito_test

import (
	"encoding/json"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
)

// The quantile of the normal distribution for 95 % is 1.959964, that of
// Student's t with four degrees of freedom 2.776445 (printed tables).
func TestEstimateJSON(t *testing.T) {
	inf, nan := math.Inf(1), math.NaN()
	type estimate = sensito.Estimate[float64]
	limits := func(low, high float64) func(float64) (float64, float64) {
		return func(level float64) (float64, float64) {
			assert.Equal(t, 0.95, level)
			return low, high
		}
	}
	for name, c := range map[string]struct {
		of   estimate
		want []any // value, sd, low, high; nil for null as a whole
	}{
		"known error":          {estimate{Value: 10, StdErr: 1, DoF: inf}, []any{10., 1., 8.040036, 11.959964}},
		"estimated error":      {estimate{Value: 10, StdErr: 1, DoF: 4}, []any{10., 1., 7.223555, 12.776445}},
		"in the logarithm":     {estimate{Value: 100, StdErr: 10, DoF: inf, Log: true}, []any{100., 10., 82.2015, 121.6523}},
		"at least":             {estimate{Value: 10, StdErr: 1, DoF: inf, AtLeast: true}, []any{10., 1., 8.040036, nil}},
		"at most":              {estimate{Value: 10, StdErr: 1, DoF: inf, AtMost: true}, []any{10., 1., nil, 11.959964}},
		"limits":               {estimate{Value: 6, StdErr: 1, Limits: limits(5, 9)}, []any{6., 1., 5., 9.}},
		"limits, open":         {estimate{Value: 6, StdErr: 1, Limits: limits(5, inf)}, []any{6., 1., 5., nil}},
		"exact":                {estimate{Value: 6}, []any{6., 0., 6., 6.}},
		"no value":             {estimate{Value: nan, StdErr: 1, DoF: 4}, nil},
		"infinite value":       {estimate{Value: inf, StdErr: 1, DoF: 4}, nil},
		"error unknown":        {estimate{Value: 6, StdErr: nan, DoF: 4}, nil},
		"error infinite":       {estimate{Value: 6, StdErr: inf, DoF: 4}, nil},
		"limits unknown":       {estimate{Value: 6, StdErr: 1, Limits: limits(nan, 9)}, nil},
		"logarithm of nothing": {estimate{Value: 0, StdErr: 1, DoF: 4, Log: true}, nil},
	} {
		t.Run(name, func(t *testing.T) {
			text, err := json.Marshal(c.of)
			require.NoError(t, err)
			behind, err := json.Marshal(struct{ E *estimate }{&c.of})
			require.NoError(t, err)
			assert.JSONEq(t, `{"E":`+string(text)+`}`, string(behind), "as a field, by its address")

			var got map[string]any
			require.NoError(t, json.Unmarshal(text, &got))
			if c.want == nil {
				assert.Equal(t, "null", string(text))
				return
			}
			require.Len(t, got, 4)
			for i, key := range []string{"value", "sd", "low", "high"} {
				require.Contains(t, got, key)
				if c.want[i] == nil {
					assert.Nil(t, got[key], key)
					continue
				}
				assert.InDelta(t, c.want[i], got[key], 5e-5, key)
			}
		})
	}
}

// A quantity of a type of its own is written as its number.
func TestEstimateJSONOfMinutes(t *testing.T) {
	text, err := json.Marshal(sensito.Estimate[sensito.Minutes]{Value: 6.5, StdErr: 0, DoF: 3})
	require.NoError(t, err)
	assert.JSONEq(t, `{"value":6.5,"sd":0,"low":6.5,"high":6.5}`, string(text))
}

func TestInterval(t *testing.T) {
	// Student's t at 95 %: 2.776 for 4 degrees of freedom, 1.960 for the normal
	// (any printed table).
	lo, hi := sensito.Estimate[float64]{Value: 1, StdErr: 0.1, DoF: 4}.Interval(0.95)
	assert.InDelta(t, 1-0.2776, lo, 5e-5)
	assert.InDelta(t, 1+0.2776, hi, 5e-5)
	lo, hi = sensito.Estimate[float64]{Value: 1, StdErr: 0.1, DoF: math.Inf(1), Log: true}.Interval(0.95)
	assert.InDelta(t, math.Exp(-0.1960), lo, 5e-5)
	assert.InDelta(t, math.Exp(0.1960), hi, 5e-5)
	assert.Panics(t, func() { sensito.Estimate[float64]{}.Interval(95) })
}

func TestEstimateBounds(t *testing.T) {
	t.Parallel()
	e := sensito.Estimate[float64]{Value: 8, StdErr: 1, DoF: math.Inf(1)}
	low, high := e.Interval(0.95)
	for _, bounded := range []sensito.Estimate[float64]{e, {Value: 8, Limits: func(float64) (float64, float64) { return low, high }}} {
		bounded.AtLeast = true
		l, h := bounded.Interval(0.95)
		assert.Equal(t, []float64{low, math.Inf(1)}, []float64{l, h})
		bounded.AtLeast, bounded.AtMost = false, true
		l, h = bounded.Interval(0.95)
		assert.Equal(t, []float64{math.Inf(-1), high}, []float64{l, h})
	}
}
