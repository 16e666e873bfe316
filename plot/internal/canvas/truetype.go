package canvas

import (
	"encoding/binary"
	"math"
	"slices"

	"golang.org/x/image/font/opentype"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
)

// outline is a glyph in units of its font, y up. Contours are of straight lines and
// quadratic curves, as TrueType has them.
type outline struct {
	advance  int
	contours [][]outlinePoint
}

type outlinePoint struct {
	x, y int
	on   bool // the curve, and not a control point
}

// outlineOf returns a glyph of a font, whose curves may be cubic.
func outlineOf(f *opentype.Font, buf *sfnt.Buffer, i sfnt.GlyphIndex) (outline, error) {
	segments, err := f.LoadGlyph(buf, i, fixed.Int26_6(f.UnitsPerEm()), nil)
	if err != nil {
		return outline{}, err
	}
	g := outline{advance: int(advance(f, buf, i))}
	point := func(p fixed.Point26_6, on bool) {
		last := &g.contours[len(g.contours)-1]
		*last = append(*last, outlinePoint{int(p.X), -int(p.Y), on})
	}
	var at fixed.Point26_6
	for i, s := range segments {
		to := s.Args[0]
		if i == 0 && s.Op != sfnt.SegmentOpMoveTo { // of a font that is broken
			g.contours = append(g.contours, nil)
		}
		switch s.Op {
		case sfnt.SegmentOpMoveTo:
			g.contours = append(g.contours, nil)
			point(to, true)
		case sfnt.SegmentOpLineTo:
			point(to, true)
		case sfnt.SegmentOpQuadTo:
			to = s.Args[1]
			point(s.Args[0], false)
			point(to, true)
		case sfnt.SegmentOpCubeTo:
			to = s.Args[2]
			for _, q := range quadratics(at, s.Args[0], s.Args[1], to) {
				point(q[0], false)
				point(q[1], true)
			}
		}
		at = to
	}
	for i, c := range g.contours {
		if n := len(c) - 1; n > 0 && c[0] == c[n] { // TrueType closes a contour by itself
			g.contours[i] = c[:n]
		}
	}
	return g, nil
}

// quadratics returns control and end points of four quadratic curves along a cubic
// one. Each follows its quarter within sqrt(3)/36 of 1/64 of the third difference of
// the points, which is less than a unit for curves of letters.
func quadratics(p0, p1, p2, p3 fixed.Point26_6) [4][2]fixed.Point26_6 {
	const n = 4
	part := func(a, b, c, d, t float64) (at, slope float64) {
		u := 1 - t
		at = u*u*u*a + 3*u*u*t*b + 3*u*t*t*c + t*t*t*d
		slope = 3 * (u*u*(b-a) + 2*u*t*(c-b) + t*t*(d-c))
		return at, slope
	}
	var out [n][2]fixed.Point26_6
	for _, axis := range []func(p *fixed.Point26_6) *fixed.Int26_6{
		func(p *fixed.Point26_6) *fixed.Int26_6 { return &p.X },
		func(p *fixed.Point26_6) *fixed.Int26_6 { return &p.Y },
	} {
		a, b, c, d := float64(*axis(&p0)), float64(*axis(&p1)), float64(*axis(&p2)), float64(*axis(&p3))
		for i := range n {
			from, slope := part(a, b, c, d, float64(i)/n)
			to, slopeTo := part(a, b, c, d, float64(i+1)/n)
			// The mean of the two controls that would keep one end's slope.
			control := (from+to)/2 + (slope-slopeTo)/(4*n)
			*axis(&out[i][0]) = fixed.Int26_6(math.Round(control))
			*axis(&out[i][1]) = fixed.Int26_6(math.Round(to))
		}
	}
	return out
}

