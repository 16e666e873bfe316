package entry_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/entry"
	"sensito/sensito/internal/blind"
	"sensito/sensito/internal/simulated"
)

// inOrder keys in a list of readings for a new strip of a trial, with nobody to
// ask, and returns what is wrong with their order. fog are readings of base plus
// fog that a line says to be that.
func inOrder(t testing.TB, trial *sensito.Trial, fog, list []sensito.Density, stated bool) error {
	t.Helper()
	k := entry.NewKeying(trial, 1)
	k.InOrder()
	if len(fog) > 0 {
		require.NoError(t, k.Fog(fog...))
	}
	if stated {
		k.StateOrder()
	}
	for _, d := range list {
		if err := k.CheckOrder(d); err != nil {
			return err
		}
		require.NoError(t, k.Read(d))
	}
	return nil
}

// TestOrderBlind keys in lists of readings of films that no rule was made for, read
// from either end of the wedge, with and without other strips of the film: those
// that are in order, and those that are not. SENSITO_BLIND runs so many times as
// many.
func TestOrderBlind(t *testing.T) {
	t.Parallel()
	rounds := blind.Effort(t)
	kinds := []string{"in order", "base plus fog first", "base plus fog first, two steps short", "reversed"}
	lists, refused := make([]int, len(kinds)), make([]int, len(kinds))
	for others := range 3 {
		for _, p := range []simulated.Practice{simulated.Ordinary, simulated.Careless} {
			for class := range simulated.ClassNames {
				r := rand.New(rand.NewPCG(uint64(others), uint64(class)))
				for range rounds {
					k, _, s := keyed(t, p, r, class, others)
					if len(s.BaseFog) == 0 {
						continue // its base plus fog is not known here
					}
					spec := k.trial.Spec()
					empty := spec.Strips[0]
					empty.BaseFog, empty.NextStep = nil, 1
					empty.Density = slices.Repeat([]sensito.Density{sensito.Density(math.NaN())}, len(s.Density))
					spec.Strips[0] = empty
					trial, err := sensito.NewTrial(spec)
					require.NoError(t, err)
					fogFirst := slices.Concat(s.BaseFog, s.Density)
					reversed := slices.Clone(s.Density)
					slices.Reverse(reversed)
					for i, got := range []error{
						inOrder(t, trial, s.BaseFog, s.Density, true),
						inOrder(t, trial, nil, fogFirst, false),
						inOrder(t, trial, nil, fogFirst[:len(fogFirst)-2], false),
						inOrder(t, trial, s.BaseFog, reversed, true),
					} {
						lists[i]++
						if got != nil {
							refused[i]++
						}
					}
				}
			}
		}
	}
	for i, kind := range kinds {
		t.Logf("%s: %d of %d refused", kind, refused[i], lists[i])
	}
	assert.LessOrEqual(t, 200*refused[0], lists[0], "lists in order")
	assert.Equal(t, lists[1:], refused[1:], "lists that are not")
}

// Where the order was lost, and what is expected while a strip is read again.
func TestCheckOrder(t *testing.T) {
	nan := sensito.Density(math.NaN())
	empty := sensito.StripSpec{Minutes: 8, NextStep: 1, Density: slices.Repeat([]sensito.Density{nan}, simulated.Usual.Steps)}
	trial := simulated.Bench{Lamp: 0.5, Kit: simulated.Usual}.Trial(t, empty)
	right := []sensito.Density{2.10, 2.02, 1.94, 1.86, 1.77}

	k := entry.NewKeying(trial, 1)
	k.InOrder()
	var out *entry.OrderError
	require.ErrorAs(t, k.CheckOrder(0.12), &out)
	assert.Equal(t, 1, out.Step)
	assert.False(t, k.Begun())
	for i, d := range []sensito.Density{1.20, 1.28, 1.35} {
		require.NoError(t, k.CheckOrder(d), i)
		require.NoError(t, k.Read(d))
	}
	require.ErrorAs(t, k.CheckOrder(1.42), &out)
	assert.Equal(t, 1, out.Step)
	assert.Equal(t, 1, k.At())
	assert.Equal(t, 1, k.Spec().NextStep)
	assert.Equal(t, sensito.Density(1.28), k.Spec().Density[1], "what was read stays")

	k.InOrder()
	for i, d := range right {
		require.NoError(t, k.CheckOrder(d), i)
		require.NoError(t, k.Read(d))
	}
	assert.False(t, k.Contrary())
	require.NoError(t, k.CheckOrder(0.40), "one may be a slip")
	require.NoError(t, k.Read(0.40))
	require.ErrorAs(t, k.CheckOrder(0.30), &out)
	assert.Equal(t, 6, out.Step)
	assert.Equal(t, 6, k.At())

	require.NoError(t, k.GoTo(20))
	require.NoError(t, k.Read(0.2))
	require.NoError(t, k.Read(0.15))
	require.ErrorAs(t, k.CheckOrder(0.12), &out)
	assert.Equal(t, 1, k.Spec().NextStep, "after the last step none is sure")
	assert.EqualError(t, k.GoTo(0), "there is no step 0 of 21")
	assert.EqualError(t, k.GoTo(22), "there is no step 22 of 21")
	require.NoError(t, k.GoTo(3))
	assert.Equal(t, 3, k.At())
}

// A note to a strip that is complete leaves it so; another reading begins again.
func TestKeyingComplete(t *testing.T) {
	s := simulated.Bench{Lamp: 0.5, Kit: simulated.Usual, BaseRead: 1}.Read(rand.New(rand.NewPCG(1, 1)), simulated.Ordinary.Film(rand.New(rand.NewPCG(1, 2)), 0))
	k := entry.NewKeying(simulated.Bench{Lamp: 0.5, Kit: simulated.Usual}.Trial(t, s), 1)
	k.Note("from the second box")
	require.NoError(t, k.Fog(0.12))
	assert.Zero(t, k.Spec().NextStep)
	require.NoError(t, k.Read(s.Density[0]))
	assert.Equal(t, 2, k.Spec().NextStep)
}
