package plot

import (
	"bytes"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/plot/vg"

	"sensito/plot/internal/parts"
	"sensito/sensito/control"
	"sensito/sensito/control/chart"
	"sensito/sensito/notebook"
)

func demoLog(t testing.TB) *control.Log {
	t.Helper()
	log, err := notebook.ReadControlFile("../cmd/sensito/demo/control.toml")
	require.NoError(t, err)
	return log
}

// freshLog is a log with limits from its first 12 strips, a drift, a fresh start
// at strip 25 and a jump at strip 30; so many days between strips.
func freshLog(t testing.TB, apart int) *control.Log {
	t.Helper()
	var b strings.Builder
	start := time.Date(2026, 11, 9, 0, 0, 0, 0, time.UTC)
	for i := range 32 {
		low := 0.40 + 0.01*math.Round(1.4*math.Sin(2.3*float64(i)))
		if i > 14 && i < 24 {
			low -= 0.008 * float64(i-14)
		}
		if i == 29 {
			low += 0.09
		}
		fmt.Fprintf(&b, "[[strip]]\ndate = %s\nbase_fog = %.2f\nlow = %.2f\nhigh = %.2f\nfresh = %t\n",
			start.AddDate(0, 0, apart*i).Format(time.DateOnly), 0.11+0.01*math.Round(0.8*math.Cos(float64(i))), low, low+0.80+0.01*math.Round(1.3*math.Cos(1.7*float64(i))), i == 24)
	}
	log, err := notebook.ReadControl("c.toml", strings.NewReader(b.String()))
	require.NoError(t, err)
	return log
}

func judged(t testing.TB, log *control.Log, o control.Options) *control.Evaluation {
	t.Helper()
	c, err := log.Evaluate(o)
	require.NoError(t, err)
	return c
}

func TestControlDrawing(t *testing.T) {
	fig, err := Control(judged(t, demoLog(t), control.Options{}), Options{})
	require.NoError(t, err)
	requireDrawing(t, "control", fig)
	fig, err = Control(judged(t, freshLog(t, 3), control.Options{Rules: chart.Nelson,
		Kinds: []chart.Kind{chart.KindIndividuals, chart.KindEWMA}}), Options{})
	require.NoError(t, err)
	requireDrawing(t, "control-fresh", fig)
}

// requireDrawing compares as TestDrawings does.
func requireDrawing(t *testing.T, name string, fig *Figure) {
	t.Helper()
	var out bytes.Buffer
	require.NoError(t, Write(&out, fig, SVG))
	path := filepath.Join("..", "testdata", "plot", name+".svg")
	if *update {
		require.NoError(t, os.WriteFile(path, out.Bytes(), 0o644))
	}
	want, err := os.ReadFile(path)
	require.NoError(t, err)
	mask := func(s []byte) string { return svgNumber.ReplaceAllString(string(s), "#") }
	require.Equal(t, mask(want), mask(out.Bytes()))
	gotNumbers, wantNumbers := svgNumber.FindAllString(out.String(), -1), svgNumber.FindAllString(string(want), -1)
	for i := range wantNumbers {
		var g, w float64
		_, err := fmt.Sscan(gotNumbers[i], &g)
		require.NoError(t, err)
		_, err = fmt.Sscan(wantNumbers[i], &w)
		require.NoError(t, err)
		require.InDelta(t, w, g, 0.05, "the %dth number", i+1)
	}
}

// What is drawn is what the charts hold.
func TestControlPlotsWhatWasCharted(t *testing.T) {
	for _, log := range []*control.Log{demoLog(t), freshLog(t, 3)} {
		c := judged(t, log, control.Options{Rules: chart.WesternElectric})
		fig, err := Control(c, Options{})
		require.NoError(t, err)
		b := fig.body.(*controlBody)
		require.Len(t, b.panels, len(c.Charts))
		days := log.Days()
		for i, p := range b.panels {
			ch := &c.Charts[i]
			drawn := map[[2]float64]int{}
			for _, run := range p.series {
				for _, at := range run {
					drawn[[2]float64{at.X, at.Y}]++
					assert.True(t, at.Y >= p.plot.Y.Min && at.Y <= p.plot.Y.Max, "a value leaves its panel")
				}
			}
			want := map[[2]float64]int{}
			for _, values := range [][]float64{ch.Values, ch.Falling} {
				for k, v := range values {
					if !math.IsNaN(v) {
						want[[2]float64{days[k], v}]++
					}
				}
			}
			assert.Equal(t, want, drawn)
			speaks := map[float64]bool{}
			for _, s := range ch.Signals {
				speaks[days[s.Index-1]] = true
			}
			assert.Len(t, p.signals, len(speaks))
			for _, s := range p.signals {
				assert.True(t, speaks[s.X])
				assert.NotZero(t, drawn[[2]float64{s.X, s.Y}], "a signal is marked off its point")
			}
			if ch.Kind == chart.KindIndividuals {
				assert.InDelta(t, ch.Limits.Upper, p.lines[1].XYs[0].Y, 0)
				assert.InDelta(t, ch.Limits.Lower, p.lines[2].XYs[0].Y, 0)
			}
			if ch.Kind == chart.KindEWMA {
				last := len(days)
				assert.InDelta(t, ch.LimitsAt(last).Upper, p.lines[len(p.lines)-2].XYs[len(p.lines[len(p.lines)-2].XYs)-1].Y, 0)
			}
			assert.Equal(t, [2]float64{b.panels[0].plot.X.Min, b.panels[0].plot.X.Max}, [2]float64{p.plot.X.Min, p.plot.X.Max})
		}
	}
}

