package cameratest_test

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/cameratest"
	"sensito/sensito/curve"
	"sensito/sensito/development"
	"sensito/sensito/internal/blind"
	"sensito/sensito/internal/simulated"
)

// The veil that hollow and field show is that with which they were exposed:
// field L (1 + v), hollow v L. Its interval counts the two readings and the
// curve, on films that are not of the fitted form too.
func TestBlindVeil(t *testing.T) {
	t.Parallel()
	var got blind.Tally
	for i := range 42 * blind.Effort(t) {
		r := rand.New(rand.NewPCG(uint64(i), 77))
		d, b, family := blind.Family(t, simulated.Reaching, r, i%len(simulated.ClassNames))
		v := math.Exp(simulated.Between(r, math.Log(0.005), math.Log(0.05)))
		minutes := simulated.Between(r, d.Minutes[0], d.Minutes[4])
		f := d.At(minutes)
		field := f.SpeedPoint() + simulated.Between(r, 1.6, 1.8) + math.Log10(1+v)
		hollow := field + math.Log10(v/(1+v))
		if f.Net(hollow) < 0.05 {
			continue
		}
		read := func(x float64) sensito.Density {
			return sensito.Density(math.Round(100*(f.Density(x)+b.Noise*r.NormFloat64())) / 100)
		}
		m, err := cameratest.MeasureVeil(family, cameratest.VeilTest{Minutes: sensito.Minutes(minutes), Hollow: read(hollow), Field: read(field)})
		var u *sensito.Unanswerable
		if errors.As(err, &u) { // the field lies beyond what the strips share
			got.Missing++
			continue
		}
		require.NoError(t, err)
		blind.Judge(&got, &m.Veil, v, blind.InShare, math.NaN())
	}
	t.Logf("%d tests: bias %+.3f, rms %.3f, covered %.1f", got.N, got.Bias(), got.RMS(), 100*got.Coverage())
	assert.Greater(t, got.N, 20)
	assert.Less(t, math.Abs(got.Bias()), 0.05)
	assert.InDelta(t, 0.95, got.Coverage(), math.Max(0.04, 2.5*math.Sqrt(0.95*0.05/float64(got.N))))
}

func TestVeilRefuses(t *testing.T) {
	f, err := development.NewFamily(simulated.ModelTrial(t, 4, 6, 9), curve.MeasureOptions{})
	require.NoError(t, err)
	for _, c := range []struct {
		test cameratest.VeilTest
		want string
	}{
		{cameratest.VeilTest{Minutes: 6, Hollow: 1.2, Field: 0.3}, "the field, net 0.18, is no denser than the hollow, net 1.08"},
		{cameratest.VeilTest{Minutes: 6, Hollow: 0.12, Field: 1.3}, "the hollow has net density 0.00, where the curve hardly tells its exposure"},
		{cameratest.VeilTest{Minutes: 6, Hollow: 0.3, Field: 2.9}, "net density 2.78 is beyond the curve of 6:00"},
		{cameratest.VeilTest{Minutes: 6, Hollow: -1, Field: 1.3}, "density of the hollow: -1 is outside 0.01 to 6"},
		{cameratest.VeilTest{Minutes: 0, Hollow: 0.3, Field: 1.3}, "minutes: 0 min is outside"},
	} {
		_, err := cameratest.MeasureVeil(f, c.test)
		assert.ErrorContains(t, err, c.want)
	}
	// A base of its own moves both.
	own := sensito.Density(0.16)
	with, err := cameratest.MeasureVeil(f, cameratest.VeilTest{Minutes: 6, Hollow: 0.34, Field: 1.24, BaseFog: &own})
	require.NoError(t, err)
	without, err := cameratest.MeasureVeil(f, cameratest.VeilTest{Minutes: 6, Hollow: 0.30, Field: 1.20})
	require.NoError(t, err)
	assert.InEpsilon(t, without.Veil.Value, with.Veil.Value, 0.02)
}
