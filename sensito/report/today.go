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
	correctable     bool
	indexKept       bool // corrected in time alone
	whose, whatElse string
}

// Uncorrected is what time and index are less the correction by a control log, under
// the conditions of today.
type Uncorrected struct {
	Minutes *Quantity `json:"minutes"`
	Speed   *Quantity `json:"speed"` // or exposure index
}

// adjusted reports what today makes of a trial's times and speeds, with the
// warnings to add to a report's; all nil for as in the trial.
func adjusted(a *scene.Adjustment, level float64) (*Conditions, *Today, sensito.Warnings) {
	if a == nil {
		return nil, nil, nil
	}
	var c *Conditions
	if a.Change != nil {
		c = newConditions(a.Change, level)
	}
	g := a.Drift
	if g == nil {
		return c, nil, nil
	}
	t := &Today{Log: g.Control.Log.Title(), AsOf: g.AsOf, InControl: g.InControl,
		TimePercent:    quantity(g.TimePercent, level, unitPercent),
		SpeedStops:     quantity(g.SpeedStops, level, unitStops),
		SpeedUnchanged: quantity(g.SpeedUnchanged, level, unitStops),
		Fog:            quantity(g.Fog, level, unitOne),
		Corrected:      a.Corrects(), correctable: g.Correctable() == nil}
	t.indexKept = t.Corrected && g.SpeedStops == nil
	if !g.InControl {
		t.FirstSignal, t.Since = &g.FirstSignal, &g.Since
	}
	var out sensito.Warnings
	for _, w := range g.Warnings {
		w.Code = "control_" + w.Code
		out = append(out, w.Within("control log"))
	}
	return c, t, out
}

// join returns the warnings of a report and of its control log.
func join(own, more sensito.Warnings) sensito.Warnings {
	return append(append(sensito.Warnings{}, own...), more...)
}

// asTested returns the time of the answer as tested, nil under the conditions of the
// trial.
func asTested(p *scene.Answer, level float64) *Quantity {
	if p.AsTested == nil {
		return nil
	}
	return quantity(&p.AsTested.Minutes, level, unitMinutes)
}

// uncorrectedAnswer returns what an answer says less the correction by a control log,
// nil without one.
func uncorrectedAnswer(p *scene.Answer, level float64) *Uncorrected {
	if p.Uncorrected == nil {
		return nil
	}
	index := p.Uncorrected.ExposureIndex
	if p.AtIndex != nil { // which is given
		index = nil
	}
	return uncorrected(&p.Uncorrected.Minutes, index, level)
}

func uncorrected(m *sensito.Estimate[sensito.Minutes], s *sensito.Estimate[sensito.Speed], level float64) *Uncorrected {
	return &Uncorrected{Minutes: quantity(m, level, unitMinutes), Speed: quantity(s, level, unitOne)}
}

// answers returns both in words, "" for nil. The speed has the name
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
	text := fmt.Sprintf("The process%s on %s, the last strip of the control log (%s): ", t.whose, t.AsOf, t.Log)
	if t.InControl {
		return text + "in control, none of its charts gives a signal; nothing is corrected."
	}
	if text += "out of control"; *t.Since < *t.FirstSignal { // dates of this form sort as text
		text += fmt.Sprintf(" since %s (first signal %s).", *t.Since, *t.FirstSignal)
	} else {
		text += ". First signal: " + *t.FirstSignal + "."
	}
	if s := t.SpeedUnchanged; s != nil {
		text += fmt.Sprintf(" If the time is left as it is, speed changes by %s stops.", withSign(s))
	}
	if p := t.TimePercent; p != nil {
		text += fmt.Sprintf(" For the contrast of the trial time changes by %s %%", withSign(p))
		if s := t.SpeedStops; s != nil {
			text += fmt.Sprintf(", and speed then by %s stops", withSign(s))
		}
		text += "."
	}
	switch {
	case !t.Corrected && t.correctable:
		text += " Nothing is corrected for it" + does + "."
	case !t.Corrected:
		text += " Nothing is corrected for it: the log does not tell by how much."
	case t.indexKept:
		text += " Times are corrected for it, speeds are not"
	default:
		text += " Times and speeds are corrected for it, as though the trial's strips had been developed where the log has its centre"
	}
	if t.Corrected {
		text += t.whatElse + "; this holds for the bath of the log."
		if was != "" {
			text += " Uncorrected: " + was + "."
		}
	}
	return text
}
