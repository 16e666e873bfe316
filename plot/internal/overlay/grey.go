package overlay

import (
	"image"
	"math"

	"gonum.org/v1/plot/vg"

	"sensito/sensito/picture"
)

const (
	longest = 1600 // pixels of the longer side as it is shown
	largest = 16.0 // of a pixel of the picture, each way
)

// Grey returns a channel as it is shown, and how many of its pixels one of the picture makes:
// averaged where the picture is larger than is shown, repeated where it is smaller.
// Its tones are logarithms of what the file holds, stretched, so that the dense end is seen.
func Grey(im *picture.Image, plane int) (*image.Gray, float64) {
	scale, w, h := shown(im)
	values := im.Planes[plane].Values
	light := make([]uint16, w*h)
	// Each pixel shown is the mean of those that begin in it.
	bounds := func(i, n, of int) (int, int) {
		from := i * of / n
		return from, max(from+1, (i+1)*of/n)
	}
	for y := range h {
		top, bottom := bounds(y, h, im.Height)
		for x := range w {
			left, right := bounds(x, w, im.Width)
			sum := 0
			for j := top; j < bottom; j++ {
				for _, v := range values[j*im.Width+left : j*im.Width+right] {
					sum += int(v)
				}
			}
			light[y*w+x] = uint16(sum / ((bottom - top) * (right - left)))
		}
	}
	return lifted(light, w, h), scale
}

// shown returns how many pixels one of the picture makes, and how large it is then.
func shown(im *picture.Image) (scale float64, width, height int) {
	scale = min(longest/float64(max(im.Width, im.Height)), largest)
	return scale, max(1, int(math.Round(float64(im.Width)*scale))), max(1, int(math.Round(float64(im.Height)*scale)))
}

// Frame returns where the picture lies in the PNG of its Overlay, as it is by default.
func Frame(im *picture.Image) image.Rectangle {
	_, w, h := shown(im)
	const at = int(margin / dot)
	return image.Rect(at, at, at+w, at+h)
}

// lifted returns values as greys. The darkest and the lightest two in a thousand share one tone
// each.
func lifted(light []uint16, w, h int) *image.Gray {
	counts := make([]int, 1<<16)
	for _, v := range light {
		counts[v]++
	}
	at := func(share float64) float64 {
		n, v := int(share*float64(len(light)-1)), 0
		for n -= counts[0]; n >= 0; n -= counts[v] {
			v++
		}
		return float64(v)
	}
	const black, white, grey = 8, 248, 128
	low, high := at(0.002), at(0.998)
	floor := 0.0015 * (high + 1) // below it is noise
	log := func(v float64) float64 { return math.Log(v + floor) }
	from, over := log(low), log(high)-log(low)
	tones := make([]uint8, 1<<16)
	for v, n := range counts {
		if tones[v] = grey; n > 0 && over > 0 {
			tones[v] = uint8(math.Round(black + (white-black)*min(max((log(float64(v))-from)/over, 0), 1)))
		}
	}
	out := image.NewGray(image.Rect(0, 0, w, h))
	for i, v := range light {
		out.Pix[i] = tones[v]
	}
	return out
}

// light says whether the picture is light in a part of the page.
func (s *sketch) light(r vg.Rectangle) bool {
	size := s.grey.Rect.Size()
	at := func(p vg.Point) (int, int) {
		x, y := (p.X-s.frame.Min.X)/s.frame.Size().X, (s.frame.Max.Y-p.Y)/s.frame.Size().Y
		return int(math.Floor(float64(x) * float64(size.X))), int(math.Floor(float64(y) * float64(size.Y)))
	}
	left, bottom := at(r.Min)
	right, top := at(r.Max)
	sum, n := 0, 0
	for y := top; y <= bottom; y++ {
		for x := left; x <= right; x++ {
			tone := 255 // paper
			if (image.Point{X: x, Y: y}).In(s.grey.Rect) {
				tone = int(s.grey.GrayAt(x, y).Y)
			}
			sum, n = sum+tone, n+1
		}
	}
	return sum > 128*n
}

// Rings around what was set aside: how far from its pixels, in dots, they begin and end. The dust
// itself stays to be seen.
const (
	ringFrom = 2
	ringTo   = 3
	ringRim  = 4 // dark, outside
)

// ringed draws white rings with a dark rim around the pixels that were set aside.
func (b *body) ringed() {
	size := b.grey.Rect.Size()
	far := make([]uint8, size.X*size.Y) // dots to the next such pixel, plus 1; 0 is beyond the rim
	for _, r := range b.seen.Rows {
		for _, s := range r.Steps {
			for _, p := range s.Aside {
				b.near(p, far)
			}
		}
	}
	for i, d := range far {
		switch {
		case d == 0 || d-1 < ringFrom:
		case d-1 <= ringTo:
			b.grey.Pix[i] = white.Y
		default:
			b.grey.Pix[i] = dark.Y
		}
	}
}

// near notes the dots around a pixel of the picture.
func (b *body) near(p picture.Point, far []uint8) {
	if !(p.X >= 0 && p.Y >= 0 && p.X < 1e6 && p.Y < 1e6) {
		return
	}
	size := b.grey.Rect.Size()
	dots := func(at float64) (int, int) {
		from := int(math.Floor(at) * b.scale)
		return from, max(from, int(math.Ceil((math.Floor(at)+1)*b.scale))-1)
	}
	left, right := dots(p.X)
	top, bottom := dots(p.Y)
	for y := max(0, top-ringRim); y <= min(size.Y-1, bottom+ringRim); y++ {
		for x := max(0, left-ringRim); x <= min(size.X-1, right+ringRim); x++ {
			d := uint8(max(left-x, x-right, top-y, y-bottom, 0) + 1)
			if at := &far[y*size.X+x]; *at == 0 || d < *at {
				*at = d
			}
		}
	}
}
