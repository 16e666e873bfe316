package plot

import (
	"bytes"
	"fmt"
	"image/png"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/recorder"

	"sensito/plot/internal/figure"
	"sensito/plot/internal/parts"
	"sensito/plot/internal/plottest"
	"sensito/sensito"
	"sensito/sensito/scene"
)

func TestCardSaysWhatThePlansSay(t *testing.T) {
	c, err := scene.NewCard(plottest.Family(t, plottest.Demo(t, "tern-ashlar")), scene.Scene{DensityRange: 1.25})
	require.NoError(t, err)
	fig, err := Card(c, Options{Date: "2026-03-05"})
	require.NoError(t, err)
	b := fig.Body().(*card)
	require.Len(t, b.table, 1+len(c.Rows))
	extrapolated, unreachable := 0, 0
	for i, row := range c.Rows {
		cells := b.table[i+1]
		assert.Equal(t, developmentName(row.N), cells[0])
		assert.Equal(t, fmt.Sprint(row.Stops), cells[1])
		if row.Answer == nil {
			unreachable++
			assert.Equal(t, []string{"–", "–", "–", "–", "–"}, cells[2:])
			continue
		}
		want := parts.Planned(row.Answer.Minutes.Value)
		if row.Answer.Extrapolated {
			extrapolated++
			want += "*"
		}
		ei, _ := row.Answer.ExposureIndex.Value.Standard()
		assert.Equal(t, []string{want, seconds(row.Answer.Minutes.StdErr), fmt.Sprint(float64(ei)),
			fmt.Sprintf("%.2f", row.Answer.ContrastIndex.Value), fmt.Sprintf("%.2f ±%s", float64(row.Answer.Delivered.Value), fmt.Sprintf("%.2f", float64(row.Answer.Delivered.StdErr))[1:])}, cells[2:])
	}
	require.Positive(t, extrapolated)
	require.Positive(t, unreachable)

	var all []string
	for _, box := range plottest.Texts(t, fig) {
		all = append(all, box.Text)
	}
	text := strings.Join(all, " ")
	for _, want := range []string{"Tern 400", "Ashlar 1+31", "20 °C", "intermittent agitation", "a density range of 1.25", "flare 0.40 log H",
		"Made 2026-03-05", "densitometer zero: base",
		"* outside the tested times", "– no development time can be told: sensito card says why.", "verify on your own process", figure.Caution, figure.FurtherCaution} {
		assert.Contains(t, text, want)
	}
}

func TestDevelopmentNames(t *testing.T) {
	for n, want := range map[float64]string{-2: "N-2", -1.5: "N-1½", -0.5: "N-½", 0: "N", 0.5: "N+½", 1: "N+1"} {
		assert.Equal(t, want, developmentName(n))
	}
}

func TestAimLine(t *testing.T) {
	aim := scene.Scene{DensityRange: 1.2, ShadowStops: 4}
	assert.Equal(t, "Aim: a density range of 1.20; flare 0.40 log H; speed point 4 stops below the metered tone", aimLine(aim))
	aim.Flare = sensito.Flare{Kind: sensito.FlareVeil, Value: 0.01}
	assert.Contains(t, aimLine(aim), "veiling flare 1 %;")
	aim.Flare = sensito.Flare{Kind: sensito.FlareNone}
	assert.Contains(t, aimLine(aim), "no flare;")
	for _, aim := range []scene.Scene{{ScanMax: 1.8}, {DensityRange: 1.05, Grade: "2", Callier: 1.3}} {
		assert.Contains(t, aimLine(aim), "Aim: "+aim.AimText()+";")
	}
}

// What holds for some trials only.
func TestCardNotes(t *testing.T) {
	said := func(trial *sensito.Trial, aim scene.Scene) string {
		c, err := scene.NewCard(plottest.Family(t, trial), aim)
		require.NoError(t, err)
		b := newCard(c, Options{Title: "x"})
		return strings.Join(append(b.lines, b.notes...), " ") + " SHORT: " + strings.Join(b.short, " ")
	}
	larkfield := said(plottest.Demo(t, "larkfield-brinewater"), plottest.SceneOf(0))
	assert.Contains(t, larkfield, "Strips developed 2026-03-02 to 2026-03-03")
	assert.NotContains(t, larkfield, "made", "no date was given")
	assert.Equal(t, 1, strings.Count(larkfield, "Under 5 minutes: easily uneven."))
	assert.NotContains(t, larkfield, "zero")
	assert.Equal(t, 2, strings.Count(larkfield, figure.StartingPoint))
	assert.Equal(t, 2, strings.Count(larkfield, figure.Caution), "also in few words")
	assert.Equal(t, 2, strings.Count(larkfield, figure.FurtherCaution))

	relative := said(plottest.MadeUp(t, plottest.Relative, false, 4, 7, 12), plottest.SceneOf(0))
	assert.Contains(t, relative, "No EI: the exposures of the test are relative.")
	assert.NotContains(t, relative, "nearest")
	assert.NotContains(t, relative, "developed")

	onBase := reading(t, plottest.Demo(t, "larkfield-brinewater"), sensito.Reading{Zero: sensito.ZeroBase})
	assert.Contains(t, said(onBase, plottest.SceneOf(0)), "continuous agitation, densitometer zero: base")
}

