package report

import (
	"errors"
	"fmt"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito/curve"
	"sensito/sensito/listing"
	"sensito/sensito/notebook"
	"sensito/sensito/report/internal/page"
)

const demoFolder = "../../cmd/sensito/demo"

// halfRead is a trial with strips that are not read to their end.
const halfRead = `[film]
name = "Tern 400"
[exposure]
kind = "contact"
illuminance_lx = 2
seconds = 1
wedge_first = 0.05
wedge_step = 0.4
wedge_count = 8
[[strip]]
minutes = 4
density = [1.83, 1.58, 1.26, 0.94, 0.65, 0.41, 0.22, 0.13]
[[strip]]
minutes = 6
next_step = 5
base_fog = 0.12
density = [2.23, 1.90, 1.50, 1.11, nan, nan, nan, nan]
`

func listingOf(t *testing.T) *Listing {
	entries := []listing.Entry{
		{File: "larkfield-brinewater.toml", Trial: listing.New(demoTrial(t, "larkfield-brinewater"), curve.MeasureOptions{})},
		{File: "slate.toml", Trial: listing.New(demoTrial(t, "slate"), curve.MeasureOptions{})},
	}
	half, err := notebook.Read("half.toml", strings.NewReader(halfRead))
	require.NoError(t, err)
	log, err := notebook.ReadControlFile(filepath.Join(demoFolder, "control.toml"))
	require.NoError(t, err)
	frames, err := notebook.ReadRollFile(filepath.Join(demoFolder, "harbour.csv"))
	require.NoError(t, err)
	procedure, err := notebook.ReadProcedureFile(filepath.Join(demoFolder, "procedure.toml"))
	require.NoError(t, err)
	_, torn := notebook.Read("torn.toml", strings.NewReader(strings.NewReplacer("Tern 400\"", "Tern 400\"\nspeed = 4", "minutes = 4", "minutes = 0").Replace(halfRead)))
	entries = append(entries, listing.Entry{File: "half.toml", Trial: listing.New(half, curve.MeasureOptions{})},
		listing.Entry{File: "control.toml", Control: listing.NewControl(log)}, listing.Entry{File: "harbour.csv", Roll: frames},
		listing.Entry{File: "steps.toml", Procedure: procedure}, listing.Entry{File: "bed.toml", Tablet: &listing.Tablet{Name: "bed 2026-11", Steps: 21, ReadsTo: 2.6}}, listing.Entry{File: "torn.toml", Err: torn},
		listing.Entry{File: "locked.toml", Err: errors.New("locked.toml: permission denied")}, listing.Entry{File: "notes.txt"})
	return NewListing("harrow-quay", listing.NewNotebook(entries), DefaultConfidence)
}

