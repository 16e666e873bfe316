package grammar

import (
	"strconv"

	"sensito/sensito/internal/lazy"
)

// ClockMinutes reads a time as m:ss or h:mm:ss.
func ClockMinutes(text string) (minutes float64, ok bool) {
	part := TimeForm().FindStringSubmatch(text)
	if part == nil || part[2] > "59" {
		return 0, false
	}
	var n [5]float64
	for i, s := range part[1:] {
		n[i+1], _ = strconv.ParseFloat(s, 64) // digits, or absent and 0
	}
	return 60*n[1] + n[2] + n[3] + n[4]/60, true
}

// TimeForm is a time as a clock shows it: hours, if any, minutes and seconds.
var TimeForm = lazy.Regexp(`^(?:(\d{1,2}):(\d{2})|(\d{1,4})):([0-5]\d)$`)
