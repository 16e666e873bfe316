package page_test

import (
	"net/http"
	"os"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/cmd/sensito/internal/page/pagetest"
	"sensito/sensito"
	"sensito/sensito/notebook"
)

func (d *desk) trial() *sensito.Trial {
	d.t.Helper()
	trial, err := notebook.ReadFile(d.path)
	require.NoError(d.t, err)
	return trial
}

// What is said of a trial is changed in its place in the file, and undone as a strip is.
func TestChange(t *testing.T) {
	d := serve(t, filmTrial)
	commented := "# of the second box\n" + strings.Replace(d.bytes(), "[process]\n", "[process] # by the tray\n", 1)
	commented = strings.Replace(commented, "0.5\n", "0.3333333333333333\n", 1) // more places than are typed
	require.NoError(t, os.WriteFile(d.path, []byte(commented), 0o600))
	strips := commented[strings.Index(commented, "[[strip]]"):]
	p := d.send(d.get(d.at+"/change"), "/change", "film.batch", "K 17", "process.developer", "Ashlar 1:4", "process.temperature_c", "70F",
		"process.agitation", "intermittent", "exposure.seconds", "1/4", "exposure.wedge_step", "0.151", "reading.repeatability", "0.02")
	require.Equal(t, http.StatusOK, p.Status, p.Words())
	assert.Equal(t, d.at, p.Address, "it leads to the trial")
	assert.Contains(t, p.Words(), "(batch K 17, 4x5 in) in Ashlar 1+4 at 21.1 °C, intermittent agitation")
	is := d.trial()
	assert.Equal(t, sensito.Process{Developer: "Ashlar", Dilution: "1+4", TemperatureC: 21.11, Agitation: "intermittent"}, is.Process())
	assert.Equal(t, sensito.Seconds(0.25), is.Exposures().Seconds())
	assert.InDelta(t, 0.201, float64(is.Exposures().Wedge()[1]), 1e-9)
	assert.Equal(t, sensito.Density(0.02), is.Reading().Repeatability)
	assert.True(t, strings.HasSuffix(d.bytes(), strips), "the strips are as they were")
	for _, comment := range []string{"# of the second box\n", "[process] # by the tray\n"} {
		assert.Contains(t, d.bytes(), comment)
	}
	p = d.send(d.get(d.at+"/change"), "/undo")
	assert.Equal(t, d.at, p.Address)
	assert.Equal(t, commented, d.bytes())

	// A form that changes nothing writes nothing.
	was, err := os.Stat(d.path)
	require.NoError(t, err)
	p = d.send(d.get(d.at+"/change"), "/change")
	assert.Equal(t, d.at, p.Address)
	now, err := os.Stat(d.path)
	require.NoError(t, err)
	assert.Equal(t, was.ModTime(), now.ModTime())
}

// A wedge by its list and the stops of a camera are changed step by step, the others as they
// stand in the file.
func TestChangeExposures(t *testing.T) {
	d := serve(t, "larkfield-camera")
	d.send(d.get(d.at+"/change"), "/change", "exposure.stops", "-6 -5 -4 -3 -2 -1; 1/3; 1 2 3 4 5")
	assert.Contains(t, d.bytes(), "stops       = [-6, -5, -4, -3, -2, -1, 0.3333333333333333, 1, 2, 3, 4, 5]  # from the reading\n")
	d = serve(t, filmTrial)
	listed := regexp.MustCompile(`(?m)^wedge_first.*\n^wedge_step.*\n^wedge_count.*\n`).ReplaceAllString(d.bytes(),
		"wedge = [0.05, 0.201234, 0.35, 0.5, 0.65, 0.8, 0.95, 1.1, 1.25, 1.4, 1.55, 1.7, 1.85, 2, 2.15, 2.3, 2.45, 2.6, 2.75, 2.9, # the dense end\n 3.05]\n")
	require.NotEqual(t, d.bytes(), listed)
	require.NoError(t, os.WriteFile(d.path, []byte(listed), 0o600))
	f, ok := d.get(d.at + "/change").Form("/change")
	require.True(t, ok)
	was := f.Fields.Get("exposure.wedge")
	d.send(d.get(d.at+"/change"), "/change", "exposure.wedge", strings.Replace(was, "1.40", "1,41", 1))
	assert.Equal(t, strings.Replace(listed, "1.4,", "1.41,", 1), d.bytes())
}

// Each kind of trial shows what it says, and no more.
func TestChangeFields(t *testing.T) {
	for name, want := range map[string]struct{ has, lacks []string }{
		filmTrial:          {[]string{"film.name", "exposure.illuminance_lx", "exposure.wedge_first", "reading.zero"}, []string{"paper.name", "exposure.meter_index", "reading.open_ev", "exposure.wedge", "exposure.stops"}},
		"larkfield-camera": {[]string{"film.name", "exposure.meter_index", "exposure.meter_k", "exposure.stops"}, []string{"exposure.seconds", "exposure.wedge_first", "exposure.wedge"}},
		"larkfield-meter":  {[]string{"reading.open_ev", "reading.repeatability"}, []string{"reading.zero"}},
		"slate":            {[]string{"paper.name", "exposure.seconds"}, []string{"film.name", "film.rated_speed"}},
	} {
		p := serve(t, name).get("/t/" + name + "/change")
		for _, field := range want.has {
			assert.Contains(t, p.Text, `name="`+field+`"`, name)
		}
		for _, field := range want.lacks {
			assert.NotContains(t, p.Text, `name="`+field+`"`, name)
		}
	}
}

