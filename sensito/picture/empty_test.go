package picture_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/picture"
	"sensito/sensito/picture/lighttable"
)

// A falling camera has corners that are darker, and one side.
func falling(perInch, corners, slanted float64) lighttable.Device {
	d := lighttable.Camera(perInch)
	d.Uneven, d.Tilt = corners, slanted
	return d
}

// over returns a picture of a scene with one of the empty table beneath, whose mask may stay.
func over(t testing.TB, s lighttable.Scene, d, empty lighttable.Device, seed uint64, maskStays bool) *picture.Image {
	bare := s.Empty()
	if maskStays {
		bare.Masked, bare.Pieces, bare.Rows = true, s.Pieces, append([]lighttable.Row(nil), s.Rows...)
		for i, r := range bare.Rows {
			bare.Rows[i].Density, bare.Rows[i].Base = make([]float64, len(r.Density)), 0
		}
	}
	bare.Dust, bare.Seed = 10, seed
	im, err := s.Picture(d, seed).Over(&picture.Empty{Image: bare.Picture(empty, seed+1000), SHA256: "table"})
	require.NoError(t, err)
	return im
}

// An empty picture makes densities even, whatever the encoding, whether it is told or not, however long the empty table was
// exposed, and whether the tablet lies beside the strip or elsewhere.
func TestEmptyMakesEven(t *testing.T) {
	var sum, uneven float64
	for k, c := range []struct {
		name             string
		corners, slanted float64
		encode           func(float64) float64
		told             string
		bits             int
		apart, shorter   bool
		maskStays        bool
	}{
		{"corners", 0.08, 0, nil, "", 16, false, false, false},
		{"corners, told", 0.08, 0, nil, "linear", 16, false, false, false},
		{"corners, apart", 0.08, 0, nil, "", 16, true, false, false},
		{"corners, apart, the mask stays", 0.08, 0, nil, "", 16, true, false, true},
		{"slanted, apart", 0.01, 0.08, nil, "", 16, true, false, false},
		{"both, sRGB", 0.08, 0.05, lighttable.SRGB, "", 16, false, false, true},
		{"both, sRGB told, apart", 0.08, 0.05, lighttable.SRGB, "srgb", 16, true, false, false},
		{"both, 8 bits of exponent 1/2.2, apart, shorter", 0.08, 0.05, lighttable.Power(1 / 2.2), "", 8, true, true, false},
		{"both, an S, shorter", 0.08, 0.05, lighttable.SCurve, "", 16, false, true, false},
	} {
		d := falling(finely, c.corners, c.slanted)
		d.Encode, d.Bits = c.encode, c.bits
		short := d
		if c.shorter {
			short.Exposure = 0.5
		}
		laid := func(rows ...[]float64) lighttable.Scene {
			s := lighttable.Several(rows...).WithPlaces()
			s.Masked, s.Seed = true, uint64(k)
			return s
		}
		// The strip lies the other way round than the tablet, which hides nothing.
		turned := make([]float64, len(strip))
		for i := range strip {
			turned[i] = strip[len(strip)-1-i]
		}
		errs := func(empty bool) (rms float64) {
			picturesOf := func(s lighttable.Scene, seed uint64) *picture.Image {
				if !empty {
					return s.Picture(d, seed)
				}
				return over(t, s, d, short, seed, c.maskStays)
			}
			both := laid(turned, tablet)
			im := picturesOf(both, 1)
			bed := rowsOf(t, both, d, im, 1)[0]
			read := rowsOf(t, both, d, im, 0)[0]
			if c.apart {
				alone := laid(tablet)
				bed = rowsOf(t, alone, d, picturesOf(alone, 2), 0)[0]
				alone = laid(turned)
				read = rowsOf(t, alone, d, picturesOf(alone, 3), 0)[0]
			}
			cal, _, err := picture.Calibrate(bed.calibrating(tablet, c.told))
			require.NoError(t, err, c.name)
			got, _ := read.read(t, cal, !c.apart)
			n := 0.0
			for i, g := range got {
				if turned[i] < 1.6 && !math.IsNaN(g.Value) {
					rms += (g.Value - turned[i]) * (g.Value - turned[i])
					n++
				}
			}
			return math.Sqrt(rms / n)
		}
		without, with := errs(false), errs(true)
		sum += with * with
		uneven += without * without
		t.Logf("%-50s rms to 1.6: %.4f without, %.4f with", c.name, without, with)
		assert.Less(t, with, 0.0035, c.name)
	}
	assert.Less(t, math.Sqrt(sum/uneven), 0.25)
}

