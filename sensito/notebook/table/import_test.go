package table

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sensito/sensito"
	"sensito/sensito/notebook/notebooktest"
)

// imported returns the only trial of a text.
func imported(t require.TestingT, text string, o ImportOptions) (*sensito.Trial, []string) {
	found, err := Import("x", strings.NewReader(text), o)
	require.NoError(t, err, "%q", text)
	require.Len(t, found.Trials, 1)
	return found.Trials[0].Trial, found.Guesses
}

// An exported trial is imported as the same trial.
func TestExportRoundTrip(t *testing.T) {
	for _, form := range []string{"csv", "cgats", "json", "toml"} {
		t.Run(form, func(t *testing.T) {
			rapid.Check(t, func(t *rapid.T) {
				trial := notebooktest.Trial().Draw(t, "trial")
				data, lost, err := Export(trial, form, "2026-03-01")
				require.NoError(t, err)
				if form == "cgats" { // whose field is a density
					in := trial.InDensity()
					require.Equal(t, in != trial, len(lost) > 0, "%v", lost)
					trial, lost = in, nil
				}
				require.Empty(t, lost)
				again, _ := imported(t, string(data), ImportOptions{})
				require.Equal(t, notebooktest.Describe(trial), notebooktest.Describe(again), "%s", data)
			})
		})
	}
}

// Every key that a notebook can have, but those of readings and exposures,
// stands in a column; one that is added there must be added here.
func TestColumnsCoverNotebook(t *testing.T) {
	covered := map[string]bool{}
	for _, c := range tableColumns {
		covered[c.key] = true
	}
	rapid.Check(t, func(t *rapid.T) {
		spec := notebooktest.Spec().Draw(t, "spec")
		spec.Q10, spec.Q10SD = 2.5, 0.1
		trial, err := sensito.NewTrial(spec)
		require.NoError(t, err)
		for table, v := range treeOf(trial) {
			switch v := v.(type) {
			case map[string]any:
				for name, inner := range v {
					if inner, ok := inner.(map[string]any); ok {
						for below := range inner {
							require.True(t, covered[table+"."+name+"."+below], "%s.%s.%s", table, name, below)
						}
						continue
					}
					if table == "paper" && name != "name" {
						table = "film"
					}
					require.True(t, covered[table+"."+name], "%s.%s", table, name)
				}
			case []any:
				for name := range v[0].(map[string]any) {
					require.True(t, covered[name] || name == colDensity || covered[table+"."+name] ||
						table == colCalibration && (name == "name" || covered[table+"_"+name]), "%s.%s", table, name) // which a table has beside its strips
				}
			default:
				require.True(t, covered[table] || table == "kind", table)
			}
		}
		data, _, err := Export(trial, "csv", "")
		require.NoError(t, err)
		again, _ := imported(t, string(data), ImportOptions{})
		require.Equal(t, notebooktest.Describe(trial), notebooktest.Describe(again))
	})
}

// The wide form gives back what it holds when the rest is said beside it.
func TestExportWideRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		trial := notebooktest.Trial().Filter(func(t *sensito.Trial) bool {
			for _, s := range t.Strips() {
				if s.Minutes() < 0.35 { // which a strip of paper may not state, or is asked for
					return false
				}
			}
			return true
		}).Draw(t, "trial")
		data, _, err := Export(trial, "wide", "")
		require.NoError(t, err)
		found, err := Import("x", strings.NewReader(string(data)), ImportOptions{Into: trial, Decimal: "point"})
		require.NoError(t, err, "%s", data)
		strips := found.Trials[0].Strips
		require.Len(t, strips, len(trial.Strips()))
		for i, s := range trial.Spec().Strips {
			assert.Equal(t, s.Minutes, strips[i].Minutes)
			require.Len(t, strips[i].Density, len(s.Density))
			for j, d := range s.Density {
				if d == d || strips[i].Density[j] == strips[i].Density[j] {
					assert.Equal(t, d, strips[i].Density[j])
				}
			}
			assert.Equal(t, len(s.BaseFog), len(strips[i].BaseFog))
		}
	})
}
