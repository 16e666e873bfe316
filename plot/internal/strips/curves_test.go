package strips

import (
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"pgregory.net/rapid"

	"sensito/plot/internal/figure"
	"sensito/plot/internal/parts"
	"sensito/plot/internal/plottest"
	"sensito/sensito"
	"sensito/sensito/curve"
)

func TestCurvesPlotWhatWasMeasured(t *testing.T) {
	trial := plottest.MadeUp(t, plottest.Contact, true, 6, 9)
	ms := plottest.Measured(t, trial)
	fig, err := Curves(ms, figure.Options{})
	require.NoError(t, err)
	b := fig.Body().(*curves)
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
		require.Len(t, s.curve, CurvePlaces)
		assert.Equal(t, float64(lo), s.curve[0].X)
		assert.InDelta(t, float64(hi), s.curve[CurvePlaces-1].X, 1e-12)
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
		assert.Equal(t, float64(m.BaseFog.Value), s.base)
		assert.Equal(t, []float64{0.10, 0.11}, s.unexposed)
		assert.Equal(t, parts.Interval(*m.ContrastIndex, 0.95, 2), s.detail)

		assert.Equal(t, float64(m.SpeedPoint.Value), b.speeds[k].X)
		assert.InDelta(t, float64(m.BaseFog.Value)+0.10, b.speeds[k].Y, 1e-8) // ISO 6:1993, the speed point
		row := b.rows[k]
		low, high := m.SpeedPoint.Interval(0.95)
		assert.Equal(t, []float64{float64(m.SpeedPoint.Value), float64(low), float64(high)}, []float64{row.X, row.Low, row.High})
		assert.Equal(t, parts.Interval(*m.Speed, 0.95, 0), row.speed)
	}
	require.Len(t, b.strips[0].aside, 1)
	slip := b.strips[0].aside[0]
	assert.Equal(t, 9, slip.step)
	assert.Equal(t, float64(ms[0].Strip.Steps()[8].Density), slip.Y)
	assert.True(t, slip.over)
	assert.Empty(t, b.strips[1].aside)
	assert.Equal(t, "6:00", b.strips[0].name)
	require.Len(t, b.names, 1)
	assert.Equal(t, "6:00, step 9", b.names[0].text)
	assert.Equal(t, "log exposure, log10 lx s", b.lower.X.Label.Text)
	assert.Equal(t, "density (ISO 5 visual diffuse)", b.plot.Y.Label.Text)
	requireNamed(t, fig)
}

// The numbers of a figure are the readings, the curves and the estimates that it draws.
func TestCurvesNumbers(t *testing.T) {
	ms := plottest.Measured(t, plottest.MadeUp(t, plottest.Contact, true, 6, 9))
	many, err := Curves(ms, figure.Options{})
	require.NoError(t, err)
	one, err := Curves(ms[:1], figure.Options{})
	require.NoError(t, err)
	kinds := map[string]int{}
	for _, s := range many.Body().(figure.Numbered).Numbers() {
		kinds[s.Panel+" "+s.Name] = len(s.Values)
		for _, v := range s.Values {
			switch {
			case s.Panel == "measured" && s.Name == "contrast index":
				low, high := ms[0].ContrastIndex.Interval(0.95)
				if v.X == 6 {
					assert.Equal(t, []float64{ms[0].ContrastIndex.Value, low, high}, []float64{v.Y, v.Low, v.High})
				}
			case v.Remark != "":
				assert.Equal(t, "set aside, step 9", v.Remark)
				assert.Equal(t, float64(ms[0].Strip.Steps()[8].Density), v.Y)
				kinds["remarks"]++
			}
		}
	}
	assert.Equal(t, map[string]int{"readings 6:00": 20, "curve 6:00": bandPlaces, "readings 6:00, unexposed": 2, "readings 9:00": 21, "curve 9:00": bandPlaces,
		"readings 9:00, unexposed": 2, "measured contrast index": 2, "measured speed point": 2, "remarks": 1}, kinds)
	last := one.Body().(figure.Numbered).Numbers()
	i := slices.IndexFunc(last, func(s figure.Series) bool { return s.Panel == "residuals" })
	require.GreaterOrEqual(t, i, 0)
	assert.Len(t, last[i].Values, 20)
}

