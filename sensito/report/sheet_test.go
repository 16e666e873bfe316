package report

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/control"
	"sensito/sensito/darkroom"
	"sensito/sensito/notebook"
	"sensito/sensito/report/internal/page"
	"sensito/sensito/scene"
)

// sheetOf reports the sheet of a scene of seven stops with the usual procedure.
func sheetOf(t *testing.T, films, vessel string, change func(*darkroom.SheetSpec)) *Sheet {
	t.Helper()
	p, err := notebook.ReadProcedureFile("../../cmd/sensito/demo/procedure.toml")
	require.NoError(t, err)
	answer, err := scene.For(familyOf(t, demoTrial(t, "larkfield-brinewater")), scene.Scene{Stops: 7})
	require.NoError(t, err)
	spec := darkroom.SheetSpec{Procedure: p, Date: "2026-03-05"}
	spec.Films, err = sensito.ParseFilms(films)
	require.NoError(t, err)
	spec.Vessel, err = darkroom.ParseVessel(vessel)
	require.NoError(t, err)
	spec = spec.ForAnswer(answer)
	if change != nil {
		change(&spec)
	}
	s, err := darkroom.NewSheet(spec)
	require.NoError(t, err)
	return NewSheet(s, DefaultConfidence)
}

func TestSheetKeys(t *testing.T) {
	r := sheetOf(t, "6x 4x5in", "tray 1l", func(s *darkroom.SheetSpec) {
		steps := s.Procedure.Spec()
		steps.Steps[3].Bath.Mixed = "2026-03-01"
		var err error
		s.Procedure, err = darkroom.NewProcedure(steps)
		require.NoError(t, err)
	})
	got := written(t, r)
	assert.Equal(t, "sensito/sheet/1", got["schema"])
	assert.Equal(t, map[string][]string{
		"": {"agitation", "batch", "baths", "cautions", "conditions", "critical", "date", "delivered_density_range", "develop_minutes", "ends_at_c", "exposure_index", "film", "films",
			"for", "last_time", "light_safe_from_step", "minutes", "minutes_as_tested", "note", "procedure", "schema", "steps", "temperature_c", "today", "total_min", "tray", "trial", "uncorrected", "vessel", "warnings"},
		"minutes":                 quantityKeys,
		"exposure_index":          quantityKeys,
		"delivered_density_range": quantityKeys,
		"films":                   {"area_cm2", "area_sq_in", "films"},
		"vessel":                  {"kind", "note", "volume_ml"},
		"baths[]":                 {"capacity", "concentrate_ml", "measure", "mixed", "name", "one_shot", "ratio", "steps", "total_ml", "use", "water_ml"},
		"baths[].use":             {"area_sq_in", "logs", "most_sq_in", "times", "times_without_baths", "times_without_films", "today_sq_in"},
		"steps[]":                 {"agitation", "bath", "change_minutes", "changes", "changes_ml", "critical", "dark", "drain_from_min", "minutes", "name", "note", "number", "start_min", "temperature_c", "time_from"},
		"tray":                    {"each_s", "pass_s", "sheets", "text"},
		"warnings[]":              warningKeys,
	}, keys(t, "", got, map[string][]string{}))
	assert.Equal(t, "5", raw(t, r, "light_safe_from_step"))
	assert.Equal(t, "null", raw(t, r, "total_min"), "the clearing time was not measured")
	assert.Equal(t, "null", raw(t, r, "steps", 3, "minutes"))
	assert.Equal(t, `"clearing"`, raw(t, r, "steps", 3, "time_from"))
	assert.Contains(t, raw(t, r, "cautions"), "never water into it")
	assert.Contains(t, raw(t, r, "cautions"), "gloves, eye protection, ventilation")
}

