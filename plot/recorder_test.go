package plot

import (
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"

	"sensito/plot/internal/canvas"
	"sensito/plot/internal/parts"
	"sensito/plot/internal/plottest"
	"sensito/sensito/scene"
)

func TestCapHeight(t *testing.T) {
	f := canvas.Face(1000)
	bounds, _, ok := f.FontFace(72).GlyphBounds('8')
	require.True(t, ok)
	require.InDelta(t, parts.CapHeight*1000, -float64(bounds.Min.Y)/64, 25)
	require.IsType(t, font.Length(0), f.Width("8"))
}

func TestFiguresAreReadable(t *testing.T) {
	for name, fig := range figures(t) {
		t.Run(name, func(t *testing.T) { plottest.RequireReadable(t, fig) })
	}
}

func TestFiguresAreReadableAtOtherSizes(t *testing.T) {
	larkfield := plottest.Demo(t, "larkfield-brinewater")
	ms := plottest.Measured(t, larkfield)
	f := plottest.Family(t, larkfield)
	for _, o := range []Options{
		{Width: 120 * vg.Millimeter},
		{Width: 297 * vg.Millimeter, Height: 210 * vg.Millimeter},
		{Width: 210 * vg.Millimeter, Height: 297 * vg.Millimeter},
		{Title: "A title that is a good deal longer than any page of the usual width can hold on one line, and then goes on: Larkfield 125 in Brinewater 1+19 by the south window"},
	} {
		fig, err := Curves(ms, o)
		require.NoError(t, err)
		plottest.RequireReadable(t, fig)
		fig, err = Curves(ms[2:3], o)
		require.NoError(t, err)
		plottest.RequireReadable(t, fig)
		fig, err = Family(f, nil, nil, o)
		require.NoError(t, err)
		plottest.RequireReadable(t, fig)
		c, err := scene.NewCard(f, plottest.SceneOf(0))
		require.NoError(t, err)
		fig, err = Card(c, o)
		require.NoError(t, err)
		plottest.RequireReadable(t, fig)
		p, err := scene.For(f, plottest.SceneOf(7))
		require.NoError(t, err)
		fig, err = Scene(p, o)
		require.NoError(t, err)
		plottest.RequireReadable(t, fig)
	}
}