// What cannot be the empty table of a picture, and what was made even otherwise, is refused in words.
func TestEmptyRefused(t *testing.T) {
	d := falling(finely, 0.04, 0)
	s := lighttable.Beside(strip, tablet).WithPlaces()
	s.Masked = true
	im := s.Picture(d, 1)
	bare := s.Empty().Picture(d, 2)
	says := func(err error, want, hint string) {
		t.Helper()
		var no *sensito.Unanswerable
		require.ErrorAs(t, err, &no)
		assert.Contains(t, err.Error(), want)
		assert.Contains(t, no.Hint, hint)
	}
	like := func(change func(e *picture.Image)) error {
		e := *bare
		change(&e)
		_, err := im.Over(&picture.Empty{Image: &e})
		return err
	}
	says(like(func(e *picture.Image) { e.Width-- }), fmt.Sprintf("%d by %d pixels, and this one has %d by %d", im.Width-1, im.Height, im.Width, im.Height), "crop neither")
	says(like(func(e *picture.Image) { e.Bits = 8 }), "the empty picture has 8 bits, and this one has 16", "same settings")
	says(like(func(e *picture.Image) { e.Planes = e.Planes[1:2] }), "the empty picture has green, and this one has red, green, blue", "same settings")
	says(like(func(e *picture.Image) { e.About.Format = "JPEG" }), "JPEG", "16 bits")

	calibrated := func(e *picture.Image) (*picture.Calibration, *picture.Image, error) {
		even, err := im.Over(&picture.Empty{Image: e, SHA256: "table"})
		require.NoError(t, err)
		l, _, err := picture.Find(even, 1, picture.Row{Ends: s.Ends(1, finely), Steps: 21})
		require.NoError(t, err)
		patches, _, err := l.Patches(even, 1)
		if err != nil {
			return nil, even, err
		}
		c, _, err := picture.Calibrate(picture.Calibrating{Name: "bed", Tablet: picture.Tablet{Density: tablet}, Patches: patches, Image: even, Plane: 1, Lattice: l})
		return c, even, err
	}
	bright := d
	bright.Exposure = 1.3
	_, _, err := calibrated(s.Empty().Picture(bright, 2))
	says(err, "the empty picture is at the top of the range at step", "shorter time")
	_, _, err = calibrated(im) // of the strips themselves
	says(err, "times as much light at step 1 of the tablet as where the tablet lies", "the table alone")

	with, even, err := calibrated(bare)
	require.NoError(t, err)
	assert.Equal(t, "table", with.Picture.Empty)
	assert.InDelta(t, 0.85, with.Fit.Empty, 0.02)
	row := rowsOf(t, s, d, im, 1)[0]
	without, _, err := picture.Calibrate(row.calibrating(tablet, ""))
	require.NoError(t, err)
	for _, c := range []struct {
		by         *picture.Calibration
		im         *picture.Image
		want, hint string
	}{
		{with, im, "made with a picture of the empty table, and without it", "with the same empty picture"},
		{without, even, "made without a picture of the empty table", "with it too"},
		{with, func() *picture.Image {
			other, err := im.Over(&picture.Empty{Image: bare, SHA256: "another"})
			require.NoError(t, err)
			return other
		}(), "made with another picture of the empty table", "give the same"},
	} {
		read := rowsOf(t, s, d, c.im, 0)[0]
		_, _, err := c.by.Read(c.im, 1, read.lattice, read.patches, picture.Frame{})
		says(err, c.want, c.hint)
	}
	// A step that lies where the empty picture is dark.
	read := rowsOf(t, s, d, even, 0)[0]
	read.patches[4].Empty *= 0.4
	_, _, err = with.Read(even, 1, read.lattice, read.patches, picture.Frame{})
	says(err, "the empty picture has 0.4", "the table alone")
	says(err, "at step 5", "")

	spec := *with
	spec.Picture.Empty = ""
	_, err = picture.NewCalibration(spec)
	assert.ErrorContains(t, err, "fit.empty: goes with picture.empty_sha256")
}

