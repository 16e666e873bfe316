package report

import (
	"fmt"
	"io"
	"strings"

	"sensito/sensito"
	"sensito/sensito/development"
	"sensito/sensito/printable"
)

// Done is the report of a development that was logged.
type Done struct {
	Schema         string   `json:"schema"`
	Trial          string   `json:"trial"`
	File           string   `json:"file"`
	Date           string   `json:"date"`
	PlannedMinutes *float64 `json:"planned_minutes"` // null when there was no plan
	PlannedC       *float64 `json:"planned_c"`       // null when that of the trial
	Minutes        float64  `json:"minutes"`
	TemperatureC   *float64 `json:"temperature_c"`
	EndedC         *float64 `json:"ended_c"`
	Films          *string  `json:"films"`
	Note           string   `json:"note"`
	Logged         int      `json:"logged"` // developments in the log, this one included
}

// NewDone reports that a development was added to the log of a trial in a file,
// which then holds so many.
func NewDone(t *sensito.Trial, file string, d sensito.Done, logged int) *Done {
	return &Done{Schema: "sensito/done/1", Trial: name(t), File: file, Date: d.Date, PlannedMinutes: stated(float64(d.Planned)), PlannedC: stated(d.PlannedC), Minutes: float64(d.Minutes),
		TemperatureC: stated(d.TemperatureC), EndedC: stated(d.EndedC), Films: words(sensito.FilmList(d.Films)), Note: d.Note, Logged: logged}
}

// Text writes what was logged.
func (r *Done) Text(out io.Writer, l Layout) error {
	w := newWriter(out, l)
	text := fmt.Sprintf("Logged in %s: %s, developed for %s", r.File, r.Date, clock(r.Minutes, 1))
	if p := r.PlannedMinutes; p != nil {
		text += ", planned " + clock(*p, 1)
	}
	if t := r.TemperatureC; t != nil {
		text += ", at " + degrees(*t)
	}
	if t := r.EndedC; t != nil {
		text += ", at the end " + degrees(*t)
	}
	if r.Films != nil {
		text += ", " + *r.Films
	}
	w.paragraph("", "  ", text+fmt.Sprintf(". %s in the log.", printable.Counted(r.Logged, "development")))
	return w.err
}

// Logged is the developments that a trial's log tells of.
type Logged struct {
	Developments int          `json:"developments"`
	MinMinutes   float64      `json:"least_minutes"`
	MaxMinutes   float64      `json:"most_minutes"`
	Outside      []LoggedDone `json:"outside_tested"` // at the temperature of the trial
}

// LoggedDone names a development of a log.
type LoggedDone struct {
	Date    string  `json:"date"`
	Minutes float64 `json:"minutes"`
}

func newLogged(l *development.Logged) *Logged {
	if l == nil {
		return nil
	}
	out := &Logged{Developments: l.Count, MinMinutes: float64(l.Min), MaxMinutes: float64(l.Max), Outside: []LoggedDone{}}
	for _, d := range l.Outside {
		out.Outside = append(out.Outside, LoggedDone{d.Date, float64(d.Minutes)})
	}
	return out
}

// write tells of the log. Nil writes nothing.
func (l *Logged) write(w *writer) {
	if l == nil {
		return
	}
	text := fmt.Sprintf("Logged: %s, %s", printable.Counted(l.Developments, "development"), clock(l.MinMinutes, 1))
	if l.MaxMinutes != l.MinMinutes {
		text += " to " + clock(l.MaxMinutes, 1)
	}
	if len(l.Outside) == 0 {
		w.paragraph("", "", text+", within the tested times.")
		return
	}
	var outside []string
	for _, d := range l.Outside {
		outside = append(outside, d.Date+" "+clock(d.Minutes, 1))
	}
	w.paragraph("", "", text+"; outside the tested times: "+strings.Join(outside, ", ")+".")
}
