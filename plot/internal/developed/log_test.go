package developed

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/plot/vg"

	"sensito/plot/internal/figure"
	"sensito/plot/internal/plottest"
	"sensito/sensito"
	"sensito/sensito/logbook"
)

func TestLogHoldsWhatWasDone(t *testing.T) {
	fig, err := Log(plottest.Logged(t), figure.Options{})
	require.NoError(t, err)
	assert.Equal(t, "Larkfield 125 in Brinewater 1+39: 2026-06-02, 14:00, 20 °C meant", fig.Title)
	b := fig.Body().(*logBody)
	assert.Equal(t, "5 developments of film and 14 test strips, 2026-03-02 to 2026-06-02", b.Sub)
	require.Len(t, b.panels, 2)
	larkfield := b.panels[0]
	require.Len(t, larkfield.marks, 14)
	looks := map[string]string{}
	for _, m := range larkfield.marks {
		look := fmt.Sprint(m.look)
		if was, seen := looks[m.developer]; seen {
			assert.Equal(t, was, look, "one look for %s", m.developer)
		}
		looks[m.developer] = look
	}
	assert.Len(t, looks, 3)
	solid := 0
	for _, m := range larkfield.marks {
		if !m.strip {
			solid++
		}
	}
	assert.Equal(t, 4, solid)
	slower := larkfield.marks[len(larkfield.marks)-3]
	assert.Equal(t, 31.0, slower.X, "days from 2 March to 2 April")
	assert.InDelta(t, 4+5./60, slower.planned, 1e-9)
	assert.True(t, math.IsNaN(larkfield.marks[len(larkfield.marks)-2].planned), "developed as planned")
	assert.Equal(t, []string{"2026-03-12 20.5 21.1", "2026-04-20 20 20", "2026-05-21 22.5 22"}, func() (out []string) {
		for _, m := range b.celsius.marks {
			if !math.IsNaN(m.to) {
				day := map[float64]string{10: "2026-03-12", 49: "2026-04-20", 80: "2026-05-21"}[m.X]
				out = append(out, fmt.Sprintf("%s %g %g", day, m.Y, m.to))
			}
		}
		return out
	}())
}

// Every developer of every film is named beside a mark of it, on narrow pages too.
func TestLogNamesDevelopers(t *testing.T) {
	for _, w := range []vg.Length{84, 180} {
		fig, err := Log(plottest.Logged(t), figure.Options{Width: w * vg.Millimeter})
		require.NoError(t, err)
		plottest.RequireReadable(t, fig)
		count := map[string]int{}
		for _, box := range plottest.Texts(t, fig) {
			count[box.Text]++
		}
		for _, want := range []string{"2 Mar 2026", "Brinewater 1+19", "Brinewater 1+39", "Ashlar 1+9", "Ashlar 1+31", "Larkfield 125, minutes developed", "Tern 400, minutes developed"} {
			assert.Equal(t, 1, count[want], "%s at %g mm", want, float64(w))
		}
	}
}

func TestLogRefused(t *testing.T) {
	_, err := Log(logbook.New(nil, nil), figure.Options{})
	assert.EqualError(t, err, "no development to draw")
	_, err = Log(plottest.Logged(t), figure.Options{Height: 60 * vg.Millimeter})
	assert.EqualError(t, err, "the figure leaves no room for its data: make it wider or higher")
	var many []logbook.Entry
	for i := range 40 {
		spec := plottest.Demo(t, "tern-ashlar").Spec()
		spec.Film.Name = fmt.Sprintf("Tern %d", i)
		spec.Done = []sensito.Done{{Date: "2026-04-20", Minutes: 9}}
		trial, err := sensito.NewTrial(spec)
		require.NoError(t, err)
		many = append(many, logbook.Entry{File: "tern.toml", Trial: trial})
	}
	_, err = Log(logbook.New(many, nil), figure.Options{})
	assert.ErrorContains(t, err, "40 films need a figure")
	// A log of one day has an axis.
	one, err := Log(logbook.New(many[:1], nil), figure.Options{})
	require.NoError(t, err)
	plottest.RequireReadable(t, one)
}
