package table

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"sensito/sensito/internal/lazy"
	"sensito/sensito/notebook/internal/grammar"
)

// Times are the ways in which the times of a table can be meant where they do
// not say it themselves.
var Times = []string{timesMinutes, timesSeconds, timesClock, timesHours}

const (
	timesMinutes = "minutes" // 5.30 is 5.3 minutes, and 3 is 3 minutes
	timesSeconds = "seconds" // 330 is 330 seconds
	timesClock   = "clock"   // 5.30 and 5:30:00 are 5 min 30 s
	timesHours   = "hours"   // 5:30 and 5:30:00 are 5 h 30 min
)

// Units of time, as they stand behind a number.
const (
	inHours   = `(?:hours?|hrs?|h)`
	inMinutes = `(?:minutes?|mins?|m|')`
	inSeconds = `(?:seconds?|secs?|s|")`
)

var (
	minuteUnit    = lazy.Regexp(`(?i)\s*` + inMinutes + `\.?$`)
	minuteSeconds = lazy.Regexp(`(?i)^(\d+)\s*` + inMinutes + `\s*(\d{1,2})\s*` + inSeconds + `?\.?$`)
	hourMinutes   = lazy.Regexp(`(?i)^(\d{1,2})\s*` + inHours + `\s*([0-5]?\d)\s*` + inMinutes + `?\.?$`)
	unitTime      = lazy.Regexp(`(?i)^([^a-z:'"]+?)\s*(` + inHours + `|` + inMinutes + `|` + inSeconds + `)?\.?$`)

	clockTime   = lazy.Regexp(`^(\d{1,4}):([0-5]\d)$`)
	longTime    = lazy.Regexp(`^(\d{1,2}):([0-5]\d):([0-5]\d)$`)
	pointTime   = lazy.Regexp(`^(\d{1,4})[.,]([0-5]\d)$`)
	decimalTime = lazy.Regexp(`^(\d{1,4})[.,](\d{1,2}|\d{4,})$`) // no mark of thousands, which three digits follow
)

// parseMinutes reads a development time: a number of minutes, or of the unit
// given or behind it, m:ss or h:mm:ss. Meant is one of Times or "". A time has
// either decimal mark, whatever the table has, unless three digits follow it.
// The reason says what is wrong with it, "" for nothing.
func parseMinutes(text, unit, meant string, decimal rune) (minutes float64, reason string) {
	plain := bare(text)
	clock := minuteUnit().ReplaceAllString(plain, "")
	if m, ok := grammar.ClockMinutes(clock); ok {
		switch part := strings.Split(clock, ":"); {
		case meant == timesClock && len(part) == 3 && part[2] == "00":
			m, _ = grammar.ClockMinutes(part[0] + ":" + part[1])
		case meant == timesHours && len(part) == 2:
			m *= 60
		}
		return m, ""
	}
	if part := minuteSeconds().FindStringSubmatch(plain); part != nil && len(part[2]) <= 2 {
		if m, ok := grammar.ClockMinutes(part[1] + ":" + ("0" + part[2])[len(part[2])-1:]); ok {
			return m, ""
		}
	}
	if part := hourMinutes().FindStringSubmatch(plain); part != nil {
		h, _ := strconv.Atoi(part[1])
		m, _ := strconv.Atoi(part[2])
		return float64(60*h + m), ""
	}
	part := unitTime().FindStringSubmatch(plain)
	if part == nil {
		return math.NaN(), notTime(text)
	}
	if part[2] != "" {
		unit = part[2]
	}
	unit = strings.ToLower(unit)
	seconds := strings.HasPrefix(unit, "s") || unit == `"`
	number := strings.TrimSpace(part[1])
	if p := pointTime().FindStringSubmatch(number); p != nil && meant == timesClock && !seconds {
		m, _ := grammar.ClockMinutes(p[1] + ":" + p[2])
		return m, ""
	}
	if decimalTime().MatchString(number) {
		number, decimal = strings.Replace(number, ",", ".", 1), '.'
	}
	v, reason := parseNumber(number, decimal)
	switch {
	case strings.Contains(reason, "is not a number"):
		return math.NaN(), notTime(text)
	case reason != "":
		return math.NaN(), reason
	case seconds, unit == "" && meant == timesSeconds:
		v /= 60
	case strings.HasPrefix(unit, "h"):
		v *= 60
	}
	return v, ""
}

func notTime(text string) string {
	return fmt.Sprintf("%q is not a time like 5:30 or 5.5", clip(text))
}

// splitTimes returns the times of a flag that may hold one for each strip.
func splitTimes(text string) []string {
	return strings.FieldsFunc(text, func(r rune) bool { return r == ',' || r == ';' })
}
