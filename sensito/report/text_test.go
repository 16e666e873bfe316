package report

import (
	"bytes"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/answers"
	"sensito/sensito/control"
	"sensito/sensito/curve"
	"sensito/sensito/internal/blind"
	"sensito/sensito/internal/simulated"
	"sensito/sensito/report/internal/page"
	"sensito/sensito/scene"
)

// TestQuantityString holds to the rule that the error has two digits at most,
// two when the first is 1, and the value the same place.
func TestQuantityString(t *testing.T) {
	for _, c := range []struct {
		value, sd float64
		want      string
	}{
		{0.4210755, 0.0058943, "0.421 ±0.006"},
		{0.4210755, 0.0108943, "0.421 ±0.011"},
		{0.4210755, 0.0149, "0.421 ±0.015"},
		{0.4210755, 0.0194, "0.421 ±0.019"},
		{0.4210755, 0.0196, "0.42 ±0.02"},
		{0.4210755, 0.0249, "0.42 ±0.02"},
		{0.4210755, 0.0251, "0.42 ±0.03"},
		{0.4210755, 0.0949, "0.42 ±0.09"},
		{0.4210755, 0.0951, "0.42 ±0.10"},
		{0.4210755, 0.0999, "0.42 ±0.10"},
		{0.4210755, 0.1, "0.42 ±0.10"},
		{0.4210755, 0.01, "0.421 ±0.010"},
		{-2.1254727, 0.0322383, "-2.13 ±0.03"},
		{-0.001, 0.03, "0.00 ±0.03"},
		{106.79789, 7.92775, "107 ±8"},
		{129.57079, 11.89942, "130 ±12"},
		{328.82262, 19.81319, "329 ±20"},
		{12.3456, 1.23, "12.3 ±1.2"},
		{12.3456, 1.96, "12 ±2"},
		{12.3456, 9.6, "12 ±10"},
		{375.4, 23.4, "375 ±23"},
		{375.4, 99.4, "375 ±99"},
		{3184, 253, "3180 ±250"},
		{3184, 147, "3180 ±150"},
		{0, 0.5, "0.0 ±0.5"},
		{1.05, 0.00012, "1.0500 ±0.0001"},
		{1.05, 0, "1.050 ±0.001"},
	} {
		q := &Quantity{Value: c.value, SD: c.sd}
		assert.Equal(t, c.want, q.String(), "%g with sd %g", c.value, c.sd)
	}
	assert.Equal(t, "-", (*Quantity)(nil).String())
}

func TestFixed(t *testing.T) {
	for _, c := range []struct {
		v      float64
		places int
		want   string
	}{
		{1.005, 1, "1.0"}, {-0.04, 1, "0.0"}, {-0.06, 1, "-0.1"}, {-0.4, 0, "0"}, {0, 3, "0.000"},
		{math.Copysign(0, -1), 2, "0.00"}, {-10, 0, "-10"}, {1234.5678, 2, "1234.57"},
	} {
		assert.Equal(t, c.want, page.Fixed(c.v, c.places), "%g", c.v)
	}
}

func TestClock(t *testing.T) {
	for _, c := range []struct {
		minutes float64
		seconds int
		want    string
	}{
		{4, 1, "4:00"}, {5.5, 1, "5:30"}, {6 + 20.0/60, 1, "6:20"}, {0.05, 1, "0:03"}, {90, 1, "90:00"}, {1440, 1, "1440:00"},
		{6.62, 1, "6:37"}, {6.62, 5, "6:35"}, {6.63, 5, "6:40"}, {5.99, 5, "6:00"}, {9.999, 1, "10:00"}, {0.01, 5, "0:00"},
	} {
		assert.Equal(t, c.want, clock(c.minutes, c.seconds), "%g min to %d s", c.minutes, c.seconds)
	}
}

func TestNames(t *testing.T) {
	for n, want := range map[float64]string{0: "N", 1: "N+1", -2: "N-2", 0.5: "N+0.5", -1.5: "N-1.5"} {
		assert.Equal(t, want, page.DevelopmentName(n))
	}
	for f, want := range map[sensito.Flare]string{
		{}:                                      "flare takes 0.40",
		{Kind: sensito.FlareFixed, Value: 0.34}: "flare takes 0.34",
		{Kind: sensito.FlareVeil, Value: 0.01}:  "flare: a veil of 0.01 of the highlights",
		{Kind: sensito.FlareNone}:               "no flare",
	} {
		assert.Equal(t, want, answers.Flare(f))
	}
	assert.Equal(t, "yes", yesNo(new(true)))
	assert.Equal(t, "no", yesNo(new(false)))
	assert.Equal(t, "-", yesNo(nil))
	assert.Equal(t, "125/22°", standard(&Quantity{Value: 128}))
	assert.Equal(t, "400/27°", standard(&Quantity{Value: 367}))
	assert.Equal(t, "-", standard(nil))
	assert.Equal(t, "80", page.Setting(79.9))
}

