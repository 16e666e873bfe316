package lighttable

import (
	"bytes"
	"image"
	"image/jpeg"
	"math"
	"math/rand/v2"

	"sensito/sensito/picture"
)

// Picture returns the scene as the device has it. The seed is that of the device's noise and of
// its lamp: two pictures of a scene differ in these alone.
func (s Scene) Picture(d Device, seed uint64) *picture.Image {
	c := s.through(d)
	if d.Uneven != 0 || d.Tilt != 0 {
		c.uneven(d)
	}
	c.blur(math.Hypot(d.Blur/c.pixel, d.Soft))
	surround := 1.0
	if s.Masked {
		surround = 0
	}
	c.glare(d.Glare, surround, s.Glass)
	random := rand.New(rand.NewPCG(seed, 2))
	exposure := d.Open * (1 + d.Drift*random.NormFloat64())
	if d.Exposure != 0 {
		exposure *= d.Exposure
	}
	im := &picture.Image{Width: c.width, Height: c.height, Bits: d.Bits, About: picture.About{Format: "TIFF", PixelsPerInch: d.PerInch, Pages: 1}}
	names := []string{"grey"}
	if len(c.light) == 3 {
		names = []string{"red", "green", "blue"}
	}
	for k, light := range c.light {
		by := exposure
		if d.Balance != nil {
			by *= d.Balance[k]
		}
		values := make([]float64, len(light))
		encode := d.Encode
		for i, p := range light {
			p *= by
			v := p + d.Offset + random.NormFloat64()*math.Sqrt(d.Noise*d.Noise+d.Shot*d.Shot*p)
			v = min(max(v, 0), 1)
			if encode != nil {
				v = encode(v)
			}
			values[i] = v
		}
		if d.Sharpen != 0 {
			sharpen(values, c.width, c.height, d.Sharpen)
		}
		im.Planes = append(im.Planes, picture.Plane{Name: names[k], Values: quantised(values, d.Bits)})
	}
	if d.JPEG > 0 {
		im = lossy(im, d.JPEG)
	}
	if s.Mirrored {
		im = mirrored(im)
	}
	for range (s.Quarters%4 + 4) % 4 {
		im = quarter(im)
	}
	return im
}

// through returns the light that comes through each pixel, 1 where nothing is in the way.
func (s Scene) through(d Device) *canvas {
	w, h := s.size(d.PerInch)
	c := &canvas{width: w, height: h, pixel: inch / d.PerInch, light: make([][]float64, d.Channels)}
	stained := false
	for _, r := range s.Rows {
		stained = stained || r.Stain != [3]float64{}
	}
	if !stained { // one for all, drawn once
		c.light = c.light[:1]
	}
	for k := range c.light {
		c.light[k] = make([]float64, w*h)
		if !s.Masked {
			for i := range c.light[k] {
				c.light[k][i] = 1
			}
		}
	}
	random := rand.New(rand.NewPCG(s.Seed, 1))
	for _, r := range s.Rows {
		c.row(r, random)
	}
	for _, p := range s.Pieces {
		c.piece(p)
	}
	c.dirt(s, random)
	for len(c.light) < d.Channels {
		c.light = append(c.light, c.light[0])
	}
	return c
}

// alone calls f once for each channel that has light of its own.
func (c *canvas) alone(f func(light []float64)) {
	for k, light := range c.light {
		if k == 0 || &light[0] != &c.light[k-1][0] {
			f(light)
		}
	}
}

// uneven makes the corners darker with the square of their distance, and the right darker
// in proportion to it.
func (c *canvas) uneven(d Device) {
	c.alone(func(light []float64) {
		for y := range c.height {
			v := 2*(float64(y)+0.5)/float64(c.height) - 1
			for x := range c.width {
				u := 2*(float64(x)+0.5)/float64(c.width) - 1
				light[y*c.width+x] *= 1 - d.Uneven*(u*u+v*v)/2 - d.Tilt*(u+1)/2
			}
		}
	})
}

func (c *canvas) blur(sd float64) {
	c.alone(func(light []float64) { blurred(light, c.width, c.height, sd) })
}