func TestListingKeys(t *testing.T) {
	r := listingOf(t)
	found := keys(t, "", written(t, r), map[string][]string{})
	assert.Equal(t, map[string][]string{
		"":                     {"broken", "control_logs", "notebook", "others", "procedures", "rolls", "schema", "tablets", "to_do", "trials"},
		"tablets[]":            {"file", "name", "reads_to", "steps"},
		"to_do[]":              {"base", "by", "density", "expected", "fault", "file", "kind", "line", "minutes", "since", "steps", "strip", "strips", "text", "time_percent"},
		"to_do[].time_percent": quantityKeys,
		"trials[]": {"agitation", "batch", "complete", "contrast", "date", "developer", "dilution", "exposure", "exposure_index", "file", "first_date",
			"iso_conditions_met", "iso_ranges", "last_date", "material", "missing", "name", "normal_minutes", "speed", "speed_min", "steps", "strips", "temperature_c", "trial"},
		"trials[].strips[]":               {"base_fog_read", "date", "grade", "ignored_steps", "minutes", "next_step", "questioned", "steps_read", "unread_steps"},
		"trials[].strips[].questioned[]":  {"density", "expected", "step"},
		"trials[].exposure_index":         quantityKeys,
		"trials[].missing[]":              warningKeys,
		"trials[].speed":                  quantityKeys,
		"trials[].contrast":               {"least", "most", "quantity"},
		"trials[].contrast.least":         quantityKeys,
		"trials[].contrast.most":          quantityKeys,
		"trials[].normal_minutes":         quantityKeys,
		"trials[].iso_ranges[]":           {"grade", "iso_range", "log_range"},
		"trials[].iso_ranges[].iso_range": quantityKeys,
		"trials[].iso_ranges[].log_range": quantityKeys,
		"control_logs[]":                  {"date", "developer", "dilution", "file", "film", "first_date", "first_signal", "in_control", "last_date", "log", "missing", "strips"},
		"rolls[]":                         {"file", "least_range_stops", "most_range_stops", "scenes"},
		"procedures[]":                    {"file", "procedure", "steps"},
		"broken[]":                        {"fault", "file", "line", "more"},
	}, found)
	assert.Equal(t, `"sensito/listing/1"`, raw(t, r, "schema"))
	assert.Equal(t, "null", raw(t, r, "trials", 2, "normal_minutes"))
	assert.Equal(t, "null", raw(t, r, "trials", 2, "temperature_c"))
	assert.Equal(t, "null", raw(t, r, "trials", 0, "contrast"), "a paper, which is the newest")
	assert.Equal(t, "5", raw(t, r, "trials", 2, "strips", 1, "next_step"))
	assert.Equal(t, "null", raw(t, r, "trials", 2, "strips", 0, "next_step"))
	assert.Equal(t, "1", raw(t, r, "broken", 0, "more"))
	assert.Equal(t, "3", raw(t, r, "broken", 0, "line"))
	assert.Equal(t, "null", raw(t, r, "broken", 1, "line"))
	assert.Equal(t, `"2026-03-19"`, raw(t, r, "trials", 0, "date"))
	assert.Equal(t, `"2026-03-02"`, raw(t, r, "trials", 1, "first_date"))
	assert.Equal(t, "null", raw(t, r, "trials", 2, "date"))
	assert.Equal(t, "[5,6,7,8]", raw(t, r, "trials", 2, "strips", 1, "unread_steps"))
	assert.Equal(t, "[13]", raw(t, r, "trials", 1, "strips", 1, "unread_steps"))
	assert.Equal(t, "9", raw(t, r, "trials", 1, "strips", 3, "questioned", 0, "step"))
	assert.Equal(t, `"larkfield-brinewater.toml"`, raw(t, r, "to_do", 0, "by"))
	assert.Equal(t, `"2026-04-16"`, raw(t, r, "to_do", 0, "since"))

	empty := NewListing("empty", listing.NewNotebook(nil), DefaultConfidence)
	for _, list := range []string{"to_do", "trials", "control_logs", "rolls", "procedures", "tablets", "broken", "others"} {
		assert.Equal(t, "[]", raw(t, empty, list), list)
	}
	assert.Equal(t, "empty: nothing of a notebook\n", text(t, empty))
}

func TestListingText(t *testing.T) {
	r := listingOf(t)
	out := text(t, r)
	assert.Contains(t, out, "harrow-quay: 2 trials of film, 1 trial of paper, 1 control log, 1 roll, 1\n  procedure, 1 calibration of pictures, 2 broken files\n\nTo be done:\n- The tank of Brinewater ")
	assert.Contains(t, out, "\nand 3 more: --json has them\n\ncontrol.toml, 4 June 2026\n")
	assert.Contains(t, out, "\nhalf.toml, undated\n  Tern 400\n  Speed 2")
	assert.Contains(t, out, "\n  missing: strip 2 stops at step 5 of 8\n           base plus fog not read: strip 1\n")
	assert.Contains(t, out, "\n  Cannot be read: line 3: film.speed: unknown key (and 1 more).\n", "the first fault")
	assert.Contains(t, out, "\n  Cannot be read: locked.toml: permission denied.\n")
	assert.Contains(t, out, "\n\nNot of a notebook: notes.txt\n\nA computed time is a starting point")
	for line := range strings.Lines(out) {
		assert.LessOrEqual(t, page.Width(strings.TrimSuffix(line, "\n")), 80, line)
		assert.Equal(t, strings.TrimRight(line, " \n")+"\n", line)
	}
	assert.ErrorIs(t, r.Text(full{}, Layout{}), errFull)

	log, err := notebook.ReadControl("log.toml", strings.NewReader("[[strip]]\ndate = 2026-03-01\nbase_fog = 0.1\nlow = 0.4\nhigh = 1.2\n"))
	require.NoError(t, err)
	entries := []listing.Entry{{File: "log.toml", Control: listing.NewControl(log)}}
	for range 3 {
		entries = append(entries, listing.Entry{File: fmt.Sprint(strings.Repeat("x", 40), ".png")})
	}
	r = NewListing(".", listing.NewNotebook(entries), DefaultConfidence)
	assert.Equal(t, "null", raw(t, r, "control_logs", 0, "in_control"))
	out = text(t, r)
	assert.Contains(t, out, "\nlog.toml, 1 March 2026\n  One control strip.\n  missing: limits from the strips need a baseline of 8")
	assert.Contains(t, out, ".png,\n  xxx", "wrapped")
	assert.NotContains(t, out, "To be done")
	assert.NotContains(t, out, "starting point", "nothing is told to develop by")
}
