package grammar

import (
	"bytes"
	"encoding/json"
	"math"
	"strconv"
	"strings"

	"sensito/sensito"
)

// Number writes v in full: reading it gives v back, but for the sign of a zero.
func Number[T ~float64](x T) string {
	v := float64(x)
	switch {
	case v == 0:
		return "0"
	case math.IsNaN(v):
		return "nan"
	case math.Abs(v) < 1e-6:
		return strconv.FormatFloat(v, 'e', -1, 64)
	}
	return strconv.FormatFloat(v, 'f', -1, 64)
}

// Hundredths writes v in full, with two decimals or more.
func Hundredths(d sensito.Density) string {
	s := Number(d)
	if s == "nan" || strings.Contains(s, "e") {
		return s
	}
	whole, decimals, _ := strings.Cut(s, ".")
	return whole + "." + decimals + strings.Repeat("0", max(2-len(decimals), 0))
}

// Quoted returns a TOML string. One of JSON is that too, but for a character
// that TOML wants escaped.
func Quoted(s string) string {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	if err := e.Encode(s); err != nil {
		panic(err) // a string always encodes
	}
	return strings.ReplaceAll(strings.TrimSuffix(b.String(), "\n"), "\x7f", `\u007f`)
}

// ClockText returns a time as minutes and seconds; ok is false where that does not
// say exactly the same.
func ClockText(m sensito.Minutes) (text string, ok bool) {
	s := int(math.Round(float64(m) * 60))
	whole := sensito.Minutes(float64(s/60) + float64(s%60)/60)
	return m.Clock(1), m == whole && m != 0
}
