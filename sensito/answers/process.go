package answers

import (
	"fmt"

	"sensito/sensito"
	"sensito/sensito/control"
)

// Departed says that a process is out of control, and since when: "The tank of Brinewater has
// been out of control since 16 April (first signal 30 April)". The file stands for a log that
// does not name its developer. The charts must signal.
func Departed(c *control.Evaluation, file string) string {
	name := "The process of " + file
	if developer, _ := c.Log.Developer(); developer != "" {
		name = "The tank of " + developer
	}
	if !lasting(c) {
		return fmt.Sprintf("%s signalled on %s, and no lasting change is proven", name, Date(c, c.First.Index))
	}
	return name + " has been out of control " + since(c)
}

// Process is Departed with what that means for the time of a film: "…: about 23 % longer
// for the same contrast". The log is evaluated with the family of the film.
func Process(c *control.Evaluation, file string) string {
	text := Departed(c, file)
	if !lasting(c) {
		return text
	}
	switch p := c.TimePercent; {
	case p == nil:
		return text + "; what that means in time the log does not tell"
	case direction(p) > 0:
		return text + fmt.Sprintf(": about %.0f %% longer for the same contrast", p.Value)
	case direction(p) < 0:
		return text + fmt.Sprintf(": about %.0f %% shorter for the same contrast", -p.Value)
	}
	return text + "; that it changes the time is not proven"
}

// since says since when a process is out of control, and when that was signalled first. The
// change must last.
func since(c *control.Evaluation) string {
	change, signal := firstChange(c)
	if change.Since == signal {
		return fmt.Sprintf("since %s (signalled the same day)", Date(c, signal))
	}
	return fmt.Sprintf("since %s (first signal %s)", Date(c, change.Since), Date(c, signal))
}

// LeftOn returns the date since which a process is out of control, YYYY-MM-DD, as
// Departed tells it; "" where no lasting change is proven.
func LeftOn(c *control.Evaluation) string {
	change := left(c)
	if change == nil {
		return ""
	}
	return c.Log.Strips()[change.Since-1].Date
}

// MovesTime says whether the change of a process lasts and surely asks for another time.
func MovesTime(c *control.Evaluation) bool {
	return lasting(c) && c.TimePercent != nil && direction(c.TimePercent) != 0
}

// left returns the change by which a process has left its aim, nil where none lasts: a single
// strip may be at fault itself, and two in a row are taken as real (NAVEDTRA 14208, chapter 2).
func left(c *control.Evaluation) *control.Level {
	change, _ := firstChange(c)
	if change == nil || change.Since == len(c.Log.Strips()) {
		return nil
	}
	return change
}

// lasting says whether a chart that signals shows a level that is surely another.
func lasting(c *control.Evaluation) bool {
	return LeftOn(c) != ""
}

// direction returns 1 or -1 where an estimate is surely above or below zero, at 95 %, and 0
// otherwise.
func direction(e *sensito.Estimate[float64]) int {
	switch low, high := e.Interval(0.95); {
	case low > 0:
		return 1
	case high < 0:
		return -1
	}
	return 0
}
