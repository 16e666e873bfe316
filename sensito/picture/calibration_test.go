package picture

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
)

var (
	usual = even(0.05, 0.15, 21)
	dense = even(0.10, 0.05, 56) // a strip, to 2.85
)

// calibrated returns the calibration of a tablet on a bench.
func (b bench) calibrated(t testing.TB, exact []float64, told Tablet, r *rand.Rand) *Calibration {
	c, _, err := Calibrate(Calibrating{Name: "bed", Tablet: told, Patches: b.patches(exact, r), Image: b.image()})
	require.NoError(t, err)
	return c
}

func random(seed uint64) *rand.Rand { return rand.New(rand.NewPCG(seed, 0x5eed)) }

// deeper returns n times what SENSITO_BLIND asks for, for trials that may be made larger.
func deeper(n int) int {
	if by, err := strconv.Atoi(os.Getenv("SENSITO_BLIND")); err == nil && by > 0 {
		return n * by
	}
	return n
}

// certified returns a tablet as its certificate has it.
func certified(density []float64) Tablet {
	return Tablet{Name: "No. 17", Density: density, Known: Certificate}
}

// codes returns the codes of warnings.
func codes(w sensito.Warnings) (out []string) {
	for _, x := range w {
		out = append(out, x.Code)
	}
	return out
}

// sentence returns an error with its hint.
func sentence(err error) string {
	var u *sensito.Unanswerable
	if e, ok := err.(*sensito.Unanswerable); ok {
		u = e
	}
	if u == nil || u.Hint == "" {
		return fmt.Sprint(err)
	}
	return u.Reason + ": " + u.Hint
}

// errorsBy sums squares of errors of densities to 1.5, 2, 2.5 and beyond.
type errorsBy struct{ sum, n, held, bare [4]float64 }

func (e *errorsBy) add(got []Density, exact []float64, cov [3][3]float64) {
	for i, d := range got {
		if math.IsNaN(d.Value) {
			continue
		}
		k := 0
		for k < 3 && exact[i] > []float64{1.5, 2, 2.5}[k] {
			k++
		}
		off := math.Abs(d.Value - exact[i])
		e.sum[k] += off * off
		e.n[k]++
		if off < 1.96*math.Hypot(d.SD, ErrorOf(cov, exact[i])) {
			e.held[k]++
		}
		if off < 1.96*d.SD {
			e.bare[k]++
		}
	}
}

func (e *errorsBy) rms() (out [4]float64) {
	for k := range out {
		out[k] = math.Sqrt(e.sum[k] / e.n[k])
	}
	return out
}

func (e *errorsBy) covers(of [4]float64) float64 {
	return (of[0] + of[1] + of[2]) / (e.n[0] + e.n[1] + e.n[2])
}

// Densities are as close as DEVELOPERS.md says, by every encoding, with a certified tablet whose
// steps are off by 0.01 each and all by 0.5 %; the error that is stated for them holds.
func TestDensities(t *testing.T) {
	for _, c := range []struct {
		name   string
		encode func(float64) float64
		bits   int
		most   [3]float64
	}{
		{"linear", nil, 16, [3]float64{0.006, 0.012, 0.015}},
		{"gamma 2.2", gamma, 16, [3]float64{0.006, 0.012, 0.015}},
		{"gamma 2.2", gamma, 8, [3]float64{0.006, 0.012, 0.015}},
		{"sRGB", srgb, 16, [3]float64{0.0075, 0.012, 0.015}},
		{"sRGB", srgb, 8, [3]float64{0.0075, 0.012, 0.015}},
		{"S-curve", sCurve, 16, [3]float64{0.0085, 0.012, 0.015}},
		{"S-curve", sCurve, 8, [3]float64{0.0085, 0.012, 0.015}},
	} {
		t.Run(fmt.Sprint(c.name, c.bits), func(t *testing.T) {
			b, r := newBench(), random(1)
			b.encode, b.bits = c.encode, c.bits
			var off errorsBy
			for range deeper(15) {
				told := certified(stated(usual, certifiedSD, certifiedScaleSD, r))
				c := b.calibrated(t, usual, told, r)
				got, _, err := c.Read(b.image(), 0, nil, b.patches(dense, r), Frame{Same: true})
				require.NoError(t, err)
				off.add(got, dense, c.Covariance(true))
			}
			rms := off.rms()
			t.Logf("rms %.4f, covers %.3f, without the common error %.3f", rms, off.covers(off.held), off.covers(off.bare))
			for k, most := range c.most {
				// What is told of the scale comes on top, 0.005 of the density.
				assert.Less(t, rms[k], math.Hypot(most, certifiedScaleSD*[]float64{1, 1.75, 2.25}[k]), "range %d", k)
			}
			assert.InDelta(t, 0.97, off.covers(off.held), 0.03)
			assert.Less(t, off.covers(off.bare), off.covers(off.held)-0.03, "without the common error")
		})
	}
}

