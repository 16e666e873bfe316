package camera_test

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sensito/sensito"
	"sensito/sensito/camera"
	"sensito/sensito/scene"
)

func TestMeterEquations(t *testing.T) {
	k := sensito.MeterConstants{}
	for _, index := range []sensito.Speed{25, 100, 400} {
		t.Run("EX-1, exposure meter standard worked through, 1S", func(t *testing.T) {
			e := camera.EVOf(16, sensito.Seconds(1/index))
			assert.InEpsilon(t, 3200, e.Luminance(index, k), 1e-12)
		})
		t.Run("EX-2, DER", func(t *testing.T) {
			e := camera.EVOf(16, sensito.Seconds(1/index))
			assert.InEpsilon(t, 64000, e.Illuminance(index, 0), 1e-12)
		})
	}
	t.Run("EX-3, DER", func(t *testing.T) {
		assert.InEpsilon(t, 0.125, camera.EV(0).Luminance(100, k), 1e-12)
		assert.InEpsilon(t, 2.5, camera.EV(0).Illuminance(100, 250), 1e-12)
	})
	// The mid tone's reflectance is what luminance and illuminance of one EV make.
	t.Run("EX-11, Manual of Photography, 1S", func(t *testing.T) {
		r := camera.EV(7).Luminance(100, sensito.MeterConstants{K: 3.64}) / camera.EV(7).Illuminance(100, 25.6)
		assert.InDelta(t, 0.1422, r, 0.00005)
	})
	t.Run("EX-12, DER", func(t *testing.T) {
		r := math.Pi * camera.EV(7).Luminance(100, k) / camera.EV(7).Illuminance(100, 0)
		assert.InDelta(t, 0.157, r, 0.001)
	})
}

func TestParseSpotReading(t *testing.T) {
	for text, want := range map[string]struct {
		ev, zone float64
		written  string
	}{
		"8@III":            {8, 3, "8@III"},
		"14@VIII":          {14, 8, "14@VIII"},
		" 10.3 @ 3.5 ":     {10.3, 3.5, "10.3@III.5"},
		"10 1/3@III.5":     {10 + 1./3, 3.5, "10 1/3@III.5"},
		"10.33@iii 1/2":    {10 + 1./3, 3.5, "10 1/3@III.5"},
		"10,67@3,5":        {10 + 2./3, 3.5, "10 2/3@III.5"},
		"-2 1/3@0":         {-2 - 1./3, 0, "-2 1/3@0"},
		"-1/3@X":           {-1. / 3, 10, "-1/3@X"},
		"-0@IX 2/3":        {0, 9 + 2./3, "0@IX 2/3"},
		"1/2@1/3":          {0.5, 1. / 3, "0.5@1/3"},
		"+12.126@0.25":     {12.13, 0.25, "12.13@0.25"},
		"25@10":            {25, 10, "25@X"},
		"8.3333333333@4,0": {8 + 1./3, 4, "8 1/3@IV"},
	} {
		p, err := camera.ParseSpotReading(text)
		require.NoError(t, err, text)
		assert.InDelta(t, want.ev, float64(p.EV), 1e-12, text)
		assert.InDelta(t, want.zone, float64(p.Zone), 1e-12, text)
		assert.Equal(t, want.written, p.String(), text)
	}
	const like = " is not a meter reading on a zone, like 8@III or 10 1/3@VIII"
	for text, want := range map[string]string{
		"":           `""` + like,
		"8":          `"8"` + like,
		"@III":       `"@III"` + like,
		"8e1@III":    `"8e1@III"` + like,
		"10 4/3@III": `"10 4/3@III"` + like,
		"10 1/0@III": `"10 1/0@III"` + like,
		"nan@III":    `"nan@III"` + like,
		"8@":         `"8@": "" is not a zone from 0 to X, like III, III.5 or 3`,
		"8@IIII":     `"8@IIII": "IIII" is not a zone from 0 to X, like III, III.5 or 3`,
		"8@I0":       `"8@I0": "I0" is not a zone from 0 to X, like III, III.5 or 3`,
		"8@XI":       `"8@XI": "XI" is not a zone from 0 to X, like III, III.5 or 3`,
		"8@3@4":      `"8@3@4": "3@4" is not a zone from 0 to X, like III, III.5 or 3`,
		"8@11":       `"8@11": zone 11 is outside 0 to X`,
		"8@X.5":      `"8@X.5": zone X.5 is outside 0 to X`,
		"8@-1":       `"8@-1": zone -1 is outside 0 to X`,
		"30@III":     `"30@III": EV 30 is outside -10 to 25`,
		"-11@III":    `"-11@III": EV -11 is outside -10 to 25`,
	} {
		p, err := camera.ParseSpotReading(text)
		assert.EqualError(t, err, want)
		assert.Zero(t, p)
	}
}

