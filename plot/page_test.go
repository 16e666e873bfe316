package plot

import (
	"testing"

	"github.com/stretchr/testify/require"

	"sensito/plot/internal/plottest"
	"sensito/sensito/control"
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
			return Proposal(proposal(t, larkfield, 6, testplan.Options{Within: 0.015}), o)
		},
	}
	for name, r := range toneCases(t) {
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
	three := compared(t, developers(t, plottest.Contact, 3))
	for _, name := range append([]string{""}, CompareFigures()...) {
		out["compare "+name] = func(o Options) (*Figure, error) { return Compare(three, name, o) }
	}
	return out
}
