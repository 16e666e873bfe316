package plot

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"pgregory.net/rapid"

	"sensito/plot/internal/parts"
	"sensito/sensito"
	"sensito/sensito/curve"
)

func TestCurvesPlotWhatWasMeasured(t *testing.T) {
	trial := madeUp(t, contact, true, 6, 9)
	ms := measured(t, trial)
	fig, err := Curves(ms, Options{})
	require.NoError(t, err)
	b := fig.body.(*curves)
	require.Len(t, b.strips, 2)

	for k, s := range b.strips {
		m := ms[k]
		var want plotter.XYs
		for _, step := range m.Strip.Steps() {
			if k == 0 && (step.Number == 9 || step.Number == 13) {
				continue // the slip, and the step that was not read
			}
			want = append(want, plotter.XY{X: float64(step.LogH), Y: float64(step.Density)})
		}
		assert.Equal(t, want, s.readings)

		shape := m.Fit.Curve
		lo, hi := shape.Domain()
		require.Len(t, s.curve, curvePlaces)
		assert.Equal(t, float64(lo), s.curve[0].X)
		assert.InDelta(t, float64(hi), s.curve[curvePlaces-1].X, 1e-12)
		for _, part := range []plotter.XYs{s.curve, s.below, s.above} {
			for _, at := range part {
				assert.InDelta(t, float64(shape.Density(sensito.LogExposure(at.X))), at.Y, 1e-12)
			}
		}
		assert.Equal(t, float64(lo), s.below[len(s.below)-1].X)
		assert.Equal(t, float64(hi), s.above[0].X)
		assert.LessOrEqual(t, s.end().X, float64(hi.Add(sensito.Stop)))

		require.Len(t, s.low, bandPlaces)
		for i, at := range s.low {
			e, err := curve.Derive(m.Fit, func(c curve.Curve) (sensito.Density, error) { return c.Density(sensito.LogExposure(at.X)), nil })
			require.NoError(t, err)
			low, high := e.Interval(0.95)
			assert.InDelta(t, float64(low), at.Y, 1e-12)
			assert.InDelta(t, float64(high), s.high[i].Y, 1e-12)
		}
		assert.Equal(t, float64(m.SpeedPoint.Value), s.speedPoint.X)
		assert.InDelta(t, float64(m.BaseFog.Value)+0.10, s.speedPoint.Y, 1e-8) // ISO 6:1993, the speed point
		assert.Equal(t, float64(m.BaseFog.Value), s.base)
		assert.Nil(t, s.ray, "only a strip alone has its ray drawn")
	}
	require.Len(t, b.strips[0].aside, 1)
	slip := b.strips[0].aside[0]
	assert.Equal(t, 9, slip.step)
	assert.Equal(t, float64(ms[0].Strip.Steps()[8].Density), slip.Y)
	assert.True(t, slip.over)
	assert.Empty(t, b.strips[1].aside)
	assert.Equal(t, "6:00", b.strips[0].label)
	assert.Regexp(t, `^CI 0\.\d\d$`, b.strips[0].detail)
	assert.Equal(t, "log exposure, log10 lx s", b.plot.X.Label.Text)
	assert.Equal(t, "density (ISO 5 visual diffuse)", b.plot.Y.Label.Text)
}

func TestCurvesOfOneStrip(t *testing.T) {
	m := measured(t, demo(t, "larkfield-brinewater"))[2]
	fig, err := Curves([]*curve.Measured{m}, Options{Confidence: 0.68})
	require.NoError(t, err)
	b := fig.body.(*curves)
	ray, err := curve.IndexRay(m.Fit.Curve)
	require.NoError(t, err)
	assert.Equal(t, &ray, b.strips[0].ray)
	assert.GreaterOrEqual(t, b.plot.X.Max, float64(ray.Far))
	assert.LessOrEqual(t, b.plot.X.Min, float64(ray.Start))
	require.Len(t, b.note, 6)
	assert.Contains(t, b.note[2], "speed ")
	assert.Equal(t, "intervals and band: 68 %", b.note[5])

	c := b.plot.DataCanvas(b.area(fig.page()))
	corner, hidden := b.note.Corner(c, b.occupied(c))
	assert.Zero(t, hidden, "the note hides data")
	assert.InDelta(t, float64(b.note.Size().Y), float64(corner.Size().Y), 1e-9)
}

// A low curve that rises from the left leaves no corner free; the note gets
// room above it.
func TestNoteFindsRoom(t *testing.T) {
	low := madeUp(t, func(logH []float64) (sensito.Exposures, error) {
		for i := range logH {
			logH[i] += 0.85
		}
		return relative(logH)
	}, false, 1.5)
	fig, err := Curves(measured(t, low), Options{})
	require.NoError(t, err)
	b := fig.body.(*curves)
	c := b.plot.DataCanvas(b.area(fig.page()))
	corner, hidden := b.note.Corner(c, b.occupied(c))
	assert.Zero(t, hidden, "the note at %v hides data", corner)
	requireReadable(t, fig)
}

