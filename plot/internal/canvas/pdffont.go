package canvas

import (
	"fmt"
	"strings"

	"golang.org/x/image/font/opentype"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
)

// pdfFont is what a file has of a font: the letters used, each by a code of its
// own, in the order of their first use.
type pdfFont struct {
	name    string // on the page
	face    *opentype.Font
	codes   map[rune]int // from 1
	letters []rune
	indices []sfnt.GlyphIndex // of the letters
}

func newPDFFont(name string, face *opentype.Font) *pdfFont {
	return &pdfFont{name: name, face: face, codes: map[rune]int{}}
}

// code returns the code of a letter.
func (f *pdfFont) code(letter rune, index sfnt.GlyphIndex) int {
	code, known := f.codes[letter]
	if !known {
		f.letters, f.indices = append(f.letters, letter), append(f.indices, index)
		code = len(f.letters)
		f.codes[letter] = code
	}
	return code
}

// add writes the font into a file and returns its number: a composite font whose
// codes are the glyphs of a TrueType file (ISO 32000-1, 9.7).
func (f *pdfFont) add(file *pdfFile) (int, error) {
	upem := float64(f.face.UnitsPerEm())
	glyphs := []outline{{advance: int(upem)}} // what stands for no letter
	var buf sfnt.Buffer
	var widths output
	for _, i := range f.indices {
		g, err := outlineOf(f.face, &buf, i)
		if err != nil {
			return 0, fmt.Errorf("font %s: %w", nameOf(f.face, sfnt.NameIDFull), err)
		}
		glyphs = append(glyphs, g)
		widths.number(1000*float64(g.advance)/upem, 2)
		widths.WriteByte(' ')
	}
	ppem := fixed.Int26_6(1000)
	bounds, err := f.face.Bounds(&buf, ppem, 0)
	if err != nil {
		return 0, err
	}
	metrics, err := f.face.Metrics(&buf, ppem, 0)
	if err != nil {
		return 0, err
	}
	data := trueType(glyphs, int(upem), int(metrics.Ascent), int(metrics.Descent))
	program := file.stream(data, fmt.Sprintf("/Length1 %d", len(data)))
	// The six letters say that the font is a part (9.6.4), flag 4 that its letters
	// have codes of its own; the thickness of stems is a usual one.
	name := "AAAAA" + string(rune('A'+file.next()%26)) + "+" + postScriptName(f.face)
	descriptor := file.object("<</Type/FontDescriptor/FontName/%s/Flags 4/FontBBox[%d %d %d %d]/ItalicAngle 0/Ascent %d/Descent %d/CapHeight %d/StemV 80/FontFile2 %d 0 R>>",
		name, bounds.Min.X, -bounds.Max.Y, bounds.Max.X, -bounds.Min.Y, metrics.Ascent, -metrics.Descent, metrics.CapHeight, program)
	descendant := file.object("<</Type/Font/Subtype/CIDFontType2/BaseFont/%s/CIDSystemInfo<</Registry(Adobe)/Ordering(Identity)/Supplement 0>>/FontDescriptor %d 0 R/CIDToGIDMap/Identity/W[1[%s]]>>",
		name, descriptor, &widths)
	toUnicode := file.stream([]byte(f.toUnicode()), "")
	return file.object("<</Type/Font/Subtype/Type0/BaseFont/%s/Encoding/Identity-H/DescendantFonts[%d 0 R]/ToUnicode %d 0 R>>",
		name, descendant, toUnicode), nil
}

// postScriptName returns a name without what a PDF would take for its own signs.
func postScriptName(face *opentype.Font) string {
	name := strings.Map(func(r rune) rune {
		if r >= '0' && r <= '9' || r >= 'A' && r <= 'Z' || r >= 'a' && r <= 'z' || r == '-' {
			return r
		}
		return -1
	}, nameOf(face, sfnt.NameIDPostScript))
	if name == "" {
		return "Font"
	}
	return name
}

// toUnicode returns the text that each code stands for, for who copies or
// searches (ISO 32000-1, 9.10.3).
func (f *pdfFont) toUnicode() string {
	const most = 100 // in one list
	var b strings.Builder
	b.WriteString(`/CIDInit /ProcSet findresource begin
12 dict begin
begincmap
/CIDSystemInfo <</Registry(Adobe)/Ordering(UCS)/Supplement 0>> def
/CMapName /Adobe-Identity-UCS def
/CMapType 2 def
1 begincodespacerange
<0000> <ffff>
endcodespacerange
`)
	for from := 0; from < len(f.letters); from += most {
		part := f.letters[from:min(from+most, len(f.letters))]
		fmt.Fprintf(&b, "%d beginbfchar\n", len(part))
		for i, letter := range part {
			fmt.Fprintf(&b, "<%04x> <%s>\n", from+i+1, hexUTF16(string(letter)))
		}
		b.WriteString("endbfchar\n")
	}
	b.WriteString("endcmap\nCMapName currentdict /CMap defineresource pop\nend\nend\n")
	return b.String()
}
