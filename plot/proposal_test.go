package plot

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/plot/vg"

	"sensito/sensito"
	"sensito/sensito/testplan"
)

func proposal(t testing.TB, trial *sensito.Trial, stops float64, o testplan.Options) *testplan.Proposal {
	t.Helper()
	p, err := testplan.Propose(family(t, trial), sceneOf(stops), o)
	require.NoError(t, err)
	return p
}

func TestProposalPlotsWhatWasProposed(t *testing.T) {
	p := proposal(t, demo(t, "larkfield-brinewater"), 6, testplan.Options{Within: 0.01})
	fig, err := Proposal(p, Options{})
	require.NoError(t, err)
	b := fig.body.(*proposalBody)
	at := map[float64]float64{}
	for _, c := range p.Candidates {
		if c.Action == nil {
			at[float64(c.Minutes)] = 100 * c.Half
		}
	}
	require.Len(t, b.alone, len(at))
	for i, pt := range b.alone {
		assert.Equal(t, at[pt.X], pt.Y)
		if i > 0 {
			assert.Greater(t, pt.X, b.alone[i-1].X)
		}
		assert.True(t, pt.Y <= b.plot.Y.Max && pt.Y >= b.plot.Y.Min)
	}
	require.NotEmpty(t, b.chosen)
	assert.Equal(t, at[b.chosen[0].X], b.chosen[0].Y, "the first is one by itself")
	require.Len(t, b.levels, 2)
	assert.Equal(t, 1.0, b.levels[0].percent)
	assert.Equal(t, 100*testplan.HalfWidth(*p.Before, 0.95), b.levels[1].percent)
	assert.Len(t, b.tested, 5)
}

// The dots count what is done before them, so the note names it.
func TestProposalNamesWhatIsDoneTogether(t *testing.T) {
	p := &testplan.Proposal{Candidates: []testplan.Candidate{{Minutes: 5}}}
	for code, want := range map[string]string{
		testplan.ActionReachFurther: "dots: together, more light on all strips, then 5:45, then 6:30",
		testplan.ActionReadBase:     "dots: together, the base read again, then 5:45, then 6:30",
		testplan.ActionReadSteps:    "dots: together, missing steps read, then 5:45, then 6:30",
	} {
		p.Chosen = []testplan.Candidate{{Action: &testplan.Action{Code: code}}, {Minutes: 5.75}, {Minutes: 6.5}}
		assert.Contains(t, proposalNote(p, Options{Confidence: 0.95}), want)
		p.Chosen = p.Chosen[:1]
		assert.NotContains(t, strings.Join(proposalNote(p, Options{Confidence: 0.95}), "\n"), "dots", "nothing is dotted")
	}
}

func TestProposalIsReadable(t *testing.T) {
	if testing.Short() {
		t.Skip("slow under the race detector, and nothing in it runs side by side")
	}
	for name, p := range map[string]*testplan.Proposal{
		"several":      proposal(t, demo(t, "larkfield-brinewater"), 6, testplan.Options{Within: 0.01, MaxStrips: 6}),
		"nothing":      proposal(t, demo(t, "tern-ashlar"), 7, testplan.Options{}),
		"close levels": proposal(t, demo(t, "larkfield-brinewater"), 6, testplan.Options{Within: 0.02}),
		"index":        proposal(t, demo(t, "larkfield-camera"), 7, testplan.Options{Wanted: testplan.WantedIndex}),
		"one strip":    proposal(t, madeUp(t, contact, false, 7), 7, testplan.Options{}),
		"open":         proposal(t, madeUp(t, contact, false, 4, 5, 6), 5.2, testplan.Options{}),
	} {
		t.Run(name, func(t *testing.T) {
			if name == "open" {
				require.True(t, math.IsInf(testplan.HalfWidth(*p.Before, 0.95), 1))
			}
			fig, err := Proposal(p, Options{})
			require.NoError(t, err)
			for _, part := range fig.body.(*proposalBody).closed() {
				for _, at := range part {
					assert.False(t, math.IsInf(at.Y, 1))
				}
			}
			requireReadable(t, fig)
		})
	}
	p := proposal(t, demo(t, "tern-ashlar"), 7, testplan.Options{})
	_, err := Proposal(p, Options{Width: 60 * vg.Millimeter, Height: 1500 * vg.Millimeter})
	assert.ErrorContains(t, err, "height")
}
