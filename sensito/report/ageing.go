package report

import (
	"fmt"
	"strings"

	"sensito/sensito"
	"sensito/sensito/scene"
)

// Today is how far the process of today is from that of a trial. What cannot be
// told is null, and so are the dates in control.
type Today struct {
	Log             string    `json:"log"`
	AsOf            string    `json:"as_of"` // the last control strip
	InControl       bool      `json:"in_control"`
	FirstSignal     *string   `json:"first_signal"`
	Since           *string   `json:"since"`
	TimePercent     *Quantity `json:"time_percent"`
	SpeedStops      *Quantity `json:"speed_stops"`                // at the corrected time
	SpeedUnchanged  *Quantity `json:"speed_unchanged_time_stops"` // at the trial's time
	Fog             *Quantity `json:"fog"`                        // at the corrected time
	Corrected       bool      `json:"corrected"`
	indexKept       bool      // corrected in time alone
	whose, whatElse string
}

// Uncorrected is what the trial itself says in place of what is corrected.
type Uncorrected struct {
	Minutes *Quantity `json:"minutes"`
	Speed   *Quantity `json:"speed"` // or exposure index
}

// newToday reports an ageing with the warnings to add to a report's.
func newToday(a *scene.Ageing, correct bool, level float64) (*Today, []sensito.Warning) {
	t := &Today{Log: a.Control.Log.Title(), AsOf: a.AsOf, InControl: a.InControl,
		TimePercent:    quantity(a.TimePercent, level, unitPercent),
		SpeedStops:     quantity(a.SpeedStops, level, unitStops),
		SpeedUnchanged: quantity(a.SpeedUnchanged, level, unitStops),
		Fog:            quantity(a.Fog, level, unitOne),
		Corrected:      correct && !a.InControl}
	t.indexKept = t.Corrected && a.SpeedStops == nil
	if !a.InControl {
		t.FirstSignal, t.Since = &a.FirstSignal, &a.Since
	}
	var out []sensito.Warning
	for _, w := range a.Warnings {
		out = append(out, sensito.Warning{Code: "control_" + w.Code, Message: "control log: " + w.Message})
	}
	return t, out
}

// join returns the warnings of a report and of its control log.
func join(own, more []sensito.Warning) []sensito.Warning {
	return append(append([]sensito.Warning{}, own...), more...)
}

// Aged adds the process of today to the report of a scene, whose plan is
// corrected when was, the plan of the trial itself, is not nil.
func (r *Scene) Aged(a *scene.Ageing, was *scene.Plan) {
	var more []sensito.Warning
	r.Today, more = newToday(a, was != nil, r.level)
	r.Warnings = join(r.Warnings, more)
	if r.Today.Corrected {
		r.Uncorrected = uncorrected(&was.Minutes, was.ExposureIndex, r.level)
	}
}

// Aged adds the process of today to the report of a reproduction; see
// Scene.Aged.
func (r *Reproduction) Aged(a *scene.Ageing, was *scene.Plan) {
	var more []sensito.Warning
	r.Today, more = newToday(a, was != nil, r.level)
	r.Warnings = join(r.Warnings, more)
	if r.Today.Corrected {
		r.Uncorrected = uncorrected(&was.Minutes, was.ExposureIndex, r.level)
	}
}

// Aged adds the process of today to the report of a roll; see Scene.Aged.
func (r *Roll) Aged(a *scene.Ageing, was *scene.Roll) {
	var more []sensito.Warning
	r.Today, more = newToday(a, was != nil, r.level)
	r.Warnings = join(r.Warnings, more)
	if r.Today.Corrected {
		r.Uncorrected = uncorrected(&was.Minutes, was.ExposureIndex, r.level)
	}
}

// Aged adds the process of today to the report of a sheet, whose time is
// corrected when was is not nil.
func (r *Sheet) Aged(a *scene.Ageing, was *scene.Uncorrected) {
	var more []sensito.Warning
	r.Today, more = newToday(a, was != nil, r.level)
	r.Warnings = join(r.Warnings, more)
	if r.Today.Corrected {
		r.Uncorrected = uncorrected(was.Minutes, was.Speed, r.level)
	}
}

// Aged adds the process of today to the report of a card; see Scene.Aged.
func (r *Card) Aged(a *scene.Ageing, was *scene.Card) {
	var more []sensito.Warning
	r.Today, more = newToday(a, was != nil, r.level)
	r.Warnings = join(r.Warnings, more)
	if !r.Today.Corrected {
		return
	}
	for i, row := range was.Rows {
		if p := row.Plan; p != nil {
			r.Rows[i].Uncorrected = uncorrected(&p.Minutes, p.ExposureIndex, r.level)
		}
	}
}

