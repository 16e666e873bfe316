package report

import (
	"bytes"
	"encoding/json"
	"go/ast"
	"go/parser"
	"go/token"
	"math"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
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
		{"g", &Quantity{Value: -0.0512, SD: 1e-7, Low: math.Inf(-1), High: 3e21, Unit: unitLogH}},
		{"h", sensito.Minutes(5.5)},
		{"i", sensito.Warnings{}},
		{"j", sensito.Warnings{sensito.Warn("smooth_curve")}},
		{"k", []int{}},
		{"l", []int(nil)},
		{"m", (*bool)(nil)},
		{"n", sensito.Estimate[float64]{Value: 1, StdErr: 0.1, DoF: 5}},
		{"o", math.Copysign(0, -1)},
	}))
	type n struct {
		N int `json:"n"`
	}
	type quantity struct {
		Value float64  `json:"value"`
		SD    float64  `json:"sd"`
		Low   *float64 `json:"low"`
		High  *float64 `json:"high"`
		Unit  string   `json:"unit"`
	}
	require.NoError(t, json.NewEncoder(&want).Encode(struct {
		B []float64 `json:"b"`
		A string    `json:"a"`
		C *n        `json:"c"`
		D *quantity `json:"d"`
		E []n       `json:"e"`
		F []n       `json:"f"`

		G *quantity                 `json:"g"`
		H sensito.Minutes           `json:"h"`
		I sensito.Warnings          `json:"i"`
		J sensito.Warnings          `json:"j"`
		K []int                     `json:"k"`
		L []int                     `json:"l"`
		M *bool                     `json:"m"`
		N sensito.Estimate[float64] `json:"n"`
		O float64                   `json:"o"`
	}{[]float64{1, 0.1, 1e21, 1e-7, -0.05}, "<rel> & \"odd\"\u2028", nil, nil, []n{{2}, {1}}, []n{},
		&quantity{-0.0512, 1e-7, nil, new(3e21), unitLogH}, 5.5,
		sensito.Warnings{}, sensito.Warnings{sensito.Warn("smooth_curve")}, []int{}, nil, nil,
		sensito.Estimate[float64]{Value: 1, StdErr: 0.1, DoF: 5}, math.Copysign(0, -1)}))
	assert.Equal(t, want.String(), got.String())

	_, err := json.Marshal(object{{"veil", math.NaN()}})
	assert.ErrorContains(t, err, "veil: json: unsupported value: NaN")
	_, err = object{{"speed", &Quantity{Value: math.NaN()}}}.MarshalJSON()
	assert.ErrorContains(t, err, "speed: value: json: unsupported value: NaN")
}

// A report holds the value of the domain, and its JSON is written from that: no field of
// another type is repeated with a key beside it.
func TestNoTwins(t *testing.T) {
	seen := 0
	for _, pattern := range []string{"*.go", "pictured/*.go"} {
		files, err := filepath.Glob(pattern)
		require.NoError(t, err)
		for _, name := range files {
			if strings.HasSuffix(name, "_test.go") {
				continue
			}
			f, err := parser.ParseFile(token.NewFileSet(), name, nil, 0)
			require.NoError(t, err)
			seen++
			ast.Inspect(f, func(n ast.Node) bool {
				if field, is := n.(*ast.Field); is && field.Tag != nil {
					assert.NotContains(t, field.Tag.Value, "json:", "%s: %v", name, field.Names)
				}
				return true
			})
		}
	}
	assert.Greater(t, seen, 20, "files of report")
}
