package table

import (
	"bytes"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"sensito/sensito/notebook"
	"sensito/sensito/notebook/internal/grammar"
	"sensito/sensito/notebook/notebooktest"
)

// FuzzImportCSV checks that whatever a table holds, an import gives trials or
// faults with their lines, never both; and that what was imported is imported
// again as the same from its exports.
func FuzzImportCSV(f *testing.F) {
	for _, c := range badTables {
		f.Add([]byte(c.text), true)
	}
	f.Add([]byte(longTable1), true)
	f.Add([]byte(strings.NewReplacer(",", ";", ".", ",", "\n", "\r\n").Replace(longTable1)), true)
	f.Add([]byte("step,wedge,4:00,5:30\nbase,,0.09,0.10\n1,0.05,1.25,1.46\n2,0.20,1.17,1.37\n3,0.35,nan,1.31\n"), true)
	f.Add([]byte("minutes;base + fog;1;2;3\n4;0,09;1,25;1,17;\n5 min 30 s;0,10 0,11;1,46;1,37;1,31\n"), false)
	for _, name := range []string{"larkfield-brinewater", "slate", "larkfield-camera"} {
		trial, err := notebook.ReadFile(filepath.Join(demo, name+".toml"))
		require.NoError(f, err)
		for _, form := range []string{"csv", "wide", "json", "cgats"} {
			data, _, err := Export(trial, form, "2026-03-01")
			require.NoError(f, err)
			f.Add(data, true)
		}
	}
	pictured := notebooktest.Good + "\n[[calibration]]\nname = \"bed\"\nrepeatability = 0.006\ncovariance = [[4e-5, -3e-5, 0], [-3e-5, 9e-5, 0], [0, 0, 1e-7]]\n" +
		"[[strip]]\nminutes = 8\npicture = \"8.tif, 1f0c\"\ncalibration = \"bed\"\ndensity = [1.314, 0.921, 0.611]\n"
	trial, err := notebook.Read("t.toml", strings.NewReader(pictured))
	require.NoError(f, err)
	for _, form := range []string{"csv", "json", "cgats"} {
		data, _, err := Export(trial, form, "2026-03-01")
		require.NoError(f, err)
		f.Add(data, true)
	}
	f.Fuzz(func(t *testing.T, data []byte, lit bool) {
		if bytes.HasPrefix(data, []byte("PK")) || bytes.HasPrefix(data, []byte("\xd0\xcf")) {
			return // a workbook, which has a target of its own
		}
		o := ImportOptions{}
		if lit {
			o.Values = map[string]string{"film": "F", "minutes": "5", "illuminance_lx": "2", "seconds": "1"}
		}
		result, err := Import("x", bytes.NewReader(data), o)
		if err != nil {
			require.Nil(t, result.Trials)
			var all grammar.Errors
			require.True(t, errors.As(err, &all), "%T", err)
			require.NotEmpty(t, all)
			for _, e := range all {
				require.Positive(t, e.Line)
				require.NotEmpty(t, e.Msg)
			}
			require.NotEmpty(t, err.Error())
			return
		}
		for _, found := range result.Trials {
			require.Len(t, found.Strips, len(found.Trial.Strips()))
			for _, form := range []string{"csv", "json", "cgats", "toml"} {
				data, lost, err := Export(found.Trial, form, "2026-03-01")
				require.NoError(t, err)
				require.Empty(t, lost)
				again, _ := imported(t, string(data), ImportOptions{})
				require.Equal(t, notebooktest.Describe(found.Trial), notebooktest.Describe(again), "%s", data)
			}
		}
	})
}

// The sample files of the format are imported where they have what a trial needs.
func TestImportCGATSSamples(t *testing.T) {
	data, err := os.ReadFile("../../../testdata/cgats/valid_basic.txt")
	require.NoError(t, err)
	trial, guesses := imported(t, string(data), ImportOptions{Values: wedge21})
	require.Len(t, trial.Strips(), 1)
	steps := trial.Strips()[0].Steps()
	require.Len(t, steps, 21)
	require.InDelta(t, 1.91, float64(steps[20].Density), 1e-12)
	require.Equal(t, []string{"FILE_DESCRIPTOR is read as the title",
		"not used: ORIGINATOR, CREATED, INSTRUMENTATION, MEASUREMENT_GEOMETRY, WEIGHTING_FUNCTION", "each row is a reading",
		"exposures are of the kind contact"}, guesses)
}

var wedge21 = map[string]string{"film": "F", "minutes": "8", "illuminance_lx": "2", "seconds": "1", "wedge_first": "0.05", "wedge_step": "0.15", "wedge_count": "21"}
