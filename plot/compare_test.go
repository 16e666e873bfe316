package plot

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"

	"sensito/plot/internal/parts"
	"sensito/plot/internal/plottest"
	"sensito/sensito"
	"sensito/sensito/answers"
	"sensito/sensito/compare"
	"sensito/sensito/curve"
	"sensito/sensito/development"
)

// developers returns an invented film in so many developers, which differ in
// rate, speed, toe, fog and shoulder.
func developers(t testing.TB, exposures func([]float64) (sensito.Exposures, error), n int) []*development.Family {
	t.Helper()
	logH := make([]float64, 21)
	for i := range logH {
		logH[i] = -0.05 - 0.15*float64(i)
	}
	e, err := exposures(logH)
	require.NoError(t, err)
	var out []*development.Family
	for k := range n {
		rng := rand.New(rand.NewPCG(uint64(k), 3))
		spec := sensito.TrialSpec{
			Title:     fmt.Sprintf("Larkfield 125 in %s 1+%d", []string{"Brinewater", "Ashlar"}[k%2], 9+5*k),
			Film:      sensito.Film{Name: "Larkfield 125"},
			Process:   sensito.Process{Developer: "Ashlar", Dilution: fmt.Sprintf("1+%d", 9+5*k), TemperatureC: 20},
			Exposures: e,
		}
		x := float64(k)
		rate, at, toe := 0.17*math.Pow(0.92, x), -2.1+0.06*math.Sin(2.3*x), 0.13+0.012*x
		for _, tm := range []float64{4, 5.5, 7.5, 10, 14} {
			gamma := 1.15 * (1 - math.Exp(-rate*tm))
			s := sensito.StripSpec{Minutes: sensito.Minutes(tm), BaseFog: []sensito.Density{0.10, 0.11}, Process: spec.Process}
			for _, h := range logH {
				d := 0.10 + (0.001+0.0006*x)*tm + gamma*plottest.Softplus(h-at, toe)
				if k%3 == 2 { // shoulders
					d -= gamma * plottest.Softplus(h-at-1.7, 0.12)
				}
				s.Density = append(s.Density, sensito.Density(math.Round(100*(d+0.008*rng.NormFloat64()))/100))
			}
			spec.Strips = append(spec.Strips, s)
		}
		trial, err := sensito.NewTrial(spec)
		require.NoError(t, err)
		out = append(out, plottest.Family(t, trial))
	}
	return out
}

func compared(t testing.TB, fs []*development.Family) *compare.Comparison {
	t.Helper()
	c, err := compare.Compare(fs, compare.Options{})
	require.NoError(t, err)
	return c
}

func comparison(t testing.TB, c *compare.Comparison, name string) *comparePanel {
	t.Helper()
	fig, err := Compare(c, name, Options{})
	require.NoError(t, err)
	b := fig.Body().(*compareBody)
	require.Len(t, b.panels, 1)
	return b.panels[0]
}

