package plot

import (
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/recorder"

	"sensito/plot/internal/parts"
	"sensito/plot/internal/plottest"
	"sensito/sensito/answers"
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

// longLog is a log of 220 strips over two years whose contrast drifts.
func longLog(t testing.TB) *control.Log {
	t.Helper()
	var b strings.Builder
	b.WriteString("[aim]\nstrips = 10\nbase_fog = 0.115\nlow = 0.393\nhigh = 1.212\n[limits]\nbase_fog = 0.02\nlow = 0.03\ndifference = 0.04\n")
	start := time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC)
	rng := rand.New(rand.NewPCG(1, 2))
	for i := range 220 {
		left := 1 - 0.0005*float64(i)
		fmt.Fprintf(&b, "[[strip]]\ndate = %s\nbase_fog = %.2f\nlow = %.2f\nhigh = %.2f\n", start.AddDate(0, 0, 3*i).Format(time.DateOnly),
			0.115+0.006*rng.NormFloat64(), 0.115+0.278*left+0.008*rng.NormFloat64(), 0.115+1.097*left+0.010*rng.NormFloat64())
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
	requireBytes(t, name, out.Bytes())
}

// requireBytes compares a drawing with the one that is kept.
func requireBytes(t *testing.T, name string, got []byte) {
	t.Helper()
	path := filepath.Join("..", "testdata", "plot", name+".svg")
	if *update {
		require.NoError(t, os.WriteFile(path, got, 0o644))
	}
	want, err := os.ReadFile(path)
	require.NoError(t, err)
	mask := func(s []byte) string { return svgNumber.ReplaceAllString(string(s), "#") }
	require.Equal(t, mask(want), mask(got))
	gotNumbers, wantNumbers := svgNumber.FindAllString(string(got), -1), svgNumber.FindAllString(string(want), -1)
	for i := range wantNumbers {
		var g, w float64
		_, err := fmt.Sscan(gotNumbers[i], &g)
		require.NoError(t, err)
		_, err = fmt.Sscan(wantNumbers[i], &w)
		require.NoError(t, err)
		require.InDelta(t, w, g, 0.05, "the %dth number", i+1)
	}
}

// layerOf returns the panel of a row on which a kind of chart is drawn, and the
// chart there; nil where it is not drawn.
func layerOf(r controlRow, kind chart.Kind) (*controlPanel, *controlLayer) {
	for _, p := range []*controlPanel{r.main, r.ranges, r.cusum} {
		for i := 0; p != nil && i < len(p.layers); i++ {
			if p.layers[i].kind == kind {
				return p, &p.layers[i]
			}
		}
	}
	return nil, nil
}

// What is drawn is what the charts hold.
func TestControlPlotsWhatWasCharted(t *testing.T) {
	for _, kinds := range [][]chart.Kind{nil, {chart.KindMovingRange}} {
		for _, log := range []*control.Log{demoLog(t), freshLog(t, 3)} {
			c := judged(t, log, control.Options{Rules: chart.WesternElectric, Kinds: kinds})
			fig, err := Control(c, Options{})
			require.NoError(t, err)
			b := fig.Body().(*controlBody)
			require.Len(t, b.rows, 3)
			for i := range c.Charts {
				row := slices.Index([]string{control.QuantityDifference, control.QuantityLow, control.QuantityBaseFog}, c.Charts[i].Quantity)
				requireCharted(t, b, b.rows[row], &c.Charts[i], log.Days(), kinds != nil)
			}
		}
	}
}

func requireCharted(t *testing.T, b *controlBody, r controlRow, ch *control.Chart, days []float64, ranges bool) {
	t.Helper()
	p, l := layerOf(r, ch.Kind)
	if ch.Kind == chart.KindMovingRange && !ranges {
		require.Nil(t, p, "single strips show what moving ranges do")
		return
	}
	require.NotNil(t, p)
	unit := 1.0
	if ch.Kind == chart.KindCUSUM {
		unit = ch.Sigma
	}
	drawn := map[[2]float64]int{}
	for _, run := range slices.Concat(l.runs, l.falling) {
		for _, at := range run {
			drawn[[2]float64{at.X, at.Y}]++
			assert.True(t, at.Y >= p.plot.Y.Min && at.Y <= p.plot.Y.Max, "a value leaves its panel")
		}
	}
	want := map[[2]float64]int{}
	for _, values := range [][]float64{ch.Values, ch.Falling} {
		for k, v := range values {
			if !math.IsNaN(v) {
				want[[2]float64{days[k], v / unit}]++
			}
		}
	}
	assert.Equal(t, want, drawn)
	speaks := map[float64]bool{}
	for _, s := range ch.Signals {
		speaks[days[s.Index-1]] = true
	}
	assert.Len(t, l.signals, len(speaks))
	for _, s := range l.signals {
		assert.True(t, speaks[s.X])
		assert.NotZero(t, drawn[[2]float64{s.X, s.Y}], "a signal is marked off its point")
	}
	last := len(days)
	switch ch.Kind {
	case chart.KindIndividuals:
		assert.InDelta(t, ch.Limits.Lower, p.band[0][0].Y, 0)
		assert.InDelta(t, ch.Limits.Upper, p.band[1][0].Y, 0)
	case chart.KindEWMA:
		upper := p.lines[len(p.lines)-2].XYs
		assert.InDelta(t, ch.LimitsAt(last).Upper, upper[len(upper)-1].Y, 0)
	case chart.KindCUSUM:
		assert.InDelta(t, chart.CUSUMInterval, p.lines[1].XYs[0].Y, 1e-9, "in standard deviations")
	}
	assert.Equal(t, [2]float64{b.rows[0].main.plot.X.Min, b.rows[0].main.plot.X.Max}, [2]float64{p.plot.X.Min, p.plot.X.Max})
	for _, s := range p.numbers("row") {
		if !strings.HasPrefix(s.Name, chartName(ch.Kind)) {
			continue
		}
		for _, v := range s.Values {
			k := slices.Index(days, v.X)
			assert.NotZero(t, want[[2]float64{v.X, v.Y}])
			if ch.Kind == chart.KindEWMA {
				assert.InDelta(t, ch.LimitsAt(k+1).Upper, v.High, 0)
			}
		}
	}
}

// The title answers, the wash runs from the onset to the first signal.
func TestControlAnswer(t *testing.T) {
	c := judged(t, demoLog(t), control.Options{Family: plottest.Family(t, plottest.Demo(t, "larkfield-brinewater"))})
	assert.Equal(t, "Out of control since 16 April (first signal 30 April): contrast began to fall", answers.Control(c))
	fig, err := Control(c, Options{})
	require.NoError(t, err)
	b := fig.Body().(*controlBody)
	days := c.Log.Days()
	assert.Equal(t, [2]float64{days[14-1], days[18-1]}, b.rows[0].main.wash)
	assert.Equal(t, [2]float64{days[15-1], days[21-1]}, b.rows[1].main.wash)
	assert.Equal(t, [2]float64{}, b.rows[2].main.wash, "fog is in control")
	assert.Equal(t, "Fog (base plus fog): in control", b.rows[2].main.name)
	assert.Equal(t, "Contrast (density difference): -0.116 since 16 April, drifting", b.rows[0].main.name)
	assert.Contains(t, b.Sub, "A tank of Brinewater 1+19 over fourteen weeks: 28 strips; first signal on 30 April, strip 18, CUSUM of the density difference")
	assert.Contains(t, b.Sub, " % of time would restore the contrast")
	fig, err = Control(c, Options{Title: "Mine"})
	require.NoError(t, err)
	assert.Equal(t, "Mine", fig.Title)

	c = judged(t, freshLog(t, 3), control.Options{})
	assert.Equal(t, "Out of control since 4 February 2027 (signalled the same day): low density rose", answers.Control(c))
	c.First.Index, c.First.Quantity = 29, control.QuantityBaseFog // as a false alarm of another quantity
	assert.Equal(t, "Out of control since 4 February 2027 (signalled the same day): low density rose", answers.Control(c))
	c.First.Quantity, c.Levels = control.QuantityLow, nil
	assert.Equal(t, "Low density signalled on 1 February 2027; no lasting change is proven", answers.Control(c))
	c.First = nil
	assert.Equal(t, "In control since the fresh start of 20 January 2027: no chart signals in 8 strips", answers.Control(c))
	quiet, err := notebook.ReadControl("c.toml", strings.NewReader("repeatability = 0.01\n[aim]\nbase_fog = 0.12\nlow = 0.30\nhigh = 1.05\n"+
		"[[strip]]\ndate = 2026-03-01\nbase_fog = 0.12\nlow = 0.30\nhigh = 1.05\n"))
	require.NoError(t, err)
	assert.Equal(t, "In control: no chart signals in 1 strip", answers.Control(judged(t, quiet, control.Options{})))
}

// A narrow page has the CUSUM below its row, a wide one beside it and level.
func TestControlOnAColumn(t *testing.T) {
	c := judged(t, demoLog(t), control.Options{})
	for _, width := range []vg.Length{84, 180} {
		fig, err := Control(c, Options{Width: width * vg.Millimeter})
		require.NoError(t, err)
		plottest.RequireReadable(t, fig)
		var main vg.Rectangle
		for _, p := range fig.Body().(*controlBody).placed(fig.Page()) {
			data := p.plot.DataCanvas(p.area).Rectangle
			if p.layers[0].kind != chart.KindCUSUM {
				main = data
				continue
			}
			if width == 84 {
				assert.Less(t, data.Max.Y, main.Min.Y)
				continue
			}
			assert.Greater(t, data.Min.X, main.Max.X)
			assert.InDelta(t, float64(main.Min.Y), float64(data.Min.Y), 0.01)
			assert.InDelta(t, float64(main.Max.Y), float64(data.Max.Y), 0.01)
		}
	}
}

func TestControlIsReadable(t *testing.T) {
	for _, apart := range []int{0, 1, 3, 7, 30, 200} {
		for _, o := range []Options{{}, {Width: 140 * vg.Millimeter}, {Width: 84 * vg.Millimeter}} {
			fig, err := Control(judged(t, freshLog(t, apart), control.Options{Rules: chart.Nelson}), o)
			require.NoError(t, err)
			plottest.RequireReadable(t, fig)
		}
	}
	// Of many strips the names of rules keep off the rings, and a row's name is whole.
	for _, width := range []vg.Length{84, 180} {
		fig, err := Control(judged(t, longLog(t), control.Options{}), Options{Width: width * vg.Millimeter})
		require.NoError(t, err)
		plottest.RequireReadable(t, fig)
		boxes := plottest.Texts(t, fig)
		for _, p := range fig.Body().(*controlBody).placed(fig.Page()) {
			if p.layers[0].kind == chart.KindCUSUM {
				continue
			}
			c := p.plot.DataCanvas(p.area)
			for _, box := range boxes {
				if strings.Contains(box.Text, "beyond") {
					assert.LessOrEqual(t, parts.Within(box.Rectangle, parts.Places(c, p.plot, slices.Concat(p.layers[0].runs...)), 0), 3, box.Text)
				}
			}
		}
		for _, box := range boxes {
			assert.NotContains(t, box.Text, "...")
		}
	}
	for _, rules := range chart.RuleSets {
		fig, err := Control(judged(t, demoLog(t), control.Options{Rules: rules}), Options{})
		require.NoError(t, err)
		plottest.RequireReadable(t, fig)
	}
	_, err := Control(judged(t, demoLog(t), control.Options{}), Options{Height: 70 * vg.Millimeter})
	assert.EqualError(t, err, "the figure leaves no room for its data: make it wider or higher")
	_, err = Control(judged(t, demoLog(t), control.Options{Kinds: []chart.Kind{}}), Options{})
	assert.EqualError(t, err, "no chart to draw")
	_, err = Control(judged(t, demoLog(t), control.Options{}), Options{Confidence: 2})
	assert.Error(t, err)
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
	b := fig.Body().(*controlBody)
	assert.Equal(t, "1 strip; first signal on 1 March, strip 1, single strips of the low density", b.Sub)
	charted := 0
	order := map[string]int{control.QuantityDifference: 0, control.QuantityLow: 1, control.QuantityBaseFog: 2}
	for i := range c.Charts {
		ch := &c.Charts[i]
		if ch.Kind != chart.KindEWMA {
			continue
		}
		charted++
		p := b.rows[order[ch.Quantity]].main
		limits := ch.LimitsAt(1)
		upper, lower := p.lines[len(p.lines)-2], p.lines[len(p.lines)-1]
		assert.Equal(t, "EWMA limit "+parts.Fixed(limits.Upper, 3), upper.name)
		assert.Equal(t, "EWMA limit "+parts.Fixed(limits.Lower, 3), lower.name)
		for _, l := range []namedLine{upper, lower} {
			require.Len(t, l.XYs, 2)
			assert.Less(t, l.XYs[0].X, l.XYs[1].X)
		}
	}
	assert.Equal(t, 3, charted)
	plottest.RequireReadable(t, fig)
}

// Where moving ranges alone speak they are drawn, below their row.
func TestControlDrawsMovingRangesThatSpeakAlone(t *testing.T) {
	text := "repeatability = 0.01\n[aim]\nbase_fog = 0.12\nlow = 0.30\nhigh = 1.05\n"
	for i, off := range []float64{0, 0.025, -0.025, 0} {
		text += fmt.Sprintf("[[strip]]\ndate = 2026-03-0%d\nbase_fog = 0.12\nlow = %.3f\nhigh = %.3f\n", i+1, 0.30+off, 1.05+off)
	}
	log, err := notebook.ReadControl("c.toml", strings.NewReader(text))
	require.NoError(t, err)
	c := judged(t, log, control.Options{})
	require.Nil(t, c.First)
	for _, width := range []vg.Length{84, 180} {
		fig, err := Control(c, Options{Width: width * vg.Millimeter})
		require.NoError(t, err)
		plottest.RequireReadable(t, fig)
		rows := fig.Body().(*controlBody).rows
		assert.Nil(t, rows[0].ranges)
		require.NotNil(t, rows[1].ranges, "of the low density")
		assert.Len(t, rows[1].ranges.layers[0].signals, 1)
	}
}

// A single strip at which a rule speaks is a cross and no ring, however many strips there
// are, and each day with a note has a flag: nothing is told by colour alone.
func TestControlSignalsByForm(t *testing.T) {
	for name, log := range map[string]*control.Log{"few": demoLog(t), "many": longLog(t)} {
		fig, err := Control(judged(t, log, control.Options{}), Options{})
		require.NoError(t, err)
		var rec recorder.Canvas
		fig.Draw(&rec)
		crosses, rings := map[vg.Point]int{}, map[vg.Point]bool{}
		flags := 0
		near := func(p vg.Point) vg.Point {
			return vg.Point{X: vg.Length(math.Round(float64(p.X) * 10)), Y: vg.Length(math.Round(float64(p.Y) * 10))}
		}
		for _, action := range rec.Actions {
			switch a := action.(type) {
			case *recorder.Stroke:
				if len(a.Path) > 1 && a.Path[1].Type == vg.ArcComp {
					rings[near(a.Path[1].Pos)] = true
				}
				if len(a.Path) == 2 {
					d := a.Path[1].Pos.Sub(a.Path[0].Pos)
					if math.Abs(math.Abs(float64(d.X))-math.Abs(float64(d.Y))) < 1e-9 {
						assert.Greater(t, float64(d.X), 2*float64(leastCross)-1e-6, "of a cross")
						crosses[near(a.Path[0].Pos.Add(d.Scale(0.5)))]++
					}
				}
			case *recorder.Fill:
				if len(a.Path) == 4 && a.Path[3].Type == vg.CloseComp { // a triangle
					flags++
				}
			}
		}
		b := fig.Body().(*controlBody)
		spoken, quiet := 0, 0
		for _, place := range b.placed(fig.Page()) {
			c := place.plot.DataCanvas(place.area)
			for _, l := range place.layers {
				if l.kind != chart.KindIndividuals {
					continue
				}
				for _, s := range l.signals {
					at := near(parts.Place(c, place.plot, s.XY))
					assert.Equal(t, 2, crosses[at], "%s: two strokes at a signal", name)
					assert.False(t, rings[at], "%s: no ring at a signal", name)
					spoken++
				}
				for _, run := range l.runs {
					quiet += len(run)
				}
			}
		}
		require.Greater(t, spoken, 5, name)
		assert.Len(t, crosses, spoken, name)
		assert.Greater(t, len(rings), quiet/2, name)
		notes := 0
		for _, s := range log.Strips() {
			if s.Note != "" {
				notes++
			}
		}
		assert.Equal(t, notes, flags, name)
		assert.Equal(t, notes > 0, strings.Contains(b.Foot, "Flag: something was noted that day."), name)
	}
}
