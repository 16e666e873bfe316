package main

import (
	"bytes"
	"image"
	"image/jpeg"
	"os"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito/notebook/pictures"
	"sensito/sensito/picture/lighttable"
)

// demoDensities are the exact densities of the strip in the picture of the demo, its first step exposed most: between
// the curves of the strips of 7:00 and 9:15 of larkfield-ashlar.toml, as one of 8:00 would be.
var demoDensities = []float64{1.7959, 1.6930, 1.5886, 1.4839, 1.3804, 1.2774, 1.1723, 1.0654, 0.9595, 0.8551, 0.7510,
	0.6478, 0.5474, 0.4527, 0.3670, 0.2944, 0.2385, 0.2001, 0.1762, 0.1619, 0.1536}

const demoBase = 0.145

// demoTablet are the densities of tablet.toml.
var demoTablet = []float64{0.05, 0.20, 0.35, 0.49, 0.64, 0.80, 0.95, 1.10, 1.26, 1.41, 1.55, 1.70, 1.85, 1.99, 2.14, 2.30, 2.45, 2.61, 2.76, 2.90, 3.05}

// demoScene is that strip above a tablet of 21 steps, in a mask, laid a little askew.
func demoScene() lighttable.Scene {
	s := lighttable.Beside(demoDensities, demoTablet)
	s.Rows[0].Base = demoBase
	s.Masked = true
	return s.Turned(0.6)
}

// The picture of the demo is what the generator makes, but for the last bit that is kept: values of 12 bits pack well.
// -update rewrites it.
func TestDemoPicture(t *testing.T) {
	const kept = 0xfff0
	want := demoScene().Picture(lighttable.Flatbed(75), 8)
	for i, v := range want.Planes[0].Values {
		want.Planes[0].Values[i] = v & kept
	}
	if *update {
		require.NoError(t, os.WriteFile("demo/"+demoPicture, lighttable.PNG(want), 0o644))
	}
	data, err := os.ReadFile("demo/" + demoPicture)
	require.NoError(t, err)
	assert.Less(t, len(data), 60_000)
	got, err := pictures.Read(bytes.NewReader(data), int64(len(data)), demoPicture)
	require.NoError(t, err)
	require.Equal(t, []int{want.Width, want.Height, 16}, []int{got.Width, got.Height, got.Bits})
	for i, v := range want.Planes[0].Values {
		if d := int(v) - int(got.Planes[0].Values[i]); max(d, -d) > 0x10 {
			t.Fatalf("pixel %d differs by %d: go test ./cmd/sensito -run TestDemoPicture -update makes the picture anew", i, d)
		}
	}
}

// cmdPicture writes a picture of the strip and the tablet of the demo, with black tape and a clear place beside them, and
// sets ENDS, TABLET, FOG, TAPE and CLEAR to where they lie. HOW is any of
// mirrored, quarter, skew, open, bright, over, stained, srgb, eight, jpeg, dusty, apart (without the tablet), again (laid anew),
// dark (corners and the right of the table are darker), empty (nothing lies on it):
//
//	picture FILE [HOW]...
func cmdPicture(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 1 {
		ts.Fatalf("usage: picture FILE [HOW]...")
	}
	const perInch = 75
	s, d, seed, bare := demoScene(), lighttable.Flatbed(perInch), uint64(8), false
	for _, how := range args[1:] {
		if how == "apart" {
			s = lighttable.Alone(demoDensities)
			s.Rows[0].Base, s.Masked = demoBase, true
		}
	}
	s = s.WithPlaces()
	for _, how := range args[1:] {
		switch how {
		case "apart":
		case "mirrored":
			s.Mirrored = true
		case "quarter":
			s.Quarters = 1
		case "skew":
			s = s.Turned(2)
		case "open":
			s.Masked = false
		case "bright":
			d.Exposure = 1.1
		case "over":
			d.Exposure = 1.5
		case "stained":
			d = lighttable.Camera(perInch)
			s.Rows[0].Stain = [3]float64{0.02, 0.08, 0.20}
		case "srgb":
			d.Encode = lighttable.SRGB
		case "eight":
			d.Bits = 8
		case "jpeg":
			d.Bits, d.Encode = 8, lighttable.SRGB
		case "dusty":
			s.Dust = 20
		case "again":
			seed++
		case "dark":
			d.Uneven, d.Tilt = 0.08, 0.04
		case "empty":
			bare = true
			seed++
		default:
			ts.Fatalf("%s is no way to picture", how)
		}
	}
	im := s.Picture(d, seed)
	if bare {
		im = s.Empty().Picture(d, seed)
	}
	data := lighttable.PNG(im)
	switch {
	case strings.HasSuffix(args[0], ".tif"):
		data = lighttable.TIFF(im)
	case strings.HasSuffix(args[0], ".jpg"):
		grey := image.NewGray(image.Rect(0, 0, im.Width, im.Height))
		for i, v := range im.Planes[0].Values {
			grey.Pix[i] = byte(v >> 8)
		}
		var b bytes.Buffer
		ts.Check(jpeg.Encode(&b, grey, &jpeg.Options{Quality: 95}))
		data = b.Bytes()
	}
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), data, 0o600))
	ts.Setenv("ENDS", s.Ends(0, perInch).String())
	if len(s.Rows) > 1 {
		ts.Setenv("TABLET", s.Ends(1, perInch).String())
	}
	for name, p := range map[string]lighttable.Point{"FOG": s.Fog, "TAPE": s.Tape, "CLEAR": s.Clear} {
		ts.Setenv(name, s.Pixel(p, perInch).String())
	}
}