// A curve through all values copies the errors of the tablet's steps, the one in use half of them.
func TestInterpolatingCopies(t *testing.T) {
	b, r := newBench(), random(2)
	var smooth, through float64
	for range 40 {
		told := stated(usual, 0.02, 0, r)
		patches := b.patches(usual, r)
		c, _, err := Calibrate(Calibrating{Tablet: Tablet{Density: told, DensitySD: 0.02}, Patches: patches, Image: b.image()})
		require.NoError(t, err)
		for i, exact := range usual[1:14] {
			v := patches[i+1].Mean(nil)
			d := c.tone.densityOf(math.Log(v)) - exact
			smooth += d * d
			through += (told[i+1] - exact) * (told[i+1] - exact) // what any curve through all of them has there
		}
	}
	t.Logf("smooth %.4f, through all %.4f", math.Sqrt(smooth/520), math.Sqrt(through/520))
	assert.Less(t, smooth, through/4)
}

// The curve does not mind how a picture is encoded, as long as that is smooth: within 0.001 of
// encodings that are about a power of light, within 0.004 of those that bow where lights are.
func TestReencoded(t *testing.T) {
	b := newBench()
	b.noise, b.grain, b.pixels = 2e-4, 0, 4000 // the same light each time, spread over levels
	read := func(encode func(float64) float64, known float64) []Density {
		b.encode = encode
		c := b.calibrated(t, usual, Tablet{Density: usual, Known: Certificate, DensitySD: known}, random(3))
		strip := even(0.15, 0.06, 40) // to 2.49
		got, _, err := c.Read(b.image(), 0, nil, b.patches(strip, random(4)), Frame{Same: true})
		require.NoError(t, err)
		return got
	}
	const certified, exact = 0.005, 0.0005 // a step of the tablet
	linear, exactly := read(nil, certified), read(nil, exact)
	for _, c := range []struct {
		name   string
		encode func(float64) float64
		within float64
	}{
		{"gamma 2.2", gamma, 0.001}, {"gamma 1.8", func(v float64) float64 { return math.Pow(v, 1/1.8) }, 0.001},
		{"times 1.1", func(v float64) float64 { return 1.1 * v }, 0.001}, {"lifted blacks", func(v float64) float64 { return 0.02 + 0.95*v }, 0.001},
		{"a bow that holds back the lights a little", func(v float64) float64 { return v * (1.1 - 0.1*v) }, 0.003},
		{"a bow that holds back the lights", func(v float64) float64 { return v * (1.3 - 0.3*v) }, 0.004},
		{"a bow that brings them out", func(v float64) float64 { return v * (0.7 + 0.3*v) }, 0.004},
		{"sRGB, which has a corner", srgb, 0.001},
	} {
		most, byExact := 0., read(c.encode, exact)
		for i, d := range read(c.encode, certified) {
			most = max(most, math.Abs(d.Value-linear[i].Value))
		}
		t.Logf("%s: within %.5f", c.name, most)
		assert.Less(t, most, c.within, c.name)

		// What a bow moves is how much of the tablet's own errors is smoothed: of steps that are known, nothing.
		for i, d := range byExact {
			assert.InDelta(t, exactly[i].Value, d.Value, 0.001, "%s, step %d", c.name, d.Step)
		}
	}
}

// Grain is averaged in linear light, whatever the encoding: the mean of encoded values would read
// an even grain of 20 % too dense.
func TestMeanInLight(t *testing.T) {
	b := newBench()
	b.encode, b.noise, b.pixels = gamma, 0, 40000
	b.grain = 0
	c := b.calibrated(t, usual, certified(usual), random(5))
	b.grain = 0.15
	p := b.patch(1, 1.5, random(6))
	naive := c.tone.densityOf(math.Log(p.Mean(nil)))
	got, _, err := c.Read(b.image(), 0, nil, []Patch{p}, Frame{Same: true})
	require.NoError(t, err)
	t.Logf("of scatter %.2f: mean of values %.4f, in light %.4f", p.SD()/p.Mean(nil), naive, got[0].Value)
	assert.Greater(t, naive-1.5, 0.004)
	assert.InDelta(t, 1.5, got[0].Value, 0.002)

	// Scatter beyond all measure moves nothing by more than its bound.
	assert.InDelta(t, 0.1, c.tone.meanInLight(0.1, 1), 0.00501)
	assert.Greater(t, math.Abs(c.tone.meanInLight(0.1, 1)-0.1), 0.004)
}

