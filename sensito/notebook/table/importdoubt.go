package table

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"sensito/sensito"
	"sensito/sensito/notebook/internal/grammar"
)

// Doubt is the error of a table that says something which can be meant in more
// than one way. As an error it names the flags that settle it.
type Doubt struct {
	Fault    *grammar.Error
	Question string   // what is in doubt, in words
	Choices  []Choice // the answers, at least one
}

// Choice is one answer to a doubt.
type Choice struct {
	Flag  string // of the command that gives the answer, without dashes
	Value string // of the flag; "" where the photographer must say it
	Means string // in words
}

func (d *Doubt) Error() string { return d.Fault.Error() }

// Unwrap lets errors.As find the fault as one of a file.
func (d *Doubt) Unwrap() error { return grammar.Errors{d.Fault} }

// Answer returns the options with an answer added; value counts where the choice
// leaves it open.
func (o ImportOptions) Answer(c Choice, value string) ImportOptions {
	if c.Value != "" {
		value = c.Value
	}
	switch c.Flag {
	case "times":
		o.Times = value
	case "dates":
		o.Dates = value
	case "without":
		o.Without = append(slices.Clone(o.Without), value)
	default:
		values := map[string]string{c.Flag: value} // flag and column have one name
		for name, v := range o.Values {
			if name != c.Flag {
				values[name] = v
			}
		}
		o.Values = values
	}
	return o
}

func (im *importer) doubt(at place, question string, choices ...Choice) *Doubt {
	var flags []string
	for _, c := range choices {
		flag := "--" + c.Flag + " " + c.Value
		switch {
		case c.Value == "":
			flag = "their times, --" + c.Flag + " 4:00,5:30,8:00"
		case strings.ContainsAny(c.Value, " ()\"';&|*?$#"):
			flag = "--" + c.Flag + " " + strconv.Quote(c.Value)
		}
		flags = append(flags, flag)
	}
	return &Doubt{Fault: &grammar.Error{File: im.name, Line: at.line, Key: at.name, Msg: question + "; give " + strings.Join(flags, " or ")},
		Question: question, Choices: choices}
}

// timeCell is a development time of a table, or a date, and the unit that a time
// has from its column.
type timeCell struct {
	cell
	unit string
}

// cellsOf returns what strips, or a whole table, say in a column of strips.
func cellsOf(t *sheet, drafts []*draft, name string) []timeCell {
	var out []timeCell
	for _, k := range t.constants {
		if k.name == name {
			out = append(out, timeCell{k.cell, "min"})
		}
	}
	for _, d := range drafts {
		for _, s := range d.strips {
			if c, ok := s.values[name]; ok {
				out = append(out, timeCell{c, s.unit})
			}
		}
	}
	return out
}

// doubts returns the first thing in the table that can be meant in two ways, nil
// for none. The rest of the columns may settle it: 5.30 beside 6.75 is a decimal.
func (im *importer) doubts(t *sheet, drafts []*draft) error {
	times := cellsOf(t, drafts, colMinutes)
	for _, find := range []func([]timeCell) *Doubt{im.hoursDoubt, im.pointDoubt, im.secondsDoubt} {
		if d := find(times); d != nil && im.o.Times == "" {
			return d
		}
	}
	for _, d := range drafts {
		if d := im.numberDoubt(d); d != nil {
			return d
		}
	}
	if d := im.dateDoubt(cellsOf(t, drafts, colDeveloped)); d != nil {
		return d
	}
	return nil
}

// leastSeconds is the shortest development that a clock time may tell in
// seconds: 0:08 is eight minutes of an hour rather than eight seconds.
const leastSeconds = 20

// hoursDoubt finds times such as 5:30:00, which a spreadsheet makes of a typed
// 5:30. A time with seconds, or of a few minutes, shows that the column has hours.
func (im *importer) hoursDoubt(times []timeCell) *Doubt {
	var long, short *timeCell
	var parts []string
	hours, zero := false, false
	for i := range times {
		c := &times[i]
		if p := longTime().FindStringSubmatch(bare(c.text)); p != nil {
			few := p[1] == "0" || p[1] == "00"
			zero = zero || few
			if few && p[2] < strconv.Itoa(leastSeconds) || p[3] != "00" {
				hours = true
			} else if long == nil {
				long, parts = c, p[1:3]
			}
		}
	}
	for i := range times {
		c := &times[i]
		if p := clockTime().FindStringSubmatch(bare(c.text)); p != nil && short == nil && c.unit == "" {
			m, _ := strconv.Atoi(p[1])
			if s, _ := strconv.Atoi(p[2]); m == 0 && s < leastSeconds && s > 0 || zero && m < 24 {
				short = c
				if long == nil || hours {
					parts = p[1:3]
				}
			}
		}
	}
	c := long
	if long == nil || hours {
		c = short
	}
	if c == nil {
		return nil
	}
	as := func(big, small string) string {
		var says []string
		for i, unit := range []string{big, small} {
			if n, _ := strconv.Atoi(parts[i]); n > 0 {
				says = append(says, fmt.Sprintf("%d %s", n, unit))
			}
		}
		return strings.Join(says, " ")
	}
	return im.doubt(c.place, fmt.Sprintf("%q can be %s or %s", clip(c.text), as("min", "s"), as("h", "min")),
		Choice{"times", timesClock, "minutes and seconds, " + as("min", "s")}, Choice{"times", timesHours, "hours and minutes, " + as("h", "min")})
}