// Strips stand in the order of their times, the lightest the shortest, however they
// were given; the title tells both ends.
func TestCurvesAreOrderedByTime(t *testing.T) {
	ms := plottest.Measured(t, plottest.MadeUp(t, plottest.Contact, false, 9, 4, 6, 6))
	fig, err := Curves(ms, figure.Options{})
	require.NoError(t, err)
	b := fig.Body().(*curves)
	var names []string
	for _, s := range b.strips {
		names = append(names, s.name)
	}
	assert.Equal(t, []string{"4:00", "6:00, strip 3", "6:00, strip 4", "9:00"}, names)
	assert.Equal(t, parts.Ordered(4)[0].Color, b.strips[0].Color)
	assert.Equal(t, parts.Ordered(4)[3].Color, b.strips[3].Color)
	assert.Regexp(t, `^Contrast index 0\.4\d at 4:00 to 0\.7\d at 9:00; speed \d+ to \d+$`, fig.Title)
	assert.Equal(t, 9.0, float64(ms[0].Strip.Minutes()), "the list of the caller stays as it was")

	alike, err := Curves(ms[2:], figure.Options{})
	require.NoError(t, err)
	assert.Regexp(t, `^Contrast index 0\.\d\d to 0\.\d\d at 6:00; `, alike.Title)
}

// The symbols become smaller as steps and strips grow in number, so that the curves are
// seen.
func TestMarksShrink(t *testing.T) {
	const unit = 100
	scale := func(steps, strips int) float64 {
		s := &strip{steps: steps, readings: plotter.XYs{{X: 0}, {X: 3}}, Look: parts.Ordered(1)[0]}
		s.readings = slices.Repeat(s.readings[:1], steps-1)
		s.readings = append(s.readings, plotter.XY{X: 3})
		s.mark(unit, strips)
		return float64(s.Symbol.Scale)
	}
	assert.Equal(t, 1.0, scale(11, 2))
	assert.Equal(t, 1.0, scale(21, 2))
	assert.Less(t, scale(28, 2), 0.8)
	assert.Less(t, scale(60, 2), 0.5)
	assert.Less(t, scale(21, 12), 0.7)
}

func TestCurvesOfOneStrip(t *testing.T) {
	m := plottest.Measured(t, plottest.Demo(t, "larkfield-brinewater"))[3]
	fig, err := Curves([]*curve.Measured{m}, figure.Options{Confidence: 0.68})
	require.NoError(t, err)
	assert.Equal(t, "Speed "+parts.Interval(*m.Speed, 0.68, 0)+", contrast index "+parts.Interval(*m.ContrastIndex, 0.68, 2), fig.Title)
	b := fig.Body().(*single)
	ray, err := curve.IndexRay(m.Fit.Curve)
	require.NoError(t, err)
	require.Len(t, b.dots, 2)
	for i, h := range []sensito.LogExposure{ray.Near, ray.Far} {
		assert.Equal(t, float64(h), b.dots[i].X)
		assert.InDelta(t, float64(m.Fit.Curve.Density(h)), b.dots[i].Y, 1e-6, "where the ray meets the curve")
	}
	assert.GreaterOrEqual(t, b.plot.X.Max, float64(ray.Far))
	assert.LessOrEqual(t, b.plot.X.Min, float64(ray.Start))
	assert.Contains(t, b.Foot, "68 % interval")

	r := b.strip.residuals()
	require.Len(t, r.Readings, len(b.strip.readings))
	for i, at := range b.strip.readings {
		assert.InDelta(t, at.Y-float64(m.Fit.Curve.Density(sensito.LogExposure(at.X))), r.Readings[i].Y, 1e-12)
	}
	require.Len(t, r.Aside, 1, "the slip")
	assert.Equal(t, []float64{0.11, 0.12}, b.strip.unexposed)
	for i := range r.Low {
		assert.Less(t, r.Low[i].Y, 0.0)
		assert.Greater(t, r.High[i].Y, 0.0)
	}
	assert.Equal(t, b.plot.X.Min, b.lower.X.Min)
	requireNamed(t, fig)
	plottest.RequireReadable(t, fig)
}