// Two hundred good pictures, of all encodings, devices and tablets: none is refused, and hardly a
// step of the usual range.
func TestGoodPictures(t *testing.T) {
	r := random(7)
	encodings := []func(float64) float64{nil, gamma, srgb, sCurve}
	unread, falseS := 0, 0
	for i := range 200 {
		b := newBench()
		b.encode = encodings[i%4]
		b.noise *= 0.3 + 1.5*r.Float64()
		b.glare = 0.006 * r.Float64()
		b.grain *= 2 * r.Float64()
		if i%4 > 0 && i%3 == 0 {
			b.bits = 8
		}
		exact := usual
		told := certified(stated(exact, certifiedSD, certifiedScaleSD, r))
		switch i % 5 {
		case 1:
			exact = even(0.05, 0.30, 11)
			told = certified(stated(exact, certifiedSD, certifiedScaleSD, r))
		case 2:
			told = Tablet{Density: stated(exact, 0.02, 0.02, r)}
			slices.Sort(told.Density)
		}
		c, w, err := Calibrate(Calibrating{Tablet: told, Patches: b.patches(exact, r), Image: b.image()})
		require.NoError(t, err, "%d", i)
		if i%4 < 3 && slices.Contains(codes(w), "tones_corrected") {
			falseS++
		}
		got, _, err := c.Read(b.image(), 0, nil, b.patches(even(0.15, 0.1, 21), r), Frame{Same: true})
		require.NoError(t, err, "%d", i)
		for _, d := range got[:18] { // to 1.85
			if d.Why != "" {
				unread++
			}
		}
	}
	t.Logf("%d of 3600 steps to 1.85 are not read; %d of 150 curves are called an S", unread, falseS)
	assert.Less(t, unread, 36)
	assert.LessOrEqual(t, falseS, 3)
}

func TestClipped(t *testing.T) {
	b, r := newBench(), random(11)
	b.open = 1.2
	_, _, err := Calibrate(Calibrating{Tablet: certified(usual), Patches: b.patches(usual, r), Image: b.image()})
	assert.Equal(t, "step 1 is at the top of the range: expose less", sentence(err))

	b.open = 0.85
	cut := b
	cut.encode = func(v float64) float64 { return max(v-0.008, 0) } // blacks are cut from 2.1 on
	patches := cut.patches(usual, r)
	c, w, err := Calibrate(Calibrating{Tablet: certified(usual), Patches: patches, Image: b.image()})
	require.NoError(t, err)
	require.Contains(t, codes(w), "tablet_step_clipped")
	parts := 0
	for i, p := range patches {
		if p.Low > 0.01 {
			assert.True(t, math.IsNaN(c.Fit.Value[i]), "step %d, of which %.2f is black", i+1, p.Low)
			if p.Low < 0.9 {
				parts++
			}
		}
	}
	assert.Positive(t, parts)
	assert.Contains(t, w[0].Message(), "of the tablet is at the bottom of the range and is left out")
	got, w, err := c.Read(b.image(), 0, nil, cut.patches([]float64{1, 3}, r), Frame{Same: true})
	require.NoError(t, err)
	assert.InDelta(t, 1, got[0].Value, 0.01)
	assert.True(t, math.IsNaN(got[1].Value) && math.IsNaN(got[1].SD))
	assert.Equal(t, "step 2 is at the bottom of the range: the device ends there", got[1].Why)
	assert.Equal(t, "no density at step 2: step 2 is at the bottom of the range: the device ends there", w[0].Message())

	c = b.calibrated(t, usual, certified(usual), r)
	p := b.patch(4, 1, r)
	p.High = 2 * mostClipped
	got, _, err = c.Read(b.image(), 0, nil, []Patch{b.patch(3, 1, r), p}, Frame{Same: true})
	require.NoError(t, err)
	assert.Equal(t, "step 4 is at the top of the range: expose less", got[1].Why)
	_, _, err = c.Read(b.image(), 0, nil, []Patch{p}, Frame{Same: true})
	assert.EqualError(t, err, "step 4 is at the top of the range: expose less", "no step at all")
}

