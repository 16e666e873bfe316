package plot

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"

	"sensito/plot/internal/parts"
	"sensito/plot/internal/plottest"
	"sensito/sensito"
	"sensito/sensito/curve"
	"sensito/sensito/paper"
	"sensito/sensito/scene"
)

// printed follows a scene through a demo film to a grade of a demo paper.
func printed(t testing.TB, film, on, grade string, aimed scene.Scene) *scene.Reproduction {
	t.Helper()
	p, err := paper.Measure(plottest.Demo(t, on), curve.FitOptions{})
	require.NoError(t, err)
	aimed.Paper, err = p.Grade(grade)
	require.NoError(t, err)
	answer, err := scene.For(plottest.Family(t, plottest.Demo(t, film)), aimed)
	require.NoError(t, err)
	r, err := answer.Reproduce()
	require.NoError(t, err)
	return r
}

// toneCases are scenes short and long, every kind of flare, papers soft and
// hard, and both enlargers.
func toneCases(t testing.TB) map[string]*scene.Reproduction {
	t.Helper()
	if toneCasesMade == nil {
		toneCasesMade = makeToneCases(t)
	}
	return toneCasesMade
}

var toneCasesMade map[string]*scene.Reproduction

func makeToneCases(t testing.TB) map[string]*scene.Reproduction {
	veil := func(v float64) sensito.Flare { return sensito.Flare{Kind: sensito.FlareVeil, Value: v} }
	none := sensito.Flare{Kind: sensito.FlareNone}
	return map[string]*scene.Reproduction{
		"tone-seven":     printed(t, "larkfield-brinewater", "slate", "2", scene.Scene{Stops: 7}),
		"tone-long":      printed(t, "larkfield-brinewater", "slate", "0", scene.Scene{Stops: 9, ShadowStops: 5}),
		"tone-hard":      printed(t, "larkfield-brinewater", "slate", "5", scene.Scene{Stops: 5, Flare: none}),
		"tone-short":     printed(t, "larkfield-brinewater", "slate", "5", scene.Scene{Stops: 3, Flare: none}),
		"tone-veil":      printed(t, "tern-ashlar", "slate", "3", scene.Scene{Stops: 8, Flare: veil(0.02)}),
		"tone-condenser": printed(t, "larkfield-brinewater", "slate", "1", scene.Scene{Stops: 7, Callier: 1.3}),
		"tone-contact":   printed(t, "larkfield-brinewater", "foxglove", "", scene.Scene{Stops: 9, Flare: veil(0.003)}),
		"tone-far":       printed(t, "larkfield-brinewater", "foxglove", "", scene.Scene{Stops: 9.4, Flare: veil(0.003)}),
		"tone-thirds":    printed(t, "tern-ashlar", "slate", "1", scene.Scene{Stops: 7, Callier: 1.4, Flare: none, ShadowStops: 3.34}),
	}
}

// toneFigures draws the cases at the usual size.
func toneFigures(t testing.TB, add func(name string) func(*Figure, error)) {
	for name, r := range toneCases(t) {
		add(name)(Tone(r, Options{}))
	}
}

// on returns how far a point lies from the lines of a quadrant.
func (b *tone) on(quadrant int, p plotter.XY) float64 {
	nearest := math.Inf(1)
	for _, l := range b.lines[quadrant] {
		if l.kind == referredLine {
			continue
		}
		for i := range len(l.at) - 1 {
			a, c := l.at[i], l.at[i+1]
			dx, dy := c.X-a.X, c.Y-a.Y
			along := ((p.X-a.X)*dx + (p.Y-a.Y)*dy) / (dx*dx + dy*dy)
			along = min(max(along, 0), 1)
			nearest = min(nearest, math.Hypot(p.X-a.X-along*dx, p.Y-a.Y-along*dy))
		}
	}
	return nearest
}

