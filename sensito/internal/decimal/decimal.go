// Package decimal reads and writes decimal numbers as people write them: a point
// or a comma, no exponent. Begin with Parse, and Digits to write.
package decimal

import (
	"fmt"
	"strconv"
	"strings"

	"sensito/sensito/internal/lazy"
)

// Form is the regular expression, with one group, of a number of digits with a
// decimal point or comma.
const Form = `(\d{1,9}(?:[.,]\d{1,9})?|[.,]\d{1,9})`

// 1,000 may mean a thousand, or one in three places.
var thousands = lazy.Regexp(`\d,\d{3}(?:\D|$)`)

// Parse reads a number of digits with a decimal point or comma.
func Parse(text string) (float64, error) {
	if thousands().MatchString(text) {
		plain := strings.Replace(text, ",", "", 1)
		return 0, fmt.Errorf("%s may mean %s or %s: write it with a point, or without the comma", text, plain, strings.Replace(text, ",", ".", 1))
	}
	return strconv.ParseFloat(strings.Replace(text, ",", ".", 1), 64)
}

// Digits writes v to so many digits, without zeros at the end or an exponent.
func Digits(v float64, n int) string {
	rounded, _ := strconv.ParseFloat(strconv.FormatFloat(v, 'g', n, 64), 64)
	return strconv.FormatFloat(rounded, 'f', -1, 64)
}
