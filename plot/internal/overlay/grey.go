package overlay

import (
	"image"
	"image/color"
	"math"
	"slices"

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
	scale := min(longest/float64(max(im.Width, im.Height)), largest)
	w, h := max(1, int(math.Round(float64(im.Width)*scale))), max(1, int(math.Round(float64(im.Height)*scale)))
	values := im.Planes[plane].Values
	light := make([]float64, w*h)
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
			light[y*w+x] = float64(sum) / float64((bottom-top)*(right-left))
		}
	}
	return lifted(light, w, h), scale
}

// lifted returns values as greys. The darkest and the lightest two in a thousand share one tone
// each.
func lifted(light []float64, w, h int) *image.Gray {
	sorted := slices.Clone(light)
	slices.Sort(sorted)
	at := func(share float64) float64 { return sorted[int(share*float64(len(sorted)-1))] }
	low, high := at(0.002), at(0.998)
	floor := 0.0015 * (high + 1) // below it is noise
	log := func(v float64) float64 { return math.Log(max(v, 0) + floor) }
	out := image.NewGray(image.Rect(0, 0, w, h))
	const black, white = 8, 248
	from, over := log(low), log(high)-log(low)
	for i, v := range light {
		part := 0.5
		if over > 0 {
			part = min(max((log(v)-from)/over, 0), 1)
		}
		out.Pix[i] = uint8(math.Round(black + (white-black)*part))
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

// markAside makes the pixels that were set aside white with a dark rim, at least three dots wide.
func (b *body) markAside() {
	for _, tone := range []struct {
		c    color.Gray
		more int
	}{{color.Gray{Y: 0}, 2}, {color.Gray{Y: 255}, 1}} {
		for _, r := range b.seen.Rows {
			for _, s := range r.Steps {
				for _, p := range s.Aside {
					b.stain(p, tone.more, tone.c)
				}
			}
		}
	}
}

// stain fills a pixel of the picture and so many dots around it.
func (b *body) stain(p picture.Point, around int, c color.Gray) {
	if math.IsNaN(p.X+p.Y) || math.Abs(p.X)+math.Abs(p.Y) > 1e9 {
		return
	}
	x, y := math.Floor(p.X)*b.scale, math.Floor(p.Y)*b.scale
	for j := int(y) - around; j <= int(math.Ceil(y+b.scale))-1+around; j++ {
		for i := int(x) - around; i <= int(math.Ceil(x+b.scale))-1+around; i++ {
			if (image.Point{X: i, Y: j}).In(b.grey.Rect) {
				b.grey.SetGray(i, j, c)
			}
		}
	}
}
