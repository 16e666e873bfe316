package picture

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestMarks(t *testing.T) {
	e, err := ParseEnds("412,300:2890.5, 318")
	require.NoError(t, err)
	assert.Equal(t, Ends{Point{412, 300}, Point{2890.5, 318}}, e)
	assert.Equal(t, "412,300:2890.5,318", e.String())
	assert.InDelta(t, math.Hypot(2478.5, 18), e.Length(), 1e-9)
	again, err := ParseEnds(e.String())
	require.NoError(t, err)
	assert.Equal(t, e, again)
	assert.Equal(t, "0,12.3", Point{-0.01, 12.34}.String())

	even := Ends{Point{10, 20}, Point{110, 20}}
	assert.Equal(t, Point{15, 20}, even.Middle(1, 10))
	assert.Equal(t, Point{105, 20}, even.Middle(10, 10))
	assert.Equal(t, Point{115, 20}, even.Middle(11, 10), "beyond the last step")
	assert.Equal(t, Point{5, 20}, even.Middle(0, 10), "before the first step")

	assert.True(t, even.SameRow(Ends{Point{112, 22}, Point{9, 18}}))
	assert.False(t, even.SameRow(Ends{Point{10, 31}, Point{110, 31}}))

	for text, want := range map[string]string{
		"412,300":           `"412,300" is not two ends like 412,300:2890,318: the outer edge of the first step, and of the last`,
		"412:2890,318":      `"412" is not a place like 412,300, pixels from the left and from the top`,
		"412,300:2890,NaN":  `"2890,NaN" is not a place like 412,300, pixels from the left and from the top`,
		"412,300:2890,-1":   `"2890,-1" is not a place like 412,300, pixels from the left and from the top`,
		"412,300:412,300.5": `"412,300:412,300.5": the two ends are the same place`,
		"1,2:1e9,2":         `"1e9,2" is not a place like 412,300, pixels from the left and from the top`,
	} {
		_, err := ParseEnds(text)
		assert.EqualError(t, err, want)
	}
}

func TestPlaces(t *testing.T) {
	p, err := ParsePlace("step=22")
	require.NoError(t, err)
	assert.Equal(t, Place{Step: 22, ByStep: true}, p)
	p, err = ParsePlace("12,40.5")
	require.NoError(t, err)
	assert.Equal(t, Place{At: Point{12, 40.5}}, p)
	for text, want := range map[string]string{
		"step=-1":  `"step=-1" is not a step like step=22`,
		"step=900": `"step=900" is not a step like step=22`,
		"edge":     `"edge" is not a place like 412,300, pixels from the left and from the top, nor a step like step=22`,
	} {
		_, err := ParsePlace(text)
		assert.EqualError(t, err, want)
	}
	a, err := ParseAnchor("21=0.11")
	require.NoError(t, err)
	assert.Equal(t, 21, a.Step)
	assert.Equal(t, 0.11, a.Density)
	for _, text := range []string{"", "21", "0=0.11", "21=", "21=-0.1", "21=NaN", "21=7"} {
		_, err := ParseAnchor(text)
		assert.EqualError(t, err, `"`+text+`" is not a step and its density like 21=0.11`)
	}
}
