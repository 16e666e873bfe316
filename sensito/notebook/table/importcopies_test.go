package table

import (
	"bytes"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/notebook"
	"sensito/sensito/notebook/notebooktest"
	"sensito/sensito/notebook/store"
)

// Strips that were made for a trial go to it though others have added theirs, but
// not to a trial that says something else by then.
func TestAppendStrips(t *testing.T) {
	seen := []byte(notebooktest.Commented)
	mine := []sensito.StripSpec{
		{Minutes: 9, Density: []sensito.Density{1.5, 1.0, 0.5}},
		{Minutes: 11, Density: []sensito.Density{1.7, 1.1, 0.5}},
	}
	others, err := notebook.AppendStrip(seen, sensito.StripSpec{Minutes: 13, Density: []sensito.Density{1.8, 1.2, 0.6}})
	require.NoError(t, err)
	others, err = notebook.AppendDone(others, sensito.Done{Date: "2026-03-01", Minutes: 7})
	require.NoError(t, err)
	others = append([]byte("# a remark\n"), others...)
	text, left, err := AppendStrips(others, seen, mine)
	require.NoError(t, err)
	assert.Empty(t, left)
	assert.True(t, bytes.HasPrefix(text, others))
	trial, err := notebook.Read("the file", bytes.NewReader(text))
	require.NoError(t, err)
	var minutes []float64
	for _, s := range trial.Strips() {
		minutes = append(minutes, float64(s.Minutes()))
	}
	assert.Equal(t, []float64{5.5, 7, 13, 9, 11}, minutes)

	for _, change := range [][2]string{{"0.35]", "0.40]"}, {"Ashlar", "Brinewater"}, {`"T"`, `"U"`}, {"exponent = 1.3", "exponent = 1.2"}} {
		text, _, err := AppendStrips(bytes.Replace(seen, []byte(change[0]), []byte(change[1]), 1), seen, mine)
		assert.ErrorIs(t, err, store.ErrChanged, change[0])
		assert.Nil(t, text)
	}
	_, _, err = AppendStrips([]byte("[film"), seen, mine)
	assert.ErrorContains(t, err, "is missing", "a broken file is told as such")
}
