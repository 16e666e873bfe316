package plot

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/curve"
)

func measuredPaper(t testing.TB, trial *sensito.Trial) *curve.Paper {
	t.Helper()
	p, err := curve.MeasurePaper(trial, curve.FitOptions{})
	require.NoError(t, err)
	return p
}

func TestPaperPlotsWhatWasMeasured(t *testing.T) {
	p := measuredPaper(t, demo(t, "slate"))
	fig, err := Paper(p, Options{})
	require.NoError(t, err)
	assert.Equal(t, "Slate under filters 00 to 5", fig.Title)
	b := fig.body.(*curves)
	require.Len(t, b.strips, 7)
	require.Len(t, b.ranges, 7)
	for i, m := range p.Strips {
		s, r := b.strips[i], b.ranges[i]
		assert.Equal(t, "grade "+m.Grade, s.label)
		assert.Equal(t, fmt.Sprintf("ISO range %.0f", 100*float64(m.LogRange.Value)), s.detail)
		assert.Len(t, s.readings, 31-len(m.Fit.SetAside))
		assert.Equal(t, float64(m.White.Value), r.white.X)
		assert.Equal(t, float64(m.Black.Value), r.black.X)
		low, net := float64(m.MinDensity.Value), float64(m.MaxDensity.Value-m.MinDensity.Value)
		assert.InDelta(t, low+0.04, r.white.Y, 1e-8, "ISO 6846, T")
		assert.InDelta(t, low+0.90*net, r.black.Y, 1e-8, "ISO 6846, S, of the net density from memory")
		assert.Empty(t, r.label, "only a strip alone has its range measured")
		assert.Nil(t, s.speedPoint)
		assert.LessOrEqual(t, b.plot.X.Min, r.white.X)
		assert.GreaterOrEqual(t, b.plot.X.Max, r.black.X)
	}
	assert.Equal(t, "log exposure, log10 lx s", b.plot.X.Label.Text)
	assert.Equal(t, "reflection density (ISO 5)", b.plot.Y.Label.Text)
	assert.Empty(t, b.note)
}

func TestPaperAlone(t *testing.T) {
	p := measuredPaper(t, demo(t, "foxglove"))
	fig, err := Paper(p, Options{Confidence: 0.68})
	require.NoError(t, err)
	b := fig.body.(*curves)
	require.Len(t, b.ranges, 1)
	assert.Equal(t, "strip 1", b.strips[0].label)
	assert.Equal(t, fmt.Sprintf("log range %.2f", float64(p.Strips[0].LogRange.Value)), b.ranges[0].label)
	require.Len(t, b.note, 6)
	assert.Contains(t, b.note[2], "ISO range ")
	assert.Regexp(t, `^speed \d\.\d `, b.note[3], "a slow paper")
	assert.Equal(t, "intervals and band: 68 %", b.note[5])
	c := b.plot.DataCanvas(b.area(fig.page()))
	_, hidden := b.note.Corner(c, b.occupied(c))
	assert.Zero(t, hidden, "the note hides data")
	requireReadable(t, fig)
}

// A strip without a curve is left out, one without a range has no dots.
func TestPaperInPart(t *testing.T) {
	whole := measuredPaper(t, demo(t, "slate"))
	part := *whole
	part.Strips = slices.Clone(whole.Strips[:3])
	part.Strips[0] = &curve.PaperStrip{Strip: whole.Strips[0].Strip}
	bare := *whole.Strips[1]
	bare.White, bare.LogRange = nil, nil
	part.Strips[1] = &bare
	fig, err := Paper(&part, Options{Title: "In part"})
	require.NoError(t, err)
	b := fig.body.(*curves)
	assert.Len(t, b.strips, 2)
	assert.Len(t, b.ranges, 1)
	assert.Empty(t, b.strips[0].detail)

	part.Strips = part.Strips[:1]
	_, err = Paper(&part, Options{})
	assert.EqualError(t, err, "no strip to draw")
	part.Strips = slices.Repeat(whole.Strips, 4)
	_, err = Paper(&part, Options{})
	assert.EqualError(t, err, "28 strips are too many for one drawing: at most 24")
	_, err = Paper(whole, Options{Confidence: 2})
	assert.EqualError(t, err, "confidence 2 is outside 0 to 1")
}

// A strip whose wedge ends before black: its bar runs past the dot, and what
// depends on black is told as a bound.
func TestPaperOpenEnd(t *testing.T) {
	trial := demo(t, "foxglove")
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
	fig, err := Paper(measuredPaper(t, short), Options{})
	require.NoError(t, err)
	b := fig.body.(*curves)
	require.Len(t, b.ranges, 1)
	assert.True(t, b.ranges[0].openBlack)
	assert.False(t, b.ranges[0].openWhite)
	assert.Regexp(t, `^log range 1\.\d\d or more$`, b.ranges[0].label)
	assert.Regexp(t, `^ISO range 1\d\d or more$`, b.strips[0].detail)
	assert.Regexp(t, `^black 1\.4\d or more$`, b.note[1])
	assert.NotContains(t, strings.Join(b.note, "\n"), "gradient")
	requireReadable(t, fig)
}
