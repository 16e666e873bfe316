package sensito

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"sensito/sensito/internal/lazy"
)

// Seconds is the time a shutter is open.
type Seconds float64

// FNumber is a relative aperture as marked on a lens, 16 for f/16.
type FNumber float64

const (
	minSeconds, maxSeconds Seconds = 1e-5, 1e6
	minFNumber, maxFNumber FNumber = 0.5, 1000
)

// numberForm is a decimal number, a fraction, or a whole number and a fraction.
var numberForm = lazy.Regexp(`^([+-]?)(?:(\d{1,9}(?:[.,]\d{1,12})?|[.,]\d{1,12})|(?:(\d{1,9}) +)?(\d{1,4})/(\d{1,6}))$`)

// parseNumber reads "10", "10.33", "10,33", "1/60" or "10 1/3". The sign counts
// for all of it.
func parseNumber(text string) (float64, bool) {
	part := numberForm().FindStringSubmatch(text)
	if part == nil {
		return 0, false
	}
	var n [4]float64
	for i, s := range part[2:] {
		n[i], _ = strconv.ParseFloat(strings.Replace(s, ",", ".", 1), 64) // digits, or absent and 0
	}
	v := n[0]
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

// significant writes v to three digits, without an exponent.
func significant(v float64) string {
	rounded, _ := strconv.ParseFloat(strconv.FormatFloat(v, 'g', 3, 64), 64)
	return strconv.FormatFloat(rounded, 'f', -1, 64)
}

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
	if !(t >= minSeconds && t <= maxSeconds) {
		return 0, fmt.Errorf("%q: a time of %g s is outside 1/100000 s to %g s", text, float64(t), float64(maxSeconds))
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
	v, ok := parseNumber(text)
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
	return significant(v) + " s"
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
	return min(Seconds(math.Round(float64(t/unit)))*unit, maxSeconds)
}

// apertureMarks are the marks of lenses in third stops from f/0.7, which is
// 2^(-1/2) (common practice, no source).
var apertureMarks = [...]FNumber{0.7, 0.8, 0.9, 1, 1.1, 1.2, 1.4, 1.6, 1.8, 2, 2.2, 2.5, 2.8, 3.2, 3.5, 4, 4.5, 5, 5.6, 6.3, 7.1,
	8, 9, 10, 11, 13, 14, 16, 18, 20, 22, 25, 29, 32, 36, 40, 45, 51, 57, 64, 72, 80, 90, 100, 115, 128, 144, 160, 180, 200, 225, 256}

const firstMark = -3 // thirds of a stop from f/1 to the first mark

// third returns the nearest third stop, counted from f/1, and whether there is
// a mark for it.
func (n FNumber) third() (k int, marked bool) {
	k = int(math.Round(6 * math.Log2(float64(n))))
	return k, k >= firstMark && k < firstMark+len(apertureMarks)
}

// Nominal returns the nearest mark of the third-stop series from f/0.7 to f/256,
// and the number itself outside it.
func (n FNumber) Nominal() FNumber {
	if k, ok := n.third(); ok {
		return apertureMarks[k-firstMark]
	}
	return n
}

// Exact returns the aperture that a mark stands for: f/11 is 2^(7/2) = 11.31, as
// every mark stands for a whole number of third stops from f/1. A number that is
// no such mark, as f/6.8, is returned as it is.
func (n FNumber) Exact() FNumber {
	if k, ok := n.third(); ok && apertureMarks[k-firstMark] == n {
		return FNumber(math.Exp2(float64(k) / 6))
	}
	return n
}

// OnScale returns the aperture to the nearest third as set on a lens marked in
// whole stops: "f/11 1/3" is a third of a stop past f/11. Outside f/0.7 to
// f/256 it is String.
func (n FNumber) OnScale() string {
	k, ok := n.third()
	if !ok {
		return n.String()
	}
	k -= firstMark // f/0.7 is a whole stop
	mark := apertureMarks[k/3*3].String()
	if past := k % 3; past > 0 {
		return fmt.Sprintf("%s %d/3", mark, past)
	}
	return mark
}

// String returns the number to three digits, as "f/11.3".
func (n FNumber) String() string { return "f/" + significant(float64(n)) }

var apertureForm = lazy.Regexp(`(?i)^(?:f */? *)?(\d{1,4}(?:[.,]\d{1,6})?)(?: +(\d/\d))?$`)

// ParseFNumber reads "16", "f/16", "f16" or "5,6", and "f/11 1/3" for a third of
// a stop past the mark f/11. The error names the text, and the limits 0.5 and
// 1000 where they are passed.
func ParseFNumber(text string) (FNumber, error) {
	part := apertureForm().FindStringSubmatch(strings.TrimSpace(text))
	var v, past float64
	ok := part != nil
	if ok {
		v, ok = parseNumber(part[1])
	}
	if ok && part[2] != "" {
		past, ok = parseNumber("0 " + part[2])
	}
	if !ok {
		return 0, fmt.Errorf("%q is not an aperture like 16, f/16 or f/11 1/3", text)
	}
	n := FNumber(v)
	if past > 0 {
		n = n.Exact() * FNumber(math.Exp2(past/2))
	}
	if !(n >= minFNumber && n <= maxFNumber) {
		return 0, fmt.Errorf("%q: an aperture of %v is outside f/%g to f/%g", text, n, float64(minFNumber), float64(maxFNumber))
	}
	return n, nil
}
