package plot

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/plot/vg"

	"sensito/plot/internal/figure"
	"sensito/plot/internal/parts"
	"sensito/plot/internal/plottest"
	"sensito/sensito"
	"sensito/sensito/control"
	"sensito/sensito/printable"
	"sensito/sensito/scene"
	"sensito/sensito/testplan"
)

// builder is a figure that a page may ask for.
type builder = func(Options) (*Figure, error)

// pageFigures are the builders of every figure that stands on a page.
func pageFigures(t testing.TB) map[string]builder {
	t.Helper()
	larkfield, tern := plottest.Demo(t, "larkfield-brinewater"), plottest.Demo(t, "tern-ashlar")
	ms, family := plottest.Measured(t, larkfield), plottest.Family(t, larkfield)
	answer, err := scene.For(family, plottest.SceneOf(7))
	require.NoError(t, err)
	out := map[string]builder{
		"curves":       func(o Options) (*Figure, error) { return Curves(ms, o) },
		"curves asked": func(o Options) (*Figure, error) { return CurvesFor(answer, o) },
		"strip":        func(o Options) (*Figure, error) { return Curves(ms[3:4], o) },
		"many curves":  func(o Options) (*Figure, error) { return Curves(plottest.Measured(t, tern), o) },
		"camera": func(o Options) (*Figure, error) {
			return Curves(plottest.Measured(t, plottest.Demo(t, "larkfield-camera")), o)
		},
		"scene":        func(o Options) (*Figure, error) { return Scene(answer, o) },
		"family":       func(o Options) (*Figure, error) { return Family(family, nil, nil, o) },
		"family, time": func(o Options) (*Figure, error) { return Family(family, nil, answer, o) },
		"log":          func(o Options) (*Figure, error) { return Log(plottest.Logged(t), o) },
		"proposal": func(o Options) (*Figure, error) {
			return Proposal(plottest.Proposal(t, larkfield, 6, testplan.Options{Within: 0.015}), o)
		},
	}
	for _, name := range []string{"tone-seven", "tone-long", "tone-far", "tone-thirds"} {
		r := toneCases(t)[name]
		out["tone, "+name] = func(o Options) (*Figure, error) { return Tone(r, o) }
		out["scene and print, "+name] = func(o Options) (*Figure, error) { return Scene(r.Answer, o) }
	}
	for _, name := range []string{"slate", "foxglove"} {
		p := plottest.MeasuredPaper(t, plottest.Demo(t, name))
		out["paper, "+name] = func(o Options) (*Figure, error) { return Paper(p, o) }
	}
	rollOf := rolled(t, larkfield, scene.Scene{}, harbour())
	out["roll"] = func(o Options) (*Figure, error) { return Roll(rollOf, o) }
	tank := judged(t, demoLog(t), control.Options{})
	out["control"] = func(o Options) (*Figure, error) { return Control(tank, o) }
	half := keyedHalf(t)
	out["keying"] = func(o Options) (*Figure, error) { return Keying(half, o) }
	three := compared(t, developers(t, plottest.Contact, 3))
	for _, name := range append([]string{""}, CompareFigures()...) {
		out["compare "+name] = func(o Options) (*Figure, error) { return Compare(three, name, o) }
	}
	return out
}

// keyedHalf returns a strip whose ninth reading is questioned.
func keyedHalf(t testing.TB) Keyed {
	t.Helper()
	const read = 8
	spec := plottest.Demo(t, "larkfield-brinewater").Spec()
	s := &spec.Strips[3]
	s.Density = slices.Clone(s.Density)
	for i := read; i < len(s.Density); i++ {
		s.Density[i] = sensito.Density(math.NaN())
	}
	s.NextStep = read + 1
	trial, err := sensito.NewTrial(spec)
	require.NoError(t, err)
	k := Keyed{Strip: trial.Strips()[3], Curve: s.Density, Beside: trial.Strips()[2], BesideCurve: spec.Strips[2].Density}
	k.Judged = &Judged{Step: read + 1, Questioned: true, Read: 1.18, ReadAs: "1.18", Expected: 1.08, ExpectedAs: "1.08"}
	return k
}

