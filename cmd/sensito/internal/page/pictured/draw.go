package pictured

import (
	"bytes"
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"io"
	"math"

	"sensito/plot"
	"sensito/sensito/picture"
)

// Marks are what somebody has marked so far.
type Marks struct {
	Rows   []picture.Ends
	Points []picture.Point
}

// Grey returns what is shown of a channel, with the marks: a line from end to end of a row with a bar at both, a
// cross at a place.
func (v View) Grey(im *picture.Image, plane int, marks Marks) *image.Gray {
	grey, scale := plot.Grey(v.of(im, plane), 0)
	// A pixel of CSS is so many of the image; lines and crosses have their size on the page.
	pen := float64(grey.Rect.Dx()) / float64(v.Width)
	at := func(p picture.Point) picture.Point {
		return picture.Point{X: (p.X - float64(v.Cut.Min.X)) * scale, Y: (p.Y - float64(v.Cut.Min.Y)) * scale}
	}
	var lines [][2]picture.Point
	const arm = 9 // CSS pixels
	for _, row := range marks.Rows {
		first, last := at(row.First), at(row.Last)
		lines = append(lines, [2]picture.Point{first, last})
		if n := math.Hypot(last.X-first.X, last.Y-first.Y); n > 0 {
			x, y := -(last.Y-first.Y)/n*arm*pen, (last.X-first.X)/n*arm*pen
			for _, p := range []picture.Point{first, last} {
				lines = append(lines, [2]picture.Point{{X: p.X - x, Y: p.Y - y}, {X: p.X + x, Y: p.Y + y}})
			}
		}
	}
	for _, p := range marks.Points {
		p = at(p)
		a := arm * pen
		lines = append(lines, [2]picture.Point{{X: p.X - a, Y: p.Y}, {X: p.X + a, Y: p.Y}}, [2]picture.Point{{X: p.X, Y: p.Y - a}, {X: p.X, Y: p.Y + a}})
	}
	const light, rim = 0.9, 1.8 // half widths, CSS pixels
	for _, l := range lines {
		stroke(grey, l, rim*pen, 0)
	}
	for _, l := range lines {
		stroke(grey, l, light*pen, 255)
	}
	return grey
}

// stroke draws a line of half a width in one tone.
func stroke(img *image.Gray, l [2]picture.Point, half float64, tone uint8) {
	far := img.Rect.Dx() + img.Rect.Dy()
	within := func(v float64, most int) int { return int(min(max(v, -float64(far)), float64(most))) }
	dx, dy := l[1].X-l[0].X, l[1].Y-l[0].Y
	n := dx*dx + dy*dy
	for y := max(0, within(math.Floor(min(l[0].Y, l[1].Y)-half), far)); y < min(img.Rect.Dy(), within(math.Ceil(max(l[0].Y, l[1].Y)+half), far)); y++ {
		for x := max(0, within(math.Floor(min(l[0].X, l[1].X)-half), far)); x < min(img.Rect.Dx(), within(math.Ceil(max(l[0].X, l[1].X)+half), far)); x++ {
			px, py := float64(x)+0.5-l[0].X, float64(y)+0.5-l[0].Y
			t := 0.0
			if n > 0 {
				t = min(max((px*dx+py*dy)/n, 0), 1)
			}
			if math.Hypot(px-t*dx, py-t*dy) <= half {
				img.SetGray(x, y, color.Gray{Y: tone})
			}
		}
	}
}

// Overlay returns a picture with what was found in it, without the legend, whose words the page has. Draw is that of
// the answer.
func Overlay(im *picture.Image, drawing func(plot.Options) (*plot.Figure, error)) (*image.Gray, error) {
	fig, err := drawing(plot.Options{})
	if err != nil {
		return nil, err
	}
	var b bytes.Buffer
	if err := plot.Write(&b, fig, plot.PNG); err != nil {
		return nil, err
	}
	whole, err := png.Decode(&b)
	if err != nil {
		return nil, err
	}
	frame := plot.OverlayFrame(im)
	out := image.NewGray(image.Rectangle{Max: frame.Size()})
	draw.Draw(out, out.Rect, whole, frame.Min, draw.Src)
	return out, nil
}

// Write writes an image as PNG, in greys or, for a page in red, in reds: then its file has no green and no blue, whatever
// the browser does with it.
func Write(w io.Writer, img *image.Gray, red bool) error {
	e := png.Encoder{CompressionLevel: png.BestSpeed}
	if !red {
		return e.Encode(w, img)
	}
	palette := make(color.Palette, 256)
	for i := range palette {
		palette[i] = color.RGBA{R: uint8(i), A: 255}
	}
	return e.Encode(w, &image.Paletted{Pix: img.Pix, Stride: img.Stride, Rect: img.Rect, Palette: palette})
}
