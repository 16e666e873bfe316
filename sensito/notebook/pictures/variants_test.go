package pictures

import (
	"image"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/image/tiff"

	"sensito/sensito/picture"
)

// folder holds pictures made by other programs, see its make.py.
const folder = "../../../testdata/pictures"

const width, height = 21, 19

// value is that of channel c at x, y in all pictures of the folder, of 16 bits.
func value(c, x, y int) uint16 { return uint16(2621*x + 1987*y + 31*x*y + 20011*c) }

// expected is the value that is to be read of a picture by what its name says.
func expected(name string, c, x, y int) uint16 {
	v := value(c, x, y)
	if strings.HasPrefix(name, "grey8") || strings.HasPrefix(name, "rgb8") {
		v = v >> 8 * 257
	}
	if strings.Contains(name, "-white-is-zero") { // the value is what the file has
		v = 0xffff - v
	}
	return v
}

// Every form that is read gives the values of the formula, and the reader of TIFF of golang.org/x/image gives the same
// wherever it reads the file.
func TestVariants(t *testing.T) {
	read, also := 0, 0
	for _, name := range names(t, "grey", "rgb") {
		if strings.Contains(name, "-orientation-") && !strings.HasSuffix(name, "-1.tif") {
			continue
		}
		im, sum, err := OpenFile(filepath.Join(folder, name))
		if !assert.NoError(t, err) {
			continue
		}
		read++
		assert.NotZero(t, sum)
		channels := 1
		if strings.HasPrefix(name, "rgb") {
			channels = 3
		}
		require.Len(t, im.Planes, channels, name)
		assert.Equal(t, [2]int{width, height}, [2]int{im.Width, im.Height}, name)
		assert.Equal(t, map[bool]int{true: 8, false: 16}[strings.Contains(name, "8-")], im.Bits, name)
		assert.False(t, im.About.Turned, name)
		for c, p := range im.Planes {
			for i, v := range p.Values {
				if want := expected(name, c, i%width, i/width); v != want {
					t.Fatalf("%s, %s at %d, %d: %d, not %d", name, p.Name, i%width, i/width, v, want)
				}
			}
		}
		if strings.HasSuffix(name, ".tif") {
			also += asTheOther(t, name, im)
		}
	}
	assert.Equal(t, 52, read, "pictures of the folder")
	assert.Equal(t, 40, also, "pictures that the other reader reads")
}

// asTheOther compares with the other reader of TIFF, and returns 1 where it reads the file.
func asTheOther(t *testing.T, name string, im *picture.Image) int {
	f, err := os.Open(filepath.Join(folder, name))
	require.NoError(t, err)
	defer f.Close()
	other, err := tiff.Decode(f)
	if err != nil {
		return 0
	}
	for y := range im.Height {
		for x := range im.Width {
			r, g, b, _ := other.At(x, y).RGBA()
			for c, p := range im.Planes {
				require.Equal(t, uint16([]uint32{r, g, b}[c]), p.Values[y*im.Width+x], "%s at %d, %d", name, x, y)
			}
		}
	}
	return 1
}

// names returns the files of the folder that begin with one of some words.
func names(t testing.TB, begin ...string) []string {
	var out []string
	for _, b := range begin {
		found, err := filepath.Glob(filepath.Join(folder, b+"*.*"))
		require.NoError(t, err)
		for _, path := range found {
			out = append(out, filepath.Base(path))
		}
	}
	require.NotEmpty(t, out)
	return out
}

// Each turn that a file asks for is done: where the value at x, y of the file is seen, by TIFF 6.0, Orientation.
func TestOrientations(t *testing.T) {
	const right, bottom = width - 1, height - 1
	seen := map[string]func(x, y int) image.Point{
		"1": func(x, y int) image.Point { return image.Pt(x, y) },
		"2": func(x, y int) image.Point { return image.Pt(right-x, y) },
		"3": func(x, y int) image.Point { return image.Pt(right-x, bottom-y) },
		"4": func(x, y int) image.Point { return image.Pt(x, bottom-y) },
		"5": func(x, y int) image.Point { return image.Pt(y, x) },
		"6": func(x, y int) image.Point { return image.Pt(bottom-y, x) },
		"7": func(x, y int) image.Point { return image.Pt(bottom-y, right-x) },
		"8": func(x, y int) image.Point { return image.Pt(y, right-x) },
	}
	for n, at := range seen {
		im, _, err := OpenFile(filepath.Join(folder, "grey8-orientation-"+n+".tif"))
		require.NoError(t, err)
		assert.Equal(t, n != "1", im.About.Turned, n)
		if n >= "5" {
			assert.Equal(t, [2]int{height, width}, [2]int{im.Width, im.Height}, n)
		}
		for y := range height {
			for x := range width {
				p := at(x, y)
				require.Equal(t, value(0, x, y)>>8*257, im.Planes[0].Values[p.Y*im.Width+p.X], "orientation %s, %d, %d", n, x, y)
			}
		}
	}
}

// A JPEG picture of a smooth ramp is read within what its compression loses.
func TestJPEG(t *testing.T) {
	for _, name := range []string{"ramp.jpg", "ramp-progressive.jpg", "ramp-grey.jpg"} {
		im, _, err := OpenFile(filepath.Join(folder, name))
		require.NoError(t, err)
		assert.Equal(t, "JPEG", im.About.Format)
		assert.Equal(t, 8, im.Bits)
		require.Len(t, im.Planes, map[bool]int{true: 1, false: 3}[name == "ramp-grey.jpg"], name)
		for c, p := range im.Planes {
			require.Len(t, p.Values, width*height)
			for i, v := range p.Values {
				x, y := i%width, i/width
				require.Zero(t, v%257)
				require.InDelta(t, []int{40 + 4*x, 60 + 5*y, 200 - 3*x - 2*y}[c], int(v)/257, 3, "%s, %s at %d, %d", name, p.Name, x, y)
			}
		}
	}
}
