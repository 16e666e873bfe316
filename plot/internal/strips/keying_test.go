package strips

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"

	"sensito/plot/internal/figure"
	"sensito/plot/internal/parts"
	"sensito/plot/internal/plottest"
	"sensito/sensito"
)

// keyed returns a strip of 8:00 of which the first steps are read, beside one of 6:20.
func keyed(t testing.TB, read int) Keyed {
	t.Helper()
	spec := plottest.MadeUp(t, plottest.Contact, false, 6+1.0/3, 8).Spec()
	s := &spec.Strips[1]
	s.Density = slices.Clone(s.Density)
	for i := read; i < len(s.Density); i++ {
		s.Density[i] = sensito.Density(math.NaN())
	}
	s.NextStep = read + 1
	trial, err := sensito.NewTrial(spec)
	require.NoError(t, err)
	k := Keyed{Strip: trial.Strips()[1], Beside: trial.Strips()[0]}
	for _, of := range []struct {
		strip *sensito.Strip
		curve *[]sensito.Density
	}{{k.Strip, &k.Curve}, {k.Beside, &k.BesideCurve}} {
		for i := range of.strip.Steps() {
			*of.curve = append(*of.curve, sensito.Density(3-0.1*float64(i)))
		}
	}
	return k
}

// A figure plots the readings that there are, the curve where they are, and of the others
// nothing, though the curve that it is given goes on.
func TestKeyingPlotsWhatIsRead(t *testing.T) {
	const read = 8
	k := keyed(t, read)
	steps := k.Strip.Steps()
	plotted := func(k Keyed) *keying {
		fig, err := Keying(k, figure.Options{Page: true, Width: figure.NarrowWidth})
		require.NoError(t, err)
		return fig.Body().(*keying)
	}
	b := plotted(k)
	require.Len(t, b.readings, read)
	require.Len(t, b.curve, 1)
	require.Len(t, b.curve[0], read)
	for i := range read {
		assert.Equal(t, plotter.XY{X: float64(steps[i].LogH), Y: float64(steps[i].Density)}, b.readings[i])
		assert.Equal(t, plotter.XY{X: float64(steps[i].LogH), Y: float64(k.Curve[i])}, b.curve[0][read-1-i], "in rising exposure")
	}
	require.Len(t, b.beside, 1)
	assert.Len(t, b.beside[0], len(steps), "the other strip is complete")
	assert.Equal(t, [2]string{"8:00", "6:20"}, [2]string{b.name, b.besideName})
	assert.Nil(t, b.expected)
	assert.Nil(t, b.read)
	assert.Empty(t, b.lead)
	last := float64(steps[read-1].LogH)
	for _, s := range b.Numbers() {
		for _, v := range s.Values {
			if s.Name == "8:00" {
				assert.GreaterOrEqual(t, v.X, last, "%s of a step that is not read", s.Panel)
			}
		}
	}

	k.Judged = &Judged{Step: read, Expected: 1.2, ExpectedAs: "1.20"}
	b = plotted(k)
	assert.Equal(t, &plotter.XY{X: last, Y: 1.2}, b.expected)
	assert.Equal(t, "1.20 expected", b.about)
	assert.Nil(t, b.read)
	assert.Empty(t, b.lead, "the curve goes there")

	next := float64(steps[read].LogH)
	k.Judged = &Judged{Step: read + 1, Questioned: true, Read: 1.18, ReadAs: "1.18", Expected: 1.08, ExpectedAs: "1.08"}
	b = plotted(k)
	assert.Equal(t, &plotter.XY{X: next, Y: 1.18}, b.read)
	assert.Equal(t, &plotter.XY{X: next, Y: 1.08}, b.expected)
	assert.Equal(t, []plotter.XYs{{{X: last, Y: float64(k.Curve[read-1])}, {X: next, Y: 1.08}}}, b.lead)
	assert.Len(t, b.readings, read, "what is questioned is no reading yet")

	k.Judged.Expected = sensito.Density(math.NaN())
	b = plotted(k)
	assert.NotNil(t, b.read)
	assert.Nil(t, b.expected, "where nothing is expected")
	assert.Empty(t, b.lead)
}

