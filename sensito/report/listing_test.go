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
	r := NewListing("harrow-quay", DefaultConfidence)
	for _, name := range []string{"larkfield-brinewater", "slate"} {
		r.AddTrial(name+".toml", listing.New(demoTrial(t, name), curve.MeasureOptions{}))
	}
	half, err := notebook.Read("half.toml", strings.NewReader(halfRead))
	require.NoError(t, err)
	r.AddTrial("half.toml", listing.New(half, curve.MeasureOptions{}))
	log, err := notebook.ReadControlFile(filepath.Join(demoFolder, "control.toml"))
	require.NoError(t, err)
	r.AddControl("control.toml", listing.NewControl(log))
	frames, err := notebook.ReadRollFile(filepath.Join(demoFolder, "harbour.csv"))
	require.NoError(t, err)
	r.AddRoll("harbour.csv", frames)
	procedure, err := notebook.ReadProcedureFile(filepath.Join(demoFolder, "procedure.toml"))
	require.NoError(t, err)
	r.AddProcedure("steps.toml", procedure)
	_, err = notebook.Read("torn.toml", strings.NewReader(strings.NewReplacer("Tern 400\"", "Tern 400\"\nspeed = 4", "minutes = 4", "minutes = 0").Replace(halfRead)))
	r.AddBroken("torn.toml", err)
	r.AddBroken("locked.toml", errors.New("locked.toml: permission denied"))
	r.AddOther("notes.txt")
	return r
}

func TestListingKeys(t *testing.T) {
	r := listingOf(t)
	found := keys(t, "", written(t, r), map[string][]string{})
	assert.Equal(t, map[string][]string{
		"": {"broken", "control_logs", "notebook", "others", "procedures", "rolls", "schema", "trials"},
		"trials[]": {"agitation", "batch", "complete", "contrast", "developer", "dilution", "exposure", "file", "iso_conditions_met", "iso_ranges",
			"material", "missing", "name", "normal_minutes", "speed", "speed_min", "steps", "strips", "temperature_c", "trial"},
		"trials[].strips[]":               {"base_fog_read", "grade", "minutes", "next_step", "steps_read"},
		"trials[].missing[]":              warningKeys,
		"trials[].speed":                  quantityKeys,
		"trials[].contrast":               {"least", "most", "quantity"},
		"trials[].contrast.least":         quantityKeys,
		"trials[].contrast.most":          quantityKeys,
		"trials[].normal_minutes":         quantityKeys,
		"trials[].iso_ranges[]":           {"grade", "iso_range"},
		"trials[].iso_ranges[].iso_range": quantityKeys,
		"control_logs[]":                  {"file", "first_date", "first_signal", "in_control", "last_date", "log", "missing", "strips"},
		"rolls[]":                         {"file", "least_range_stops", "most_range_stops", "scenes"},
		"procedures[]":                    {"file", "procedure", "steps"},
		"broken[]":                        {"fault", "file", "more"},
	}, found)
	assert.Equal(t, `"sensito/listing/1"`, raw(t, r, "schema"))
	assert.Equal(t, "null", raw(t, r, "trials", 2, "normal_minutes"))
	assert.Equal(t, "null", raw(t, r, "trials", 2, "temperature_c"))
	assert.Equal(t, "null", raw(t, r, "trials", 1, "contrast"), "a paper")
	assert.Equal(t, "5", raw(t, r, "trials", 2, "strips", 1, "next_step"))
	assert.Equal(t, "null", raw(t, r, "trials", 2, "strips", 0, "next_step"))
	assert.Equal(t, "1", raw(t, r, "broken", 0, "more"))

	empty := NewListing("empty", DefaultConfidence)
	for _, list := range []string{"trials", "control_logs", "rolls", "procedures", "broken", "others"} {
		assert.Equal(t, "[]", raw(t, empty, list), list)
	}
	assert.Equal(t, "empty: nothing of a notebook\n", text(t, empty))
}

func TestListingText(t *testing.T) {
	r := listingOf(t)
	out := text(t, r)
	assert.Contains(t, out, "harrow-quay: 2 trials of film, 1 trial of paper, 1 control log, 1 roll, 1\n  procedure, 2 broken files\n\nlarkfield-brinewater.toml\n  film     Larkfield 125")
	assert.Contains(t, out, "\n  strips   4:00, 6:00 (4 read); 8 steps\n")
	assert.Contains(t, out, "\n  missing  strip 2 stops at step 5 of 8\n           base plus fog not read: strip 1\n")
	assert.Contains(t, out, "\n  broken   torn.toml:3: film.speed: unknown key (and 1 more)\n", "the first fault")
	assert.Contains(t, out, "\n  broken   locked.toml: permission denied\n")
	assert.True(t, strings.HasSuffix(out, "\n\nNot of a notebook: notes.txt\n"))
	for line := range strings.Lines(out) {
		assert.LessOrEqual(t, page.Width(strings.TrimSuffix(line, "\n")), 80, line)
		assert.Equal(t, strings.TrimRight(line, " \n")+"\n", line)
	}
	assert.ErrorIs(t, r.Text(full{}, Layout{}), errFull)

	r = NewListing(".", DefaultConfidence)
	log, err := notebook.ReadControl("log.toml", strings.NewReader("[[strip]]\ndate = 2026-03-01\nbase_fog = 0.1\nlow = 0.4\nhigh = 1.2\n"))
	require.NoError(t, err)
	r.AddControl("log.toml", listing.NewControl(log))
	assert.Equal(t, "null", raw(t, r, "control_logs", 0, "in_control"))
	assert.Contains(t, text(t, r), "\nlog.toml\n  strips   1, 2026-03-01\n  missing  limits from the strips need a baseline of 8")
	for range 3 {
		r.AddOther(fmt.Sprint(strings.Repeat("x", 40), ".png"))
	}
	assert.Contains(t, text(t, r), ".png,\n  xxx", "wrapped")
}
