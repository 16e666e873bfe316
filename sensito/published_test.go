package sensito_test

import (
	"math"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/internal/simulated"
)

// Checks against published numbers, each under its source. The marks are those
// of the source notes: 2S seen in two places, 1S in one, DER arithmetic from a
// stated definition, MEM from memory.

func TestISOSpeed(t *testing.T) {
	for _, c := range []struct {
		source  string
		h       float64 // lux seconds
		speed   float64
		nominal sensito.Speed
		degrees int
	}{
		{"ISO-1, speed and camera exposure, 1S", 0.0064, 125, 125, 22},
		{"ISO-2, ISO 6:1993 pairs, 2S", 0.008, 100, 100, 21},
		{"ISO-3, DER", 0.010, 80, 80, 20},
		{"ISO-4, DER", 0.002, 400, 400, 27},
		{"ISO-5, DER", 0.016, 50, 50, 18},
		{"ISO-6, DER", math.Pow(10, -2.14), 0.8 / math.Pow(10, -2.14), 100, 21},
		{"ISO-6, DER", math.Pow(10, -2.05), 0.8 / math.Pow(10, -2.05), 100, 21},
		{"ISO-7, DER", math.Pow(10, -2.15), 0.8 / math.Pow(10, -2.15), 125, 22},
		{"ISO-7, DER", math.Pow(10, -2.04), 0.8 / math.Pow(10, -2.04), 80, 20},
		{"ISO-8, DER", 0.8 / 141.3, 141.3, 160, 23},
		{"ISO-8, DER", 0.8 / 141.2, 141.2, 125, 22},
		{"ISO-9, DER", 0.8 / 112.3, 112.3, 125, 22},
		{"ISO-9, DER", 0.8 / 112.1, 112.1, 100, 21},
	} {
		t.Run(c.source, func(t *testing.T) {
			h := sensito.LogExposure(math.Log10(c.h))
			s := sensito.SpeedAt(h)
			assert.InEpsilon(t, c.speed, float64(s), 1e-9)
			assert.InDelta(t, float64(h), float64(sensito.SpeedPointOf(s)), 1e-12)
			nominal, degrees := s.Standard()
			assert.Equal(t, c.nominal, nominal)
			assert.Equal(t, c.degrees, degrees)
		})
	}
}

// Every two-decimal log H of the derived step table of ISO 6:1993 (DER).
func TestISOSpeedSteps(t *testing.T) {
	for _, row := range simulated.ReadReference(t, "iso_speed_steps.csv") {
		for h := simulated.Number(t, row["logHm_from"]); h <= simulated.Number(t, row["logHm_to"])+1e-9; h += 0.01 {
			nominal, degrees := sensito.SpeedAt(sensito.LogExposure(h)).Standard()
			assert.InDelta(t, simulated.Number(t, row["S_nominal"]), float64(nominal), 1e-9, "log H %.2f", h)
			assert.Equal(t, row["S_degree"], strconv.Itoa(degrees), "log H %.2f", h)
		}
	}
}

