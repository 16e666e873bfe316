package sensito_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
)

func TestParseDilution(t *testing.T) {
	for text, want := range map[string]struct {
		is    string
		parts float64
		colon bool
	}{
		"1+31": {"1+31", 32, false}, "1 + 31": {"1+31", 32, false}, "1:31": {"1+31", 32, true}, "stock": {"stock", 1, false}, "Undiluted": {"stock", 1, false},
		"1+0": {"stock", 1, false}, "2+3": {"2+3", 2.5, false}, "1+1.5": {"1+1.5", 2.5, false}, "1+1,5": {"1+1.5", 2.5, false}, "1+10000": {"1+10000", 10001, false},
		"3+1": {"3+1", 4. / 3, false},
	} {
		d, err := sensito.ParseDilution(text)
		require.NoError(t, err, text)
		assert.Equal(t, want.is, d.String(), text)
		assert.InEpsilon(t, want.parts, d.Parts(), 1e-12, text)
		assert.Equal(t, want.colon, d.Colon, text)
		assert.True(t, d.Stated())
	}
	for text, want := range map[string]string{
		"":        `"" is not a dilution like 1+31 (parts concentrate + parts water) or stock`,
		"31":      `"31" is not a dilution like 1+31 (parts concentrate + parts water) or stock`,
		"1-31":    `"1-31" is not a dilution like 1+31 (parts concentrate + parts water) or stock`,
		"1+-3":    `"1+-3" is not a dilution like 1+31 (parts concentrate + parts water) or stock`,
		"0+1":     `"0+1" has no concentrate in it`,
		"1:0":     `"1:0" has no water in it: write stock`,
		"1+10001": `"1+10001" is outside 1+0 to 1+10000`,
		"10+.001": `"10+.001" is as good as undiluted: write stock`,
		"1+1,000": `"1+1,000": 1,000 may mean 1000 or 1.000: write it with a point, or without the comma`,
		"1+1+100": `"1+1+100" has three parts: of two concentrates, mix each by itself as one part in all of them (A of 1+1+100 is 1+101), in half of the water`,
	} {
		d, err := sensito.ParseDilution(text)
		require.EqualError(t, err, want)
		assert.Zero(t, d)
	}
	assert.False(t, sensito.Dilution{}.Stated())
}

// A dilution is kept in one form, since dilutions are compared by their words; one in
// another form is refused with what to write.
func TestCheckDilution(t *testing.T) {
	for _, text := range []string{"1+39", "2+3", "1+1.5", "stock"} {
		assert.NoError(t, sensito.CheckDilution(text))
	}
	form := " is not of the form 1+19 (parts concentrate + parts water) or stock"
	for text, want := range map[string]string{
		"1:39": form + ": write 1+39, or 1+38 if it says 1 part in 39", "2:8": form + ": write 2+8, or 2+6 if it says 1 part in 4",
		"1:1": form + ": write 1+1", "1 + 4": form + ": write 1+4", "1+1,5": form + ": write 1+1.5", "Undiluted": form + ": write stock",
		"strong": form, "": form,
	} {
		require.EqualError(t, sensito.CheckDilution(text), fmt.Sprintf("%q", text)+want)
	}
}

// Volume factors against 1+4 as a manufacturer's data sheet F-32 (about 2002)
// implies them: 1+7, 1+9 and 1+15 have 1.6, 2.0 and 3.2 times the volume.
func TestDilutionParts(t *testing.T) {
	standard, err := sensito.ParseDilution("1+4")
	require.NoError(t, err)
	for text, want := range map[string]float64{"1+7": 1.6, "1+9": 2, "1+15": 3.2} {
		d, err := sensito.ParseDilution(text)
		require.NoError(t, err)
		assert.InEpsilon(t, want, d.Parts()/standard.Parts(), 1e-12, text)
	}
}

// FuzzDilution: an error names the text and gives no dilution; a dilution is
// within its limits, and written it is read again alike.
func FuzzDilution(f *testing.F) {
	for _, seed := range []string{"1+31", "1:31", "stock", "2 + 3,5", "1+0", "1:0", "0+1", "1+1+100", "1+10000", ".1+.2"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		d, err := sensito.ParseDilution(text)
		if err != nil {
			require.Zero(t, d)
			require.True(t, strings.HasPrefix(err.Error(), `"`), "the error names the text: %v", err)
			return
		}
		require.True(t, d.Stated() && d.Parts() >= 1 && d.Parts() <= 10001.001, "%q is %v", text, d)
		again, err := sensito.ParseDilution(d.String())
		require.NoError(t, err)
		require.InEpsilon(t, d.Parts(), again.Parts(), 0.0015)
	})
}

func TestParsePercent(t *testing.T) {
	for text, want := range map[string]float64{"10%": 10, "0.5 %": 0.5, "2,5%": 2.5, "100%": 100} {
		got, err := sensito.ParsePercent(text)
		require.NoError(t, err)
		assert.Equal(t, want, got)
	}
	for text, want := range map[string]string{
		"10":     `"10" is not a strength like 10%, grams in 100 ml`,
		"-1%":    `"-1%" is not a strength like 10%, grams in 100 ml`,
		"%":      `"%" is not a strength like 10%, grams in 100 ml`,
		"101%":   `"101%" is outside 0.0001 to 100 %`,
		"0%":     `"0%" is outside 0.0001 to 100 %`,
		"1,000%": `"1,000%": 1,000 may mean 1000 or 1.000: write it with a point, or without the comma`,
	} {
		_, err := sensito.ParsePercent(text)
		assert.EqualError(t, err, want)
	}
}

func TestSplitDilution(t *testing.T) {
	for text, want := range map[string][2]string{
		"Ashlar 1+4":    {"Ashlar", "1+4"},
		"Brine  stock ": {"Brine", "stock"},
		"Two Baths":     {"Two Baths", ""},
		"Ashlar 1:4":    {"Ashlar", "1:4"},
		"1+4":           {"1+4", ""},
		"":              {"", ""},
	} {
		developer, dilution := sensito.SplitDilution(text)
		assert.Equal(t, want, [2]string{developer, dilution}, text)
	}
}
