package plot

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/plot/plotter"

	"sensito/sensito/compare"
	"sensito/sensito/development"
	"sensito/sensito/notebook"
	"sensito/sensito/scene"
)

// The axes of a drawing are of the trial's times and speeds, so what is marked there
// is as tested, and the notes say what to do today.
func TestTodayIsDrawnAsTested(t *testing.T) {
	f := family(t, demo(t, "larkfield-brinewater"))
	log, err := notebook.ReadControlFile("../cmd/sensito/demo/control.toml")
	require.NoError(t, err)
	o := Options{Title: "x", Confidence: 0.95}
	tested, err := scene.For(f, sceneOf(7))
	require.NoError(t, err)
	for name, today := range map[string]scene.Today{
		"today: 23 °C drifting to 21 °C, 1+24": {Conditions: development.Conditions{TemperatureC: new(23.0), EndC: new(21.0), Dilution: "1+24"}},
		"today: process of 2026-06-04":         {Control: log, Correct: true},
	} {
		asked := sceneOf(7)
		asked.Today = today
		p, err := scene.For(f, asked)
		require.NoError(t, err)
		require.NotEqual(t, planned(tested.Minutes.Value), planned(p.Minutes.Value))

		m := newMark(p, 0.95)
		assert.InDelta(t, float64(tested.Minutes.Value), m.minutes, 1e-9, name)
		assert.Equal(t, planned(tested.Minutes.Value)+" for 7 stops, as tested", m.label)
		n := sceneNote(p, o)
		assert.Equal(t, []string{develop(p.Minutes, 0.95), name, "as tested " + planned(tested.Minutes.Value) + ", as drawn"}, []string(n[:3]))
		b, err := newFamilyBody(f, p, o)
		require.NoError(t, err)
		assert.Equal(t, []string{develop(p.Minutes, 0.95), name}, []string(b.note[:2]))

		r, err := scene.ForRoll(f, asked, []scene.Frame{{Name: "lamp", Stops: 7}, {Name: "door", Stops: 6}})
		require.NoError(t, err)
		roll := newRoll(r, o)
		assert.InDelta(t, float64(r.Tested().Minutes.Value), roll.mark.minutes, 1e-9)
		assert.Contains(t, roll.note, name)

		asked.Stops = 7
		c, err := compare.Compare([]*development.Family{f, family(t, demo(t, "larkfield-ashlar"))}, compare.Options{Scene: asked})
		require.NoError(t, err)
		first := c.Trials[0].Answer.Tested()
		line := timePanel(c, o).lines[0]
		assert.InDelta(t, float64(first.Minutes.Value), line.dot.X, 1e-9, "the dot lies on the line")
		at := c.Trials[0].GradientAt(first.Minutes.Value)
		assert.InDelta(t, c.Gradient, at, 1e-3)
		aligned := alignedPanel(c, o).lines[0].along
		i := slices.IndexFunc(aligned, func(xy plotter.XY) bool { return xy.X >= 0 })
		left, right := aligned[i-1], aligned[i]
		assert.InDelta(t, 0.10, left.Y-(right.Y-left.Y)*left.X/(right.X-left.X), 0.002, "the curve is laid on its own speed point, corrected or not")
	}
	assert.Empty(t, ofToday(nil))
	assert.Empty(t, ofToday(&scene.Adjustment{}))
	assert.False(t, strings.Contains(newMark(tested, 0.95).label, "tested"))
}

// A card says of each of today's changes what it makes of the times.
func TestCardTellsConditionsAndProcessApart(t *testing.T) {
	log, err := notebook.ReadControlFile("../cmd/sensito/demo/control.toml")
	require.NoError(t, err)
	warm := development.Conditions{TemperatureC: new(24.0)}
	const conditions, process = "Times are 0.74 ±0.06 of those tested, for the conditions; temperature coefficient 2.10 ±0.42", "Times are 23 ±2 % longer, for the process of 2026-06-04"
	for _, c := range []struct {
		today scene.Today
		want  []string
	}{
		{scene.Today{Conditions: warm}, []string{conditions}},
		{scene.Today{Control: log, Correct: true}, []string{process}},
		{scene.Today{Conditions: warm, Control: log, Correct: true}, []string{conditions, process}},
	} {
		card, err := scene.NewCard(family(t, demo(t, "larkfield-brinewater")), scene.Scene{Today: c.today})
		require.NoError(t, err)
		lines := newCard(card, Options{Title: "x"}).lines
		assert.Equal(t, c.want, lines[2:len(lines)-1], "between the aim and the dates")
	}
}
