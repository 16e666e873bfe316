package decimal_test

import (
	"regexp"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito/internal/decimal"
)

func TestParse(t *testing.T) {
	whole := regexp.MustCompile(`^` + decimal.Form + `$`)
	for text, want := range map[string]float64{"6": 6, "6.5": 6.5, "6,5": 6.5, ".5": 0.5, ",25": 0.25, "1000": 1000, "1.000": 1} {
		require.Regexp(t, whole, text)
		got, err := decimal.Parse(text)
		require.NoError(t, err, text)
		assert.Equal(t, want, got, text)
	}
	for _, text := range []string{"", "-1", "1e3", "6.", "1.2.3", "six"} {
		assert.NotRegexp(t, whole, text)
	}
	_, err := decimal.Parse("1,000")
	assert.EqualError(t, err, "1,000 may mean 1000 or 1.000: write it with a point, or without the comma")
}

func TestDigits(t *testing.T) {
	for want, v := range map[string]float64{"31": 31, "2.667": 8. / 3, "0.5": 0.5, "12350": 12346} {
		assert.Equal(t, want, decimal.Digits(v, 4))
	}
}

func TestParseFraction(t *testing.T) {
	for text, want := range map[string]float64{"10": 10, "10.5": 10.5, "10,5": 10.5, "1/4": 0.25, "10 1/2": 10.5, "-1 1/2": -1.5, "+.5": 0.5} {
		got, ok := decimal.ParseFraction(text)
		assert.True(t, ok, text)
		assert.Equal(t, want, got, text)
	}
	for _, text := range []string{"", "x", "1/0", "1 3/2", "1 1/0", "1.5 1/2", "1/2/3", "1e3"} {
		_, ok := decimal.ParseFraction(text)
		assert.False(t, ok, text)
	}
}
