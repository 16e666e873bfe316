//go:build linux || darwin

package main

import (
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/notebook"
)

// A keyedSitting is a sitting whose keys are counted.
type keyedSitting struct {
	*sitting
	keys     int
	readings int // of them for readings of steps
}

// sitCounted starts sensito, whose command line counts with its Enter.
func sitCounted(t *testing.T, dir string, args ...string) *keyedSitting {
	s := &keyedSitting{sitting: sit(t, dir, args...), keys: len("sensito")}
	for _, arg := range args {
		s.keys += 1 + len(arg)
	}
	s.keys += len("\r")
	return s
}

func (s *keyedSitting) line(prompt, text string) {
	s.t.Helper()
	s.sitting.line(prompt, text)
	s.keys += len(text) + len("\r")
}

// aFilm returns the readings of a film developed for so many minutes under a wedge of
// 21 steps, in hundredths: invented, a toe, a line and no shoulder.
func aFilm(minutes float64) []sensito.Density {
	var out []sensito.Density
	for step := range 21 {
		x := 3 - (0.05 + 0.15*float64(step)) // log H above the foot of the wedge
		slope := 0.9 * (1 - math.Exp(-minutes/8))
		d := 0.11 + slope*0.25*math.Log1p(math.Exp((x-0.5)/0.25))
		out = append(out, sensito.Density(math.Round(100*d)/100))
	}
	return out
}

// times of the five strips.
var fiveTimes = []string{"5", "6:30", "8:30", "11", "14"}

// keyIn keys in a complete trial of five strips of 21 steps, and returns the keys
// that took; offered says that the times are those of the trial before.
func keyIn(t *testing.T, s *keyedSitting, offered bool) {
	t.Helper()
	for i, text := range fiveTimes {
		m, err := sensito.ParseMinutes(text)
		require.NoError(t, err)
		if offered {
			text = ""
		}
		if i == 0 {
			s.line("Strip 1, minutes", text)
		} else {
			s.line(fmt.Sprintf("strip %d, minutes", i+1), text)
		}
		s.line("reading 1 of 2", "11")
		s.line("reading 2 of 2", "12")
		for step, d := range aFilm(float64(m)) {
			before := s.keys
			s.line(fmt.Sprintf("step %d of 21,", step+1), fmt.Sprintf("%d", int(math.Round(100*float64(d)))))
			s.readings += s.keys - before
		}
	}
	s.line("strip 6, minutes", map[bool]string{true: ""}[offered])
	s.leaves()
}

// From nothing to a complete trial of five strips of 21 steps takes less than 600
// keys, the command line included, and less where the notebook has one already.
// A reading is one of three figures at most and Enter.
func TestEnterCountsKeys(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	s := sitCounted(t, dir, "enter", "tern.toml")
	s.line("What it is", "")
	s.line("Film:", "Tern 400")
	s.line("Speed on its box [400]:", "")
	s.line("Developer", "Ashlar 1+4")
	s.line("Temperature", "20")
	s.line("Agitation", "c")
	s.line("Readings in", "")
	s.line("zeroed on", "")
	s.line("Exposed", "")
	s.line("Steps of the wedge", "")
	s.line("Density of its step 1", "")
	s.line("Density from step to step", "")
	s.line("Light at the film", "2")
	s.line("Exposure, seconds", "1/2")
	keyIn(t, s, false)
	t.Logf("from nothing: %d keys, %d of them for readings of steps", s.keys, s.readings)
	const mostReadings = 5 * 21 * len("113\r") // of a film all of whose readings have three figures
	assert.Less(t, s.keys-s.readings+mostReadings, 600)
	first := s.keys

	s = sitCounted(t, dir, "enter", "lark.toml")
	s.line("What it is", "")
	s.line("Film:", "Larkfield 125")
	s.line("Speed on its box [125]:", "")
	s.line("Developer, dilution, like Ashlar 1+4 [Ashlar 1+4]:", "")
	s.line("Temperature, °C or 68F [20]:", "")
	s.line("Agitation", "")
	s.line("Readings in", "")
	s.line("zeroed on", "")
	s.line("Exposed as tern.toml (wedge of 21 steps, 2 lx, 0.5 s): yes or no [yes]:", "")
	keyIn(t, s, true)
	t.Logf("after another trial: %d keys", s.keys)
	assert.Less(t, s.keys, first-20)

	var trials []*sensito.Trial
	for _, name := range []string{"tern.toml", "lark.toml"} {
		trial, err := notebook.ReadFile(filepath.Join(dir, name))
		require.NoError(t, err)
		require.Len(t, trial.Strips(), 5)
		for i, strip := range trial.Strips() {
			m, _ := sensito.ParseMinutes(fiveTimes[i])
			assert.Equal(t, m, strip.Minutes())
			assert.Equal(t, []sensito.Density{0.11, 0.12}, strip.BaseFog())
			assert.InDeltaSlice(t, floats(aFilm(float64(m))), floats(strip.Spec().Density), 1e-9)
			assert.Zero(t, strip.NextStep())
		}
		trials = append(trials, trial)
	}
	assert.Equal(t, trials[0].Exposures().LogH(), trials[1].Exposures().LogH())
	assert.Equal(t, sensito.Speed(125), trials[1].Film().RatedSpeed)
	assert.Equal(t, trials[0].Process(), trials[1].Process())
}

func floats(ds []sensito.Density) []float64 {
	return slices.Collect(func(yield func(float64) bool) {
		for _, d := range ds {
			if !yield(float64(d)) {
				return
			}
		}
	})
}
