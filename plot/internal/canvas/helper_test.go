package canvas

import (
	"bytes"
	"compress/zlib"
	"encoding/xml"
	"errors"
	"fmt"
	"image/color"
	"io"
	"maps"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"unicode/utf16"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/plot/vg"
)

// drawing returns a page of 200 by 100 points.
func drawing(draw func(c vg.Canvas)) Drawing {
	return Drawing{Title: "Harrow Quay", Description: "By <lamp> & moon", Width: 200, Height: 100, DPI: 144, Draw: draw}
}

// saying returns a page with texts, one line below the other.
func saying(lines ...string) Drawing {
	return drawing(func(c vg.Canvas) {
		for i, s := range lines {
			c.FillString(Face(10), vg.Point{X: 10, Y: vg.Length(80 - 15*i)}, s)
		}
	})
}

// classed is a colour with a name for a page.
type classed struct{ color.Color }

func (classed) Class() string { return `ink "faint"` }

// square is a glyph of a square of half an em that begins a quarter above the
// baseline, in a font of 1000 units.
var square = outline{advance: 500, contours: [][]outlinePoint{{{0, 250, true}, {500, 250, true}, {500, 750, true}, {0, 750, true}}}}

// fontOf returns a font file of glyphs, with the tables that a PDF does not need
// but a reader of fonts does.
func fontOf(glyphs map[rune]outline) []byte {
	letters := slices.Sorted(maps.Keys(glyphs))
	all := []outline{{advance: 1000}}
	var cmap, post table
	cmap.u16(0, 1, 3, 10) // one, of Unicode
	cmap.u32(12)
	cmap.u16(12, 0)
	cmap.u32(16+12*len(letters), 0, len(letters))
	for i, r := range letters {
		all = append(all, glyphs[r])
		cmap.u32(int(r), int(r), i+1)
	}
	post.u32(0x00030000, 0, 0, 0, 0, 0, 0, 0)
	return withTables(trueType(all, 1000, 800, 200), map[string]table{"cmap": cmap, "post": post})
}

// withTables returns a font file with more tables.
func withTables(file []byte, more map[string]table) []byte {
	n := int(file[5])
	for i := range n {
		entry := file[12+16*i:]
		at, length := be32(entry[8:]), be32(entry[12:])
		more[string(entry[:4])] = file[at : at+length]
	}
	copy(more["head"][8:12], "\x00\x00\x00\x00") // what the sum was without them
	names := slices.Sorted(maps.Keys(more))
	var all []table
	for _, name := range names {
		all = append(all, more[name])
	}
	return tables(names, all)
}

func be32(b []byte) int { return int(b[0])<<24 | int(b[1])<<16 | int(b[2])<<8 | int(b[3]) }

// fallback returns a font whose every letter is a square.
func fallback(t testing.TB, letters string) *Font {
	t.Helper()
	glyphs := map[rune]outline{}
	for _, r := range letters {
		glyphs[r] = square
	}
	f, err := ParseFont(fontOf(glyphs))
	require.NoError(t, err)
	return f
}

func written(t testing.TB, write func(io.Writer, Drawing) error, d Drawing) string {
	t.Helper()
	var out bytes.Buffer
	require.NoError(t, write(&out, d))
	return out.String()
}

// parsed is an element of an SVG.
type parsed struct {
	name string
	attr map[string]string // those of its groups too
	text string
}

// parse reads an SVG, which is to be well formed.
func parse(t testing.TB, svg string) []*parsed {
	t.Helper()
	var all, open []*parsed
	d := xml.NewDecoder(strings.NewReader(svg))
	for {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			return all
		}
		require.NoError(t, err)
		switch token := token.(type) {
		case xml.StartElement:
			p := &parsed{name: token.Name.Local, attr: map[string]string{}}
			if len(open) > 0 {
				maps.Copy(p.attr, open[len(open)-1].attr)
			}
			for _, a := range token.Attr {
				p.attr[a.Name.Local] = a.Value
			}
			all, open = append(all, p), append(open, p)
		case xml.EndElement:
			open = open[:len(open)-1]
		case xml.CharData:
			if len(open) > 0 {
				open[len(open)-1].text += string(token)
			}
		}
	}
}

