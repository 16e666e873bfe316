package strips

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/plot/vg"

	"sensito/plot/internal/figure"
	"sensito/plot/internal/parts"
	"sensito/plot/internal/plottest"
	"sensito/sensito"
	"sensito/sensito/paper"
)

// The curves of the grades meet in their speed points; the bars below reach from white
// to black.
func TestPaperPlotsWhatWasMeasured(t *testing.T) {
	p := plottest.MeasuredPaper(t, plottest.Demo(t, "slate"))
	slices.Reverse(p.Strips) // the softest is drawn first all the same
	fig, err := Paper(p, figure.Options{})
	require.NoError(t, err)
	assert.Equal(t, "ISO range 182 at grade 00 to 40 at grade 5; speeds of 110 to 250 among them", fig.Title)
	b := fig.Body().(*grades)
	require.Len(t, b.strips, 7)
	require.Len(t, b.bars.rows, 7)
	lightness := math.Inf(1)
	for i, m := range slices.Backward(p.Strips) {
		s, r := b.strips[6-i], b.bars.rows[6-i]
		assert.Equal(t, "grade "+m.Grade, s.name)
		assert.Equal(t, m.Grade, r.name)
		red, green, blue, _ := s.Color.RGBA()
		assert.Less(t, float64(red+green+blue), lightness, "from light to dark")
		lightness = float64(red + green + blue)

		origin := float64(m.SpeedPoint.Value)
		assert.InDelta(t, float64(m.MinDensity.Value)+0.60, s.density(0), 1e-8, "ISO 6846, the speed point, from memory")
		for _, at := range s.curve {
			assert.InDelta(t, float64(m.Fit.Curve.Density(sensito.LogExposure(at.X+origin))), at.Y, 1e-12)
		}
		assert.InDelta(t, float64(m.White.Value)-origin, r.white, 1e-12)
		assert.InDelta(t, float64(m.Black.Value)-origin, r.black, 1e-12)
		low, high := m.LogRange.Interval(0.95)
		assert.InDelta(t, float64(low), r.low-r.white, 1e-12)
		assert.InDelta(t, float64(high), r.high-r.white, 1e-12)
		assert.InDelta(t, float64(m.LogRange.Value), r.black-r.white, 1e-9)
		assert.Contains(t, r.text, fmt.Sprintf("ISO range %.0f (", 100*float64(m.LogRange.Value)))
		assert.Contains(t, r.text, fmt.Sprintf("speed %.0f (", float64(m.Speed.Value)))
		assert.LessOrEqual(t, b.plot.X.Min, r.white)
		assert.GreaterOrEqual(t, b.plot.X.Max, r.end())
	}
	assert.Equal(t, "log exposure from the speed point", b.xLabel)
	assert.Equal(t, "reflection density (ISO 5)", b.plot.Y.Label.Text)

	c := b.data(b.free(fig.Page()))
	labels, _ := b.labels(c)
	assert.Len(t, labels, 7, "every curve has its name on it")
	var measured []string
	for _, s := range b.Numbers() {
		if s.Panel == "measured" && s.Name == "grade 00" {
			measured = append(measured, s.Y)
		}
	}
	assert.Equal(t, []string{"ISO range", "speed", "white, log H", "black, log H", "speed point, log H"}, measured)
}

func TestPaperIsReadableAtOtherSizes(t *testing.T) {
	spec := plottest.Demo(t, "slate").Spec()
	for i := range spec.Strips {
		spec.Strips[i].Grade = "Фильтр Ågr " + spec.Strips[i].Grade
	}
	long, err := sensito.NewTrial(spec)
	require.NoError(t, err)
	for _, o := range []figure.Options{{}, {Width: 84 * vg.Millimeter}} {
		fig, err := Paper(plottest.MeasuredPaper(t, long), o)
		require.NoError(t, err)
		requireStraight(t, fig)
		b := fig.Body().(*grades)
		c := b.lower.DataCanvas(b.free(fig.Page()))
		x, _ := b.lower.Transforms(&c)
		for _, r := range b.bars.rows {
			assert.Less(t, x(r.end())+parts.TextWidth(parts.SmallSize, b.bars.text(r))+7, c.Max.X, "the text ends in the frame")
		}
	}
	p := plottest.MeasuredPaper(t, plottest.Demo(t, "slate"))
	for _, o := range []figure.Options{{Width: 84 * vg.Millimeter}, {Width: 297 * vg.Millimeter}, {Width: 180 * vg.Millimeter, Height: 150 * vg.Millimeter}, {Theme: "dark"}} {
		fig, err := Paper(p, o)
		require.NoError(t, err)
		requireStraight(t, fig)
	}
}