// pointDoubt finds times such as 5.30 in a column without one such as 6.75 or
// 5.333, which no clock shows.
func (im *importer) pointDoubt(times []timeCell) *Doubt {
	var found *timeCell
	for i := range times {
		number := minuteUnit().ReplaceAllString(bare(times[i].text), "")
		if sensito.EitherTime(number) != nil && found == nil {
			found = &times[i]
		}
		_, decimals, _ := strings.Cut(strings.Replace(number, ",", ".", 1), ".")
		if decimalTime().MatchString(number) && (len(decimals) > 2 || len(decimals) == 2 && decimals > "59") {
			return nil
		}
	}
	if found == nil {
		return nil
	}
	whole, tenths, _ := strings.Cut(strings.Replace(minuteUnit().ReplaceAllString(bare(found.text), ""), ",", ".", 1), ".")
	return im.doubt(found.place, fmt.Sprintf("%q can be %s:%s or %s.%s minutes", clip(found.text), whole, tenths, whole, tenths[:1]),
		Choice{"times", timesClock, "minutes and seconds, " + whole + ":" + tenths}, Choice{"times", timesMinutes, "minutes with decimals, " + whole + "." + tenths[:1]})
}

// secondsDoubt finds times that are all whole numbers too large for most
// developments in minutes, without a unit.
func (im *importer) secondsDoubt(times []timeCell) *Doubt {
	const least = 60
	for _, c := range times {
		n, err := strconv.Atoi(bare(c.text))
		if c.unit != "" || err != nil || n < least {
			return nil
		}
	}
	if len(times) == 0 {
		return nil
	}
	c := times[0]
	return im.doubt(c.place, fmt.Sprintf("%s can be minutes or seconds", bare(c.text)),
		Choice{"times", timesSeconds, "seconds"}, Choice{"times", timesMinutes, "minutes"})
}

// numberDoubt finds strips whose times are the numbers from 1 on, without a unit:
// they may as well number the strips. Where a flag gives a time for each strip,
// they do, and the times are in the order of the numbers.
func (im *importer) numberDoubt(d *draft) *Doubt {
	seen := map[int]bool{}
	for _, s := range d.strips {
		c, ok := s.values[colMinutes]
		n, err := strconv.Atoi(bare(c.text))
		if !ok || err != nil || s.unit != "" || n < 1 || n > len(d.strips) {
			return nil
		}
		seen[n] = true
	}
	if len(seen) < len(d.strips) || len(d.strips) == 0 {
		return nil
	}
	if im.o.Times != "" {
		return nil
	}
	if times := splitTimes(im.o.Values[colMinutes]); len(times) == len(d.strips) {
		for i, s := range d.strips {
			n, _ := strconv.Atoi(bare(s.values[colMinutes].text)) // as above
			s.values[colMinutes] = cell{times[n-1], place{d.strips[i].line, "--minutes"}}
		}
		return nil
	}
	first := d.strips[0].values[colMinutes]
	what := "1 can be a development time in minutes or the number of a strip"
	if n := len(d.strips); n > 1 {
		what = fmt.Sprintf("1 to %d can be development times in minutes or the numbers of the strips", n)
	}
	at := first.place
	at.name = ""
	return im.doubt(at, what, Choice{"times", timesMinutes, "development times in minutes"},
		Choice{"minutes", "", "numbers of the strips, which were developed for other times"})
}

// dateDoubt finds dates such as 3/4/2026 among which none has a number above 12
// that tells the day; it settles the order where one has.
func (im *importer) dateDoubt(dates []timeCell) *Doubt {
	if im.o.Dates != "" {
		im.dates = im.o.Dates
		return nil
	}
	var found *cell
	orders := map[string]bool{}
	for i := range dates {
		first, second, _, slashes := slashed(dates[i].text)
		switch {
		case !slashes || first == second:
		case first > 12:
			orders[dayFirst] = true
		case second > 12:
			orders[monthFirst] = true
		case found == nil:
			found = &dates[i].cell
		}
	}
	if len(orders) == 1 {
		im.dates = sortedKeys(orders)[0]
		return nil
	}
	if found == nil {
		return nil
	}
	day, _ := parseDate(found.text, dayFirst)
	month, _ := parseDate(found.text, monthFirst)
	return im.doubt(found.place, fmt.Sprintf("%q can be %s or %s", found.text, day, month),
		Choice{"dates", dayFirst, "the day first, " + day}, Choice{"dates", monthFirst, "the month first, " + month})
}

// unreadDoubt finds a column of a table of strips that has readings but a heading
// in which no time is read.
func (im *importer) unreadDoubt(t *sheet) *Doubt {
	for j, c := range t.columns {
		if c != nil || t.strips[j] != nil || t.without[j] {
			continue
		}
		numbers, filled := 0, 0
		for i := range t.rows {
			if text := t.cell(i, j).text; !notRead(text) {
				filled++
				if v, ok := eitherNumber(text); ok && math.Abs(v) <= maxDensity {
					numbers++
				}
			}
		}
		if numbers < fewestReadings || numbers < filled {
			continue
		}
		at := t.headingAt(j)
		name := at.name
		at.name = ""
		return im.doubt(at, fmt.Sprintf("column %q has readings, but no development time like 5:30 is read in its heading", name),
			Choice{"without", name, "leave the column out"})
	}
	return nil
}

// maxDensity is above what is read of film or paper (ISO 5 instruments end at 6), fewestReadings as few as a strip has, and
// mostAbove more lines than stand above a table.
const maxDensity, fewestReadings, mostAbove = 6, 3, 50
