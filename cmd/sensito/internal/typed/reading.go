package typed

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"sensito/cmd/sensito/internal/keyed"
	"sensito/sensito/entry"
)

// Numbers reads numbers with blanks between them, to a thousandth; 12 1/3 is one.
func Numbers(text string) ([]float64, error) {
	const thousandth = 1000
	var out []float64
	for _, word := range keyed.Parted(text) {
		v, err := entry.ParseNumber(word)
		if err != nil {
			return nil, err
		}
		out = append(out, math.Round(v*thousandth)/thousandth)
	}
	return out, nil
}

// Steps understands a number for each step, to all its places.
func Steps(text string) (answer, words string, err error) {
	var out []string
	for _, word := range keyed.Parted(text) {
		v, err := entry.ParseNumber(word)
		if err != nil {
			return "", "", err
		}
		out = append(out, strconv.FormatFloat(v, 'f', -1, 64))
	}
	return strings.Join(out, " "), "", nil
}

// Readings understands one reading or several, in EV or steps.
func Readings(text string) (answer, words string, err error) {
	vs, err := Numbers(text)
	if err != nil {
		return "", "", err
	}
	if len(vs) > keyed.MaxReadings {
		return "", "", fmt.Errorf("%d readings are more than %d", len(vs), keyed.MaxReadings)
	}
	return text, "", nil
}

// Signed understands a number that may be 0.
func Signed(text string) (answer, words string, err error) {
	v, err := entry.ParseNumber(text)
	return numbered(text, v, err)
}

// Part understands what readings are rounded to, kept as it was typed.
func Part(text string) (answer, words string, err error) {
	if _, _, err = Number(text); err == nil {
		answer = text
	}
	return answer, "", err
}

// Tablet understands how many steps a tablet has, or the density of each.
func Tablet(text string) (answer, words string, err error) {
	ds, err := Numbers(text)
	switch {
	case err != nil:
		return "", "", err
	case len(ds) == 1:
		return WedgeCount(text)
	}
	var written []string
	for _, d := range ds {
		written = append(written, Written(d))
	}
	return strings.Join(written, " "), fmt.Sprintf("= %d steps, %g to %g", len(ds), ds[0], ds[len(ds)-1]), nil
}