// TestTextSays pins what the text must say, not its digits.
func TestTextSays(t *testing.T) {
	larkfield := demoTrial(t, "larkfield-brinewater")
	c := text(t, curveOf(t, larkfield, curve.MeasureOptions{}))
	assert.Contains(t, c, "step 9 reads 1.18")
	assert.Contains(t, c, "scatter of the readings")
	f := text(t, familyReport(t, larkfield))
	assert.Contains(t, f, "step 9 reads 1.18")

	s := text(t, sceneOf(t, larkfield, scene.Scene{Stops: 5}))
	assert.Contains(t, s, "(N+2)")
	assert.Contains(t, s, "outside the tested times")
	assert.Contains(t, oneLine(s), oneLine(page.StartingPoint))
	s = text(t, sceneOf(t, larkfield, scene.Scene{Stops: 7}))
	assert.NotContains(t, s, "outside the tested times")
	assert.Contains(t, s, "95 % interval")

	k := text(t, cardOf(t, larkfield, scene.Scene{}))
	assert.Contains(t, oneLine(k), oneLine(page.StartingPoint))
	assert.Contains(t, k, "* outside the tested times")
	assert.Contains(t, k, "Aim: a density range of 1.05; flare takes 0.40\nmade 2026-03-05; strips developed 2026-03-02 to 2026-03-03\n\n")
	assert.NotContains(t, k, "set to zero")
	assert.Contains(t, text(t, cardOf(t, demoTrial(t, "tern-ashlar"), scene.Scene{})), "\nThe densitometer was set to zero on the film base.\nmade 2026-03-05; strips developed 2026-03-23 to 2026-03-24\n\n")

	relative := relativeTrial(t)
	assert.Contains(t, text(t, curveOf(t, relative, curve.MeasureOptions{})), "the exposures are relative")
	assert.NotContains(t, text(t, sceneOf(t, relative, scene.Scene{Stops: 7})), "EI")
}

// A change that signals at once has no earlier date to tell; what is not
// corrected goes by the name that it has in the report.
func TestTodayText(t *testing.T) {
	first, before := "2026-03-05", "2026-03-02"
	told := func(since string) string {
		var b strings.Builder
		drift := &scene.Drift{Control: &control.Evaluation{Log: new(control.Log)}, AsOf: "2026-03-09", FirstSignal: first, Since: since, SpeedStops: &sensito.Estimate[float64]{}}
		(&Today{Adjustment: &scene.Adjustment{Drift: drift, Correct: true}}).write(&writer{page.NewWriter(&b, Layout{})},
			(&Uncorrected{&Quantity{Value: 6.5, SD: 0.1}, &Quantity{Value: 44, SD: 2}}).answers("EI"))
		return strings.Join(strings.Fields(b.String()), " ")
	}
	assert.Contains(t, told(first), ": out of control. First signal: 2026-03-05. Times")
	assert.Contains(t, told(before), ": out of control since 2026-03-02 (first signal 2026-03-05). Times")
	assert.Contains(t, told(first), "Uncorrected: 6:30 (6.50 ±0.10 min), EI 44 ±2.")
}

// The short table of curves has warnings of what it shows, and says what a dash means.
func TestCurveShort(t *testing.T) {
	e, err := sensito.NewContact(0.1, 1, sensito.EvenWedge(0.05, 0.15, 11))
	require.NoError(t, err)
	trial := blind.ExactFamily(t, "", e, "", []float64{4, 6, 9}, func(minutes float64) simulated.Film {
		return simulated.Film{Base: 0.1, Layers: []simulated.Layer{{Shape: simulated.Shouldered, Amplitude: 4 + 0.3*minutes, At: -2, Width: 0.05, Span: 0.6, SpanWidth: 0.10}}}
	}).Trial
	r := curveOf(t, trial, curve.MeasureOptions{})
	var short bytes.Buffer
	require.NoError(t, r.Text(&short, Layout{}))
	for _, name := range []string{"average gradient", "ISO density difference", "fractional-gradient speed"} {
		assert.NotContains(t, short.String(), name)
		assert.Contains(t, strings.Join(strings.Fields(text(t, r)), " "), "do not reach far enough for the "+name)
	}
	assert.Contains(t, strings.Join(strings.Fields(short.String()), " "), "with usual flare (-: the strip does not reach that far); that of a normal negative is 1.05")

	short.Reset()
	require.NoError(t, curveOf(t, demoTrial(t, "larkfield-brinewater"), curve.MeasureOptions{}).Text(&short, Layout{}))
	assert.NotContains(t, short.String(), "(-:")
}
