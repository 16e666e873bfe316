package development_test

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/curve"
	"sensito/sensito/development"
	"sensito/sensito/internal/blind"
	"sensito/sensito/internal/simulated"
	"sensito/sensito/scene"
)

// familyOfGradients returns a trial without noise or toe whose strips are
// straight lines of the given slopes.
func familyOfGradients(t testing.TB, minutes, gradients []float64) *sensito.Trial {
	e, err := sensito.NewContact(10, 1, sensito.EvenWedge(0, 0.10, 41))
	require.NoError(t, err)
	spec := sensito.TrialSpec{Film: sensito.Film{Name: "Larkfield 125"}, Exposures: e}
	for i, g := range gradients {
		s := sensito.StripSpec{Minutes: sensito.Minutes(minutes[i]), BaseFog: []sensito.Density{0.10}}
		for _, h := range e.LogH() {
			s.Density = append(s.Density, sensito.Density(0.10+g*math.Max(0, float64(h)+2.55)))
		}
		spec.Strips = append(spec.Strips, s)
	}
	trial, err := sensito.NewTrial(spec)
	require.NoError(t, err)
	return trial
}

// Two strips by the two-times method (kinetics_two_times_checks.csv, DER after
// Hardy and Perrin): the same limit and rate from strips as from numbers.
func TestTwoStrips(t *testing.T) {
	for _, row := range simulated.ReadReference(t, "kinetics_two_times_checks.csv") {
		g1, g2 := simulated.Number(t, row["g1"]), simulated.Number(t, row["g2"])
		if g2 > 1.3 {
			continue // steeper than the densities a trial may have
		}
		t.Run(fmt.Sprintf("%v at %v", g1, row["t1_min"]), func(t *testing.T) {
			f, err := development.NewFamily(familyOfGradients(t,
				[]float64{simulated.Number(t, row["t1_min"]), simulated.Number(t, row["t2_min"])}, []float64{g1, g2}), curve.MeasureOptions{})
			require.NoError(t, err)
			assert.Equal(t, "two times", f.Model)
			assert.InEpsilon(t, simulated.Number(t, row["k_per_min"]), f.Rate.Value, 0.01)
			assert.InEpsilon(t, simulated.Number(t, row["gamma_inf"]), f.Limit.Value, 0.01)
			assert.Contains(t, blind.Codes(f.Warnings), "two_strips")
		})
	}
}

// Times for N-2 to N+2 from first-order kinetics, for the constants of H. E.
// Ives, Airplane Photography, 1920, and one made-up set: the aim 1.20 over the
// scene's range without flare (n_development_first_order_checks.csv, DER). The
// contrast is that of a straight line, so every definition agrees.
func TestDevelopmentForN(t *testing.T) {
	sets := map[string][]map[string]string{}
	for _, row := range simulated.ReadReference(t, "n_development_first_order_checks.csv") {
		sets[row["set"]] = append(sets[row["set"]], row)
	}
	for name, rows := range sets {
		t.Run(name, func(t *testing.T) {
			limit, rate := simulated.Number(t, rows[0]["gamma_inf"]), simulated.Number(t, rows[0]["k_per_min"])
			var minutes, gradients []float64
			for _, share := range []float64{0.2, 0.3, 0.42, 0.55, 0.68} {
				minutes = append(minutes, -math.Log1p(-share)/rate)
				gradients = append(gradients, limit*share)
			}
			f, err := development.NewFamily(familyOfGradients(t, minutes, gradients), curve.MeasureOptions{})
			require.NoError(t, err)
			for _, row := range rows {
				n := simulated.Number(t, row["n"])
				if math.Abs(n) > 2 {
					continue
				}
				p, err := scene.For(f, scene.Scene{Stops: 7 - n, DensityRange: 1.20, Flare: sensito.Flare{Kind: sensito.FlareNone}})
				if row["t_min"] == "" || simulated.Number(t, row["G"]) >= 0.95*limit {
					var u *sensito.Unanswerable
					require.ErrorAs(t, err, &u, "N%+g", n)
					continue
				}
				require.NoError(t, err, "N%+g", n)
				assert.InEpsilon(t, simulated.Number(t, row["t_min"]), float64(p.Minutes.Value), 0.002, "N%+g", n)
				assert.InEpsilon(t, simulated.Number(t, row["G"]), p.AverageGradient, 1e-4)
				assert.Equal(t, n, p.N)
			}
		})
	}
}
