package sensito

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"sensito/sensito/internal/check"
	"sensito/sensito/printable"
)

// Done is a development that was carried out, as the log of a trial tells it.
type Done struct {
	Date         string  // YYYY-MM-DD
	Planned      Minutes // 0 when not stated
	PlannedC     float64 // the temperature meant, degrees Celsius; 0 when that of the trial
	Minutes      Minutes
	TemperatureC float64   // degrees Celsius at the start; 0 when not stated
	EndedC       float64   // at the end; 0 when not stated
	Dilution     string    // "" when that of the trial
	Agitation    Agitation // likewise
	Index        Speed     // exposure index at which the films were exposed; 0 when not stated
	For          string    // what the time was for, in words; may be empty
	Films        []Films   // nil when not stated
	Baths        []string  // names of the kept baths that they went through; nil when not stated
	Note         string
}

// Process returns the development in a trial's developer, at the temperature that was
// meant.
func (d Done) Process(t *Trial) Process {
	return Process{Dilution: d.Dilution, TemperatureC: d.PlannedC, Agitation: d.Agitation}.Or(t.process)
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
func (t *Trial) Done() []Done { return clonedDone(t.done) }

func clonedDone(all []Done) []Done {
	out := slices.Clone(all)
	for i := range out {
		out[i].Films, out[i].Baths = slices.Clone(out[i].Films), slices.Clone(out[i].Baths)
	}
	return out
}

// DoneAs returns the number, from 1, of the development of the log that says the
// same as d in everything, 0 for none.
func (t *Trial) DoneAs(d Done) int {
	const same = 1e-6 // of a minute or a degree
	near := func(a, b float64) bool { return math.Abs(a-b) <= same }
	return 1 + slices.IndexFunc(t.done, func(o Done) bool {
		return d.Date == o.Date && d.Note == o.Note && slices.Equal(d.Films, o.Films) && slices.Equal(d.Baths, o.Baths) &&
			d.Dilution == o.Dilution && d.Agitation == o.Agitation && d.For == o.For && near(float64(d.Index), float64(o.Index)) &&
			near(float64(d.Minutes), float64(o.Minutes)) && near(float64(d.Planned), float64(o.Planned)) &&
			near(d.PlannedC, o.PlannedC) && near(d.TemperatureC, o.TemperatureC) && near(d.EndedC, o.EndedC)
	})
}

// maxFor is how long the words may be that say what a development was for: a scene and
// the name of the paper that it was to suit.
const maxFor = 2 * printable.MaxName

// maxBaths is more baths than a process has.
const maxBaths = 30

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
		f.Line(key("for"), d.For, maxFor)
		CheckProcess(f, check.Place{Table: "done", Number: i + 1}, Process{Dilution: d.Dilution, Agitation: d.Agitation})
		if d.Index != 0 {
			f.Within(key("exposure_index"), float64(d.Index), 0.01, 1e6, "")
		}
		f.Within(key("minutes"), float64(d.Minutes), 0.05, 1440, " min")
		if d.Planned != 0 {
			f.Within(key("planned_minutes"), float64(d.Planned), 0.05, 1440, " min")
		}
		if len(d.Baths) > maxBaths {
			f.Add(key("baths"), "%d are more than %d", len(d.Baths), maxBaths)
		}
		for j, name := range d.Baths[:min(len(d.Baths), maxBaths)] {
			if f.Line(key(fmt.Sprintf("baths[%d]", j+1)), name, printable.MaxName); name == "" {
				f.Add(key(fmt.Sprintf("baths[%d]", j+1)), "is empty")
			}
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

// DaysBetween returns the days from one date to another, both in UTC. A duration ends after
// 292 years, which a slip in a year is enough for.
func DaysBetween(from, to time.Time) float64 {
	const day = 24 * 60 * 60 // seconds
	return float64(to.Unix()-from.Unix()) / day
}
