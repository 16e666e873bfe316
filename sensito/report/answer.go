package report

import (
	"fmt"
	"math"

	"sensito/sensito/report/internal/page"
)

// answerOf is the answer to a question of development in one or two sentences: how
// long, under which conditions, how sure, and what the meter is set to.
func answerOf(minutes, index *Quantity, level float64, conditions *Conditions, outside string) string {
	text := developText(minutes, level, conditions, outside)
	if index == nil {
		return text + "."
	}
	return text + ". " + meterText(index) + "."
}

// developText is "Develop 5:55 (95 % sure: 5:50 to 6:05)", with the conditions where
// they are not the trial's.
func developText(m *Quantity, level float64, c *Conditions, outside string) string {
	text := "Develop " + clock(m.Value, 5)
	if m.atLeast {
		text += " or longer"
	}
	if place := c.place(); place != "" {
		text += " " + place
	}
	if outside != "" {
		text += ", " + outside
	}
	return text + " (" + page.Percent(level) + " sure: " + timeInterval(m) + ")"
}

// timeInterval is the interval of a time, which may be open above.
func timeInterval(m *Quantity) string {
	if math.IsInf(m.High, 1) {
		return clock(m.Low, 5) + " or longer"
	}
	return clock(m.Low, 5) + " to " + clock(m.High, 5)
}

// meterText is "Set the meter to 80 (EI 78, 70 to 86)".
func meterText(e *Quantity) string {
	return fmt.Sprintf("Set the meter to %s (EI %s, %s to %s)", page.Setting(e.Value), page.Figures(e.Value), page.Figures(e.Low), page.Figures(e.High))
}
