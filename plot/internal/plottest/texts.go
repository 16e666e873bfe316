package plottest

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/recorder"

	"sensito/plot/internal/canvas"
	"sensito/plot/internal/figure"
	"sensito/plot/internal/parts"
)

// TextBox is a text as it stands on the page.
type TextBox struct {
	vg.Rectangle
	Text   string
	Turned bool // neither level nor upright
}

// Texts returns every text of a figure with its box: the capitals' height and
// a descender, as wide as the font sets it.
func Texts(t testing.TB, fig *figure.Figure) []TextBox {
	t.Helper()
	var c recorder.Canvas
	fig.Draw(&c)
	type transform struct{ a, b, c, d, e, f float64 } // x' = ax + cy + e, y' = bx + dy + f
	stack := []transform{{1, 0, 0, 1, 0, 0}}
	var out []TextBox
	for _, action := range c.Actions {
		top := &stack[len(stack)-1]
		m := *top
		switch a := action.(type) {
		case *recorder.Push:
			stack = append(stack, m)
		case *recorder.Pop:
			stack = stack[:len(stack)-1]
		case *recorder.Rotate:
			sin, cos := math.Sincos(a.Angle)
			*top = transform{m.a*cos + m.c*sin, m.b*cos + m.d*sin, m.c*cos - m.a*sin, m.d*cos - m.b*sin, m.e, m.f}
		case *recorder.Translate, *recorder.Scale:
			t.Fatalf("%s is not expected in a figure", action.Call())
		case *recorder.FillString:
			w := canvas.Width(a.Size, a.String)
			if w == 0 || a.String == " " {
				continue
			}
			corner := func(x, y vg.Length) vg.Point {
				px, py := float64(a.Point.X+x), float64(a.Point.Y+y)
				return vg.Point{X: vg.Length(m.a*px + m.c*py + m.e), Y: vg.Length(m.b*px + m.d*py + m.f)}
			}
			one, other := corner(0, -0.2*a.Size), corner(w, parts.CapHeight*a.Size)
			out = append(out, TextBox{vg.Rectangle{
				Min: vg.Point{X: min(one.X, other.X), Y: min(one.Y, other.Y)},
				Max: vg.Point{X: max(one.X, other.X), Y: max(one.Y, other.Y)},
			}, a.String, math.Abs(m.a*m.b) > 1e-9})
		}
	}
	require.NotEmpty(t, out)
	return out
}

// RequireReadable checks that all text stands on the page and none on other text.
func RequireReadable(t *testing.T, fig *figure.Figure) {
	t.Helper()
	RequireApart(t, fig, Texts(t, fig))
}

// RequireApart is requireReadable for some of the texts.
func RequireApart(t *testing.T, fig *figure.Figure, boxes []TextBox) {
	t.Helper()
	const slack = vg.Length(0.01)
	for i, b := range boxes {
		require.True(t, b.Min.X >= -slack && b.Min.Y >= -slack && b.Max.X <= fig.Width+slack && b.Max.Y <= fig.Height+slack,
			"%q at %v leaves the page of %v by %v", b.Text, b.Rectangle, fig.Width, fig.Height)
		for _, o := range boxes[:i] {
			apart := b.Max.X <= o.Min.X+slack || o.Max.X <= b.Min.X+slack || b.Max.Y <= o.Min.Y+slack || o.Max.Y <= b.Min.Y+slack
			require.True(t, apart, "%q at %v stands on %q at %v", b.Text, b.Rectangle, o.Text, o.Rectangle)
		}
	}
}

// Middle returns where the middle of the first text s stands.
func Middle(t testing.TB, boxes []TextBox, s string, where func(TextBox) bool) vg.Point {
	t.Helper()
	for _, b := range boxes {
		if b.Text == s && where(b) {
			return vg.Point{X: (b.Min.X + b.Max.X) / 2, Y: (b.Min.Y + b.Max.Y) / 2}
		}
	}
	require.Fail(t, "no such text", s)
	return vg.Point{}
}
