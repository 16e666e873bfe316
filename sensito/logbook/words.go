package logbook

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"sensito/sensito"
	"sensito/sensito/printable"
)

// Temperature says at which temperature it was developed: "20.5 to 21.1 °C" from begin
// to end, "20 °C meant" where none was measured, "" where none is stated.
func (d Development) Temperature() string {
	begin := d.TemperatureC
	switch {
	case begin == 0 && d.EndedC == 0 && d.Process.TemperatureC == 0:
		return ""
	case begin == 0 && d.EndedC == 0:
		return sensito.Celsius(d.Process.TemperatureC) + " meant"
	case begin == 0:
		return sensito.Celsius(d.EndedC) + " at the end"
	case d.EndedC == 0 || d.EndedC == begin:
		return sensito.Celsius(begin)
	}
	return strings.TrimSuffix(sensito.Celsius(begin), " °C") + " to " + sensito.Celsius(d.EndedC)
}

// Batch returns that of the film, "" where it is not stated.
func (d Development) Batch() string { return d.Trial.Film().Batch }

// What says what was developed and all that is known of it beside date, time and
// temperature, with the batch of the film where batch is true.
func (d Development) What(batch bool) string {
	var parts []string
	add := func(given bool, format string, args ...any) {
		if given {
			parts = append(parts, fmt.Sprintf(format, args...))
		}
	}
	add(d.Strip > 0, "strip %d of %s", d.Strip, d.File)
	add(len(d.Films) > 0, "%s", sensito.FilmList(d.Films))
	add(batch && d.Batch() != "", "batch %s", d.Batch())
	add(d.Index != 0, "EI %s", strconv.FormatFloat(float64(d.Index), 'g', 4, 64))
	add(d.For != "", "for %s", d.For)
	add(d.Agitation != "", "%s", d.Agitation.Named())
	add(d.Note != "", "%s", strings.Join(strings.Fields(d.Note), " "))
	return strings.Join(parts, "; ")
}

// String tells the last time in a line: when, for how long and at which temperature.
func (l Latest) String() string {
	text := fmt.Sprintf("%s, %s", l.Date, l.Minutes.Clock(1))
	switch {
	case l.Strips == 1:
		text = fmt.Sprintf("%s, a test strip, %s", l.Date, l.Minutes.Clock(1))
	case l.Strips > 1 && l.Least == l.Most:
		text = fmt.Sprintf("%s, %d test strips, %s", l.Date, l.Strips, l.Most.Clock(1))
	case l.Strips > 1:
		text = fmt.Sprintf("%s, %d test strips, %s to %s", l.Date, l.Strips, l.Least.Clock(1), l.Most.Clock(1))
	case l.Planned != 0 && math.Abs(float64(l.Planned-l.Minutes)) >= second/2:
		text += fmt.Sprintf(" (planned %s)", l.Planned.Clock(1))
	}
	switch t := l.Temperature(); {
	case t == "":
	case l.TemperatureC == 0:
		text += ", " + t
	default:
		text += " at " + t
	}
	if l.Index != 0 {
		text += ", EI " + strconv.FormatFloat(float64(l.Index), 'g', 4, 64)
	}
	return text
}

// Heading names film and developer, with the batch of the film; several says that there
// are several batches, which it leaves to the single developments.
func (g Group) Heading() (text string, several bool) {
	batch := g.Developments[0].Batch()
	several = slices.ContainsFunc(g.Developments, func(d Development) bool { return d.Batch() != batch })
	if several || batch == "" {
		return g.Pair.String(), several
	}
	return g.Pair.String() + ", batch " + batch, false
}

// Sentence tells the last time beside an answer for the same film and developer.
func (l *Latest) Sentence() string {
	text := "Last time with this film and developer: " + l.String()
	if l.For != "" {
		text += ", for " + l.For
	}
	return text + "."
}

// Dates returns those of the first strip and the last.
func (c Control) Dates() (first, last string) {
	strips := c.Log.Strips()
	return strips[0].Date, strips[len(strips)-1].Date
}

// String tells how many control strips there are, and of when.
func (c Control) String() string {
	first, last := c.Dates()
	text := fmt.Sprintf("%s: %s, %s", c.File, printable.Counted(len(c.Log.Strips()), "strip"), first)
	if last != first {
		text += " to " + last
	}
	if m := c.Log.Minutes(); m != 0 {
		text += ", developed " + m.Clock(1)
	}
	if t := c.Log.Title(); t != "" {
		text += "; " + t
	}
	return text
}

// second is one in minutes.
const second = 1. / 60
