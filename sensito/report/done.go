package report

import (
	"encoding/json"
	"fmt"
	"io"
	"strings"

	"sensito/sensito"
	"sensito/sensito/development"
	"sensito/sensito/printable"
	"sensito/sensito/report/internal/page"
)

// Done is the report of a development that was logged.
type Done struct {
	trial  *sensito.Trial
	file   string
	done   sensito.Done
	logged int
}

// NewDone reports that a development was added to the log of a trial in a file,
// which then holds so many.
func NewDone(t *sensito.Trial, file string, d sensito.Done, logged int) *Done {
	return &Done{trial: t, file: file, done: d, logged: logged}
}

// MarshalJSON writes what was logged. What is not stated is null: a temperature that was
// planned, dilution and agitation are then those of the trial.
func (r *Done) MarshalJSON() ([]byte, error) {
	d := r.done
	return json.Marshal(object{
		{"schema", "sensito/done/1"}, {"trial", r.trial.Name()}, {"file", r.file}, {"date", d.Date},
		{"planned_minutes", stated(float64(d.Planned))}, {"planned_c", stated(d.PlannedC)},
		{"minutes", float64(d.Minutes)}, {"temperature_c", stated(d.TemperatureC)}, {"ended_c", stated(d.EndedC)},
		{"dilution", words(d.Dilution)}, {"agitation", words(string(d.Agitation))},
		{"exposure_index", stated(float64(d.Index))}, {"for", words(d.For)}, // what the time was for
		{"films", words(sensito.FilmList(d.Films))}, {"baths", d.Baths}, {"note", d.Note},
		{"logged", r.logged}, // developments in the log, this one included
	})
}

// Text writes what was logged.
func (r *Done) Text(out io.Writer, l Layout) error {
	w, d := &writer{page.NewWriter(out, l)}, r.done
	text := fmt.Sprintf("Logged in %s: %s, developed for %s", r.file, d.Date, d.Minutes.Clock(1))
	for _, part := range []struct {
		given bool
		text  string
	}{
		{d.Planned != 0, "planned " + d.Planned.Clock(1)}, {d.TemperatureC != 0, "at " + degrees(d.TemperatureC)}, {d.EndedC != 0, "at the end " + degrees(d.EndedC)},
		{d.Dilution != "", d.Dilution}, {d.Agitation != "", d.Agitation.Named()}, {d.Index != 0, "exposed at EI " + page.Figures(float64(d.Index))},
		{d.For != "", "for " + d.For}, {len(d.Films) > 0, sensito.FilmList(d.Films)},
	} {
		if part.given {
			text += ", " + part.text
		}
	}
	w.Paragraph("", "  ", text+fmt.Sprintf(". %s in the log.", printable.Counted(r.logged, "development")))
	return w.Err
}

// Logged is the developments that a trial's log tells of; nil is null.
type Logged development.Logged

// MarshalJSON writes how many there are, and which lie outside the tested times under
// the conditions of the trial.
func (l *Logged) MarshalJSON() ([]byte, error) {
	return json.Marshal(object{{"developments", l.Count}, {"least_minutes", l.Min}, {"most_minutes", l.Max},
		{"outside_tested", objects(l.Outside, func(d sensito.Done) object { return object{{"date", d.Date}, {"minutes", d.Minutes}} })}})
}

// write tells of the log. Nil writes nothing.
func (l *Logged) write(w *writer) {
	if l == nil {
		return
	}
	text := fmt.Sprintf("Logged: %s, %s", printable.Counted(l.Count, "development"), l.Min.Clock(1))
	if l.Max != l.Min {
		text += " to " + l.Max.Clock(1)
	}
	if len(l.Outside) == 0 {
		w.Paragraph("", "", text+", within the tested times.")
		return
	}
	var outside []string
	for _, d := range l.Outside {
		outside = append(outside, d.Date+" "+d.Minutes.Clock(1))
	}
	w.Paragraph("", "", text+"; outside the tested times: "+strings.Join(outside, ", ")+".")
}
