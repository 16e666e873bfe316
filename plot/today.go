package plot

import (
	"strings"

	"sensito/sensito"
	"sensito/sensito/scene"
)

// ofToday says in a few words for what process a time is that is not as in the
// trial, "" for one that is.
func ofToday(a *scene.Adjustment) string {
	if a == nil {
		return ""
	}
	var parts []string
	if ch := a.Change; ch != nil {
		c := ch.Conditions
		if t := c.TemperatureC; t != nil {
			text := sensito.Celsius(*t)
			if e := c.EndC; e != nil && *e != *t {
				text += " drifting to " + sensito.Celsius(*e)
			}
			parts = append(parts, text)
		}
		for _, factor := range ch.Parts() {
			parts = append(parts, factor.Condition)
		}
	}
	if a.Corrects() {
		parts = append(parts, "process of "+a.Drift.AsOf)
	}
	if len(parts) == 0 {
		return ""
	}
	return "today: " + strings.Join(parts, ", ")
}

// withToday returns lines of a note that begin with the time, with what it is
// for, and the time as tested, after it.
func withToday(n note, a *scene.Adjustment, tested sensito.Minutes) note {
	text := ofToday(a)
	if text == "" {
		return n
	}
	return append(note{n[0], text, "as tested " + planned(tested) + ", as drawn"}, n[1:]...)
}
