package picture

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestNoTablet(t *testing.T) {
	b := newBench()
	_, _, err := Calibrate(Calibrating{Patches: b.patches(usual, random(8)), Image: b.image()})
	assert.ErrorIs(t, err, ErrNoTablet)
	assert.Equal(t, "a picture has no densities without a tablet in it: glare alone makes density 2 read 1.85: put one beside the strip", sentence(err))
	var none *Calibration
	_, _, err = none.Read(b.image(), 0, nil, nil, Frame{})
	assert.ErrorIs(t, err, ErrNoTablet)
	_, err = none.Anchored(nil)
	assert.ErrorIs(t, err, ErrNoTablet)
}

func TestTabletDefaults(t *testing.T) {
	got, err := NewTablet(Tablet{Density: usual})
	require.NoError(t, err)
	assert.Equal(t, Tablet{Density: usual, DensitySD: 0.02, ScaleSD: 0.02, Known: Nominal, Geometry: "diffuse", MadeOf: Silver}, got)
	got, err = NewTablet(certified(usual))
	require.NoError(t, err)
	assert.Equal(t, 0.01, got.DensitySD)
	assert.Equal(t, 0.005, got.ScaleSD)
}

func TestTabletRefused(t *testing.T) {
	for _, c := range []struct {
		tablet Tablet
		want   string
	}{
		{Tablet{Density: even(0, 0.3, 6)}, "tablet.density: has 6 steps; a calibration needs 7 to 200"},
		{Tablet{Density: even(0, 0.01, 201)}, "tablet.density: has 201 steps; a calibration needs 7 to 200"},
		{Tablet{Density: even(0.3, 1, 7)}, "tablet.density[7]: 6.3 is outside 0 to 6"},
		{Tablet{Density: []float64{0.1, 0.2, 0.2, 0.4, 0.5, 0.6, 0.7}}, "tablet.density: step 3 is 0.2, not above 0.2 of the step before: give them from the lightest on"},
		{Tablet{Density: usual, Known: "sure"}, `tablet.known: "sure" is not certificate or nominal`},
		{Tablet{Density: usual, DensitySD: 0.5}, "tablet.density_sd: 0.5 is outside 0.0001 to 0.2"},
		{Tablet{Density: usual, ScaleSD: -1}, "tablet.scale_sd: -1 is outside 0.0001 to 0.2"},
		{Tablet{Density: usual, Geometry: "specular"}, `tablet.geometry: "specular" is not diffuse or 45/0: film is judged by diffuse densities, paper by those of light at 45°`},
		{Tablet{Density: even(0.05, 0.5, 7), Geometry: Reflection}, "tablet.density[7]: 3.05 is outside 0 to 3"},
		{Tablet{Density: usual, MadeOf: "glass"}, `tablet.made_of: "glass" is not silver, dye, ink or metal`},
	} {
		_, err := NewTablet(c.tablet)
		assert.EqualError(t, err, c.want)
		_, _, err = Calibrate(Calibrating{Tablet: c.tablet})
		assert.EqualError(t, err, c.want)
	}
}

// A tablet that is not of silver leaves the scale open, and is told.
func TestCallier(t *testing.T) {
	b, r := newBench(), random(9)
	silver := b.calibrated(t, usual, certified(usual), r)
	told := certified(usual)
	told.MadeOf = "ink"
	ink, w, err := Calibrate(Calibrating{Tablet: told, Patches: b.patches(usual, r), Image: b.image()})
	require.NoError(t, err)
	assert.InDelta(t, callierSD*callierSD, ink.Fit.Covariance[1][1]-silver.Fit.Covariance[1][1], 0.2*callierSD*callierSD)
	require.Equal(t, []string{"tablet_not_silver"}, codes(w))
	assert.Equal(t, "the tablet is of ink, which scatters light otherwise than film: the scale of density is sure to 3 % only, until a densitometer reads a clear, a middle and a dense step", w[0].Message())
}

// A grey scale on paper is seen by light that comes back, of which no Callier effect takes any:
// of whatever it is made its scale is as well known as stated.
func TestGreyScale(t *testing.T) {
	b := newBench()
	read := even(0.05, 0.10, 20)
	made := func(of string) *Calibration {
		told := certified(read)
		told.Geometry, told.MadeOf = Reflection, of
		c, w, err := Calibrate(Calibrating{Tablet: told, Patches: b.patches(read, random(9)), Image: b.image()})
		require.NoError(t, err)
		assert.NotContains(t, codes(w), "tablet_not_silver")
		assert.True(t, c.Tablet.Reflection())
		return c
	}
	plain := made("")
	assert.Empty(t, plain.Tablet.MadeOf)
	for _, of := range []string{"ink", "dye", Silver} {
		assert.Equal(t, plain.Fit.Covariance, made(of).Fit.Covariance, of)
	}
	through := certified(read)
	through.MadeOf = "ink"
	c, _, err := Calibrate(Calibrating{Tablet: through, Patches: b.patches(read, random(9)), Image: b.image()})
	require.NoError(t, err)
	assert.InDelta(t, callierSD*callierSD, c.Fit.Covariance[1][1]-plain.Fit.Covariance[1][1], 1e-12)
	assert.False(t, c.Tablet.Reflection())
}

