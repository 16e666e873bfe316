package page

import (
	"math"
	"strconv"
	"strings"

	"sensito/sensito"
)

// Plain returns a number without needless digits.
func Plain(v float64) string { return strconv.FormatFloat(v, 'g', 4, 64) }

// Percent returns a level as "95 %".
func Percent(level float64) string { return Plain(100*level) + " %" }

// Figures returns a speed as people set it: whole from ten on, to two figures
// below.
func Figures(v float64) string {
	if v >= 10 {
		return Fixed(v, 0)
	}
	return strconv.FormatFloat(v, 'g', 2, 64)
}

// Setting returns the third-stop setting nearest to an exposure index. It is
// not called an ISO speed, which it is not.
func Setting(ei float64) string {
	s, _ := sensito.Speed(ei).Standard()
	return strconv.FormatFloat(float64(s), 'g', -1, 64)
}

// DevelopmentName returns N, N+1, N-0.5 ...
func DevelopmentName(n float64) string {
	if n == 0 {
		return "N"
	}
	return "N" + Signed(math.Round(100*n)/100)
}

// Signed returns a number with a plus before what is above zero.
func Signed(n float64) string {
	s := strconv.FormatFloat(n, 'f', -1, 64)
	if n > 0 {
		s = "+" + s
	}
	return s
}

// SignedFixed is Fixed with a plus before what is above zero.
func SignedFixed(v float64, places int) string {
	s := Fixed(v, places)
	if v > 0 && strings.Trim(s, "0.") != "" {
		s = "+" + s
	}
	return s
}

// Fixed returns v to so many decimals, negative before the point.
func Fixed(v float64, places int) string {
	if places < 0 {
		unit := math.Pow(10, float64(-places))
		v, places = math.Round(v/unit)*unit, 0
	}
	s := strconv.FormatFloat(v, 'f', places, 64)
	if strings.Trim(s, "-0.") == "" {
		s = strings.TrimPrefix(s, "-") // no minus before a rounded zero
	}
	return s
}

// Trimmed returns v to so many decimal places at most.
func Trimmed(v float64, places int) string {
	s := Fixed(v, places)
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	return s
}

// Stops returns a scene's range in stops, to a hundredth at most, as every list and
// sentence has it.
func Stops(v float64) string { return Trimmed(v, 2) }
