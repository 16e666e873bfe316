package pictured

import (
	"image"
	"math"

	"sensito/sensito/picture"
)

// How large a picture is shown, in CSS pixels. The size is fixed, since a click without script tells where it was in
// what the browser shows; on a narrow page the picture scrolls by itself.
const wide, high = 720, 1000

// closer is how many times shorter the sides of a cut are than the longer side of the picture.
const closer = 4

// A View is the part of a picture that is shown, in its pixels, and how large, in CSS pixels.
type View struct {
	Cut           image.Rectangle
	Width, Height int
}

// NewView returns the view of a picture of so many pixels: the whole, or a cut about a place.
func NewView(width, height int, near *picture.Point) View {
	v := View{Cut: image.Rect(0, 0, width, height)}
	if near != nil {
		side := max(1, max(width, height)/closer)
		v.Cut.Min.X, v.Cut.Max.X = about(near.X, side, width)
		v.Cut.Min.Y, v.Cut.Max.Y = about(near.Y, side, height)
	}
	scale := min(wide/float64(v.Cut.Dx()), high/float64(v.Cut.Dy()))
	v.Width, v.Height = max(1, int(math.Round(scale*float64(v.Cut.Dx())))), max(1, int(math.Round(scale*float64(v.Cut.Dy()))))
	return v
}

// about returns a stretch of a side about a place, within the whole of it.
func about(at float64, side, whole int) (from, to int) {
	side = min(side, whole)
	from = int(math.Round(min(max(at-float64(side)/2, 0), float64(whole-side))))
	return from, from + side
}

// At returns the place in the picture of a click, which counts CSS pixels from the top left of what is shown; ok is
// false for one outside.
func (v View) At(x, y int) (p picture.Point, ok bool) {
	if x < 0 || y < 0 || x > v.Width || y > v.Height {
		return p, false
	}
	along := func(at, of, from, size int) float64 {
		return float64(from) + min((float64(at)+0.5)/float64(of), 1)*float64(size)
	}
	return picture.Point{X: along(x, v.Width, v.Cut.Min.X, v.Cut.Dx()), Y: along(y, v.Height, v.Cut.Min.Y, v.Cut.Dy())}, true
}

// of returns the part of a channel that is shown, as an image of its own.
func (v View) of(im *picture.Image, plane int) *picture.Image {
	p := im.Planes[plane]
	out := &picture.Image{Width: v.Cut.Dx(), Height: v.Cut.Dy(), Bits: im.Bits, Planes: []picture.Plane{p}}
	if out.Width == im.Width && out.Height == im.Height {
		return out
	}
	cut := make([]uint16, 0, out.Width*out.Height)
	for y := v.Cut.Min.Y; y < v.Cut.Max.Y; y++ {
		cut = append(cut, p.Values[y*im.Width+v.Cut.Min.X:y*im.Width+v.Cut.Max.X]...)
	}
	out.Planes = []picture.Plane{{Name: p.Name, Values: cut}}
	return out
}
