package answers

import (
	"cmp"
	"fmt"
	"time"

	"sensito/sensito/control"
	"sensito/sensito/control/chart"
	"sensito/sensito/printable"
)

// Control says since when the process is out of control, or that it is in control.
func Control(c *control.Evaluation) string {
	strips := c.Log.Strips()
	s := c.First
	if s == nil {
		if from := c.RunFrom(); from > 1 {
			return fmt.Sprintf("In control since the fresh start of %s: no chart signals in %s", Date(c, from), printable.Counted(len(strips)-from+1, "strip"))
		}
		return "In control: no chart signals in " + printable.Counted(len(strips), "strip")
	}
	lv, signal := firstChange(c)
	if lv == nil {
		return fmt.Sprintf("%s signalled on %s; no lasting change is proven", controlNoun(s.Quantity), Date(c, s.Index))
	}
	noun := controlNoun(lv.Quantity)
	verb := map[bool]string{true: "rose", false: "fell"}[lv.Direction() > 0]
	if lv.Shape == control.ChangeDrift {
		verb = map[bool]string{true: "began to rise", false: "began to fall"}[lv.Direction() > 0]
	}
	if !lasting(c) {
		return fmt.Sprintf("%s %s on %s, in the last strip alone", noun, verb, Date(c, signal))
	}
	return fmt.Sprintf("Out of control %s: %s %s", since(c), lower(noun), verb)
}

// firstChange returns the lasting change that was signalled first, and the strip of
// that signal; nil where none is proven.
func firstChange(c *control.Evaluation) (change *control.Level, signal int) {
	for i, lv := range c.Levels {
		if lv.Direction() == 0 {
			continue
		}
		if at := FirstSignal(c, lv); at > 0 && (change == nil || at < signal) {
			change, signal = &c.Levels[i], at
		}
	}
	return change, signal
}

// FirstSignal returns the strip of the present run that first signals a change, from
// its onset on, moving ranges aside; 0 where none does.
func FirstSignal(c *control.Evaluation, lv control.Level) int {
	first := 0
	for _, ch := range c.Charts {
		for _, s := range ch.Signals {
			if ch.Quantity == lv.Quantity && ch.Kind != chart.KindMovingRange && s.Index >= max(c.RunFrom(), lv.Since) && (first == 0 || s.Index < first) {
				first = s.Index
			}
		}
	}
	return first
}

// Date returns the date of a strip, counting from 1, with the year where
// the log is of several.
func Date(c *control.Evaluation, strip int) string {
	if years(c) {
		return Day(c, strip).Format(dateInYear)
	}
	return Day(c, strip).Format(dateAlone)
}

const dateAlone, dateInYear = "2 January", "2 January 2006"

// Day returns the day of a strip, counting from 1.
func Day(c *control.Evaluation, strip int) time.Time {
	t, _ := time.Parse(time.DateOnly, c.Log.Strips()[strip-1].Date) // checked by the log
	return t
}

// years says whether the log is of several years.
func years(c *control.Evaluation) bool {
	return Day(c, 1).Year() != Day(c, len(c.Log.Strips())).Year()
}

// controlNoun names what a quantity tells, for the answer; the low density falls
// with contrast as well, so it is not called speed.
func controlNoun(quantity string) string {
	return cmp.Or(map[string]string{control.QuantityBaseFog: "Base plus fog", control.QuantityLow: "Low density",
		control.QuantityDifference: "Contrast"}[quantity], "Patch "+quantity)
}