func TestPaperAlone(t *testing.T) {
	p := plottest.MeasuredPaper(t, plottest.Demo(t, "foxglove"))
	fig, err := Paper(p, figure.Options{Confidence: 0.68})
	require.NoError(t, err)
	m := p.Strips[0]
	assert.Regexp(t, `^ISO range 167 \(\d+ to \d+\), speed 5\.0 \(4\.\d to 5\.\d\)$`, fig.Title, "a slow paper")
	b := fig.Body().(*single)
	assert.Equal(t, "strip 1", b.strip.name)
	assert.Equal(t, fmt.Sprintf("log range %.2f", float64(m.LogRange.Value)), b.extent.label)
	assert.Equal(t, float64(m.White.Value), b.extent.from)
	assert.Equal(t, float64(m.Black.Value), b.extent.to)
	low, net := float64(m.MinDensity.Value), float64(m.MaxDensity.Value-m.MinDensity.Value)
	require.Len(t, b.dots, 2)
	assert.InDelta(t, low+0.04, b.dots[0].Y, 1e-8, "ISO 6846, T")
	assert.InDelta(t, low+0.90*net, b.dots[1].Y, 1e-8, "ISO 6846, S, of the net density from memory")
	assert.False(t, b.dots[0].open || b.dots[1].open)
	require.Len(t, b.whiskers, 1)
	assert.Equal(t, float64(m.SpeedPoint.Value), b.whiskers[0].X)
	assert.Contains(t, b.Foot, "68 % interval")
	requireNamed(t, fig)
	plottest.RequireReadable(t, fig)
}

// A strip without a curve is left out, one without a range has no bar, one without a
// speed point is told.
func TestPaperInPart(t *testing.T) {
	whole := plottest.MeasuredPaper(t, plottest.Demo(t, "slate"))
	part := *whole
	part.Strips = slices.Clone(whole.Strips[:4])
	part.Strips[0] = &paper.Strip{Strip: whole.Strips[0].Strip}
	bare, off := *whole.Strips[1], *whole.Strips[2]
	bare.White, bare.LogRange = nil, nil
	off.SpeedPoint, off.Speed = nil, nil
	part.Strips[1], part.Strips[2] = &bare, &off
	fig, err := Paper(&part, figure.Options{Title: "In part"})
	require.NoError(t, err)
	assert.Equal(t, "In part", fig.Title)
	b := fig.Body().(*grades)
	assert.Len(t, b.strips, 2)
	require.Len(t, b.bars.rows, 2)
	assert.True(t, b.bars.rows[0].ranged)
	assert.False(t, b.bars.rows[1].ranged)
	assert.Regexp(t, `^no range, speed \d+ `, b.bars.rows[1].text)
	assert.Contains(t, b.Foot, "Left out, without a speed point: grade 1.")
	requireStraight(t, fig)

	part.Strips = part.Strips[:1]
	_, err = Paper(&part, figure.Options{})
	assert.EqualError(t, err, "no strip to draw")
	part.Strips = slices.Repeat(whole.Strips, 4)
	_, err = Paper(&part, figure.Options{})
	assert.EqualError(t, err, "28 strips are too many for one drawing: at most 24")
	_, err = Paper(whole, figure.Options{Confidence: 2})
	assert.EqualError(t, err, "confidence 2 is outside 0 to 1")
}

