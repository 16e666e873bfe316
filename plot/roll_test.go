package plot

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"

	"sensito/plot/internal/parts"
	"sensito/plot/internal/plottest"
	"sensito/sensito"
	"sensito/sensito/curve"
	"sensito/sensito/paper"
	"sensito/sensito/scene"
)

func harbour() []scene.Frame {
	return []scene.Frame{{Name: "Lamp room", Stops: 7.5}, {Name: "Harbour in fog", Stops: 5.5}, {Name: "Gallery", Stops: 7},
		{Name: "Landing stage", Stops: 6}, {Name: "Stair", Stops: 7}, {Name: "Foghorn", Stops: 6.5}}
}

func rolled(t testing.TB, trial *sensito.Trial, s scene.Scene, frames []scene.Frame) *scene.Roll {
	t.Helper()
	r, err := scene.ForRoll(plottest.Family(t, trial), s, frames)
	require.NoError(t, err)
	return r
}

func TestRollHoldsTheAnswer(t *testing.T) {
	r := rolled(t, plottest.Demo(t, "larkfield-brinewater"), scene.Scene{}, harbour())
	fig, err := Roll(r, Options{Confidence: 0.9})
	require.NoError(t, err)
	b := fig.Body().(*rollBody)
	assert.Equal(t, "Set EI 80 and "+parts.Develop(r.Minutes, 0.9)+" for 6 scenes of 5.5 to 7.5 stops", fig.Title)

	var names, prints []string
	for i, row := range b.rows {
		names, prints = append(names, row.names...), append(prints, row.print)
		assert.Equal(t, float64(len(b.rows)-1-i), row.at.Y)
		if i > 0 {
			assert.LessOrEqual(t, row.at.X, b.rows[i-1].at.X, "a longer scene spans more density")
		}
		f := r.Frames[slices.IndexFunc(r.Frames, func(f scene.RollFrame) bool { return f.Name == row.names[0] })]
		low, high := f.DensityRange.Interval(0.9)
		assert.InDelta(t, float64(f.DensityRange.Value), row.at.X, 1e-9)
		assert.InDelta(t, float64(low), row.at.Low, 1e-9)
		assert.InDelta(t, float64(high), row.at.High, 1e-9)
		assert.Equal(t, f.Print.Name+", "+parts.Signed(float64(f.Rest), 2), row.print)
		assert.Equal(t, !f.Fits, row.beyond)
		assert.Equal(t, row.names[0] == r.Frames[r.Worst].Name, row.worst)
		assert.Equal(t, row.worst, row.at.Filled)
	}
	assert.Equal(t, []string{"Lamp room", "Gallery", "Stair", "Foghorn", "Landing stage", "Harbour in fog"}, names)
	for i, f := range r.Frames {
		assert.InDelta(t, float64(f.DensityRange.Value), float64(r.DensityRangeAt(i, r.Minutes.Value)), 1e-9)
	}
	assert.Equal(t, level{1.05, "aim 1.05"}, b.aim)
	var levels []string
	for _, l := range b.levels {
		levels = append(levels, l.name)
		assert.True(t, l.x > b.plot.X.Min && l.x < b.plot.X.Max)
	}
	assert.Equal(t, []string{"grade 3", "grade 2", "grade 1"}, levels, "those within the axis")

	// Every name and print material stands beside the row of its frame.
	boxes := plottest.Texts(t, fig)
	c := b.data(fig.Page())
	for i, row := range b.rows {
		want := parts.Place(c, b.plot, row.at.XY)
		level := func(box plottest.TextBox) bool { return want.Y > box.Min.Y-1 && want.Y < box.Max.Y+1 }
		assert.Less(t, plottest.Middle(t, boxes, names[i], level).X, c.Min.X)
		assert.Greater(t, plottest.Middle(t, boxes, prints[i], level).X, c.Max.X)
	}
	for _, l := range b.levels {
		x := parts.Place(c, b.plot, plotter.XY{X: l.x}).X
		assert.InDelta(t, float64(x), float64(plottest.Middle(t, boxes, l.name, func(box plottest.TextBox) bool { return box.Min.Y > c.Max.Y }).X), 1)
	}
	require.Len(t, b.Numbers(), 7)
	assert.Equal(t, b.rows[0].at.X, b.Numbers()[0].Values[0].X)
}

