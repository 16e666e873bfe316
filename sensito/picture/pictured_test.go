package picture_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/picture"
	"sensito/sensito/picture/lighttable"
)

// A pictured row is one of a picture, with black tape and a clear place beside it.
type pictured struct {
	im          *picture.Image
	plane       int
	lattice     *picture.Lattice
	patches     []picture.Patch
	tape, clear picture.Patch
}

const finely = 100 // pixels an inch

// pictureOf returns rows of a scene as a device has them.
func pictureOf(t testing.TB, s lighttable.Scene, d lighttable.Device, seed uint64, rows ...int) (out []pictured) {
	return rowsOf(t, s, d, s.Picture(d, seed), rows...)
}

// rowsOf returns rows of a picture of a scene.
func rowsOf(t testing.TB, s lighttable.Scene, d lighttable.Device, im *picture.Image, rows ...int) (out []pictured) {
	for _, row := range rows {
		p := pictured{im: im, plane: min(1, len(im.Planes)-1)}
		var err error
		p.lattice, _, err = picture.Find(im, p.plane, picture.Row{Ends: s.Ends(row, d.PerInch), Steps: len(s.Rows[row].Density)})
		require.NoError(t, err)
		p.patches, _, err = p.lattice.Patches(im, p.plane)
		require.NoError(t, err)
		p.tape, err = picture.PatchAt(im, p.plane, s.Pixel(s.Tape, d.PerInch), 20)
		require.NoError(t, err)
		p.clear, err = picture.PatchAt(im, p.plane, s.Pixel(s.Clear, d.PerInch), 20)
		require.NoError(t, err)
		out = append(out, p)
	}
	return out
}

func (p pictured) calibrating(density []float64, encoding string) picture.Calibrating {
	return picture.Calibrating{Name: "bed", Tablet: picture.Tablet{Density: density, Known: picture.Certificate}, Patches: p.patches, Image: p.im, Plane: p.plane,
		Lattice: p.lattice, Encoding: encoding, Opaque: &p.tape, Clear: &p.clear}
}

func (p pictured) read(t testing.TB, c *picture.Calibration, same bool) ([]picture.Density, sensito.Warnings) {
	got, w, err := c.Read(p.im, p.plane, p.lattice, p.patches, picture.Frame{Same: same, Opaque: &p.tape, Clear: &p.clear})
	require.NoError(t, err)
	return got, w
}

var (
	tablet = lighttable.Even(0.05, 0.15, 21)
	strip  = lighttable.Even(0.12, 0.125, 20) // to 2.5
)

// rmsOf returns the errors of densities to 2.0 and to 2.5, of the steps that were read but for the
// last, beside which film is clear, and how many were not.
func rmsOf(got []picture.Density, exact []float64) (rms [2]float64, unread int) {
	var n [2]float64
	for i, d := range got[:len(got)-1] {
		if math.IsNaN(d.Value) {
			unread++
			continue
		}
		k := 0
		if exact[i] > 2 {
			k = 1
		}
		rms[k] += (d.Value - exact[i]) * (d.Value - exact[i])
		n[k]++
	}
	for k := range rms {
		rms[k] = math.Sqrt(rms[k] / max(n[k], 1))
	}
	return rms, unread
}

func coded(w sensito.Warnings, code string) bool {
	return slices.ContainsFunc(w, func(x sensito.Warning) bool { return x.Code == code })
}

