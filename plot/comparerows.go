package plot

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/plot/plotter"

	"sensito/plot/internal/figure"
	"sensito/plot/internal/parts"
	"sensito/sensito"
	"sensito/sensito/answers"
	"sensito/sensito/compare"
)

// differenceRows are the differences of each trial and the first in a few
// quantities: a row a trial, a column a quantity, a whisker for each.
type differenceRows struct {
	parts.WhiskerTable
	trials []int // of the rows
}

var differenceColumns = []struct {
	title, quantity string
	places          int
}{
	{"speed, stops", compare.DiffSpeedStops, 2},
	{"time, min", compare.DiffMinutes, 1},
	{"base plus fog", compare.DiffBaseFog, 3},
	{"toe, log H", compare.DiffToe, 2},
}

func newDifferenceRows(c *compare.Comparison, o Options, narrow bool) *differenceRows {
	b := &differenceRows{WhiskerTable: parts.WhiskerTable{Narrow: narrow}}
	b.addRows(c)
	for _, col := range differenceColumns {
		b.Columns = append(b.Columns, parts.NewWhiskerColumn(col.title, col.places, b.whiskers(c, col.quantity, o.Confidence)))
	}
	return b
}

// addRows adds the first trial, then the others from the fastest to the slowest,
// or by time where no speed is known, and those that are not compared.
func (b *differenceRows) addRows(c *compare.Comparison) {
	looks, short := parts.Unordered(len(c.Trials)), answers.Names(c)
	for i := range c.Trials {
		b.trials = append(b.trials, i)
	}
	rank := func(i int) [2]float64 {
		switch t := c.Trials[i]; {
		case i == answers.Reference(c):
			return [2]float64{0, 0}
		case t.Reason != nil:
			return [2]float64{3, 0}
		case t.Speed != nil:
			return [2]float64{1, -float64(t.Speed.Value)}
		default:
			return [2]float64{2, float64(t.Minutes.Value)}
		}
	}
	slices.SortStableFunc(b.trials, func(i, j int) int {
		x, y := rank(i), rank(j)
		return cmp.Or(cmp.Compare(x[0], y[0]), cmp.Compare(x[1], y[1]))
	})
	for _, i := range b.trials {
		t := c.Trials[i]
		r := parts.WhiskerRow{Name: t.Name, Short: short[i], Detail: "not compared"}
		if t.Reason == nil {
			r.Look, r.Detail = &looks[i], compareDetail(t)
		}
		b.Rows = append(b.Rows, r)
	}
}

// compareDetail tells time and speed of a trial.
func compareDetail(t *compare.Compared) string {
	text := keyDetail(t.Minutes.Value, t.Speed)
	if figure.OfToday(t.Answer.Today) != "" {
		text = "today " + text + "; as tested and drawn " + keyDetail(t.Answer.Tested().Minutes.Value, cmp.Or(t.UncorrectedSpeed, t.Speed))
	}
	if outside := answers.Outside(t.Answer.Extrapolation); outside != "" {
		text += ", " + outside
	}
	return text
}

func keyDetail(m sensito.Minutes, speed *sensito.Estimate[sensito.Speed]) string {
	if speed == nil {
		return parts.Planned(m)
	}
	return fmt.Sprintf("%s, speed %s", parts.Planned(m), parts.Speed(speed.Value))
}

// whiskers returns the differences in one quantity, by row.
func (b *differenceRows) whiskers(c *compare.Comparison, quantity string, level float64) []*parts.Whisker {
	out := make([]*parts.Whisker, len(b.Rows))
	for i, r := range b.Rows {
		if b.trials[i] == answers.Reference(c) {
			out[i] = &parts.Whisker{Filled: true, Look: *r.Look}
			continue
		}
		for _, d := range answers.FromReference(c, b.trials[i]) {
			if d.Quantity == quantity && d.Value != nil {
				low, high := d.Value.Interval(level)
				out[i] = &parts.Whisker{XY: plotter.XY{X: d.Value.Value}, Low: low, High: high, Filled: d.Real, Look: *r.Look}
			}
		}
	}
	return out
}

// numbers returns a series for each quantity and trial.
func (b *differenceRows) Numbers() []figure.Series {
	var out []figure.Series
	for _, d := range b.Columns {
		for i, w := range d.Whiskers {
			if w == nil || w.Low == w.High {
				continue
			}
			remark := "not proven"
			if w.Filled {
				remark = "proven"
			}
			out = append(out, figure.Series{Panel: CompareDifferences, Name: b.Rows[i].Name, Y: "difference of " + d.Title + ", from the first",
				Values: []figure.Value{{XY: plotter.XY{X: math.NaN(), Y: w.X}, Low: w.Low, High: w.High, Remark: remark}}})
		}
	}
	return out
}
