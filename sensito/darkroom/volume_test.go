package darkroom_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito/darkroom"
)

// Units: exact by definition; a fluid ounce of the US is 231/128 cubic inches of
// 16.387064 ml, an imperial one 4546.09/160 ml.
func TestVolumeUnits(t *testing.T) {
	assert.InEpsilon(t, 231./128*16.387064, float64(darkroom.USFluidOunce), 1e-15)
	assert.InEpsilon(t, 4546.09/160, float64(darkroom.ImperialFluidOunce), 1e-15)
	for _, c := range []struct {
		text   string
		want   float64
		system darkroom.VolumeSystem
	}{
		{"600ml", 600, darkroom.Metric}, {"600 mL", 600, darkroom.Metric}, {"1l", 1000, darkroom.Metric}, {"1.5 L", 1500, darkroom.Metric},
		{"1,5 litres", 1500, darkroom.Metric}, {"25cc", 25, darkroom.Metric}, {"2 cm3", 2, darkroom.Metric}, {"5cl", 50, darkroom.Metric}, {".5l", 500, darkroom.Metric},
		{"20usfloz", 591.47059125, darkroom.USCustomary}, {"2 US fl oz", 59.147059125, darkroom.USCustomary}, {"1 us gallon", 3785.411784, darkroom.USCustomary},
		{"1 us pt", 473.176473, darkroom.USCustomary}, {"1usqt", 946.352946, darkroom.USCustomary},
		{"20impfloz", 568.26125, darkroom.Imperial}, {"1 imperial pint", 568.26125, darkroom.Imperial}, {"1 uk gallon", 4546.09, darkroom.Imperial}, {"2 imp. fl. oz.", 0, 0},
		{"2floz", 59.147059125, darkroom.AssumedUS}, {"2 fl. oz.", 59.147059125, darkroom.AssumedUS}, {"3 fluid ounces", 88.7205886875, darkroom.AssumedUS},
		{"1 quart", 946.352946, darkroom.AssumedUS}, {"1oz", 29.5735295625, darkroom.AssumedUS},
	} {
		got, system, err := darkroom.ParseVolume(c.text)
		if c.want == 0 {
			assert.Error(t, err, c.text)
			continue
		}
		require.NoError(t, err, c.text)
		assert.InEpsilon(t, c.want, float64(got), 1e-9, c.text)
		assert.Equal(t, c.system, system, c.text)
	}
	v := 946.352946 * darkroom.Millilitre
	assert.InEpsilon(t, 32, v.USFluidOunces(), 1e-12)
	assert.InEpsilon(t, 33.3070, v.ImperialFluidOunces(), 1e-5)
	assert.InEpsilon(t, 0.946352946, v.Litres(), 1e-12)
	assert.Equal(t, "946.35 ml", v.String())
	assert.Equal(t, "32 US fl oz", v.In(darkroom.USCustomary))
	assert.Equal(t, "33.31 imperial fl oz", v.In(darkroom.Imperial))
}

func TestParseVolumeRefuses(t *testing.T) {
	const like = " is not a volume like 600ml, 1.5l, 20usfloz or 20impfloz"
	for text, want := range map[string]string{
		"":           `""` + like,
		"600":        `"600"` + like,
		"ml":         `"ml"` + like,
		"-5ml":       `"-5ml"` + like,
		"1e3ml":      `"1e3ml"` + like,
		"NaN ml":     `"NaN ml"` + like,
		"1 1/2 l":    `"1 1/2 l"` + like,
		"5 drops":    `"5 drops": "drops" is not a unit of volume: write ml, l, usfloz or impfloz`,
		"5 us ml":    `"5 us ml": "usml" is not a unit of volume: write ml, l, usfloz or impfloz`,
		"1,000ml":    `"1,000ml": 1,000 may mean 1000 or 1.000: write it with a point, or without the comma`,
		"0ml":        `"0ml" is outside 0.01 ml to 1000 l`,
		"0.001 ml":   `"0.001 ml" is outside 0.01 ml to 1000 l`,
		"1001l":      `"1001l" is outside 0.01 ml to 1000 l`,
		"300 gallon": `"300 gallon" is outside 0.01 ml to 1000 l`,
	} {
		v, _, err := darkroom.ParseVolume(text)
		require.EqualError(t, err, want)
		assert.Zero(t, v)
	}
}

// FuzzVolume: an error names the text and gives no volume; a volume is within
// its limits, and written it is read again alike.
func FuzzVolume(f *testing.F) {
	for _, seed := range []string{"600ml", "1,5 l", "20 US fl oz", "2floz", "1 imperial pint", ".5l", "1,000ml", "", "5 drops", "1e3ml"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		v, system, err := darkroom.ParseVolume(text)
		if err != nil {
			require.Zero(t, v)
			require.True(t, strings.HasPrefix(err.Error(), `"`), "the error names the text: %v", err)
			return
		}
		require.True(t, v >= 0.01 && v <= 1e6, "%q gave %g ml", text, float64(v))
		for _, in := range []darkroom.VolumeSystem{darkroom.Metric, system} {
			again, read, err := darkroom.ParseVolume(strings.Replace(v.In(in), "imperial", "imp", 1))
			if err != nil { // at a limit, rounded beyond it
				require.True(t, v < 0.011 || v > 999_999, "%v", err)
				continue
			}
			require.InEpsilon(t, float64(v), float64(again), 0.15, "in %d: %s", in, v.In(in)) // 0.0003 of an ounce has one digit
			require.Equal(t, in == darkroom.Metric, read == darkroom.Metric)
		}
	})
}