// Pictures of a light table read within the targets where the surround is alike, by any curve and
// by the encoding that is told.
func TestPicturesRead(t *testing.T) {
	for _, c := range []struct {
		name     string
		device   lighttable.Device
		encode   func(float64) float64
		told     string
		bits     int
		masked   bool
		together bool
	}{
		{"flatbed masked, in one frame", lighttable.Flatbed(finely), nil, "", 16, true, true},
		{"flatbed masked, in one frame, told", lighttable.Flatbed(finely), nil, "linear", 16, true, true},
		{"flatbed open, in one frame, gamma", lighttable.Flatbed(finely), lighttable.Power(1 / 2.2), "", 8, false, true},
		{"flatbed open, in one frame, gamma told", lighttable.Flatbed(finely), lighttable.Power(1 / 2.2), "2.2", 8, false, true},
		{"flatbed masked, apart, sRGB", lighttable.Flatbed(finely), lighttable.SRGB, "", 16, true, false},
		{"flatbed open, apart, sRGB told", lighttable.Flatbed(finely), lighttable.SRGB, "srgb", 8, false, false},
		{"flatbed masked, in one frame, S", lighttable.Flatbed(finely), lighttable.SCurve, "", 16, true, true},
		{"camera masked, apart", lighttable.Camera(finely), nil, "", 16, true, false},
		{"camera masked, apart, told", lighttable.Camera(finely), nil, "linear", 16, true, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			d := c.device
			d.Encode, d.Bits, d.Channels = c.encode, c.bits, 1
			both := lighttable.Beside(strip, tablet).WithPlaces()
			both.Masked = c.masked
			var of, at pictured
			if c.together {
				rows := pictureOf(t, both, d, 1, 0, 1)
				of, at = rows[0], rows[1]
			} else {
				one, other := lighttable.Alone(strip).WithPlaces(), lighttable.Alone(tablet).WithPlaces()
				one.Masked, other.Masked = c.masked, c.masked
				of, at = pictureOf(t, one, d, 2, 0)[0], pictureOf(t, other, d, 3, 0)[0]
			}
			k, w, err := picture.Calibrate(at.calibrating(tablet, c.told))
			require.NoError(t, err)
			want := picture.SmoothMethod
			if c.told != "" {
				want = picture.GlareMethod
			}
			require.Equal(t, want, k.Fit.Method, "%v", w)
			got, _ := of.read(t, k, c.together)
			rms, unread := rmsOf(got, strip)
			t.Logf("to 2.0 %.4f, to 2.5 %.4f; the scale %.4f ± %.4f of the exponent; %v", rms[0], rms[1], k.Fit.Exponent, k.Fit.ExponentSD, w)
			assert.Less(t, rms[0], 0.006)
			assert.Less(t, rms[1], 0.012)
			assert.LessOrEqual(t, unread, 1)
			assert.Equal(t, c.name[len(c.name)-1] == 'S', coded(w, "tones_corrected"))

			// From a file it reads alike.
			if !c.together {
				again, err := picture.NewCalibration(*k)
				require.NoError(t, err)
				same, _ := of.read(t, again, c.together)
				require.Equal(t, fmt.Sprint(got), fmt.Sprint(same))
			}
		})
	}
}

// A strip on open glass is not read by a tablet that was masked: its density 2 would be 0.1 low.
func TestSurroundDiffers(t *testing.T) {
	d := lighttable.Flatbed(finely)
	masked, open := lighttable.Alone(tablet).WithPlaces(), lighttable.Alone(strip).WithPlaces()
	masked.Masked = true
	at, of := pictureOf(t, masked, d, 4, 0)[0], pictureOf(t, open, d, 5, 0)[0]
	k, _, err := picture.Calibrate(at.calibrating(tablet, ""))
	require.NoError(t, err)
	_, _, err = k.Read(of.im, of.plane, of.lattice, of.patches, picture.Frame{Opaque: &of.tape, Clear: &of.clear})
	require.Error(t, err)
	assert.Regexp(t, `^the black tape reads 0\.00[3-9]\d of clear here and -?0\.000\d in the calibration$`, err.Error())
	got, w, err := k.Read(of.im, of.plane, of.lattice, of.patches, picture.Frame{})
	require.NoError(t, err)
	assert.True(t, coded(w, "glare_not_checked"))
	assert.Equal(t, "step 16 lies beside bare light, whose glare may move it by more than 0.03: mask that light", got[15].Why)
	assert.Less(t, got[7].Value, strip[7]-0.015, "what is left of what nobody would see")
	assert.InDelta(t, strip[7], got[7].Value, 3*got[7].SD)

	// Masked alike, the tape says so.
	alike := lighttable.Alone(strip).WithPlaces()
	alike.Masked = true
	_, w = pictureOf(t, alike, d, 6, 0)[0].read(t, k, false)
	assert.False(t, coded(w, "glare_differs"), "%v", w)
}

// Glare with other tails than the model's is still taken out.
func TestGlareOfOtherTails(t *testing.T) {
	d := lighttable.Flatbed(finely)
	d.Glare = []lighttable.Veil{{Share: 0.006, S: 5}, {Share: 0.004, S: 40}}
	s := lighttable.Beside(strip, tablet).WithPlaces()
	rows := pictureOf(t, s, d, 7, 0, 1)
	k, w, err := picture.Calibrate(rows[1].calibrating(tablet, "linear"))
	require.NoError(t, err)
	require.Equal(t, picture.GlareMethod, k.Fit.Method, "%v", w)
	got, _ := rows[0].read(t, k, true)
	rms, _ := rmsOf(got, strip)
	t.Logf("%.4f", rms)
	assert.Less(t, rms[0], 0.006)
	assert.Less(t, rms[1], 0.012)
}

