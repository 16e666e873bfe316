package report

import (
	"bytes"
	"encoding/json"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// An object is written as a struct of the same fields would be, in their order.
func TestObject(t *testing.T) {
	var got, want bytes.Buffer
	require.NoError(t, json.NewEncoder(&got).Encode(object{
		{"b", []float64{1, 0.1, 1e21, 1e-7, -0.05}},
		{"a", "<rel> & \"odd\"\u2028"},
		{"c", object(nil)},
		{"d", (*Quantity)(nil)},
		{"e", objects([]int{2, 1}, func(n int) object { return object{{"n", n}} })},
		{"f", objects(nil, func(int) object { return nil })},
	}))
	type n struct {
		N int `json:"n"`
	}
	require.NoError(t, json.NewEncoder(&want).Encode(struct {
		B []float64 `json:"b"`
		A string    `json:"a"`
		C *n        `json:"c"`
		D *Quantity `json:"d"`
		E []n       `json:"e"`
		F []n       `json:"f"`
	}{[]float64{1, 0.1, 1e21, 1e-7, -0.05}, "<rel> & \"odd\"\u2028", nil, nil, []n{{2}, {1}}, []n{}}))
	assert.Equal(t, want.String(), got.String())

	_, err := json.Marshal(object{{"veil", math.NaN()}})
	assert.ErrorContains(t, err, "veil: json: unsupported value: NaN")
}