// trueType returns a font file of the glyphs, the first of which stands for none:
// the tables that a PDF needs (ISO 32000-1, 9.9; ISO/IEC 14496-22).
func trueType(glyphs []outline, upem, ascent, descent int) []byte {
	var glyf, loca, hmtx table
	var points, contours, widest int
	least, most := [2]int{}, [2]int{}
	for _, g := range glyphs {
		loca.u32(len(glyf))
		n := 0
		for _, c := range g.contours {
			n += len(c)
		}
		low, high := g.bounds()
		if n > 0 {
			g.encode(&glyf, low, high)
			for len(glyf)%4 != 0 {
				glyf = append(glyf, 0)
			}
		}
		hmtx.u16(g.advance, low[0])
		points, contours, widest = max(points, n), max(contours, len(g.contours)), max(widest, g.advance)
		for i := range 2 {
			least[i], most[i] = min(least[i], low[i]), max(most[i], high[i])
		}
	}
	loca.u32(len(glyf))

	var head, hhea, maxp table
	head.u32(0x00010000, 0, 0, 0x5f0f3cf5)                        // version, revision, sum, magic number
	head.u16(0, upem)                                             // flags
	head.u32(0, 0, 0, 0)                                          // dates
	head.u16(least[0], least[1], most[0], most[1], 0, 8, 2, 1, 0) // plain style, least size, direction, long loca
	hhea.u32(0x00010000)
	hhea.u16(ascent*upem/1000, -descent*upem/1000, 0, widest, least[0], 0, most[0], 1, 0, 0, 0, 0, 0, 0, 0, len(glyphs))
	maxp.u32(0x00010000)
	maxp.u16(len(glyphs), points, contours, 0, 0, 1, 0, 0, 0, 0, 0, 0, 0, 0)
	return tables([]string{"glyf", "head", "hhea", "hmtx", "loca", "maxp"}, []table{glyf, head, hhea, hmtx, loca, maxp})
}

// bounds returns the least and the largest x and y.
func (g outline) bounds() (least, most [2]int) {
	all := slices.Concat(g.contours...)
	for i, p := range all {
		if i == 0 {
			least, most = [2]int{p.x, p.y}, [2]int{p.x, p.y}
		}
		least = [2]int{min(least[0], p.x), min(least[1], p.y)}
		most = [2]int{max(most[0], p.x), max(most[1], p.y)}
	}
	return least, most
}

// encode appends a glyph: the ends of its contours, then flags, then how far each
// point lies from the one before.
func (g outline) encode(t *table, least, most [2]int) {
	t.u16(len(g.contours), least[0], least[1], most[0], most[1])
	end := -1
	for _, c := range g.contours {
		end += len(c)
		t.u16(end)
	}
	t.u16(0) // no instructions
	const onCurve, shortX, shortY, alikeX, alikeY = 1, 2, 4, 16, 32
	var flags, xs, ys table
	var x, y int
	for _, p := range slices.Concat(g.contours...) {
		flag := 0
		if p.on {
			flag = onCurve
		}
		flag |= xs.step(p.x-x, shortX, alikeX) | ys.step(p.y-y, shortY, alikeY)
		flags = append(flags, byte(flag))
		x, y = p.x, p.y
	}
	*t = slices.Concat(*t, flags, xs, ys)
}

// step appends a distance as it needs, and returns its flags.
func (t *table) step(by, short, alike int) (flags int) {
	switch {
	case by == 0:
		return alike
	case by > 0 && by < 256:
		*t = append(*t, byte(by))
		return short | alike
	case by < 0 && by > -256:
		*t = append(*t, byte(-by))
		return short
	}
	t.u16(by)
	return 0
}

// table is one of a font file.
type table []byte

func (t *table) u16(all ...int) {
	for _, x := range all {
		*t = binary.BigEndian.AppendUint16(*t, uint16(x))
	}
}

func (t *table) u32(all ...int) {
	for _, x := range all {
		*t = binary.BigEndian.AppendUint32(*t, uint32(x))
	}
}

// sum returns the checksum of a table.
func (t table) sum() uint32 {
	var sum uint32
	for len(t)%4 != 0 {
		t = append(t[:len(t):len(t)], 0)
	}
	for ; len(t) > 0; t = t[4:] {
		sum += binary.BigEndian.Uint32(t)
	}
	return sum
}

// tables returns a font file of tables, which are named in alphabetical order.
func tables(names []string, all []table) []byte {
	n := len(names)
	log := int(math.Log2(float64(n)))
	var file, body table
	file.u32(0x00010000)
	file.u16(n, 16<<log, log, 16*n-16<<log)
	head := 0
	for i, name := range names {
		at := 12 + 16*n + len(body)
		if name == "head" {
			head = at
		}
		file = append(file, name...)
		file.u32(int(all[i].sum()), at, len(all[i]))
		body = append(body, all[i]...)
		for len(body)%4 != 0 {
			body = append(body, 0)
		}
	}
	file = append(file, body...)
	const whole, at = 0xb1b0afba, 8 // what the file sums up to, and where head has the rest
	binary.BigEndian.PutUint32(file[head+at:], whole-file.sum())
	return file
}
