package overlay

import (
	"bytes"
	"fmt"
	"image"
	"image/png"
	"math"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/plot/vg"

	"sensito/plot/internal/figure"
	"sensito/plot/internal/parts"
	"sensito/plot/internal/plottest"
	"sensito/sensito/picture"
	"sensito/sensito/picture/lighttable"
)

// found returns the rows and places of a scene where they truly are; 60 % of each step is read.
func found(s lighttable.Scene, perInch float64, names ...string) Seen {
	seen := Seen{Title: "bed 4.tif"}
	for i, r := range s.Rows {
		row := Row{Name: names[i]}
		for k := range r.Density {
			c := s.Corners(i, k, perInch)
			patch := c
			for j := range patch {
				across := c[(j+2)%4] // 20 % of the way to the opposite corner
				patch[j] = picture.Point{X: c[j].X + 0.2*(across.X-c[j].X), Y: c[j].Y + 0.2*(across.Y-c[j].Y)}
			}
			row.Steps = append(row.Steps, Step{Number: k + 1, Corners: c, Patch: patch})
		}
		seen.Rows = append(seen.Rows, row)
	}
	for i, at := range []lighttable.Point{s.Fog, s.Tape, s.Clear} {
		if at == (lighttable.Point{}) {
			continue
		}
		p := Place{Name: []string{"base plus fog", "black tape", "clear place"}[i]}
		for k, d := range [4][2]float64{{-1.5, -1.5}, {1.5, -1.5}, {1.5, 1.5}, {-1.5, 1.5}} {
			p.Corners[k] = s.Pixel(lighttable.Point{X: at.X + d[0], Y: at.Y + d[1]}, perInch)
		}
		seen.Places = append(seen.Places, p)
	}
	return seen
}

// pictured is a picture with what is to be found in it.
type pictured struct {
	im   *picture.Image
	seen Seen
}

// pictures are of every size and lie that matters. The images are made once, what is found in them is
// the caller's own.
func pictures() map[string]pictured {
	out := map[string]pictured{}
	for name, p := range made() {
		p.seen.Rows = slices.Clone(p.seen.Rows)
		for i, r := range p.seen.Rows {
			p.seen.Rows[i].Steps = slices.Clone(r.Steps)
		}
		out[name] = p
	}
	return out
}

var made = sync.OnceValue(makePictures)

func makePictures() map[string]pictured {
	strip, tablet := lighttable.Even(0.12, 0.08, 21), lighttable.Even(0.05, 0.15, 21)
	out := map[string]pictured{}
	add := func(name string, s lighttable.Scene, perInch float64, names ...string) {
		out[name] = pictured{s.Picture(lighttable.Flatbed(perInch), 1), found(s, perInch, names...)}
	}
	add("alone", lighttable.Alone(strip), 75, "strip 8:00")
	for _, degrees := range []float64{0, 3, 40, 90, 177, 270} {
		add(fmt.Sprintf("beside, turned by %g", degrees), lighttable.Beside(strip, tablet).WithPlaces().Turned(degrees), 75, "strip 8:00", "tablet No. 17")
	}
	mirrored := lighttable.Beside(strip, tablet)
	mirrored.Mirrored, mirrored.Masked = true, true
	add("mirrored and masked", mirrored, 75, "strip", "tablet")
	add("41 steps", lighttable.Beside(lighttable.Even(0.1, 0.05, 41), lighttable.Even(0.05, 0.075, 41)), 60, "strip", "tablet")
	add("tiny", lighttable.Alone(strip), 20, "strip")
	add("five rows", lighttable.Several(strip, strip, strip, strip, tablet).WithPlaces(), 50, "5:00", "7:00", "9:30", "13:00", "tablet")
	wide := lighttable.Beside(strip, tablet)
	wide.Width, wide.Height = 300, 200
	add("large", wide, 150, "strip", "tablet")
	tight := lighttable.Alone(strip)
	tight.Width, tight.Height, tight.Fog = 21*6.35, 12, lighttable.Point{}
	tight.Rows[0].At = lighttable.Point{X: tight.Width / 2, Y: 6}
	add("no margin", tight, 100, "strip")
	return out
}

func drawn(t *testing.T, p pictured) *figure.Figure {
	t.Helper()
	fig, err := Overlay(p.im, 0, p.seen, figure.Options{})
	require.NoError(t, err)
	return fig
}

// onPage returns where places of the picture are on the page of a figure.
func onPage(p pictured, fig *figure.Figure) func(picture.Point) vg.Point {
	_, scale := Grey(p.im, 0)
	return func(at picture.Point) vg.Point {
		return vg.Point{X: margin + vg.Length(at.X*scale)*dot, Y: fig.Height - margin - vg.Length(at.Y*scale)*dot}
	}
}

