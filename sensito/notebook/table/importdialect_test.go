package table

import (
	"encoding/binary"
	"strings"
	"testing"
	"unicode/utf16"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/notebook"
	"sensito/sensito/notebook/notebooktest"
)

// light are the flags that a table without metadata needs.
var light = map[string]string{"film": "Tern 400", "illuminance_lx": "2", "seconds": "0.5"}

const longTable1 = `minutes,step,wedge,density
4,base,,0.09
4,1,0.05,1.25
4,2,0.20,1.17
4,3,0.35,
5.5,base,,0.10
5.5,base,,0.11
5.5,1,0.05,1.46
5.5,2,0.20,1.37
5.5,2,0.20,1.38
5.5,3,0.35,1.31
`

// Every dialect of one table is the same trial.
func TestImportDialects(t *testing.T) {
	want, guesses := imported(t, longTable1, ImportOptions{Values: light})
	require.Equal(t, []string{"cells are parted by a comma", "each row is a reading", "exposures are of the kind contact"}, guesses)
	assert.Equal(t, `[film]
name        = "Tern 400"

[exposure]
kind           = "contact"
illuminance_lx = 2
seconds        = 0.5
wedge_first    = 0.05
wedge_step     = 0.15
wedge_count    = 3

[reading]
repeatability = 0.01
zero          = "air"

[[strip]]
minutes  = "4:00"
base_fog = [0.09]
density  = [
  1.25, 1.17, nan,
]

[[strip]]
minutes  = "5:30"
base_fog = [0.10, 0.11]
density  = [
  1.46, [1.37, 1.38], 1.31,
]
`, string(notebook.Format(want)))

	semicolon := strings.NewReplacer(",", ";", ".", ",").Replace(longTable1)
	utf16le := func(s string, order binary.AppendByteOrder) string {
		b := order.AppendUint16(nil, 0xfeff)
		for _, u := range utf16.Encode([]rune(s)) {
			b = order.AppendUint16(b, u)
		}
		return string(b)
	}
	for name, c := range map[string]struct {
		text  string
		guess string // that must be among those said
	}{
		"byte order mark":     {"\ufeff" + longTable1, ""},
		"CRLF":                {strings.ReplaceAll(longTable1, "\n", "\r\n"), ""},
		"CR":                  {strings.ReplaceAll(longTable1, "\n", "\r"), ""},
		"no last line end":    {strings.TrimSuffix(longTable1, "\n"), ""},
		"tabs":                {strings.ReplaceAll(longTable1, ",", "\t"), "cells are parted by a tab"},
		"semicolons":          {strings.ReplaceAll(longTable1, ",", ";"), "cells are parted by a semicolon"},
		"decimal commas":      {semicolon, "the decimal mark is a comma"},
		"decimal commas, tab": {strings.ReplaceAll(semicolon, ";", "\t"), "the decimal mark is a comma"},
		"UTF-16LE":            {utf16le(longTable1, binary.LittleEndian), ""},
		"UTF-16BE":            {utf16le(longTable1, binary.BigEndian), ""},
		"quoted":              {`"` + strings.NewReplacer(",", `","`, "\n", "\"\n\"").Replace(strings.TrimSpace(longTable1)) + `"`, ""},
		"quoted decimal commas": {func() string {
			rows := strings.ReplaceAll(longTable1, ",", `","`)
			rows = strings.ReplaceAll(rows, ".", ",")
			return `"` + strings.ReplaceAll(strings.TrimSpace(rows), "\n", "\"\n\"") + `"`
		}(), "the decimal mark is a comma"},
		"blanks":               {strings.ReplaceAll(longTable1, ",", " , "), ""},
		"comments":             {"# readings of March\n" + strings.Replace(longTable1, "4,2", "# a pause, with \"quotes\n4,2", 1), ""},
		"blank lines":          {"\n\n" + strings.Replace(longTable1, "5.5,base", "\n,,,\n5.5,base", 1), ""},
		"title above":          {"Tern 400 of March\n" + longTable1, "line 1 is a heading of the sheet and passed over"},
		"lines of cells above": {"Film,Tern 400,read 12 March\nTemperature,20\n\n" + longTable1, "lines 1 to 2 are headings of the sheet and passed over"},
		"a table above":        {"film,developer,light\nTern 400,Ashlar 1+4,2 lx\n" + longTable1, "lines 1 to 2 are headings of the sheet and passed over"},
		"lines above columns": {"Film;Tern 400\nTemperature;20\n" + "step;wedge;4:00;5:30\nbase;;0.09;0.10\nb+f;;;0.11\n1;0.05;1.25;1.46\n2;0.20;1.17;1.37\n2;;;1.38\n3;0.35;nan;1.31\n",
			"lines 1 to 2 are headings of the sheet and passed over"},
		"a line above rows": {"Film;Tern 400;March\nminutes;base + fog;1;2;3\n4;0.09;1.25;1.17;\n5:30;0.10 0.11;1.46;1.37;1.31\n", "line 1 is a heading of the sheet and passed over"},
		"capitals":          {strings.Replace(longTable1, "minutes,step,wedge,density", "Minutes,STEP,Wedge,Density", 1), ""},
		"other words":       {strings.Replace(longTable1, "minutes,step,wedge,density", "Time (min),No.,Wedge density,Reading", 1), ""},
		"units":             {strings.Replace(longTable1, "density\n", "density\nmin,,D,D\n", 1), "line 2 holds units and is passed over"},
		"further cols":      {strings.NewReplacer("density\n", "density,operator\n", "1.25\n", "1.25,E. F.\n").Replace(longTable1), ""},
		"clock times":       {strings.NewReplacer("5.5,", "5:30,", "4,", "4:00,", "4,base", "4:00,base").Replace(longTable1), ""},
		"fill down": {strings.NewReplacer("\n4,1", "\n,1", "\n4,2", "\n,2", "\n4,3", "\n,3", "\n5.5,1", "\n,1", "\n5.5,2", "\n,2",
			"\n5.5,3", "\n,3", "base,,0.11", "base,,0.11").Replace(longTable1), ""},
		"seconds of time": {strings.NewReplacer("minutes", "time (s)", "4,", "240,", "5.5,", "330,").Replace(
			strings.NewReplacer("0.09", "0.09").Replace(longTable1)), ""},
		"columns": {"step,wedge,4:00,5:30\nbase,,0.09,0.10\nb+f,,,0.11\n1,0.05,1.25,1.46\n2,0.20,1.17,1.37\n2,,,1.38\n3,0.35,nan,1.31\n",
			"each column is a strip"},
		"columns, a heading that says nothing": {";4 min;5,5 min\nbase;0,09;0,10\nfog;;0,11\n1;1,25;1,46\n2;1,17;1,37\n2;;1,38\n3;-;1,31\n",
			"each column is a strip, and the first column numbers the steps"},
		"rows": {"minutes,base + fog,1,2,3\n4,0.09,1.25,1.17,\n5:30,0.10 0.11,1.46,1.37,1.31\n", "each row is a strip"},
	} {
		t.Run(name, func(t *testing.T) {
			o := ImportOptions{Values: map[string]string{}}
			for k, v := range light {
				o.Values[k] = v
			}
			if !strings.Contains(c.text, "0.20") && !strings.Contains(c.text, "0,20") && !strings.Contains(name, "UTF") {
				o.Values["wedge_first"], o.Values["wedge_step"], o.Values["wedge_count"] = "0.05", "0.15", "3"
			}
			got, guesses := imported(t, c.text, o)
			want := want
			if strings.HasSuffix(name, "rows") { // which has no place for a second reading
				want = altered(t, want, func(s *sensito.TrialSpec) { s.Strips[1].Repeats, s.Strips[1].Density[1] = nil, 1.37 })
			}
			assert.Equal(t, notebooktest.Describe(want), notebooktest.Describe(got))
			if c.guess != "" {
				assert.Contains(t, guesses, c.guess)
			}
		})
	}
}

