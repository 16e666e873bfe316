package entry

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"sensito/sensito"
	"sensito/sensito/internal/decimal"
	"sensito/sensito/internal/lazy"
)

// A Typed is one reading as somebody typed it, understood.
type Typed struct {
	Text    string
	Density sensito.Density // in the unit of the trial's readings

	// Guessed says that the decimal mark was left out, so that Density should be
	// shown to whoever typed it.
	Guessed bool

	// Or are what else it can mean; empty where Density is clear.
	Or []sensito.Density
}

// highestWhole is the highest density; a larger number without a decimal mark
// lacks one.
const highestWhole = 6

var readingForm = lazy.Regexp(`^([-+]?)(\d+[.,]?\d*|[.,]\d+)$`)

// finest is what no reading in EV or steps is finer than.
const finest = 0.001

// Typed reads a reading of the trial as it is typed: a density as ParseTyped does, and
// one in EV or steps as the number that it is, 9.7 or 9,7 or 9 2/3, to a thousandth. The
// error names what is no reading, and what none of the trial can be.
func (k *Keying) Typed(text string) (Typed, error) {
	read := k.trial.Reading()
	if read.Unit == sensito.UnitDensity {
		return ParseTyped(text)
	}
	v, ok := decimal.ParseFraction(strings.TrimSuffix(text, "."))
	if !ok {
		return Typed{}, fmt.Errorf("%q is not a reading%s, like 9.7 or 9 2/3; see help", text, inUnit[read.Unit])
	}
	t := Typed{Text: text, Density: sensito.Density(math.Round(v/finest)/(1/finest) + 0)} // -0 is 0
	return t, read.CheckReading(t.Density)
}

var inUnit = map[sensito.Unit]string{sensito.UnitEV: " in EV", sensito.UnitStep: " in steps of the tablet"}

// ParseTyped reads a density as it is typed: 1.13 or 1,13, and in
// hundredths without a mark, 113 or 13. One digit, as 2, can be as many whole
// densities or hundredths, and four, as 1130, thousandths; Or then has what else
// they can mean. The error names what is no reading, and what no densitometer
// gives.
func ParseTyped(text string) (Typed, error) {
	part := readingForm().FindStringSubmatch(text)
	if part == nil {
		return Typed{}, fmt.Errorf("%q is not a reading, like 1.13; see help", text)
	}
	v, err := strconv.ParseFloat(strings.Replace(part[2], ",", ".", 1), 64)
	if err != nil {
		return Typed{}, fmt.Errorf("%q is not a reading, like 1.13; see help", text)
	}
	sign := sensito.Density(1)
	if part[1] == "-" {
		sign = -1
	}
	t := Typed{Text: text}
	digits := len(part[2])
	if strings.ContainsAny(part[2], ".,") || v == 0 {
		t.Density = sign*sensito.Density(v) + 0 // -0 is 0
		return t, nil
	}
	t.Guessed = true
	switch {
	case digits == 1 && v <= highestWhole:
		t.Density, t.Or = sign*sensito.Density(v), []sensito.Density{sign * sensito.Density(v/100)}
	case digits <= 3 && v/100 <= highestWhole:
		t.Density = sign * sensito.Density(v/100)
	case digits <= 4 && v/1000 <= highestWhole:
		t.Density, t.Or = sign*sensito.Density(v/1000), []sensito.Density{sensito.Density(math.NaN())}
	default:
		return Typed{}, fmt.Errorf("%s is no density", text)
	}
	return t, nil
}

// Settled decides what a reading means by what is expected, where that leaves one
// meaning alone. The error says what it can mean.
func (t Typed) Settled(x Expectation, expected bool) (Typed, error) {
	if len(t.Or) == 0 {
		return t, nil
	}
	if expected {
		near := slices.DeleteFunc(append([]sensito.Density{t.Density}, t.Or...), func(d sensito.Density) bool { return x.FarOff(d) })
		if len(near) == 1 {
			t.Density, t.Or = near[0], nil
			return t, nil
		}
	}
	if math.IsNaN(float64(t.Or[0])) {
		return t, fmt.Errorf("%s has no decimal point; write %g if that is meant", t.Text, float64(t.Density))
	}
	return t, fmt.Errorf("%s can be %.2f or %.2f; write it with its decimal point", t.Text, float64(t.Density), float64(t.Or[0]))
}