func metering(shadow, highlight string, index sensito.Speed) camera.Metering {
	s, errShadow := camera.ParseSpotReading(shadow)
	h, errHighlight := camera.ParseSpotReading(highlight)
	if errShadow != nil || errHighlight != nil {
		panic("bad placement in a test")
	}
	return camera.Metering{Shadow: s, Highlight: h, Index: index}
}

func TestMeteringN(t *testing.T) {
	for _, c := range []struct {
		source, shadow, highlight string
		falls                     camera.Zone
		n, stops                  float64
	}{
		{"6e, Kachel 1995: N-1 brings zone IX down to VIII", "8@III", "14@VIII", 9, -1, 8},
		{"6e, Kachel 1995: N+1 carries zone VII to VIII", "8@III", "12@VIII", 7, 1, 6},
		{"6g, tutorial: five stops from III to VIII are normal", "8@III", "13@VIII", 8, 0, 7},
		{"6h: seven stops from I to VIII are normal", "5@I", "12@VIII", 8, 0, 7},
		{"the shadow's zone moves the highlight along", "8@IV", "14@VIII", 10, -2, 9},
		{"6f: from VI to VII is N+1 as well", "8@III", "11@VII", 6, 1, 6},
		{"half zones and thirds", "8 1/3@II.5", "13@VIII", 7 + 1./6, 5. / 6, 7 - 5./6},
		{"beyond X", "2@III", "12@VIII", 13, -5, 12},
	} {
		t.Run(c.source, func(t *testing.T) {
			m := metering(c.shadow, c.highlight, 0)
			assert.InDelta(t, float64(c.falls), float64(m.FallsOn()), 1e-12)
			assert.InDelta(t, c.n, m.N(), 1e-12)
			stops, err := m.Range()
			require.NoError(t, err)
			assert.InDelta(t, c.stops, stops, 1e-12)
		})
	}
}

func TestMeteringFaults(t *testing.T) {
	for _, c := range []struct {
		m    camera.Metering
		want string
	}{
		{metering("8@III", "8@VIII", 0), "the highlight at EV 8 reads no brighter than the shadow at EV 8"},
		{metering("12@III", "8@VIII", 0), "the highlight at EV 8 reads no brighter than the shadow at EV 12"},
		{metering("8@VIII", "12@III", 0), "the highlight is wanted on zone III, no lighter than the shadow on zone VIII"},
		{metering("8@III", "12@VIII", -100), "meter index -100 is outside 0.01 to 1e+06"},
		{metering("-5@III", "25@VIII", 0), "the highlight falls on zone 33 and is wanted on VIII, N-25: a scene range of 32 stops is outside 1 to 20"},
		{metering("8@0", "8.5@VIII", 0), "the highlight falls on zone 0.5 and is wanted on VIII, N+7.5: a scene range of -0.5 stops is outside 1 to 20"},
		{camera.Metering{Shadow: camera.SpotReading{EV: camera.EV(math.NaN()), Zone: 3}, Highlight: camera.SpotReading{EV: 8, Zone: 12}},
			"shadow: EV NaN is outside -10 to 25\nhighlight: zone 12 is outside 0 to X"},
	} {
		stops, err := c.m.Range()
		assert.EqualError(t, err, c.want)
		assert.Zero(t, stops)
	}
}

