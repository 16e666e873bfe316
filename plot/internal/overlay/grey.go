package overlay

import (
	"image"
	"image/color"
	"math"
	"slices"

	"sensito/sensito/picture"
)

const (
	longest  = 1600 // pixels of the longer side that are shown at most
	shortest = 1000 // and at least: a smaller picture is enlarged by a whole number
)

// Grey returns a channel as it is shown, and how many of its pixels one of the picture makes:
// averaged where the picture is larger than can be shown, each pixel repeated where it is small.
// Its tones are logarithms of what the file holds, stretched, so that the dense end is seen.
func Grey(im *picture.Image, plane int) (*image.Gray, float64) {
	long := max(im.Width, im.Height)
	scale := 1.0
	switch {
	case long > longest:
		scale = float64(longest) / float64(long)
	case long < shortest:
		scale = float64((shortest + long - 1) / long)
	}
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
