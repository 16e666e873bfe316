// Package pixels tells which pixels of a part of a picture are dust, scratches, letters and the like.
//
// Begin with Within, which returns those within four corners.
package pixels

import (
	"math"

	"sensito/fit"
)

// How pixels are set aside as dust, scratches, letters and the like.
const (
	// asideSingle and asideNine are how many sd a pixel, and the mean of the nine about one, may differ from a plane
	// (TestKindsOfDirt, TestMeanOfGrain).
	asideSingle, asideNine = 5, 4.5
	// asideGrown is by how many pixels what is set aside is grown: the border of dust is blurred (TestKindsOfDirt).
	asideGrown = 2
	// asideRounds is how often, each time but the first from the plane of what was kept (TestKindsOfDirt).
	asideRounds = 3
	// scaleSample is how many pixels the scatter is told by at most (BenchmarkLargePicture).
	scaleSample = 1 << 12
	// leastScatter is that of pixels in levels: of a file of 8 bits nearly all may have one value, and the others are no
	// dust (TestRoundedIsNoDust).
	leastScatter = 0.5
	// leastPart is that of pixels as a part of their value: what differs by five times as much, 0.001 of density, does no
	// harm in any mean (TestPatchMeans).
	leastPart = 0.0005
)

// A Plane is the values of a picture, row by row.
type Plane struct {
	Width, Height int
	Values        []uint16
}

// A Grid is the pixels within four corners, in the rectangle about them.
type Grid struct {
	x0, y0, width, height int
	values                []float32
	state                 []uint8
	quarter               []uint8
	Inside                int // how many there are
}

// States of a pixel of a grid.
const (
	outside = iota
	kept
	aside
)

// Within returns the pixels whose middles lie within four corners of a parallelogram, each by its x and y.
func Within(r Plane, c [4][2]float64) *Grid {
	low, high := c[0], c[0]
	for _, p := range c[1:] {
		for k := range p {
			low[k], high[k] = min(low[k], p[k]), max(high[k], p[k])
		}
	}
	x0, y0 := max(0, int(math.Floor(low[0]))), max(0, int(math.Floor(low[1])))
	x1, y1 := min(r.Width, int(math.Ceil(high[0]))), min(r.Height, int(math.Ceil(high[1])))
	g := &Grid{x0: x0, y0: y0, width: max(0, x1-x0), height: max(0, y1-y0)}
	n := g.width * g.height
	g.values, g.state, g.quarter = make([]float32, n), make([]uint8, n), make([]uint8, n)
	// Shares of the way along two sides: within both are 0..1.
	ax, ay, bx, by := c[1][0]-c[0][0], c[1][1]-c[0][1], c[3][0]-c[0][0], c[3][1]-c[0][1]
	det := ax*by - ay*bx
	for j := range g.height {
		for i := range g.width {
			x, y := float64(x0+i)+0.5-c[0][0], float64(y0+j)+0.5-c[0][1]
			s, t := (x*by-y*bx)/det, (ax*y-ay*x)/det
			if s < 0 || s >= 1 || t < 0 || t >= 1 {
				continue
			}
			k := j*g.width + i
			g.values[k] = float32(r.Values[(y0+j)*r.Width+x0+i])
			g.state[k] = kept
			if s >= 0.5 {
				g.quarter[k]++
			}
			if t >= 0.5 {
				g.quarter[k] += 2
			}
			g.Inside++
		}
	}
	return g
}

// Share returns the share of pixels that have a value.
func (g *Grid) Share(value float32) float64 {
	n := 0
	for k, v := range g.values {
		if g.state[k] != outside && v == value {
			n++
		}
	}
	return float64(n) / float64(max(1, g.Inside))
}

// mean returns that of all pixels inside.
func (g *Grid) mean() float64 {
	sum := 0.0
	for _, v := range g.values { // 0 outside
		sum += float64(v)
	}
	return sum / float64(max(1, g.Inside))
}

// Kept returns how many pixels are kept.
func (g *Grid) Kept() int {
	n := 0
	for _, s := range g.state {
		if s == kept {
			n++
		}
	}
	return n
}

// SetAside marks the pixels that differ from a plane through the others by more than noise does. A level is what lies between
// two of the file.
func (g *Grid) SetAside(level float64) {
	rest := make([]float32, len(g.values))
	nine := make([]float32, len(g.values))
	bad := make([]bool, len(g.values))
	for round := range asideRounds {
		// The first time from the middle value: a plane would lean towards dirt in a corner.
		g.lessPlane(rest, round > 0)
		g.meansOfNine(rest, nine)
		least := max(leastScatter*level, leastPart*g.mean())
		middle, sd := g.scatter(rest, least)
		middleNine, sdNine := g.scatter(nine, least/3)
		for k, s := range g.state {
			bad[k] = s != outside && (math.Abs(float64(rest[k])-middle) > asideSingle*sd || math.Abs(float64(nine[k])-middleNine) > asideNine*sdNine)
		}
		changed := false
		grown := grow(bad, g.width, g.height, asideGrown)
		for k, s := range g.state {
			now := s
			switch {
			case s == outside:
			case grown[k]:
				now = aside
			default:
				now = kept
			}
			changed = changed || now != s
			g.state[k] = now
		}
		if !changed && round > 0 {
			return
		}
	}
}