// What is drawn is what the reproduction says, and every tone has its corners
// on the four curves.
func TestToneDrawsTheReproduction(t *testing.T) {
	for name, r := range toneCases(t) {
		b := newTone(r, Options{Confidence: 0.95})
		q := r.Answer.Scene.Callier
		byStops := map[float64]scene.Reproduced{}
		for _, tone := range r.Tones {
			byStops[tone.Stops] = tone
		}
		drawn := map[float64]bool{}
		for _, g := range b.guides {
			want, ok := byStops[g.stops]
			require.True(t, ok, "%s: a tone of the table", name)
			drawn[g.stops] = true
			assert.InDelta(t, 0.30103*g.stops, g.scene, 1e-5, name)
			assert.Equal(t, float64(want.Film), g.film, name)
			assert.InDelta(t, q*float64(want.Net), g.negative, 1e-12, name)
			assert.InDelta(t, float64(want.PaperLogH), b.paperAt-g.negative, 1e-9, "%s: exposure of the paper", name)
			assert.Equal(t, float64(want.Printed), g.print, name)
			for quadrant := range quadrants {
				assert.Less(t, b.on(quadrant, g.corner(quadrant)), 0.002, "%s: %+g stops in quadrant %d", name, g.stops, quadrant)
			}
		}
		first, last := r.Tones[0].Stops, r.Tones[len(r.Tones)-1].Stops
		assert.True(t, drawn[first] && drawn[last], "%s: the ends", name)
		assert.Equal(t, last > 0.75, drawn[0], "%s: the metered tone", name)
		for s := range drawn {
			for o := range drawn {
				assert.True(t, s == o || math.Abs(s-o) > 0.75, "%s: %g and %g stand apart", name, s, o)
			}
		}

		assert.InDelta(t, q*0.10, b.speedPoint.X, 0.02, "%s: as the strips together have it", name)
		assert.Less(t, b.on(film, b.speedPoint), 0.002, name)
		assert.InDelta(t, float64(r.Answer.Scene.Paper.MinDensity.Value)+0.04, b.white.Y, 1e-6, "%s: T", name)
		assert.Less(t, b.on(paperStage, b.white), 0.002, name)
		assert.Less(t, b.on(paperStage, b.black), 0.002, name)
		assert.Equal(t, r.Answer.Veil > 0, len(b.lines[cameraStage]) == 2, "%s: the line without flare", name)
		for _, quadrant := range []int{cameraStage, reproduced} {
			for _, l := range b.lines[quadrant] {
				if l.kind == referredLine {
					slope := (l.at[1].Y - l.at[0].Y) / (l.at[1].X - l.at[0].X)
					assert.InDelta(t, 1, math.Abs(slope), 1e-9, "%s: at 45 degrees", name)
				}
			}
		}
	}
}

// The bands are those of the answer's tones, and the numbers those of the lines.
func TestToneBandsAndNumbers(t *testing.T) {
	r := toneCases(t)["tone-condenser"]
	fig, err := Tone(r, Options{})
	require.NoError(t, err)
	b := fig.Body().(*tone)
	for _, tone := range r.Tones {
		low, high := tone.Print.Interval(0.95)
		x := min(max(tone.Stops*float64(sensito.Stop), b.bands[reproduced].low[0].X), b.bands[reproduced].low[len(b.bands[reproduced].low)-1].X) // rounded
		assert.InDelta(t, float64(low), heightAt(b.bands[reproduced].low, x), 0.003, "%+g stops", tone.Stops)
		assert.InDelta(t, float64(high), heightAt(b.bands[reproduced].high, x), 0.003, "%+g stops", tone.Stops)
	}
	assert.Regexp(t, "^Set EI 80 and develop .*: the scene prints from 0.10 to 1.88$", fig.Title)
	tones := 0
	for _, s := range b.Numbers() {
		if s.Name == "tones" {
			tones++
			assert.Len(t, s.Values, len(b.guides))
		}
	}
	assert.Equal(t, quadrants, tones)
}

