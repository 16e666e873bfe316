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

	// S is the sum of squares of the distances from the line along y, each
	// over its variance at the slope; without standard deviations the plain
	// sum.
	S     float64
	N     int   // points
	Noise Noise // NoiseGiven when standard deviations were given

	cov [3]float64 // of the intercept, of both, of the slope, for variances as given
}

// FitLine returns the line that lies best among points whose x and y both have
// errors: standard deviations sx and sy and the correlation r of the two at
// each point. A nil sx, or zeros in it, means that x is exact, and a nil sy the
// same of y; both nil mean equal errors of unknown size in y, ordinary least
// squares. A nil r means no correlation. Errors in y alone give the weighted
// line, and equal errors the orthogonal one (Deming's).
//
// The sum of squares is minimised over intercept and slope (D. York, Canadian
// Journal of Physics 44, 1079, 1966); standard errors are those at the expected
// values of the points (D. York et al., American Journal of Physics 72, 367,
// 2004).
//
// The error names values that are not finite, standard deviations that are
// negative or both zero, correlations outside (-1, 1) and fewer than two
// points; it is ErrNoLine when all x are equal, the best line is vertical or
// every slope is as good. It panics when lengths differ.
func FitLine(x, y, sx, sy, r []float64) (Line, error) {
	if err := checkPoints(x, y, sx, sy, r); err != nil {
		return Line{}, err
	}
	xm, dx := moments(x)
	ym, dy := moments(y)
	if dx == 0 {
		return Line{}, fmt.Errorf("every x is %g: %w", x[0], ErrNoLine)
	}
	if dy == 0 {
		dy = dx
	}
	// About the means and in units of the spread, the slope is of order one.
	p := make(points, len(x))
	for i := range x {
		u, v := entry(sx, i), entry(sy, i)
		if sx == nil && sy == nil {
			v = 1
		}
		u, v = u/dx, v/dy
		p[i] = point{x: (x[i] - xm) / dx, y: (y[i] - ym) / dy, vx: u * u, vy: v * v, c: entry(r, i) * u * v}
	}
	angle, err := p.angle()
	if err != nil {
		return Line{}, err
	}
	l := p.line(math.Tan(angle))
	l.N = len(x)
	if sx != nil || sy != nil {
		l.Noise = NoiseGiven
	}
	turn := dy / dx
	l.Slope *= turn
	l.Intercept = dy*l.Intercept + ym - l.Slope*xm
	a, ab, b := l.cov[0]*dy*dy, l.cov[1]*dy*turn, l.cov[2]*turn*turn
	l.cov = [3]float64{a - 2*xm*ab + xm*xm*b, ab - xm*b, b}
	return l, nil
}

// At returns the value of the line at x.
func (l Line) At(x float64) float64 { return l.Intercept + l.Slope*x }

// DoF returns the degrees of freedom: points less two.
func (l Line) DoF() int { return l.N - 2 }

// Covariance returns the covariance of Intercept and Slope. For NoiseGiven it
// rests on the standard deviations as they were given; for NoiseFromResiduals
// it is scaled by S/(N-2), and nil with two points.
func (l Line) Covariance(n Noise) *mat.SymDense {
	scale := 1.0
	if n == NoiseFromResiduals {
		if l.DoF() <= 0 {
			return nil
		}
		scale = l.S / float64(l.DoF())
	}
	return mat.NewSymDense(2, []float64{scale * l.cov[0], scale * l.cov[1], scale * l.cov[1], scale * l.cov[2]})
}

// StdErrs returns the standard errors of Intercept and Slope, the square roots
// of the diagonal of Covariance; nil when unknown.
func (l Line) StdErrs(n Noise) []float64 {
	c := l.Covariance(n)
	if c == nil {
		return nil
	}
	return []float64{math.Sqrt(c.At(0, 0)), math.Sqrt(c.At(1, 1))}
}

// AtSD returns the standard deviation of the line at x, NaN when unknown.
func (l Line) AtSD(x float64, n Noise) float64 {
	c := l.Covariance(n)
	if c == nil {
		return math.NaN()
	}
	return math.Sqrt(c.At(0, 0) + 2*x*c.At(0, 1) + x*x*c.At(1, 1))
}

