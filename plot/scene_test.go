package plot

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/plot/vg"

	"sensito/plot/internal/parts"
	"sensito/plot/internal/plottest"
	"sensito/sensito"
	"sensito/sensito/camera"
	"sensito/sensito/curve"
	"sensito/sensito/paper"
	"sensito/sensito/scene"
)

func plateOf(t testing.TB, p *scene.Answer, o Options) (*Figure, *plate) {
	t.Helper()
	fig, err := Scene(p, o)
	require.NoError(t, err)
	return fig, fig.Body().(*plate)
}

// onPaper answers a scene for a grade of a demo paper.
func onPaper(t testing.TB, trial, of, grade string, s scene.Scene) *scene.Answer {
	t.Helper()
	m, err := paper.Measure(plottest.Demo(t, of), curve.FitOptions{})
	require.NoError(t, err)
	s.Paper, err = m.Grade(grade)
	require.NoError(t, err)
	p, err := scene.For(plottest.Family(t, plottest.Demo(t, trial)), s)
	require.NoError(t, err)
	return p
}

// The curve of the negative must run from the darkest tone to the lightest over the
// aim: that is what the development time was chosen for.
func TestSceneMeetsItsAim(t *testing.T) {
	for _, name := range []string{"larkfield-brinewater", "tern-ashlar", "larkfield-camera"} {
		for _, s := range []scene.Scene{plottest.SceneOf(6.5), plottest.SceneOf(7), {Stops: 8, Flare: sensito.Flare{Kind: sensito.FlareVeil, Value: 0.01}},
			{Stops: 6, DensityRange: 0.8, ShadowStops: 3, Flare: sensito.Flare{Kind: sensito.FlareNone}}} {
			p, err := scene.For(plottest.Family(t, plottest.Demo(t, name)), s)
			require.NoError(t, err, name)
			fig, b := plateOf(t, p, Options{})
			require.InDelta(t, float64(p.Scene.DensityRange), b.high-b.low, 1e-6)
			require.InDelta(t, s.Stops, b.lightest-b.darkest, 1e-12)
			line := b.negative.Line
			assert.InDelta(t, b.low, heightAt(line, b.at(b.darkest)), 0.002, "%s %v", name, s)
			assert.InDelta(t, b.high, heightAt(line, b.at(b.lightest)), 0.002, "%s %v", name, s)
			for i, at := range line {
				assert.True(t, b.negative.Low[i].Y <= at.Y && at.Y <= b.negative.High[i].Y)
				if i > 0 {
					assert.GreaterOrEqual(t, at.Y, line[i-1].Y)
				}
			}
			plottest.RequireReadable(t, fig)
		}
	}
}

// Every tone is drawn with the densities of the answer, over its own exposure, from
// which flare moves it by the lift of the placement.
func TestSceneDrawsTheAnswer(t *testing.T) {
	p := onPaper(t, "larkfield-brinewater", "slate", "2", plottest.SceneOf(7))
	_, b := plateOf(t, p, Options{})
	byStops := map[float64]scene.Tone{}
	for _, tone := range p.Tones {
		byStops[tone.Stops] = tone
		x := b.at(tone.Stops)
		assert.InDelta(t, float64(p.Placement().Lift(tone.Stops)), float64(tone.Film)-x, 1e-9)
		assert.InDelta(t, float64(tone.NetDensity.Value), heightAt(b.negative.Line, x), 1e-9)
		assert.InDelta(t, float64(tone.Print.Value), heightAt(b.print.Line, x), 1e-9)
		low, high := tone.Print.Interval(0.95)
		assert.InDelta(t, float64(low), heightAt(b.print.Low, x), 1e-9)
		assert.InDelta(t, float64(high), heightAt(b.print.High, x), 1e-9)
	}
	require.Len(t, b.tones, 8, "from the darkest to the lightest")
	for _, tone := range b.tones {
		want := byStops[tone.Stops]
		assert.InDelta(t, float64(want.NetDensity.Value), float64(tone.NetDensity.Value), 1e-9)
		assert.InDelta(t, float64(want.Print.Value), float64(tone.Print.Value), 1e-9)
		assert.InDelta(t, 0.30103*(3-tone.Stops), tone.relative, 1e-4, "a stop is 0.301")
	}

	// Without flare the darkest tone lies on the speed point, at 0.10.
	assert.InDelta(t, float64(p.SpeedPoint.Value), b.at(-4), 1e-12)
	assert.Equal(t, b.at(-4), b.speedPoint.X)
	assert.InDelta(t, 0.10, heightAt(b.unflared, b.at(-4)), 0.02)
	assert.InDelta(t, b.low-0.10, b.lift, 0.02)
	for _, at := range b.unflared {
		assert.Greater(t, heightAt(b.negative.Line, at.X), at.Y, "flare lifts")
	}
	low, high := p.ExposureIndex.Interval(0.95) // as 1 over exposure
	assert.InDelta(t, math.Log10(float64(high/low)), b.speedPoint.High-b.speedPoint.Low, 1e-6)

	assert.Equal(t, "Set EI 80 and "+parts.Develop(p.Minutes, 0.95), setAndDevelop(p, 0.95))
	series := map[string]bool{}
	for _, s := range b.Numbers() {
		series[s.Name] = len(s.Values) > 0
	}
	for _, name := range []string{"negative", "negative without flare", "print", "tones on the negative", "tones in the print", "ends of the scene", "speed point (interval along x)"} {
		assert.True(t, series[name], name)
	}
}