// lessPlane writes the values less the plane of least squares through those kept, or less their mean where it may not lean.
func (g *Grid) lessPlane(rest []float32, leans bool) {
	var n, sx, sy, sv, sxx, sxy, syy, sxv, syv float64
	cx, cy := float64(g.width)/2, float64(g.height)/2
	for j := range g.height {
		y := float64(j) - cy
		for i := range g.width {
			k := j*g.width + i
			if g.state[k] != kept {
				continue
			}
			x, v := float64(i)-cx, float64(g.values[k])
			n, sx, sy, sv = n+1, sx+x, sy+y, sv+v
			sxx, sxy, syy, sxv, syv = sxx+x*x, sxy+x*y, syy+y*y, sxv+x*v, syv+y*v
		}
	}
	n = max(1, n)
	mx, my, mv := sx/n, sy/n, sv/n
	sxx, sxy, syy, sxv, syv = sxx-n*mx*mx, sxy-n*mx*my, syy-n*my*my, sxv-n*mx*mv, syv-n*my*mv
	var a, b float64
	if det := sxx*syy - sxy*sxy; leans && det > 1e-9*sxx*syy {
		a, b = (sxv*syy-syv*sxy)/det, (syv*sxx-sxv*sxy)/det
	}
	for j := range g.height {
		y := float64(j) - cy - my
		for i := range g.width {
			k := j*g.width + i
			rest[k] = float32(float64(g.values[k]) - mv - a*(float64(i)-cx-mx) - b*y)
		}
	}
}

// meansOfNine writes the mean of the values inside, of the nine about each pixel.
func (g *Grid) meansOfNine(of, out []float32) {
	// Sums of three along each line first; outside counts nothing.
	sums, counts := make([]float32, len(of)), make([]float32, len(of))
	for j := range g.height {
		for i := range g.width {
			k := j*g.width + i
			for m := k - min(1, i); m <= k+min(1, g.width-1-i); m++ {
				if g.state[m] != outside {
					sums[k] += of[m]
					counts[k]++
				}
			}
		}
	}
	for j := range g.height {
		for i := range g.width {
			k := j*g.width + i
			if g.state[k] == outside {
				continue
			}
			sum, n := sums[k], counts[k]
			if j > 0 {
				sum, n = sum+sums[k-g.width], n+counts[k-g.width]
			}
			if j+1 < g.height {
				sum, n = sum+sums[k+g.width], n+counts[k+g.width]
			}
			out[k] = sum / n
			if n < 9 { // fewer than nine scatter more, as the root of their number
				out[k] *= rootOfNinths[int(n)]
			}
		}
	}
}

// rootOfNinths are the roots of n/9.
var rootOfNinths = [10]float32{0, 0.33333, 0.47140, 0.57735, 0.66667, 0.74536, 0.81650, 0.88192, 0.94281, 1}

// scatter returns the middle value of those kept, and their sd by the median of absolute differences from it, but no less
// than is said.
func (g *Grid) scatter(of []float32, least float64) (middle, sd float64) {
	stride := max(1, g.Inside/scaleSample)
	var sample []float64
	n := 0
	for k, s := range g.state {
		if s != kept {
			continue
		}
		if n%stride == 0 {
			sample = append(sample, float64(of[k]))
		}
		n++
	}
	if len(sample) == 0 {
		return 0, math.Inf(1)
	}
	middle = fit.Median(sample)
	for i, v := range sample {
		sample[i] = math.Abs(v - middle)
	}
	return middle, max(least, fit.Median(sample)/0.6745)
}

// grow returns a mask with everything within a number of pixels of what is set in it.
func grow(mask []bool, width, height, by int) []bool {
	out := make([]bool, len(mask))
	for j := range height {
		for i := range width {
			if !mask[j*width+i] {
				continue
			}
			for y := max(0, j-by); y <= min(height-1, j+by); y++ {
				for x := max(0, i-by); x <= min(width-1, i+by); x++ {
					out[y*width+x] = true
				}
			}
		}
	}
	return out
}

// Taken returns the values kept, of which there are count, or as many as most of them, evenly taken, and the same by quarter.
func (g *Grid) Taken(count, most int) ([]uint16, [4][]uint16) {
	every := 1.0
	if count > most {
		every = float64(count) / float64(most)
	}
	all := make([]uint16, 0, min(count, most))
	var quarters [4][]uint16
	next, n := 0.0, 0
	for k, s := range g.state {
		if s != kept {
			continue
		}
		if float64(n) >= next && len(all) < most {
			v := uint16(g.values[k])
			all = append(all, v)
			quarters[g.quarter[k]] = append(quarters[g.quarter[k]], v)
			next += every
		}
		n++
	}
	return all, quarters
}