// pageFigure is a figure as a page has it.
type pageFigure struct {
	name  string
	width vg.Length
	build builder
	*Figure
	svg string
}

// madePages are the page figures at both widths, made once.
var madePages []pageFigure

// eachPageFigure calls f with every page figure at both widths.
func eachPageFigure(t *testing.T, f func(t *testing.T, fig pageFigure)) {
	t.Helper()
	if madePages == nil {
		for name, build := range pageFigures(t) {
			for _, width := range []vg.Length{figure.WideWidth, figure.NarrowWidth} {
				fig, err := build(Options{Page: true, Width: width})
				require.NoError(t, err, name)
				var out bytes.Buffer
				require.NoError(t, WriteForPage(&out, fig, PageFigure{ID: "figure", Class: "at-wide"}), name)
				madePages = append(madePages, pageFigure{name, width, build, fig, out.String()})
			}
		}
	}
	for _, fig := range madePages {
		t.Run(fmt.Sprintf("%s at %.0f", fig.name, fig.width.Points()), func(t *testing.T) { f(t, fig) })
	}
}

// svgElement is an element of a page figure with the attributes of its group.
type svgElement struct {
	name string
	attr map[string]string
	text string
}

// readSVG returns the elements of a figure, which is to be well formed.
func readSVG(t *testing.T, svg string) []*svgElement {
	t.Helper()
	var all, open []*svgElement
	for d := xml.NewDecoder(strings.NewReader(svg)); ; {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			return all
		}
		require.NoError(t, err)
		switch token := token.(type) {
		case xml.StartElement:
			e := &svgElement{name: token.Name.Local, attr: map[string]string{}}
			if len(open) > 1 { // but those of the root
				maps.Copy(e.attr, open[len(open)-1].attr)
			}
			for _, a := range token.Attr {
				e.attr[a.Name.Local] = a.Value
			}
			all, open = append(all, e), append(open, e)
		case xml.EndElement:
			open = open[:len(open)-1]
		case xml.CharData:
			if len(open) > 0 {
				open[len(open)-1].text += string(token)
			}
		}
	}
}

// allowedOnPage are elements and attributes that a page's policy and its sheet know. What
// is not here is a style, a script, an event, a reference or a font.
var allowedOnPage = map[string][]string{
	"svg": {"class", "viewBox", "role", "aria-labelledby", "fill"}, "title": {"id"}, "desc": {"id"},
	"g":    {"class", "fill", "stroke", "stroke-width", "stroke-dasharray", "stroke-dashoffset", "font-size"},
	"path": {"class", "fill", "stroke", "stroke-width", "stroke-dasharray", "stroke-dashoffset", "d"},
	"text": {"class", "fill", "font-size", "x", "y", "text-anchor", "transform", "textLength", "lengthAdjust", "space"},
}

