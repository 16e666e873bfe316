package fit

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// ErrNoLine reports points through which no line of finite slope goes best.
var ErrNoLine = errors.New("the points determine no slope")

// Line is a straight line fitted to points.
type Line struct {
	Intercept, Slope float64

	// S is the sum of squares of the distances from the line along y, each over
	// its variance at the slope; without any standard deviations, the plain sum.
	S     float64
	N     int   // points
	Noise Noise // NoiseGiven when standard deviations were given

	cov [3]float64 // of intercept, both, slope, for the variances as given
}

// FitLine returns the line that lies best among points whose x and y both have
// errors: standard deviations sx and sy and the correlation r of the two at
// each point. A nil sx, or zeros in it, means that x is exact; a nil sy the same
// of y, and both nil equal errors of unknown size in y, ordinary least squares. A nil
// r means no correlation. Errors in y alone give the weighted line.
//
// The sum of squares is minimised over slope and intercept (D. York, Canadian
// Journal of Physics 44, 1079, 1966), and standard errors are those at the
// expected values of the points (York et al., American Journal of Physics 72,
// 367, 2004, equation 13).
//
// The error names values that are not finite, standard deviations that are
// negative or both zero, correlations not within (-1, 1) and fewer than two points;
// it is ErrNoLine when the best line is vertical or any slope is as good. It
// panics when lengths differ.
func FitLine(x, y, sx, sy, r []float64) (Line, error) {
	p := points{x: x, y: y, sx: sx, sy: sy, r: r}
	if err := p.check(); err != nil {
		return Line{}, err
	}
	xm, ym := center(x), center(y)
	dx, dy := spread(x, xm), spread(y, ym)
	if dx == 0 {
		return Line{}, fmt.Errorf("every x is %g: %w", x[0], ErrNoLine)
	}
	if dy == 0 {
		dy = dx
	}
	// In x and y about their means, in units of their spread, slopes are of
	// order one and an angle resolves them all.
	p.x, p.y = make([]float64, len(x)), make([]float64, len(x))
	p.vx, p.vy, p.c = make([]float64, len(x)), make([]float64, len(x)), make([]float64, len(x))
	for i := range x {
		p.x[i], p.y[i] = (x[i]-xm)/dx, (y[i]-ym)/dy
		sx, sy := p.sds(i)
		p.vx[i], p.vy[i] = sx*sx/(dx*dx), sy*sy/(dy*dy)
		if r != nil {
			p.c[i] = r[i] * sx * sy / (dx * dy)
		}
	}
	angle, err := p.angle()
	if err != nil {
		return Line{}, err
	}
	l := p.at(math.Tan(angle))
	scale := dy / dx
	l.Slope *= scale
	l.Intercept = l.Intercept*dy + ym - l.Slope*xm
	// Of a = a' + ym - b xm and b, from those in scaled units.
	aa, ab, bb := l.cov[0]*dy*dy, l.cov[1]*dy*scale, l.cov[2]*scale*scale
	l.cov = [3]float64{aa - 2*xm*ab + xm*xm*bb, ab - xm*bb, bb}
	l.N = len(x)
	if sx != nil || sy != nil {
		l.Noise = NoiseGiven
	} else {
		l.S *= dy * dy
		for i := range l.cov {
			l.cov[i] /= dy * dy
		}
	}
	return l, nil
}