func altered(t *testing.T, trial *sensito.Trial, edit func(*sensito.TrialSpec)) *sensito.Trial {
	spec := trial.Spec()
	edit(&spec)
	out, err := sensito.NewTrial(spec)
	require.NoError(t, err)
	return out
}

// Exposures come in several forms.
func TestImportExposures(t *testing.T) {
	values := func(more ...string) map[string]string {
		m := map[string]string{"film": "Tern 400", "minutes": "8"}
		for i := 0; i < len(more); i += 2 {
			m[more[i]] = more[i+1]
		}
		return m
	}
	relative, _ := imported(t, "step,wedge,density\n1,0.05,1.2\n2,0.2,1.1\n3,0.35,1.0\n", ImportOptions{Values: values("exposure", "relative")})
	assert.Equal(t, []sensito.LogExposure{-0.05, -0.2, -0.35}, relative.Exposures().RelativeLogH())
	assert.Equal(t, []sensito.Density{0.05, 0.2, 0.35}, relative.Exposures().Wedge())

	relative, _ = imported(t, "density\n1.2\n1.1\n1.0\n", ImportOptions{Orientation: "long", Values: values("exposure", "relative",
		"wedge_first", "0.05", "wedge_step", "0.15", "wedge_count", "4")})
	assert.Equal(t, []sensito.LogExposure{-0.05, -0.2, -0.35, -0.5}, relative.Exposures().RelativeLogH())
	assert.False(t, relative.Strips()[0].Steps()[3].Read())

	absolute, guesses := imported(t, "log H (lx s),density\n-0.05,1.2\n-0.2,1.1\n-0.35,1.0\n", ImportOptions{Values: values()})
	require.Equal(t, sensito.Contact, absolute.Exposures().Kind())
	for i, want := range []float64{-0.05, -0.2, -0.35} {
		assert.InDelta(t, want, float64(absolute.Exposures().LogH()[i]), 1e-12)
	}
	assert.Contains(t, guesses, "the exposures in lux seconds become a wedge before a light that lasts 1 s")

	relative, guesses = imported(t, "log H,density\n3.05,1.2\n2.9,1.1\n2.75,1.0\n", ImportOptions{Values: values()})
	assert.False(t, relative.Exposures().Absolute())
	assert.Contains(t, guesses, "exposures are of the kind relative")
	assert.Contains(t, guesses, "steps are numbered by their log_h")

	camera, _ := imported(t, "stops,density\n-2,0.3\n-1,0.5\n0,0.8\n", ImportOptions{Values: values("meter_index", "400")})
	assert.Equal(t, []float64{-2, -1, 0}, camera.Exposures().Stops())

	// Rows may be missing where another strip shows the exposure.
	gaps, _ := imported(t, "minutes,wedge,density\n5,0.35,1\n5,0.05,1.2\n8,0.35,1.5\n8,0.2,1.7\n8,0.05,1.9\n", ImportOptions{Values: light})
	require.Equal(t, []sensito.Density{0.35, 0.2, 0.05}, gaps.Exposures().Wedge())
	assert.False(t, gaps.Strips()[0].Steps()[1].Read())

	exposed, _ := imported(t, "minutes,seconds,step,wedge,density\n5,1,1,0.05,1.2\n5,1,2,0.2,1.1\n5,1,3,0.35,1.0\n5,100,1,0.05,1.9\n", ImportOptions{
		Values: map[string]string{"film": "F", "illuminance_lx": "2"}})
	require.Len(t, exposed.Strips(), 2)
	assert.Equal(t, sensito.Seconds(1), exposed.Exposures().Seconds())
	assert.Equal(t, sensito.Seconds(100), exposed.Strips()[1].Seconds())

	paper, _ := imported(t, "grade;1;2;3\n2;0,1;0,8;1,9\n3;0,1;0,6;2,0\n", ImportOptions{Orientation: "rows",
		Values: map[string]string{"paper": "Slate", "exposure": "relative", "wedge_first": "1", "wedge_step": "-0.3", "wedge_count": "3"}})
	assert.Equal(t, sensito.PaperMaterial, paper.Material())
	assert.Equal(t, "3", paper.Strips()[1].Grade())
}

