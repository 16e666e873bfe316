package canvas

import (
	"fmt"
	"io"
	"math"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/plot/vg"
)

// Text in a PDF can be copied, whatever its script, and is as wide as it was
// measured.
func TestPDFText(t *testing.T) {
	lines := []string{"AVAV To. 1.5", "Пленка Łódź Ωέ", "20 °C ± ½"}
	d := saying(append(lines, "a東b\U00020bb7")...)
	d.Fallback = fallback(t, "東\U00020bb7")
	p := open(t, written(t, PDF, d))
	var got []string
	for i, s := range p.texts(t) {
		got = append(got, s.font+" "+s.text)
		if i < len(lines) {
			assert.InDelta(t, float64(Width(1, lines[i])), s.width, 0.0005*float64(len(s.text)), s.text)
		}
	}
	assert.Equal(t, []string{"F0 " + lines[0], "F0 " + lines[1], "F0 " + lines[2], "F0 a", "F1 東", "F0 b", "F1 \U00020bb7"}, got)
}

func TestPDFDocument(t *testing.T) {
	d := saying("lamp")
	d.Title = "Süd 東"
	file := written(t, PDF, d)
	assert.Equal(t, file, written(t, PDF, d))
	assert.Contains(t, file, "/Title<feff005300fc006400206771>", "a title")
	assert.Contains(t, file, "/Subject<feff")
	assert.Contains(t, file, "/Lang(en)")
	assert.NotContains(t, file, "Date")
	assert.Contains(t, file, "/MediaBox [0 0 200 100]")
	assert.Less(t, len(file), 4000, "four letters of a font")

	// The table at the end has where each object begins.
	at := regexp.MustCompile(`startxref\n(\d+)\n%%EOF\n$`).FindStringSubmatch(file)
	require.NotNil(t, at)
	rows := strings.Split(file[number(t, at[1]):], "\n")
	require.Equal(t, "xref", rows[0])
	var n int
	_, err := fmt.Sscanf(rows[1], "0 %d", &n)
	require.NoError(t, err)
	for i := 1; i < n; i++ {
		require.Len(t, rows[2+i], 19)
		assert.True(t, strings.HasPrefix(file[number(t, rows[2+i][:10]):], fmt.Sprintf("%d 0 obj\n", i)))
	}
}

func TestPDFDrawing(t *testing.T) {
	d := drawing(shapes)
	d.Fallback = fallback(t, "東")
	page := open(t, written(t, PDF, d)).page
	for _, want := range []string{
		"0.122 0.247 0.4 RG\n0.6 w\n[6 2] 1 d\n10 10 m\n60.12 10 l\n70 10 80 20 80 30 c\n80 50 90 60 110 60 c\nS\n",
		"[] 0 d\n10 10 m\n60.12 10 l\nS\n",
		"/A128 gs\n1 0 0 rg\n120 50 m\n120 61.05 111.05 70 100 70 c\n",
		"h\nf\n/A255 gs\n0.467 g\n",
		"0 1 -1 0 150 27 Tm", // turned, 5 up, and 2 to the middle of the cell
		"q 0 1 -1 0 150 20 cm\n10 10 m\n60.12 10 l\nS\nQ\n",
		"q 10 0 0 20 1 2 cm\n/I0 Do\nQ\n",
	} {
		assert.Contains(t, page, want)
	}
	assert.Equal(t, strings.Count(page, "q "), strings.Count(page, "Q\n"))
}

// An arc of cubic curves stays on its circle.
func TestCurvedArcs(t *testing.T) {
	for _, angle := range []float64{2 * math.Pi, -2 * math.Pi, math.Pi / 2, 1, -4, 7 * math.Pi} {
		arc := vg.PathComp{Type: vg.ArcComp, Pos: vg.Point{X: 3, Y: 4}, Radius: 10, Start: 0.3, Angle: angle}
		p := arcPen{t: t, on: arc, at: onCircle(arc, arc.Start)}
		trace(&p, vg.Path{arc})
		end := onCircle(arc, arc.Start+angle)
		assert.InDelta(t, 0, math.Hypot(float64(p.at.X-end.X), float64(p.at.Y-end.Y)), 1e-9)
		assert.InDelta(t, math.Abs(angle)*10, p.length, 0.01*math.Abs(angle))
	}
}

// arcPen follows the curves that an arc becomes.
type arcPen struct {
	t      *testing.T
	on     vg.PathComp
	at     vg.Point
	length float64
}

func (p *arcPen) move(to vg.Point)  { assert.Equal(p.t, p.at, to) }
func (p *arcPen) line(vg.Point)     { assert.Fail(p.t, "a line") }
func (p *arcPen) close()            {}
func (p *arcPen) arc(c vg.PathComp) { curved(p, c) }

func (p *arcPen) curve(one, other, to vg.Point) {
	from := p.at
	const n = 50
	for i := range n {
		s := vg.Length(i+1) / n
		u := 1 - s
		at := from.Scale(u * u * u).Add(one.Scale(3 * u * u * s)).Add(other.Scale(3 * u * s * s)).Add(to.Scale(s * s * s))
		p.length += math.Hypot(float64(at.X-p.at.X), float64(at.Y-p.at.Y))
		p.at = at
		r := math.Hypot(float64(at.X-p.on.Pos.X), float64(at.Y-p.on.Pos.Y))
		assert.InDelta(p.t, 1, r/float64(p.on.Radius), 3e-4)
	}
}

func BenchmarkPDF(b *testing.B) {
	d := saying("Larkfield 125 in Brinewater 1+19", "abcdefghijklmnopqrstuvwxyz", "0123456789")
	for b.Loop() {
		if err := PDF(io.Discard, d); err != nil {
			b.Fatal(err)
		}
	}
}
