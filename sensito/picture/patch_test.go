package picture_test

import (
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

// patchesOf returns the patches of a row, found by its true ends.
func patchesOf(t *testing.T, s lighttable.Scene, d lighttable.Device, im *picture.Image) (*picture.Lattice, []picture.Patch, sensito.Warnings) {
	l, told, err := picture.Find(im, 0, picture.Row{Ends: s.Ends(0, d.PerInch), Steps: len(s.Rows[0].Density)})
	require.NoError(t, err)
	p, warnings, err := l.Patches(im, 0)
	require.NoError(t, err)
	return l, p, append(told, warnings...)
}

// density returns that of a patch against open light.
func density(p picture.Patch, open float64) float64 { return -math.Log10(p.Mean(nil) / open) }

// plain is a device that blurs and adds nothing else.
func plain(perInch float64) lighttable.Device {
	return lighttable.Device{PerInch: perInch, Channels: 1, Open: 0.9, Blur: 0.02, Soft: 0.6, Bits: 16}
}

// smooth is a row without grain.
func smooth(density []float64) lighttable.Scene {
	s := lighttable.Alone(density)
	s.Rows[0].Grain = 0
	return s
}

// TestPatchMeans holds that the mean of a step is its light, of coarse pictures and fine, of small and large steps: nothing of
// the neighbours' is in it.
func TestPatchMeans(t *testing.T) {
	for _, perInch := range []float64{100, 200} {
		for _, d := range [][]float64{lighttable.Even(0.05, 0.10, 21), lighttable.Even(0.05, 0.40, 7)} {
			for _, soft := range []float64{0.6, 1.5, 2.5} {
				s := smooth(d).Turned(1.3)
				device := plain(perInch)
				device.Soft = soft
				l, patches, _ := patchesOf(t, s, device, s.Picture(device, 1))
				assert.InDelta(t, math.Hypot(soft, 0.02*perInch/25.4), l.Blur, 0.45, "the sd of an edge, to which reading between pixels adds a little")
				for i, p := range patches {
					assert.InDelta(t, d[i], density(p, 0.9), 0.001, "%g to the inch, step %d of %d, blur %g", perInch, i+1, len(d), soft)
				}
			}
		}
	}
}

// TestTurnedAlike holds that a picture that is turned, mirrored or brighter gives the same densities above its first step,
// within 0.001.
func TestTurnedAlike(t *testing.T) {
	s := smooth(lighttable.Even(0.05, 0.15, 16)).Turned(2)
	device := plain(100)
	_, want, _ := patchesOf(t, s, device, s.Picture(device, 1))
	compare := func(name string, s lighttable.Scene, device lighttable.Device) {
		_, got, _ := patchesOf(t, s, device, s.Picture(device, 1))
		for i := range got {
			assert.InDelta(t, density(want[i], want[0].Mean(nil)), density(got[i], got[0].Mean(nil)), 0.001, "%s, step %d", name, i+1)
		}
	}
	for quarters := range 4 {
		for _, mirrored := range []bool{false, true} {
			s.Quarters, s.Mirrored = quarters, mirrored
			compare("turned", s, device)
		}
	}
	device.Exposure = 1.1
	compare("brighter", s, device)
}

// TestDustSetAside holds that dust and scratches move no mean by 0.001 of density: 20 specks to the square centimetre, a hair
// along the row and one across. Rings are no dust: 3 % of light as rings of 4 mm stay within 0.003 and make quarters differ.
func TestDustSetAside(t *testing.T) {
	// Steps of 10 by 20 mm, so that what rings of the lot average to is small.
	d := lighttable.Even(0.1, 0.12, 12)
	s := lighttable.Alone(d)
	device := lighttable.Flatbed(300)
	device.Drift = 0
	clean := s.Picture(device, 1)
	l, want, _ := patchesOf(t, s, device, clean)
	off := func(s lighttable.Scene) (worst float64, set int) {
		im := s.Picture(device, 1)
		for i, p := range want {
			q, _, err := l.Patch(im, 0, i+1)
			require.NoError(t, err)
			worst = max(worst, math.Abs(math.Log10(q.Mean(nil)/p.Mean(nil))))
			set += q.SetAside
		}
		return worst, set
	}
	dusty := s
	dusty.Dust = 20
	dusty.Scratches = []lighttable.Scratch{{From: lighttable.Point{X: 5, Y: 13}, To: lighttable.Point{X: 85, Y: 10}, Width: 0.05, Density: 0.4},
		{From: lighttable.Point{X: 32, Y: 3}, To: lighttable.Point{X: 35, Y: 20}, Width: 0.1, Density: -0.3}}
	worst, set := off(dusty)
	t.Logf("dust: %.5f, %d pixels aside", worst, set)
	assert.Less(t, worst, 0.001)
	assert.Greater(t, set, 1000)
	rings := s
	rings.Rings = 0.03
	worst, set = off(rings)
	t.Logf("rings: %.5f, %d pixels aside", worst, set)
	assert.Less(t, worst, 0.003)
}

// grainy returns a picture of one density whose grain has a standard deviation of density from pixel to pixel, with the mean
// light of the density.
func grainy(density, sd float64, bits int, random *rand.Rand) *picture.Image {
	im := &picture.Image{Width: 300, Height: 300, Bits: bits, Planes: []picture.Plane{{Name: "grey"}}}
	level := 65535 / (math.Exp2(float64(bits)) - 1)
	ln := sd * math.Ln10
	for range im.Width * im.Height {
		light := math.Exp(-density*math.Ln10 - ln*random.NormFloat64() - ln*ln/2)
		im.Planes[0].Values = append(im.Planes[0].Values, uint16(level*math.Round(65535*min(1, light)/level)))
	}
	return im
}

// TestMeanOfGrain holds that grain makes no step denser: of a film of rms granularity 12 at 4800 to the inch the median would
// read 0.011 too dense at density 1, and 0.021 at density 2.
func TestMeanOfGrain(t *testing.T) {
	random := rand.New(rand.NewPCG(3, 3))
	// Selwyn: 0.012 by 48 µm is so much by a pixel of 5.29 µm; at density 2 it is higher by the root of 2.
	sd := 0.012 * math.Sqrt(math.Pi*24*24) / 5.2917
	for _, c := range []struct{ density, sd float64 }{{1, sd}, {2, math.Sqrt2 * sd}} {
		p, err := picture.PatchAt(grainy(c.density, c.sd, 16, random), 0, picture.Point{X: 150, Y: 150}, 280)
		require.NoError(t, err)
		assert.InDelta(t, c.density, density(p, 1), 0.001, "density %g", c.density)
		assert.Less(t, float64(p.SetAside), 0.06*float64(p.Pixels))
		t.Logf("density %g: read %.4f, %d of %d set aside", c.density, density(p, 1), p.SetAside, p.Pixels)
		values := slices.Clone(p.Values)
		slices.Sort(values)
		middle := -math.Log10(float64(values[len(values)/2]) / 65535)
		assert.Greater(t, middle, c.density+0.01, "what the median reads, so that the bound tells them apart")
	}
}

// TestErrorOfTheMean holds the told error of a mean against how means scatter, and that rounding is in it where nothing else
// scatters.
func TestErrorOfTheMean(t *testing.T) {
	random := rand.New(rand.NewPCG(3, 4))
	var squares, told float64
	const n = 60
	for range n {
		p, err := picture.PatchAt(grainy(1, 0.03, 16, random), 0, picture.Point{X: 150, Y: 150}, 60)
		require.NoError(t, err)
		off := p.Mean(nil) - 0.1
		squares += off * off
		told += p.MeanSD(nil, 16) * p.MeanSD(nil, 16)
	}
	assert.InEpsilon(t, math.Sqrt(squares/n), math.Sqrt(told/n), 0.35)

	// All pixels have the same of 8 bits: the mean is off by a part of a level that nothing tells.
	p, err := picture.PatchAt(grainy(1, 0, 8, random), 0, picture.Point{X: 150, Y: 150}, 60)
	require.NoError(t, err)
	level := 1.0 / 255
	assert.InEpsilon(t, level/math.Sqrt(12), p.MeanSD(nil, 8), 0.01)
	square := func(v float64) float64 { return v * v }
	assert.InEpsilon(t, 2*p.Mean(nil)*level/math.Sqrt(12), p.MeanSD(square, 8), 0.01, "decoded")
	assert.InDelta(t, square(p.Mean(nil)), p.Mean(square), 1e-12)
}

// TestRoundedIsNoDust holds that of a file of 8 bits whose pixels have nearly all one value the others are kept.
func TestRoundedIsNoDust(t *testing.T) {
	random := rand.New(rand.NewPCG(3, 5))
	level := 1.0 / 255
	im := grainy(1, 0, 8, random)
	for i := range im.Planes[0].Values {
		v := 24.3 + 0.25*random.NormFloat64() // of 255
		im.Planes[0].Values[i] = uint16(257 * math.Round(v))
	}
	p, err := picture.PatchAt(im, 0, picture.Point{X: 150, Y: 150}, 200)
	require.NoError(t, err)
	assert.Zero(t, p.SetAside)
	assert.InDelta(t, 24.3*level, p.Mean(nil), 0.12*level, "the mode is 0.3 of a level lower")
}

// TestValuesEvenlyTaken holds that a large patch keeps 65536 values from all of it.
func TestValuesEvenlyTaken(t *testing.T) {
	im := grainy(1, 0, 16, rand.New(rand.NewPCG(3, 6)))
	for i := range im.Planes[0].Values {
		im.Planes[0].Values[i] = uint16(20000 + 10*(i/im.Width) + 20*(i%im.Width))
	}
	p, err := picture.PatchAt(im, 0, picture.Point{X: 150, Y: 150}, 299)
	require.NoError(t, err)
	assert.Len(t, p.Values, 1<<16)
	assert.Equal(t, 1<<16, len(p.Quadrants[0])+len(p.Quadrants[1])+len(p.Quadrants[2])+len(p.Quadrants[3]))
	assert.InDelta(t, 20000+15*299.0, 65535*p.Mean(nil), 25)
	for _, q := range p.Quadrants {
		assert.InDelta(t, 1<<14, len(q), 500)
	}
}

// TestWarningsOfPatches holds what is told of a step: too bright, too dark, dirty, uneven; and that nothing is told of a good one.
func TestWarningsOfPatches(t *testing.T) {
	d := lighttable.Even(0.1, 0.15, 12)
	good := lighttable.Alone(d)
	device := lighttable.Flatbed(150)
	codes := func(s lighttable.Scene, device lighttable.Device) []string {
		_, _, warnings := patchesOf(t, s, device, s.Picture(device, 2))
		var out []string
		for _, w := range warnings {
			assert.NotZero(t, w.Step)
			out = append(out, w.Code)
		}
		return out
	}
	for seed := range uint64(10) {
		good.Seed = seed
		assert.Empty(t, codes(good, device))
	}
	bright := device
	bright.Exposure = 1.7
	assert.Contains(t, codes(good, bright), "step_at_full")
	dark := device
	dark.Offset = -0.02
	assert.Contains(t, codes(good, dark), "step_at_black")
	noisy := good
	noisy.Rows = slices.Clone(good.Rows)
	noisy.Rows[0].Grain = 40
	coarse := device
	coarse.Noise = 0.006
	for seed := range uint64(5) {
		noisy.Seed = seed
		assert.NotContains(t, codes(noisy, coarse), "step_uneven", "quarters of noise differ")
	}
	dirty := good
	dirty.Specks = nil
	for i := range 5 {
		dirty.Specks = append(dirty.Specks, lighttable.Speck{At: lighttable.Point{X: good.Rows[0].At.X + 1.2*float64(i%4) - 5, Y: good.Rows[0].At.Y + 2*float64(i/4) - 2}, Radius: 0.2, Density: 0.5})
	}
	assert.Contains(t, codes(dirty, device), "step_set_aside")
	dirty.Specks = dirty.Specks[:1]
	assert.NotContains(t, codes(dirty, device), "step_set_aside")
	for _, share := range []float64{0.003, 0.02} {
		im := grainy(0.5, 0, 16, rand.New(rand.NewPCG(3, 9)))
		for i := range im.Planes[0].Values {
			if i%1000 < int(1000*share) {
				im.Planes[0].Values[i] = 65535
			}
		}
		p, err := picture.PatchAt(im, 0, picture.Point{X: 150, Y: 150}, 200)
		require.NoError(t, err)
		assert.Equal(t, share > 0.005, p.Clipped())
		assert.InDelta(t, share, p.High, 0.002)
	}
	uneven := good
	uneven.Scratches = []lighttable.Scratch{{From: lighttable.Point{X: 0, Y: good.Rows[0].At.Y + 5}, To: lighttable.Point{X: 100, Y: good.Rows[0].At.Y + 5}, Width: 10, Density: 0.02}}
	assert.Contains(t, codes(uneven, device), "step_uneven")
}

// TestKindsOfDirt holds that single pixels, faint smears and their blurred borders are set aside, and little else.
func TestKindsOfDirt(t *testing.T) {
	random := rand.New(rand.NewPCG(3, 8))
	at := picture.Point{X: 150, Y: 150}
	read := func(dirty func(x, y int) float64) (off float64, aside int) {
		im := grainy(0.5, 0.01, 16, random)
		clean, err := picture.PatchAt(im, 0, at, 200)
		require.NoError(t, err)
		assert.Less(t, clean.SetAside, 100)
		for i, v := range im.Planes[0].Values {
			im.Planes[0].Values[i] = uint16(float64(v) * dirty(i%im.Width, i/im.Width))
		}
		p, err := picture.PatchAt(im, 0, at, 200)
		require.NoError(t, err)
		return math.Abs(math.Log10(p.Mean(nil) / clean.Mean(nil))), p.SetAside
	}
	// Grain scatters by 2.3 %. A pixel of seven sd alone does not show in the mean of nine.
	off, aside := read(func(x, y int) float64 {
		if x%20 == 3 && y%20 == 3 {
			return 1.2
		}
		return 1
	})
	assert.Greater(t, aside, 2000, "of 100 places with 25 pixels each")
	assert.Less(t, off, 0.0003)
	// A smear of two sd, as large as 400 pixels, does not show in any single one.
	off, aside = read(func(x, y int) float64 {
		if (x-100)/20 == 2 && (y-100)/20 == 2 {
			return 0.95
		}
		return 1
	})
	assert.Greater(t, aside, 380)
	assert.Less(t, off, 0.0003)
	// Round dust with a border as of a wide blur, over a quarter of the patch in one corner, towards which a plane leans.
	off, _ = read(func(x, y int) float64 {
		d := math.Hypot(float64(x-85), float64(y-85)) - 60
		return 1 - 0.6/(1+math.Exp(d/1.5))
	})
	assert.Less(t, off, 0.0003)

	// Light that falls off by a tenth across, and in it a smear that only a plane tells from it.
	im := grainy(0.5, 0.001, 16, random)
	clean := 0.0
	for _, smear := range []float64{1, 0.97} {
		for i := range im.Planes[0].Values {
			x, y := i%im.Width, i/im.Width
			v := 20000 * (1 - float64(x)/3000) * (1 + 0.003*random.NormFloat64())
			if (x-60)/40 == 3 && (y-60)/40 == 2 {
				v *= smear
			}
			im.Planes[0].Values[i] = uint16(v)
		}
		p, err := picture.PatchAt(im, 0, at, 200)
		require.NoError(t, err)
		if smear == 1 {
			assert.Less(t, p.SetAside, 300)
			clean = p.Mean(nil)
			continue
		}
		assert.Greater(t, p.SetAside, 1600)
		assert.InDelta(t, 0, math.Log10(p.Mean(nil)/clean), 0.0006)
	}
}
