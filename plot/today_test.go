package plot

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/plot/plotter"

	"sensito/plot/internal/figure"
	"sensito/plot/internal/parts"
	"sensito/plot/internal/plottest"
	"sensito/sensito"
	"sensito/sensito/compare"
	"sensito/sensito/development"
	"sensito/sensito/notebook"
	"sensito/sensito/scene"
)

// The axes of a drawing are of the trial's times and speeds, so what is marked there
// is as tested, and the notes say what to do today.
func TestTodayIsDrawnAsTested(t *testing.T) {
	f := plottest.Family(t, plottest.Demo(t, "larkfield-brinewater"))
	log, err := notebook.ReadControlFile("../cmd/sensito/demo/control.toml")
	require.NoError(t, err)
	o := Options{Title: "x", Confidence: 0.95}
	tested, err := scene.For(f, plottest.SceneOf(7))
	require.NoError(t, err)
	for name, today := range map[string]scene.Today{
		"today: 23 °C drifting to 21 °C, 1+24": {Conditions: development.Conditions{TemperatureC: new(23.0), EndC: new(21.0), Dilution: "1+24"}},
		"today: process of 2026-06-04":         {Control: log, Correct: true},
	} {
		asked := plottest.SceneOf(7)
		asked.Today = today
		p, err := scene.For(f, asked)
		require.NoError(t, err)
		require.NotEqual(t, parts.Planned(tested.Minutes.Value), parts.Planned(p.Minutes.Value))

		m := newMark(p, 0.95)
		assert.InDelta(t, float64(tested.Minutes.Value), m.minutes, 1e-9, name)
		assert.Equal(t, parts.Planned(tested.Minutes.Value)+" for 7 stops, as tested (today "+parts.Planned(p.Minutes.Value)+")", m.label)
		assert.Contains(t, setAndDevelop(p, 0.95), parts.Develop(p.Minutes, 0.95))
		assert.Contains(t, plateHeading(p, &o).Sub, "\n"+name+"; as tested "+parts.Planned(tested.Minutes.Value)+" and EI ")
		b, err := newFamilyBody(f, nil, p, &Options{Confidence: 0.95})
		require.NoError(t, err)
		assert.Equal(t, "Develop"+strings.TrimPrefix(parts.Develop(p.Minutes, 0.95), "develop")+" for 7 stops, as tested and drawn "+parts.Planned(tested.Minutes.Value), b.Title)
		assert.Contains(t, b.Sub, name)

		r, err := scene.ForRoll(f, asked, []scene.Frame{{Name: "lamp", Stops: 7}, {Name: "door", Stops: 6}})
		require.NoError(t, err)
		roll := newRoll(r, &o)
		for _, row := range roll.rows {
			i := slices.IndexFunc(r.Frames, func(f scene.RollFrame) bool { return f.Name == row.names[0] })
			assert.InDelta(t, float64(r.DensityRangeAt(i, r.Tested().Minutes.Value)), row.at.X, 1e-9)
		}
		assert.Contains(t, roll.Sub, "\n"+name+"; as tested "+parts.Planned(r.Tested().Minutes.Value)+" and EI ")

		asked.Stops = 7
		c, err := compare.Compare([]*development.Family{f, plottest.Family(t, plottest.Demo(t, "larkfield-ashlar"))}, compare.Options{Scene: asked})
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
	assert.Empty(t, figure.OfToday(nil))
	assert.Empty(t, figure.OfToday(&scene.Adjustment{}))
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
		card, err := scene.NewCard(plottest.Family(t, plottest.Demo(t, "larkfield-brinewater")), scene.Scene{Today: c.today})
		require.NoError(t, err)
		lines := newCard(card, Options{Title: "x"}).lines
		assert.Equal(t, c.want, lines[2:len(lines)-1], "between the aim and the dates")
	}
}

// Where the process is out of control and nothing is corrected, every drawing of
// times says so.
func TestUncorrectedIsSaid(t *testing.T) {
	f := plottest.Family(t, plottest.Demo(t, "larkfield-brinewater"))
	const said = "The process of 2026-06-04 is out of control, and nothing is corrected for it."
	for _, correct := range []bool{false, true} {
		asked := plottest.SceneOf(7)
		asked.Today = scene.Today{Control: demoLog(t), Correct: correct}
		p, err := scene.For(f, asked)
		require.NoError(t, err)
		r, err := scene.ForRoll(f, asked, []scene.Frame{{Name: "lamp", Stops: 7}, {Name: "door", Stops: 6}})
		require.NoError(t, err)
		card, err := scene.NewCard(f, scene.Scene{Today: asked.Today})
		require.NoError(t, err)
		table, err := card.Temperatures()
		require.NoError(t, err)
		c, err := compare.Compare([]*development.Family{f, plottest.Family(t, plottest.Demo(t, "larkfield-ashlar"))}, compare.Options{Scene: asked})
		require.NoError(t, err)
		drawn := func(fig *Figure, err error) *Figure {
			require.NoError(t, err)
			return fig
		}
		for name, fig := range map[string]*Figure{
			"scene": drawn(Scene(p, Options{})), "family": drawn(Family(f, p.Today, nil, Options{})), "marked": drawn(Family(f, p.Today, p, Options{})),
			"roll": drawn(Roll(r, Options{})), "card": drawn(Card(card, Options{})), "temperatures": drawn(Temperatures(table, Options{})),
			"compare": drawn(Compare(c, "", Options{})),
		} {
			found := slices.ContainsFunc(plottest.Texts(t, fig), func(b plottest.TextBox) bool { return b.Text == said })
			assert.Equal(t, !correct, found, name)
		}
	}
}

