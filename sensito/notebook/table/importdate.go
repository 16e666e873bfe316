package table

import (
	"fmt"
	"strconv"
	"time"

	"sensito/sensito/internal/lazy"
)

// Dates are the ways in which a date such as 3/4/2026 can be meant.
var Dates = []string{dayFirst, monthFirst}

const (
	dayFirst   = "day-first"
	monthFirst = "month-first"
)

var (
	timeOfDate = lazy.Regexp(`^(\d{4}-\d{2}-\d{2})[T ]\d{1,2}:\d{2}(?::\d{2})?$`)
	dottedDate = lazy.Regexp(`^(\d{1,2})\.\s?(\d{1,2})\.\s?(\d{4}|\d{2})$`)
	slashDate  = lazy.Regexp(`^(\d{1,2})/(\d{1,2})/(\d{4})$`)
)

// dateLayouts are further ways of writing a date that can mean one day only.
var dateLayouts = []string{time.DateOnly, "2006-1-2", "2006/1/2", "2006.1.2", "2 Jan 2006", "2 January 2006", "Jan 2, 2006", "January 2, 2006", "2-Jan-2006", "2. January 2006"}

// parseDate reads a date and returns it as 2026-03-01. Order, one of Dates, says
// how one with slashes is meant. The reason says what is wrong with it, "" for
// nothing.
func parseDate(text, order string) (iso, reason string) {
	text = bare(text)
	if part := timeOfDate().FindStringSubmatch(text); part != nil {
		text = part[1]
	}
	if part := dottedDate().FindStringSubmatch(text); part != nil {
		if len(part[3]) == 2 {
			part[3] = "20" + part[3]
		}
		text = part[3] + "-" + part[2] + "-" + part[1]
	}
	if day, month, year, ok := slashed(text); ok {
		if order == monthFirst {
			day, month = month, day
		}
		text = fmt.Sprintf("%s-%d-%d", year, month, day)
	}
	for _, layout := range dateLayouts {
		if day, err := time.Parse(layout, text); err == nil {
			return day.Format(time.DateOnly), ""
		}
	}
	return "", fmt.Sprintf("%q is not a date like 2026-03-01", clip(text))
}

// slashed returns the numbers of a date with slashes in their order.
func slashed(text string) (first, second int, year string, ok bool) {
	part := slashDate().FindStringSubmatch(bare(text))
	if part == nil {
		return 0, 0, "", false
	}
	first, _ = strconv.Atoi(part[1]) // two digits
	second, _ = strconv.Atoi(part[2])
	return first, second, part[3], true
}
