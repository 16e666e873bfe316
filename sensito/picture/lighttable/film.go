package lighttable

import (
	"cmp"
	"math"
	"math/rand/v2"
)

// A canvas is the light that comes through each pixel, channel by channel.
type canvas struct {
	width, height int
	pixel         float64 // its side in mm
	light         [][]float64
}

// covered returns which part of a pixel lies inside an edge that is so many mm away from its
// middle.
func (c *canvas) covered(inside float64) float64 { return min(max(inside/c.pixel+0.5, 0), 1) }

// each calls f for the pixels of a turned rectangle and those at its edges, with the place of
// their middle along and across it and the part that is inside.
func (c *canvas) each(at Point, halfLength, halfAcross, turn float64, f func(i int, along, across, part float64)) {
	sin, cos := math.Sincos(turn * math.Pi / 180)
	w, h := math.Abs(halfLength*cos)+math.Abs(halfAcross*sin)+c.pixel, math.Abs(halfLength*sin)+math.Abs(halfAcross*cos)+c.pixel
	within := func(mm float64, n int) int { return min(max(int(math.Floor(mm/c.pixel)), 0), n) }
	for row := within(at.Y-h, c.height); row < within(at.Y+h+c.pixel, c.height); row++ {
		y := (float64(row)+0.5)*c.pixel - at.Y
		for column := within(at.X-w, c.width); column < within(at.X+w+c.pixel, c.width); column++ {
			x := (float64(column)+0.5)*c.pixel - at.X
			along, across := x*cos+y*sin, y*cos-x*sin
			part := c.covered(halfLength - math.Abs(along))
			if part > 0 {
				part *= c.covered(halfAcross - math.Abs(across))
			}
			if part > 0 {
				f(row*c.width+column, along, across, part)
			}
		}
	}
}

func transmission(density float64) float64 { return math.Exp(-math.Ln10 * density) }

// aperture is the area that granularity is stated for, a circle of 48 µm, in mm².
const aperture = math.Pi * 0.024 * 0.024

// grain returns the standard deviation of density of one pixel. Selwyn: it goes with
// the inverse root of the area; that it goes with the root of density is common practice.
func (c *canvas) grain(r Row, density float64) float64 {
	return r.Grain / 1000 * math.Sqrt(max(density-r.Base, 0)+0.05) * math.Sqrt(aperture/(c.pixel*c.pixel))
}

// row lays a row of steps on the canvas. The mean light of a step is 10^-density whatever
// its grain, as a densitometer of a large aperture reads it.
func (c *canvas) row(r Row, random *rand.Rand) {
	channels := len(c.light)
	n := len(r.Density)
	// Index 0 is the film before the first step, n+1 that after the last.
	through, noise := make([][]float64, channels), make([]float64, n+2)
	for k := range through {
		through[k] = make([]float64, n+2)
		for i := range through[k] {
			d := r.Base
			if i > 0 && i <= n {
				d = r.Density[i-1]
			}
			noise[i] = c.grain(r, d) * math.Ln10
			if channels == 3 {
				d += r.Stain[k] * (d - r.Base)
			}
			through[k][i] = transmission(cmp.Or(r.Callier, 1) * d)
		}
	}
	half := r.length() / 2
	c.each(r.At, half+r.Lead, r.Across/2+r.Margin, r.Turn, func(i int, along, across, part float64) {
		at := (along + half) / r.Step
		step := min(max(int(math.Floor(at))+1, 0), n+1)
		// The nearer edge and what is beyond it, since a pixel sees both.
		beyond, inside := min(step+1, n+1), float64(step)-at
		if at-float64(step-1) < inside {
			beyond, inside = max(step-1, 0), at-float64(step-1)
		}
		own := c.covered(math.Abs(inside) * r.Step)
		if step == 0 || step == n+1 { // the film before has one edge alone
			if step == 0 {
				beyond, own = min(1, n), c.covered(-at*r.Step)
			} else {
				beyond, own = n, c.covered((at-float64(n))*r.Step)
			}
		}
		steps := c.covered(r.Across/2 - math.Abs(across))
		g := 1.0
		if r.Grain > 0 {
			sd := noise[step]
			if steps < 0.5 {
				sd = noise[0]
			}
			g = math.Exp(-sd*random.NormFloat64() - sd*sd/2)
		}
		if r.Perforated {
			part *= 1 - c.hole(along, math.Abs(across)-r.Across/2-r.Margin/2)
			if part == 0 {
				for k := range c.light {
					c.light[k][i] = 1
				}
				return
			}
		}
		for k := range c.light {
			t := steps*(own*through[k][step]+(1-own)*through[k][beyond]) + (1-steps)*through[k][0]
			under := c.light[k][i]
			if r.Perforated {
				under = max(under, 1-part) // what a hole leaves is open
			}
			c.light[k][i] = part*t*g + (1-part)*under
		}
	})
}

