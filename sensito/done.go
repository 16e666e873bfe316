package sensito

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"sensito/sensito/control/chart"
	"sensito/sensito/internal/check"
)

// Done is a development that was carried out, as the log of a trial tells it.
type Done struct {
	Date         string  // YYYY-MM-DD
	Planned      Minutes // 0 when not stated
	PlannedC     float64 // the temperature meant, degrees Celsius; 0 when that of the trial
	Minutes      Minutes
	TemperatureC float64 // degrees Celsius at the start; 0 when not stated
	EndedC       float64 // at the end; 0 when not stated
	Films        []Films // nil when not stated
	Note         string
}

// Area returns the area of its films, 0 when they are not stated.
func (d Done) Area() Area {
	_, area := FilmTotals(d.Films)
	return area
}

// FilmList returns films as ParseFilms reads them.
func FilmList(films []Films) string {
	var names []string
	for _, f := range films {
		names = append(names, f.String())
	}
	return strings.Join(names, ", ")
}

// Done returns the developments that were carried out by the trial, in the order
// of the notebook.
func (t *Trial) Done() []Done { return slices.Clone(t.done) }

// DoneAs returns the number, from 1, of the development of the log that says the
// same as d in everything, 0 for none.
func (t *Trial) DoneAs(d Done) int {
	const same = 1e-6 // of a minute or a degree
	near := func(a, b float64) bool { return math.Abs(a-b) <= same }
	return 1 + slices.IndexFunc(t.done, func(o Done) bool {
		return d.Date == o.Date && d.Note == o.Note && slices.Equal(d.Films, o.Films) &&
			near(float64(d.Minutes), float64(o.Minutes)) && near(float64(d.Planned), float64(o.Planned)) &&
			near(d.PlannedC, o.PlannedC) && near(d.TemperatureC, o.TemperatureC) && near(d.EndedC, o.EndedC)
	})
}

// checkDone notes what is wrong with a log of developments.
func checkDone(f *check.Faults, m Material, done []Done) {
	if m == PaperMaterial && len(done) > 0 {
		f.Add("done[1]", "is of a film; a paper has no log of developments")
		return
	}
	for i, d := range done {
		key := func(name string) string { return fmt.Sprintf("done[%d].%s", i+1, name) }
		if d.Date == "" {
			f.Add(key("date"), "is missing")
		} else {
			f.AddError(key("date"), CheckDate(d.Date))
		}
		f.Note(key("note"), d.Note)
		f.Within(key("minutes"), float64(d.Minutes), 0.05, 1440, " min")
		if d.Planned != 0 {
			f.Within(key("planned_minutes"), float64(d.Planned), 0.05, 1440, " min")
		}
		if again, err := ParseFilms(FilmList(d.Films)); len(d.Films) > 0 && (err != nil || !slices.Equal(again, d.Films)) {
			f.Add(key("films"), "%q are not films like 4x 4x5in", FilmList(d.Films))
		}
		for _, t := range []struct {
			name string
			c    float64
		}{{"planned_c", d.PlannedC}, {"temperature_c", d.TemperatureC}, {"ended_c", d.EndedC}} {
			if t.c != 0 {
				f.Within(key(t.name), t.c, 1, 60, " °C")
			}
		}
	}
}

// CheckDate returns an error for text that is not a date as YYYY-MM-DD.
func CheckDate(date string) error {
	if _, err := time.Parse(time.DateOnly, date); err != nil {
		return fmt.Errorf("%q is not a date like 2026-03-01", date)
	}
	return nil
}

// Logged is the developments of a log against the times of a family.
type Logged struct {
	Count    int
	Min, Max Minutes // as developed
	Outside  []Done  // outside the tested times, at the temperature of the trial
}

// Logged returns what the log of the trial says, nil when it is empty. A time at
// another temperature counts as the one that does the same at the trial's.
func (f *Family) Logged() *Logged {
	done := f.Trial.done
	if len(done) == 0 {
		return nil
	}
	byTime := func(a, b Done) int { return cmp.Compare(a.Minutes, b.Minutes) }
	l := &Logged{Count: len(done), Min: slices.MinFunc(done, byTime).Minutes, Max: slices.MaxFunc(done, byTime).Minutes}
	lo, hi := f.Times()
	const slack = 1 + 1e-9
	for _, d := range done {
		if t := d.Minutes / Minutes(f.longerFor(d)); t*slack < lo || t > hi*slack {
			l.Outside = append(l.Outside, d)
		}
	}
	return l
}

// longerFor returns how many times longer a development takes at the temperature
// at which it was done, 1 where that is not known.
func (f *Family) longerFor(d Done) float64 {
	if d.TemperatureC == 0 {
		return 1
	}
	ch, err := f.Under(Conditions{TemperatureC: &d.TemperatureC, EndC: unless0(d.EndedC), Forced: true})
	if err != nil {
		return 1
	}
	return ch.Factor.Value
}

// Deviation is what the log of developments says of the day on which a control
// strip was out of control.
type Deviation struct {
	Index int // of the strip, from 1
	Date  string
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
func (c *Control) Deviations(t *Trial) []Deviation {
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
		for _, d := range t.done {
			if d.Date == s.Date {
				dev.Found = append(dev.Found, d.deviations(t.process.TemperatureC)...)
			}
		}
		if len(dev.Found) > 0 {
			out = append(out, dev)
		}
	}
	return out
}

// deviations names what of a development was not as meant; trial is the
// temperature of the trial, 0 when not stated.
func (d Done) deviations(trial float64) []string {
	var out []string
	meant := cmp.Or(d.PlannedC, trial)
	if d.Planned != 0 && math.Abs(float64(d.Minutes/d.Planned)-1) > timeDeviation {
		out = append(out, fmt.Sprintf("developed for %s, not the %s planned", d.Minutes.Clock(1), d.Planned.Clock(1)))
	}
	if d.TemperatureC != 0 && meant != 0 && math.Abs(d.TemperatureC-meant) > temperatureDeviation {
		out = append(out, fmt.Sprintf("the bath was at %s, not the %s meant", Celsius(d.TemperatureC), Celsius(meant)))
	}
	if from := cmp.Or(d.TemperatureC, meant); d.EndedC != 0 && from != 0 && math.Abs(d.EndedC-from) > temperatureDeviation {
		out = append(out, fmt.Sprintf("it ended at %s", Celsius(d.EndedC)))
	}
	return out
}