// The triangle of ISO 6 stands on the speed point when it is asked for.
func TestTriangle(t *testing.T) {
	m := plottest.Measured(t, plottest.Demo(t, "larkfield-brinewater"))[2]
	without, err := Curves([]*curve.Measured{m}, figure.Options{})
	require.NoError(t, err)
	fig, err := Curves([]*curve.Measured{m}, figure.Options{Triangle: true})
	require.NoError(t, err)
	b := fig.Body().(*single)
	require.Len(t, b.lines, len(without.Body().(*single).lines)+1)
	from := b.whiskers[0].XY
	var corners plotter.XYs
	for _, l := range b.lines {
		if len(l.XYs) == 4 {
			corners = l.XYs
		}
	}
	require.Len(t, corners, 4)
	assert.Equal(t, from, corners[0])
	assert.InDelta(t, 1.30, corners[2].X-from.X, 1e-12, "ISO 6:1993")
	assert.InDelta(t, 0.80, corners[2].Y-from.Y, 1e-12, "ISO 6:1993")
	var told []string
	for _, n := range b.names {
		told = append(told, n.text)
	}
	assert.Contains(t, told, "triangle of ISO 6: 0.80 above 1.30 log H,\nhere "+parts.Interval(*m.ISODifference, 0.95, 2)+": met")
	requireNamed(t, fig)
	plottest.RequireReadable(t, fig)
}

// On a column the level of the base is named at the level, wherever that is free.
func TestBaseIsNamedBesideTheTriangle(t *testing.T) {
	for _, m := range plottest.Measured(t, plottest.Demo(t, "larkfield-brinewater"))[:3] {
		fig, err := Curves([]*curve.Measured{m}, figure.Options{Triangle: true, Width: 84 * vg.Millimeter})
		require.NoError(t, err)
		requireNamed(t, fig)
		b := fig.Body().(*single)
		c := b.data(b.free(fig.Page()))
		names, _ := b.placedNames(c)
		i := slices.IndexFunc(names, func(n parts.Named) bool { return n.Text == "base plus fog" })
		require.GreaterOrEqual(t, i, 0)
		level := parts.Place(c, b.plot, plotter.XY{X: b.plot.X.Min, Y: b.strip.base}).Y
		assert.InDelta(t, float64(level), float64(names[i].Min.Y), 12)
	}
}

// A low curve that rises from the left leaves little room for the names.
func TestNamesFindRoom(t *testing.T) {
	low := plottest.MadeUp(t, func(logH []float64) (sensito.Exposures, error) {
		for i := range logH {
			logH[i] += 0.85
		}
		return plottest.Relative(logH)
	}, false, 1.5)
	fig, err := Curves(plottest.Measured(t, low), figure.Options{})
	require.NoError(t, err)
	requireNamed(t, fig)
	plottest.RequireReadable(t, fig)
}

// requireNamed checks that all names of places stand on the axes and hide no data.
func requireNamed(t *testing.T, fig *figure.Figure) {
	t.Helper()
	var placed []parts.Named
	var hidden, all int
	switch b := fig.Body().(type) {
	case *single:
		placed, hidden = b.placedNames(b.data(b.free(fig.Page())))
		all = len(b.names)
	case *curves:
		placed, hidden = b.placedNames(b.data(b.free(fig.Page())))
		all = len(b.names)
	}
	require.NotZero(t, all)
	require.Len(t, placed, all)
	require.Zero(t, hidden, "data are hidden")
}

