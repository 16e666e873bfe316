package parts

import (
	"fmt"
	"math"
	"strconv"

	"sensito/sensito"
)

// Clock returns a time as minutes and seconds, 5:30, to the second.
func Clock(m sensito.Minutes) string { return m.Clock(1) }

// Planned returns a recommended time, to five seconds: finer is not
// done by hand.
func Planned(m sensito.Minutes) string { return m.Clock(5) }

// Number returns v without needless digits.
func Number(v float64) string { return strconv.FormatFloat(v, 'g', 4, 64) }

// Interval returns "0.57 (0.55 to 0.59)" to a number of decimal places, and of
// what is known to one side only "1.38 or more".
func Interval[Q ~float64](e sensito.Estimate[Q], level float64, places int) string {
	switch {
	case e.AtLeast:
		return Fixed(float64(e.Value), places) + " or more"
	case e.AtMost:
		return Fixed(float64(e.Value), places) + " or less"
	}
	lo, hi := e.Interval(level)
	return fmt.Sprintf("%s (%s to %s)", Fixed(float64(e.Value), places), Fixed(float64(lo), places), Fixed(float64(hi), places))
}

// Develop returns "develop 8:10 (7:50 to 8:30)".
func Develop(e sensito.Estimate[sensito.Minutes], level float64) string {
	low, high := e.Interval(level)
	if math.IsInf(float64(high), 1) {
		return fmt.Sprintf("develop %s (%s or longer)", Planned(e.Value), Planned(low))
	}
	return fmt.Sprintf("develop %s (%s to %s)", Planned(e.Value), Planned(low), Planned(high))
}

// Fixed returns v to a number of decimal places, without a minus before a
// rounded zero.
func Fixed(v float64, places int) string {
	unit := math.Pow(10, float64(-places))
	return strconv.FormatFloat(math.Round(v/unit)*unit+0, 'f', places, 64)
}

// SpeedPlaces returns the decimals of a speed or an index: two figures at least.
func SpeedPlaces[Q ~float64](s Q) int {
	if !(s > 0) {
		return 0
	}
	return max(0, 1-int(math.Floor(math.Log10(float64(s)))))
}

// Speed writes a speed or an index.
func Speed[Q ~float64](s Q) string { return Fixed(float64(s), SpeedPlaces(s)) }

// Percent returns a confidence as "95 %".
func Percent(level float64) string { return Number(100*level) + " %" }

// Stops writes a place on a scale of stops with its sign, +5.
func Stops(stops float64) string {
	s := Number(stops)
	if stops > 0 {
		s = "+" + s
	}
	return s
}
