package typed

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"

	"sensito/cmd/sensito/internal/told"
	"sensito/sensito"
	"sensito/sensito/entry"
)

// Written writes a number as it can be typed, which is to nine decimals.
func Written(v float64) string {
	const finest = 1e9
	return strconv.FormatFloat(math.Round(v*finest)/finest, 'f', -1, 64)
}

// Number understands a number other than 0, also a fraction.
func Number(text string) (answer, words string, err error) {
	v, err := entry.ParseNumber(text)
	if err != nil && !strings.Contains(err.Error(), " may mean ") || err == nil && v == 0 {
		return "", "", fmt.Errorf("%q is not a number other than 0", text)
	}
	return numbered(text, v, err)
}

// Whole understands a whole number other than 0.
func Whole(text string) (answer, words string, err error) {
	v, err := entry.ParseNumber(text)
	if err == nil && (v != math.Trunc(v) || v == 0) {
		return "", "", fmt.Errorf("%q is not a whole number other than 0", text)
	}
	return numbered(text, v, err)
}

// WedgeCount understands a number of steps.
func WedgeCount(text string) (answer, words string, err error) {
	v, err := entry.ParseNumber(text)
	if which, reason := sensito.CheckEvenWedge(0, 0.001, v); err == nil && which == "count" {
		return "", "", errors.New(reason)
	}
	return numbered(text, v, err)
}

// WedgeFirst understands the density of the first step.
func WedgeFirst(text string) (answer, words string, err error) {
	v, err := entry.ParseNumber(text)
	if which, reason := sensito.CheckEvenWedge(v, 0.001, 3); err == nil && which == "first" {
		return "", "", errors.New(reason)
	}
	return numbered(text, v, err)
}

// numbered returns a number as it is kept, in words where it was a fraction.
func numbered(text string, v float64, err error) (answer, words string, _ error) {
	if err != nil {
		return "", "", err
	}
	if strings.Contains(text, "/") {
		words = "= " + Written(math.Round(v*1e4)/1e4)
	}
	return Written(v), words, nil
}

// Developer understands a developer with its dilution.
func Developer(text string) (answer, words string, err error) {
	name, dilution, otherwise, err := entry.ParseDeveloper(text)
	if err != nil {
		return "", "", err
	}
	answer = strings.TrimSpace(name + " " + dilution)
	if otherwise {
		words = "= " + answer
	}
	return answer, words, nil
}

// Temperature understands a temperature, kept in degrees Celsius to a hundredth.
func Temperature(text string) (answer, words string, err error) {
	c, err := sensito.ParseTemperature(text)
	if err != nil {
		return "", "", err
	}
	if strings.ContainsAny(text, "fF") {
		words = "= " + sensito.Celsius(c)
	}
	return Written(math.Round(100*c) / 100), words, nil
}

// Seconds understands a time of exposure, kept in seconds.
func Seconds(text string) (answer, words string, err error) {
	t, err := sensito.ParseSeconds(text)
	if err != nil {
		return "", "", err
	}
	if strings.ContainsAny(text, "/:hm") {
		words = "= " + Written(math.Round(float64(t)*1e4)/1e4) + " s"
	}
	return Written(float64(t)), words, nil
}

// Minutes understands a time of development, kept as it was typed.
func Minutes(text string) (answer, words string, err error) {
	m, err := sensito.ParseMinutes(text)
	if err != nil {
		return "", "", err
	}
	if !strings.Contains(text, ":") {
		words = "= " + m.Clock(1) + " min"
	}
	return strings.TrimSpace(text), words, nil
}

// Stops understands FROM..TO.
func Stops(text string) (answer, words string, err error) {
	_, _, err = StopsOf(text)
	return text, "", err
}

// StopsOf reads FROM..TO.
func StopsOf(text string) (from, to float64, err error) {
	low, high, ok := strings.Cut(text, "..")
	from, err1 := entry.ParseNumber(low)
	to, err2 := entry.ParseNumber(high)
	if !ok || err1 != nil || err2 != nil || from == to {
		return 0, 0, fmt.Errorf("%q is not like -6..6, in stops", text)
	}
	return from, to, nil
}

// Density understands a reading as enter does of a step, with nothing expected.
func Density(text string) (answer, words string, err error) {
	r, err := entry.ParseTyped(text)
	if err == nil {
		r, err = r.Settled(entry.Expectation{}, false)
	}
	if err != nil {
		return "", "", err
	}
	answer = told.Densities([]sensito.Density{r.Density})
	if r.Guessed {
		words = "= " + answer
	}
	return answer, words, nil
}

// Date understands a date.
func Date(text string) (answer, words string, err error) {
	return text, "", sensito.CheckDate(text)
}
