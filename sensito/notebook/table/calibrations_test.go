package table

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/notebook"
	"sensito/sensito/notebook/notebooktest"
)

// picturedTrial is a trial of two strips, the second read in a picture.
func picturedTrial(t *testing.T) *sensito.Trial {
	text, err := notebook.AppendStrip([]byte(notebooktest.Good), sensito.StripSpec{Minutes: 8, Picture: "negative-8.tif, 1f0c", Calibration: "bed, upper",
		BaseFog: []sensito.Density{0.104}, Density: []sensito.Density{1.31, 0.92, 0.611}}, sensito.Calibration{Name: "bed, upper", Repeatability: 0.006,
		Covariance: [3][3]float64{{4e-5, -3e-5, 1e-7}, {-3e-5, 9e-5, 0}, {1e-7, 0, 8e-6}}})
	require.NoError(t, err)
	trial, err := notebook.Read("t.toml", strings.NewReader(string(text)))
	require.NoError(t, err)
	return trial
}

// The figures of a calibration stand beside the strips of a table, and come back; the
// wide form says that it leaves them out.
func TestCalibrationsInTables(t *testing.T) {
	trial := picturedTrial(t)
	data, lost, err := Export(trial, "csv", "")
	require.NoError(t, err)
	assert.Empty(t, lost)
	assert.Contains(t, string(data), `"negative-8.tif, 1f0c","bed, upper",0.006,0.00004 -0.00003 1e-07 -0.00003 0.00009 0 1e-07 0 0.000008`)
	again, _ := imported(t, string(data), ImportOptions{})
	assert.Equal(t, notebooktest.Describe(trial), notebooktest.Describe(again))
	_, lost, err = Export(trial, "wide", "")
	require.NoError(t, err)
	assert.Contains(t, strings.Join(lost, "; "), "picture of strips, calibration of strips, calibration_repeatability of strips, calibration_covariance of strips")

	spec := trial.Spec()
	spec.Calibrations = append(spec.Calibrations, sensito.Calibration{Name: "spare", Repeatability: 0.01})
	spare, err := sensito.NewTrial(spec)
	require.NoError(t, err)
	_, lost, err = Export(spare, "csv", "")
	require.NoError(t, err)
	assert.Equal(t, []string{"calibrations that no strip was read by"}, lost)

	for _, c := range []struct{ name, old, new, want string }{
		{"eight numbers", " 0.000008", "", "has 8 numbers; a covariance has three times three, row by row"},
		{"no figures", "0.006,0.00004 -0.00003 1e-07 -0.00003 0.00009 0 1e-07 0 0.000008", ",", `"bed, upper" is the name of no [[calibration]]`},
		{"no name", `"bed, upper",0.006`, `,0.006`, "goes with calibration, its name"},
		{"no covariance", "0.00004 -0.00003 1e-07 -0.00003 0.00009 0 1e-07 0 0.000008", "", "is missing"},
		{"text in the covariance", "0.00009", "nine", `"nine" is not a number`},
	} {
		_, err := Import("x", strings.NewReader(strings.ReplaceAll(string(data), c.old, c.new)), ImportOptions{})
		assert.ErrorContains(t, err, c.want, c.name)
	}
	once := strings.Replace(string(data), "0.006,", "0.007,", 1)
	_, err = Import("x", strings.NewReader(once), ImportOptions{})
	assert.Error(t, err, "rows of one strip that differ")
}

// Strips that are added to a trial bring their calibration, unless the trial has it; the
// same name with other figures is refused, and the trial stays as it is.
func TestCalibrationsIntoTrial(t *testing.T) {
	from := picturedTrial(t)
	for _, form := range []string{"csv", "json", "toml"} {
		data, _, err := Export(from, form, "")
		require.NoError(t, err)
		text := strings.ReplaceAll(string(data), "1.31", "1.35") // no copy
		into, err := notebook.Read("t.toml", strings.NewReader(notebooktest.Good))
		require.NoError(t, err)
		found, err := Import("x", strings.NewReader(text), ImportOptions{Into: into})
		require.NoError(t, err, form)
		known := found.Trials[0].Trial.Calibrations()
		assert.Equal(t, from.Calibrations(), known, form)
		longer, _, err := AppendStrips([]byte(notebooktest.Good), []byte(notebooktest.Good), found.Trials[0].Strips, known...)
		require.NoError(t, err, form)
		assert.Equal(t, 1, strings.Count(string(longer), "[[calibration]]"), form)

		found, err = Import("x", strings.NewReader(text), ImportOptions{Into: from})
		require.NoError(t, err, form)
		assert.Len(t, found.Trials[0].Trial.Calibrations(), 1, form)

		other := strings.ReplaceAll(text, "0.006", "0.008")
		_, err = Import("x", strings.NewReader(other), ImportOptions{Into: from})
		assert.ErrorContains(t, err, "bed, upper is in the trial with other figures; give this one another name", form)
	}
}