// What lies beside the steps tells how the light falls off, of any row that does not fill its window.
func TestFallOffSeen(t *testing.T) {
	const rows = 3
	random := rand.New(rand.NewPCG(17, 3))
	for _, perInch := range []float64{80, 150} {
		for _, c := range []struct {
			name      string
			device    lighttable.Device
			low, high float64 // what it is seen as
		}{
			{"flatbed", lighttable.Flatbed(perInch), 0.002, 0.0037},
			{"1 %", falling(perInch, 0.01, 0), 0.0002, 0.0025},
			{"4 %", falling(perInch, 0.04, 0), 0.0043, 0.0075},
			{"8 %", falling(perInch, 0.08, 0), 0.009, 0.015},
			{"slanted by 5 %", falling(perInch, 0.01, 0.05), 0.013, 0.024},
		} {
			for _, open := range []bool{false, true} {
				var all [][]float64
				for k := range rows {
					all = append(all, filmOf(random, k))
				}
				s := lighttable.Several(append(all, tablet)...).WithPlaces()
				s.Masked, s.Dust, s.Seed = !open, 5, random.Uint64()
				c.device.Encode = []func(float64) float64{nil, lighttable.SRGB}[random.IntN(2)]
				seen := pictureOf(t, s, c.device, random.Uint64(), 0, 1, 2, rows)
				by := seen[rows]
				cal, _, err := picture.Calibrate(by.calibrating(tablet, ""))
				require.NoError(t, err)
				var ls []*picture.Lattice
				for _, p := range seen {
					ls = append(ls, p.lattice)
				}
				got, ok := cal.FallOff(by.im, by.plane, ls...)
				name := fmt.Sprintf("%s at %.0f to the inch, open %v", c.name, perInch, open)
				t.Logf("%s: %.4f %v", name, got, ok)
				if !ok && perInch < 100 { // too few pixels between the steps and the edge of the film
					continue
				}
				require.True(t, ok, name)
				assert.GreaterOrEqual(t, got, c.low, name)
				assert.LessOrEqual(t, got, c.high, name)
			}
		}
	}
	// Steps that reach to the mask show nothing, nor does black film, which glare lights unevenly; film between steps and holes does.
	for _, c := range []struct {
		margin, base float64
		seen         bool
	}{{0, 0.05, false}, {6, 1.5, false}, {6, 0.05, true}} {
		s := lighttable.Alone(tablet).WithPlaces()
		s.Masked, s.Rows[0].Margin, s.Rows[0].Perforated, s.Rows[0].Base = true, c.margin, c.seen, c.base
		p := pictureOf(t, s, lighttable.Flatbed(150), 1, 0)[0]
		cal, _, err := picture.Calibrate(p.calibrating(tablet, ""))
		require.NoError(t, err)
		got, ok := cal.FallOff(p.im, p.plane, p.lattice)
		assert.Equal(t, c.seen, ok, c)
		assert.Less(t, got, 0.0037)
	}
}

// Readings that are made even repeat better, which the trial is told.
func TestEmptyRepeats(t *testing.T) {
	d := falling(finely, 0.04, 0)
	s := lighttable.Alone(tablet).WithPlaces()
	s.Masked = true
	repeats := func(im *picture.Image) float64 {
		c, _, err := picture.Calibrate(rowsOf(t, s, d, im, 0)[0].calibrating(tablet, ""))
		require.NoError(t, err)
		sd, most := c.Repeats()
		assert.InDelta(t, 2*sd, most, 1e-12)
		return sd
	}
	assert.InDelta(t, 0.007, repeats(s.Picture(d, 1)), 1e-12)
	assert.InDelta(t, 0.005, repeats(over(t, s, d, d, 1, false)), 1e-12)
}