// A step is read only where its own error is within 0.03.
func TestUnsureStep(t *testing.T) {
	b, r := newBench(), random(13)
	c := b.calibrated(t, usual, certified(usual), r)
	b.noise, b.pixels = 0.0028, 12 // at 2 a mean is sure to 0.08 of its light
	got, _, err := c.Read(b.image(), 0, nil, b.patches([]float64{0.5, 2.0}, r), Frame{Same: true})
	require.NoError(t, err)
	assert.Empty(t, got[0].Why)
	assert.Regexp(t, `^step 2 reads to 0\.\d{3} only, more than 0\.03$`, got[1].Why)

	// The tablet itself ends where it is no surer.
	b.pixels, b.noise = 400, 0.01
	noisy := b.calibrated(t, usual, certified(usual), r)
	assert.Less(t, noisy.Fit.ReadsTo, c.Fit.ReadsTo-0.3)
	b.noise, b.pixels = 6e-4, 40000
	got, _, err = noisy.Read(b.image(), 0, nil, b.patches([]float64{1.0, noisy.Fit.ReadsTo + 0.15}, r), Frame{Same: true})
	require.NoError(t, err)
	assert.Regexp(t, `^(the calibration reads|the tablet ends)`, got[1].Why)
	b.noise, b.pixels = 0.3, 400
	_, _, err = Calibrate(Calibrating{Tablet: certified(usual), Patches: b.patches(usual, r), Image: b.image()})
	assert.Error(t, err)
}

// 8 bits are told, and refused a step where nothing spreads the levels and each is much.
func TestEightBits(t *testing.T) {
	b, r := newBench(), random(14)
	b.bits, b.encode, b.noise, b.grain = 8, gamma, 1e-5, 0
	c, w, err := Calibrate(Calibrating{Tablet: certified(usual), Patches: b.patches(usual, r), Image: b.image()})
	require.NoError(t, err)
	assert.Contains(t, codes(w), "eight_bits")
	got, w, err := c.Read(b.image(), 0, nil, b.patches([]float64{1.03, 2.33}, r), Frame{Same: true})
	require.NoError(t, err)
	require.Contains(t, codes(w), "eight_bits")
	assert.Equal(t, "the picture has 8 bits: its steps are read with an error for rounding; save 16 bits", w[0].Message())
	assert.InDelta(t, 1.03, got[0].Value, 0.02)
	assert.Regexp(t, `^one level of 8 bits is 0\.0\d at step 2, and nothing spreads them: save 16 bits$`, got[1].Why)
	b.bits = 16
	got, _, err = c.Read(b.image(), 0, nil, b.patches([]float64{1.03, 2.33}, r), Frame{Same: true})
	require.NoError(t, err)
	assert.Empty(t, got[1].Why)
}

func TestSCurve(t *testing.T) {
	r := random(15)
	for _, c := range []struct {
		name   string
		encode func(float64) float64
		want   bool
	}{{"linear", nil, false}, {"gamma", gamma, false}, {"sRGB", srgb, false}, {"S", sCurve, true}} {
		for _, glare := range []float64{0, 0.001, 0.006} {
			b := newBench()
			b.encode, b.glare = c.encode, glare
			_, w, err := Calibrate(Calibrating{Tablet: certified(usual), Patches: b.patches(usual, r), Image: b.image()})
			require.NoError(t, err)
			assert.Equal(t, c.want, slices.Contains(codes(w), "tones_corrected"), "%s, glare %g", c.name, glare)
		}
	}
	assert.Equal(t, "the curve of the tones has an S, so the software corrected them: turn it off, or calibrate every picture", sensito.Warn("tones_corrected").Message())
}

// The density of quarters is told by the curve, since an encoded picture looks more even than it
// is; noise that is decoded is still no uneven light.
func TestUnevenPatch(t *testing.T) {
	b, r := newBench(), random(16)
	b.encode, b.grain, b.noise = gamma, 0, 1e-5
	c := b.calibrated(t, usual, certified(usual), r)
	told := func(by float64) sensito.Warnings {
		p := b.patch(4, 1, r)
		for i := range p.Quadrants[0] {
			p.Quadrants[0][i] = uint16(float64(p.Quadrants[0][i]) * by)
		}
		require.Less(t, p.Uneven(nil), mostUneven)
		_, w, err := c.Read(b.image(), 0, nil, []Patch{b.patch(3, 0.9, r), p}, Frame{Same: true})
		require.NoError(t, err)
		return w
	}
	w := told(0.983) // 0.0075 of lg v, 0.0164 of light and 0.0167 of density, glare being 0.002
	require.Equal(t, []string{"step_uneven"}, codes(w))
	assert.Equal(t, 4, w[0].Step)
	assert.Equal(t, "step 4: its quarters differ by 0.017 in density: rings or uneven light; turn it and picture it again", w[0].Message())
	assert.Empty(t, told(0.993), "0.0067 of density")

	b.grain, b.noise = 0.1, 6e-4
	light, uneven := c.tone.lights(), 0
	for range 200 {
		if b.patch(4, 1.2, r).Uneven(light) > 0 {
			uneven++
		}
	}
	assert.LessOrEqual(t, uneven, 4)
	for _, v := range []float64{0.05, 0.1, 0.3, 0.7, 0.95} {
		assert.InEpsilon(t, c.tone.light(v), light(v), 2e-4)
	}
}