// A bath out of the usual temperatures is said on the card that hangs above the
// sink, and an error of minutes is not told to the second.
func TestCardOfColdBath(t *testing.T) {
	f := plottest.Family(t, plottest.Demo(t, "larkfield-brinewater"))
	for celsius, unusual := range map[float64]bool{14: true, 19: false} {
		aim := plottest.SceneOf(0)
		aim.Today.Conditions.TemperatureC = &celsius
		c, err := scene.NewCard(f, aim)
		require.NoError(t, err)
		b := newCard(c, Options{Title: "x"})
		for _, notes := range [][]string{b.notes, b.short} {
			assert.Equal(t, unusual, strings.Contains(strings.Join(notes, " "), "Outside 18 to 24 °C: times are less sure than ±."), "%g °C", celsius)
		}
	}
	for sd, want := range map[float64]string{0.4: "0", 5.7: "6", 57.2: "57", 99.7: "100", 107.6: "110", 3396: "3400"} {
		assert.Equal(t, want, seconds(sensito.Minutes(sd/60)))
	}
}

// The sizes are those of ISO 216 and of a common index card.
func TestPages(t *testing.T) {
	if testing.Short() {
		t.Skip("slow under the race detector, and nothing in it runs side by side")
	}
	require.Len(t, Pages(), 2)
	c, err := scene.NewCard(plottest.Family(t, plottest.Demo(t, "larkfield-brinewater")), plottest.SceneOf(0))
	require.NoError(t, err)
	for name, want := range map[string]struct {
		wide, high float64 // mm
		pxX, pxY   int     // at 300 dots per inch
	}{"a6": {148, 105, 1748, 1240}, "index": {127, 76.2, 1500, 900}} {
		p, err := PageNamed(name)
		require.NoError(t, err)
		fig, err := Card(c, Options{Width: p.Width, Height: p.Height, Date: "2026-03-05"})
		require.NoError(t, err)

		var out bytes.Buffer
		require.NoError(t, Write(&out, fig, PDF))
		box := regexp.MustCompile(`/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]`).FindSubmatch(out.Bytes())
		require.NotNil(t, box)
		for i, mm := range []float64{want.wide, want.high} {
			points, err := strconv.ParseFloat(string(box[i+1]), 64)
			require.NoError(t, err)
			assert.InDelta(t, mm, points*25.4/72, 0.01, "%s in a PDF", name)
		}

		out.Reset()
		require.NoError(t, Write(&out, fig, PNG))
		config, err := png.DecodeConfig(&out)
		require.NoError(t, err)
		assert.Equal(t, [2]int{want.pxX, want.pxY}, [2]int{config.Width, config.Height}, "%s in a PNG", name)
	}
	_, err = PageNamed("a5")
	assert.EqualError(t, err, `"a5" is not a page for a card; use a6 or index`)
}

// Nothing leaves the card, whatever its size and however long the names.
func TestCardHoldsItsText(t *testing.T) {
	trial := plottest.Demo(t, "tern-ashlar")
	long := plottest.Ignoring(t, trial)
	c, err := scene.NewCard(plottest.Family(t, long), plottest.SceneOf(0))
	require.NoError(t, err)
	for _, title := range []string{"", strings.Repeat("Tern 400 with a very long name ", 12), "Süd, Ærø & <Kø>"} {
		for _, size := range [][2]vg.Length{{0, 0}, {127, 76.2}, {105, 148}, {100, 70}, {210, 297}} {
			fig, err := Card(c, Options{Title: title, Width: size[0] * vg.Millimeter, Height: size[1] * vg.Millimeter})
			require.NoError(t, err)
			plottest.RequireReadable(t, fig)
			requireNoSmallType(t, fig)
		}
	}
	_, err = Card(c, Options{Width: 60 * vg.Millimeter, Height: 60 * vg.Millimeter})
	assert.EqualError(t, err, "a card of 60 by 60 mm is too small to read: use 100 by 70 mm or more")
}