// One unit is as long in every direction of every quadrant; neighbours share an
// axis; and neither notes nor labels hide anything.
func TestToneLayout(t *testing.T) {
	for name, r := range toneCases(t) {
		for _, o := range []Options{{}, {Width: 120 * vg.Millimeter}, {Width: 297 * vg.Millimeter, Height: 210 * vg.Millimeter}, {Width: 210 * vg.Millimeter, Height: 297 * vg.Millimeter}} {
			fig, err := Tone(r, o)
			require.NoError(t, err, "%s %v", name, o)
			plottest.RequireReadable(t, fig)
			b := fig.Body().(*tone)
			l := b.layout(fig.Page())
			for quadrant := range quadrants {
				a, c := l.at(quadrant, plotter.XY{X: 0.3, Y: 0.2}), l.at(quadrant, plotter.XY{X: 1.3, Y: 1.2})
				assert.InDelta(t, float64(l.unit), math.Abs(float64(c.X-a.X)), 1e-9)
				assert.InDelta(t, float64(l.unit), float64(c.Y-a.Y), 1e-9)
				assert.False(t, l.hidden(quadrant), "%s %v: note %d stands free", name, o, quadrant)

				named := map[string]bool{}
				for _, label := range l.labels(quadrant) {
					named[label.Name] = true
				}
				ends := []string{parts.Stops(b.guides[0].stops), parts.Stops(b.guides[len(b.guides)-1].stops)}
				if quadrant == film && r.Answer.Veil == 0 {
					ends[0] += ", speed point"
				} else if quadrant == film {
					ends = append(ends, "speed point")
				}
				for _, end := range ends {
					assert.True(t, named[end], "%s %v: %s named in quadrant %d", name, o, end, quadrant)
				}
			}
			for _, g := range b.guides {
				for i := range quadrants { // neighbours, each corner level with or under the next
					a, c := l.at(i, g.corner(i)), l.at((i+1)%quadrants, g.corner((i+1)%quadrants))
					assert.True(t, a.X == c.X || a.Y == c.Y, "%s: a guide runs straight through", name)
				}
				for i := range quadrants {
					at, c := l.at(i, g.corner(i)), l.canvas(i)
					assert.True(t, at.X >= c.Min.X && at.X <= c.Max.X && at.Y >= c.Min.Y && at.Y <= c.Max.Y, "%s: inside", name)
				}
			}
		}
	}
}

// Where a quadrant has no room for its note the foot tells what it told.
func TestToneNotesAtTheFoot(t *testing.T) {
	for _, name := range []string{"tone-seven", "tone-long", "tone-hard", "tone-veil", "tone-condenser", "tone-contact", "tone-thirds"} {
		fig, err := Tone(toneCases(t)[name], Options{Width: 84 * vg.Millimeter})
		require.NoError(t, err, name)
		plottest.RequireReadable(t, fig)
		b := fig.Body().(*tone)
		assert.Contains(t, b.Foot, "ring: speed point")
		l := b.layout(fig.Page())
		for quadrant := range quadrants {
			assert.False(t, l.hidden(quadrant), "%s: note %d stands free", name, quadrant)
		}
	}
	r := toneCases(t)["tone-seven"]
	for width, below := range map[vg.Length]bool{84: true, 170: false} {
		fig, err := Tone(r, Options{Width: width * vg.Millimeter})
		require.NoError(t, err)
		b := fig.Body().(*tone)
		assert.Equal(t, below, strings.Contains(b.Foot, "III paper: Slate grade 2, white T, black S."))
		assert.Equal(t, below, len(b.notes[paperStage]) == 1)
		for _, box := range plottest.Texts(t, fig) {
			assert.NotContains(t, box.Text, "...")
		}
	}
}

func TestToneRefusesTooSmall(t *testing.T) {
	r := toneCases(t)["tone-far"]
	_, err := Tone(r, Options{Width: 60 * vg.Millimeter})
	require.ErrorContains(t, err, "wider or higher")
	_, err = Tone(toneCases(t)["tone-seven"], Options{Width: 60 * vg.Millimeter})
	require.EqualError(t, err, "the four quadrants are readable from 72 mm of width on: make the figure wider or higher")
	_, err = Tone(r, Options{Confidence: 2})
	require.ErrorContains(t, err, "confidence")
}