func TestControlIsReadable(t *testing.T) {
	for _, apart := range []int{0, 1, 3, 7, 30, 200} {
		for _, o := range []Options{{}, {Width: 140 * vg.Millimeter}} {
			fig, err := Control(judged(t, freshLog(t, apart), control.Options{Rules: chart.Nelson}), o)
			require.NoError(t, err)
			requireReadable(t, fig)
		}
	}
	for _, rules := range chart.RuleSets {
		fig, err := Control(judged(t, demoLog(t), control.Options{Rules: rules}), Options{})
		require.NoError(t, err)
		requireReadable(t, fig)
	}
	_, err := Control(judged(t, demoLog(t), control.Options{}), Options{Height: 100 * vg.Millimeter})
	assert.EqualError(t, err, "the figure leaves no room for its data: make it wider or higher")
	_, err = Control(judged(t, demoLog(t), control.Options{Kinds: []chart.Kind{}}), Options{})
	assert.EqualError(t, err, "no chart to draw")
	_, err = Control(judged(t, demoLog(t), control.Options{}), Options{Confidence: 2})
	assert.Error(t, err)
}

func TestDateTicks(t *testing.T) {
	labels := func(first string, lo, hi float64) []string {
		var out []string
		for _, tick := range newDateTicks(first).Ticks(lo, hi) {
			out = append(out, fmt.Sprintf("%g %s", tick.Value, tick.Label))
		}
		return out
	}
	assert.Equal(t, []string{"0 2 Mar 2026", "14 16 Mar", "28 30 Mar", "42 13 Apr", "56 27 Apr", "70 11 May", "84 25 May"}, labels("2026-03-02", -2.4, 96.4))
	assert.Equal(t, []string{"0 28 Dec 2026", "1 29 Dec", "2 30 Dec", "3 31 Dec", "4 1 Jan 2027", "5 2 Jan"}, labels("2026-12-28", -0.5, 5.5))
	assert.Equal(t, []string{"54 Jan 2026", "144 Apr", "235 Jul", "327 Oct", "419 Jan 2027", "509 Apr"}, labels("2025-11-08", -10, 520))
	assert.Equal(t, []string{"0 29 Feb 2028"}, labels("2028-02-29", -0.5, 0.5))
	assert.Equal(t, []string{"54 2026", "419 2027", "784 2028"}, labels("2025-11-08", -10, 3000)[:3])
}

// The first strip of a log is held to limits that are drawn, and named by what
// they are on that day: those of an EWMA have not widened yet.
func TestControlOfOneStrip(t *testing.T) {
	log, err := notebook.ReadControl("c.toml", strings.NewReader("repeatability = 0.01\n[aim]\nbase_fog = 0.12\nlow = 0.30\nhigh = 1.05\n"+
		"[[strip]]\ndate = 2026-03-01\nbase_fog = 0.11\nlow = 0.26\nhigh = 0.97\n"))
	require.NoError(t, err)
	c := judged(t, log, control.Options{})
	fig, err := Control(c, Options{})
	require.NoError(t, err)
	b := fig.body.(*controlBody)
	assert.Equal(t, "1 strip; first signal 2026-03-01, strip 1, single strips of the low density", b.Sub)
	charted := 0
	for i, p := range b.panels {
		ch := &c.Charts[i]
		if ch.Kind != chart.KindEWMA {
			continue
		}
		charted++
		limits := ch.LimitsAt(1)
		upper, lower := p.lines[len(p.lines)-2], p.lines[len(p.lines)-1]
		assert.Equal(t, "upper limit "+parts.Fixed(limits.Upper, 3), upper.name)
		assert.Equal(t, "lower limit "+parts.Fixed(limits.Lower, 3), lower.name)
		for _, l := range []namedLine{upper, lower} {
			require.Len(t, l.XYs, 2)
			assert.Less(t, l.XYs[0].X, l.XYs[1].X)
		}
	}
	assert.Equal(t, 3, charted)
	requireReadable(t, fig)
}