// What lies outside the tested times is the time as tested, not that of today.
func TestOutsideAsTested(t *testing.T) {
	f := plottest.Family(t, plottest.Demo(t, "larkfield-brinewater"))
	warm := scene.Today{Conditions: development.Conditions{TemperatureC: new(24.0)}}
	for beyond, today := range map[string]scene.Today{"outside the tested times": {}, "as tested outside the tested times": warm} {
		card, err := scene.NewCard(f, scene.Scene{Today: today})
		require.NoError(t, err)
		b := newCard(card, Options{Title: "x"})
		assert.Contains(t, b.notes, "* "+beyond+": test a strip there before relying on it.")
		assert.Contains(t, b.short[1], " * "+beyond+": test first.")
	}
	asked := plottest.SceneOf(5)
	asked.Today = warm
	p, err := scene.For(f, asked)
	require.NoError(t, err)
	require.True(t, p.Extrapolated)
	assert.Regexp(t, "^1[12]:[0-9]{2} for 5 stops, as tested .today [89]:[0-9]{2}., outside the tested times$", newMark(p, 0.95).label)
	asked.Stops = 0
	r, err := scene.ForRoll(f, asked, []scene.Frame{{Name: "lamp", Stops: 5}, {Name: "door", Stops: 5}})
	require.NoError(t, err)
	b := newRoll(r, &Options{Confidence: 0.95})
	assert.Regexp(t, "\ntoday: 24 °C; as tested 1[12]:[0-9]{2} and EI [0-9]+\nas tested outside the tested times: test a strip there", b.Sub)
	assert.Regexp(t, " and develop [89]:[0-9]{2} ", developRoll(r, 0.95))
}

// The key of a comparison tells time and speed today, and both as drawn.
func TestKeyTellsSpeedAsDrawn(t *testing.T) {
	f := plottest.Family(t, plottest.Demo(t, "larkfield-brinewater"))
	c, err := compare.Compare([]*development.Family{f, plottest.Family(t, plottest.Demo(t, "larkfield-ashlar"))},
		compare.Options{Scene: scene.Scene{Today: scene.Today{Control: demoLog(t), Correct: true}}})
	require.NoError(t, err)
	b := &differenceRows{}
	b.addRows(c)
	assert.Equal(t, "today 7:20, speed 113; as tested and drawn 5:55, speed 123", b.Rows[0].Detail)
	assert.Equal(t, "6:45, speed 94", b.Rows[1].Detail)

	// The log is of the first trial alone.
	fig, err := Compare(c, "", Options{})
	require.NoError(t, err)
	assert.Contains(t, fig.Body().(*compareBody).Sub, "; today: process of 2026-06-04 for the first; ")
}

// Without a mark the drawing of a family tells the time of ISO 6 as it is today.
func TestFamilyTellsISOToday(t *testing.T) {
	f := plottest.Family(t, plottest.Demo(t, "larkfield-brinewater"))
	today, err := scene.Today{Conditions: development.Conditions{TemperatureC: new(24.0)}}.For(f)
	require.NoError(t, err)
	b, err := newFamilyBody(f, today, nil, &Options{Confidence: 0.95})
	require.NoError(t, err)
	assert.Contains(t, b.Title, "; the contrast of ISO 6 at "+parts.Planned(today.Minutes(f.ISOMinutes).Value)+", as tested and drawn "+parts.Planned(f.ISOMinutes.Value))
	assert.Contains(t, b.Sub, "; today: 24 °C; ")
	assert.EqualValues(t, f.ISOMinutes.Value, b.panels[0].iso.X)
	assert.Contains(t, b.Foot, figure.Caution)
}

// What tone tells of today leaves its quadrants as large as they are without.
func TestTodayLeavesToneItsRoom(t *testing.T) {
	plain, err := Tone(printed(t, "larkfield-brinewater", "slate", "2", scene.Scene{Stops: 7}), Options{})
	require.NoError(t, err)
	today := scene.Today{Control: demoLog(t), Correct: true, Conditions: development.Conditions{TemperatureC: new(24.0), EndC: new(22.0), Dilution: "1+24", Agitation: sensito.AgitationIntermittent}}
	r := printed(t, "larkfield-brinewater", "slate", "2", scene.Scene{Stops: 7, Today: today})
	fig, err := Tone(r, Options{})
	require.NoError(t, err)
	was, b := plain.Body().(*tone), fig.Body().(*tone)
	assert.InDelta(t, float64(was.Below(plain.Page()).Size().Y), float64(b.Below(fig.Page()).Size().Y), 1e-9)
	assert.Equal(t, was.film.length(), b.film.length())
	assert.Equal(t, was.negative.length(), b.negative.length())
	assert.Equal(t, parts.Note{"developed " + parts.Planned(r.Answer.Minutes.Value), "today, as tested " + parts.Planned(r.Answer.Tested().Minutes.Value)}, b.notes[film][2:4])
	assert.Contains(t, b.Sub, "\ntoday: 24 °C drifting to 22 °C, ")
	plottest.RequireReadable(t, fig)

	today.Correct = false
	fig, err = Tone(printed(t, "larkfield-brinewater", "slate", "2", scene.Scene{Stops: 7, Today: today}), Options{})
	require.NoError(t, err)
	assert.Contains(t, fig.Body().(*tone).Foot, "is out of control, and nothing is corrected for it.\n")
}
