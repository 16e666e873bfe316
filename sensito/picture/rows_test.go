package picture_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito/internal/blind"
	"sensito/sensito/picture"
	"sensito/sensito/picture/lighttable"
)

// A lying is a row on a light table, as it was pictured.
type lying struct {
	name    string
	steps   int
	scene   lighttable.Scene
	perInch float64
	device  lighttable.Device
	im      *picture.Image
	truth   picture.Ends
}

// flatFrom makes the densities from a step on alike, as those of a film are at base plus fog.
func flatFrom(d []float64, from, to int) []float64 {
	for i := from; i < to; i++ {
		level := d[max(0, from-1)]
		if from == 0 {
			level = d[to]
		}
		d[i] = level
	}
	return d
}

// shoulder bends densities so that the last rise by little, as those of an overexposed film do.
func shoulder(d []float64, last int) []float64 {
	for i := len(d) - last; i < len(d); i++ {
		d[i] = d[i-1] + 0.6*(d[i-1]-d[i-2])
	}
	return d
}

// forms are the rows that are looked for.
var forms = []struct {
	name    string
	density func() []float64
}{
	{"21 of 0.15", func() []float64 { return lighttable.Even(0.05, 0.15, 21) }},
	{"11 of 0.30", func() []float64 { return lighttable.Even(0.05, 0.30, 11) }},
	{"31 of 0.10", func() []float64 { return lighttable.Even(0.05, 0.10, 31) }},
	{"first 6 flat", func() []float64 { return flatFrom(lighttable.Even(-0.4, 0.11, 21), 0, 6) }},
	{"last 6 flat", func() []float64 { return flatFrom(lighttable.Even(0.2, 0.11, 21), 15, 21) }},
	{"shoulder", func() []float64 { return shoulder(lighttable.Even(0.2, 0.12, 21), 6) }},
}

// layRow lays a row of a form by chance: skew, a quarter turn, mirrored, masked or open, with holes or a tablet beside it or
// without, dusty, by a flatbed or a camera, in one of three as 8 bits of sRGB.
func layRow(random *rand.Rand, form int, perInch float64) lying {
	f := forms[form]
	d := f.density()
	s := lighttable.Alone(d)
	beside := random.IntN(3) == 0
	if beside {
		s = lighttable.Beside(d, lighttable.Even(0.05, 0.15, 21))
	}
	s.Seed, s.Dust = random.Uint64(), 20
	if !beside && random.IntN(2) == 0 {
		s.Rows[0].Perforated, s.Rows[0].Margin = true, 5
		s.Height += 7
		s.Rows[0].At.Y += 3.5
	}
	s.Masked, s.Mirrored, s.Quarters = random.IntN(2) == 0, random.IntN(2) == 0, random.IntN(4)
	s = s.Turned(6*random.Float64() - 3)
	device := lighttable.Flatbed(perInch)
	if random.IntN(2) == 0 {
		device = lighttable.Camera(perInch)
		device.Channels = 1
	}
	encoded := random.IntN(3) == 0
	if encoded {
		device.Encode = lighttable.SRGB
		device.Bits = 8
	}
	return lying{fmt.Sprintf("%s, %g/inch, masked %t, holes %t, beside %t, 8 bits sRGB %t", f.name, perInch, s.Masked, s.Rows[0].Perforated, beside, encoded), len(d), s, perInch, device,
		s.Picture(device, random.Uint64()), s.Ends(0, perInch)}
}

// marked returns marks that are off the truth by a normal error, in steps; across the row in parts of its width where that is
// less than a step.
func (l lying) marked(random *rand.Rand, sd float64) picture.Ends {
	x, y := (l.truth.Last.X-l.truth.First.X)/float64(l.steps), (l.truth.Last.Y-l.truth.First.Y)/float64(l.steps)
	r := l.scene.Rows[0]
	across := min(1, r.Across/r.Step)
	off := func(p picture.Point) picture.Point {
		a, b := sd*random.NormFloat64(), sd*across*random.NormFloat64()
		return picture.Point{X: p.X + a*x - b*y, Y: p.Y + a*y + b*x}
	}
	return picture.Ends{First: off(l.truth.First), Last: off(l.truth.Last)}
}

