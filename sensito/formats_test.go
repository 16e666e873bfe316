package sensito_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
)

// Areas of sheets: nominal, exact; of rolls: counted by convention (common
// practice, no source).
func TestParseFormat(t *testing.T) {
	for text, want := range map[string]struct {
		name string
		sqIn float64
	}{
		"8x10in": {"8x10in", 80}, "4x5": {"4x5in", 20}, "4X5 in": {"4x5in", 20}, `5 x 7"`: {"5x7in", 35}, "5×7 inches": {"5x7in", 35}, "11x14in": {"11x14in", 154},
		"2.25x3.25in": {"2.25x3.25in", 7.3125}, "9x12cm": {"9x12cm", 108 / 6.4516}, "6.5x9 cm": {"6.5x9cm", 58.5 / 6.4516}, "6,5x9cm": {"6.5x9cm", 58.5 / 6.4516},
		"35x120mm": {"35x120mm", 42 / 6.4516}, "135-36": {"135-36", 80}, "120": {"120", 80}, "220": {"220", 160},
	} {
		f, err := sensito.ParseFormat(text)
		require.NoError(t, err, text)
		assert.Equal(t, want.name, f.Name, text)
		assert.InEpsilon(t, want.sqIn, f.Area.SquareInches(), 1e-12, text)
		assert.Equal(t, want.name[0] == '1' && want.sqIn != 154 || want.name == "220", f.Note != "", text)
	}
	for text, want := range map[string]string{
		"":           `"" is not a film format like 135-36, 120, 4x5in or 9x12cm`,
		"135":        `"135" does not say how many exposures: write 135-36, 135-24 or 135-12`,
		"9x12":       `"9x12" has no unit: write 9x12in or 9x12cm`,
		"4x5ft":      `"4x5ft" is not a film format like 135-36, 120, 4x5in or 9x12cm`,
		"0x5in":      `"0x5in": a side of 0 cm is outside 0.5 to 300 cm`,
		"4x500in":    `"4x500in": a side of 1270 cm is outside 0.5 to 300 cm`,
		"1,000x2cm":  `"1,000x2cm": 1,000 may mean 1000 or 1.000: write it with a point, or without the comma`,
		"large 4x5":  `"large 4x5" is not a film format like 135-36, 120, 4x5in or 9x12cm`,
		"120 rolls?": `"120 rolls?" is not a film format like 135-36, 120, 4x5in or 9x12cm`,
	} {
		_, err := sensito.ParseFormat(text)
		assert.EqualError(t, err, want)
	}
}

func TestParseFilms(t *testing.T) {
	for text, want := range map[string]string{
		"4x 4x5in": "4x 4x5in", "4 4x5": "4x 4x5in", "4x4x5in": "4x 4x5in", "4 x 4x5 in": "4x 4x5in", "4x5in": "1x 4x5in", "4 × 9x12cm": "4x 9x12cm",
		"2x 120": "2x 120", "2x120": "2x 120", "120": "1x 120", "2x 120, 135-36": "2x 120 1x 135-36", "8x10;120": "1x 8x10in 1x 120", "4x5+4x5": "1x 4x5in 1x 4x5in",
	} {
		films, err := sensito.ParseFilms(text)
		require.NoError(t, err, text)
		var got []string
		for _, f := range films {
			got = append(got, f.String())
		}
		assert.Equal(t, want, strings.Join(got, " "), text)
	}
	films, err := sensito.ParseFilms("4x 4x5in")
	require.NoError(t, err)
	assert.InEpsilon(t, 516.128, float64(films[0].Area()), 1e-12, "four sheets are one unit of 80 sq in")
	for text, want := range map[string]string{
		"":             `"" names no films like 4x 4x5in, 2x 120 or 135-36`,
		" , ":          `"" is not films like 4x 4x5in, 2x 120 or 135-36`,
		"0x 120":       `"0x 120": a number of 0 films is outside 1 to 1000`,
		"1001x 120":    `"1001x 120": a number of 1001 films is outside 1 to 1000`,
		"2x 9x12":      `"9x12" has no unit: write 9x12in or 9x12cm`,
		"9x12":         `"9x12" has no unit: write 9x12in or 9x12cm`,
		"four sheets":  `"four sheets" is not films like 4x 4x5in, 2x 120 or 135-36`,
		"2x 135":       `"135" does not say how many exposures: write 135-36, 135-24 or 135-12`,
		"2x 120, what": `"what" is not films like 4x 4x5in, 2x 120 or 135-36`,
	} {
		_, err := sensito.ParseFilms(text)
		assert.EqualError(t, err, want)
	}
}

// FuzzFilms: an error gives no films; films have areas, and written they are
// read again alike.
func FuzzFilms(f *testing.F) {
	for _, seed := range []string{"4x 4x5in", "2x120, 135-36", "9x12", "6,5x9cm", "4x4x5in", `5x7"`, "", ",,", "0x 120"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		films, err := sensito.ParseFilms(text)
		if err != nil {
			require.Nil(t, films)
			return
		}
		var names []string
		for _, f := range films {
			require.Positive(t, float64(f.Area()))
			names = append(names, f.String())
		}
		again, err := sensito.ParseFilms(strings.Join(names, "; "))
		require.NoError(t, err)
		require.Equal(t, films, again)
	})
}