// hole returns the part of a pixel that lies in a perforation: 2.8 by 2.0 mm every 4.75 mm, from
// memory of 35 mm film.
func (c *canvas) hole(along, across float64) float64 {
	const pitch, length, width = 4.75, 2.0, 2.8
	along = math.Mod(math.Mod(along, pitch)+pitch, pitch) - pitch/2
	return c.covered(length/2-math.Abs(along)) * c.covered(width/2-math.Abs(across))
}

func (c *canvas) piece(p Piece) {
	t := transmission(p.Density)
	c.each(p.At, p.Width/2, p.Height/2, p.Turn, func(i int, _, _, part float64) {
		for _, light := range c.light {
			light[i] = part*t + (1-part)*light[i]
		}
	})
}

// dim takes away light by a density over part of a pixel.
func (c *canvas) dim(i int, part, density float64) {
	t := 1 - part + part*transmission(density)
	for _, light := range c.light {
		light[i] *= t
	}
}

// dirt lays dust, scratches and rings over all. Sizes of dust are assumed: a median radius of
// 0.05 mm, one in three twice as large or more.
func (c *canvas) dirt(s Scene, random *rand.Rand) {
	specks := append([]Speck(nil), s.Specks...)
	expected := s.Dust * s.Width * s.Height / 100
	for range int(expected + random.Float64()) {
		specks = append(specks, Speck{At: Point{random.Float64() * s.Width, random.Float64() * s.Height},
			Radius: 0.05 * math.Exp(0.7*random.NormFloat64()), Density: 0.3 + 1.2*random.Float64()})
	}
	for _, p := range specks {
		area := c.pixel * c.pixel
		if full := math.Pi * p.Radius * p.Radius; full < area { // smaller than a pixel: its share of it
			c.each(p.At, 0, 0, 0, func(i int, _, _, part float64) { c.dim(i, part*full/area, p.Density) })
			continue
		}
		c.each(p.At, p.Radius, p.Radius, 0, func(i int, x, y, _ float64) {
			c.dim(i, c.covered(p.Radius-math.Hypot(x, y)), p.Density)
		})
	}
	for _, l := range s.Scratches {
		dx, dy := l.To.X-l.From.X, l.To.Y-l.From.Y
		thin := min(1, l.Width/c.pixel) // covered is that of a line one pixel wide at least
		c.each(Point{l.From.X + dx/2, l.From.Y + dy/2}, math.Hypot(dx, dy)/2, max(l.Width, c.pixel)/2, math.Atan2(dy, dx)*180/math.Pi,
			func(i int, _, _, part float64) { c.dim(i, part*thin, l.Density) })
	}
	if s.Rings == 0 {
		return
	}
	for range 3 {
		at := Point{random.Float64() * s.Width, random.Float64() * s.Height}
		const first, fades = 4.0, 8.0 // mm: radius of the first ring, and where they are gone
		c.each(at, 3*fades, 3*fades, 0, func(i int, x, y, _ float64) {
			r2 := x*x + y*y
			m := 1 + s.Rings*math.Cos(2*math.Pi*r2/(first*first))*math.Exp(-r2/(2*fades*fades))
			for _, light := range c.light {
				light[i] *= m
			}
		})
	}
}