func TestComparePlotsWhatIsCompared(t *testing.T) {
	c := compared(t, developers(t, plottest.Contact, 4))
	for i, x := range c.Trials {
		lo, hi := x.Curve.Domain()
		m, base := x.SpeedPoint.Value, curve.BaseFog(x.Curve)
		l := comparison(t, c, CompareCurves).lines[i]
		require.Len(t, l.along, comparePlaces)
		assert.Equal(t, x.Name, l.name)
		assert.InDelta(t, float64(lo), l.along[0].X, 1e-12)
		assert.InDelta(t, float64(hi), l.along[comparePlaces-1].X, 1e-12)
		aligned, gradient := comparison(t, c, CompareAligned).lines[i], comparison(t, c, CompareGradient).lines[i]
		for k, at := range l.along {
			h := sensito.LogExposure(at.X)
			assert.InDelta(t, float64(x.Curve.Density(h)), at.Y, 1e-12)
			assert.InDelta(t, at.X-float64(m), aligned.along[k].X, 1e-12)
			assert.InDelta(t, at.Y-float64(base), aligned.along[k].Y, 1e-12)
			assert.InDelta(t, at.X-float64(m), gradient.along[k].X, 1e-9)
			assert.InDelta(t, x.Curve.Slope(h), gradient.along[k].Y, 1e-6)
		}
		assert.InDelta(t, 0.10+float64(base), l.dot.Y, 1e-8) // ISO 6:1993, the speed point
		assert.Equal(t, float64(m), l.dot.X)

		time, speed := comparison(t, c, CompareTime).lines[i], comparison(t, c, CompareSpeed).lines[i]
		strips := x.Strips()
		require.Len(t, time.points, len(strips))
		for k, s := range strips {
			assert.Equal(t, [2]float64{float64(s.Minutes), s.Gradient}, [2]float64{time.points[k].X, time.points[k].Y})
			assert.Equal(t, [2]float64{s.Gradient, float64(sensito.SpeedAt(s.SpeedPoint))}, [2]float64{speed.points[k].X, speed.points[k].Y})
		}
		assert.Equal(t, [2]float64{float64(x.Minutes.Value), c.Gradient}, [2]float64{time.dot.X, time.dot.Y})
		assert.InDelta(t, c.Gradient, heightAt(time.along, time.dot.X), 1e-3, "the law runs through the time")
		assert.InDelta(t, float64(x.Speed.Value), heightAt(speed.along, c.Gradient), 0.1, "and the speed")
		low, high := x.Minutes.Interval(0.95)
		assert.Equal(t, [2]float64{float64(low), float64(high)}, [2]float64{time.bar[0].X, time.bar[1].X})
		slow, fast := x.Speed.Interval(0.95)
		assert.Equal(t, [2]float64{float64(slow), float64(fast)}, [2]float64{speed.bar[0].Y, speed.bar[1].Y})
	}
}

// All lines are within their panels, and every trial is named at each of its
// lines.
func TestCompareOfManyTrials(t *testing.T) {
	if testing.Short() {
		t.Skip("slow under the race detector, and nothing in it runs side by side")
	}
	nine := developers(t, plottest.Contact, 9)
	for _, n := range []int{2, 5, 9} {
		c := compared(t, nine[:n])
		for _, name := range append(CompareFigures(), "") {
			fig, err := Compare(c, name, Options{})
			require.NoError(t, err, "%d %s", n, name)
			plottest.RequireReadable(t, fig)
			b := fig.Body().(*compareBody)
			_, areas := b.areas(fig.Page())
			for i, p := range b.panels {
				require.Len(t, p.lines, n)
				data := p.plot.DataCanvas(areas[i])
				for _, l := range p.lines {
					for _, pt := range append(parts.Places(data, p.plot, l.along), parts.Places(data, p.plot, l.points)...) {
						require.True(t, pt.X >= data.Min.X-0.01 && pt.X <= data.Max.X+0.01 && pt.Y >= data.Min.Y-0.01 && pt.Y <= data.Max.Y+0.01, "%s leaves its panel", p.title)
					}
				}
				if p.equal {
					x, y := data.Size().X/vg.Length(p.plot.X.Max-p.plot.X.Min), data.Size().Y/vg.Length(p.plot.Y.Max-p.plot.Y.Min)
					assert.InEpsilon(t, float64(x), float64(y), 0.01, "one unit is as long on both axes of %s", p.title)
				}
			}
			named := map[string]int{}
			for _, box := range plottest.Texts(t, fig) {
				named[box.Text]++
			}
			for i, x := range c.Trials {
				if b.rows != nil {
					assert.Equal(t, 1, named[x.Name], "in its row")
				}
				if name != CompareDifferences {
					assert.Equal(t, 1, named[answers.Names(c)[i]], "at its line")
				}
			}
		}
	}
	for _, name := range append(CompareFigures(), "") {
		fig, err := Compare(compared(t, nine), name, Options{Width: 84 * vg.Millimeter})
		require.NoError(t, err, name)
		plottest.RequireReadable(t, fig)
		assert.LessOrEqual(t, fig.Height, 297*vg.Millimeter, "no taller than A4: %q", name)
		if name == "" {
			assert.NotEmpty(t, fig.Body().(*compareBody).panels, "the differences of the tones stay")
		}
	}
	looks := map[string]bool{}
	for _, l := range parts.Unordered(maxCompared) {
		looks[fmt.Sprint(l.Dashes, l.Width, l.Symbol)] = true
	}
	assert.Len(t, looks, maxCompared, "lines that differ without colour")

	_, err := Compare(compared(t, append(nine, nine[0])), "", Options{})
	assert.EqualError(t, err, "10 trials are too many for one drawing: at most 9")
	_, err = Compare(compared(t, nine[:2]), "colour", Options{})
	assert.EqualError(t, err, `"colour" is not a figure of a comparison; use differences, tones, aligned, gradient, curves, time, speed`)
}