func checkPoints(x, y, sx, sy, r []float64) error {
	for _, v := range [][]float64{sx, sy, r} {
		if v != nil && len(v) != len(x) {
			panic("fit: lengths of points, standard deviations and correlations differ")
		}
	}
	if len(x) != len(y) {
		panic("fit: lengths of x and y differ")
	}
	if len(x) < 2 {
		return fmt.Errorf("points: %d given, 2 needed", len(x))
	}
	for i := range x {
		u, v, r := entry(sx, i), entry(sy, i), entry(r, i)
		switch {
		case math.IsNaN(x[i]-x[i]) || math.IsNaN(y[i]-y[i]):
			return fmt.Errorf("point %d: (%g, %g) is not finite", i+1, x[i], y[i])
		case !(u >= 0 && v >= 0) || math.IsInf(u+v, 0) || u+v == 0 && (sx != nil || sy != nil):
			return fmt.Errorf("point %d: standard deviations %g and %g are not finite, or negative, or both zero", i+1, u, v)
		case !(math.Abs(r) < 1):
			return fmt.Errorf("point %d: correlation %g is outside (-1, 1)", i+1, r)
		}
	}
	return nil
}

// entry returns v[i], zero for nil.
func entry(v []float64, i int) float64 {
	if v == nil {
		return 0
	}
	return v[i]
}

// point is a point with the variances of its coordinates and their covariance.
type point struct{ x, y, vx, vy, c float64 }

type points []point

// angle returns the angle of the best line, within a quarter turn of the x axis.
func (p points) angle() (float64, error) {
	exact := true
	for _, q := range p {
		exact = exact && q.vx == 0
	}
	if exact {
		return math.Atan(p.weighted()), nil
	}
	// The sum of squares may have several minima where weights differ much.
	const n = 180
	width := math.Pi / n
	least, most, best := math.Inf(1), 0.0, 0.0
	for i := range n {
		t := (float64(i)+0.5)*width - math.Pi/2
		s, _ := p.sum(t)
		if s < least {
			least, best = s, t
		}
		most = math.Max(most, s)
	}
	if !(most-least > 1e-12*most) {
		return 0, ErrNoLine
	}
	slope := func(t float64) float64 { _, d := p.sum(t); return d }
	for !(slope(best-width) < 0 && slope(best+width) > 0) {
		width /= 2
		if width < 1e-12 {
			return 0, ErrNoLine
		}
		for _, t := range []float64{best - width, best + width} {
			if s, _ := p.sum(t); s < least {
				least, best = s, t
			}
		}
	}
	t, err := Root(slope, best-width, best+width, 0)
	if err != nil || math.Abs(math.Cos(t)) < 1e-12 {
		return 0, fmt.Errorf("vertical line: %w", ErrNoLine)
	}
	return t, nil
}

// weighted returns the slope of the line where x is exact.
func (p points) weighted() float64 {
	var w, x, y, xx, xy float64
	for _, q := range p {
		w, x, y = w+1/q.vy, x+q.x/q.vy, y+q.y/q.vy
	}
	for _, q := range p {
		u, v := q.x-x/w, q.y-y/w
		xx, xy = xx+u*u/q.vy, xy+u*v/q.vy
	}
	return xy / xx
}

// sum returns the sum of squares for the best line at angle t, and its
// derivative: with e = y cos t - x sin t less its weighted mean and v the
// variance of e, those of sum e^2/v, in which the mean does not move it.
func (p points) sum(t float64) (s, d float64) {
	sin, cos := math.Sincos(t)
	var w, mean float64
	for _, q := range p {
		v := q.variance(sin, cos)
		w, mean = w+1/v, mean+(q.y*cos-q.x*sin)/v
	}
	mean /= w
	for _, q := range p {
		v := q.variance(sin, cos)
		e := q.y*cos - q.x*sin - mean
		s += e * e / v
		de := -q.y*sin - q.x*cos
		dv := 2*sin*cos*(q.vx-q.vy) - 2*(cos*cos-sin*sin)*q.c
		d += e / v * (2*de - e/v*dv)
	}
	return s, d
}

func (q point) variance(sin, cos float64) float64 {
	return cos*cos*q.vy + sin*sin*q.vx - 2*sin*cos*q.c
}

// line returns the best line of slope b, with the errors of York et al. 2004.
func (p points) line(b float64) Line {
	weight := func(q point) float64 { return 1 / (q.vy + b*b*q.vx - 2*b*q.c) }
	var w, x, y float64
	for _, q := range p {
		w, x, y = w+weight(q), x+weight(q)*q.x, y+weight(q)*q.y
	}
	x, y = x/w, y/w
	l := Line{Slope: b, Intercept: y - b*x}
	adjusted := make([]float64, len(p)) // x of the points moved onto the line
	var mean float64
	for i, q := range p {
		u, v := q.x-x, q.y-y
		adjusted[i] = x + weight(q)*(u*q.vy+b*v*q.vx-(b*u+v)*q.c)
		mean += weight(q) * adjusted[i] / w
		l.S += weight(q) * (v - b*u) * (v - b*u)
	}
	var uu float64
	for i, q := range p {
		u := adjusted[i] - mean
		uu += weight(q) * u * u
	}
	l.cov = [3]float64{1/w + mean*mean/uu, -mean / uu, 1 / uu}
	return l
}