// The curve has a gap at a step that was left out.
func TestKeyingLeavesOut(t *testing.T) {
	spec := keyed(t, 8).Strip.Trial().Spec()
	spec.Strips[1].Density = slices.Clone(spec.Strips[1].Density)
	spec.Strips[1].Density[3] = sensito.Density(math.NaN())
	trial, err := sensito.NewTrial(spec)
	require.NoError(t, err)
	k := keyed(t, 8)
	k.Strip = trial.Strips()[1]
	var o figure.Options
	b := newKeying(k, &o)
	require.Len(t, b.curve, 2)
	assert.Equal(t, [2]int{3, 4}, [2]int{len(b.curve[0]), len(b.curve[1])})
	assert.Len(t, b.readings, 7)
}

// Every state of a strip has a figure of the same size and scales, with one unit as long
// on both axes, and text clear of text.
func TestKeyingKeepsItsSize(t *testing.T) {
	for _, o := range []figure.Options{{}, {Page: true, Width: figure.NarrowWidth}, {Page: true, Width: figure.WideWidth}} {
		var size [2]float64
		for read := range 21 {
			for _, d := range []sensito.Density{0.02, 1.28, 5.6} {
				k := keyed(t, read)
				k.Judged = &Judged{Step: read + 1, Questioned: true, Read: d, ReadAs: "1.28", Expected: max(2.2-0.1*sensito.Density(read), 0.2), ExpectedAs: "1.05"}
				if d == 0.02 {
					k.Judged = nil
				}
				fig, err := Keying(k, o)
				require.NoError(t, err)
				if size == [2]float64{} {
					size = [2]float64{fig.Width.Points(), fig.Height.Points()}
				}
				require.Equal(t, size, [2]float64{fig.Width.Points(), fig.Height.Points()}, "%d steps read, %.2f keyed in", read, d)
				b := fig.Body().(*keying)
				for _, at := range b.held() {
					require.True(t, at.X >= b.plot.X.Min && at.X <= b.plot.X.Max && at.Y >= b.plot.Y.Min && at.Y <= b.plot.Y.Max, "%v", at)
				}
				c := b.data(b.free(fig.Page()))
				require.InDelta(t, c.Size().X.Points()/(b.plot.X.Max-b.plot.X.Min), c.Size().Y.Points()/(b.plot.Y.Max-b.plot.Y.Min), 1e-6)
				if !o.Page {
					plottest.RequireReadable(t, fig)
				}
			}
		}
	}
	_, err := Keying(keyed(t, 3), figure.Options{Confidence: 2})
	assert.ErrorContains(t, err, "confidence")
	_, err = Keying(keyed(t, 3), figure.Options{Height: 62})
	assert.ErrorContains(t, err, "mm is outside")
}

// The readings of another unit are drawn in density, which the caption says.
func TestKeyingSaysItsUnit(t *testing.T) {
	trial := plottest.Demo(t, "larkfield-meter")
	k := Keyed{Strip: trial.Strips()[0]}
	fig, err := Keying(k, figure.Options{Page: true, Width: figure.NarrowWidth})
	require.NoError(t, err)
	assert.Contains(t, fig.Caption(), "Drawn in density; the readings are in EV.")
	b := fig.Body().(*keying)
	for i, step := range trial.Strips()[0].Steps() {
		assert.Equal(t, float64(step.Density), b.readings[i].Y)
	}
	assert.Contains(t, parts.AxisName(b.plot.Y), "density")
	assert.NotContains(t, fig.Caption(), "beside", "no other strip is given")
}

// The names of the curves stand within the frame or beside it, and never upon it.
func TestKeyingNamesAreOffTheFrame(t *testing.T) {
	beside := 0
	for _, width := range []vg.Length{70 * vg.Millimeter, 100 * vg.Millimeter, 150 * vg.Millimeter} {
		for read := 2; read < 21; read++ {
			k := keyed(t, read)
			fig, err := Keying(k, figure.Options{Width: width})
			require.NoError(t, err)
			b := fig.Body().(*keying)
			upper, _ := b.areas(b.free(fig.Page()))
			frame := b.plot.DataCanvas(upper)
			for _, box := range plottest.Texts(t, fig) {
				if box.Text != b.name && box.Text != b.besideName {
					continue
				}
				const halo = 1.5 // about a text, which would part the line
				if box.Min.X > frame.Max.X {
					beside++
					assert.GreaterOrEqual(t, box.Min.X, frame.Max.X+halo, "%s, %d read", box.Text, read)
					assert.LessOrEqual(t, box.Max.X, fig.Page().Max.X, "%s, %d read", box.Text, read)
				} else {
					assert.LessOrEqual(t, box.Max.X, frame.Max.X-halo, "%s, %d read", box.Text, read)
				}
			}
		}
	}
	assert.Positive(t, beside)
}