// off returns by how many steps two ends differ along a row and across it, the worse end.
func (l lying) off(e picture.Ends) (along, across float64) {
	dx, dy := l.truth.Last.X-l.truth.First.X, l.truth.Last.Y-l.truth.First.Y
	long := math.Hypot(dx, dy)
	pitch := long / float64(l.steps)
	for _, p := range [][2]picture.Point{{e.First, l.truth.First}, {e.Last, l.truth.Last}} {
		x, y := p[0].X-p[1].X, p[0].Y-p[1].Y
		along = max(along, math.Abs(x*dx+y*dy)/long/pitch)
		across = max(across, math.Abs(x*dy-y*dx)/long/pitch)
	}
	return along, across
}

// TestMarksFound holds that marks off by 0.15 of a step are refined to 0.05 of one, in every picture: turned, mirrored and
// skew by up to 3 degrees, masked and open, with dust and with holes beside the steps, of films and of tablets.
func TestMarksFound(t *testing.T) {
	random := rand.New(rand.NewPCG(5, 11))
	var n, right int
	var worst, worstAcross, worstWidth float64
	effort := blind.Effort(t)
	for range effort {
		for form := range forms {
			for k, perInch := range []float64{75, 200, 600} {
				if effort == 1 && (form+k)%2 == 1 || effort == 1 && k == 2 && form > 0 {
					continue // half of the small ones and one of the large are enough for every day
				}
				row := layRow(random, form, perInch)
				marks := row.marked(random, 0.15)
				n++
				l, warnings, err := picture.Find(row.im, 0, picture.Row{Ends: marks, Steps: row.steps})
				if !assert.NoError(t, err, row.name) {
					continue
				}
				assert.Empty(t, warnings, row.name)
				along, across := row.off(l.Ends)
				before, _ := row.off(marks)
				t.Logf("%-80s marks %.2f found %.3f across %.3f width %5.1f of %5.1f edges %2d spread %.3f blur %.2f", row.name, before, along, across,
					l.Width, row.scene.Rows[0].Across*perInch/25.4, l.Edges, l.Spread, l.Blur)
				if along <= 0.05 {
					right++
				}
				worst, worstAcross = max(worst, along), max(worstAcross, across)
				worstWidth = max(worstWidth, math.Abs(l.Width/(row.scene.Rows[0].Across*perInch/25.4)-1))
			}
		}
	}
	t.Logf("%d of %d within 0.05, the worst %.3f; across %.3f, width off by %.3f", right, n, worst, worstAcross, worstWidth)
	require.Equal(t, n, right)
	assert.Less(t, worstAcross, 0.05)
	assert.Less(t, worstWidth, 0.1)
}

// TestHardRows holds the same within 0.1 of a step for rows in which little is seen: six edges at one end, coarse grain, a device
// ten times as noisy, whose black has higher slopes of the logarithm than the edges.
func TestHardRows(t *testing.T) {
	random := rand.New(rand.NewPCG(5, 12))
	worst := 0.0
	n, right := 0, 0
	for range 3 * blind.Effort(t) {
		for _, d := range [][]float64{flatFrom(lighttable.Even(-1.2, 0.1, 21), 0, 15), flatFrom(lighttable.Even(0.1, 0.15, 21), 6, 21), lighttable.Even(0.3, 0.05, 11), lighttable.Even(0.05, 0.15, 21)} {
			s := lighttable.Alone(d)
			s.Seed, s.Dust, s.Rows[0].Grain, s.Masked = random.Uint64(), 20, 30, random.IntN(2) == 0
			s = s.Turned(6*random.Float64() - 3)
			device := lighttable.Flatbed(100)
			device.Noise = math.Pow(10, -2.2)
			row := lying{steps: len(d), scene: s, perInch: 100, device: device, im: s.Picture(device, random.Uint64()), truth: s.Ends(0, 100)}
			l, _, err := picture.Find(row.im, 0, picture.Row{Ends: row.marked(random, 0.15), Steps: len(d)})
			n++
			if !assert.NoError(t, err) {
				continue
			}
			along, across := row.off(l.Ends)
			t.Logf("%2d steps from %.2f to %.2f, masked %t: off %.3f across %.3f, %d edges, width %.1f of %.1f", len(d), d[0], d[len(d)-1], s.Masked, along, across, l.Edges, l.Width, 12*100/25.4)
			assert.Less(t, across, 0.3)
			width := l.Width * 25.4 / 1200
			assert.InDelta(t, 1, width, 0.1)
			if along < 0.1 {
				right++
			}
			worst = max(worst, along)
		}
	}
	t.Logf("%d of %d within 0.1, the worst %.3f", right, n, worst)
	require.Equal(t, n, right)
}