// What is denser than the device sees is left out and told; steps that go the other way are refused.
func TestTabletReadsAlike(t *testing.T) {
	b, r := newBench(), random(10)
	patches := b.patches(usual, r)
	for i := 17; i < 21; i++ {
		patches[i] = patches[16]
		patches[i].Step = i + 1
	}
	c, w, err := Calibrate(Calibrating{Tablet: certified(usual), Patches: patches, Image: b.image()})
	require.NoError(t, err)
	require.Equal(t, []string{"tablet_ends"}, codes(w))
	assert.Equal(t, fmt.Sprintf("steps 17 and 18 of the tablet read alike (%.5f): the device ends at 2.4, and what is denser is left out", patches[16].Mean(nil)), w[0].Message())
	assert.True(t, math.IsNaN(c.Fit.Value[17]))
	assert.LessOrEqual(t, c.Fit.ReadsTo, 2.45)

	// Noise that makes one of two alike the lighter does not tell them apart.
	apart := 0
	for range 20 {
		for i := 17; i < 21; i++ {
			patches[i] = b.patch(i+1, usual[16], r)
		}
		c, _, err := Calibrate(Calibrating{Tablet: certified(usual), Patches: patches, Image: b.image()})
		require.NoError(t, err)
		if !math.IsNaN(c.Fit.Value[17]) {
			apart++
		}
	}
	assert.LessOrEqual(t, apart, 3)

	swapped := b.patches(usual, r)
	swapped[8], swapped[9] = swapped[9], swapped[8]
	_, _, err = Calibrate(Calibrating{Tablet: certified(usual), Patches: swapped, Image: b.image()})
	assert.Regexp(t, `^step 10 of the tablet reads lighter than step 9 \(0\.\d+, 0\.\d+\): see that the ends are those of the tablet`, sentence(err))

	// What glare of an open end does to the last step is no such thing.
	lit := b.patches(usual, r)
	lit[20] = b.patch(21, usual[19], r)
	for _, values := range append(lit[20].Quadrants[:], lit[20].Values) {
		for i, v := range values {
			values[i] = v + v*8/100
		}
	}
	_, w, err = Calibrate(Calibrating{Tablet: certified(usual), Patches: lit, Image: b.image()})
	require.NoError(t, err)
	assert.Equal(t, []string{"tablet_ends"}, codes(w))

	turned := b.patches(usual, r)
	slices.Reverse(turned)
	_, _, err = Calibrate(Calibrating{Tablet: certified(usual), Patches: turned, Image: b.image()})
	assert.Equal(t, "the first step of the tablet should be its lightest, and is not: mark the ends the other way round", sentence(err))

	flat := b.patches(usual, r)
	for i := 6; i < 21; i++ {
		flat[i] = flat[5]
	}
	_, _, err = Calibrate(Calibrating{Tablet: certified(usual), Patches: flat, Image: b.image()})
	assert.Regexp(t, `^steps 6 and 7 of the tablet read alike \(0\.\d{5}\): the device ends at 0\.8, and a calibration needs 7 steps`, sentence(err))
	_, _, err = Calibrate(Calibrating{Tablet: certified(usual[:20]), Patches: flat, Image: b.image()})
	assert.EqualError(t, err, "21 steps were found, and the tablet has 20 densities")
	_, _, err = Calibrate(Calibrating{Tablet: certified(usual), Patches: b.patches(usual[:6], r), Image: b.image()})
	assert.EqualError(t, err, "6 steps of the tablet are of use; a calibration needs 7")
	_, _, err = Calibrate(Calibrating{Tablet: certified(usual), Patches: b.patches(usual, r), Image: b.image(), Encoding: "log"})
	assert.EqualError(t, err, `encoding "log" is not auto, linear, srgb or an exponent from 0.2 to 5`)
}

// Nothing is read beyond the tablet, and nothing is made up for it.
func TestBeyondTablet(t *testing.T) {
	b, r := newBench(), random(12)
	short := even(0.20, 0.15, 13) // to 2.00
	c := b.calibrated(t, short, certified(short), r)
	b.pixels = 4000
	got, w, err := c.Read(b.image(), 0, nil, b.patches([]float64{2.6, 2.06, 1.9, 0.5, 0.1}, r), Frame{Same: true})
	require.NoError(t, err)
	assert.Equal(t, "the tablet ends at 2.00, step 1 is beyond: not read", got[0].Why)
	assert.Equal(t, "the tablet ends at 2.00, step 2 is beyond: not read", got[1].Why)
	assert.InDelta(t, 1.9, got[2].Value, 0.01)
	assert.InDelta(t, 0.5, got[3].Value, 0.01)
	assert.Equal(t, "the tablet begins at 0.20, step 5 is lighter: not read", got[4].Why)
	require.Equal(t, []string{"step_not_read", "step_not_read"}, codes(w))
	assert.Equal(t, "no density at step 1, 2: the tablet ends at 2.00, step 1 is beyond: not read", w[0].Message())

	// A step as dense as the tablet's last is read, though noise may put it a little beyond.
	for seed := range uint64(20) {
		got, _, err := c.Read(b.image(), 0, nil, []Patch{b.patch(1, 2.0, random(seed))}, Frame{Same: true})
		require.NoError(t, err)
		assert.InDelta(t, 2.0, got[0].Value, 0.02)
	}
}
