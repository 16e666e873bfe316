package answers

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"sensito/plot/internal/parts"
	"sensito/sensito"
	"sensito/sensito/control"
	"sensito/sensito/control/chart"
	"sensito/sensito/printable"
)

// Control says since when the process has left its aim, or that it has not.
func Control(c *control.Evaluation) string {
	strips := c.Log.Strips()
	s := c.First
	if s == nil {
		if from := c.RunFrom(); from > 1 {
			return fmt.Sprintf("In control since the fresh start of %s: no chart speaks in %s", controlDate(c, from), printable.Counted(len(strips)-from+1, "strip"))
		}
		return "In control: no chart speaks in " + printable.Counted(len(strips), "strip")
	}
	lv, signal := firstChange(c)
	if lv == nil {
		return fmt.Sprintf("%s signalled on %s; no lasting change is proven", controlNoun(s.Quantity), controlDate(c, s.Index))
	}
	noun, on := controlNoun(lv.Quantity), controlDate(c, signal)
	verb := map[bool]string{true: "rose", false: "fell"}[lv.Direction() > 0]
	if lv.Shape == control.ChangeDrift {
		verb = map[bool]string{true: "began to rise", false: "began to fall"}[lv.Direction() > 0]
	}
	if lv.Since == signal {
		return fmt.Sprintf("%s %s on %s, seen at once", noun, verb, on)
	}
	return fmt.Sprintf("%s %s on %s; first signal on %s", noun, verb, controlDate(c, lv.Since), on)
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

// ControlState tells in a row's name where its quantity is.
func ControlState(c *control.Evaluation, quantity string) string {
	lv := LevelOf(c, quantity)
	if lv.Shape == control.ChangeNone {
		return ": in control"
	}
	text := ": " + parts.Signed(lv.Change.Value, 3) + " since " + controlDate(c, lv.Since)
	if lv.Shape == control.ChangeDrift {
		text += ", drifting"
	}
	return text
}

func LevelOf(c *control.Evaluation, quantity string) control.Level {
	return c.Levels[slices.IndexFunc(c.Levels, func(l control.Level) bool { return l.Quantity == quantity })]
}

// controlDate returns the date of a strip, counting from 1, with the year where
// the log is of several.
func controlDate(c *control.Evaluation, strip int) string {
	if years(c) {
		return dateOf(c, strip).Format(dateInYear)
	}
	return dateOf(c, strip).Format(dateAlone)
}

const dateAlone, dateInYear = "2 January", "2 January 2006"

func dateOf(c *control.Evaluation, strip int) time.Time {
	t, _ := time.Parse(time.DateOnly, c.Log.Strips()[strip-1].Date) // checked by the log
	return t
}

// years says whether the log is of several years.
func years(c *control.Evaluation) bool {
	return dateOf(c, 1).Year() != dateOf(c, len(c.Log.Strips())).Year()
}

// ControlConditions are the log, its verdict, and what a change means.
func ControlConditions(c *control.Evaluation, level float64) string {
	text := controlVerdict(c)
	if title := c.Log.Title(); title != "" {
		text = title + ": " + text
	}
	between := func(e *sensito.Estimate[float64], places int) string {
		low, high := e.Interval(level)
		return fmt.Sprintf("%s (%s to %s)", parts.Signed(e.Value, places), parts.Signed(low, places), parts.Signed(high, places))
	}
	if c.First != nil && c.SpeedStops != nil {
		text += "; speed " + between(c.SpeedStops, 2) + " stops"
	}
	if c.First != nil && c.TimePercent != nil {
		text += "; " + between(c.TimePercent, 0) + " % of time would restore the contrast"
	}
	return text
}

// controlVerdict tells the strips and the first signal.
func controlVerdict(c *control.Evaluation) string {
	n, s := len(c.Log.Strips()), c.First
	count, dates := printable.Counted(n, "strip"), dateOf(c, n).Format(dateInYear)
	if n > 1 {
		dates = controlDate(c, 1) + " to " + dates
	}
	if s == nil {
		return fmt.Sprintf("%s, %s: no chart speaks", count, dates)
	}
	return fmt.Sprintf("%s; first signal on %s, strip %d, %s of the %s", count, controlDate(c, s.Index), s.Index, ChartName(s.Kind), QuantityName(s.Quantity))
}

func ChartName(kind chart.Kind) string {
	return cmp.Or(map[chart.Kind]string{chart.KindIndividuals: "single strips", chart.KindMovingRange: "moving ranges", chart.KindEWMA: "EWMA"}[kind], "CUSUM")
}

// QuantityName names what is charted.
func QuantityName(quantity string) string {
	return cmp.Or(map[string]string{control.QuantityBaseFog: "base plus fog", control.QuantityLow: "low density",
		control.QuantityDifference: "density difference"}[quantity], "patch "+quantity)
}

// controlNoun names what a quantity tells, for the answer; the low density falls
// with contrast as well, so it is not called speed.
func controlNoun(quantity string) string {
	return cmp.Or(map[string]string{control.QuantityBaseFog: "Base plus fog", control.QuantityLow: "Low density",
		control.QuantityDifference: "Contrast"}[quantity], "Patch "+quantity)
}

// RowName names a row.
func RowName(quantity string) string {
	return cmp.Or(map[string]string{control.QuantityBaseFog: "Fog (base plus fog)", control.QuantityLow: "Speed (low density)",
		control.QuantityDifference: "Contrast (density difference)"}[quantity], "Patch "+quantity)
}

// SignalName is what is written at a signal.
func SignalName(kind chart.Kind, rule string) string {
	if set, ok := strings.CutPrefix(rule, "western_electric_"); ok {
		return "Western Electric " + set
	}
	if set, ok := strings.CutPrefix(rule, "nelson_"); ok {
		return "Nelson " + set
	}
	switch kind {
	case chart.KindCUSUM:
		return fmt.Sprintf("beyond ±%d", chart.CUSUMInterval)
	case chart.KindEWMA:
		return "EWMA beyond"
	}
	return "beyond the limit"
}

// ControlLegend says what the marks of the charts are, and the wash if there is one.
func ControlLegend(kinds map[chart.Kind]bool, wash bool) string {
	var text []string
	for _, part := range []struct {
		drawn bool
		text  string
	}{
		{kinds[chart.KindIndividuals], "Ring: a strip, filled where a rule speaks; light band: its limits."},
		{kinds[chart.KindEWMA], "Line: EWMA, the exponentially weighted moving average, with dots where it speaks; broken: its limits."},
		{wash, "Dark wash: from the onset of a change to its first signal."},
		{kinds[chart.KindCUSUM], fmt.Sprintf("CUSUM, cumulative sums: rising and, broken, falling ones, in standard deviations (sd); limits ±%d.", chart.CUSUMInterval)},
	} {
		if part.drawn {
			text = append(text, part.text)
		}
	}
	return strings.Join(text, " ")
}
