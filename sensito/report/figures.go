package report

import (
	"math"
	"strconv"
	"strings"

	"sensito/sensito"
)

// plain returns a number without needless digits.
func plain(v float64) string { return strconv.FormatFloat(v, 'g', 4, 64) }

func percent(level float64) string { return plain(100*level) + " %" }

// figures returns a speed as people set it: whole from ten on, to two figures
// below.
func figures(v float64) string {
	if v >= 10 {
		return fixed(v, 0)
	}
	return strconv.FormatFloat(v, 'g', 2, 64)
}

// setting returns the third-stop setting nearest to an exposure index. It is
// not called an ISO speed, which it is not.
func setting(ei float64) string {
	s, _ := sensito.Speed(ei).Standard()
	return strconv.FormatFloat(float64(s), 'g', -1, 64)
}

// developmentName returns N, N+1, N-0.5 ...
func developmentName(n float64) string {
	if n == 0 {
		return "N"
	}
	return "N" + signed(math.Round(100*n)/100)
}

func signed(n float64) string {
	s := strconv.FormatFloat(n, 'f', -1, 64)
	if n > 0 {
		s = "+" + s
	}
	return s
}

// signedFixed is fixed with a plus before what is above zero.
func signedFixed(v float64, places int) string {
	s := fixed(v, places)
	if v > 0 && strings.Trim(s, "0.") != "" {
		s = "+" + s
	}
	return s
}
