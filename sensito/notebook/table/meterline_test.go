package table

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito/notebook"
)

// The forms of lines are common practice, no source.
func TestParseMeterLine(t *testing.T) {
	for line, want := range map[string]float64{
		"1.23": 1.23, "1,23": 1.23, "  0.07": 0.07, ".45": 0.45, "0.00": 0, "-0.00": 0, "6.00": 6, "-0.5": -0.5, "4.": 4,
		"+0.05": 0.05, "-0.02": -0.02, "- 0.02": -0.02, "+  .12": 0.12, "\u22120.02": -0.02,
		"D 1.23": 1.23, "D=1.23": 1.23, "D1.23": 1.23, "VIS 1.23": 1.23, "Vis: 1,23 D": 1.23, "1.23D": 1.23, "V-0.02": -0.02, "V+0.02": 0.02,
		"Density: 0.456 OD": 0.456, "1: 1.23": 1.23, "12) 1.23": 1.23, "#3 1.23": 1.23, "CH1 1.23": 1.23, "CH1:1.23": 1.23, "CH1=-0.02": -0.02,
		"\x021.23\x03": 1.23, "\x00\x001.23\r": 1.23, "\tVIS\t1.23\t": 1.23, "1.23E+00": 1.23, "1.2e-1": 0.12, "É 1.23": 1.23,
	} {
		got, err := ParseMeterLine(line, nil)
		require.NoError(t, err, "%q", line)
		assert.InDelta(t, want, got, 1e-12, "%q", line)
		assert.False(t, math.Signbit(got) && got == 0, "%q", line)
	}
}

func TestParseMeterLineWithoutAReading(t *testing.T) {
	for _, line := range []string{"", " ", "\x00", "READY", "----", "EEEE", "LOW BAT 3.0", "ERR 12", "Error 1.2", "VER 2.13", "CAL 0.00", "OVER 4.00",
		"Overrange", "\x06", "CH1", "D2 "} {
		got, err := ParseMeterLine(line, nil)
		require.ErrorIs(t, err, ErrNoReading, "%q", line)
		assert.Zero(t, got)
	}
	_, err := ParseMeterLine("LOW BAT 3.0", nil)
	assert.EqualError(t, err, `"LOW BAT 3.0" tells of the instrument's state: no reading`)
}

func TestParseMeterLineRefuses(t *testing.T) {
	for line, want := range map[string]string{
		"V 1.23 R 1.10":      `"V 1.23 R 1.10" holds 2 numbers; say where the density is with --pattern`,
		"7 1.23":             `"7 1.23" holds 2 numbers`,
		"1.\x0023":           `"1. 23" holds 2 numbers`,
		"12:30:05 1.23":      "holds 3 numbers",
		"12.05.2026":         `"12.05.2026": "12.05.2026" is not one number`,
		"1,1.23":             `"1,1.23" is not one number`,
		"1.2.3":              "is not one number",
		"123":                `"123": 123 has no decimal mark, so it may be something else`,
		"1.23 %":             "is a percentage, not a density",
		"45.2%":              "is a percentage",
		"VIS - 0.23":         "a sign stands apart",
		"9.99":               `"9.99": density 9.99 is outside -0.5 to 6`,
		"VIS-1.23":           "density -1.23 is outside -0.5 to 6",
		"-0.51":              "density -0.51 is outside",
		"6.01":               "density 6.01 is outside",
		"1.23e99":            "density 1.23e+99 is outside",
		"1.23e999":           "is not a number",
		"1.\xb23":            "holds bytes that are no text: see that --baud, --bits and --parity",
		"\ufffd1.23":         "holds bytes that are no text",
		"1.2-3.4":            "holds 2 numbers",
		"1.2.":               "is not one number",
		"0.12 0.12":          "holds 2 numbers",
		"D 1.23 CH1 1.40":    "holds 2 numbers",
		"#1":                 "has no decimal mark",
		"1:":                 "has no decimal mark",
		"\u0661.\u0662":      "", // digits of other scripts are no digits here
		"0.1\n0.2":           "holds 2 numbers",
		"2.05 1/2":           "holds 3 numbers",
		"0.5" + "\x08" + "1": "holds 2 numbers",
	} {
		got, err := ParseMeterLine(line, nil)
		require.Error(t, err, "%q gave %g", line, got)
		assert.Zero(t, got, "%q", line)
		assert.Contains(t, err.Error(), want, "%q", line)
		if want != "" {
			assert.NotErrorIs(t, err, ErrNoReading, "%q", line)
		}
	}
	long := strings.Repeat("x", 500) + " 1 2"
	_, err := ParseMeterLine(long, nil)
	assert.Less(t, len(err.Error()), 200)
}