// TestNumbersStandAtTheirSteps holds that each step has its number, upright, at its own place along the
// row and near it, that no text stands on another, and none on what is read.
func TestNumbersStandAtTheirSteps(t *testing.T) {
	for name, p := range pictures() {
		t.Run(name, func(t *testing.T) {
			fig := drawn(t, p)
			boxes := plottest.Texts(t, fig)
			plottest.RequireApart(t, fig, boxes)
			at := onPage(p, fig)
			for _, r := range p.seen.Rows {
				first, last := r.Steps[0].Corners, r.Steps[len(r.Steps)-1].Corners
				along := unit(at(last[0]).Sub(at(first[0])))
				for _, s := range r.Steps {
					var q, patch quad
					for i := range q {
						q[i], patch[i] = at(s.Corners[i]), at(s.Patch[i])
					}
					low, high := q.along(along)
					own := slices.IndexFunc(boxes, func(b plottest.TextBox) bool {
						m := vg.Point{X: (b.Min.X + b.Max.X) / 2, Y: (b.Min.Y + b.Max.Y) / 2}
						across := math.Abs(float64(dotProduct(m.Sub(q.middle()), vg.Point{X: -along.Y, Y: along.X})))
						from, to := q.along(vg.Point{X: -along.Y, Y: along.X})
						return b.Text == strconv.Itoa(s.Number) && !b.Turned && dotProduct(m, along) > low && dotProduct(m, along) < high && across < float64(to-from)/2+12
					})
					require.GreaterOrEqual(t, own, 0, "%s, step %d", r.Name, s.Number)
					for _, b := range boxes {
						b.Min.Y = b.Max.Y - (b.Max.Y-b.Min.Y)*parts.CapHeight/(parts.CapHeight+0.2) // less descenders
						require.False(t, patch.meets(b.Rectangle), "%q stands on what is read of %s, step %d", b.Text, r.Name, s.Number)
					}
				}
				middle := plottest.Middle(t, boxes, r.Name, func(plottest.TextBox) bool { return true })
				assert.Less(t, math.Hypot(float64(middle.X-at(first[0]).X), float64(middle.Y-at(first[0]).Y)), 70., "name of %s", r.Name)
			}
			for _, place := range p.seen.Places {
				plottest.Middle(t, boxes, place.Name, func(plottest.TextBox) bool { return true })
			}
		})
	}
}

// TestCrowdedNumbers holds that where not all numbers have room, some have, and the ends.
func TestCrowdedNumbers(t *testing.T) {
	s := lighttable.Scene{Width: 200, Height: 150, Rows: []lighttable.Row{{Density: lighttable.Even(0.05, 0.05, 60), Base: 0.05,
		At: lighttable.Point{X: 60, Y: 60}, Step: 1, Across: 5, Lead: 3, Margin: 1, Turn: 20}}}
	p := pictured{s.Picture(lighttable.Flatbed(100), 1), found(s, 100, "strip")}
	fig := drawn(t, p)
	plottest.RequireReadable(t, fig)
	var numbers []string
	for _, b := range plottest.Texts(t, fig) {
		if _, err := strconv.Atoi(b.Text); err == nil {
			numbers = append(numbers, b.Text)
		}
	}
	assert.Equal(t, strings.Fields("1 5 10 15 20 25 30 35 40 45 50 55 60"), numbers)
}

// texts returns what is written, in order, joined by lines.
func texts(t *testing.T, fig *figure.Figure) string {
	var out []string
	for _, b := range plottest.Texts(t, fig) {
		out = append(out, b.Text)
	}
	return strings.Join(out, "\n")
}

func TestLegend(t *testing.T) {
	p := pictures()["beside, turned by 0"]
	p.seen.Text = []string{"green, 21 steps"}
	for _, i := range []int{0, 1, 2, 9, 10} {
		p.seen.Rows[0].Steps[i].Why = "beyond the tablet"
	}
	p.seen.Rows[0].Steps[14].Why = "scratched"
	told := texts(t, drawn(t, p))
	for _, want := range []string{"bed 4.tif", "green, 21 steps", "strip 8:00: steps 1 to 3, 10, 11 not read: beyond the tablet", "strip 8:00: step 15 not read: scratched"} {
		assert.Contains(t, told, "\n"+want+"\n")
	}
	assert.Contains(t, told, "\nread\nnot read")
	assert.NotContains(t, told, "set aside")
	p.seen.Rows[0].Steps[5].Aside = []picture.Point{{X: 1, Y: 1}}
	p.seen.Rows[1].Proposed = true
	told = texts(t, drawn(t, p))
	assert.Contains(t, told, "set aside")
	assert.Contains(t, told, "tablet No. 17: ends proposed, nothing read")
}

