package pictures

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito/notebook"
	"sensito/sensito/picture"
)

// made returns the calibration of a tablet whose patches are a formula.
func made(t testing.TB) *picture.Calibration {
	r := rand.New(rand.NewPCG(1, 1))
	told := picture.Tablet{Name: "21 steps, \"No. 17\"", Known: picture.Certificate, MadeOf: "ink"}
	var patches []picture.Patch
	for i := range 21 {
		d := 0.05 + 0.15*float64(i)
		told.Density = append(told.Density, d+0.01*r.NormFloat64())
		p := picture.Patch{Step: i + 1, Pixels: 500, SetAside: i}
		for k := range 400 {
			v := uint16(65535 * (0.8*math.Pow(10, -d)*(1+0.03*r.NormFloat64()) + 0.001))
			p.Values = append(p.Values, v)
			p.Quadrants[k%4] = append(p.Quadrants[k%4], v)
		}
		patches = append(patches, p)
	}
	patches[20].Low = 0.5 // of no use, so that a nan is in the file
	c, _, err := picture.Calibrate(picture.Calibrating{Name: "bed 2026-11", Tablet: told, Patches: patches, Image: &picture.Image{Bits: 16},
		Told: picture.Taken{SHA256: "1f0c", PixelsPerInch: 600, Bits: 16, Channels: 3, Device: "flatbed", Software: "own", Profile: "linear", Made: "2026-11-27", Channel: "green", Surround: "mask"}})
	require.NoError(t, err)
	return c
}

// A calibration comes back from its file to the last digit, and reads as it did.
func TestCalibrationRoundTrip(t *testing.T) {
	c := made(t)
	for name, change := range map[string]func(c *picture.Calibration){
		"as made": func(*picture.Calibration) {},
		"by a told encoding, anchored": func(c *picture.Calibration) {
			c.Fit.Method, c.Fit.Encoding, c.Fit.Glare = picture.GlareMethod, "2.2", [4]float64{0.85, 0.004, 0, -1e-7}
			c.Fit.Anchored, c.Fit.Exponent, c.Fit.ExponentSD = [2]float64{-0.012, 0.041}, 2.1999, 0.004
			c.Fit.Opaque, c.Fit.Open = 0, 0.8501234567890123
			c.Fit.Near = slices.Clone(c.Fit.Near)
			c.Fit.Near[3], c.Fit.Share = 0.7123456789012345, picture.Shares{Mean: [2]float64{0.0061, -0.001}, Cov: [2][2]float64{{2e-5, -3e-6}, {-3e-6, 1e-5}}}
		},
		"made even": func(c *picture.Calibration) { c.Picture.Empty, c.Fit.Empty = "7f72", 0.9181279089217081 },
		"of a grey scale on paper": func(c *picture.Calibration) {
			c.Tablet.Geometry, c.Tablet.MadeOf = picture.Reflection, ""
			c.Tablet.Density = slices.Clone(c.Tablet.Density)
			for i := range c.Tablet.Density {
				c.Tablet.Density[i] *= 0.6
			}
		},
		"of little that is told": func(c *picture.Calibration) { c.Name, c.Picture = "", picture.Taken{} },
	} {
		t.Run(name, func(t *testing.T) {
			spec := *c
			change(&spec)
			want, err := picture.NewCalibration(spec)
			require.NoError(t, err)
			file := FormatCalibration(want)
			assert.Equal(t, notebook.PictureKind, notebook.KindOf(file))
			got, err := ReadCalibration("bed.toml", strings.NewReader(string(file)))
			require.NoError(t, err, "%s", file)
			assert.Equal(t, fmt.Sprintf("%+v", want.Fit), fmt.Sprintf("%+v", got.Fit))
			assert.Equal(t, want.Tablet, got.Tablet)
			assert.Equal(t, want.Picture, got.Picture)
			assert.Equal(t, want.Name, got.Name)
			assert.Equal(t, string(file), string(FormatCalibration(got)))

			tablet, err := ReadTablet("bed.toml", strings.NewReader(string(file)))
			require.NoError(t, err)
			assert.Equal(t, want.Tablet, tablet)
		})
	}
}

