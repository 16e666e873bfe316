package control

import (
	"cmp"
	"fmt"
	"math"

	"sensito/sensito"
	"sensito/sensito/control/chart"
)

// Deviation is what the log of developments says of the day on which a control
// strip was out of control.
type Deviation struct {
	Index int      // of the strip, from 1
	Date  string   // of the strip, YYYY-MM-DD
	Found []string // each a clause, such as "developed 7:00, not the 6:35 planned"
}

// How far a development may be from what was meant before it is named: 2 % of
// the time moves the contrast by 1 %, and a thermometer is read to a quarter of
// a degree (common practice, no source).
const (
	timeDeviation        = 0.02
	temperatureDeviation = 0.3 // degrees Celsius
)

// Deviations names, for the strips at which a chart other than that of moving
// ranges speaks, what the log of the trial says was otherwise on their day: a
// time that is not the planned one, a temperature that was not meant, a drift.
func (c *Evaluation) Deviations(t *sensito.Trial) []Deviation {
	signalled := map[int]bool{}
	for _, ch := range c.Charts {
		for _, s := range ch.Signals {
			if ch.Kind != chart.KindMovingRange {
				signalled[s.Index] = true
			}
		}
	}
	var out []Deviation
	for i, s := range c.Log.Strips() {
		if !signalled[i+1] {
			continue
		}
		dev := Deviation{Index: i + 1, Date: s.Date}
		for _, d := range t.Done() {
			if d.Date == s.Date {
				dev.Found = append(dev.Found, deviationsOf(d, t.Process().TemperatureC)...)
			}
		}
		if len(dev.Found) > 0 {
			out = append(out, dev)
		}
	}
	return out
}

// deviationsOf names what of a development was not as meant; trial is the
// temperature of the trial, 0 when not stated.
func deviationsOf(d sensito.Done, trial float64) []string {
	var out []string
	meant := cmp.Or(d.PlannedC, trial)
	if d.Planned != 0 && math.Abs(float64(d.Minutes/d.Planned)-1) > timeDeviation {
		out = append(out, fmt.Sprintf("developed for %s, not the %s planned", d.Minutes.Clock(1), d.Planned.Clock(1)))
	}
	if d.TemperatureC != 0 && meant != 0 && math.Abs(d.TemperatureC-meant) > temperatureDeviation {
		out = append(out, fmt.Sprintf("the bath was at %s, not the %s meant", sensito.Celsius(d.TemperatureC), sensito.Celsius(meant)))
	}
	if from := cmp.Or(d.TemperatureC, meant); d.EndedC != 0 && from != 0 && math.Abs(d.EndedC-from) > temperatureDeviation {
		out = append(out, fmt.Sprintf("it ended at %s", sensito.Celsius(d.EndedC)))
	}
	return out
}
