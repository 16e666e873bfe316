package plot

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"

	"sensito/plot/internal/parts"
	"sensito/plot/internal/plottest"
	"sensito/sensito"
	"sensito/sensito/scene"
)

func TestFamilyPlotsWhatWasMeasured(t *testing.T) {
	f := plottest.Family(t, plottest.Demo(t, "larkfield-brinewater"))
	answer, err := scene.For(f, plottest.SceneOf(7))
	require.NoError(t, err)
	fig, err := Family(f, nil, answer, Options{Confidence: 0.9})
	require.NoError(t, err)
	b := fig.Body().(*familyBody)
	require.Len(t, b.panels, 3)

	type value struct{ y, low, high float64 }
	strips := make([][3]value, len(f.Strips))
	for i, m := range f.Strips {
		set := func(k int, y, low, high float64) { strips[i][k] = value{y, low, high} }
		lo, hi := m.ContrastIndex.Interval(0.9)
		set(0, m.ContrastIndex.Value, lo, hi)
		sl, sh := m.Speed.Interval(0.9)
		set(1, float64(m.Speed.Value), float64(sl), float64(sh))
		fl, fh := m.BaseFog.Interval(0.9)
		set(2, float64(m.BaseFog.Value), float64(fl), float64(fh))
	}
	for k, p := range b.panels {
		require.Len(t, p.points, len(f.Strips))
		for i, pt := range p.points {
			want := strips[i][k]
			assert.Equal(t, parts.Whisker{XY: plotter.XY{X: float64(f.Strips[i].Strip.Minutes()), Y: want.y}, Low: want.low, High: want.high}, pt)
			assert.True(t, pt.Low >= p.plot.Y.Min && pt.High <= p.plot.Y.Max, "an interval leaves the panel")
		}
		require.Len(t, p.law.Line, len(b.times()))
		for i, at := range p.law.Line {
			said, err := f.At(sensito.Minutes(at.X))
			require.NoError(t, err)
			var want value
			switch k {
			case 0:
				lo, hi := said.Contrast.Interval(0.9)
				want = value{said.Contrast.Value, lo, hi}
			case 1:
				lo, hi := said.Speed.Interval(0.9)
				want = value{float64(said.Speed.Value), float64(lo), float64(hi)}
			case 2:
				lo, hi := said.BaseFog.Interval(0.9)
				want = value{float64(said.BaseFog.Value), float64(lo), float64(hi)}
			}
			assert.Equal(t, want, value{at.Y, p.law.Low[i].Y, p.law.High[i].Y})
		}
	}

	lo, hi := f.Times()
	assert.Equal(t, [2]float64{float64(lo), float64(hi)}, [2]float64{b.from, b.to})
	assert.Contains(t, b.times(), lo)
	assert.Contains(t, b.times(), hi)
	low, high := answer.Minutes.Interval(0.9)
	assert.Equal(t, &mark{float64(answer.Minutes.Value), float64(low), float64(high), parts.Planned(answer.Minutes.Value) + " for 7 stops"}, b.mark)
}

// The time of ISO 6 lies on the law, and the title tells it.
func TestFamilyMarksISO(t *testing.T) {
	f := plottest.Family(t, plottest.Demo(t, "larkfield-brinewater"))
	fig, err := Family(f, nil, nil, Options{})
	require.NoError(t, err)
	b := fig.Body().(*familyBody)
	iso := b.panels[0].iso
	require.NotNil(t, iso)
	assert.EqualValues(t, f.ISOMinutes.Value, iso.X)
	assert.InDelta(t, heightAt(b.panels[0].law.Line, iso.X), iso.Y, 0.002)
	low, high := f.ISOMinutes.Interval(0.95)
	assert.Equal(t, [2]float64{float64(low), float64(high)}, [2]float64{iso.Low, iso.High})
	assert.Equal(t, "Contrast index 0.42 at 4:00 to 0.81 at 10:00; the contrast of ISO 6 at "+parts.Planned(f.ISOMinutes.Value), fig.Title)
	assert.Contains(t, b.Sub, "bars and bands: 95 %")
}

func TestPanelsShareOneTimeAxis(t *testing.T) {
	f := plottest.Family(t, plottest.Demo(t, "tern-ashlar"))
	fig, err := Family(f, nil, nil, Options{})
	require.NoError(t, err)
	b := fig.Body().(*familyBody)
	plots, areas := b.layout(fig.Page())
	first := plots[0].DataCanvas(areas[0])
	for i, p := range plots {
		c := p.DataCanvas(areas[i])
		assert.InDelta(t, float64(first.Min.X), float64(c.Min.X), 1e-6)
		assert.InDelta(t, float64(first.Max.X), float64(c.Max.X), 1e-6)
		assert.Equal(t, [2]float64{plots[0].X.Min, plots[0].X.Max}, [2]float64{p.X.Min, p.X.Max})
		if i > 0 {
			assert.Less(t, c.Max.Y, plots[i-1].DataCanvas(areas[i-1]).Min.Y)
		}
	}
}

// The note keeps clear of a mark where it would stand by choice.
func TestNoteLeavesTheMark(t *testing.T) {
	f := plottest.Family(t, plottest.Demo(t, "larkfield-brinewater"))
	answer, err := scene.For(f, scene.Scene{Stops: 3, DensityRange: 0.3, ShadowStops: 2, Flare: sensito.Flare{Kind: sensito.FlareNone}})
	require.NoError(t, err)
	fig, err := Family(f, nil, answer, Options{})
	require.NoError(t, err)
	b := fig.Body().(*familyBody)
	plots, areas := b.layout(fig.Page())
	c := plots[0].DataCanvas(areas[0])
	x := parts.Place(c, plots[0], plotter.XY{X: b.mark.minutes, Y: plots[0].Y.Min}).X
	require.Less(t, x, c.Min.X+b.note.Size().X, "the mark is not in the way")
	at, hidden := b.note.Corner(c, b.panels[0].occupied(c))
	assert.Zero(t, hidden)
	assert.Greater(t, at.Min.X, x)
}

func TestFamilyOfRelativeExposuresHasNoSpeed(t *testing.T) {
	fig, err := Family(plottest.Family(t, plottest.MadeUp(t, plottest.Relative, false, 4, 7, 12)), nil, nil, Options{})
	require.NoError(t, err)
	assert.Len(t, fig.Body().(*familyBody).panels, 2)
	for _, b := range plottest.Texts(t, fig) {
		assert.NotEqual(t, "speed", b.Text)
	}
}

func TestFamilyRefusesAPageWithoutRoom(t *testing.T) {
	f := plottest.Family(t, plottest.MadeUp(t, plottest.Contact, false, 5, 10))
	_, err := Family(f, nil, nil, Options{Height: 70 * vg.Millimeter})
	assert.EqualError(t, err, "the figure leaves no room for its data: make it wider or higher")
}

// heightAt interpolates a line at x.
func heightAt(l plotter.XYs, x float64) float64 {
	for i := 1; i < len(l); i++ {
		if a, b := l[i-1], l[i]; x >= a.X && x <= b.X {
			return a.Y + (b.Y-a.Y)*(x-a.X)/(b.X-a.X)
		}
	}
	return -1
}