// A table of several trials is several trials, each with what is said of it.
func TestImportSeveralTrials(t *testing.T) {
	const text = `trial,film,dilution,minutes,step,wedge,density
A,Tern 400,1+4,5,1,0.05,1.2
A,Tern 400,1+4,5,2,0.2,1.1
A,Tern 400,1+4,5,3,0.35,1.0
B,Larkfield 125,1+9,8,1,0.05,1.4
B,Larkfield 125,1+9,8,2,0.2,1.3
B,Larkfield 125,1+9,8,3,0.35,1.2
B,Larkfield 125,1+14,8,1,0.05,1.3
B,Larkfield 125,1+14,8,2,0.2,1.2
B,Larkfield 125,1+14,8,3,0.35,1.1
`
	o := ImportOptions{Values: map[string]string{"illuminance_lx": "2", "seconds": "0.5"}}
	found, err := Import("x", strings.NewReader(text), o)
	require.NoError(t, err)
	require.Len(t, found.Trials, 2)
	a, b := found.Trials[0].Trial, found.Trials[1].Trial
	assert.Equal(t, "A", a.Title())
	assert.Equal(t, "1+4", a.Process().Dilution)
	assert.Equal(t, "Larkfield 125", b.Film().Name)
	require.Len(t, b.Strips(), 2)
	assert.Equal(t, "1+14", b.Strips()[1].Process().Dilution)
	assert.Equal(t, "a", FileName(a))

	o.Into = a
	found, err = Import("x", strings.NewReader(text), o)
	assert.Nil(t, found.Trials)
	require.Error(t, err)
}

