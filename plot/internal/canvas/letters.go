package canvas

import (
	"fmt"
	"math"
	"strings"
	"unicode"

	"golang.org/x/image/font/opentype"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
	"golang.org/x/text/unicode/bidi"
	"golang.org/x/text/unicode/norm"
	"golang.org/x/text/width"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/font/liberation"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
)

// fonts are the built-in ones.
var fonts = font.NewCache(liberation.Collection())

// Face returns the one face that figures are set in, at a size.
func Face(size vg.Length) font.Face { return fonts.Lookup(Sans, size) }

// Sans is the font of Face.
var Sans = font.Font{Typeface: "Liberation", Variant: "Sans"}

// Font is a font that a person gave, for letters that the built-in ones lack.
type Font struct {
	name string
	face *opentype.Font
}

// ParseFont reads a TrueType or OpenType file; of a collection it takes the first
// font.
func ParseFont(data []byte) (*Font, error) {
	all, err := opentype.ParseCollection(data)
	if err != nil {
		return nil, fmt.Errorf("it is no TrueType or OpenType font that can be read (%w)", err)
	}
	face, err := all.Font(0)
	if err != nil {
		return nil, fmt.Errorf("it is no TrueType or OpenType font that can be read (%w)", err)
	}
	f := &Font{name: nameOf(face, sfnt.NameIDFull), face: face}
	if f.name == "" {
		f.name = "without a name"
	}
	return f, nil
}

// nameOf returns a name that a font gives itself, "" where it does not.
func nameOf(face *opentype.Font, id sfnt.NameID) string {
	name, err := face.Name(nil, id)
	if err != nil {
		return ""
	}
	return name
}

// Width returns the width of a text in Face, a cell for each letter it lacks.
func Width(size vg.Length, s string) vg.Length { return WidthIn(Face(size), s) }

// WidthIn is Width in another face.
func WidthIn(f font.Face, s string) vg.Length {
	m := newSetter(f)
	for _, r := range composed(s) {
		m.next(r)
	}
	return m.width
}

// composed puts a letter and its accents into one character where there is one.
func composed(s string) string { return norm.NFC.String(s) }

// cell returns the width of a letter that the built-in fonts lack, in em: that of
// East Asian type, none for marks that stand on another letter, else an average
// one (no source).
func cell(r rune) vg.Length {
	switch {
	case unicode.In(r, unicode.Mn, unicode.Me) || unseen(r):
		return 0
	case wide(r):
		return 1
	}
	return 0.6
}

func wide(r rune) bool {
	k := width.LookupRune(r).Kind()
	return k == width.EastAsianWide || k == width.EastAsianFullwidth
}

// unseen says whether a character only tells how its neighbours are drawn: the
// joiners, and the selectors of a variant (Unicode, Default_Ignorable_Code_Point).
func unseen(r rune) bool {
	return unicode.In(r, unicode.Join_Control, unicode.Variation_Selector)
}

// setter walks along a text, letter by letter.
type setter struct {
	face  *opentype.Font
	em    vg.Length // of the size
	unit  vg.Length // of the font
	upem  fixed.Int26_6
	buf   sfnt.Buffer
	last  sfnt.GlyphIndex // 0 where no kerning follows
	width vg.Length       // of the letters so far
}

func newSetter(f font.Face) *setter {
	upem := f.Face.UnitsPerEm()
	return &setter{face: f.Face, em: f.Font.Size, unit: f.Font.Size / vg.Length(upem), upem: fixed.Int26_6(upem)}
}

// glyph is a letter as it stands in a text.
type glyph struct {
	letter  rune
	index   sfnt.GlyphIndex // 0 for a letter that the font lacks
	kern    vg.Length       // added before it
	advance vg.Length
}

// next returns the next letter, and adds it to the width.
func (s *setter) next(r rune) glyph {
	g := glyph{letter: r, index: index(s.face, &s.buf, r)}
	if g.index == 0 {
		g.advance = cell(r) * s.em
	} else {
		if s.last != 0 {
			if kern, err := s.face.Kern(&s.buf, s.last, g.index, s.upem, 0); err == nil {
				g.kern = vg.Length(kern) * s.unit
			}
		}
		g.advance = advance(s.face, &s.buf, g.index) * s.unit
	}
	s.last = g.index
	s.width += g.kern + g.advance
	return g
}

// index returns the glyph of a letter, 0 where the font has none.
func index(f *opentype.Font, buf *sfnt.Buffer, r rune) sfnt.GlyphIndex {
	i, err := f.GlyphIndex(buf, r)
	if err != nil {
		return 0
	}
	return i
}

// advance returns the width of a glyph, in units of the font.
func advance(f *opentype.Font, buf *sfnt.Buffer, i sfnt.GlyphIndex) vg.Length {
	a, err := f.GlyphAdvance(buf, i, fixed.Int26_6(f.UnitsPerEm()), 0)
	if err != nil {
		return 0
	}
	return vg.Length(a)
}

// drawn says whether a glyph has an outline, which those of coloured pictures
// have not.
func drawn(f *opentype.Font, buf *sfnt.Buffer, i sfnt.GlyphIndex) bool {
	segments, err := f.LoadGlyph(buf, i, fixed.Int26_6(f.UnitsPerEm()), nil)
	return err == nil && len(segments) > 0
}

// lacks says whether a font has no glyph for some letter of a text.
func lacks(f font.Face, s string) bool {
	var buf sfnt.Buffer
	for _, r := range s {
		if index(f.Face, &buf, r) == 0 {
			return true
		}
	}
	return false
}