// named returns the elements of a name.
func named(all []*parsed, name string) (found []*parsed) {
	for _, p := range all {
		if p.name == name {
			found = append(found, p)
		}
	}
	return found
}

// pdf is what a reader finds in a file.
type pdf struct {
	objects map[int]string
	page    string // the content, unpacked
}

var (
	pdfObject = regexp.MustCompile(`(?s)(\d+) 0 obj\n(.*?)\nendobj\n`)
	pdfStream = regexp.MustCompile(`(?s)^(<<.*?>>)\nstream\n(.*)\nendstream$`)
)

func open(t testing.TB, file string) pdf {
	t.Helper()
	p := pdf{objects: map[int]string{}}
	for _, m := range pdfObject.FindAllStringSubmatch(file, -1) {
		body := m[2]
		if s := pdfStream.FindStringSubmatch(body); s != nil {
			z, err := zlib.NewReader(strings.NewReader(s[2]))
			require.NoError(t, err)
			data, err := io.ReadAll(z)
			require.NoError(t, err)
			body = string(data)
		}
		p.objects[number(t, m[1])] = body
	}
	for _, o := range p.objects {
		if strings.HasPrefix(o, "<</Type/Page/") {
			p.page = p.follow(t, o, "Contents")
		}
	}
	require.NotEmpty(t, p.page)
	return p
}

func number(t testing.TB, s string) int {
	t.Helper()
	n, err := strconv.Atoi(s)
	require.NoError(t, err)
	return n
}

// follow returns the object that a key of a dictionary refers to.
func (p pdf) follow(t testing.TB, dictionary, key string) string {
	t.Helper()
	m := regexp.MustCompile(`/` + key + `\[?(?: |)(\d+) 0 R`).FindStringSubmatch(dictionary)
	require.NotNil(t, m, "%s in %s", key, dictionary)
	return p.objects[number(t, m[1])]
}

// set is a piece of text on a page.
type set struct {
	text  string
	font  string
	width float64 // in em
}

var (
	pdfShow   = regexp.MustCompile(`/(F\d+) \S+ Tf|\[([^]]*)\] TJ`)
	pdfItem   = regexp.MustCompile(`<([0-9a-f]*)>|(-?\d+)`)
	pdfLetter = regexp.MustCompile(`<([0-9a-f]{4})> <([0-9a-f]+)>\n`)
)

// texts returns what stands on the page, by what the file says of its codes.
func (p pdf) texts(t testing.TB) (all []set) {
	t.Helper()
	var page, font string
	for _, o := range p.objects {
		if strings.HasPrefix(o, "<</Type/Page/") {
			page = o
		}
	}
	for _, m := range pdfShow.FindAllStringSubmatch(p.page, -1) {
		if m[1] != "" {
			font = m[1]
			continue
		}
		dictionary := p.follow(t, page, font)
		letters := map[string]string{}
		for _, l := range pdfLetter.FindAllStringSubmatch(p.follow(t, dictionary, "ToUnicode"), -1) {
			letters[l[1]] = fromUTF16(t, l[2])
		}
		descendant := p.follow(t, dictionary, "DescendantFonts")
		_, after, _ := strings.Cut(descendant, "/W[1[")
		widths := strings.Fields(after[:strings.Index(after, "]")])
		s := set{font: font}
		for _, item := range pdfItem.FindAllStringSubmatch(m[2], -1) {
			if item[2] != "" {
				s.width -= float64(number(t, item[2])) / 1000
			}
			for code := item[1]; code != ""; code = code[4:] {
				require.Contains(t, letters, code[:4])
				s.text += letters[code[:4]]
				n, err := strconv.ParseInt(code[:4], 16, 32)
				require.NoError(t, err)
				w, err := strconv.ParseFloat(widths[n-1], 64)
				require.NoError(t, err)
				s.width += w / 1000
			}
		}
		all = append(all, s)
	}
	return all
}

func fromUTF16(t testing.TB, hex string) string {
	t.Helper()
	var units []uint16
	for ; hex != ""; hex = hex[4:] {
		var u uint16
		_, err := fmt.Sscanf(hex[:4], "%04x", &u)
		require.NoError(t, err)
		units = append(units, u)
	}
	return string(utf16.Decode(units))
}