func TestParseMeterLineWithAPattern(t *testing.T) {
	for _, c := range []struct {
		pattern, line string
		want          float64
		fault         string
	}{
		{`V\s*([-+.,\d]+)`, "V 1.23 R 1.10 G 1.05", 1.23, ""},
		{`G\s*([-+.,\d]+)`, "V 1.23 R 1.10 G 1,05", 1.05, ""},
		{`\d\.\d\d$`, "7 1.23", 1.23, ""},
		{`D=(\d+)`, "D=2", 2, ""}, // an integer counts where the user says so
		{`:(.*)$`, "VIS: - 0.02", -0.02, ""},
		{`(\d+\.\d+) V`, "LOW BAT 3.0 V", 3, ""}, // the user knows
		{`V\s*([-+.,\d]+)`, "READY", 0, "no reading"},
		{`D=(\w*)`, "D=OVER", 0, `"D=OVER": "OVER" is not a number`},
		{`D=(\w*)`, "D=", 0, `"" is not a number`},
		{`D=(\w*)`, "D=inf", 0, `"inf" is not a number`},
		{`D=(\w*)`, "D=0x1p1", 0, `"0x1p1" is not a number`},
		{`D=(.*)`, "D=1,234.5", 0, `"1,234.5" is not a number`},
		{`D=(.*)`, "D=123", 0, "density 123 is outside -0.5 to 6"},
		{`(a)?\d`, "1", 0, `"" is not a number`}, // the group took no part
	} {
		got, err := ParseMeterLine(c.line, regexp.MustCompile(c.pattern))
		if c.fault != "" {
			require.ErrorContains(t, err, c.fault, c.line)
			assert.Zero(t, got)
			continue
		}
		require.NoError(t, err, c.line)
		assert.InDelta(t, c.want, got, 1e-12, c.line)
	}
}

// A reading has the limits of a density in a notebook.
func TestMeterLimitsAreThoseOfANotebook(t *testing.T) {
	for _, d := range []float64{-0.51, -0.5, 6, 6.01} {
		const file = "[film]\nname = \"Larkfield 125\"\n[reading]\nzero = \"base\"\n[exposure]\nkind = \"relative\"\nlog_h = [0, 0.3, 0.6]\n" +
			"[[strip]]\nminutes = 5\ndensity = [%g, nan, nan]\n"
		_, inNotebook := notebook.Read("trial.toml", strings.NewReader(fmt.Sprintf(file, d)))
		_, inLine := ParseMeterLine(strconv.FormatFloat(d, 'f', 2, 64), nil)
		assert.Equal(t, inNotebook == nil, inLine == nil, "%g: %v, %v", d, inNotebook, inLine)
	}
}

// FuzzMeterLine: an error quotes the line and gives no density; a density is
// within its limits, and written down it is read again alike.
func FuzzMeterLine(f *testing.F) {
	for _, line := range []string{"1.23", "VIS - 0.02", "CH1: 1,23 D", "\x021.23\x03\r", "V 1.23 R 1.10", "LOW BAT 3.0", "1.23E-01", "12.05.2026", "45 %", "1.\xff2", "- .5"} {
		f.Add(line)
	}
	pattern := regexp.MustCompile(`([-+]?\s*[.,\d]+)`)
	f.Fuzz(func(t *testing.T, line string) {
		for _, p := range []*regexp.Regexp{nil, pattern} {
			d, err := ParseMeterLine(line, p)
			if err != nil {
				require.Zero(t, d)
				require.True(t, strings.HasPrefix(err.Error(), `"`), "the error quotes the line: %v", err)
				continue
			}
			require.True(t, d >= -0.5 && d <= 6, "%q gave %g", line, d)
			again, err := ParseMeterLine(strconv.FormatFloat(d, 'f', -1, 64), regexp.MustCompile(`.*`))
			require.NoError(t, err)
			require.Equal(t, d, again)
		}
	})
}
