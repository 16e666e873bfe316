package sensito_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/entry"
)

// A trial, a log and a procedure are made of printed text wherever it comes from.
func TestTextOfDomain(t *testing.T) {
	for _, set := range []func(*sensito.TrialSpec, string){
		func(s *sensito.TrialSpec, bad string) { s.Title = bad },
		func(s *sensito.TrialSpec, bad string) { s.Film.Name = bad },
		func(s *sensito.TrialSpec, bad string) { s.Process.Developer = bad },
		func(s *sensito.TrialSpec, bad string) { s.Strips[0].Note = bad },
		func(s *sensito.TrialSpec, bad string) {
			s.Done = []sensito.Done{{Date: "2026-03-05", Minutes: 6, Note: bad}}
		},
	} {
		e, err := sensito.NewContact(2, 0.5, sensito.EvenWedge(0.05, 0.15, 3))
		require.NoError(t, err)
		spec := sensito.TrialSpec{Film: sensito.Film{Name: "Tern 400"}, Exposures: e, Strips: []sensito.StripSpec{{Minutes: 8, Density: []sensito.Density{1.1, 0.8, 0.5}}}}
		set(&spec, "good")
		trial, err := sensito.NewTrial(spec)
		require.NoError(t, err)
		set(&spec, "bad\x1b[2J")
		_, err = sensito.NewTrial(spec)
		assert.ErrorContains(t, err, "U+001B")

		k := entry.NewKeying(trial, 1)
		require.NoError(t, k.Note("scratched"))
		before := k.Spec().Note
		assert.ErrorContains(t, k.Note("\u202e"), "U+202E")
		assert.ErrorContains(t, k.Note(strings.Repeat("x", 2000)), "longer than 2000")
		assert.Equal(t, before, k.Spec().Note)
	}
}
