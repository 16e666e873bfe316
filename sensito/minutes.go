package sensito

import (
	"fmt"
	"strconv"
	"strings"

	"sensito/sensito/internal/decimal"
	"sensito/sensito/internal/lazy"
)

var minutesForm = lazy.Regexp(`^\s*(?:(?:(\d{1,2}):)?(\d{1,4}):([0-5]\d)|` + decimal.Form + `)\s*$`)

// ParseMinutes reads a time of development in minutes, "6.5", or as a clock shows
// it, "6:30" or "1:02:30". The error names the text, the limits of 3 seconds and
// 24 hours, or the two times that a text such as "6.30" can mean (EitherTime).
func ParseMinutes(text string) (Minutes, error) {
	part := minutesForm().FindStringSubmatch(text)
	if part == nil || part[1] != "" && len(part[2]) != 2 {
		return 0, fmt.Errorf("%q is not a time like 6:30 or 6.5 minutes", text)
	}
	if err := EitherTime(text); err != nil {
		return 0, err
	}
	var m Minutes
	if part[4] != "" {
		v, err := decimal.Parse(part[4])
		if err != nil {
			return 0, fmt.Errorf("%q: %w", text, err)
		}
		m = Minutes(v)
	} else {
		var n [4]float64
		for i, digits := range part[1:4] {
			n[i], _ = strconv.ParseFloat(digits, 64) // digits, or nothing and 0
		}
		m = Minutes(60*n[0] + n[1] + n[2]/60)
	}
	if !(m >= 0.05 && m <= 1440) {
		return 0, fmt.Errorf("%q is outside 0:03 to 24 hours", text)
	}
	return m, nil
}

var eitherForm = lazy.Regexp(`^\s*(\d{1,4})[.,]([1-5]0)\s*$`)

// EitherTime returns an error for a number of minutes that can mean two times,
// nil for any other text: 5.30 is five minutes and thirty seconds to whoever
// writes a point for the colon, and 5.3 minutes to whoever writes two decimals.
// Nobody else ends a decimal in 0, and no seconds are above 59.
func EitherTime(text string) error {
	part := eitherForm().FindStringSubmatch(text)
	if part == nil {
		return nil
	}
	return fmt.Errorf("%q can be %s:%s or %s.%s minutes; write %[2]s:%[3]s or %[4]s.%[5]s",
		strings.TrimSpace(text), part[1], part[2], part[1], part[2][:1])
}
