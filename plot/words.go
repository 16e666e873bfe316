package plot

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"sensito/sensito"
)

// clock returns a time as minutes and seconds, 5:30, to the second.
func clock(m sensito.Minutes) string { return clockTo(m, 1) }

// clockTo returns a time to a multiple of seconds.
func clockTo(m sensito.Minutes, seconds float64) string {
	s := int(math.Round(float64(m)*60/seconds) * seconds)
	return fmt.Sprintf("%d:%02d", s/60, s%60)
}

// planned returns a recommended time, to five seconds: finer is not
// done by hand.
func planned(m sensito.Minutes) string { return clockTo(m, 5) }

// number returns v without needless digits.
func number(v float64) string { return strconv.FormatFloat(v, 'g', 4, 64) }

// interval returns "0.57 (0.55 to 0.59)" to a number of decimal places.
func interval[Q ~float64](e sensito.Estimate[Q], level float64, places int) string {
	lo, hi := e.Interval(level)
	return fmt.Sprintf("%s (%s to %s)", fixed(float64(e.Value), places), fixed(float64(lo), places), fixed(float64(hi), places))
}

// fixed returns v to a number of decimal places, without a minus before a
// rounded zero.
func fixed(v float64, places int) string {
	unit := math.Pow(10, float64(-places))
	return strconv.FormatFloat(math.Round(v/unit)*unit+0, 'f', places, 64)
}

// percent returns a confidence as "95 %".
func percent(level float64) string { return number(100*level) + " %" }

// conditions returns the development in one line: developer, dilution,
// temperature and agitation, as far as they are known.
func conditions(p sensito.Process) string {
	var parts []string
	if s := strings.TrimSpace(p.Developer + " " + p.Dilution); s != "" {
		parts = append(parts, s)
	}
	if p.TemperatureC != 0 {
		parts = append(parts, number(p.TemperatureC)+" °C")
	}
	switch p.Agitation {
	case sensito.AgitationUnstated:
	case sensito.AgitationNone:
		parts = append(parts, "no agitation")
	default:
		parts = append(parts, string(p.Agitation)+" agitation")
	}
	return strings.Join(parts, ", ")
}
