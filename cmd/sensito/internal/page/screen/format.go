package screen

import (
	"math"
	"strconv"
	"strings"

	"sensito/sensito"
)

// minus is the true one, as wide as a plus.
const minus = "−"

// space holds a value and its unit together on a line.
const space = "\u00a0"

// answerSeconds is what times in answers are rounded to; a clock tells single seconds.
const answerSeconds = 5

// clock returns a time as an answer tells it, 6:35.
func clock(m sensito.Minutes) string { return m.Clock(answerSeconds) }

// fixed returns a number to so many places, with a true minus, and none before a zero.
func fixed(v float64, places int) string {
	text := strconv.FormatFloat(v, 'f', places, 64)
	digits, negative := strings.CutPrefix(text, "-")
	if negative && strings.ContainsAny(digits, "123456789") {
		return minus + digits
	}
	return digits
}

// plain returns a number with the places that it needs, two at most.
func plain(v float64) string {
	return fixed(v, min(2, decimals(v)))
}

func decimals(v float64) int {
	_, fraction, _ := strings.Cut(strconv.FormatFloat(v, 'f', -1, 64), ".")
	return len(fraction)
}

// signed returns a number as plain does, with a plus where it is above 0.
func signed(v float64) string {
	if v > 0 {
		return "+" + plain(v)
	}
	return plain(v)
}

// interval returns two ends in words; one that is nowhere is said so.
func interval[Q ~float64](low, high Q, told func(Q) string) string {
	switch {
	case math.IsInf(float64(low), 0) && math.IsInf(float64(high), 0):
		return "not known"
	case math.IsInf(float64(high), 0):
		return told(low) + " or more"
	case math.IsInf(float64(low), 0):
		return told(high) + " or less"
	}
	return told(low) + " to " + told(high)
}

// within returns a value with its unit, which stay on one line.
func within(value, unit string) string { return value + space + unit }

// setting returns the third-stop setting that is nearest to an index, as a meter has it.
func setting(s sensito.Speed) string {
	set, _ := s.Standard()
	return strconv.FormatFloat(float64(set), 'g', -1, 64)
}

// stops returns a number of stops, a whole one in letters.
func stops(v float64) string {
	if v == math.Trunc(v) && v > 0 {
		return counted(int(v), "stop")
	}
	return plain(v) + " stops"
}

// speed returns a speed or an index to its last whole figure; a small one to two figures.
func speed(s sensito.Speed) string {
	if s >= 10 {
		return fixed(float64(s), 0)
	}
	return strconv.FormatFloat(float64(s), 'g', 2, 64)
}
