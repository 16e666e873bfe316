package notebook

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/notebook/notebooktest"
)

func TestReadPaper(t *testing.T) {
	trial := read(t, notebooktest.GoodPaper)
	assert.Equal(t, sensito.PaperMaterial, trial.Material())
	assert.Equal(t, sensito.Film{Name: "Slate"}, trial.Film())
	require.Len(t, trial.Strips(), 1)
	s := trial.Strips()[0]
	assert.Equal(t, "2", s.Grade())
	assert.Zero(t, s.Minutes(), "not stated")
	assert.Equal(t, []sensito.Density{0.06}, s.BaseFog())
	assert.Equal(t, sensito.Density(1.90), s.Steps()[2].Density)
}

func TestGrades(t *testing.T) {
	for text, want := range map[string]string{
		`grade = 2`: "2", `grade = 2.5`: "2.5", `grade = 3.0`: "3", `grade = "2"`: "2", `filter = "00"`: "00", `filter = 0`: "0",
		`filter = "3 1/2"`: "3 1/2", `grade = "special"`: "special", `minutes = 2`: "",
	} {
		s := read(t, strings.Replace(notebooktest.GoodPaper, "grade = 2", text, 1)).Strips()[0]
		assert.Equal(t, want, s.Grade(), text)
	}
}

func TestKindFilm(t *testing.T) {
	trial := read(t, in(`title = "T"`, `kind = "film"`))
	assert.Equal(t, sensito.FilmMaterial, trial.Material())
	assert.Equal(t, "Larkfield 125", trial.Film().Name)
	assert.Empty(t, trial.Strips()[0].Grade())
}
