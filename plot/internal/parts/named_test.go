package parts

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/plot/vg"
)

// A name takes the point that has room, and no leader runs through another name.
func TestNamesOfLines(t *testing.T) {
	c := Page(200, 100)
	low := Named{Text: "base", At: vg.Point{X: 20, Y: 20}, Or: []vg.Point{{X: 120, Y: 20}}, Up: true}
	got := PlaceNames(c, []Named{low}, Filled(vg.Rectangle{Min: vg.Point{X: 0, Y: 0}, Max: vg.Point{X: 90, Y: 100}}))
	require.Len(t, got, 1)
	assert.Equal(t, low.Or[0], got[0].At)
	assert.Less(t, distance(closest(got[0].Rectangle, got[0].At), got[0].At), vg.Length(10))

	one := Named{Text: "a name that is long", At: vg.Point{X: 60, Y: 20}, Up: true}
	other := Named{Text: "another", At: vg.Point{X: 62, Y: 15}, Up: true}
	got = PlaceNames(c, []Named{one, other}, nil)
	require.Len(t, got, 2)
	assert.Zero(t, Within(got[0].Rectangle, Between([]vg.Point{got[1].At, closest(got[1].Rectangle, got[1].At)}), 0))
}

// Names stand in the canvas, hide no point where there is room, and touch no
// other.
func TestNames(t *testing.T) {
	c := Page(300, 200)
	var line []vg.Point
	for i := range 150 {
		line = append(line, vg.Point{X: vg.Length(2 * i), Y: vg.Length(1.3 * float64(i))})
	}
	all := []Named{
		{Text: "speed point", At: line[30]},
		{Text: "step 9", At: line[60], Up: true},
		{Text: "two\nlines", At: line[62], Up: true},
		{Text: "at the edge", At: line[149]},
	}
	placed := PlaceNames(c, all, line)
	require.Len(t, placed, len(all))
	for i, l := range placed {
		assert.Equal(t, all[i].Text, l.Text)
		assert.Zero(t, Within(l.Rectangle, line, 1.9), l.Text)
		assert.True(t, l.Min.X > 0 && l.Min.Y > 0 && l.Max.X < 300 && l.Max.Y < 200, "%s at %v", l.Text, l.Rectangle)
		assert.False(t, touching(l.Rectangle, placed[:i]), l.Text)
		assert.InDelta(t, float64(l.Size().X), float64(l.Rectangle.Size().X), 1e-9)
	}
	assert.Less(t, (placed[0].Min.Y+placed[0].Max.Y)/2, line[30].Y, "below, where both sides are free")
	assert.Greater(t, (placed[1].Min.Y+placed[1].Max.Y)/2, line[60].Y, "above, as wished")
	assert.Empty(t, PlaceNames(Page(20, 20), all[:1], nil), "no room at all")
}