// Black tape tells whether the surround is that of the calibration.
func TestGlareCheck(t *testing.T) {
	for _, encode := range []func(float64) float64{nil, gamma} {
		r := random(17)
		b := newBench()
		b.encode, b.pixels = encode, 4000
		tape := b.patch(0, 6, r)
		c, _, err := Calibrate(Calibrating{Tablet: certified(usual), Patches: b.patches(usual, r), Image: b.image(), Opaque: &tape})
		require.NoError(t, err)
		read := func(more float64) (sensito.Warnings, error) {
			here := b
			here.glare += more
			tape := here.patch(0, 6, r)
			_, w, err := c.Read(b.image(), 0, nil, here.patches([]float64{0.5, 1}, r), Frame{Opaque: &tape})
			return w, err
		}
		w, err := read(0.0001)
		require.NoError(t, err)
		assert.Empty(t, w)
		w, err = read(0.0007)
		require.NoError(t, err)
		require.Equal(t, []string{"glare_differs"}, codes(w))
		assert.Regexp(t, `^the black tape reads 0\.000\d of clear here and -?0\.000\d in the calibration: surround, lid or mask differ; picture both alike$`, w[0].Message())
		_, err = read(0.0054)
		assert.Regexp(t, `^the black tape reads 0\.005\d of clear here and -?0\.000\d in the calibration: surround, lid or mask differ; picture both alike$`, sentence(err))

		_, w, err = c.Read(b.image(), 0, nil, b.patches([]float64{0.5, 1}, r), Frame{})
		require.NoError(t, err)
		assert.Equal(t, []string{"glare_not_checked"}, codes(w))
		_, w, err = c.Read(b.image(), 0, nil, b.patches([]float64{0.5, 1}, r), Frame{Same: true})
		require.NoError(t, err)
		assert.Empty(t, w)
	}
}

func TestExposureCheck(t *testing.T) {
	for _, encode := range []func(float64) float64{nil, gamma} {
		r := random(18)
		b := newBench()
		b.encode, b.pixels, b.open = encode, 4000, 0.8
		tape, open := b.patch(0, 6, r), b.patch(0, 0, r)
		c, _, err := Calibrate(Calibrating{Tablet: certified(usual), Patches: b.patches(usual, r), Image: b.image(), Opaque: &tape, Clear: &open})
		require.NoError(t, err)
		read := func(by float64, same bool) (sensito.Warnings, error) {
			here := b
			here.open *= by
			tape, open := here.patch(0, 6, r), here.patch(0, 0, r)
			_, w, err := c.Read(b.image(), 0, nil, here.patches([]float64{0.5, 1}, r), Frame{Same: same, Opaque: &tape, Clear: &open})
			return w, err
		}
		w, err := read(1.01, false)
		require.NoError(t, err)
		assert.Empty(t, w)
		w, err = read(0.975, false)
		require.NoError(t, err)
		require.Equal(t, []string{"exposure_differs"}, codes(w))
		assert.Regexp(t, `^the exposure differs by 2\.[3-7] % from the calibration: automatic exposure is on$`, w[0].Message())
		_, err = read(1.1, false)
		assert.Equal(t, "the exposure differs by 10 % from the calibration: automatic exposure is on", sentence(err))
		_, err = read(1.1, true)
		assert.NoError(t, err, "in one picture")
	}
}

func TestJPEG(t *testing.T) {
	b, r := newBench(), random(19)
	b.encode, b.bits = srgb, 8
	im := b.image()
	im.About.Format = "JPEG"
	c, w, err := Calibrate(Calibrating{Tablet: certified(usual), Patches: b.patches(usual, r), Image: im})
	require.NoError(t, err)
	require.Contains(t, codes(w), "jpeg_tones")
	_, _, err = c.Read(im, 0, nil, b.patches(usual, r), Frame{Same: true})
	require.NoError(t, err)
	_, _, err = c.Read(im, 0, nil, b.patches(usual, r), Frame{})
	assert.Equal(t, "a JPEG is processed, and its tones follow the scene: save 16 bits as TIFF or PNG, or picture the tablet beside the strip", sentence(err))
}
