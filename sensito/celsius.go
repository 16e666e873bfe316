package sensito

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"sensito/sensito/internal/check"
	"sensito/sensito/internal/lazy"
)

var temperatureForm = lazy.Regexp(`^([+-]?\d+(?:[.,]\d+)?) *(?:°|º|deg(?:rees)?\.?)? *([cCfF]?)$`)

// ParseTemperature returns a temperature in degrees Celsius: 22.5, "22,5 °C",
// 72F or "72.5 F". The error names what it cannot read, and what no developer has.
func ParseTemperature(text string) (celsius float64, err error) {
	part := temperatureForm().FindStringSubmatch(strings.TrimSpace(text))
	if part == nil {
		return 0, fmt.Errorf("%q is not a temperature like 22.5 or 72F", text)
	}
	v, err := strconv.ParseFloat(strings.Replace(part[1], ",", ".", 1), 64)
	if err != nil {
		return 0, fmt.Errorf("%q is not a temperature like 22.5 or 72F", text)
	}
	switch {
	case strings.EqualFold(part[2], "F"):
		v = (v - 32) / 1.8
	case v > 45 && part[2] == "":
		return 0, fmt.Errorf("%q without a unit is degrees Celsius, too hot for film; write %gF for Fahrenheit", text, v)
	}
	if err := CheckTemperature(v); err != nil {
		return 0, fmt.Errorf("%q: %w", text, err)
	}
	return v, nil
}

// The temperatures that are taken for those of a bath, in degrees Celsius.
const coldestForced, hottestEver = 1, 60

// CheckTemperature returns an error for a temperature that no bath has.
func CheckTemperature(c float64) error {
	if !(c >= coldestForced && c <= hottestEver) {
		return fmt.Errorf("temperature %s is outside %d to %d °C", Celsius(c), coldestForced, hottestEver)
	}
	return nil
}

// Celsius returns a temperature in words, to a tenth of a degree.
func Celsius(c float64) string { return strconv.FormatFloat(math.Round(10*c)/10, 'f', -1, 64) + " °C" }

// unless0 returns nil for the 0 of what is not stated.
func unless0(v float64) *float64 {
	if v == 0 {
		return nil
	}
	return &v
}

// The limits of a coefficient that a photographer states.
const leastQ10, mostQ10 = 1.1, 6

// CheckQ10 notes a stated coefficient, or its standard deviation, outside its
// limits; nil is not stated.
func CheckQ10(f *check.Faults, prefix string, q10, sd *float64) {
	switch {
	case q10 == nil && sd != nil:
		f.Add(prefix+"q10_sd", "goes with q10, the coefficient it is of")
	case q10 != nil && !(*q10 >= leastQ10 && *q10 <= mostQ10):
		f.Add(prefix+"q10", "%g is outside %g to %g; it is the rate at 30 over that at 20 degrees C", *q10, leastQ10, float64(mostQ10))
	case sd != nil && !(*sd > 0 && *sd <= *q10/2):
		f.Add(prefix+"q10_sd", "%g is outside its limits, above 0 and at most %g, half of q10", *sd, *q10/2)
	}
}