// Lines fit a page of 80 columns, and the cautions are there.
func TestSheetText(t *testing.T) {
	for _, vessel := range []string{"tray 1l", "drum 300ml, 50 turns a minute, turned about every ten seconds and rinsed between"} {
		got := text(t, sheetOf(t, "6x 4x5in", vessel, nil))
		for line := range strings.Lines(got) {
			assert.LessOrEqual(t, page.Width(strings.TrimSuffix(line, "\n")), page.TextWidth, line)
		}
		assert.Contains(t, got, "D   1:00   5:55   2 Develop: Brinewater 1+19, CRITICAL\n")
		assert.Contains(t, oneLine(got), oneLine(page.StartingPoint))
		assert.Contains(t, oneLine(got), mixCautions)
		assert.Contains(t, strings.Join(strings.Fields(got), " "), "Light is safe from step 5, Rinse.")
		assert.Contains(t, got, "The time of the developer is critical.")
	}
	r := sheetOf(t, "135-36", "tank 300ml", nil)
	assert.ErrorIs(t, r.Text(full{}, Layout{}), errFull)
	assert.ErrorIs(t, JSON(full{}, r), errFull)
}

func logged(t *testing.T, done ...sensito.Done) *sensito.Trial {
	t.Helper()
	spec := demoTrial(t, "larkfield-brinewater").Spec()
	spec.Done = done
	trial, err := sensito.NewTrial(spec)
	require.NoError(t, err)
	return trial
}

// A time in a warmer bath counts as the one that does the same at the trial's 20
// degrees: 8:40 at 24 is beyond the 10 minutes that were tested.
func TestFamilyLogged(t *testing.T) {
	r := familyReport(t, logged(t, sensito.Done{Date: "2026-03-05", Minutes: 6.5}, sensito.Done{Date: "2026-03-06", Minutes: 8 + 40./60, TemperatureC: 24}))
	assert.Contains(t, text(t, r), "Logged: 2 developments, 6:30 to 8:40; outside the tested times: 2026-03-06 8:40.\n")
	assert.Equal(t, `[{"date":"2026-03-06","minutes":8.666666666666666}]`, raw(t, r, "logged", "outside_tested"))
	r = familyReport(t, logged(t, sensito.Done{Date: "2026-03-05", Minutes: 6.5}))
	assert.Contains(t, text(t, r), "Logged: 1 development, 6:30, within the tested times.\n")
	assert.Equal(t, "null", raw(t, familyReport(t, demoTrial(t, "larkfield-brinewater")), "logged"))
}

// The log of a trial names what was otherwise on the day of a signal, and only
// then.
func TestControlDeveloped(t *testing.T) {
	log, err := notebook.ReadControlFile("../../cmd/sensito/demo/control.toml")
	require.NoError(t, err)
	c, err := log.Evaluate(control.Options{})
	require.NoError(t, err)
	require.NotNil(t, c.First)
	bad, good := log.Strips()[c.First.Index-1].Date, log.Strips()[0].Date
	odd := sensito.Done{Planned: 6.5, Minutes: 7, TemperatureC: 21, EndedC: 22}
	onBad, onGood := odd, odd
	onBad.Date, onGood.Date = bad, good
	found := c.Deviations(logged(t, onBad, onGood, sensito.Done{Date: bad, Planned: 6.5, Minutes: 6.55, TemperatureC: 20.2},
		sensito.Done{Date: bad, PlannedC: 22.5, Minutes: 5.5, TemperatureC: 22.5}))
	require.Equal(t, []control.Deviation{{Index: c.First.Index, Date: bad, Found: []string{"developed for 7:00, not the 6:30 planned",
		"the bath was at 21 °C, not the 20 °C meant", "it ended at 22 °C"}}}, found)
	r := NewControl(c, DefaultConfidence)
	r.Developed(found)
	assert.Contains(t, text(t, r), "Developed otherwise, by the trial's log:\n  "+bad+"  developed for 7:00, not the 6:30 planned; the bath was at 21 °C,\n")
	assert.Empty(t, c.Deviations(demoTrial(t, "larkfield-brinewater")))
}