// TestLeaningEdges holds that edges need not be upright to the row: these lean by 1.5 degrees, as where a wedge lay askew on
// the film.
func TestLeaningEdges(t *testing.T) {
	const width, height, step = 640, 240, 40.0
	lean := math.Tan(1.5 * math.Pi / 180)
	im := &picture.Image{Width: width, Height: height, Bits: 16, Planes: []picture.Plane{{Name: "grey"}}}
	random := rand.New(rand.NewPCG(5, 13))
	for j := range height {
		for i := range width {
			light := 0.0
			for k := range 8 { // parts of the pixel
				x := float64(i) + (float64(k)+0.5)/8 - 80 - lean*(float64(j)+0.5-height/2)
				v := 0.9
				if y := float64(j) + 0.5 - height/2; math.Abs(y) < 90 && x >= 0 && x < 12*step {
					v = math.Pow(10, -0.1-0.15*math.Floor(x/step))
				}
				light += v / 8
			}
			im.Planes[0].Values = append(im.Planes[0].Values, uint16(60000*light*(1+0.01*random.NormFloat64())))
		}
	}
	l, _, err := picture.Find(im, 0, picture.Row{Ends: picture.Ends{First: picture.Point{X: 84, Y: 122}, Last: picture.Point{X: 556, Y: 117}}, Steps: 12})
	require.NoError(t, err)
	assert.InDelta(t, 80, l.Ends.First.X, 0.2)
	assert.InDelta(t, 560, l.Ends.Last.X, 0.2)
	assert.InDelta(t, 180, l.Width, 2)
	assert.InDelta(t, 1.5, math.Abs(math.Atan(l.Across.X/l.Across.Y))*180/math.Pi, 0.1)
	c := l.Corners(5)
	assert.InDelta(t, 80+4*step-90*lean, c[0].X, 1)
	assert.InDelta(t, 80+5*step+90*lean, c[2].X, 1)
}

// TestFewEdges holds that of a row most of which is flat the edges that are there are counted, and that four are refused.
func TestFewEdges(t *testing.T) {
	random := rand.New(rand.NewPCG(5, 14))
	for _, seen := range []int{8, 6, 5, 3} {
		for range 4 {
			s := lighttable.Alone(flatFrom(lighttable.Even(0.1, 0.15, 21), seen, 21)) // its last edge is to the base
			s.Seed, s.Rows[0].Grain = random.Uint64(), 20
			device := lighttable.Flatbed(100)
			im := s.Picture(device, random.Uint64())
			l, _, err := picture.Find(im, 0, picture.Row{Ends: s.Ends(0, 100), Steps: 21})
			if seen < 5 {
				assert.ErrorContains(t, err, "edges of steps are seen between the marks, and 5 are needed")
				continue
			}
			require.NoError(t, err)
			assert.Equal(t, seen, l.Edges)
		}
	}
}

// TestMarksFarOff holds that an end is found nearly half a step from its mark, and that a mark further off is another step's.
func TestMarksFarOff(t *testing.T) {
	random := rand.New(rand.NewPCG(5, 15))
	for form := range forms {
		row := layRow(random, form, 100)
		for _, off := range [][2]float64{{0.42, 0.42}, {-0.42, -0.42}, {0.4, -0.4}, {-0.4, 0.4}, {0.42, 0}, {0, -0.42}} {
			e := row.truth
			x, y := (e.Last.X-e.First.X)/float64(row.steps), (e.Last.Y-e.First.Y)/float64(row.steps)
			e.First.X, e.First.Y = e.First.X+off[0]*x, e.First.Y+off[0]*y
			e.Last.X, e.Last.Y = e.Last.X+off[1]*x, e.Last.Y+off[1]*y
			l, _, err := picture.Find(row.im, 0, picture.Row{Ends: e, Steps: row.steps})
			if assert.NoError(t, err, row.name) {
				along, _ := row.off(l.Ends)
				assert.Less(t, along, 0.05, "%s, %v", row.name, off)
			}
		}
	}
}