// requireStraight is requireReadable for figures with turned texts on their lines, of
// which only the straight ones are compared.
func requireStraight(t *testing.T, fig *figure.Figure) {
	t.Helper()
	plottest.RequireApart(t, fig, slices.DeleteFunc(plottest.Texts(t, fig), func(b plottest.TextBox) bool { return b.Turned }))
}

func TestStepsTheirOwnerSetAsideAreMarked(t *testing.T) {
	trial := plottest.Ignoring(t, plottest.Demo(t, "larkfield-brinewater"), 3, 4, 6)
	ms := plottest.Measured(t, trial)
	fig, err := Curves(ms[:1], figure.Options{})
	require.NoError(t, err)
	b := fig.Body().(*single)
	var steps []int
	for _, a := range b.strip.aside {
		steps = append(steps, a.step)
	}
	assert.Equal(t, []int{3, 4, 6}, steps)
	names := b.strip.asideNames(true)
	require.Len(t, names, 2)
	assert.Equal(t, "steps 3 and 4", names[0].text)
	assert.Equal(t, "step 6", names[1].text)
	assert.Equal(t, "4:00, step 6", b.strip.asideNames(false)[1].text)
}

func TestCurvesOfRelativeExposures(t *testing.T) {
	fig, err := Curves(plottest.Measured(t, plottest.MadeUp(t, plottest.Relative, false, 4, 7)), figure.Options{})
	require.NoError(t, err)
	b := fig.Body().(*curves)
	assert.Equal(t, "relative log exposure", b.lower.X.Label.Text)
	assert.NotContains(t, fig.Title, "speed")
	assert.Empty(t, b.rows[0].speed)
}

// The steps stand along the top where all strips have the same, and the stops of a
// camera.
func TestTopScale(t *testing.T) {
	trial := plottest.MadeUp(t, plottest.Contact, false, 6, 9)
	fig, err := Curves(plottest.Measured(t, trial), figure.Options{})
	require.NoError(t, err)
	b := fig.Body().(*curves)
	assert.Equal(t, "step of the wedge", b.topLabel)
	require.Len(t, b.top, 21)
	for _, m := range b.top {
		assert.Equal(t, float64(trial.Strips()[0].Steps()[int(m.number)-1].LogH), m.at)
	}
	camera := plottest.Demo(t, "larkfield-camera")
	fig, err = Curves(plottest.Measured(t, camera), figure.Options{})
	require.NoError(t, err)
	b = fig.Body().(*curves)
	assert.Equal(t, "stops from the metered exposure", b.topLabel)
	for i, m := range b.top {
		assert.Equal(t, camera.Exposures().Stops()[i], m.number)
	}
}

