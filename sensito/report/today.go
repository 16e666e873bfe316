package report

import (
	"fmt"
	"strings"

	"sensito/sensito"
	"sensito/sensito/scene"
)

// told is what a report tells of today beside its result, at its level of confidence.
type told struct {
	level      float64
	conditions *Conditions // nil under those of the trial
	today      *Today      // nil without a control log
	warnings   sensito.Warnings
}

// tell returns what today makes of a trial's times and speeds, nil for as in the trial,
// with the warnings of the result and those of the control log.
func tell(a *scene.Adjustment, level float64, own sensito.Warnings) told {
	t := told{level: level, warnings: join(own, nil)}
	if a.Under() != nil {
		t.conditions = &Conditions{a.Change, level}
	}
	if a == nil || a.Drift == nil {
		return t
	}
	t.today = &Today{Adjustment: a, level: level}
	for _, w := range a.Drift.Warnings {
		w.Code = "control_" + w.Code
		t.warnings = append(t.warnings, w.Within("control log"))
	}
	return t
}

// Notices returns the warnings, which no table has room for.
func (t told) Notices() sensito.Warnings { return t.warnings }

// adjusts reports whether times are other than those of the trial.
func (t told) adjusts() bool {
	return t.conditions != nil || t.today != nil && t.today.Corrects()
}

// Today is how far the process of today is from that of a trial, by a control log; nil
// without one.
type Today struct {
	*scene.Adjustment
	level           float64
	whose, whatElse string
}

// AppendJSON appends what the log tells. What cannot be told is null, and so are the
// dates in control.
func (t *Today) AppendJSON(out []byte) ([]byte, error) {
	if t == nil {
		return object(nil).AppendJSON(out)
	}
	d := t.Drift
	return object{
		{"log", d.Control.Log.Title()}, {"as_of", d.AsOf}, // the last control strip
		{"in_control", d.InControl}, {"first_signal", words(d.FirstSignal)}, {"since", words(d.Since)},
		{"time_percent", quantity(d.TimePercent, t.level, unitPercent)},
		{"speed_stops", quantity(d.SpeedStops, t.level, unitStops)},                    // at the corrected time
		{"speed_unchanged_time_stops", quantity(d.SpeedUnchanged, t.level, unitStops)}, // at the trial's time
		{"fog", quantity(d.Fog, t.level, unitOne)},                                     // at the corrected time
		{"corrected", t.Corrects()},
	}.AppendJSON(out)
}

// Uncorrected is what time and index are less the correction by a control log, under
// the conditions of today; nil without one.
type Uncorrected struct {
	minutes, speed *Quantity // speed, or exposure index
}

// AppendJSON appends both.
func (u *Uncorrected) AppendJSON(out []byte) ([]byte, error) {
	if u == nil {
		return object(nil).AppendJSON(out)
	}
	return object{{"minutes", u.minutes}, {"speed", u.speed}}.AppendJSON(out)
}

// join returns the warnings of a report and of its control log.
func join(own, more sensito.Warnings) sensito.Warnings {
	return append(append(sensito.Warnings{}, own...), more...)
}

// asTested returns the time of the answer as tested, nil under the conditions of the
// trial and for no answer.
func asTested(p *scene.Answer, level float64) *Quantity {
	if p == nil || p.AsTested == nil {
		return nil
	}
	return quantity(&p.AsTested.Minutes, level, unitMinutes)
}

// uncorrectedAnswer returns what an answer says less the correction by a control log,
// nil without one and for no answer.
func uncorrectedAnswer(p *scene.Answer, level float64) *Uncorrected {
	if p == nil || p.Uncorrected == nil {
		return nil
	}
	index := p.Uncorrected.ExposureIndex
	if p.AtIndex != nil { // which is given
		index = nil
	}
	return uncorrected(&p.Uncorrected.Minutes, index, level)
}

func uncorrected(m *sensito.Estimate[sensito.Minutes], s *sensito.Estimate[sensito.Speed], level float64) *Uncorrected {
	return &Uncorrected{quantity(m, level, unitMinutes), quantity(s, level, unitOne)}
}

// answers returns both in words, "" for nil. The speed has the name
// that it has in the report.
func (u *Uncorrected) answers(speed string) string {
	if u == nil {
		return ""
	}
	var parts []string
	if m := u.minutes; m != nil {
		parts = append(parts, clock(m.Value, 5)+" ("+m.String()+" min)")
	}
	if s := u.speed; s != nil {
		parts = append(parts, speed+" "+s.String())
	}
	return strings.Join(parts, ", ")
}

// write tells of the process of today; was is what there is uncorrected where
// that is corrected. Nil writes nothing.
func (t *Today) write(w *writer, was string) {
	if t == nil {
		return
	}
	w.Printf("\n")
	w.Paragraph("", "", t.text(was, " (--correct does)"))
}

// text is that; does is how the interface corrects.
func (t *Today) text(was, does string) string {
	d := t.Drift
	text := fmt.Sprintf("The process%s on %s, the last strip of the control log (%s): ", t.whose, d.AsOf, d.Control.Log.Title())
	if d.InControl {
		return text + "in control, none of its charts gives a signal; nothing is corrected."
	}
	if text += "out of control"; d.Since < d.FirstSignal { // dates of this form sort as text
		text += fmt.Sprintf(" since %s (first signal %s).", d.Since, d.FirstSignal)
	} else {
		text += ". First signal: " + d.FirstSignal + "."
	}
	if s := quantity(d.SpeedUnchanged, t.level, unitStops); s != nil {
		text += fmt.Sprintf(" If the time is left as it is, speed changes by %s stops.", withSign(s))
	}
	if p := quantity(d.TimePercent, t.level, unitPercent); p != nil {
		text += fmt.Sprintf(" For the contrast of the trial time changes by %s %%", withSign(p))
		if s := quantity(d.SpeedStops, t.level, unitStops); s != nil {
			text += fmt.Sprintf(", and speed then by %s stops", withSign(s))
		}
		text += "."
	}
	switch {
	case !t.Corrects() && d.Correctable() == nil:
		text += " Nothing is corrected for it" + does + "."
	case !t.Corrects():
		text += " Nothing is corrected for it: the log does not tell by how much."
	case d.SpeedStops == nil: // corrected in time alone
		text += " Times are corrected for it, speeds are not"
	default:
		text += " Times and speeds are corrected for it, as though the trial's strips had been developed where the log has its centre"
	}
	if t.Corrects() {
		text += t.whatElse + "; this holds for the bath of the log."
		if was != "" {
			text += " Uncorrected: " + was + "."
		}
	}
	return text
}
