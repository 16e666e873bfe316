package plot

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	"sensito/plot/internal/plottest"
	"sensito/sensito"
	"sensito/sensito/curve"
	"sensito/sensito/scene"
	"sensito/sensito/testplan"
)

// figures are one of every kind worth looking at, made once.
func figures(t testing.TB) map[string]*Figure {
	t.Helper()
	if len(made) == 0 {
		made = makeFigures(t)
	}
	return made
}

var made map[string]*Figure

func makeFigures(t testing.TB) map[string]*Figure {
	t.Helper()
	figs := map[string]*Figure{}
	add := func(name string) func(*Figure, error) {
		return func(f *Figure, err error) {
			t.Helper()
			require.NoError(t, err, name)
			figs[name] = f
		}
	}
	larkfield, tern, camera := plottest.Demo(t, "larkfield-brinewater"), plottest.Demo(t, "tern-ashlar"), plottest.Demo(t, "larkfield-camera")
	for i, m := range plottest.Measured(t, larkfield) {
		add(fmt.Sprintf("curves-strip%d", i+1))(Curves([]*curve.Measured{m}, Options{}))
	}
	add("curves-five")(Curves(plottest.Measured(t, larkfield), Options{}))
	add("curves-eight")(Curves(plottest.Measured(t, plottest.MadeUp(t, plottest.Contact, false, plottest.EightTimes...)), Options{}))
	add("curves-slip")(Curves(plottest.Measured(t, plottest.MadeUp(t, plottest.Contact, true, 6)), Options{}))
	add("curves-shoulder")(Curves(plottest.Measured(t, tern), Options{}))
	add("curves-shoulder-one")(Curves(plottest.Measured(t, tern)[3:], Options{}))
	add("curves-relative")(Curves(plottest.Measured(t, plottest.MadeUp(t, plottest.Relative, false, 4, 7, 12)), Options{}))
	add("curves-camera")(Curves(plottest.Measured(t, camera), Options{}))
	for _, trial := range []*sensito.Trial{larkfield, tern, plottest.MadeUp(t, plottest.Relative, false, 4, 7, 12), plottest.MadeUp(t, plottest.Contact, false, 5, 10)} {
		f := plottest.Family(t, trial)
		p, err := scene.For(f, plottest.SceneOf(7))
		require.NoError(t, err)
		c, err := scene.NewCard(f, plottest.SceneOf(0))
		require.NoError(t, err)
		kind := fmt.Sprintf("%s-%d", trial.Exposures().Kind(), len(trial.Strips()))
		add("family-" + kind)(Family(f, nil, nil, Options{}))
		add("family-mark-" + kind)(Family(f, nil, p, Options{}))
		add("scene-" + kind)(Scene(p, Options{}))
		add("roll-" + kind)(Roll(rolled(t, trial, scene.Scene{}, harbour()), Options{}))
		add("card-" + kind)(Card(c, Options{}))
		index, err := PageNamed("index")
		require.NoError(t, err)
		add("card-index-" + kind)(Card(c, Options{Width: index.Width, Height: index.Height, Date: "2026-03-05"}))
	}
	for name, strips := range map[string]int{"slate": 7, "foxglove": 1} {
		p := plottest.MeasuredPaper(t, plottest.Demo(t, name))
		require.Len(t, p.Strips, strips)
		add("paper-" + name)(Paper(p, Options{}))
	}
	add("proposal-contact-5")(Proposal(plottest.Proposal(t, larkfield, 6, testplan.Options{Within: 0.015}), Options{}))
	add("curves-alike")(Curves(plottest.Measured(t, plottest.MadeUp(t, plottest.Contact, false, 6, 6, 6.05, 6.1, 6.1, 6.2, 6.2, 6.2)), Options{}))
	toneFigures(t, add)
	add("curves-ignored")(Curves(plottest.Measured(t, plottest.Ignoring(t, tern, 4, 5, 6, 7, 12, 13, 25, 26, 27))[2:], Options{}))
	three := compared(t, developers(t, plottest.Contact, 3))
	add("sheet-tray")(Sheet(sheets(t)["tray"], Options{}))
	add("log-three")(Log(plottest.Logged(t), Options{}))
	add("compare-three")(Compare(three, "", Options{}))
	add("compare-gradient")(Compare(three, CompareGradient, Options{}))
	return figs
}