func TestRollOfPaperAndScan(t *testing.T) {
	larkfield := plottest.Demo(t, "larkfield-brinewater")
	paper, err := paper.Measure(plottest.Demo(t, "slate"), curve.FitOptions{})
	require.NoError(t, err)
	strip, err := paper.Grade("2")
	require.NoError(t, err)
	r := rolled(t, larkfield, scene.Scene{Paper: strip, Callier: 1.3}, harbour())
	fig, err := Roll(r, Options{})
	require.NoError(t, err)
	b := fig.Body().(*rollBody)
	assert.InDelta(t, float64(strip.LogRange.Value)/1.3, b.aim.x, 1e-9)
	assert.Contains(t, b.levels, level{b.aim.x, "grade 2"}, "the aim is a level too")
	for _, row := range b.rows {
		assert.Regexp(t, `^grade \d, [+-]?0\.\d\d$`, row.print)
	}
	plottest.RequireReadable(t, fig)
	// Long names and long names of grades leave the axis its room on a column.
	fig, err = Roll(rolled(t, larkfield, scene.Scene{Paper: strip}, numberedFrames(36)), Options{Width: 84 * vg.Millimeter})
	require.NoError(t, err)
	b = fig.Body().(*rollBody)
	assert.GreaterOrEqual(t, b.data(fig.Page()).Size().X, leastRange)
	requireNamesApart(t, fig)

	fig, err = Roll(rolled(t, larkfield, scene.Scene{ScanMax: 1.5}, harbour()), Options{})
	require.NoError(t, err)
	assert.Empty(t, fig.Body().(*rollBody).levels)
	plottest.RequireReadable(t, fig)
	fig, err = Roll(rolled(t, plottest.MadeUp(t, plottest.Relative, false, 4, 7, 12), scene.Scene{}, harbour()), Options{})
	require.NoError(t, err)
	for _, box := range plottest.Texts(t, fig) {
		assert.NotContains(t, box.Text, "EI")
	}
}

// numberedFrames are so many scenes of unlike range.
func numberedFrames(n int) []scene.Frame {
	var out []scene.Frame
	for i := range n {
		out = append(out, scene.Frame{Name: fmt.Sprintf("Frames of the long series of the harbour, %d", i+1), Stops: 5.5 + 3*float64(i)/float64(n-1)})
	}
	return out
}

// Long names, scenes hardly apart, many scenes, narrow pages: names stay on the
// page and off each other, and no row is lost.
func TestRollIsReadable(t *testing.T) {
	if testing.Short() {
		t.Skip("slow under the race detector, and nothing in it runs side by side")
	}
	larkfield := plottest.Demo(t, "larkfield-brinewater")
	alike := make([]scene.Frame, 100)
	for i := range alike {
		alike[i] = scene.Frame{Name: fmt.Sprintf("Quay %d", i+1), Stops: 6 + float64(i%5)/2}
	}
	for name, c := range map[string]struct {
		frames []scene.Frame
		rows   int
	}{
		"one": {harbour()[:1], 1}, "several": {harbour(), 6}, "36": {numberedFrames(36), 36}, "many": {numberedFrames(120), 120}, "alike": {alike, 5},
		"close": {[]scene.Frame{{Name: strings.Repeat("W", 60), Stops: 7}, {Name: "b", Stops: 7.02}, {Name: "c", Stops: 7.04}, {Name: "d", Stops: 7.06}}, 4},
	} {
		r := rolled(t, larkfield, scene.Scene{}, c.frames)
		for _, o := range []Options{{}, {Width: 84 * vg.Millimeter}, {Width: 297 * vg.Millimeter, Height: 700 * vg.Millimeter}} {
			fig, err := Roll(r, o)
			require.NoError(t, err, name)
			require.Len(t, fig.Body().(*rollBody).rows, c.rows)
			plottest.RequireReadable(t, fig)
			if name == "36" {
				requireNamesApart(t, fig)
			}
		}
	}
	_, err := Roll(rolled(t, larkfield, scene.Scene{}, harbour()), Options{Height: 70 * vg.Millimeter})
	assert.EqualError(t, err, "6 rows of scenes need a figure 78 mm high: make it so, at most 1000 mm, or draw the roll in parts")
	_, err = Roll(rolled(t, larkfield, scene.Scene{}, numberedFrames(300)), Options{})
	assert.ErrorContains(t, err, "300 rows of scenes need a figure")
	_, err = Roll(rolled(t, larkfield, scene.Scene{}, harbour()), Options{Confidence: 2})
	assert.ErrorContains(t, err, "confidence")
}

// requireNamesApart checks that names that were cut do not look alike.
func requireNamesApart(t *testing.T, fig *Figure) {
	t.Helper()
	b := fig.Body().(*rollBody)
	seen := map[string]bool{}
	for _, box := range plottest.Texts(t, fig) {
		if box.Max.X < b.data(fig.Page()).Min.X && strings.HasPrefix(box.Text, "F") {
			require.False(t, seen[box.Text], box.Text)
			seen[box.Text] = true
		}
	}
	require.Len(t, seen, len(b.rows))
}

func TestJoined(t *testing.T) {
	names := []string{"Lamp room", "Stair", "Gallery"}
	assert.Equal(t, "Lamp room, Stair, Gallery", joined(names, 500))
	assert.Equal(t, "Lamp room and 2 more", joined(names, parts.TextWidth(parts.SmallSize, "Lamp room, Stair, Galler")))
	assert.Equal(t, "Lamp room", joined(names[:1], 500))
	assert.LessOrEqual(t, parts.TextWidth(parts.SmallSize, joined(names, 60)), vg.Length(60))
}
