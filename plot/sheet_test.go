package plot

import (
	"bytes"
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/recorder"

	"sensito/plot/internal/figure"
	"sensito/plot/internal/plottest"
	"sensito/sensito"
	"sensito/sensito/darkroom"
	"sensito/sensito/notebook"
	"sensito/sensito/scene"
)

// usual is the procedure that comes with the program.
func usual(t testing.TB) *darkroom.Procedure {
	t.Helper()
	p, err := notebook.ReadProcedureFile("../cmd/sensito/demo/procedure.toml")
	require.NoError(t, err)
	return p
}

// session returns a sheet for a scene of seven stops in a vessel.
func session(t testing.TB, p *darkroom.Procedure, films, vessel string, change func(*darkroom.SheetSpec)) *darkroom.Sheet {
	t.Helper()
	f := plottest.Family(t, plottest.Demo(t, "larkfield-brinewater"))
	answer, err := scene.For(f, plottest.SceneOf(7))
	require.NoError(t, err)
	spec := darkroom.SheetSpec{Procedure: p, Date: "2026-03-05"}
	spec.Films, err = sensito.ParseFilms(films)
	require.NoError(t, err)
	spec.Vessel, err = darkroom.ParseVessel(vessel)
	require.NoError(t, err)
	spec = spec.ForAnswer(answer)
	if change != nil {
		change(&spec)
	}
	s, err := darkroom.NewSheet(spec)
	require.NoError(t, err)
	return s
}

// stepsOf returns a procedure of so many steps, with names and notes of so many
// words.
func stepsOf(t testing.TB, n, words int) *darkroom.Procedure {
	t.Helper()
	spec := darkroom.ProcedureSpec{Title: "Long"}
	for i := range n {
		s := darkroom.ProcessStep{Name: strings.TrimSpace(strings.Repeat("Soak ", words)), Minutes: 100, DrainSeconds: 15, Dark: i < 4,
			Agitation: strings.Repeat("over and over ", words), Note: strings.Repeat("mind the sleeve ", words),
			Bath: darkroom.Bath{Name: "water"}}
		if i%3 == 0 {
			s.Bath = darkroom.Bath{Name: fmt.Sprintf("bath number %d of the row", i+1), Dilution: "1+31", Mixed: "2026-03-01", Capacity: "10 films/l"}
		}
		if i == n/2 {
			s = darkroom.ProcessStep{Name: "Develop", From: darkroom.TimeFromPlan, Dark: s.Dark}
		}
		spec.Steps = append(spec.Steps, s)
	}
	p, err := darkroom.NewProcedure(spec)
	require.NoError(t, err)
	return p
}

// sheets are the sheets worth looking at.
func sheets(t testing.TB) map[string]*darkroom.Sheet {
	return map[string]*darkroom.Sheet{
		"tray":   session(t, usual(t), "6x 4x5in", "tray 1l", nil),
		"drum":   session(t, usual(t), "2x 120", "drum 500ml, 50 turns a minute, turned about", func(s *darkroom.SheetSpec) { s.Note = "Lamp room at dusk" }),
		"one":    session(t, stepsOf(t, 1, 1), "135-36", "tank 300ml", nil),
		"twelve": session(t, stepsOf(t, 12, 2), "4x 4x5in", "open tank 3l", nil),
	}
}

func TestSheetSaysWhatToDo(t *testing.T) {
	s := sheets(t)["tray"]
	fig, err := Sheet(s, Options{})
	require.NoError(t, err)
	var all []string
	for _, box := range plottest.Texts(t, fig) {
		all = append(all, box.Text)
	}
	text := strings.Join(all, " ")
	for _, want := range []string{"Larkfield 125 in Brinewater 1+19, 2026-03-05", "Develop 5:55 at 20 °C", "Brinewater 1+19", "50 ml into water, to make 1000 ml",
		"kept, 20 films/l", "Pre-soak: water", "drain from 6:45", "7:20", "twice the clearing time", "Light is safe from step 5, Rinse.",
		"The time of the developer is critical.", "6 sheets in the tray", figure.Caution, "verify on your own process", "Never mix acids or bleach with fixer", "never water into it"} {
		assert.Contains(t, text, want)
	}
	b := fig.Body().(*sheetBody)
	require.Len(t, b.steps, 8)
	assert.Equal(t, []bool{true, true, true, true, false, false, false, false}, []bool{b.steps[0].dark, b.steps[1].dark, b.steps[2].dark, b.steps[3].dark, b.steps[4].dark, b.steps[5].dark, b.steps[6].dark, b.steps[7].dark})
	assert.True(t, b.steps[1].critical)
	assert.False(t, b.steps[2].critical)
}