func TestStepsTheirOwnerSetAsideAreMarked(t *testing.T) {
	trial := ignoring(t, demo(t, "larkfield-brinewater"), 3, 4)
	fig, err := Curves(measured(t, trial)[:1], Options{})
	require.NoError(t, err)
	var steps []int
	for _, a := range fig.body.(*curves).strips[0].aside {
		steps = append(steps, a.step)
	}
	assert.Equal(t, []int{3, 4}, steps)
}

func TestCurvesOfRelativeExposures(t *testing.T) {
	fig, err := Curves(measured(t, madeUp(t, relative, false, 4, 7)), Options{})
	require.NoError(t, err)
	assert.Equal(t, "relative log exposure", fig.body.(*curves).plot.X.Label.Text)
}

func TestCurvesRefuse(t *testing.T) {
	one := measured(t, madeUp(t, contact, false, 6))
	for want, try := range map[string]func() (*Figure, error){
		"no strip to draw": func() (*Figure, error) { return Curves(nil, Options{}) },
		"25 strips are too many for one drawing: at most 24": func() (*Figure, error) {
			var many []*curve.Measured
			for range 25 {
				many = append(many, one[0])
			}
			return Curves(many, Options{})
		},
		"the strips of one drawing must be of one trial": func() (*Figure, error) {
			return Curves(append(one[:1:1], measured(t, madeUp(t, contact, false, 6))...), Options{})
		},
		"confidence 1.5 is outside 0 to 1":            func() (*Figure, error) { return Curves(one, Options{Confidence: 1.5}) },
		"figure width 10 mm is outside 60 to 1000 mm": func() (*Figure, error) { return Curves(one, Options{Width: 10 * vg.Millimeter}) },
		"the figure leaves no room for its data: make it wider or higher": func() (*Figure, error) {
			return Curves(one, Options{Width: 70 * vg.Millimeter})
		},
	} {
		fig, err := try()
		assert.EqualError(t, err, want)
		assert.Nil(t, fig)
	}
}

// One unit of log exposure must be as long on paper as one of density, as seen
// from where the figures on the axes stand.
func TestEqualScales(t *testing.T) {
	check := func(t *testing.T, fig *Figure) {
		t.Helper()
		b := fig.body.(*curves)
		c := b.plot.DataCanvas(b.area(fig.page()))
		scaleX := c.Size().X / vg.Length(b.plot.X.Max-b.plot.X.Min)
		scaleY := c.Size().Y / vg.Length(b.plot.Y.Max-b.plot.Y.Min)
		assert.InDelta(t, float64(scaleX), float64(scaleY), 1e-6)

		boxes := texts(t, fig)
		onX := func(b textBox) bool { return b.Max.Y < c.Min.Y }
		onY := func(b textBox) bool { return b.Max.X < c.Min.X && b.Max.Y > c.Min.Y-4 }
		unitX := middle(t, boxes, "-1.0", onX).X - middle(t, boxes, "-2.0", onX).X
		hyphen := parts.TextWidth(parts.BodySize, "-2.0") - parts.TextWidth(parts.BodySize, "-1.0")
		assert.Zero(t, hyphen, "figures of one width")
		unitY := middle(t, boxes, "1.0", onY).Y - middle(t, boxes, "0.0", onY).Y
		assert.InDelta(t, float64(unitX), float64(unitY), 0.5)
		assert.InDelta(t, float64(scaleX), float64(unitX), 0.01)
	}
	ms := measured(t, demo(t, "larkfield-brinewater"))
	for _, o := range []Options{{}, {Width: 120 * vg.Millimeter}, {Width: 297 * vg.Millimeter, Height: 90 * vg.Millimeter},
		{Width: 150 * vg.Millimeter, Height: 400 * vg.Millimeter}} {
		for _, strips := range [][]*curve.Measured{ms, ms[:1]} {
			fig, err := Curves(strips, o)
			require.NoError(t, err)
			check(t, fig)
		}
	}
	fig, err := Curves(measured(t, demo(t, "tern-ashlar")), Options{})
	require.NoError(t, err)
	check(t, fig)
}

// However the curves end, labels keep their order and distance.
func TestSpread(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 24).Draw(t, "n")
		want := make([]vg.Length, n)
		for i := range want {
			want[i] = vg.Length(rapid.Float64Range(-50, 450).Draw(t, "want"))
		}
		const gap, lo, hi = 11, 10, 390
		got := parts.Spread(want, gap, lo, hi)
		for i := range got {
			assert.GreaterOrEqual(t, float64(got[i]), lo-1e-9)
			assert.LessOrEqual(t, float64(got[i]), hi+1e-9)
			for j := range i {
				assert.GreaterOrEqual(t, math.Abs(float64(got[i]-got[j])), gap-1e-9)
				if want[i] < want[j] {
					assert.Less(t, got[i], got[j])
				}
			}
		}
	})
	assert.Equal(t, []vg.Length{20, 60, 40}, parts.Spread([]vg.Length{20, 60, 40}, 11, 0, 100), "nothing moves without need")
	assert.Equal(t, []vg.Length{35, 45}, parts.Spread([]vg.Length{40, 40}, 10, 0, 100), "both give way alike")
	assert.Equal(t, []vg.Length{0, 5, 10}, parts.Spread([]vg.Length{3, 3, 3}, 11, 0, 10), "closer when there is no room")
}
