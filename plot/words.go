package plot

import (
	"fmt"
	"math"
	"strconv"

	"sensito/sensito"
)

// clock returns a time as minutes and seconds, 5:30, to the second.
func clock(m sensito.Minutes) string { return m.Clock(1) }

// planned returns a recommended time, to five seconds: finer is not
// done by hand.
func planned(m sensito.Minutes) string { return m.Clock(5) }

// number returns v without needless digits.
func number(v float64) string { return strconv.FormatFloat(v, 'g', 4, 64) }

// interval returns "0.57 (0.55 to 0.59)" to a number of decimal places, and of
// what is known to one side only "1.38 or more".
func interval[Q ~float64](e sensito.Estimate[Q], level float64, places int) string {
	switch {
	case e.AtLeast:
		return fixed(float64(e.Value), places) + " or more"
	case e.AtMost:
		return fixed(float64(e.Value), places) + " or less"
	}
	lo, hi := e.Interval(level)
	return fmt.Sprintf("%s (%s to %s)", fixed(float64(e.Value), places), fixed(float64(lo), places), fixed(float64(hi), places))
}

// develop returns "develop 8:10 (7:50 to 8:30)".
func develop(e sensito.Estimate[sensito.Minutes], level float64) string {
	low, high := e.Interval(level)
	if math.IsInf(float64(high), 1) {
		return fmt.Sprintf("develop %s (%s or longer)", planned(e.Value), planned(low))
	}
	return fmt.Sprintf("develop %s (%s to %s)", planned(e.Value), planned(low), planned(high))
}

// fixed returns v to a number of decimal places, without a minus before a
// rounded zero.
func fixed(v float64, places int) string {
	unit := math.Pow(10, float64(-places))
	return strconv.FormatFloat(math.Round(v/unit)*unit+0, 'f', places, 64)
}

// percent returns a confidence as "95 %".
func percent(level float64) string { return number(100*level) + " %" }
