package decimal

import (
	"strconv"
	"strings"

	"sensito/sensito/internal/lazy"
)

// fractionForm is a decimal number, a fraction, or a whole number and a fraction.
var fractionForm = lazy.Regexp(`^([+-]?)(?:(\d{1,9}(?:[.,]\d{1,12})?|[.,]\d{1,12})|(?:(\d{1,9}) +)?(\d{1,4})/(\d{1,6}))$`)

// ParseFraction reads "10", "10.33", "10,33", "1/60" or "10 1/3". The sign
// counts for all of it; ok is false for anything else.
func ParseFraction(text string) (v float64, ok bool) {
	part := fractionForm().FindStringSubmatch(text)
	if part == nil {
		return 0, false
	}
	var n [4]float64
	for i, s := range part[2:] {
		n[i], _ = strconv.ParseFloat(strings.Replace(s, ",", ".", 1), 64) // digits, or absent and 0
	}
	v = n[0]
	if part[5] != "" {
		if n[3] == 0 || part[3] != "" && n[2] >= n[3] {
			return 0, false
		}
		v = n[1] + n[2]/n[3]
	}
	if part[1] == "-" {
		v = -v
	}
	return v, true
}
