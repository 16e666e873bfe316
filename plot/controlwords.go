package plot

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"sensito/plot/internal/parts"
	"sensito/sensito"
	"sensito/sensito/answers"
	"sensito/sensito/control"
	"sensito/sensito/control/chart"
	"sensito/sensito/printable"
)

// controlState tells in a row's name where its quantity is.
func controlState(c *control.Evaluation, quantity string) string {
	lv := levelOf(c, quantity)
	if lv.Shape == control.ChangeNone {
		return ": in control"
	}
	text := ": " + parts.Signed(lv.Change.Value, 3) + " since " + answers.Date(c, lv.Since)
	if lv.Shape == control.ChangeDrift {
		text += ", drifting"
	}
	return text
}

func levelOf(c *control.Evaluation, quantity string) control.Level {
	return c.Levels[slices.IndexFunc(c.Levels, func(l control.Level) bool { return l.Quantity == quantity })]
}

// controlConditions are the log, its verdict, and what a change means.
func controlConditions(c *control.Evaluation, level float64) string {
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
	count, dates := printable.Counted(n, "strip"), answers.Day(c, n).Format("2 January 2006")
	if n > 1 {
		dates = answers.Date(c, 1) + " to " + dates
	}
	if s == nil {
		return fmt.Sprintf("%s, %s: no chart signals", count, dates)
	}
	return fmt.Sprintf("%s; first signal on %s, strip %d, %s of the %s", count, answers.Date(c, s.Index), s.Index, chartName(s.Kind), quantityName(s.Quantity))
}

func chartName(kind chart.Kind) string {
	return cmp.Or(map[chart.Kind]string{chart.KindIndividuals: "single strips", chart.KindMovingRange: "moving ranges", chart.KindEWMA: "EWMA"}[kind], "CUSUM")
}

// quantityName names what is charted.
func quantityName(quantity string) string {
	return cmp.Or(map[string]string{control.QuantityBaseFog: "base plus fog", control.QuantityLow: "low density",
		control.QuantityDifference: "density difference"}[quantity], "patch "+quantity)
}

// controlRowName names a row.
func controlRowName(quantity string) string {
	return cmp.Or(map[string]string{control.QuantityBaseFog: "Fog (base plus fog)", control.QuantityLow: "Speed (low density)",
		control.QuantityDifference: "Contrast (density difference)"}[quantity], "Patch "+quantity)
}

// signalName is what is written at a signal.
func signalName(kind chart.Kind, rule string) string {
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

// controlLegend says what the marks of the charts are, and the wash and the flags if there
// are any.
func controlLegend(kinds map[chart.Kind]bool, wash, flags bool) string {
	var text []string
	for _, part := range []struct {
		drawn bool
		text  string
	}{
		{kinds[chart.KindIndividuals], "Ring: a strip, a cross where a rule speaks; light band: its limits."},
		{kinds[chart.KindEWMA], "Line: EWMA, the exponentially weighted moving average, with dots where it speaks; broken: its limits."},
		{flags, "Flag: something was noted that day."},
		{wash, "Dark wash: from the onset of a change to its first signal."},
		{kinds[chart.KindCUSUM], fmt.Sprintf("CUSUM, cumulative sums: rising and, broken, falling ones, in standard deviations (sd); limits ±%d.", chart.CUSUMInterval)},
	} {
		if part.drawn {
			text = append(text, part.text)
		}
	}
	return strings.Join(text, " ")
}
