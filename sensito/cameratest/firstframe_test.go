package cameratest_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito/cameratest"
	"sensito/sensito/internal/blind"
	"sensito/sensito/internal/simulated"
)

// Observers who tell net densities from 0.03 to 0.10 look at frames of films of all forms:
// the index is right on average, and its interval covers.
func TestBlindFirstFrame(t *testing.T) {
	t.Parallel()
	for _, step := range []float64{1. / 3, 0.5, 1} {
		var got blind.Tally
		for i := range 252 * blind.Effort(t) {
			r := rand.New(rand.NewPCG(uint64(i), 78))
			f := simulated.Ordinary.Film(r, i%len(simulated.ClassNames))
			told := math.Exp(simulated.Between(r, math.Log(float64(cameratest.SeenLow)), math.Log(float64(cameratest.SeenHigh))))
			point := f.SpeedPoint()
			// Metered at 100, zone I of an index of 100 2^off lands on the speed point.
			off := simulated.Between(r, -1, 1)
			metered := point + (4+off)*math.Log10(2)
			first := 1.0
			for n := 0.0; n > -12; n -= step {
				if f.Net(metered+(n+0.1*r.NormFloat64())*math.Log10(2)) < told {
					break
				}
				first = n
			}
			require.LessOrEqual(t, first, 0.0)
			m, err := cameratest.IndexByFirstFrame(cameratest.FirstFrame{MeterIndex: 100, Stops: first, Step: step, ShadowStops: 4})
			require.NoError(t, err)
			blind.Judge(&got, &m.ExposureIndex, 100*math.Exp2(off), blind.InStops, math.NaN())
		}
		t.Logf("steps of %.2f: n %d, bias %+.3f, rms %.3f stops, cover %.1f", step, got.N, got.Bias(), got.RMS(), 100*got.Coverage())
		assert.LessOrEqual(t, math.Abs(got.Bias()), 0.1)
		assert.InDelta(t, 0.96, got.Coverage(), 0.035)
	}
}

func TestFirstFrame(t *testing.T) {
	// Half a step darker than zone I by 0.45 stop: there what is just told lies at the index itself.
	m, err := cameratest.IndexByFirstFrame(cameratest.FirstFrame{MeterIndex: 400, Stops: -4.2, Step: 0.5, ShadowStops: 4})
	require.NoError(t, err)
	assert.InEpsilon(t, 400, float64(m.ExposureIndex.Value), 1e-9)
	assert.InDelta(t, -4, m.SpeedPoint.Value, 1e-12)
	low, high := m.ExposureIndex.Interval(0.95)
	assert.InDelta(t, 1.96*math.Sqrt(0.3*0.3+0.25/12+0.01), math.Log2(float64(high/low))/2, 1e-3)
	m, err = cameratest.IndexByFirstFrame(cameratest.FirstFrame{MeterIndex: 400, Stops: -5.2, Step: 0.5, ShadowStops: 4})
	require.NoError(t, err)
	assert.InEpsilon(t, 800, float64(m.ExposureIndex.Value), 1e-9, "a frame a stop darker is seen on faster film")
	for _, c := range []struct {
		test cameratest.FirstFrame
		want string
	}{
		{cameratest.FirstFrame{MeterIndex: 0, Stops: -4, Step: 0.5, ShadowStops: 4}, "meter index 0 is outside"},
		{cameratest.FirstFrame{MeterIndex: 400, Stops: 4, Step: 0.5, ShadowStops: 4}, "first frame: 4 stops is outside -12 to 0"},
		{cameratest.FirstFrame{MeterIndex: 400, Stops: -4, Step: 3, ShadowStops: 4}, "step from frame to frame: 3 stops is outside 0.1 to 2"},
		{cameratest.FirstFrame{MeterIndex: 400, Stops: -4, Step: 0.5}, "shadow stops: 0 is outside 1 to 10"},
	} {
		_, err := cameratest.IndexByFirstFrame(c.test)
		require.ErrorContains(t, err, c.want)
	}
}