func TestCurvesRefuse(t *testing.T) {
	one := plottest.Measured(t, plottest.MadeUp(t, plottest.Contact, false, 6))
	two := plottest.Measured(t, plottest.MadeUp(t, plottest.Contact, false, 6, 9))
	for want, try := range map[string]func() (*figure.Figure, error){
		"no strip to draw": func() (*figure.Figure, error) { return Curves(nil, figure.Options{}) },
		"25 strips are too many for one drawing: at most 24": func() (*figure.Figure, error) {
			var many []*curve.Measured
			for range 25 {
				many = append(many, one[0])
			}
			return Curves(many, figure.Options{})
		},
		"the strips of one drawing must be of one trial": func() (*figure.Figure, error) {
			return Curves(append(one[:1:1], plottest.Measured(t, plottest.MadeUp(t, plottest.Contact, false, 6))...), figure.Options{})
		},
		"confidence 1.5 is outside 0 to 1":            func() (*figure.Figure, error) { return Curves(one, figure.Options{Confidence: 1.5}) },
		"figure width 10 mm is outside 60 to 1000 mm": func() (*figure.Figure, error) { return Curves(one, figure.Options{Width: 10 * vg.Millimeter}) },
		"the figure leaves no room for its data: make it wider or higher": func() (*figure.Figure, error) {
			return Curves(two, figure.Options{Width: 60 * vg.Millimeter})
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
	check := func(t *testing.T, fig *figure.Figure) {
		t.Helper()
		var a *stripAxes
		var c vg.Rectangle
		switch b := fig.Body().(type) {
		case *curves:
			a, c = b.stripAxes, b.data(b.free(fig.Page())).Rectangle
		case *single:
			a, c = b.stripAxes, b.data(b.free(fig.Page())).Rectangle
		}
		scaleX := c.Size().X / vg.Length(a.plot.X.Max-a.plot.X.Min)
		scaleY := c.Size().Y / vg.Length(a.plot.Y.Max-a.plot.Y.Min)
		assert.InDelta(t, float64(scaleX), float64(scaleY), 1e-6)

		boxes := plottest.Texts(t, fig)
		onX := func(b plottest.TextBox) bool { return b.Max.Y < c.Min.Y }
		onY := func(b plottest.TextBox) bool { return b.Max.X < c.Min.X && b.Max.Y > c.Min.Y-4 }
		unitX := (plottest.Middle(t, boxes, "-0.6", onX).X - plottest.Middle(t, boxes, "-1.8", onX).X) / 1.2
		hyphen := parts.TextWidth(parts.BodySize, "-1.8") - parts.TextWidth(parts.BodySize, "-0.6")
		assert.Zero(t, hyphen, "figures of one width")
		unitY := (plottest.Middle(t, boxes, "1.2", onY).Y - plottest.Middle(t, boxes, "0.0", onY).Y) / 1.2
		assert.InDelta(t, float64(unitX), float64(unitY), 0.5)
		assert.InDelta(t, float64(scaleX), float64(unitX), 0.01)
	}
	ms := plottest.Measured(t, plottest.Demo(t, "larkfield-brinewater"))
	for _, o := range []figure.Options{{}, {Width: 84 * vg.Millimeter}, {Width: 120 * vg.Millimeter}, {Width: 297 * vg.Millimeter, Height: 150 * vg.Millimeter},
		{Width: 150 * vg.Millimeter, Height: 400 * vg.Millimeter}} {
		for _, strips := range [][]*curve.Measured{ms, ms[:1]} {
			fig, err := Curves(strips, o)
			require.NoError(t, err)
			check(t, fig)
		}
	}
	fig, err := Curves(plottest.Measured(t, plottest.Demo(t, "tern-ashlar")), figure.Options{})
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

// Readings from pictures are not drawn as ISO 5 densities, nor judged by the triangle of ISO 6.
func TestPicturedAxes(t *testing.T) {
	for _, c := range []struct {
		strips []int
		label  string
	}{{[]int{0, 1, 2, 3, 4}, "density (read in pictures)"}, {[]int{2}, "density (strip 3 read in pictures)"}, {nil, "density (ISO 5 visual diffuse)"}} {
		spec := plottest.Demo(t, "larkfield-brinewater").Spec()
		if c.strips != nil {
			spec.Calibrations = []sensito.Calibration{{Name: "bed", Repeatability: 0.006, Covariance: [3][3]float64{{1e-4, 0, 0}, {0, 1e-4, 0}, {0, 0, 1e-6}}}}
		}
		for _, i := range c.strips {
			spec.Strips[i].Calibration = "bed"
		}
		trial, err := sensito.NewTrial(spec)
		require.NoError(t, err)
		assert.Equal(t, c.label, newStripAxes(trial, trial.Strips()).yLabels[0])
		fig, err := Curves(plottest.Measured(t, trial)[2:3], figure.Options{Triangle: true})
		require.NoError(t, err)
		judged := 0
		for _, n := range fig.Body().(*single).names {
			if strings.HasSuffix(n.text, ": met") {
				judged++
			}
			if strings.HasPrefix(n.text, "triangle") && c.strips != nil {
				assert.True(t, strings.HasSuffix(n.text, ": not judged, read in pictures"), n.text)
			}
		}
		assert.Equal(t, map[bool]int{true: 1}[c.strips == nil], judged)
		requireNamed(t, fig)
		plottest.RequireReadable(t, fig)
	}
}