// What cannot be is told at its field and in the summary; all that was typed is kept, and
// nothing is saved.
func TestChangeFaults(t *testing.T) {
	d := serve(t, filmTrial)
	before := d.bytes()
	for _, c := range []struct{ field, text, says string }{
		{"process.temperature_c", "200", `Temperature, °C: "200" without a unit is degrees Celsius`},
		{"process.temperature_c", "warm", `Temperature, °C: "warm" is not a temperature`},
		{"process.temperature_c", "0.5", `Temperature, °C: "0.5": temperature 0.5 °C is outside 1 to 60`},
		{"process.dilution", "1/4", `Dilution: "1/4" is not a dilution`},
		{"process.agitation", "wild", `Agitation: "wild" is not one of`},
		{"film.name", "", "Film: is missing"},
		{"exposure.seconds", "0", "Exposure, seconds: "},
		{"exposure.wedge_step", "3", "From step to step: puts the last step at density"},
		{"title", strings.Repeat("long ", 100), "Title: "},
	} {
		p := d.send(d.get(d.at+"/change"), "/change", "film.batch", "kept <b>", c.field, c.text)
		require.Equal(t, http.StatusUnprocessableEntity, p.Status, c.field)
		assert.Contains(t, p.Words(), "One thing to put right. Nothing was saved, and nothing is lost. "+c.says)
		assert.Contains(t, p.Text, `value="kept &lt;b&gt;"`)
		assert.Contains(t, p.Text, `aria-describedby="h-`+c.field+`"`)
		assert.Equal(t, before, d.bytes(), c.field)
		if c.field == "process.temperature_c" { // what was put right is saved with the rest
			p = d.send(p, "/change", c.field, "21")
			assert.Equal(t, d.at, p.Address)
			assert.Equal(t, "kept <b>", d.trial().Film().Batch)
			d.send(d.get(d.at+"/change"), "/undo")
			require.Equal(t, before, d.bytes())
		}
	}
	d = serve(t, "larkfield-camera")
	before = d.bytes()
	const stops = "-6 -5 -4 -3 -2 -1 0 1 2 3 4 5"
	assert.Contains(t, d.get(d.at+"/change").Text, `name="exposure.stops" value="`+stops+`"`)
	for text, says := range map[string]string{
		strings.Replace(stops, "-2", "-2,x", 1): `Exposed by, stops: "-2,x" is not a number`,
		strings.Replace(stops, "5", "55", 2):    `Exposed by, stops: step 2: -55 stops is outside -20 to 20 stops; step 12: 55 stops is outside -20 to 20 stops`,
		"1 2":                                   "Exposed by, stops: 2 steps is outside 3 to 1000",
	} {
		p := d.send(d.get(d.at+"/change"), "/change", "exposure.stops", text)
		require.Equal(t, http.StatusUnprocessableEntity, p.Status, text)
		assert.Contains(t, p.Words(), "Nothing was saved, and nothing is lost. "+says)
		assert.Contains(t, p.Text, `aria-describedby="h-exposure.stops"`)
		assert.Equal(t, before, d.bytes(), text)
	}
	d = serve(t, "larkfield-meter")
	before = d.bytes()
	p := d.send(d.get(d.at+"/change"), "/change", "reading.open_ev", "1", "title", "kept")
	require.Equal(t, http.StatusUnprocessableEntity, p.Status)
	assert.Contains(t, p.Words(), "It cannot be so. Nothing was saved, and nothing is lost. exposure.frame.density: 10.8 EV is brighter than the bare light, 1 EV (open_ev); strip[1].base_fog[1]: ", "faults of no field")
	assert.Regexp(t, `; and \d\d more `, p.Words())
	assert.Contains(t, p.Text, `value="kept"`)
	assert.Equal(t, before, d.bytes())
}

// Changes of two pages that do not meet are joined; where both change the same, the later
// one chooses.
func TestChangeConflict(t *testing.T) {
	d := serve(t, filmTrial)
	one, two, three := d.get(d.at+"/change"), d.get(d.at+"/change"), d.get(d.at+"/change")
	d.send(one, "/change", "process.temperature_c", "21")
	p := d.send(two, "/change", "film.batch", "K 17")
	require.Equal(t, d.at, p.Address)
	is := d.trial()
	assert.Equal(t, [2]any{21.0, "K 17"}, [2]any{is.Process().TemperatureC, is.Film().Batch})

	before := d.bytes()
	p = d.send(three, "/change", "process.temperature_c", "22", "title", "Mine")
	require.Equal(t, http.StatusConflict, p.Status)
	assert.Contains(t, p.Words(), "This trial was changed elsewhere")
	assert.Regexp(t, `Temperature, °C 20 21 22`, p.Words())
	assert.NotContains(t, p.Words(), "Batch", "which only the other changed")
	assert.Equal(t, before, d.bytes())
	kept := d.send(p, "/change") // the file's, as marked; a title that only this page changed is taken
	require.Equal(t, d.at, kept.Address, kept.Words())
	assert.Equal(t, [2]any{21.0, "Mine"}, [2]any{d.trial().Process().TemperatureC, d.trial().Title()})
	d.send(p, "/change", "take-process.temperature_c", "mine")
	assert.Equal(t, 22.0, d.trial().Process().TemperatureC)

	stale, _ := two.Form("/undo") // of a file that others saved since
	p, err := d.Submit(stale)
	require.NoError(t, err)
	assert.Equal(t, http.StatusConflict, p.Status)

	for _, broken := range []pagetest.Form{{Action: d.at + "/change"}, {Action: d.at + "/change", Fields: map[string][]string{"file": {"x"}, "strip": {"facts"}, "old": {"null"}}}} {
		p, err := d.Submit(broken, "title", "by hand")
		require.NoError(t, err)
		assert.Equal(t, http.StatusBadRequest, p.Status)
		assert.Equal(t, "Mine", d.trial().Title())
	}
}