// A page may forbid styles and scripts, and shows every figure in its own colours.
func TestPageFiguresNeedTheSheetAlone(t *testing.T) {
	classes := append(Classes(), "patch", "redback")
	eachPageFigure(t, func(t *testing.T, fig pageFigure) {
		all := readSVG(t, fig.svg)
		var box [4]float64
		_, err := fmt.Sscan(all[0].attr["viewBox"], &box[0], &box[1], &box[2], &box[3])
		require.NoError(t, err)
		assert.InDelta(t, fig.width.Points(), box[2], 0.02)
		for name := range all[0].attr {
			require.Contains(t, allowedOnPage["svg"], name, "attribute of the figure")
		}
		assert.Equal(t, "img", all[0].attr["role"])
		assert.Equal(t, "figure-title figure-desc", all[0].attr["aria-labelledby"])
		assert.Equal(t, []string{"title", "desc"}, []string{all[1].name, all[2].name})
		assert.Equal(t, []string{"figure-title", "figure-desc"}, []string{all[1].attr["id"], all[2].attr["id"]})
		assert.NotEmpty(t, all[1].text)
		assert.NotEmpty(t, all[2].text)
		for i, e := range all[1:] {
			allowed, known := allowedOnPage[e.name]
			require.True(t, known, "element %s", e.name)
			for name := range e.attr {
				if !slices.Contains(allowedOnPage["g"], name) { // those of a group stand for its children
					require.Contains(t, allowed, name, "attribute of %s", e.name)
				}
			}
			if e.name != "path" && e.name != "text" {
				continue
			}
			require.Contains(t, classes, e.attr["class"])
			if e.name == "text" {
				size, err := strconv.ParseFloat(e.attr["font-size"], 64)
				require.NoError(t, err)
				assert.True(t, size >= 13 && size <= 19, "%q is set in %g px", e.text, size)
			}
			switch paint := e.attr["fill"] + e.attr["stroke"]; e.attr["class"] {
			case "redback":
				require.Empty(t, paint)
			case "patch":
				require.Regexp(t, `^#([0-9a-f]{3}){1,2}$`, paint)
				require.Equal(t, "redback", all[i].attr["class"], "under a tone")
				require.Equal(t, e.attr["d"], all[i].attr["d"])
			default:
				require.Equal(t, "currentColor", paint)
			}
		}
	})
}

// A page shows numbers that the command draws, and none else: of several panels and of
// ends of curves those that there is room for.
func TestPageFiguresDrawTheNumbersOfTheCommand(t *testing.T) {
	lines := func(t *testing.T, f *Figure) []string {
		var out bytes.Buffer
		require.NoError(t, Write(&out, f, CSV))
		return strings.Split(strings.TrimSpace(out.String()), "\n")
	}
	drawn := map[string]map[string]bool{}
	eachPageFigure(t, func(t *testing.T, fig pageFigure) {
		if drawn[fig.name] == nil {
			usual, err := fig.build(Options{})
			require.NoError(t, err)
			drawn[fig.name] = map[string]bool{}
			for _, line := range lines(t, usual) {
				drawn[fig.name][line] = true
			}
		}
		got := lines(t, fig.Figure)
		require.Greater(t, len(got), len(drawn[fig.name])/2)
		for _, line := range got {
			require.True(t, drawn[fig.name][line], line)
		}
	})
}

// Texts of a page figure keep clear of each other and within it, as far as the built-in
// font says.
func TestPageFiguresHaveRoom(t *testing.T) {
	eachPageFigure(t, func(t *testing.T, fig pageFigure) {
		for _, e := range readSVG(t, fig.svg) {
			if e.name != "text" || e.attr["transform"] != "" {
				continue
			}
			number := func(name string) float64 {
				n, err := strconv.ParseFloat(e.attr[name], 64)
				require.NoError(t, err)
				return n
			}
			wide := parts.TextWidth(vg.Length(number("font-size")), e.text).Points()
			if e.attr["textLength"] != "" {
				wide = number("textLength")
			}
			x := number("x") - map[string]float64{"": 0, "middle": wide / 2, "end": wide}[e.attr["text-anchor"]]
			cut := (fig.Width.Points() - fig.width.Points()) / 2
			assert.GreaterOrEqual(t, x, cut-3, e.text)
			assert.LessOrEqual(t, x+wide, cut+fig.width.Points()+3, e.text)
		}
	})
}

