package plot

import (
	"bytes"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"

	"sensito/plot/internal/figure"
	"sensito/plot/internal/parts"
	"sensito/plot/internal/plottest"
	"sensito/sensito"
	"sensito/sensito/development"
	"sensito/sensito/scene"
)

func temperatureTable(t *testing.T, c development.Conditions) *scene.TemperatureTable {
	t.Helper()
	return temperaturesOf(t, "larkfield-brinewater", c)
}

// temperaturesOf is the table of a trial of the demo.
func temperaturesOf(t *testing.T, name string, c development.Conditions) *scene.TemperatureTable {
	t.Helper()
	aim := plottest.SceneOf(0)
	aim.Today.Conditions = c
	card, err := scene.NewCard(plottest.Family(t, plottest.Demo(t, name)), aim)
	require.NoError(t, err)
	table, err := card.Temperatures()
	require.NoError(t, err)
	return table
}

// The lines of the chart are the times of the table, and all but straight on its
// axes.
func TestTemperatureLines(t *testing.T) {
	table := temperatureTable(t, development.Conditions{})
	b, err := newTemperatures(table, &Options{Confidence: 0.95})
	require.NoError(t, err)
	require.Len(t, b.lines, 5, "N-2, N-1, N, N+1 and N+2")
	assert.Equal(t, "N, 7 stops", b.lines[2].name)
	assert.EqualValues(t, 20, b.tested)
	for i, c := range table.Celsius {
		want := float64(table.Minutes[i][4].Value)
		found := false
		for _, xy := range b.lines[2].Line {
			if xy.X == c {
				found = true
				assert.InEpsilon(t, want, xy.Y, 1e-9)
			}
		}
		assert.True(t, found, "%g degrees", c)
	}
	line := b.lines[2].Line
	first, last := line[0], line[len(line)-1]
	for _, xy := range line {
		straight := math.Log(first.Y) + (math.Log(last.Y)-math.Log(first.Y))*(xy.X-first.X)/(last.X-first.X)
		assert.InDelta(t, straight, math.Log(xy.Y), 0.01, "of the time, at %g degrees", xy.X)
	}
}

func TestClockTicks(t *testing.T) {
	var labels []string
	for _, tick := range (clockTicks{}).Ticks(3.1, 12.2) {
		labels = append(labels, tick.Label)
	}
	assert.Equal(t, []string{"4:00", "5:00", "6:00", "8:00", "10:00", "12:00"}, labels[:6])
	// Between them a mark each quarter of a minute.
	assert.Len(t, labels, 36, "3:15 to 12:00, each 0:15, six of them labelled")
	assert.Equal(t, make([]string, len(labels)-6), labels[6:])
}

func TestTemperaturesDrawn(t *testing.T) {
	fig, err := Temperatures(temperatureTable(t, development.Conditions{Agitation: sensito.AgitationIntermittent}), Options{})
	require.NoError(t, err)
	var out bytes.Buffer
	require.NoError(t, Write(&out, fig, SVG))
	for _, text := range []string{"20 °C, as in the trial", "N+1, 6 stops", "below: easily uneven", "unusual", "; today: intermittent agitation; ", "°F", figure.StartingPoint, "Never mix"} {
		assert.Contains(t, out.String(), text)
	}
	assert.NotContains(t, out.String(), "tested at")
	plain, err := newTemperatures(temperatureTable(t, development.Conditions{}), &Options{Confidence: 0.95})
	require.NoError(t, err)
	assert.Equal(t, "tested at 20 °C", plain.name)
	_, err = Temperatures(temperatureTable(t, development.Conditions{}), Options{Width: 60 * vg.Millimeter, Height: 60 * vg.Millimeter})
	assert.ErrorContains(t, err, "no room for its data")
}

// No line of a time passes through the name of the line of five minutes.
func TestTemperaturesShortName(t *testing.T) {
	for _, name := range []string{"larkfield-brinewater", "larkfield-ashlar"} {
		table := temperaturesOf(t, name, development.Conditions{})
		fig, err := Temperatures(table, Options{})
		require.NoError(t, err)
		b, err := newTemperatures(table, &Options{Confidence: 0.95})
		require.NoError(t, err)
		c := b.plot.DataCanvas(b.area(fig.Page()))
		r := b.shortName(c, parts.Place(c, b.plot, plotter.XY{X: b.plot.X.Min, Y: 5}).Y)
		passed := 0
		for _, l := range b.lines {
			points := parts.Places(c, b.plot, l.Line)
			for i := 1; i < len(points); i++ {
				p, q := points[i-1], points[i]
				for x := max(p.X, r.Min.X); x <= min(q.X, r.Max.X); x++ {
					if y := p.Y + (q.Y-p.Y)*(x-p.X)/(q.X-p.X); y > r.Min.Y && y < r.Max.Y {
						passed++
					}
				}
			}
		}
		assert.Zero(t, passed, name)
		assert.True(t, r.Min.X >= c.Min.X && r.Max.X <= c.Max.X, name)
	}
}
