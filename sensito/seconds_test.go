package sensito_test

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sensito/sensito"
)

func TestParseSeconds(t *testing.T) {
	for text, want := range map[string]float64{
		"1/60": 1. / 60, "1/60 s": 1. / 60, "1/8000": 1. / 8000, "0.5": 0.5, "0,5": 0.5, ".3": 0.3, "2": 2, "2s": 2, "2 s": 2, "2 sec": 2,
		"90 seconds": 90, "1 1/2": 1.5, "1 1/2 s": 1.5, "1m30s": 90, "1 min 30 s": 90, "1 min": 60, "3m": 180, "2 h 5 min": 7500,
		"1h": 3600, "1h 30s": 3630, "1 MIN 12,5 S": 72.5, "1:30": 90, "0:45": 45, "75:15": 4515, "1:02:30": 3750, " 4 ": 4,
	} {
		got, err := sensito.ParseSeconds(text)
		require.NoError(t, err, text)
		assert.InEpsilon(t, want, float64(got), 1e-12, text)
	}
	const like = " is not a time like 1/60, 2, 1m30s or 1:30"
	for text, want := range map[string]string{
		"":          `""` + like,
		"fast":      `"fast"` + like,
		"1/0":       `"1/0"` + like,
		"1:60":      `"1:60"` + like,
		"1:3":       `"1:3"` + like,
		"1:60:00":   `"1:60:00"` + like,
		"1m 30":     `"1m 30"` + like,
		"1e3":       `"1e3"` + like,
		"s":         `"s"` + like,
		"0":         `"0": a time of 0 s is outside 1/100000 s to 1e+06 s`,
		"-2":        `"-2": a time of -2 s is outside 1/100000 s to 1e+06 s`,
		"1/200000":  `"1/200000": a time of 5e-06 s is outside 1/100000 s to 1e+06 s`,
		"999:00:00": `"999:00:00": a time of 3.5964e+06 s is outside 1/100000 s to 1e+06 s`,
	} {
		got, err := sensito.ParseSeconds(text)
		assert.EqualError(t, err, want)
		assert.Zero(t, got)
	}
}

func TestSecondsText(t *testing.T) {
	for _, c := range []struct {
		seconds       float64
		text, nominal string
	}{
		{1. / 64, "1/64 s", "1/60 s"}, {1. / 60, "1/60 s", "1/60 s"}, {1. / 8192, "1/8192 s", "1/8000 s"}, {1. / 20000, "1/20000 s", "1/20000 s"},
		{1. / 12.7, "0.0787 s", "1/13 s"}, {0.25, "1/4 s", "1/4 s"}, {0.315, "0.315 s", "0.3 s"}, {0.4, "0.4 s", "0.4 s"}, {0.5, "1/2 s", "1/2 s"},
		{0.63, "0.63 s", "0.6 s"}, {0.79, "0.79 s", "0.8 s"}, {1, "1 s", "1 s"}, {1.26, "1.26 s", "1.3 s"}, {12.7, "12.7 s", "13 s"}, {32, "32 s", "30 s"},
		{40.4, "40.4 s", "40 s"}, {59.96, "1 min", "1 min"}, {90, "1 min 30 s", "1 min 30 s"}, {512, "8 min 32 s", "8 min 30 s"},
		{2048, "34 min 8 s", "34 min"}, {7510, "2 h 5 min 10 s", "2 h 5 min"}, {3630, "1 h 30 s", "1 h 1 min"},
	} {
		assert.Equal(t, c.text, sensito.Seconds(c.seconds).String())
		assert.Equal(t, c.nominal, sensito.Seconds(c.seconds).Nominal().String(), "%g s", c.seconds)
	}
}

func TestShutterMarksAreThirdStops(t *testing.T) {
	seen := map[sensito.Seconds]bool{}
	for k := -39; k <= 15; k++ {
		exact := sensito.Seconds(math.Exp2(float64(k) / 3))
		mark := exact.Nominal()
		assert.InEpsilon(t, float64(exact), float64(mark), 0.07, "a mark is rounded by less than half the step of 26 %%")
		assert.Equal(t, mark, mark.Nominal())
		assert.False(t, seen[mark])
		seen[mark] = true
		read, err := sensito.ParseSeconds(mark.String())
		require.NoError(t, err)
		assert.Equal(t, mark, read)
	}
}

func TestSecondsRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := sensito.Seconds(math.Pow(10, rapid.Float64Range(-4.9, 5.9).Draw(t, "log10 s")))
		read, err := sensito.ParseSeconds(s.String())
		require.NoError(t, err)
		assert.InEpsilon(t, float64(s), float64(read), 0.01)
		set := s.Nominal()
		read, err = sensito.ParseSeconds(set.String())
		require.NoError(t, err)
		assert.Equal(t, set, read)
		if s > 32 { // where counting begins
			assert.InEpsilon(t, float64(s), float64(set), 0.02)
		} else {
			assert.InDelta(t, 0, math.Log2(float64(set/s)), 1./6+0.1)
		}
	})
}

func FuzzShutterTime(f *testing.F) {
	for _, seed := range []string{"1/60", "2", "0,5 s", "1m30s", "1 min 30 s", "1:30", "1:02:30", "1 1/2", "2 h 5 min", "1/0", "", "h", "1:60", "1000000"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		s, err := sensito.ParseSeconds(text)
		if err != nil {
			require.Zero(t, s)
			require.True(t, strings.HasPrefix(err.Error(), `"`), "the error names the text: %v", err)
			return
		}
		again, err := sensito.ParseSeconds(s.String())
		require.NoError(t, err)
		require.InEpsilon(t, float64(s), float64(again), 0.01)
		again, err = sensito.ParseSeconds(s.Nominal().String())
		require.NoError(t, err)
		require.Equal(t, s.Nominal(), again)
	})
}

func TestParseFNumber(t *testing.T) {
	third := math.Exp2(1. / 6)
	for text, want := range map[string]float64{
		"16": 16, "f/16": 16, "f16": 16, "F/5.6": 5.6, "5,6": 5.6, "f 8": 8, "6.8": 6.8, "256": 256,
		"f/11 1/3": math.Exp2(3.5) * third, "11 2/3": math.Exp2(3.5) * third * third, "22 1/2": math.Exp2(4.5) * math.Exp2(0.25),
	} {
		got, err := sensito.ParseFNumber(text)
		require.NoError(t, err, text)
		assert.InEpsilon(t, want, float64(got), 1e-12, text)
	}
	const like = " is not an aperture like 16, f/16 or f/11 1/3"
	for text, want := range map[string]string{
		"":         `""` + like,
		"f":        `"f"` + like,
		"wide":     `"wide"` + like,
		"-8":       `"-8"` + like,
		"1/60":     `"1/60"` + like,
		"f/11 4/3": `"f/11 4/3"` + like,
		"f/11 1/0": `"f/11 1/0"` + like,
		"0":        `"0": an aperture of f/0 is outside f/0.5 to f/1000`,
		"f/2000":   `"f/2000": an aperture of f/2000 is outside f/0.5 to f/1000`,
	} {
		got, err := sensito.ParseFNumber(text)
		assert.EqualError(t, err, want)
		assert.Zero(t, got)
	}
}

func TestApertureMarks(t *testing.T) {
	for k := -3; k <= 48; k++ {
		exact := sensito.FNumber(math.Exp2(float64(k) / 6))
		mark := exact.Nominal()
		assert.InEpsilon(t, float64(exact), float64(mark), 0.05)
		assert.InEpsilon(t, float64(exact), float64(mark.Exact()), 1e-12)
		assert.Equal(t, mark, mark.Nominal())
		for _, text := range []string{mark.String(), exact.OnScale()} {
			read, err := sensito.ParseFNumber(text)
			require.NoError(t, err)
			assert.InEpsilon(t, float64(exact), float64(read.Exact()), 1e-12, text)
		}
	}
	assert.Equal(t, "f/11 1/3", sensito.FNumber(13).OnScale())
	assert.Equal(t, "f/11", sensito.FNumber(11.5).OnScale())
	assert.Equal(t, "f/22 2/3", sensito.FNumber(28.5).OnScale())
	assert.Equal(t, "f/500", sensito.FNumber(500).OnScale())
	assert.Equal(t, sensito.FNumber(6.8), sensito.FNumber(6.8).Exact())
	assert.Equal(t, sensito.FNumber(500), sensito.FNumber(500).Nominal())
	assert.Equal(t, "f/11.3", sensito.FNumber(11).Exact().String())
}