func TestTabletFile(t *testing.T) {
	want := made(t).Tablet
	got, err := ReadTablet("tablet.toml", strings.NewReader(string(FormatTablet(want))))
	require.NoError(t, err)
	assert.Equal(t, want, got)

	got, err = ReadTablet("tablet.toml", strings.NewReader("kind = \"picture\"\n[tablet]\nname = \"21 steps\"\nfirst = 0.05\nstep = 0.15\ncount = 21\n"))
	require.NoError(t, err)
	assert.Len(t, got.Density, 21)
	assert.InDelta(t, 3.05, got.Density[20], 1e-12)
	assert.Equal(t, 0.5, got.Density[3])
	assert.Equal(t, picture.Nominal, got.Known)

	_, err = ReadCalibration("tablet.toml", strings.NewReader(string(FormatTablet(want))))
	assert.EqualError(t, err, "tablet.toml:1: fit: is missing")
}

// Every fault is told with its line.
func TestCalibrationFaults(t *testing.T) {
	good := string(FormatCalibration(made(t)))
	for _, c := range []struct{ old, new, want string }{
		{"[fit]", "[fit]\nexponnet = 1", `bed.toml:30: fit.exponnet: unknown key; did you mean "exponent"?`},
		{"[tablet]", "[tablet]\nsteps = 3", `bed.toml:5: tablet.steps: unknown key; did you mean "step"?`},
		{"[picture]", "[pictures]", `bed.toml:17: pictures: unknown key; did you mean "picture"?`},
		{`kind = "picture"`, `kind = "pictures"`, `bed.toml:1: kind: "pictures" is not a calibration of pictures`},
		{"2026-11-27", `"soon"`, `bed.toml:25: picture.made: "soon" is not a date like 2026-03-01`},
		{`"mask"`, `"lid"`, `bed.toml:27: picture.surround: "lid" is not mask or open`},
		{"bits = 16", "bits = 64", `bed.toml:20: picture.bits: 64 is outside 1 to 32`},
		{`method = "smooth"`, `method = "rough"`, `bed.toml:30: fit.method: "rough" is not smooth or glare`},
		{`method = "smooth"`, `method = "glare"`, `bed.toml:29: fit.glare: is missing, or its first number is not above 0`},
		{`encoding = "auto"`, `encoding = "film"`, `bed.toml:31: fit.encoding: encoding "film" is not auto, linear, srgb or an exponent from 0.2 to 5`},
		{`known = "certificate"`, `known = "certificate"` + "\nfirst = 0.05", "bed.toml:14: tablet.first: does not go with density; list the steps or give first, step and count, not both"},
		{`known = "certificate"`, `known = "yes"`, `bed.toml:13: tablet.known: "yes" is not certificate or nominal`},
		{"step_sd", "# step_sd", "bed.toml:29: fit.step_sd: is missing"},
		{"covariance = [\n", "covariance = [\n  [1],\n", "bed.toml:49: fit.covariance: has 4 rows; it is that of offset, scale and curvature, 3 by 3\nbed.toml:49: fit.covariance[1]: has 1 numbers, not 3"},
		{"covariance = [\n  [", "covariance = [\n  [-", "bed.toml:49: fit.covariance: is not a covariance: three rows of three numbers, alike across its diagonal, with no variance below 0"},
		{"share = [0.005, 0.005]", "share = [0.005]", "bed.toml:64: fit.share: has 1 numbers, not 2"},
		{"share_covariance = [[", "share_covariance = [[0.1], [", "bed.toml:65: fit.share_covariance: has 3 rows; it is that of near and far glare, 2 by 2"},
		{"share_covariance = [[", "share_covariance = [[-", "bed.toml:65: fit.share_covariance: is not a covariance: two rows of two numbers, alike across its diagonal, with no variance below 0"},
		{"share_covariance = [[0.000025, 0], [0, 0.000025]]", "share_covariance = [[0.000025, 0.00003], [0.00003, 0.000025]]", "bed.toml:65: fit.share_covariance: is not a covariance"},
		{"near = [\n  nan", "near = [\n  2.5", "bed.toml:55: fit.near[1]: 2.5 is outside 0 to 2"},
		{"share = [", "# share = [", "bed.toml:29: fit.share: is missing"},
		{"reads_to = ", "reads_to = 1", "bed.toml:47: fit.reads_to: 12"},
	} {
		text := strings.Replace(good, c.old, c.new, 1)
		require.NotEqual(t, good, text, c.old)
		got, err := ReadCalibration("bed.toml", strings.NewReader(text))
		assert.Nil(t, got)
		require.Error(t, err, c.new)
		assert.True(t, strings.HasPrefix(err.Error(), c.want), "%s\nwant %s", err, c.want)
	}
	for text, want := range map[string]string{
		"[film]\nname = \"Tern 400\"\n":                                                                  "t.toml:1: is a trial of film (for sensito curve, family, scene or card), and a calibration of pictures was wanted",
		"kind = \"picture\"\n":                                                                           "t.toml:1: tablet: is missing",
		"kind = \"picture\"\n[tablet]\nfirst = 0.1\n":                                                    "t.toml:2: tablet.step: is missing\nt.toml:2: tablet.count: is missing",
		"kind = \"picture\"\n[tablet]\nfirst = 0.1\nstep = 0\ncount = 9\n":                               "t.toml:4: tablet.step: ",
		"kind = \"picture\"\n[tablet]\nname = \"x\"\n":                                                   "t.toml:2: tablet.density: is missing",
		"kind = \"picture\"\n[tablet]\nknown = \"certificate\"\nfirst = 0.05\nstep = 0.15\ncount = 21\n": "t.toml:3: tablet.known: equal steps are those of a kind of tablet, which is nominal; list the densities of the certificate",
		"kind = \"picture\"\n[tablet\n":                                                                  "t.toml:2: ",
		"kind = \"picture\"\n[tablet]\ndensity = [0.1, \"x\"]\n":                                         "t.toml:3: tablet.density[2]: must be a number, not text",
	} {
		_, err := ReadTablet("t.toml", strings.NewReader(text))
		require.Error(t, err, text)
		assert.True(t, strings.HasPrefix(err.Error(), want), "%s\nwant %s", err, want)
	}
	_, err := notebook.Read("bed.toml", strings.NewReader(good))
	assert.EqualError(t, err, "bed.toml:1: is a calibration of pictures (for sensito picture --by or --tablet), and a trial was wanted")
	assert.Equal(t, notebook.PictureKind, notebook.KindOf([]byte("[tablet]\nfirst = 0.05\n")))

	dir := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(dir, "bed.toml"), []byte(good), 0o600))
	list, err := notebook.List(dir)
	require.NoError(t, err)
	require.Len(t, list, 1)
	assert.Equal(t, notebook.PictureKind, list[0].Kind)
}

func FuzzReadCalibration(f *testing.F) {
	good := FormatCalibration(made(f))
	f.Add(good)
	f.Add(FormatTablet(made(f).Tablet))
	f.Add([]byte("kind = \"picture\"\n[fit]\ncovariance = [[1, 2], 3]\nvalue = [nan]\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		c, err := ReadCalibration("f.toml", strings.NewReader(string(data)))
		if err != nil {
			if c != nil || !strings.HasPrefix(err.Error(), "f.toml:") {
				t.Fatalf("%v, %v", c, err)
			}
			return
		}
		again, err := ReadCalibration("f.toml", strings.NewReader(string(FormatCalibration(c))))
		if err != nil || string(FormatCalibration(again)) != string(FormatCalibration(c)) {
			t.Fatalf("%v\n%s", err, FormatCalibration(c))
		}
	})
}
