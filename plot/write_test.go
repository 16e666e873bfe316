package plot

import (
	"bytes"
	"encoding/binary"
	"encoding/xml"
	"errors"
	"flag"
	"image/png"
	"io"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/plot/vg"

	"sensito/plot/internal/figure"
	"sensito/plot/internal/plottest"
	"sensito/sensito/scene"
)

var update = flag.Bool("update", false, "rewrite the drawings in testdata/plot")

// golden are the figures whose drawings are kept.
var golden = []string{"curves-slip", "curves-relative", "family-mark-contact-2", "scene-contact-2", "roll-contact-2", "card-contact-2", "card-index-contact-2", "paper-foxglove", "tone-seven", "tone-thirds", "compare-three", "compare-gradient", "proposal-contact-5", "sheet-tray", "log-three"}

var svgNumber = regexp.MustCompile(`-?\d+(\.\d+)?`)

// The drawings are compared as text: all but numbers must be the same, and
// numbers within 0.05 points, so that the last digit of another processor does
// not matter.
func TestDrawings(t *testing.T) {
	figs := figures(t)
	for _, name := range golden {
		t.Run(name, func(t *testing.T) {
			var out bytes.Buffer
			require.NoError(t, Write(&out, figs[name], SVG))
			path := filepath.Join("..", "testdata", "plot", name+".svg")
			if *update {
				require.NoError(t, os.WriteFile(path, out.Bytes(), 0o644))
			}
			want, err := os.ReadFile(path)
			require.NoError(t, err)
			got := out.Bytes()
			mask := []byte("#")
			wantLines := bytes.Split(svgNumber.ReplaceAll(want, mask), []byte("\n"))
			gotLines := bytes.Split(svgNumber.ReplaceAll(got, mask), []byte("\n"))
			for i := range min(len(wantLines), len(gotLines)) {
				if !bytes.Equal(wantLines[i], gotLines[i]) {
					require.Fail(t, "drawing changed", "line %d, numbers masked:\n%.200s\n%.200s", i+1, gotLines[i], wantLines[i])
				}
			}
			require.Len(t, gotLines, len(wantLines))
			gotNumbers, wantNumbers := svgNumber.FindAll(got, -1), svgNumber.FindAll(want, -1)
			for i, n := range wantNumbers {
				w, err := strconv.ParseFloat(string(n), 64)
				require.NoError(t, err)
				g, err := strconv.ParseFloat(string(gotNumbers[i]), 64)
				require.NoError(t, err)
				if math.Abs(w-g) > 0.05 {
					require.Fail(t, "number moved", "the %dth number is %s, not %s", i+1, gotNumbers[i], n)
				}
			}
		})
	}
}

func TestWriteSVG(t *testing.T) {
	c, err := scene.NewCard(plottest.Family(t, plottest.MadeUp(t, plottest.Contact, false, 5, 10)), plottest.SceneOf(0))
	require.NoError(t, err)
	fig, err := Card(c, Options{Title: "Süd & <West>"})
	require.NoError(t, err)
	var out bytes.Buffer
	require.NoError(t, Write(&out, fig, SVG))
	assert.Regexp(t, `<title id="title-[0-9a-f]{8}">Süd &amp; &lt;West&gt;</title>`, out.String())
	assert.NotContains(t, out.String(), "style", "a page may forbid styles")

	d := xml.NewDecoder(&out)
	var found []string
	for {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		require.NoError(t, err)
		if text, ok := token.(xml.CharData); ok {
			found = append(found, string(text))
		}
	}
	assert.Contains(t, strings.Join(strings.Fields(strings.Join(found, " ")), " "), figure.Caution, "text stays text")
}

func TestWritePNG(t *testing.T) {
	for name, fig := range figures(t) {
		if name != "curves-five" && name != "card-contact-5" && name != "scene-contact-4" {
			continue
		}
		var out bytes.Buffer
		require.NoError(t, Write(&out, fig, PNG))
		dpi := float64(figure.PngDPI)
		if strings.HasPrefix(name, "card") {
			dpi = 300
		}
		// pHYs (W3C PNG, 11.3.4.3): dots a metre, of 39.37 inches.
		_, after, found := bytes.Cut(out.Bytes(), []byte("pHYs"))
		require.True(t, found)
		for _, at := range []int{0, 4} {
			assert.InDelta(t, dpi*39.37, float64(binary.BigEndian.Uint32(after[at:])), 0.6)
		}
		assert.EqualValues(t, 1, after[8])
		img, err := png.Decode(&out)
		require.NoError(t, err)
		size := img.Bounds().Size()
		assert.InDelta(t, float64(fig.Width/vg.Inch)*dpi, float64(size.X), 1)
		assert.InDelta(t, float64(fig.Height/vg.Inch)*dpi, float64(size.Y), 1)
		dark := 0
		for y := range size.Y {
			for x := range size.X {
				if r, _, _, _ := img.At(x, y).RGBA(); r < 0x8000 {
					dark++
				}
			}
		}
		share := float64(dark) / float64(size.X*size.Y)
		assert.True(t, share > 0.005 && share < 0.2, "%s: %.3f of the page is dark", name, share)
		r, g, b, a := img.At(9, 9).RGBA()
		assert.Equal(t, [4]uint32{0xffff, 0xffff, 0xffff, 0xffff}, [4]uint32{r, g, b, a}, "the page is white")
	}
}