// Strips that are added to a trial must be of that trial; in their development
// and exposure they may differ.
func TestImportInto(t *testing.T) {
	trial, _ := imported(t, longTable1, ImportOptions{Values: map[string]string{"film": "Tern 400", "illuminance_lx": "2", "seconds": "0.5",
		"developer": "Ashlar", "dilution": "1+4", "temperature_c": "20"}})
	into := func(text string, values map[string]string) ([]sensito.StripSpec, []string, error) {
		found, err := Import("x", strings.NewReader(text), ImportOptions{Into: trial, Values: values})
		if err != nil {
			require.Nil(t, found.Trials)
			return nil, found.Guesses, err
		}
		return found.Trials[0].Strips, found.Guesses, nil
	}
	strips, _, err := into("minutes,step,density\n8,1,1.7\n8,2,1.6\n", nil)
	require.NoError(t, err)
	require.Len(t, strips, 1)
	assert.Equal(t, sensito.Minutes(8), strips[0].Minutes)
	assert.Len(t, strips[0].Density, 3)
	assert.Zero(t, strips[0].Process)

	strips, guesses, err := into("minutes,step,wedge,density,temperature,lux,batch\n8,1,0.05,1.7,24,2,7\n8,3,0.3501,1.6,24,2,7\n8,2,0.2,,24,2,7\n", map[string]string{"dilution": "1+9", "seconds": "1"})
	require.NoError(t, err)
	assert.Equal(t, sensito.Process{Dilution: "1+9", TemperatureC: 24}, strips[0].Process)
	assert.Equal(t, sensito.Seconds(1), strips[0].Seconds)
	assert.Zero(t, strips[0].IlluminanceLx)
	assert.Contains(t, guesses, "the trial is left as it is, without the file's film.batch")

	for text, want := range map[string]string{
		"minutes,step,film,density\n8,1,Larkfield 125,1.7\n":                     `x:2: film: Larkfield 125, but the trial has Tern 400`,
		"minutes,step,wedge,density\n8,1,0.06,1.7\n":                             `x:2: wedge: 0.06 for step 1, but the trial has 0.05`,
		"minutes,step,stops,density\n8,1,-3,1.7\n":                               `x:2: stops: goes with exposures of another kind; those of the trial are contact`,
		"minutes,step,density\n8,1,1.7\n8,2,1.6\n8,3,1.5\n8,4,1.4\n":             `x:2: strip: has 4 readings for 3 steps; write nan where a step was not read`,
		"minutes,step,wedge,density\n8,1,.05,1\n8,2,.2,1\n8,3,.35,1\n8,4,.5,1\n": `x:2: wedge: 4 steps, but the trial has 3`,
		"step,density,zero\n1,1.7,base\n":                                        "x:2: zero: base, but the trial has air\nx:2: minutes: is missing; give --minutes",
	} {
		_, _, err := into(text, nil)
		require.EqualError(t, err, want, text)
	}

	// The strips of another notebook, or of an export, can be added too.
	data, _, err := Export(trial, "json", "")
	require.NoError(t, err)
	strips, _, err = into(string(data), nil)
	require.NoError(t, err)
	assert.Len(t, strips, 2)
	strips, _, err = into(string(notebook.Format(trial)), nil)
	require.NoError(t, err)
	assert.Equal(t, trial.Spec().Strips[1].Repeats, strips[1].Repeats)
}
