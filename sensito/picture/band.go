package picture

import (
	"math"
	"slices"
)

// minus returns the way from another point to this one.
func (p Point) minus(o Point) Point { return Point{p.X - o.X, p.Y - o.Y} }

// plus returns the point that lies a number of times a way further.
func (p Point) plus(way Point, times float64) Point {
	return Point{p.X + times*way.X, p.Y + times*way.Y}
}

// length returns that of a way, in pixels.
func (p Point) length() float64 { return math.Hypot(p.X, p.Y) }

// unit returns the direction of a way.
func (p Point) unit() Point { return Point{}.plus(p, 1/p.length()) }

// left returns a way turned by 90 degrees.
func (p Point) left() Point { return Point{-p.Y, p.X} }

// within says whether a point lies on the picture.
func (im *Image) within(p Point) bool {
	return p.X >= 0 && p.Y >= 0 && p.X <= float64(im.Width) && p.Y <= float64(im.Height)
}

// A raster is one plane of a picture.
type raster struct {
	width, height int
	values        []uint16
}

// of returns the raster of a plane.
func of(im *Image, plane int) raster { return raster{im.Width, im.Height, im.Planes[plane].Values} }

// at returns the value at a place, 0..1, by a straight line between the middles of the four pixels about it. Outside the
// picture it is that of the nearest pixel.
func (r raster) at(p Point) float64 {
	x, y := max(0, min(p.X-0.5, float64(r.width-1))), max(0, min(p.Y-0.5, float64(r.height-1)))
	i, j := int(x), int(y)
	fx, fy := x-float64(i), y-float64(j)
	right, below := min(i+1, r.width-1), min(j+1, r.height-1)
	top := float64(r.values[j*r.width+i])*(1-fx) + float64(r.values[j*r.width+right])*fx
	bottom := float64(r.values[below*r.width+i])*(1-fx) + float64(r.values[below*r.width+right])*fx
	return (top*(1-fy) + bottom*fy) / full
}

// full is the highest value of a plane.
const full = 65535

// A frame places what lies along a row and across it.
type frame struct{ origin, along, across Point }

// frameOf returns the frame that begins at the first end.
func frameOf(e Ends) frame {
	along := e.Last.minus(e.First).unit()
	return frame{e.First, along, along.left()}
}

// at returns the point that lies at a place along the row and across it, in pixels.
func (f frame) at(u, w float64) Point { return f.origin.plus(f.along, u).plus(f.across, w) }

// A band is what a picture has along a row, in lines beside each other.
type band struct {
	from, by float64 // pixels along the row: the place of the first value and what lies between two
	across   []float64
	lines    [][]float32
	floor    float64 // is added before logarithms, so that the noise of black makes no edges
}

// bandLines is how many lines a band has at most: more make no edge surer than the grain within it does, and cost time
// (BenchmarkLargePicture).
const bandLines = 96

// blackShare of the brightest light is added before logarithms. Without it the noise of black beside a row has higher
// slopes than its edges (TestHardRows).
const blackShare = 0.004

// bandOf returns the band about a row that is told by its ends, as far to either side as is said, in pixels. It reaches
// beyond either end by a number of pixels.
func bandOf(r raster, e Ends, half, beyond, by float64) *band {
	f := frameOf(e)
	long := e.Last.minus(e.First).length()
	b := &band{from: -beyond, by: by}
	n := max(3, min(bandLines, int(2*half)+1))
	count := int((long+2*beyond)/by) + 1
	brightest := 0.0
	for k := range n {
		w := half * (2*(float64(k)+0.5)/float64(n) - 1)
		line := make([]float32, count)
		p := f.at(b.from, w)
		for i := range line {
			line[i] = float32(r.at(p.plus(f.along, float64(i)*by)))
			brightest = max(brightest, float64(line[i]))
		}
		b.across, b.lines = append(b.across, w), append(b.lines, line)
	}
	b.floor = blackShare*brightest + 1.0/full
	return b
}

// profile returns the light along the row, a mean across of edges that lean by a slope, pixels along for each across.
// Where trimmed is set, a fifth of the lines at either end of the order is left out, so that dust does not count.
func (b *band) profile(lean float64, trimmed bool) []float64 {
	n := len(b.lines[0])
	out := make([]float64, n)
	column := make([]float64, len(b.lines))
	shifts := make([]float64, len(b.lines))
	for k, w := range b.across {
		shifts[k] = w * lean / b.by
	}
	for i := range out {
		sum := 0.0
		for k, line := range b.lines {
			x := max(0, min(float64(i)+shifts[k], float64(n-1)))
			j := int(x)
			v := float64(line[j])
			if j+1 < n {
				v += (x - float64(j)) * (float64(line[j+1]) - v)
			}
			column[k] = v
			sum += v
		}
		out[i] = sum / float64(len(column))
		if trimmed {
			slices.Sort(column)
			cut := len(column) / 5
			out[i] = mean(column[cut : len(column)-cut])
		}
	}
	return out
}

// logs returns the natural logarithms of a profile, with the floor added.
func (b *band) logs(profile []float64) []float64 {
	out := make([]float64, len(profile))
	for i, v := range profile {
		out[i] = math.Log(v + b.floor)
	}
	return out
}

// mean returns the mean of values, NaN of none.
func mean(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += v
	}
	return sum / float64(len(x))
}

// median returns the value in the middle of an order, NaN of none. The values are sorted afterwards.
func median(x []float64) float64 {
	if len(x) == 0 {
		return math.NaN()
	}
	slices.Sort(x)
	return (x[(len(x)-1)/2] + x[len(x)/2]) / 2
}

// A series is values at even places along a row.
type series struct {
	from, by float64
	sums     []float64 // of the values before each
}

// seriesOf returns the series of a profile of a band.
func (b *band) seriesOf(values []float64) series {
	s := series{b.from, b.by, make([]float64, len(values)+1)}
	for i, v := range values {
		s.sums[i+1] = s.sums[i] + v
	}
	return s
}

// sum returns the sum of all values up to a place, in parts of a value where it lies between two.
func (s series) sum(u float64) float64 {
	x := max(0, min((u-s.from)/s.by+0.5, float64(len(s.sums)-1)))
	i := int(x)
	if i+1 >= len(s.sums) {
		return s.sums[i]
	}
	return s.sums[i] + (x-float64(i))*(s.sums[i+1]-s.sums[i])
}

// mean returns the mean of the values between two places.
func (s series) mean(from, to float64) float64 { return (s.sum(to) - s.sum(from)) * s.by / (to - from) }

// slope returns the difference between the means of as much after a place as before it.
func (s series) slope(u, reach float64) float64 {
	return s.mean(u, u+reach) - s.mean(u-reach, u)
}
