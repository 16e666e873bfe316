package table

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"sensito/sensito/internal/lazy"
)

// cellFormat is what the format of a cell makes of its number.
type cellFormat struct {
	date           bool // shows a year, a month or a day
	hours, seconds bool // shows them
	minutes        bool
	elapsed        bool // hours or minutes go on counting beyond a day or an hour
	hundredths     bool // shows a number to two decimals
}

// builtinFormat returns the code of a format that a workbook does not spell out
// (ECMA-376 Part 1, 18.8.30), as far as times, dates and two decimals go; "" for
// other numbers.
func builtinFormat(id int) string {
	switch id {
	case 2, 4:
		return "0.00"
	case 14, 15, 16, 17:
		return "yyyy-mm-dd"
	case 18, 20:
		return "h:mm"
	case 19, 21:
		return "h:mm:ss"
	case 22:
		return "yyyy-mm-dd h:mm"
	case 45, 47:
		return "mm:ss"
	case 46:
		return "[h]:mm:ss"
	}
	if id >= 27 && id <= 36 || id >= 50 && id <= 58 {
		return "yyyy-mm-dd h:mm:ss" // a date or a time, depending on the language
	}
	return ""
}

var (
	formatText       = lazy.Regexp(`"[^"]*"|\\.|[_*].|\[[^\]]*\]|(?i:general|am/pm|a/p|e[+-])`) // shows no part of a time
	formatHundredths = lazy.Regexp(`^[^.%e]*0\.00[^0#?%e]*$`)

	formatElapsed = lazy.Regexp(`(?i)\[(h+|m+|s+)\]`)
)

// formatOf reads a format code such as "[h]:mm:ss" (ECMA-376 Part 1, 18.8.31).
func formatOf(code string) cellFormat {
	elapsed := formatElapsed().MatchString(code)
	code = formatElapsed().ReplaceAllString(code, "$1")
	code = strings.ToLower(formatText().ReplaceAllString(code, ""))
	code, _, _ = strings.Cut(code, ";") // for numbers above zero
	has := func(letters string) bool { return strings.ContainsAny(code, letters) }
	f := cellFormat{hundredths: formatHundredths().MatchString(code), hours: has("h"), seconds: has("s"), elapsed: elapsed}
	f.minutes = has("m") && (f.hours || f.seconds || elapsed)
	f.date = has("ydeg") || has("m") && !f.minutes // e and g: years of an era
	return f
}

// text returns a number as this format shows it, in one way of writing: a date
// as 2026-11-25, a time as m:ss or h:mm:ss, a number with its digits.
//
// Whoever types 5:30 into a spreadsheet and means 5 min 30 s gets a time of day,
// half past five, shown as 5:30. So what the cell shows counts, not what it
// stores: 5:30 here and there, to be read as m:ss. A time with seconds, typed as
// 0:05:30 or shown as 05:30 by the format mm:ss, is the same 5 min 30 s. Hours and
// seconds that the format hides are not lost: they make it h:mm:ss, and so does
// less than an hour, 0:08, which is no eight seconds. Whether 5:30:00, shown by
// the format h:mm:ss of a typed 5:30, is of hours is for the reader of the table.
func (f cellFormat) text(x float64, from1904 bool) (string, error) {
	clock := f.hours || f.minutes || f.seconds
	switch {
	case !f.date && !clock:
		if whole := math.Round(x * 100); f.hundredths && math.Abs(whole) < 1e9 && math.Abs(whole/100-x) < 1e-12 && math.Mod(whole, 100) != 0 {
			return strconv.FormatFloat(x, 'f', 2, 64), nil // a time that is shown as 5.30 is asked for
		}
		return decimalText(x), nil
	case x < 0:
		return "", errors.New("holds a time below zero")
	case f.date && (!clock || x >= 1):
		return dateText(x, from1904)
	case !f.elapsed && f.hours && x >= 1:
		return "", fmt.Errorf("shows a time of day but holds %s days; write the time as text, such as 5:30", decimalText(x))
	case x > 100:
		return "", fmt.Errorf("holds a time of %s days", decimalText(x))
	}
	milliseconds := int(math.Round(x * 24 * 3600 * 1000))
	minutes, rest := milliseconds/60_000, milliseconds%60_000
	seconds := fmt.Sprintf("%02d", rest/1000)
	if rest%1000 != 0 {
		seconds += strings.TrimRight(fmt.Sprintf(".%03d", rest%1000), "0")
	}
	switch {
	case !f.hours && (f.elapsed || minutes < 60): // else the hours that it holds are hidden
		return fmt.Sprintf("%d:%s", minutes, seconds), nil
	case !f.hours || f.seconds || rest != 0 || minutes < 60:
		return fmt.Sprintf("%d:%02d:%s", minutes/60, minutes%60, seconds), nil
	}
	return fmt.Sprintf("%d:%02d", minutes/60, minutes%60), nil
}

// dateText returns the date, and the time if there is one, of a number of days.
func dateText(days float64, from1904 bool) (string, error) {
	const last = 2958465 // 9999-12-31
	epoch := time.Date(1899, 12, 30, 0, 0, 0, 0, time.UTC)
	switch {
	case days > last, days < 1 && !from1904:
		return "", fmt.Errorf("holds the number %s in the form of a date, which it cannot be", decimalText(days))
	case from1904:
		epoch = time.Date(1904, 1, 1, 0, 0, 0, 0, time.UTC)
	case days < 60: // 1900 has a 29 February in spreadsheets
		epoch = epoch.AddDate(0, 0, 1)
	case days < 61:
		return "", errors.New("holds 29 February 1900, a day that was not")
	}
	whole, part := math.Modf(days)
	t := epoch.AddDate(0, 0, int(whole)).Add(time.Duration(math.Round(part*24*3600)) * time.Second)
	if t.Hour() == 0 && t.Minute() == 0 && t.Second() == 0 {
		return t.Format(time.DateOnly), nil
	}
	return t.Format("2006-01-02T15:04:05"), nil
}