func TestCompareAtOtherSizes(t *testing.T) {
	c := compared(t, developers(t, plottest.Contact, 3))
	for _, o := range []Options{
		{Width: 150 * vg.Millimeter},
		{Width: 84 * vg.Millimeter},
		{Width: 297 * vg.Millimeter, Height: 210 * vg.Millimeter},
		{Width: 210 * vg.Millimeter, Height: 297 * vg.Millimeter},
		{Title: "A title that is a good deal longer than any page of the usual width can hold on one line, and then goes on: all developers on the shelf"},
	} {
		for _, name := range append(CompareFigures(), "") {
			fig, err := Compare(c, name, o)
			require.NoError(t, err, "%q %+v", name, o)
			plottest.RequireReadable(t, fig)
		}
	}
	_, err := Compare(c, "", Options{Height: 100 * vg.Millimeter})
	assert.EqualError(t, err, "the figure leaves no room for its data: make it wider or higher")
}

// Trials on relative exposures are in the panels that need no speed; a trial
// that does not reach the gradient is in the key alone.
func TestCompareRelativeExposures(t *testing.T) {
	fs := developers(t, plottest.Relative, 2)
	c := compared(t, fs)
	fig, err := Compare(c, "", Options{})
	require.NoError(t, err)
	plottest.RequireReadable(t, fig)
	assert.Len(t, fig.Body().(*compareBody).panels, 3)
	_, err = Compare(c, CompareSpeed, Options{})
	assert.EqualError(t, err, `the figure "speed" needs exposures in lux seconds, and every trial has relative ones`)

	faint := plottest.Family(t, plottest.MadeUp(t, plottest.Contact, false, 0.6, 0.8))
	c = compared(t, append(fs, developers(t, plottest.Contact, 1)[0], faint))
	fig, err = Compare(c, "", Options{})
	require.NoError(t, err)
	plottest.RequireReadable(t, fig)
	b := fig.Body().(*compareBody)
	assert.Len(t, b.panels[1].lines, 3)
	assert.Len(t, comparison(t, c, CompareCurves).lines, 1)
	last := b.rows.Rows[3]
	assert.Nil(t, last.Look)
	assert.Equal(t, "not compared", last.Detail)
	for _, col := range b.rows.Columns {
		assert.Nil(t, col.Whiskers[3], col.Title)
	}
	assert.Nil(t, b.rows.Columns[0].Whiskers[1], "no speed of relative exposures")
}

// The whiskers and the tones are the differences of the comparison, filled where
// they are proven; the others follow the first from the fastest to the slowest.
func TestCompareDrawsTheDifferences(t *testing.T) {
	c := compared(t, developers(t, plottest.Contact, 4))
	fig, err := Compare(c, "", Options{})
	require.NoError(t, err)
	b := fig.Body().(*compareBody)
	require.Equal(t, 0, b.rows.trials[0])
	proven := map[bool]int{}
	for k, col := range b.rows.Columns {
		for i, trial := range b.rows.trials[1:] {
			if i > 0 {
				assert.LessOrEqual(t, c.Trials[trial].Speed.Value, c.Trials[b.rows.trials[i]].Speed.Value)
			}
			w := col.Whiskers[i+1]
			found := 0
			for _, d := range c.Differences {
				if d.A != 0 || d.B != trial || d.Quantity != differenceColumns[k].quantity {
					continue
				}
				found++
				low, high := d.Value.Interval(0.95)
				assert.Equal(t, [3]float64{d.Value.Value, low, high}, [3]float64{w.X, w.Low, w.High})
				assert.Equal(t, d.Real, w.Filled)
				proven[d.Real]++
			}
			require.Equal(t, 1, found)
		}
	}
	assert.True(t, proven[true] > 0 && proven[false] > 0, "both kinds are there")

	tones := b.panels[0]
	for _, d := range c.Differences {
		if d.A != 0 || d.Quantity != compare.DiffTone || d.Value == nil {
			continue
		}
		l := tones.lines[d.B]
		k := slices.IndexFunc(l.along, func(xy plotter.XY) bool { return xy.X == *d.Stops })
		require.GreaterOrEqual(t, k, 0)
		low, high := d.Value.Interval(0.95)
		assert.Equal(t, [3]float64{d.Value.Value, low, high}, [3]float64{l.along[k].Y, l.low[k].Y, l.high[k].Y})
		assert.Equal(t, d.Real, l.proven[k])
		assert.True(t, low >= tones.plot.Y.Min && high <= tones.plot.Y.Max, "the band leaves its panel")
	}
	written := b.Numbers()
	assert.Equal(t, "difference of speed, stops, from the first", written[0].Y)
	assert.Equal(t, b.rows.Columns[0].Whiskers[1].X, written[0].Values[0].Y)
	assert.Equal(t, b.rows.Columns[0].Whiskers[1].Low, written[0].Values[0].Low)
}