// Exposure metering, restatements of ISO 2720:1974.
func TestMetering(t *testing.T) {
	var meter sensito.MeterConstants
	t.Run("EX-4, 1S", func(t *testing.T) {
		assert.InDelta(t, 0.065, meter.LogExposure(125).LuxSeconds(), 0.0005)
	})
	t.Run("EX-5, 1S", func(t *testing.T) {
		// Five stops more than metered, through a wedge of known densities.
		e, err := sensito.NewCamera(125, []float64{0, 5, -3}, meter)
		require.NoError(t, err)
		lamp := e.LogH()[1].LuxSeconds()
		assert.InDelta(t, 2.048, lamp, 0.04) // 8/S there, 8.125/S here
		c, err := sensito.NewContact(2.048, 1, []sensito.Density{1.50, 2.50, 2.70})
		require.NoError(t, err)
		for i, want := range []float64{0.06476, 0.006476, 0.004086} {
			assert.InEpsilon(t, want, c.LogH()[i].LuxSeconds(), 1e-4)
		}
	})
	t.Run("EX-7, 1S", func(t *testing.T) {
		m := sensito.MeterConstants{K: 8 / 0.65} // the source rounds to H = 8/S
		assert.InDelta(t, 79.2, float64(m.Index(sensito.SpeedPointOf(125), 1.20/0.30103)), 0.5)
	})
	t.Run("EX-9, DER", func(t *testing.T) {
		for _, s := range []sensito.Speed{100, 400} {
			assert.InDelta(t, 0.6348, float64(meter.Index(sensito.SpeedPointOf(s), 4)/s), 0.002)
		}
	})
	t.Run("EX-10, DER", func(t *testing.T) {
		below := meter.LogExposure(100).Sub(sensito.SpeedPointOf(100)).Stops()
		assert.InDelta(t, 3.344, below, 0.005)
		assert.InDelta(t, 1.66, 5-below, 0.005)
	})
	t.Run("ISO ratio, DER", func(t *testing.T) {
		assert.InEpsilon(t, 125, float64(meter.Index(sensito.SpeedPointOf(125), 3.344)), 0.001)
	})
	t.Run("zone exposures at S = 100, DER", func(t *testing.T) {
		stops := []float64{-5, -4, -3, -2, 0, 2, 3, 5}
		e, err := sensito.NewCamera(100, stops, meter)
		require.NoError(t, err)
		for i, want := range []float64{0.002539, 0.005078, 0.010156, 0.020313, 0.08125, 0.325, 0.65, 2.6} {
			assert.InEpsilon(t, want, e.LogH()[i].LuxSeconds(), 2e-4)
		}
	})
}

// Scene range and flare, section "design equation": Jones and Condit's mean.
func TestFlare(t *testing.T) {
	t.Run("FL-1, DER", func(t *testing.T) {
		assert.InDelta(t, 7.322, sensito.LogRange(math.Log10(160)).Stops(), 5e-4)
	})
	t.Run("FL-3, DER of the design equation", func(t *testing.T) {
		assert.InDelta(t, 0.583, 1.05/float64(sensito.Flare{}.Range(2.20)), 5e-4)
	})
	t.Run("FL-4, condenser, value MEM", func(t *testing.T) {
		assert.InDelta(t, 0.45, 0.80/float64(sensito.Flare{}.Range(2.20)), 0.006)
	})
	t.Run("FL-5, DER", func(t *testing.T) {
		l := sensito.LogRange(math.Log10(160))
		veil := sensito.Flare{Kind: sensito.FlareVeil, Value: 0.0096}
		assert.InDelta(t, 0.40, float64(l-veil.Range(l)), 0.002)
	})
	t.Run("FL-6, no flare, 1S", func(t *testing.T) {
		assert.InDelta(t, 0.57, 1.20/float64(sensito.Flare{Kind: sensito.FlareNone}.Range(2.10)), 0.005)
	})
}

// FL-5: the veil that takes 0.40 off 160:1 is 0.0096 of the brightest luminance
// and lifts the darkest 2.536 times.
func TestVeilOfLoss(t *testing.T) {
	l := sensito.LogRange(math.Log10(160))
	v := sensito.Flare{}.Veil(l)
	assert.InDelta(t, 0.0096, v, 0.0001)
	assert.InDelta(t, 2.536, (1./160+v)*160, 0.001)
	assert.InDelta(t, float64(l)-0.40, float64(sensito.Flare{Kind: sensito.FlareVeil, Value: v}.Range(l)), 1e-12)
	assert.Zero(t, sensito.Flare{Kind: sensito.FlareNone}.Veil(l))
	assert.Equal(t, 0.02, sensito.Flare{Kind: sensito.FlareVeil, Value: 0.02}.Veil(l))
}
