package plot

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"

	"sensito/plot/internal/parts"
	"sensito/sensito"
	"sensito/sensito/curve"
	"sensito/sensito/scene"
)

func harbour() []scene.Frame {
	return []scene.Frame{{Name: "Lamp room", Stops: 7.5}, {Name: "Harbour in fog", Stops: 5.5}, {Name: "Gallery", Stops: 7},
		{Name: "Landing stage", Stops: 6}, {Name: "Stair", Stops: 7}, {Name: "Foghorn", Stops: 6.5}}
}

func rolled(t testing.TB, trial *sensito.Trial, s scene.Scene, frames []scene.Frame) *scene.Roll {
	t.Helper()
	r, err := scene.ForRoll(family(t, trial), s, frames)
	require.NoError(t, err)
	return r
}

func TestRollHoldsTheAnswer(t *testing.T) {
	r := rolled(t, demo(t, "larkfield-brinewater"), scene.Scene{}, harbour())
	fig, err := Roll(r, Options{Confidence: 0.9})
	require.NoError(t, err)
	b := fig.body.(*rollBody)

	require.Len(t, b.lines, 5, "two scenes are of one range")
	var names []string
	for i, l := range b.lines {
		names = append(names, strings.Join(l.names, ", "))
		assert.Equal(t, float64(r.Minutes.Value), l.at.X)
		assert.InDelta(t, l.at.Y, heightAt(l.Line, l.at.X), 0.002, "the place at the chosen time lies on the line")
		assert.Equal(t, b.lo, l.Line[0].X)
		assert.InDelta(t, b.end, l.last().X, 1e-12)
		for j, at := range l.Line {
			if j > 0 {
				assert.Greater(t, at.Y, l.Line[j-1].Y, "density grows with time")
			}
			if i > 0 {
				assert.Less(t, at.Y, b.lines[i-1].Line[j].Y, "a longer scene spans more density")
			}
		}
		assert.Equal(t, l.names[0] == r.Frames[r.Worst].Name, l.worst)
	}
	assert.Equal(t, []string{"Lamp room", "Gallery, Stair", "Foghorn", "Landing stage", "Harbour in fog"}, names)
	for i, f := range r.Frames {
		for _, minutes := range []float64{4, 7, 10} {
			l := b.lines[[]int{0, 4, 1, 3, 1, 2}[i]]
			assert.InDelta(t, float64(r.DensityRangeAt(i, sensito.Minutes(minutes))), heightAt(l.Line, minutes), 0.002, f.Name)
		}
		assert.InDelta(t, float64(f.DensityRange.Value), float64(r.DensityRangeAt(i, r.Minutes.Value)), 1e-9)
	}
	assert.Equal(t, level{1.05, "aim 1.05"}, b.aim)
	require.Len(t, b.levels, 6)
	for i, middle := range []float64{1.55, 1.275, 1.05, 0.875, 0.725, 0.575} {
		assert.Equal(t, fmt.Sprintf("grade %d", i), b.levels[i].name)
		assert.InDelta(t, middle, b.levels[i].y, 1e-12)
	}
	low, high := r.Minutes.Interval(0.9)
	assert.Equal(t, &mark{float64(r.Minutes.Value), float64(low), float64(high), parts.Planned(r.Minutes.Value) + " for all"}, b.mark)

	// The names stand beside the ends of their lines, in their order.
	boxes := texts(t, fig)
	anywhere := func(textBox) bool { return true }
	c := b.plot.DataCanvas(b.area(fig.page()))
	for i, l := range b.lines {
		end := parts.Place(c, b.plot, l.last())
		at := middle(t, boxes, names[i], anywhere)
		assert.Greater(t, at.X, end.X)
		assert.InDelta(t, float64(end.Y), float64(at.Y), 15)
	}
	for _, g := range b.levels {
		want := parts.Place(c, b.plot, plotter.XY{X: b.lo, Y: g.y})
		at := middle(t, boxes, g.name, anywhere)
		assert.Greater(t, at.X, c.Max.X)
		assert.InDelta(t, float64(want.Y), float64(at.Y), 1)
	}
}