// Each change of the wash has a box to tick, those of many on several lines.
func TestSheetTicksChanges(t *testing.T) {
	for _, n := range []int{2, 10, 60} {
		spec := usual(t).Spec()
		wash := &spec.Steps[5]
		require.Equal(t, "Wash", wash.Name)
		wash.Minutes, wash.Changes = 0.5, n
		p, err := darkroom.NewProcedure(spec)
		require.NoError(t, err)
		fig, err := Sheet(session(t, p, "135-36", "tank 300ml", nil), Options{})
		require.NoError(t, err)
		plottest.RequireReadable(t, fig)
		var rec recorder.Canvas
		fig.Draw(&rec)
		boxes := 0
		side := boxSide * fig.Body().(*sheetBody).size
		for _, a := range rec.Actions {
			if s, ok := a.(*recorder.Stroke); ok && len(s.Path) == 5 && math.Abs(float64(s.Path[1].Pos.X-s.Path[0].Pos.X-side)) < 1e-6 {
				boxes++
				assert.Greater(t, s.Path[0].Pos.X, sheetMargin)
				assert.Less(t, s.Path[1].Pos.X, fig.Width-sheetMargin)
			}
		}
		assert.Equal(t, n, boxes)
	}
}

// Large type: at arm's length 9 points are read.
func TestSheetsAreReadable(t *testing.T) {
	for name, s := range sheets(t) {
		for _, p := range SheetPages() {
			fig, err := Sheet(s, Options{Width: p.Width, Height: p.Height})
			require.NoError(t, err)
			plottest.RequireReadable(t, fig)
			assert.GreaterOrEqual(t, float64(fig.Body().(*sheetBody).size), map[bool]float64{true: 8.5, false: 11}[name == "twelve"], "%s on %s", name, p.Name)
		}
	}
	long := "A title that is a good deal longer than any page of the usual width can hold on one line, and then goes on: Larkfield 125 in Brinewater 1+19"
	fig, err := Sheet(sheets(t)["drum"], Options{Title: long})
	require.NoError(t, err)
	plottest.RequireReadable(t, fig)
	b := fig.Body().(*sheetBody)
	var c recorder.Canvas
	fig.Draw(&c)
	title := ""
	for _, action := range c.Actions {
		if a, ok := action.(*recorder.FillString); ok && a.Size == sheetTitle*b.size {
			title += a.String + " "
		}
	}
	assert.Contains(t, title, long, "whole, all of it as large")
}

func TestSheetTooSmall(t *testing.T) {
	_, err := Sheet(session(t, stepsOf(t, 24, 8), "4x 4x5in", "tank 1l", nil), Options{})
	assert.ErrorContains(t, err, "24 steps with all that is said of them do not go on a page of 210 by 297 mm")
	_, err = Sheet(sheets(t)["tray"], Options{Width: 60 * vg.Millimeter, Height: 100 * vg.Millimeter})
	assert.ErrorContains(t, err, "60 by 100 mm")
	_, err = SheetPageNamed("a6")
	assert.EqualError(t, err, `"a6" is not a page for a process sheet; use a4 or letter`)
}

func TestSheetWrites(t *testing.T) {
	fig, err := Sheet(sheets(t)["tray"], Options{})
	require.NoError(t, err)
	var out bytes.Buffer
	require.NoError(t, Write(&out, fig, PDF))
	assert.Contains(t, out.String(), "/MediaBox [0 0 595.28 841.89]")
}
