package control_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/control"
	"sensito/sensito/control/chart"
	"sensito/sensito/curve"
	"sensito/sensito/internal/simulated"
)

// The control strip printed in NAVEDTRA 14209, p. 10-42 (DN-5, seen in one place): base plus
// fog 0.12, speed-point step 0.23, low 0.60, high 1.20. Three readings are no
// curve, and the tool says so instead of drawing one.
func TestNavyControlStrip(t *testing.T) {
	const fog = sensito.Density(0.12)
	density := make([]sensito.Density, 21)
	for i := range density {
		density[i] = sensito.Density(math.NaN())
	}
	density[3], density[5], density[16] = 0.23, 0.60, 1.20
	e, err := sensito.NewContact(1, 1, sensito.EvenWedge(3.05, -0.15, 21))
	require.NoError(t, err)
	_, err = curve.Measure(simulated.OneStrip(t, e, sensito.StripSpec{Minutes: 8, Density: density, BaseFog: []sensito.Density{fog}}), curve.MeasureOptions{})
	var u *sensito.Unanswerable
	require.ErrorAs(t, err, &u)
	assert.Equal(t, "strip 1 has 3 usable readings; a curve needs 6", u.Reason)

	// As the aim of a log its patches lie 0.60 apart, the low one a net 0.48: a
	// strip darker by the fog alone is of the same contrast, one that gains 0.06
	// between the patches is not.
	aim := control.Patches{BaseFog: fog, Low: 0.60, High: 1.20}
	strips := []control.Strip{{Date: "2026-03-02", Patches: aim}, {Date: "2026-03-03", Patches: aim}}
	fogged, steep := aim, aim
	fogged.BaseFog, fogged.Low, fogged.High = 0.16, 0.64, 1.24
	steep.High = 1.26
	for date, patches := range map[string]control.Patches{"2026-03-04": fogged, "2026-03-05": steep} {
		log, err := control.NewLog(control.LogSpec{Aim: &aim, Tolerances: control.Tolerances{BaseFog: 0.03, Low: 0.03, Difference: 0.03},
			Strips: append(strips[:2:2], control.Strip{Date: date, Patches: patches})})
		require.NoError(t, err)
		c, err := log.Evaluate(control.Options{Kinds: []chart.Kind{chart.KindIndividuals}})
		require.NoError(t, err)
		assert.InDelta(t, 0.60, c.Center(control.QuantityDifference), 1e-12)
		var signalling []string
		for _, ch := range c.Charts {
			if len(ch.Signals) > 0 {
				signalling = append(signalling, ch.Quantity)
			}
		}
		if date == "2026-03-04" {
			assert.Equal(t, []string{control.QuantityBaseFog, control.QuantityLow}, signalling)
		} else {
			assert.Equal(t, []string{control.QuantityDifference}, signalling)
		}
	}
}