// requireNoSmallType checks that no type is smaller than 6.5 points.
func requireNoSmallType(t *testing.T, fig *Figure) {
	t.Helper()
	var c recorder.Canvas
	fig.Draw(&c)
	for _, action := range c.Actions {
		if a, ok := action.(*recorder.FillString); ok {
			require.GreaterOrEqual(t, float64(a.Size), 6.5, "%q", a.String)
		}
	}
}

// On an index card every note is still there, with all that a card can have to
// say: a grade, an enlarger, dates, a base as zero, marks and dashes.
func TestFullestIndexCard(t *testing.T) {
	index, err := PageNamed("index")
	require.NoError(t, err)
	trial := reading(t, plottest.Demo(t, "larkfield-brinewater"), sensito.Reading{Zero: sensito.ZeroBase})
	aim := scene.Scene{Grade: "0", DensityRange: 2.2, Callier: 1.3, Flare: sensito.Flare{Kind: sensito.FlareVeil, Value: 0.04}}
	c, err := scene.NewCard(plottest.Family(t, trial), aim)
	require.NoError(t, err)
	fig, err := Card(c, Options{Width: index.Width, Height: index.Height, Date: "2026-03-05"})
	require.NoError(t, err)
	plottest.RequireReadable(t, fig)
	requireNoSmallType(t, fig)
	var all []string
	for _, box := range plottest.Texts(t, fig) {
		all = append(all, box.Text)
	}
	text := strings.Join(all, " ")
	for _, want := range []string{"Callier coefficient 1.3; veiling flare 4 %; speed point 4 stops below the metered tone", "densitometer zero: base",
		"Made 2026-03-05; strips developed 2026-03-02 to 2026-03-03", "* outside", "– no development time can be told", figure.StartingPoint, figure.Caution, figure.FurtherCaution} {
		assert.Contains(t, text, want)
	}
	assert.NotContains(t, text, "...", "nothing is cut short")
}

// reading returns a trial read otherwise.
func reading(t testing.TB, trial *sensito.Trial, r sensito.Reading) *sensito.Trial {
	t.Helper()
	spec := sensito.TrialSpec{Title: trial.Title(), Film: trial.Film(), Process: trial.Process(), Exposures: trial.Exposures(), Reading: r}
	for _, s := range trial.Strips() {
		out := sensito.StripSpec{Minutes: s.Minutes(), BaseFog: s.BaseFog(), Process: s.Process(), Date: s.Date()}
		for _, step := range s.Steps() {
			out.Density = append(out.Density, step.Density)
		}
		spec.Strips = append(spec.Strips, out)
	}
	out, err := sensito.NewTrial(spec)
	require.NoError(t, err)
	return out
}

func TestWrapped(t *testing.T) {
	const size = 8
	text := "one two three four five six seven eight nine ten"
	room := parts.TextWidth(size, "one two three")
	lines := parts.Wrapped(size, room, text, 9)
	assert.Equal(t, text, strings.Join(lines, " "))
	for _, l := range lines {
		assert.LessOrEqual(t, parts.TextWidth(size, l), room)
	}
	assert.Equal(t, "one two three", lines[0])
	for size := vg.Length(16); size > 8; size -= 0.1 { // what fits exactly, as the widest cell of a column does, is not broken
		assert.Len(t, parts.Wrapped(size, parts.TextWidth(size, "kept, 20 films/l"), "kept, 20 films/l", 3), 1, "size %g", size)
	}
	for room := parts.TextWidth(size, "20 °C"); room < 80; room++ {
		for _, l := range parts.Wrapped(size, room, "bars: 95 %, at 20 °C", 9) {
			assert.NotContains(t, "%°", string([]rune(l)[:1]), "a sign stays with its number")
		}
	}
	few := parts.Wrapped(size, room, text, 2)
	require.Len(t, few, 2)
	assert.True(t, strings.HasSuffix(few[1], "..."))
	assert.LessOrEqual(t, parts.TextWidth(size, few[1]), room)
	// A word wider than the room, such as a sentence of a script without spaces, is broken.
	word := strings.Repeat("x", 99)
	long := parts.Wrapped(size, room, "a "+word+" b", 99)
	assert.Equal(t, "a"+word+"b", strings.ReplaceAll(strings.Join(long, ""), " ", ""))
	for _, l := range long {
		assert.LessOrEqual(t, parts.TextWidth(size, l), room)
	}
	assert.Equal(t, []string{"a", "b"}, parts.Wrapped(size, -1, "ab", 9), "a letter a line where there is no room at all")
}