// Without any speed point the curves stand on their exposures.
func TestPaperWithoutSpeedPoints(t *testing.T) {
	whole := plottest.MeasuredPaper(t, plottest.Demo(t, "slate"))
	var strips []*paper.Strip
	for _, m := range whole.Strips[:2] {
		off := *m
		off.SpeedPoint, off.Speed, off.LogRange, off.White = nil, nil, nil, nil
		strips = append(strips, &off)
	}
	whole.Strips = strips
	fig, err := Paper(whole, figure.Options{})
	require.NoError(t, err)
	b := fig.Body().(*grades)
	assert.Equal(t, "log exposure, log10 lx s", b.xLabel)
	assert.Equal(t, "Characteristic curves of 2 grades", fig.Title)
	lo, _ := strips[0].Fit.Curve.Domain()
	assert.Equal(t, float64(lo), b.strips[0].curve[0].X)
	requireStraight(t, fig)
}

// A strip whose wedge ends before black: its range goes on past the dot, and what
// depends on black is told as a bound.
func TestPaperOpenEnd(t *testing.T) {
	trial := plottest.Demo(t, "foxglove")
	spec := sensito.TrialSpec{Material: trial.Material(), Film: trial.Film(), Exposures: trial.Exposures()}
	for _, s := range trial.Strips() {
		strip := sensito.StripSpec{BaseFog: s.BaseFog()}
		for _, step := range s.Steps() {
			if d := step.Density; d > 1.45 {
				strip.Density = append(strip.Density, sensito.Density(math.NaN()))
			} else {
				strip.Density = append(strip.Density, d)
			}
		}
		spec.Strips = append(spec.Strips, strip)
	}
	short, err := sensito.NewTrial(spec)
	require.NoError(t, err)
	p := plottest.MeasuredPaper(t, short)
	fig, err := Paper(p, figure.Options{})
	require.NoError(t, err)
	b := fig.Body().(*single)
	assert.True(t, b.extent.openTo)
	assert.False(t, b.extent.openFrom)
	assert.True(t, b.dots[1].open)
	assert.Regexp(t, `^log range 1\.\d\d or more$`, b.extent.label)
	assert.Regexp(t, `^ISO range 1\d\d or more, `, fig.Title)
	assert.NotContains(t, b.Sub, "gradient")
	var told []string
	for _, n := range b.names {
		told = append(told, n.text)
	}
	assert.Regexp(t, `maximum density: 1\.4\d or more`, strings.Join(told, "\n"))
	plottest.RequireReadable(t, fig)

	p.Strips = append(p.Strips, p.Strips...)
	fig, err = Paper(p, figure.Options{})
	require.NoError(t, err)
	row := fig.Body().(*grades).bars.rows[0]
	assert.True(t, row.openBlack)
	assert.False(t, row.openWhite)
	assert.Equal(t, row.black, row.end(), "an arrow has no interval")
}

// A paper that was read in pictures has a range and a speed, which are not called ISO.
func TestPaperOfPictures(t *testing.T) {
	for _, name := range []string{"slate", "foxglove"} {
		spec := plottest.Demo(t, name).Spec()
		spec.Calibrations = []sensito.Calibration{{Name: "grey scale", Repeatability: 0.01}}
		for i := range spec.Strips {
			spec.Strips[i].Calibration = "grey scale"
		}
		trial, err := sensito.NewTrial(spec)
		require.NoError(t, err)
		fig, err := Paper(plottest.MeasuredPaper(t, trial), figure.Options{})
		require.NoError(t, err)
		assert.NotContains(t, fig.Title, "ISO")
		assert.Regexp(t, `^(Log r|R)ange 1\.(82|67) `, fig.Title)
		var told []string
		for _, s := range fig.Body().(interface{ Numbers() []figure.Series }).Numbers() {
			told = append(told, s.X, s.Y)
		}
		assert.NotContains(t, strings.Join(told, "\n"), "ISO")
		assert.Contains(t, told, "log range")
		assert.Contains(t, told, "reflection density, read in pictures")
		if b, ok := fig.Body().(*grades); ok {
			assert.NotContains(t, b.Foot, "ISO")
			for _, r := range b.bars.rows {
				assert.Regexp(t, `^log range \d\.\d\d \(`, r.text)
			}
		}
	}
}
