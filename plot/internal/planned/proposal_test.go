package planned

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/plot/vg"

	"sensito/plot/internal/figure"
	"sensito/plot/internal/plottest"
	"sensito/sensito/testplan"
)

func TestProposalPlotsWhatWasProposed(t *testing.T) {
	p := plottest.Proposal(t, plottest.Demo(t, "larkfield-brinewater"), 6, testplan.Options{Within: 0.01})
	fig, err := Proposal(p, figure.Options{})
	require.NoError(t, err)
	b := fig.Body().(*proposalBody)
	require.Greater(t, len(p.Chosen), 1)
	require.Len(t, b.rows, 1+len(p.Chosen)+mostAlternatives)
	assert.Equal(t, "now", b.rows[0].name)
	assert.Equal(t, p.Before.Value, b.rows[0].X)
	for i, c := range p.Chosen {
		r := b.rows[1+i]
		low, high := c.After.Interval(0.95)
		assert.Equal(t, [3]float64{c.After.Value, low, high}, [3]float64{r.X, r.Low, r.High})
		assert.True(t, r.Filled)
		assert.Equal(t, halfName(c.Half), r.half)
	}
	for i, r := range b.rows {
		assert.EqualValues(t, -i, r.Y)
		assert.True(t, r.Low >= b.plot.X.Min && r.High <= b.plot.X.Max, "the axis holds every interval that closes")
	}
	assert.InDelta(t, p.Before.Value*1.01, b.wanted[1], 1e-9)
	assert.InDelta(t, p.Before.Value/1.01, b.wanted[0], 1e-9)
	assert.Contains(t, fig.Title, "would narrow the development time to "+halfName(p.Chosen[len(p.Chosen)-1].Half)+", now "+b.rows[0].half)
	assert.Len(t, b.Numbers(), len(b.rows)+1)
}

func TestProposalNamesWhatIsDoneTogether(t *testing.T) {
	p := &testplan.Proposal{Options: testplan.Options{Level: 0.95}}
	for code, want := range map[string]string{
		testplan.ActionReachFurther: "More light on all strips, a strip of 5:45 and another strip of 6:30 would narrow the development time to ±2.0 %",
		testplan.ActionReadBase:     "The base read again, a strip of 5:45 and another strip of 6:30 would narrow the development time to ±2.0 %",
		testplan.ActionReadSteps:    "Missing steps read, a strip of 5:45 and another strip of 6:30 would narrow the development time to ±2.0 %",
	} {
		p.Chosen = []testplan.Candidate{{Action: &testplan.Action{Code: code}}, {Minutes: 5.75}, {Minutes: 6.5, Again: true, Half: 0.02}}
		assert.Equal(t, want, proposalTitle(p, "development time"))
	}
	p.Chosen = nil
	assert.Equal(t, "No strip of this kind would make the index surer", proposalTitle(p, "index"))
	p.Met = true
	assert.Equal(t, "The index is as sure as wanted: nothing more to test", proposalTitle(p, "index"))
}

func TestProposalIsReadable(t *testing.T) {
	if testing.Short() {
		t.Skip("slow under the race detector, and nothing in it runs side by side")
	}
	for name, p := range map[string]*testplan.Proposal{
		"several":      plottest.Proposal(t, plottest.Demo(t, "larkfield-brinewater"), 6, testplan.Options{Within: 0.01, MaxStrips: 6}),
		"nothing":      plottest.Proposal(t, plottest.Demo(t, "tern-ashlar"), 7, testplan.Options{}),
		"close levels": plottest.Proposal(t, plottest.Demo(t, "larkfield-brinewater"), 6, testplan.Options{Within: 0.02}),
		"index":        plottest.Proposal(t, plottest.Demo(t, "larkfield-camera"), 7, testplan.Options{Wanted: testplan.WantedIndex}),
		"one strip":    plottest.Proposal(t, plottest.MadeUp(t, plottest.Contact, false, 7), 7, testplan.Options{}),
		"open":         plottest.Proposal(t, plottest.MadeUp(t, plottest.Contact, false, 4, 5, 6), 5.2, testplan.Options{}),
	} {
		t.Run(name, func(t *testing.T) {
			if name == "open" {
				require.True(t, math.IsInf(testplan.HalfWidth(*p.Before, 0.95), 1))
			}
			fig, err := Proposal(p, figure.Options{})
			require.NoError(t, err)
			plottest.RequireReadable(t, fig)
			for _, o := range []figure.Options{{Width: 84 * vg.Millimeter}, {Width: 180 * vg.Millimeter, Theme: "dark"}} {
				fig, err := Proposal(p, o)
				require.NoError(t, err)
				plottest.RequireReadable(t, fig)
			}
		})
	}
	p := plottest.Proposal(t, plottest.Demo(t, "tern-ashlar"), 7, testplan.Options{})
	_, err := Proposal(p, figure.Options{Width: 60 * vg.Millimeter, Height: 1500 * vg.Millimeter})
	assert.ErrorContains(t, err, "height")
}
