package grammar

import (
	"strconv"
	"strings"

	"sensito/sensito/internal/lazy"
)

// ClockMinutes reads a time as m:ss or h:mm:ss.
func ClockMinutes(text string) (minutes float64, ok bool) {
	if !TimeForm().MatchString(text) {
		return 0, false
	}
	number := func(digits string) float64 {
		n, _ := strconv.Atoi(digits)
		return float64(n)
	}
	first, rest, _ := strings.Cut(text, ":")
	second, third, hours := strings.Cut(rest, ":")
	if !hours {
		return number(first) + number(second)/60, true
	}
	if second > "59" {
		return 0, false
	}
	return 60*number(first) + number(second) + number(third)/60, true
}

// TimeForm is a time as a clock shows it: hours, if any, minutes and seconds.
var TimeForm = lazy.Regexp(`^(?:(\d{1,2}):(\d{2})|(\d{1,4})):([0-5]\d)$`)
