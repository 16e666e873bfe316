package picture_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/curve"
	"sensito/sensito/internal/simulated"
	"sensito/sensito/paper"
	"sensito/sensito/picture"
	"sensito/sensito/picture/lighttable"
)

// The whole way of a paper: its strip and a grey scale whose certificate errs lie in one picture,
// under a black lid or a white one, whose light comes back as that of a light table comes through.
// Its quantities are those of the paper within their intervals, and black is as close as the
// scale is known.
func TestPaperThroughGreyScale(t *testing.T) {
	var wedge []sensito.LogExposure
	for k := range 21 {
		wedge = append(wedge, sensito.LogExposure(-0.42+0.10*float64(k)))
	}
	exposed, err := sensito.NewRelative(wedge)
	require.NoError(t, err)
	scale := lighttable.Even(0.05, 0.10, 22)
	for seed, c := range []struct {
		name   string
		shape  int // of simulated.PaperShapes
		masked bool
		encode func(float64) float64
		bits   int
	}{
		{"black lid, 16 bits", 4, true, nil, 16},
		{"white lid, gamma, 8 bits", 0, false, lighttable.Power(1 / 2.2), 8},
		{"white lid, sRGB, 16 bits", 2, false, lighttable.SRGB, 16},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := rand.New(rand.NewPCG(uint64(seed), 6846))
			slate := simulated.PaperShapes[c.shape].Of(1.05)
			var strip []float64 // from white to black
			for _, h := range wedge {
				strip = append(strip, slate.Density(float64(h)))
			}
			scene := lighttable.Beside(strip, scale).WithPlaces()
			scene.Masked, scene.Rows[0].Base = c.masked, slate.White
			for i := range scene.Rows { // paper has no grain that a scanner sees
				scene.Rows[i].Grain = 2
			}
			device := lighttable.Flatbed(finely)
			device.Encode, device.Bits = c.encode, c.bits
			rows := pictureOf(t, scene, device, uint64(40+seed), 0, 1)

			told := make([]float64, len(scale))
			by := 1 + 0.005*r.NormFloat64()
			for i, d := range scale {
				told[i] = math.Max(0, d*by+0.01*r.NormFloat64())
			}
			q := rows[1].calibrating(told, "")
			q.Tablet.Geometry, q.Tablet.MadeOf = picture.Reflection, "ink"
			k, w, err := picture.Calibrate(q)
			require.NoError(t, err)
			assert.False(t, coded(w, "tablet_not_silver"), "%v", w)

			white, err := picture.PatchAt(rows[0].im, rows[0].plane, scene.Pixel(scene.Fog, finely), 20)
			require.NoError(t, err)
			white.Step = len(strip) + 1
			rows[0].patches = append(rows[0].patches, white)
			got, _ := rows[0].read(t, k, true)

			s := sensito.StripSpec{Grade: "2", Picture: "slate.tif", Calibration: k.Name}
			for i, d := range got {
				v := sensito.Density(math.Round(1000*d.Value) / 1000)
				if i == len(strip) {
					s.BaseFog = []sensito.Density{v}
					continue
				}
				// Beside the last step lies white paper under a white lid.
				require.True(t, !math.IsNaN(d.Value) || i == len(strip)-1 && !c.masked, "step %d: %s", d.Step, d.Why)
				s.Density = append(s.Density, v)
			}
			trial, err := sensito.NewTrial(sensito.TrialSpec{Material: sensito.PaperMaterial, Film: sensito.Film{Name: "Slate"}, Exposures: exposed,
				Calibrations: []sensito.Calibration{{Name: k.Name, Repeatability: 0.006, Covariance: k.Covariance(true)}}, Strips: []sensito.StripSpec{s}})
			require.NoError(t, err)
			p, err := paper.Measure(trial, curve.FitOptions{})
			require.NoError(t, err)
			m := p.Strips[0]
			require.True(t, m.WhiteReached && m.BlackReached, "%v", m.Warnings)
			within := func(name string, value, sd, truth, most float64) {
				t.Logf("%-11s %.4f ± %.4f, truly %.4f", name, value, sd, truth)
				assert.InDelta(t, truth, value, 3*sd, name)
				assert.Less(t, sd, most, name)
			}
			within("white", float64(m.MinDensity.Value), float64(m.MinDensity.StdErr), slate.White, 0.015)
			within("black", float64(m.MaxDensity.Value), float64(m.MaxDensity.StdErr), slate.Black, 0.03)
			within("range", float64(m.LogRange.Value), float64(m.LogRange.StdErr), slate.LogRange, 0.04)
			within("speed point", float64(m.SpeedPoint.Value), float64(m.SpeedPoint.StdErr), slate.SpeedPoint(), 0.015)
			assert.Greater(t, float64(m.MaxDensity.StdErr), 0.8*picture.ErrorOf(k.Covariance(true), slate.Black), "of the calibration too")
			assert.True(t, m.Pictured())
		})
	}
}
