package figure

import (
	"strings"

	"sensito/plot/internal/parts"
	"sensito/sensito"
	"sensito/sensito/scene"
)

// OfToday says in a few words for what process a time is that is not as in the
// trial, "" for one that is.
func OfToday(a *scene.Adjustment) string {
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

// Uncorrected says that the process is out of control and that no time is
// corrected for it, "" where that is not so.
func Uncorrected(a *scene.Adjustment) string {
	if a == nil || a.Drift == nil || a.Drift.InControl || a.Correct {
		return ""
	}
	return "The process of " + a.Drift.AsOf + " is out of control, and nothing is corrected for it."
}

// Outside says of a time of today that the trial's, from which it comes, lies
// outside, as scene.OutsideOf says.
func Outside(a *scene.Adjustment, outside string) string {
	if OfToday(a) != "" {
		return "as tested " + outside
	}
	return outside
}

// Behind returns lines of a subtitle that say what was tested behind an answer of
// today, and whether that lies outside the tested times; "" where there is nothing
// to say.
func Behind(a *scene.Adjustment, minutes sensito.Minutes, index *sensito.Estimate[sensito.Speed], outside string) string {
	text := ""
	if today := OfToday(a); today != "" {
		text = "\n" + today + "; as tested " + parts.Planned(minutes)
		if index != nil {
			text += " and EI " + parts.Fixed(float64(index.Value), 0)
		}
	}
	if outside != "" {
		text += "\n" + Outside(a, outside) + ": test a strip there before relying on it"
	}
	return text
}

// Marked returns the label of a time of the trial, with that of today, for the note
// that tells it may find no room.
func Marked(label, outside string, a *scene.Adjustment, today sensito.Minutes) string {
	if OfToday(a) != "" {
		label += ", as tested (today " + parts.Planned(today) + ")"
	}
	if outside != "" {
		label += ", " + outside
	}
	return label
}