func TestMeteringExposure(t *testing.T) {
	// A reading set on the camera as it is makes zone V, so III takes two stops
	// less exposure: EV two higher.
	m := metering("8@III", "13@VIII", 0)
	assert.InDelta(t, 10, float64(m.Exposure(100)), 1e-12)
	assert.InDelta(t, 11, float64(m.Exposure(200)), 1e-12)
	assert.InDelta(t, 9, float64(m.Exposure(50)), 1e-12)
	assert.InDelta(t, 6, float64(metering("8@VII", "9@VIII", 0).Exposure(100)), 1e-12)
	// The index that the meter had does not matter: the same luminance reads a
	// stop higher at 200.
	assert.InDelta(t, float64(m.Exposure(64)), float64(metering("9@III", "14@VIII", 200).Exposure(64)), 1e-12)
}

// A shadow placed on zone I and exposed at the exposure index gets the exposure
// of the speed point: 8.125/EI at the metered tone (ISO 2720:1974), 1/16 of it
// four stops below (DER).
func TestMeteringMeetsSpeedPoint(t *testing.T) {
	const h = 0.0064 // speed point of an exactly rated film of speed 125, lx s (ISO-1)
	meter := sensito.MeterConstants{}
	ei := meter.Index(sensito.LogExposure(math.Log10(h)), scene.DefaultShadowStops)
	m := metering("6@I", "12@VII", 100)
	set := m.Exposure(ei)
	// Hg = q L t / N^2 and 2^EV = N^2 / t.
	got := 0.65 * camera.EV(6).Luminance(100, meter) / math.Exp2(float64(set))
	assert.InEpsilon(t, h, got, 1e-12)
}

func TestSpotReadingRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := camera.SpotReading{
			EV:   camera.EV(rapid.Float64Range(-10, 25).Draw(t, "ev")),
			Zone: camera.Zone(rapid.Float64Range(0, 10).Draw(t, "zone")),
		}
		read, err := camera.ParseSpotReading(p.String())
		require.NoError(t, err)
		const rounding = 1./3 - 0.325 // what rounds to .33 is a third
		assert.InDelta(t, float64(p.EV), float64(read.EV), rounding+1e-12)
		assert.InDelta(t, float64(p.Zone), float64(read.Zone), rounding+1e-12)
		assert.Equal(t, p.String(), read.String())
	})
}

func FuzzSpotReading(f *testing.F) {
	for _, seed := range []string{"8@III", "10 1/3@VIII.5", "-2,67@0", "1/2@1/2", "8@XI", "@", "8@3@4", "1e9@I"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		p, err := camera.ParseSpotReading(text)
		if err != nil {
			require.Zero(t, p)
			require.True(t, strings.HasPrefix(err.Error(), `"`), "the error names the text: %v", err)
			return
		}
		again, err := camera.ParseSpotReading(p.String())
		require.NoError(t, err)
		require.Equal(t, p, again)
		_, err = camera.Metering{Shadow: p, Highlight: camera.SpotReading{EV: p.EV + 1, Zone: 10}}.Range()
		if p.Zone < 10 && p.EV <= 24 && err != nil {
			require.ErrorContains(t, err, "outside 1 to 20") // wanted too far from where it falls
		}
	})
}

func TestCameraSettings(t *testing.T) {
	// The additive system: EV 0 is f/1 at 1 s, one more for each halving
	// (APEX, ASA PH2.5-1960).
	assert.InDelta(t, 0, float64(camera.EVOf(1, 1)), 1e-12)
	assert.InDelta(t, 13, float64(camera.EVOf(11, 1./64)), 1e-12)
	assert.Equal(t, "1/60 s", camera.EV(13).Shutter(11).Nominal().String())
	assert.Equal(t, "4 min 16 s", camera.EV(4).Shutter(64).String())
	assert.Equal(t, "f/11", camera.EV(13).Aperture(1./60).Nominal().String())
	rapid.Check(t, func(t *rapid.T) {
		e := camera.EV(rapid.Float64Range(-10, 25).Draw(t, "ev"))
		n := sensito.FNumber(rapid.Float64Range(0.5, 1000).Draw(t, "f-number"))
		assert.InDelta(t, float64(e), float64(camera.EVOf(n, e.Shutter(n))), 1e-9)
		assert.InEpsilon(t, float64(n.Exact()), float64(e.Aperture(e.Shutter(n))), 1e-9)
	})
}