func TestForPage(t *testing.T) {
	const hostile = `<script>alert("x")</script>` + "\x1b[31m'&"
	r := rolled(t, plottest.Demo(t, "larkfield-brinewater"), scene.Scene{}, []scene.Frame{{Name: hostile, Stops: 7}, {Name: "Stair", Stops: 6}})
	build := func(o Options) (*Figure, error) { return Roll(r, o) }
	p, err := ForPage(build, Options{}, PageFigure{ID: "roll", Title: hostile, Desc: "two\nscenes"})
	require.NoError(t, err)
	svg := string(p.SVG)
	assert.NotContains(t, svg, "<script")
	assert.NotContains(t, svg, "\x1b")
	assert.Equal(t, 2, strings.Count(svg, "<svg "))
	all := readSVG(t, "<both>"+svg+"</both>")
	ids := map[string]bool{}
	var found []string
	for _, e := range all {
		if id := e.attr["id"]; id != "" {
			assert.False(t, ids[id], "%s twice", id)
			ids[id] = true
		}
		if e.name == "title" || e.name == "desc" {
			found = append(found, e.text)
		}
	}
	assert.Equal(t, map[string]bool{"roll-at-wide-title": true, "roll-at-wide-desc": true, "roll-at-narrow-title": true, "roll-at-narrow-desc": true}, ids)
	assert.Equal(t, []string{printable.Lines(hostile), "two\nscenes"}, found[:2])
	assert.Contains(t, svg, `class="at-wide" viewBox`)
	assert.Contains(t, svg, `class="at-narrow" viewBox`)
	assert.Contains(t, p.Wide, "Whiskers: 95 % intervals")
	assert.NotContains(t, p.Wide, "gloves", "the page has the cautions")
	assert.Equal(t, r.Frames[0].Name, hostile)

	answer, err := scene.For(plottest.Family(t, plottest.Demo(t, "larkfield-brinewater")), plottest.SceneOf(7))
	require.NoError(t, err)
	p, err = ForPage(func(o Options) (*Figure, error) { return Scene(answer, o) }, Options{}, PageFigure{ID: "scene"})
	require.NoError(t, err)
	assert.NotContains(t, p.Wide, "Dot with whisker", "named in place")
	assert.Contains(t, p.Narrow, "Dot with whisker", "where there is no room for that")

	_, err = ForPage(build, Options{}, PageFigure{ID: "two words"})
	assert.ErrorContains(t, err, `"two words-at-wide" is no name for a figure`)
	_, err = ForPage(build, Options{Theme: "dark"}, PageFigure{ID: "a"})
	assert.ErrorContains(t, err, `"dark" is asked for`)
	_, err = Roll(r, Options{Page: true, Width: 200})
	assert.EqualError(t, err, "figure width 200 px is outside 320 to 2000 px")
	usual, err := Roll(r, Options{})
	require.NoError(t, err)
	var out bytes.Buffer
	assert.ErrorContains(t, WriteForPage(&out, usual, PageFigure{ID: "a", Class: "b"}), "Options.Page")
	assert.Zero(t, out.Len())
	assert.NotContains(t, Themes(), "page")
}

// The curve that a scene asks for stands where the answer has it.
func TestCurvesFor(t *testing.T) {
	answer, err := scene.For(plottest.Family(t, plottest.Demo(t, "larkfield-brinewater")), plottest.SceneOf(7))
	require.NoError(t, err)
	fig, err := CurvesFor(answer, Options{Page: true, Width: 620})
	require.NoError(t, err)
	assert.Contains(t, fig.Caption(), "The thick curve, of "+parts.Planned(answer.Minutes.Value))
	var ends []figure.Value
	for _, s := range fig.Body().(figure.Numbered).Numbers() {
		if s.Name == "the scene, 7 stops" {
			ends = s.Values
		}
	}
	require.Len(t, ends, 2)
	assert.InDelta(t, float64(answer.Delivered.Value), ends[1].Y-ends[0].Y, 0.01, "the density range of the scene")
	for i, tone := range answer.Ends {
		assert.InDelta(t, float64(tone.Film), ends[i].X, 1e-9)
	}
}

// The drawing of a page figure is kept.
func TestPageDrawing(t *testing.T) {
	for name, kept := range map[string]string{"curves asked": "curves", "keying": "keying"} {
		fig, err := pageFigures(t)[name](Options{Page: true, Width: figure.NarrowWidth})
		require.NoError(t, err)
		var out bytes.Buffer
		require.NoError(t, WriteForPage(&out, fig, PageFigure{ID: kept, Class: "at-narrow"}))
		requireBytes(t, "page-"+kept, out.Bytes())
	}
}