// Spot readings stand where they were placed, and where they fall.
func TestSceneSpots(t *testing.T) {
	m := &camera.Metering{Shadow: camera.SpotReading{EV: 8, Zone: 3}, Highlight: camera.SpotReading{EV: 14, Zone: 8}}
	stops, err := m.Range()
	require.NoError(t, err)
	p, err := scene.For(plottest.Family(t, plottest.Demo(t, "larkfield-brinewater")), scene.Scene{Stops: stops, Metering: m})
	require.NoError(t, err)
	for _, o := range []Options{{}, {Width: 84 * vg.Millimeter}} {
		fig, b := plateOf(t, p, o)
		assert.Equal(t, []plateSpot{{-2, "shadow EV 8"}, {4, "highlight EV 14 (wanted on VIII)"}}, b.spots)
		plottest.RequireReadable(t, fig)
	}
}

// A trial of relative exposures has no index, and says so.
func TestSceneOfRelativeExposures(t *testing.T) {
	p, err := scene.For(plottest.Family(t, plottest.MadeUp(t, plottest.Relative, false, 4, 7, 12)), plottest.SceneOf(7))
	require.NoError(t, err)
	fig, b := plateOf(t, p, Options{})
	assert.Regexp(t, "^Develop .*; relative exposures give no exposure index$", b.Title)
	assert.Equal(t, "relative log exposure of the film, without flare", b.plot.X.Label.Text)
	for _, box := range plottest.Texts(t, fig) {
		assert.NotContains(t, box.Text, "EI ")
	}
}

// Scenes short and long, one strip, small pages: all text stands apart, and one unit
// of log exposure is as long as one of density where the page is wide.
func TestSceneIsReadable(t *testing.T) {
	larkfield := plottest.Family(t, plottest.Demo(t, "larkfield-brinewater"))
	answers := map[string]*scene.Answer{"paper": onPaper(t, "larkfield-brinewater", "slate", "2", plottest.SceneOf(7)), "contact": onPaper(t, "larkfield-brinewater", "foxglove", "", plottest.SceneOf(9))}
	for name, s := range map[string]scene.Scene{"short": {Stops: 3, DensityRange: 0.5}, "thirds": {Stops: 6.3, ShadowStops: 3.34}, "scan": {Stops: 8, ScanMax: 1.5}} {
		p, err := scene.For(larkfield, s)
		require.NoError(t, err, name)
		answers[name] = p
	}
	one, err := scene.For(plottest.Family(t, plottest.MadeUp(t, plottest.Contact, false, 7)), plottest.SceneOf(7))
	require.NoError(t, err)
	answers["one strip"] = one
	for name, p := range answers {
		for _, o := range []Options{{}, {Width: 84 * vg.Millimeter}, {Width: 297 * vg.Millimeter, Height: 210 * vg.Millimeter}} {
			fig, b := plateOf(t, p, o)
			plottest.RequireReadable(t, fig)
			c := b.data(fig.Page())
			across, up := c.Size().X/vg.Length(b.plot.X.Max-b.plot.X.Min), c.Size().Y/vg.Length(b.plot.Y.Max-b.plot.Y.Min)
			if o.Height == 0 {
				across = max(across, leastDensity)
			}
			assert.InDelta(t, float64(across), float64(up), 1e-6, name)
		}
	}
	_, err = Scene(one, Options{Height: 60 * vg.Millimeter})
	assert.EqualError(t, err, "the figure leaves no room for its data: make it wider or higher")
	_, err = Scene(one, Options{Confidence: 2})
	assert.ErrorContains(t, err, "confidence")
}