// piece is a part of a text that one font draws.
type piece struct {
	face font.Face
	at   vg.Length // from where the text begins
	text string
}

// pieces returns a text in parts, each letter that the font lacks in the middle of
// its cell, or a *MissingLetterError.
func pieces(f font.Face, s string, d Drawing, format string) ([]piece, error) {
	var out []piece
	s = leftToRight(composed(s))
	set := newSetter(f)
	begun := -1 // where the part in the font itself begins, in s
	var at vg.Length
	end := func(i int) {
		if begun >= 0 {
			out = append(out, piece{f, at, s[begun:i]})
			begun = -1
		}
	}
	for i, r := range s {
		before := set.width
		g := set.next(r)
		if g.index != 0 {
			if begun < 0 {
				begun, at = i, before
			}
			continue
		}
		end(i)
		if unseen(r) || unicode.Is(unicode.Zs, r) {
			continue
		}
		if d.Fallback == nil {
			return nil, &MissingLetterError{Letter: r, Text: s, Format: format}
		}
		var buf sfnt.Buffer
		other := d.Fallback.face
		in := index(other, &buf, r)
		if in == 0 || !drawn(other, &buf, in) {
			return nil, &MissingLetterError{Letter: r, Text: s, Format: format, Font: d.Fallback.name}
		}
		own := advance(other, &buf, in) * set.em / vg.Length(other.UnitsPerEm())
		face := font.Face{Font: font.Font{Typeface: "fallback", Size: f.Font.Size}, Face: other}
		out = append(out, piece{face, before + (g.advance-own)/2, string(r)})
	}
	end(len(s))
	return out, nil
}

// Outline returns the outlines of the letters of a text that begins at a point, to draw a
// rim about them. Letters that the face lacks have none.
func Outline(f font.Face, pt vg.Point, s string) vg.Path {
	var path vg.Path
	set := newSetter(f)
	for _, r := range leftToRight(composed(s)) {
		before := set.width
		g := set.next(r)
		if g.index == 0 {
			continue
		}
		segments, err := set.face.LoadGlyph(&set.buf, g.index, set.upem, nil)
		if err != nil {
			continue
		}
		at := func(p fixed.Point26_6) vg.Point { // in units of the font, downwards
			return vg.Point{X: pt.X + before + g.kern + vg.Length(p.X)*set.unit, Y: pt.Y - vg.Length(p.Y)*set.unit}
		}
		for i, s := range segments {
			switch s.Op {
			case sfnt.SegmentOpMoveTo:
				if i > 0 {
					path.Close()
				}
				path.Move(at(s.Args[0]))
			case sfnt.SegmentOpLineTo:
				path.Line(at(s.Args[0]))
			case sfnt.SegmentOpQuadTo:
				path.QuadTo(at(s.Args[0]), at(s.Args[1]))
			case sfnt.SegmentOpCubeTo:
				path.CubeTo(at(s.Args[0]), at(s.Args[1]), at(s.Args[2]))
			}
		}
		if len(segments) > 0 {
			path.Close()
		}
	}
	return path
}

// leftToRight returns a text with its letters in the order in which they stand on
// the page. Numbers among words of a script from the right stay where they are.
func leftToRight(s string) string {
	fromRight := func(r rune) bool {
		p, _ := bidi.LookupRune(r)
		return p.Class() == bidi.R || p.Class() == bidi.AL
	}
	if !strings.ContainsFunc(s, fromRight) {
		return s
	}
	const mark = "\u200e" // makes the whole text one from the left, as SVG has it
	var p bidi.Paragraph
	if _, err := p.SetString(mark + s); err != nil {
		return s
	}
	order, err := p.Order()
	if err != nil {
		return s
	}
	var b strings.Builder
	for i := range order.NumRuns() {
		run := order.Run(i)
		if text := run.String(); run.Direction() == bidi.RightToLeft {
			b.WriteString(bidi.ReverseString(text))
		} else {
			b.WriteString(text)
		}
	}
	return strings.TrimPrefix(b.String(), mark)
}

// Text sets what gonum/plot writes itself, such as the numbers of an axis, and
// measures it by Width.
type Text struct{ text.Plain }

// TextHandler is for text.Style and for the TextHandler of a plot.
var TextHandler text.Handler = Text{text.Plain{Fonts: fonts}}

// Box returns the width of a line, and how far it reaches above and below its
// baseline.
func (t Text) Box(line string, f font.Font) (width, height, depth vg.Length) {
	face := fonts.Lookup(f, f.Size)
	e := face.Extents()
	return WidthIn(face, line), e.Ascent, e.Descent
}

// Draw draws lines of text about a point, as text.Plain does.
func (t Text) Draw(c vg.Canvas, s string, style text.Style, pt vg.Point) {
	s = strings.TrimRight(s, "\n")
	if s == "" {
		return
	}
	face := fonts.Lookup(style.Font, style.Font.Size)
	c.SetColor(style.Color)
	if style.Rotation != 0 {
		c.Push()
		defer c.Pop()
		c.Rotate(style.Rotation)
		sin, cos := math.Sincos(-style.Rotation)
		pt = matrix{cos, sin, -sin, cos, 0, 0}.apply(pt)
	}
	lines := t.Lines(s)
	pt.Y += style.Height(s)*vg.Length(style.YAlign) - face.Extents().Ascent
	for i, line := range lines {
		at := vg.Point{Y: vg.Length(len(lines)-i) * style.Font.Size}
		FillAligned(c, face, pt.Add(at), float64(style.XAlign), line)
	}
}