// decoded returns the PNG of a figure and its chunks of text.
func decoded(t *testing.T, fig *figure.Figure) (*image.RGBA, string) {
	t.Helper()
	var out bytes.Buffer
	require.NoError(t, figure.Write(&out, fig, figure.PNG))
	file := out.String()
	im, err := png.Decode(&out)
	require.NoError(t, err)
	return im.(*image.RGBA), file
}

// TestDrawing holds size and marker of the PNG, that lines are white with a dark rim on light steps and
// dense ones, and that what is not read is crossed.
func TestDrawing(t *testing.T) {
	p := pictures()["beside, turned by 0"]
	p.seen.Rows[0].Steps[2].Why = "scratched"
	fig := drawn(t, p)
	im, file := decoded(t, fig)
	assert.Contains(t, file, "tEXtSoftware\x00"+Software)
	_, again := decoded(t, drawn(t, p))
	assert.Equal(t, file, again, "the same picture gives the same bytes")
	assert.Equal(t, 1600+2*28, im.Rect.Dx())
	grey, scale := Grey(p.im, 0)
	assert.Equal(t, 1600, grey.Rect.Dx())
	tone := func(x, y float64) int {
		r, _, _, _ := im.At(28+int(x*scale), 28+int(y*scale)).RGBA()
		return int(r >> 8)
	}
	for _, row := range p.seen.Rows {
		for _, s := range row.Steps {
			// Across the edge of what is read, halfway up.
			a, b := s.Patch[0], s.Patch[3]
			low, high := 255, 0
			for d := -4.0; d <= 4; d += 0.2 {
				v := tone((a.X+b.X)/2+d/scale, (a.Y+b.Y)/2)
				low, high = min(low, v), max(high, v)
			}
			assert.Less(t, low, 70, "%s, step %d: dark rim", row.Name, s.Number)
			assert.Greater(t, high, 200, "%s, step %d: white line", row.Name, s.Number)
			m := picture.Point{X: (s.Corners[0].X + s.Corners[2].X) / 2, Y: (s.Corners[0].Y + s.Corners[2].Y) / 2}
			plain := int(grey.GrayAt(int(m.X*scale), int(m.Y*scale)).Y)
			if s.Why == "" {
				assert.InDelta(t, plain, tone(m.X, m.Y), 3, "%s, step %d as it is", row.Name, s.Number)
			} else {
				assert.Greater(t, tone(m.X, m.Y), 240, "crossed")
			}
		}
	}
}

// TestSetAside holds that a ring surrounds what was set aside, which itself stays to be seen.
func TestSetAside(t *testing.T) {
	p := pictures()["beside, turned by 0"]
	plain, _ := decoded(t, drawn(t, p))
	c := p.seen.Rows[1].Steps[10].Patch
	at := picture.Point{X: math.Round((c[0].X+c[2].X)/2) + 0.5, Y: math.Round((c[0].Y+c[2].Y)/2) + 0.5}
	p.seen.Rows[1].Steps[10].Aside = []picture.Point{at, {X: at.X + 1, Y: at.Y}, {X: math.NaN(), Y: 3}, {X: -5, Y: 1e9}}
	ringed, _ := decoded(t, drawn(t, p))
	_, scale := Grey(p.im, 0)
	x, y := 28+int((at.X+0.5)*scale), 28+int(at.Y*scale)
	assert.Equal(t, plain.RGBAAt(x, y), ringed.RGBAAt(x, y), "the dust itself")
	left := 28 + int((at.X-0.5)*scale)
	assert.EqualValues(t, 255, ringed.RGBAAt(left-2, y).R, "ring")
	assert.EqualValues(t, dark.Y, ringed.RGBAAt(left-4, y).R, "its rim")
	assert.Equal(t, plain.RGBAAt(left-8, y), ringed.RGBAAt(left-8, y))
}

