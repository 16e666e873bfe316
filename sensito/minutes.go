package sensito

import (
	"fmt"
	"strconv"
)

var minutesForm = lazily(`^\s*(?:(?:(\d{1,2}):)?(\d{1,4}):([0-5]\d)|` + decimalForm + `)\s*$`)

// ParseMinutes reads a time of development in minutes, "6.5", or as a clock shows
// it, "6:30" or "1:02:30". The error names the text, or the limits of 3 seconds
// and 24 hours.
func ParseMinutes(text string) (Minutes, error) {
	part := minutesForm().FindStringSubmatch(text)
	if part == nil || part[1] != "" && len(part[2]) != 2 {
		return 0, fmt.Errorf("%q is not a time like 6:30 or 6.5 minutes", text)
	}
	var m Minutes
	if part[4] != "" {
		v, err := decimal(part[4])
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