func TestWritePDF(t *testing.T) {
	fig := figures(t)["card-contact-4"]
	var out bytes.Buffer
	require.NoError(t, Write(&out, fig, PDF))
	assert.True(t, bytes.HasPrefix(out.Bytes(), []byte("%PDF-")))
	assert.NotContains(t, out.String(), "CreationDate")
	assert.NotContains(t, out.String(), "ModDate")

	// The offsets in the table at the end still point at the table.
	at := regexp.MustCompile(`startxref\n(\d+)\n%%EOF`).FindSubmatch(out.Bytes())
	require.NotNil(t, at)
	offset, err := strconv.Atoi(string(at[1]))
	require.NoError(t, err)
	assert.True(t, bytes.HasPrefix(out.Bytes()[offset:], []byte("xref")))
}

// A PDF holds the title, no date, and the letters used of the fonts: 219 kB were
// written where fonts stood in it whole.
func TestPDFIsSmall(t *testing.T) {
	for name, fig := range figures(t) {
		var out bytes.Buffer
		require.NoError(t, Write(&out, fig, PDF), name)
		assert.Less(t, out.Len(), 60_000, name)
	}
}

// A letter that no font has is named, unless the reader of the file has fonts.
func TestLettersSurvive(t *testing.T) {
	c, err := scene.NewCard(plottest.Family(t, plottest.MadeUp(t, plottest.Contact, false, 5, 10)), plottest.SceneOf(0))
	require.NoError(t, err)
	for title, missing := range map[string]rune{"Süd": 0, "Пленка Łódź": 0, "Süd 東": '東'} {
		fig, err := Card(c, Options{Title: title})
		require.NoError(t, err)
		var svg bytes.Buffer
		require.NoError(t, Write(&svg, fig, SVG))
		assert.Contains(t, svg.String(), ">"+title+"</text>")
		for _, format := range []string{PNG, PDF} {
			var out bytes.Buffer
			err := Write(&out, fig, format)
			if missing == 0 {
				require.NoError(t, err)
				continue
			}
			var lost *MissingLetterError
			require.ErrorAs(t, err, &lost)
			assert.Equal(t, MissingLetterError{Letter: missing, Text: title, Format: strings.ToUpper(format)}, *lost)
			assert.Zero(t, out.Len(), "nothing is written")
		}
	}
}

func TestWriteIsRepeatable(t *testing.T) {
	build := func() *Figure {
		fig, err := Curves(plottest.Measured(t, plottest.MadeUp(t, plottest.Contact, true, 6, 9)), Options{})
		require.NoError(t, err)
		return fig
	}
	one, other := build(), build()
	for _, format := range []string{SVG, PNG, PDF} {
		var a, b, c bytes.Buffer
		require.NoError(t, Write(&a, one, format))
		require.NoError(t, Write(&b, one, format))
		require.NoError(t, Write(&c, other, format))
		assert.True(t, bytes.Equal(a.Bytes(), b.Bytes()), format)
		assert.True(t, bytes.Equal(a.Bytes(), c.Bytes()), format)
	}
}

func TestFormatOf(t *testing.T) {
	for path, want := range map[string]string{"a.svg": SVG, "dir.x/b.PNG": PNG, "c.d.pdf": PDF} {
		got, err := FormatOf(path)
		require.NoError(t, err)
		assert.Equal(t, want, got)
	}
	for path, want := range map[string]string{
		"a.gif":   `a.gif: ".gif" is not an ending for a figure; use .svg, .png, .pdf or .csv`,
		"b.svg/c": `b.svg/c: "" is not an ending for a figure; use .svg, .png, .pdf or .csv`,
	} {
		_, err := FormatOf(path)
		assert.EqualError(t, err, want)
	}
	var out bytes.Buffer
	assert.EqualError(t, Write(&out, figures(t)["curves-slip"], "gif"), `figure format "gif" is not svg, png, pdf or csv`)
	assert.Zero(t, out.Len())
}