// Of many trials one band stands for all, as wide as the widest.
func TestCompareWidestBand(t *testing.T) {
	p := tonesPanel(compared(t, developers(t, plottest.Contact, 6)), Options{Confidence: 0.95})
	require.NotEmpty(t, p.low)
	for k, at := range p.high {
		most := 0.0
		for _, l := range p.lines {
			for i, xy := range l.high {
				if xy.X == at.X {
					most = max(most, (xy.Y-l.low[i].Y)/2)
				}
			}
		}
		assert.InDelta(t, most, at.Y, 1e-12)
		assert.Equal(t, -at.Y, p.low[k].Y)
	}
}

func TestCompareAnswer(t *testing.T) {
	demos := []*development.Family{plottest.Family(t, plottest.Demo(t, "larkfield-brinewater")), plottest.Family(t, plottest.Demo(t, "larkfield-ashlar")), plottest.Family(t, plottest.Demo(t, "tern-ashlar"))}
	const wide, column = 490, 218 // points
	two := compared(t, demos[:2])
	assert.Equal(t, "Ashlar 1+9 gives 0.38 stop less speed than Brinewater 1+19, needs 0.8 min longer and has 0.03 more fog; nothing else is proven", answers.Comparison(two, titleRoom(wide)))
	three := compared(t, demos)
	assert.Equal(t, "Tern 400 in Ashlar 1+31 gives 1.7 stops more speed than Larkfield 125 in Brinewater 1+19, Larkfield 125 in Ashlar 1+9 gives 0.38 stop less", answers.Comparison(three, titleRoom(wide)))
	assert.Equal(t, "Of 2 other trials 1 gives more speed than Larkfield 125 in Brinewater 1+19 and 1 gives less", answers.Comparison(three, titleRoom(column)))
	for i := range two.Differences {
		two.Differences[i].Real = false
	}
	assert.Equal(t, "No difference between Brinewater 1+19 and Ashlar 1+9 is proven", answers.Comparison(two, titleRoom(wide)))
	two.Differences[0].Real = true
	require.Equal(t, compare.DiffSpeedStops, two.Differences[0].Quantity)
	two.Differences[0].Value.Value = -0.38
	assert.Equal(t, "Ashlar 1+9 gives 0.38 stop less speed than Brinewater 1+19; nothing else is proven", answers.Comparison(two, titleRoom(wide)))
	for i := range three.Differences {
		three.Differences[i].Real = false
	}
	assert.Equal(t, "No trial is proven to differ from Larkfield 125 in Brinewater 1+19 in speed", answers.Comparison(three, titleRoom(wide)))
	alike := compared(t, developers(t, plottest.Relative, 3))
	assert.Contains(t, answers.Comparison(alike, titleRoom(wide)), " min longer than Brinewater 1+9", "without speeds the times are told")

	fig, err := Compare(two, "", Options{Title: "Mine"})
	require.NoError(t, err)
	assert.Equal(t, "Mine", fig.Title)
}