// An encoding that is told and does not hold is not kept, and the tablet's own curve reads on.
func TestGlareModelFallsBack(t *testing.T) {
	random := rand.New(rand.NewPCG(8, 8))
	s := lighttable.Beside(strip, tablet).WithPlaces()
	s.Masked = true
	for _, c := range []struct {
		name   string
		encode func(float64) float64
		told   string
		spoil  func(i int, d float64) float64
		steps  int
		want   string
	}{
		{"a device of 0.95", lighttable.Power(0.95), "linear", nil, 21, `^the encoding told, linear, is not kept: the tablet fits 1\.0[3-7]\d of its exponent, ±0\.00\d; any rising curve is taken in its place$`},
		{"sRGB called linear", lighttable.SRGB, "linear", nil, 21, `^the encoding told, linear, `},
		{"a tablet that is not its certificate", nil, "linear", func(i int, d float64) float64 { return d + 0.04*random.NormFloat64() }, 21,
			`^the encoding told, linear, and glare do not follow the tablet: chi squared is \d+\.\d a degree of freedom, `},
		{"a tablet that bends", nil, "linear", func(_ int, d float64) float64 { return d + 0.025*math.Sin(2*d) }, 21, `^the encoding told, linear, `},
		{"a short tablet", nil, "linear", nil, 8, `^too few steps of the tablet are read to bear out the encoding told, linear: its exponent is sure to ±0\.\d+`},
	} {
		t.Run(c.name, func(t *testing.T) {
			d := lighttable.Flatbed(1.5 * finely)
			d.Encode = c.encode
			rows := pictureOf(t, s, d, 9, 0, 1)
			told := slices.Clone(tablet)
			if c.spoil != nil {
				for i, v := range told {
					told[i] = max(0, c.spoil(i, v))
				}
				slices.Sort(told)
			}
			q := rows[1].calibrating(told, c.told)
			q.Patches = q.Patches[:c.steps]
			k, w, err := picture.Calibrate(q)
			require.NoError(t, err)
			assert.Equal(t, picture.SmoothMethod, k.Fit.Method)
			i := slices.IndexFunc(w, func(x sensito.Warning) bool { return x.Code == "encoding_not_kept" })
			require.GreaterOrEqual(t, i, 0, "%v", w)
			assert.Regexp(t, c.want, w[i].Message())
			if c.spoil == nil && c.steps == 21 {
				got, _ := rows[0].read(t, k, true)
				rms, _ := rmsOf(got, strip)
				assert.Less(t, rms[0], 0.006)
			}
		})
	}
}

// The model finds the glare of a device, and reads a strip in another place of the picture by what
// is around it there: on open glass the steps beside clear film are closer than by any curve.
func TestGlareFound(t *testing.T) {
	d := lighttable.Flatbed(finely)
	s := lighttable.Beside(strip, tablet).WithPlaces()
	off := map[string]float64{}
	for seed := range uint64(3) {
		rows := pictureOf(t, s, d, 20+seed, 0, 1)
		for _, told := range []string{"", "linear"} {
			k, _, err := picture.Calibrate(rows[1].calibrating(tablet, told))
			require.NoError(t, err)
			sure := *k // of its glare, so that no step is held back for it
			sure.Fit.Share = picture.Shares{Mean: [2]float64{k.Fit.Glare[1], k.Fit.Glare[2]}}
			k, err = picture.NewCalibration(sure)
			require.NoError(t, err)
			got, _ := rows[0].read(t, k, true)
			if told != "" {
				assert.InDelta(t, 0.010, k.Fit.Glare[1]+k.Fit.Glare[2], 0.010, "near and far, of 0.5 %% each")
				assert.Greater(t, k.Fit.Glare[1]+k.Fit.Glare[2], 0.005)
			}
			for i := 15; i < 20; i++ {
				if !math.IsNaN(got[i].Value) {
					off[told] += math.Abs(got[i].Value - strip[i])
				}
			}
		}
	}
	t.Log(off)
	assert.Less(t, off["linear"], 0.6*off[""])
}
