package picture

import (
	"math"

	"sensito/fit"
)

// What beside a row tells how the light falls off along it: film that was not exposed, or the bare table, is alike all along.
// TestFallOffSeen holds them.
const (
	// marginShare of a step is read beside it, marginInset sd of an edge away, as the side of a row is found too far in where
	// what lies beside is hardly lighter.
	marginShare, marginInset = 0.08, 3
	// darkestMargin is the density beyond which glare is too much of its light; mostRagged how much it may differ near the steps and further
	// out, and scatter about a parabola along them, as it does where holes, a mask or other steps lie there.
	darkestMargin, mostRagged = 0.8, 0.003
	// strayMargin is how many times the scatter dust differs by, which then does not count.
	strayMargin = 3.5
)

// FallOff returns how much darker the light is somewhere along the rows of a picture than elsewhere, as a density, and what an
// empty picture leaves of it: the median of what the rows show, each by that of its sides which shows less, as a mask or a
// step that comes too near adds to it. ok is false where none shows it.
func (c *Calibration) FallOff(im *Image, plane int, rows ...*Lattice) (by float64, ok bool) {
	light := c.tone.lights()
	var all []float64
	for _, l := range rows {
		left, leftSeen := l.fallOff(im, plane, light, -1)
		right, rightSeen := l.fallOff(im, plane, light, 1)
		switch {
		case leftSeen && rightSeen:
			all = append(all, min(left, right))
		case leftSeen, rightSeen:
			all = append(all, left+right)
		}
	}
	return fit.Median(all), len(all) > 0
}

// fallOff returns what one side of the row shows.
func (l *Lattice) fallOff(im *Image, plane int, light func(v float64) float64, side float64) (by float64, ok bool) {
	near := side * (l.Width/2 + max(1, marginInset*l.Blur))
	wide := side * max(1, marginShare/2*l.Pitch())
	var along, density, sd, apart []float64
	for step := 1; step <= l.Steps; step++ {
		var d [2]float64 // near the steps and further out
		for k := range d {
			corners := l.area(float64(step-1)+(1-patchShare)/2, float64(step)-(1-patchShare)/2, near+float64(k)*wide, near+float64(k+1)*wide)
			if !im.within(corners[2]) || !im.within(corners[3]) {
				return 0, false
			}
			through := lightWithin(of(im, plane), corners, light)
			if im.Empty != nil {
				through /= lightWithin(of(im.Empty.Image, plane), corners, light)
			}
			d[k] = -math.Log10(max(through, 1e-9))
		}
		along, density, sd = append(along, float64(step)-0.5), append(density, (d[0]+d[1])/2), append(sd, 1)
		apart = append(apart, math.Abs(d[0]-d[1]))
	}
	if fit.Median(apart) > mostRagged || fit.Median(density) > darkestMargin {
		return 0, false
	}
	var curve fit.Trend
	for range 3 { // dust out of it
		curve = fit.TrendOfDegree(along, density, sd, 2)
		rest := make([]float64, len(along))
		for i, at := range along {
			rest[i] = math.Abs(density[i] - curve.At(at))
		}
		scatter := fit.Median(rest) / 0.6745
		if scatter > mostRagged {
			return 0, false
		}
		for i := range rest {
			if sd[i] = 1; rest[i] > strayMargin*scatter {
				sd[i] = 1e4
			}
		}
	}
	low, high := math.Inf(1), math.Inf(-1)
	for edge := range l.Steps + 1 {
		d := curve.At(float64(edge))
		low, high = min(low, d), max(high, d)
	}
	return high - low, true
}

// mostSamples of an area are taken along either side of it: noise of a thousand is no matter.
const mostSamples = 32

// lightWithin returns the mean light within four corners, of places evenly taken.
func lightWithin(r raster, c [4]Point, light func(v float64) float64) float64 {
	a, b := c[1].minus(c[0]), c[3].minus(c[0])
	n, m := int(min(mostSamples, max(2, a.length()))), int(min(mostSamples, max(2, b.length())))
	sum := 0.0
	for i := range n {
		for j := range m {
			at := c[0].plus(a, (float64(i)+0.5)/float64(n)).plus(b, (float64(j)+0.5)/float64(m))
			sum += light(r.at(at))
		}
	}
	return sum / float64(n*m)
}
