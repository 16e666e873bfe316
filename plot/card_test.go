package plot

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/plot/vg"

	"sensito/sensito"
)

func TestCardSaysWhatThePlansSay(t *testing.T) {
	c, err := family(t, demo(t, "tern-ashlar")).Card(sceneOf(0))
	require.NoError(t, err)
	fig, err := Card(c, Options{})
	require.NoError(t, err)
	b := fig.body.(*card)
	require.Len(t, b.table, 1+len(c.Rows))
	extrapolated, unreachable := 0, 0
	for i, row := range c.Rows {
		cells := b.table[i+1]
		assert.Equal(t, developmentName(row.N), cells[0])
		assert.Equal(t, fmt.Sprint(row.Stops), cells[1])
		if row.Plan == nil {
			unreachable++
			assert.Equal(t, []string{"–", "–", "–", "–"}, cells[2:])
			continue
		}
		want := planned(row.Plan.Minutes.Value)
		if row.Plan.Extrapolated {
			extrapolated++
			want += "*"
		}
		ei, _ := row.Plan.ExposureIndex.Value.Standard()
		assert.Equal(t, []string{want, fmt.Sprintf("%.0f", 60*float64(row.Plan.Minutes.StdErr)), fmt.Sprint(float64(ei)),
			fmt.Sprintf("%.2f", row.Plan.ContrastIndex.Value)}, cells[2:])
	}
	require.Positive(t, extrapolated)
	require.Positive(t, unreachable)

	var all []string
	for _, box := range texts(t, fig) {
		all = append(all, box.text)
	}
	text := strings.Join(all, "\n")
	for _, want := range []string{"Tern 400", "Ashlar 1+31", "20 °C", "intermittent agitation", "density range 1.05", "flare 0.40 log H",
		"* outside the tested times", "– no development time within reach", "verify on your own process", caution, furtherCaution} {
		assert.Contains(t, text, want)
	}
}

func TestDevelopmentNames(t *testing.T) {
	for n, want := range map[float64]string{-2: "N-2", -1.5: "N-1½", -0.5: "N-½", 0: "N", 0.5: "N+½", 1: "N+1"} {
		assert.Equal(t, want, developmentName(n))
	}
}

func TestAimLine(t *testing.T) {
	aim := sensito.Scene{DensityRange: 1.2, ShadowStops: 4}
	assert.Equal(t, "Aim: density range 1.20, flare 0.40 log H; darkest tone 4 stops below the metered exposure", aimLine(aim))
	aim.Flare = sensito.Flare{Kind: sensito.FlareVeil, Value: 0.01}
	assert.Contains(t, aimLine(aim), "veiling flare 1 %;")
	aim.Flare = sensito.Flare{Kind: sensito.FlareNone}
	assert.Contains(t, aimLine(aim), "no flare;")
}

// Nothing leaves the card, whatever its size and however long the names.
func TestCardHoldsItsText(t *testing.T) {
	trial := demo(t, "tern-ashlar")
	long := ignoring(t, trial)
	c, err := family(t, long).Card(sceneOf(0))
	require.NoError(t, err)
	for _, title := range []string{"", strings.Repeat("Tern 400 with a very long name ", 12), "Süd, Ærø & <Kø>"} {
		for _, size := range [][2]vg.Length{{0, 0}, {127, 76}, {105, 148}, {100, 70}, {210, 297}} {
			fig, err := Card(c, Options{Title: title, Width: size[0] * vg.Millimeter, Height: size[1] * vg.Millimeter})
			require.NoError(t, err)
			requireReadable(t, fig)
		}
	}
	_, err = Card(c, Options{Width: 60 * vg.Millimeter, Height: 60 * vg.Millimeter})
	assert.EqualError(t, err, "a card of 60 by 60 mm is too small to read: use 100 by 70 mm or more")
}
