package sensito

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"sensito/sensito/internal/decimal"
	"sensito/sensito/internal/lazy"
)

// Seconds is the time a shutter is open.
type Seconds float64

// MinSeconds and MaxSeconds are the limits of a time that a shutter is open.
const MinSeconds, MaxSeconds Seconds = 1e-5, 1e6

var (
	clockForm = lazy.Regexp(`^(?:(\d{1,3}):([0-5]\d)|(\d{1,5})):([0-5]\d)$`)
	unitForm  = lazy.Regexp(`(?i)^(?:(\d{1,3}) ?h(?:$| ?))?(?:(\d{1,5}) ?m(?:in)?(?:$| ?))?(?:(\d+(?:[.,]\d+)?) ?s(?:ec)?)?$`)
)

// ParseSeconds reads a time as it is written on a shutter or beside a clock:
// "1/60", "0.5", "2", "2 s", "1 1/2 s", "90s", "1m30s", "1 min 30 s", "1:30",
// "1:02:30". A number without a unit is in seconds; a decimal comma is a point.
// The error names the text, and the limits 1/100000 s and 1e6 s where they are
// passed.
func ParseSeconds(text string) (Seconds, error) {
	t, ok := parseSeconds(strings.TrimSpace(text))
	if !ok {
		return 0, fmt.Errorf("%q is not a time like 1/60, 2, 1m30s or 1:30", text)
	}
	if !(t >= MinSeconds && t <= MaxSeconds) {
		return 0, fmt.Errorf("%q: a time of %g s is outside 1/100000 s to %g s", text, float64(t), float64(MaxSeconds))
	}
	return t, nil
}

func parseSeconds(text string) (Seconds, bool) {
	if part := clockForm().FindStringSubmatch(text); part != nil {
		return hms(part[1], part[2]+part[3], part[4]), true // one of the minutes is empty
	}
	if part := unitForm().FindStringSubmatch(text); part != nil && text != "" {
		return hms(part[1], part[2], strings.Replace(part[3], ",", ".", 1)), true
	}
	for _, unit := range []string{"seconds", "sec", "s"} {
		if number, ok := strings.CutSuffix(strings.ToLower(text), unit); ok {
			text = strings.TrimSpace(number)
			break
		}
	}
	v, ok := decimal.ParseFraction(text)
	return Seconds(v), ok
}

// hms adds hours, minutes and seconds in digits, any of them empty.
func hms(parts ...string) Seconds {
	t := 0.0
	for _, s := range parts {
		v, _ := strconv.ParseFloat(s, 64)
		t = 60*t + v
	}
	return Seconds(t)
}

// String returns the time to within 1 %: "1/60 s", "0.3 s", "12.7 s",
// "1 min 30 s", "2 h 5 min". ParseSeconds reads it.
func (t Seconds) String() string {
	v := float64(t)
	if v >= 59.95 {
		return clockWords(int(math.Round(v)))
	}
	if v < 0.6 && v > 0 {
		const whole = 0.005 // how far the denominator may be from a whole number, relative
		if n := math.Round(1 / v); n > 1 && math.Abs(n*v-1) <= whole {
			return fmt.Sprintf("1/%.0f s", n)
		}
	}
	return decimal.Digits(v, 3) + " s"
}

func clockWords(s int) string {
	var parts []string
	for _, u := range []struct {
		seconds int
		name    string
	}{{3600, "h"}, {60, "min"}, {1, "s"}} {
		if n := s / u.seconds; n > 0 {
			parts = append(parts, fmt.Sprintf("%d %s", n, u.name))
		}
		s %= u.seconds
	}
	return strings.Join(parts, " ")
}

// The marks of shutters from 1 s up to 30 s, and the denominators from 1/2 s
// down to 1/8000 s, in third stops (common practice, no source). The two marks
// between 1/2 s and 1 s, and 0.3 s and 0.4 s, are decimals on shutters.
var (
	longMarks  = [...]Seconds{1, 1.3, 1.6, 2, 2.5, 3.2, 4, 5, 6, 8, 10, 13, 15, 20, 25, 30}
	tenthMarks = [...]Seconds{0.8, 0.6, 0.5, 0.4, 0.3} // below 1 s
	shortMarks = [...]float64{4, 5, 6, 8, 10, 13, 15, 20, 25, 30, 40, 50, 60, 80, 100, 125, 160, 200, 250, 320, 400, 500,
		640, 800, 1000, 1250, 1600, 2000, 2500, 3200, 4000, 5000, 6400, 8000}
)

// longestMarked is the time that the last mark, 30 s, stands for; a longer one is
// counted.
const longestMarked Seconds = 32

// Nominal returns the time as it is set: the nearest mark of the third-stop
// series from 1/8000 s to 30 s, beyond that a time that is easy to count, to
// within 2 % (common practice, no source). Times shorter than 1/8000 s become
// one over a whole number.
func (t Seconds) Nominal() Seconds {
	k := int(math.Round(3 * math.Log2(float64(t))))
	switch {
	case t > longestMarked:
		return t.countable()
	case k >= 0:
		return longMarks[k]
	case k >= -len(tenthMarks):
		return tenthMarks[-k-1]
	case k >= -len(tenthMarks)-len(shortMarks):
		return Seconds(1 / shortMarks[-k-1-len(tenthMarks)])
	}
	return Seconds(1 / math.Round(1/float64(t)))
}

// countable rounds a long time to whole seconds, then to 5 s, 30 s and 1 min.
func (t Seconds) countable() Seconds {
	unit := Seconds(60)
	for _, c := range []struct{ below, unit Seconds }{{150, 1}, {900, 5}, {3600, 30}} {
		if t < c.below {
			unit = c.unit
			break
		}
	}
	return min(Seconds(math.Round(float64(t/unit)))*unit, MaxSeconds)
}

// KeepsSpeed is the exposure time up to which films keep their speed, by and
// large (common practice, no source).
const KeepsSpeed Seconds = 1