// Aged adds the process of today to the report of a family and, where wanted,
// corrects the ISO time and speed, and the marked time, whose plan of the trial
// itself is was; nil when none is marked.
func (r *Family) Aged(a *scene.Ageing, correct bool, was *scene.Plan) {
	var more []sensito.Warning
	r.Today, more = newToday(a, correct, r.level)
	r.Warnings = join(r.Warnings, more)
	r.Today.whatElse = "; the strips above are as they were measured"
	if !r.Today.Corrected {
		return
	}
	if f := r.family; f.ISOMinutes != nil {
		r.ISO = ISO{Minutes: quantity(a.Minutes(f.ISOMinutes), r.level, unitMinutes), Speed: quantity(a.Speed(f.ISOSpeed), r.level, unitOne),
			Uncorrected: uncorrected(f.ISOMinutes, f.ISOSpeed, r.level)}
	}
	if m := r.Marked; m != nil {
		m.Minutes, m.Uncorrected = quantity(a.Minutes(&was.Minutes), r.level, unitMinutes), uncorrected(&was.Minutes, nil, r.level)
	}
}

// Aged adds the process of today of the first trial to the report of a
// comparison.
func (r *Compare) Aged(a *scene.Ageing, correct bool) {
	var more []sensito.Warning
	r.Today, more = newToday(a, correct, r.Confidence)
	r.Warnings = join(r.Warnings, more)
	r.Today.whose = " of the first trial"
}

func uncorrected(m *sensito.Estimate[sensito.Minutes], s *sensito.Estimate[sensito.Speed], level float64) *Uncorrected {
	return &Uncorrected{Minutes: quantity(m, level, unitMinutes), Speed: quantity(s, level, unitOne)}
}

// answers returns what the trial itself says, "" for nil. The speed has the name
// that it has in the report.
func (u *Uncorrected) answers(speed string) string {
	if u == nil {
		return ""
	}
	var parts []string
	if m := u.Minutes; m != nil {
		parts = append(parts, clock(m.Value, 5)+" ("+m.String()+" min)")
	}
	if s := u.Speed; s != nil {
		parts = append(parts, speed+" "+s.String())
	}
	return strings.Join(parts, ", ")
}

// uncorrected returns what the trial itself says of the ISO and marked times.
func (r *Family) uncorrected() string {
	var parts []string
	if text := r.ISO.Uncorrected.answers("speed"); text != "" {
		parts = append(parts, "ISO 6 contrast at "+text)
	}
	if r.Marked != nil {
		if text := r.Marked.Uncorrected.answers("speed"); text != "" {
			parts = append(parts, "marked "+text)
		}
	}
	return strings.Join(parts, "; ")
}

// uncorrected returns the times and indices of the rows by the trial itself.
func (r *Card) uncorrected() string {
	var parts []string
	for _, row := range r.Rows {
		if u := row.Uncorrected; u != nil && u.Minutes != nil {
			text := developmentName(row.N) + " " + clock(u.Minutes.Value, 5)
			if u.Speed != nil {
				text += " at EI " + u.Speed.value()
			}
			parts = append(parts, text)
		}
	}
	return strings.Join(parts, "; ")
}

// write tells of the process of today; was is what the trial itself says where
// that is corrected. Nil writes nothing.
func (t *Today) write(w *writer, was string) {
	if t == nil {
		return
	}
	w.printf("\n")
	text := fmt.Sprintf("The process%s on %s, the last control strip: ", t.whose, t.AsOf)
	if t.InControl {
		w.paragraph("", "", text+"in control, no chart speaks; nothing is corrected.")
		return
	}
	text += "not where it was. First signal " + *t.FirstSignal
	if *t.Since < *t.FirstSignal { // dates of this form sort as text
		text += "; on its way since " + *t.Since
	}
	text += "."
	if s := t.SpeedUnchanged; s != nil {
		text += fmt.Sprintf(" Speed at an unchanged time: %s stops.", withSign(s))
	}
	if p := t.TimePercent; p != nil {
		text += fmt.Sprintf(" Time for the contrast of the trial: %s %%.", withSign(p))
	}
	if s := t.SpeedStops; s != nil {
		text += fmt.Sprintf(" Speed at that time: %s stops.", withSign(s))
	}
	switch {
	case !t.Corrected:
		text += " Nothing is corrected for it (--correct does)."
	case t.indexKept:
		text += " Times are corrected for it, speeds are not"
	default:
		text += " Times and speeds are corrected for it, by the log's centre as the process of the trial"
	}
	if t.Corrected {
		text += t.whatElse + "."
		if was != "" {
			text += " Uncorrected: " + was + "."
		}
	}
	w.paragraph("", "", text)
}
