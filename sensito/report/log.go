package report

import (
	"cmp"
	"encoding/json"
	"fmt"
	"io"
	"slices"
	"strings"

	"sensito/sensito"
	"sensito/sensito/listing"
	"sensito/sensito/logbook"
	"sensito/sensito/printable"
	"sensito/sensito/report/internal/page"
)

// Log is the report of what was developed.
type Log struct {
	log    *logbook.Log
	broken []listing.Entry
}

// NewLog reports what was developed.
func NewLog(l *logbook.Log) *Log { return &Log{log: l} }

// MarshalJSON writes all that the log tells.
func (r *Log) MarshalJSON() ([]byte, error) {
	return json.Marshal(object{
		{"schema", "sensito/log/1"},
		{"last", objects(r.log.Latest(), func(d logbook.Latest) object { // of each film and developer
			if d.Strips == 0 {
				return append(logObject(d.Development), member{"strips", 0}, member{"least_minutes", nil}, member{"most_minutes", nil})
			}
			return append(logObject(d.Development), member{"strips", d.Strips}, member{"least_minutes", d.Least}, member{"most_minutes", d.Most})
		})},
		{"developments", objects(r.log.Developments, logObject)}, // newest first
		{"undated_strips", len(r.log.Undated)},
		{"control_logs", objects(r.log.Controls, func(c logbook.Control) object {
			first, last := c.Dates()
			return object{{"file", c.File}, {"log", c.Log.Title()}, {"strips", len(c.Log.Strips())}, {"first_date", first}, {"last_date", last}, {"minutes", stated(float64(c.Log.Minutes()))}}
		})},
		{"broken", objects(r.broken, faultListed)},
	})
}

// logObject is a development that was carried out. What is not stated is null.
func logObject(d logbook.Development) object {
	return object{
		{"date", d.Date}, {"film", d.Trial.Film().Name}, {"batch", words(d.Batch())},
		{"developer", words(d.Process.Developer)}, {"dilution", words(d.Process.Dilution)}, {"agitation", words(string(d.Process.Agitation))},
		{"minutes", stated(float64(d.Minutes))}, {"planned_minutes", stated(float64(d.Planned))},
		{"meant_c", stated(d.Process.TemperatureC)}, // planned, or that of the trial
		{"temperature_c", stated(d.TemperatureC)},   // at the start; of a strip as the trial states it
		{"ended_c", stated(d.EndedC)},
		{"exposure_index", stated(float64(d.Index))}, {"for", words(d.For)},
		{"films", words(sensito.FilmList(d.Films))}, {"area_cm2", stated(float64(d.Area()))}, {"baths", d.Baths},
		{"strip", stated(float64(d.Strip))}, // number of a test strip; null of films
		{"note", words(d.Note)}, {"trial", d.Trial.Name()}, {"file", d.File},
	}
}

// lastTime is the last time of a film and developer beside an answer; nil is null. It
// is told and not used.
func lastTime(l *logbook.Latest) object {
	if l == nil {
		return nil
	}
	all := logObject(l.Development)
	return slices.DeleteFunc(all, func(m member) bool {
		return slices.Contains([]string{"film", "batch", "trial", "file", "strip"}, m[0].(string))
	})
}

// lastTime tells it in a sentence. Nil writes nothing.
func (w *writer) lastTime(l *logbook.Latest) {
	if l != nil {
		w.Paragraph("", "", l.Sentence())
	}
}

// AddBroken adds a file that cannot be read, with the first of its faults.
func (r *Log) AddBroken(file string, err error) {
	r.broken = append(r.broken, listing.Entry{File: file, Err: err})
}

// Text writes the last time with each film and developer in a line, then all
// developments by film and developer, the newest first.
func (r *Log) Text(out io.Writer, l Layout) error {
	w := &writer{page.NewWriter(out, l)}
	if len(r.log.Developments) == 0 {
		w.Paragraph("", "", "No development is recorded. One is written down by: sensito sheet TRIAL --done --minutes TIME; the date of a test strip, developed = 2026-03-01, counts too.")
	}
	for _, d := range r.log.Latest() {
		w.Answer("%s: %s.", d.Pair(), d)
	}
	for _, g := range r.log.Groups() {
		w.logGroup(g)
	}
	if len(r.log.Controls) > 0 {
		w.Printf("\nControl strips\n\n")
	}
	for _, c := range r.log.Controls {
		w.Paragraph("  ", "    ", c.String())
	}
	if n := len(r.log.Undated); n > 0 {
		w.Printf("\n")
		w.Paragraph("", "  ", fmt.Sprintf("Left out: %s without the date of development.", printable.Counted(n, "test strip")))
	}
	for _, b := range r.broken {
		w.Paragraph("! ", "  ", "left out, cannot be read: "+firstFault(b.Err))
	}
	return w.Err
}

// logGroup writes the developments of a film in a developer.
func (w *writer) logGroup(g logbook.Group) {
	heading, mixed := g.Heading()
	rows := [][]string{{"date", "time", "", "temperature"}}
	planning := slices.ContainsFunc(g.Developments, func(d logbook.Development) bool { return d.Planned != 0 })
	if planning {
		rows[0][2] = "planned"
	}
	for _, d := range g.Developments {
		row := []string{d.Date, d.Minutes.Clock(1), "", cmp.Or(d.Temperature(), "-")}
		switch {
		case d.Planned != 0:
			row[2] = d.Planned.Clock(1)
		case planning:
			row[2] = "-"
		}
		rows = append(rows, row)
	}
	w.Printf("\n")
	w.Paragraph("", "  ", heading)
	w.Printf("\n")
	widths := page.ColumnWidths(rows)
	for i, row := range rows {
		line := " "
		for k, cell := range row {
			if widths[k] == 0 {
				continue
			}
			pad := strings.Repeat(" ", widths[k]-page.Width(cell))
			if k == 1 || k == 2 { // times
				line += " " + pad + cell + " "
			} else {
				line += " " + cell + pad + " "
			}
		}
		what := ""
		if i > 0 {
			what = g.Developments[i-1].What(mixed)
		}
		if what == "" {
			w.Printf("%s\n", strings.TrimRight(line, " "))
			continue
		}
		const least = 24 // columns that hold a word or two
		if pad := strings.Repeat(" ", page.Width(line)+1); w.Columns()-len(pad) >= least {
			w.Printf("%s%s", line, printable.Wrapped(w.Columns(), pad, pad, what)[page.Width(line):])
		} else {
			w.Printf("%s\n", strings.TrimRight(line, " "))
			w.Paragraph("      ", "      ", what)
		}
	}
}

// Table returns the developments, a row each, newest first.
func (r *Log) Table() (headings []string, rows [][]string) {
	for _, f := range logObject(logbook.Development{Trial: new(sensito.Trial)}) {
		headings = append(headings, f[0].(string))
	}
	for _, d := range r.log.Developments {
		var row []string
		for _, f := range logObject(d) {
			cell := ""
			switch v := f[1].(type) {
			case string:
				cell = v
			case *string:
				if v != nil {
					cell = *v
				}
			case []string:
				cell = strings.Join(v, "; ")
			case *float64:
				if v != nil {
					cell = allDigits(*v)
				}
			}
			row = append(row, cell)
		}
		rows = append(rows, row)
	}
	return headings, rows
}

// Notices returns none: the log has no warnings.
func (r *Log) Notices() sensito.Warnings { return sensito.Warnings{} }