// At an index that is given what lies under the speed point is shaded, and the speed point
// lies where the index lays it.
func TestSceneAtAGivenIndex(t *testing.T) {
	f := plottest.Family(t, plottest.Demo(t, "larkfield-brinewater"))
	for _, width := range []vg.Length{0, 84 * vg.Millimeter} {
		p, err := scene.ForIndex(f, scene.Scene{Stops: 7}, scene.Given{Index: 160})
		require.NoError(t, err)
		fig, b := plateOf(t, p, Options{Width: width})
		plottest.RequireReadable(t, fig)
		assert.InDelta(t, math.Log10(8.125/160), b.metered, 1e-9)
		assert.InDelta(t, p.AtIndex.Lost, b.lost, 0)
		assert.InDelta(t, b.speedPoint.X, b.at(b.darkest+b.lost), 1e-9)
		assert.Greater(t, b.lost, 0.8)
	}
	over, err := scene.ForIndex(f, scene.Scene{Stops: 7}, scene.Given{Index: 25, Exposed: true, Keep: scene.KeepRange})
	require.NoError(t, err)
	fig, b := plateOf(t, over, Options{})
	plottest.RequireReadable(t, fig)
	assert.Zero(t, b.lost)
	assert.Less(t, b.from, b.point)
}

// Film for line drawings has its whole toe within a stop: its curve is drawn through so
// many places that it turns by little at each.
func TestSceneOnSteepFilm(t *testing.T) {
	e, err := sensito.NewContact(1, 1, sensito.EvenWedge(0.05, 0.10, 31))
	require.NoError(t, err)
	spec := sensito.TrialSpec{Film: sensito.Film{Name: "Larkfield 125"}, Exposures: e}
	for _, minutes := range []float64{4, 6, 9} {
		s := sensito.StripSpec{Minutes: sensito.Minutes(minutes), BaseFog: []sensito.Density{0.1}}
		for _, h := range e.LogH() { // a gradient of 4 to 5, and a shoulder at 3.5
			corner := func(u, w float64) float64 { return w * math.Log1p(math.Exp(u/w)) }
			gamma := 5.5 * -math.Expm1(-0.3*minutes)
			s.Density = append(s.Density, sensito.Density(0.1+gamma*(corner(float64(h)+2, 0.05)-corner(float64(h)+2-3.5/gamma, 0.1))))
		}
		spec.Strips = append(spec.Strips, s)
	}
	trial, err := sensito.NewTrial(spec)
	require.NoError(t, err)
	p, err := scene.For(plottest.Family(t, trial), scene.Scene{Stops: 1.5, DensityRange: 1.6, Flare: sensito.Flare{Kind: sensito.FlareNone}})
	require.NoError(t, err)
	fig, b := plateOf(t, p, Options{})
	plottest.RequireReadable(t, fig)
	line := b.negative.Line
	for i := range line[2:] {
		turn := (line[i+2].Y-line[i+1].Y)/(line[i+2].X-line[i+1].X) - (line[i+1].Y-line[i].Y)/(line[i+1].X-line[i].X)
		assert.Less(t, math.Abs(turn), 0.8, "at %.2f", line[i+1].X)
	}
}
