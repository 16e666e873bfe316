package screen

import (
	"cmp"
	"fmt"
	"strings"
	"time"

	"sensito/sensito"
	"sensito/sensito/answers"
	"sensito/sensito/listing"
	"sensito/sensito/printable"
)

// conditions returns those of a trial as a sentence or two: what was developed how and
// when, by the dates of its strips, and how it was exposed and read.
func conditions(t *sensito.Trial, dates [2]string) string {
	text := developed(t)
	if dates[0] != "" {
		text += ", developed " + span(dates[0], dates[1])
	}
	text += fmt.Sprintf(": %s of %s, %s.", counted(len(t.Strips()), "strip"), counted(t.Exposures().Len(), "step"), exposed(t))
	if how := t.HowRead(); how != "" {
		text += " " + capital(how) + "."
	}
	return printable.Text(text)
}

// Begun returns what is said of a trial before it has a strip.
func Begun(t *sensito.Trial) string {
	return printable.Text(fmt.Sprintf("%s: %s, %s.", developed(t), counted(t.Exposures().Len(), "step"), exposed(t)))
}

// developed says what was developed in what, and how.
func developed(t *sensito.Trial) string {
	f, p := t.Film(), t.Process()
	text := f.Name
	var more []string
	if f.Batch != "" {
		more = append(more, "batch "+f.Batch)
	}
	if f.Format != "" {
		more = append(more, f.Format)
	}
	if len(more) > 0 {
		text += " (" + strings.Join(more, ", ") + ")"
	}
	if d := strings.TrimSpace(p.Developer + " " + p.Dilution); d != "" {
		text += " in " + d
	}
	if p.TemperatureC != 0 {
		text += " at " + strings.Replace(sensito.Celsius(p.TemperatureC), " ", space, 1)
	}
	if p.Agitation != sensito.AgitationUnstated {
		text += ", " + p.Agitation.Named()
	}
	return text
}

// span returns the days from one to another, which are written as YYYY-MM-DD: "on 3 March
// 2026", or "from 2 to 4 March 2026".
func span(first, last string) string {
	a, errA := time.Parse(time.DateOnly, first)
	b, errB := time.Parse(time.DateOnly, last)
	switch {
	case errA != nil || errB != nil || first == last:
		return "on " + answers.DateOf(first)
	case a.Year() == b.Year() && a.Month() == b.Month():
		return fmt.Sprintf("from %d to %s", a.Day(), answers.DateOf(last))
	case a.Year() == b.Year():
		return "from " + a.Format("2 January") + " to " + answers.DateOf(last)
	}
	return "from " + answers.DateOf(first) + " to " + answers.DateOf(last)
}

// exposed says how the steps were exposed.
func exposed(t *sensito.Trial) string {
	e := t.Exposures()
	switch e.Kind() {
	case sensito.Contact:
		return fmt.Sprintf("exposed in contact at %s\u00a0lux for %s", plain(e.IlluminanceLx()), strings.Replace(e.Seconds().String(), " ", space, 1))
	case sensito.Camera:
		return "exposed in the camera at an index of " + speed(e.MeterIndex())
	}
	text := "exposed alike by a light that is not known"
	if f := e.Frame(); f != nil {
		text += ", tied down by a frame in the camera at an index of " + speed(f.Index)
	}
	return text
}

// stripNames tell the strips of a trial apart, in their order: by time or grade, and by
// number too where several are alike.
func stripNames(strips []listing.Strip) []string {
	var out []string
	count := map[string]int{}
	for _, s := range strips {
		name := cmp.Or(s.Grade(), s.Minutes().Clock(1))
		if s.Grade() == "" && s.Minutes() == 0 {
			name = ""
		}
		out = append(out, name)
		count[name]++
	}
	for i, name := range out {
		switch {
		case name == "":
			out[i] = fmt.Sprintf("strip %d", strips[i].Number())
		case count[name] > 1:
			out[i] = fmt.Sprintf("%s, strip %d", name, strips[i].Number())
		}
		out[i] = printable.Text(out[i])
	}
	return out
}