func TestRollOfPaperAndScan(t *testing.T) {
	larkfield := demo(t, "larkfield-brinewater")
	paper, err := curve.MeasurePaper(demo(t, "slate"), curve.FitOptions{})
	require.NoError(t, err)
	strip, err := paper.Grade("2")
	require.NoError(t, err)
	r := rolled(t, larkfield, scene.Scene{Paper: strip, Callier: 1.3}, harbour())
	fig, err := Roll(r, Options{})
	require.NoError(t, err)
	b := fig.body.(*rollBody)
	assert.InDelta(t, float64(strip.LogRange.Value)/1.3, b.aim.y, 1e-9)
	var found bool
	for _, l := range b.levels {
		assert.True(t, strings.HasPrefix(l.name, "Slate grade "), l.name)
		found = found || l.name == "Slate grade 2" && l.y == b.aim.y
	}
	assert.True(t, found, "the aim is a level too")
	requireReadable(t, fig)

	fig, err = Roll(rolled(t, larkfield, scene.Scene{ScanMax: 1.5}, harbour()), Options{})
	require.NoError(t, err)
	assert.Empty(t, fig.body.(*rollBody).levels)
	requireReadable(t, fig)
	fig, err = Roll(rolled(t, madeUp(t, relative, false, 4, 7, 12), scene.Scene{}, harbour()), Options{})
	require.NoError(t, err)
	for _, box := range texts(t, fig) {
		assert.NotContains(t, box.text, "EI")
	}
}

// Long names, scenes hardly apart, many scenes, small pages: names stay on the
// page and off each other.
func TestRollIsReadable(t *testing.T) {
	if testing.Short() {
		t.Skip("slow under the race detector, and nothing in it runs side by side")
	}
	larkfield := demo(t, "larkfield-brinewater")
	var many []scene.Frame
	for i := range 120 {
		many = append(many, scene.Frame{Name: fmt.Sprintf("Frame %d of the long series of the harbour", i+1), Stops: 5.5 + 3*float64(i)/119})
	}
	for name, frames := range map[string][]scene.Frame{
		"one": harbour()[:1], "several": harbour(), "many": many,
		"close": {{Name: strings.Repeat("W", 60), Stops: 7}, {Name: "b", Stops: 7.02}, {Name: "c", Stops: 7.04}, {Name: "d", Stops: 7.06}},
	} {
		r := rolled(t, larkfield, scene.Scene{}, frames)
		for _, o := range []Options{{}, {Width: 105 * vg.Millimeter, Height: 90 * vg.Millimeter}, {Width: 297 * vg.Millimeter, Height: 210 * vg.Millimeter}} {
			fig, err := Roll(r, o)
			require.NoError(t, err, name)
			requireReadable(t, fig)
		}
	}
	_, err := Roll(rolled(t, larkfield, scene.Scene{}, harbour()), Options{Height: 70 * vg.Millimeter})
	assert.EqualError(t, err, "the figure leaves no room for its data: make it wider or higher")
	_, err = Roll(rolled(t, larkfield, scene.Scene{}, harbour()), Options{Confidence: 2})
	assert.Error(t, err)
}

func TestJoined(t *testing.T) {
	names := []string{"Lamp room", "Stair", "Gallery"}
	assert.Equal(t, "Lamp room, Stair, Gallery", joined(names, 500))
	assert.Equal(t, "Lamp room and 2 more", joined(names, parts.TextWidth(parts.SmallSize, "Lamp room, Stair, Galler")))
	assert.Equal(t, "Lamp room", joined(names[:1], 500))
	assert.LessOrEqual(t, parts.TextWidth(parts.SmallSize, joined(names, 60)), vg.Length(60))
}