// blurred convolves a plane with a Gauss curve of so many pixels in place; at the edges it
// goes on as it ends.
func blurred(plane []float64, width, height int, sd float64) {
	if sd < 0.05 {
		return
	}
	n := int(math.Ceil(3.5 * sd))
	weights, sum := make([]float64, n+1), 0.0
	for i := range weights { // of the curve over each pixel
		weights[i] = math.Erf((float64(i)+0.5)/(sd*math.Sqrt2)) - math.Erf((float64(i)-0.5)/(sd*math.Sqrt2))
		sum += weights[i]
		if i > 0 {
			sum += weights[i]
		}
	}
	for i := range weights {
		weights[i] /= sum
	}
	padded := make([]float64, width+2*n)
	for y := range height {
		row := plane[y*width : (y+1)*width]
		copy(padded[n:], row)
		for i := range n {
			padded[i], padded[n+width+i] = row[0], row[width-1]
		}
		for x := range row {
			v := weights[0] * padded[x+n]
			for i := 1; i <= n; i++ {
				v += weights[i] * (padded[x+n-i] + padded[x+n+i])
			}
			row[x] = v
		}
	}
	from := append([]float64(nil), plane...)
	line := func(y int) []float64 { y = min(max(y, 0), height-1); return from[y*width : (y+1)*width] }
	for y := range height {
		row, own := plane[y*width:(y+1)*width], line(y)
		for x := range row {
			row[x] = weights[0] * own[x]
		}
		for i := 1; i <= n; i++ {
			above, below, w := line(y-i), line(y+i), weights[i]
			for x := range row {
				row[x] += w * (above[x] + below[x])
			}
		}
	}
}

// sharpen adds what a blur takes away.
func sharpen(values []float64, width, height int, by float64) {
	soft := append([]float64(nil), values...)
	blurred(soft, width, height, 1.5)
	for i, v := range values {
		values[i] = min(max(v+by*(v-soft[i]), 0), 1)
	}
}

func quantised(values []float64, bits int) []uint16 {
	out := make([]uint16, len(values))
	levels, unit := 65535.0, uint16(1)
	if bits == 8 {
		levels, unit = 255, 257
	}
	for i, v := range values {
		out[i] = uint16(v*levels+0.5) * unit
	}
	return out
}

// lossy returns the picture as it comes back from a JPEG file.
func lossy(im *picture.Image, quality int) *picture.Image {
	var b bytes.Buffer
	if err := jpeg.Encode(&b, standard8(im), &jpeg.Options{Quality: quality}); err != nil {
		panic(err)
	}
	back, err := jpeg.Decode(&b)
	if err != nil {
		panic(err)
	}
	out := *im
	out.Bits, out.About.Format, out.Planes = 8, "JPEG", nil
	for k, p := range im.Planes {
		values := make([]uint16, len(p.Values))
		for i := range values {
			red, green, blue, _ := back.At(i%im.Width, i/im.Width).RGBA()
			values[i] = uint16([3]uint32{red, green, blue}[k])
		}
		out.Planes = append(out.Planes, picture.Plane{Name: p.Name, Values: values})
	}
	return &out
}

// standard8 returns the picture in 8 bits.
func standard8(im *picture.Image) image.Image {
	if len(im.Planes) == 1 {
		g := image.NewGray(image.Rect(0, 0, im.Width, im.Height))
		for i, v := range im.Planes[0].Values {
			g.Pix[i] = uint8((uint32(v) + 128) / 257)
		}
		return g
	}
	out := image.NewRGBA(image.Rect(0, 0, im.Width, im.Height))
	for i := range im.Planes[0].Values {
		for k, p := range im.Planes {
			out.Pix[4*i+k] = uint8((uint32(p.Values[i]) + 128) / 257)
		}
		out.Pix[4*i+3] = 255
	}
	return out
}

// remade returns the picture in another size, each pixel from a place of the old one.
func remade(im *picture.Image, width, height int, from func(x, y int) int) *picture.Image {
	out := *im
	out.Width, out.Height, out.Planes = width, height, nil
	for _, p := range im.Planes {
		values := make([]uint16, len(p.Values))
		for i := range values {
			values[i] = p.Values[from(i%width, i/width)]
		}
		out.Planes = append(out.Planes, picture.Plane{Name: p.Name, Values: values})
	}
	return &out
}

func mirrored(im *picture.Image) *picture.Image {
	return remade(im, im.Width, im.Height, func(x, y int) int { return y*im.Width + im.Width - 1 - x })
}

// quarter returns the picture turned clockwise by 90 degrees.
func quarter(im *picture.Image) *picture.Image {
	return remade(im, im.Height, im.Width, func(x, y int) int { return (im.Height-1-x)*im.Width + y })
}