// TestGrey holds that steps of every density differ in grey, linear or encoded, and the size.
func TestGrey(t *testing.T) {
	for name, encode := range map[string]func(float64) float64{"linear": nil, "srgb": lighttable.SRGB} {
		s := lighttable.Beside(lighttable.Even(0.05, 0.15, 17), lighttable.Even(0.05, 0.15, 17))
		d := lighttable.Flatbed(75)
		d.Encode = encode
		grey, scale := Grey(s.Picture(d, 1), 0)
		require.Equal(t, 1600, grey.Rect.Dx(), name)
		last := 256.0
		for i := range 17 {
			c := s.Corners(0, i, 75)
			sum := 0.0
			for y := c[0].Y + 10; y < c[2].Y-10; y++ {
				for x := c[0].X + 5; x < c[2].X-5; x++ {
					sum += float64(grey.GrayAt(int(x*scale), int(y*scale)).Y) / math.Ceil(c[2].Y-c[0].Y-20) / math.Ceil(c[2].X-c[0].X-10)
				}
			}
			assert.Less(t, sum, last-2, "%s, step %d", name, i+1)
			last = sum
		}
	}
	for _, size := range [][3]int{{1, 1, 16}, {6000, 40, 1600}, {40, 6000, 11}, {100, 100, 1600}, {1600, 3, 1600}} {
		im := &picture.Image{Width: size[0], Height: size[1], Bits: 8, Planes: []picture.Plane{{Values: make([]uint16, size[0]*size[1])}}}
		for i := range im.Planes[0].Values {
			im.Planes[0].Values[i] = uint16(i)
		}
		grey, scale := Grey(im, 0)
		assert.Equal(t, size[2], grey.Rect.Dx(), "%v", size)
		assert.InDelta(t, float64(size[2]), scale*float64(size[0]), 0.5)
	}
}

func TestErrors(t *testing.T) {
	p := pictures()["tiny"]
	for _, o := range []figure.Options{{Page: true}, {Width: 5 * vg.Millimeter}, {Theme: "none"}, {Height: 61 * vg.Millimeter, Width: 900 * vg.Millimeter}} {
		_, err := Overlay(p.im, 0, p.seen, o)
		assert.Error(t, err, "%+v", o)
	}
	_, err := Overlay(p.im, 1, p.seen, figure.Options{})
	assert.ErrorContains(t, err, "no channel 1")
	long := &picture.Image{Width: 3, Height: 1600, Planes: []picture.Plane{{Values: make([]uint16, 4800)}}}
	_, err = Overlay(long, 0, Seen{}, figure.Options{Width: 500 * vg.Millimeter})
	assert.ErrorContains(t, err, "make it narrower")
	fig, err := Overlay(p.im, 0, Seen{Title: "a.png"}, figure.Options{Width: 80 * vg.Millimeter})
	require.NoError(t, err)
	assert.InDelta(t, 80, float64(fig.Width/vg.Millimeter), 1e-6)
	assert.Equal(t, []string{"a.png"}, strings.Split(texts(t, fig), "\n"))
	assert.Greater(t, parts.TextWidth(nameSize, name(strings.Repeat("long ", 30))), vg.Length(0))
	assert.LessOrEqual(t, len([]rune(name(strings.Repeat("long ", 30)))), mostText)
}

// TestHides holds what a text may not stand on.
func TestHides(t *testing.T) {
	p := pictures()["alone"]
	b := &body{seen: p.seen, pixel: 1, grey: image.NewGray(image.Rect(0, 0, p.im.Width, p.im.Height))}
	s := b.sketched(vg.Rectangle{Max: vg.Point{X: vg.Length(p.im.Width), Y: vg.Length(p.im.Height)}})
	r := s.rows[0]
	box := func(m vg.Point) vg.Rectangle {
		return vg.Rectangle{Min: m.Sub(vg.Point{X: 1, Y: 1}), Max: m.Add(vg.Point{X: 1, Y: 1})}
	}
	band := r.steps[4][0].Add(r.patches[4][0]).Scale(0.5)
	edge := r.steps[4][0].Add(r.steps[4][1]).Scale(0.5)
	assert.True(t, s.hides(box(r.steps[4].middle()), false), "what is read")
	assert.True(t, s.hides(box(edge), false), "the outline of the row")
	assert.False(t, s.hides(box(band), false), "beside what is read")
	assert.True(t, s.hides(box(band), true), "a step")
	assert.True(t, s.hides(box(s.places[0].middle()), false), "base plus fog")
	assert.False(t, s.hides(box(vg.Point{X: 5, Y: 5}), true), "nothing")
}

func TestQuadMeets(t *testing.T) {
	diamond := quad{{X: 0, Y: 10}, {X: 10, Y: 0}, {X: 0, Y: -10}, {X: -10, Y: 0}}
	box := func(x, y, w, h vg.Length) vg.Rectangle {
		return vg.Rectangle{Min: vg.Point{X: x, Y: y}, Max: vg.Point{X: x + w, Y: y + h}}
	}
	assert.True(t, diamond.meets(box(-1, -1, 2, 2)))
	assert.True(t, diamond.meets(box(4, 4, 3, 3)))
	assert.False(t, diamond.meets(box(6, 6, 3, 3)), "within its bounds, but beyond its side")
	assert.False(t, diamond.meets(box(11, -1, 3, 3)))
	line := stroke([]vg.Point{{X: 0, Y: 0}, {X: 10, Y: 10}})
	assert.True(t, line.meets(box(4, 4, 1, 1)))
	assert.False(t, line.meets(box(6, 2, 2, 2)))
}
