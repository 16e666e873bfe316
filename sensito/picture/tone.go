package picture

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"sensito/fit"
	"sensito/fit/smooth"
	"sensito/sensito/picture/internal/encoded"
)

// A tone is the curve from density to the encoded value of a picture, whatever the encoding:
//
//	ln w = c + g ln(10^-D + b) + s(D)
//
// where w is v, or v decoded as sRGB where that suits the steps better. The first part is light with glare b under
// an exponent g, which most devices come to by themselves; s is a smoothing spline of what is left, nothing or much, by which the curve may
// be any that falls. Density is the side on which steps lie evenly and encodings are smooth,
// so that one stiffness suits the whole curve; an error e of a tablet's density is one of
// -e times the slope in ln v.
type tone struct {
	c, g, b float64
	srgb    bool // w is v decoded
	spline  smooth.Curve
	lo, hi  float64 // densities of the first and last step that it was made of

	density []float64     // of the steps
	cov     *mat.SymDense // of a density read at each
}

// logs returns ln v at a density and its first two derivatives.
func (t *tone) logs(d float64) (l, slope, bend float64) {
	l, slope, bend = t.inner(d)
	if !t.srgb {
		return l, slope, bend
	}
	w := math.Exp(l)
	by, change := encoded.Elasticity(w)
	return math.Log(encoded.EncodeSRGB(w)), by * slope, by*bend + change*slope*slope
}

// inner returns ln w at a density and its first two derivatives.
func (t *tone) inner(d float64) (l, slope, bend float64) {
	light := math.Pow(10, -d)
	u := light / (light + t.b)
	l = t.c + t.g*math.Log(light+t.b)
	slope = -t.g * math.Ln10 * u
	bend = t.g * math.Ln10 * math.Ln10 * u * (1 - u)
	y, s, b := t.spline.AtBend(d)
	return l + y, slope + s, bend + b
}

// densityOf returns the density that has ln v = l. Beyond the steps see light.
func (t *tone) densityOf(l float64) float64 {
	first, _, _ := t.logs(t.lo)
	last, _, _ := t.logs(t.hi)
	if !(l < first && l > last) {
		return -math.Log10(max(t.light(math.Exp(l)), 1e-9))
	}
	guess := t.lo + (t.hi-t.lo)*(l-first)/(last-first)
	d, err := fit.Newton(func(d float64) (float64, float64) {
		v, slope, _ := t.logs(d)
		return v - l, slope
	}, t.lo, t.hi, guess, 1e-9)
	if err != nil { // an end, within rounding
		return guess
	}
	return d
}

// light returns the light of an encoded value as a share of clear, whose density is 0. No density
// is read beyond the steps, but black tape and clear places lie there: above them the exponent
// goes on as it is, below them light goes on straight, as glare adds to it, and may be negative.
func (t *tone) light(v float64) float64 {
	first, slope, _ := t.logs(t.lo)
	l := math.Log(v)
	if !(l < first) {
		return math.Pow(10, -t.lo-(l-first)/slope)
	}
	last, slope, _ := t.logs(t.hi)
	if !(l > last) {
		at := math.Exp(last)
		return math.Pow(10, -t.hi) * (1 - math.Ln10*(v-at)/(at*slope))
	}
	return math.Pow(10, -t.densityOf(l))
}

// lights returns light for many values: that of a step of the tablet and in between is read off a
// table.
func (t *tone) lights() func(v float64) float64 {
	const parts = 512 // to 0.0001 of light
	logs, densities := make([]float64, parts+1), make([]float64, parts+1)
	for i := range logs {
		densities[i] = t.hi + (t.lo-t.hi)*float64(i)/parts
		logs[i], _, _ = t.logs(densities[i])
	}
	return func(v float64) float64 {
		if l := math.Log(v); l > logs[0] && l < logs[parts] {
			return math.Pow(10, -between(logs, densities, l))
		}
		return t.light(v)
	}
}

// mostCorrected bounds what meanInLight moves a value by, as a part: where pixels scatter by
// more than that the series of which it is the first term is no use. TestMeanInLight holds it.
const mostCorrected = 0.05

// meanInLight returns the value that a patch of mean m and standard deviation s has in linear
// light: that of T = f(m) + f” s²/2, f the light of a value. The mean of encoded values is
// that of the light only where the encoding is linear.
func (t *tone) meanInLight(m, s float64) float64 {
	d := min(max(t.densityOf(math.Log(m)), t.lo), t.hi)
	_, slope, bend := t.logs(d)
	// In ln v: D' = 1/L', D” = -L”/L'^3; then f”/f' = (-ln 10 D' + D”/D' - 1)/v.
	by := (-math.Ln10/slope - bend/(slope*slope) - 1) * s * s / (2 * m * m)
	return m * (1 + min(max(by, -mostCorrected), mostCorrected))
}

// A toneStep is a step of a tablet: its density, the value, and how well each is known.
type toneStep struct{ d, v, dSD, vSD float64 }

// newTone returns the curve through the steps. The error is smooth.ErrSpline where none falls.
func newTone(steps []toneStep) (*tone, error) {
	t, r := firstPart(steps, false)
	if o, left := firstPart(steps, true); left.chi2 < r.chi2 {
		t, r = o, left
	}
	n, x := len(steps), t.density
	plain := *t
	spline, err := smooth.Fit(smooth.Data{X: x, Y: r.rest, SD: r.sd, Free: r.free, Takes: func(s smooth.Curve) bool {
		plain.spline = s
		return plain.falls()
	}})
	if err != nil {
		return nil, err
	}
	t.spline = spline
	t.cov = mat.NewSymDense(n, nil)
	for i := range n {
		_, si, _ := t.inner(x[i])
		for j := i; j < n; j++ {
			_, sj, _ := t.inner(x[j])
			t.cov.SetSym(i, j, spline.Cov.At(i, j)/(si*sj))
		}
	}
	return t, nil
}

// remains are what the first part of a tone leaves at each step, what is known of it, how it
// goes with b, and chi squared.
type remains struct {
	rest, sd, free []float64
	chi2           float64
}

// firstPart returns the tone without its spline.
func firstPart(steps []toneStep, srgb bool) (*tone, remains) {
	n := len(steps)
	x, y, ySD := make([]float64, n), make([]float64, n), make([]float64, n)
	r := remains{make([]float64, n), make([]float64, n), make([]float64, n), 0}
	for i, s := range steps {
		w, by := s.v, 1.
		if srgb {
			w = encoded.DecodeSRGB(s.v)
			by, _ = encoded.Elasticity(w)
		}
		x[i], y[i], ySD[i] = s.d, math.Log(w), s.vSD/(s.v*by)
	}
	t := &tone{srgb: srgb, lo: x[0], hi: x[n-1], density: x}
	slope := func(i int) float64 { // between the neighbours
		a, b := max(i-1, 0), min(i+1, n-1)
		return (y[b] - y[a]) / (x[b] - x[a])
	}
	for round := range 3 {
		for i, s := range steps {
			r.sd[i] = math.Hypot(slope(i)*s.dSD, ySD[i])
		}
		t.backbone(x, y, r.sd)
		t.spline = smooth.Curve{X: x, Y: make([]float64, n), Bend: make([]float64, n)}
		if round < 2 {
			slope = func(i int) float64 {
				_, s, _ := t.inner(x[i])
				return s
			}
		}
	}
	for i := range x {
		l, _, _ := t.inner(x[i])
		r.rest[i] = y[i] - l
		r.free[i] = t.g / (math.Pow(10, -x[i]) + t.b)
		r.chi2 += r.rest[i] * r.rest[i] / (r.sd[i] * r.sd[i])
	}
	return t, r
}

// backbone fits c, g and b by weighted least squares. A negative b is of a device that cuts
// the blacks.
func (t *tone) backbone(x, y, sd []float64) {
	n := len(x)
	dark := math.Pow(10, -x[n-1])
	p := fit.Problem{M: n, N: 3, Lower: []float64{math.Inf(-1), 0.05, -0.9 * dark}, Upper: []float64{math.Inf(1), 20, 1},
		Eval: func(p, r, jac []float64) {
			for i := range x {
				light := math.Pow(10, -x[i]) + p[2]
				r[i] = (p[0] + p[1]*math.Log(light) - y[i]) / sd[i]
				if jac != nil {
					jac[3*i], jac[3*i+1], jac[3*i+2] = 1/sd[i], math.Log(light)/sd[i], p[1]/light/sd[i]
				}
			}
		}}
	g := min(max((y[0]-y[n/2])/(math.Ln10*(x[n/2]-x[0])), 0.1), 10)
	best := fit.Minimize(p, []float64{y[0] + g*math.Ln10*x[0], g, dark}, fit.Options{})
	t.c, t.g, t.b = best.Params[0], best.Params[1], best.Params[2]
}

// falls says whether the curve falls everywhere between its steps.
func (t *tone) falls() bool {
	const parts = 8
	for i, d := range t.density {
		if i == 0 {
			continue
		}
		for k := range parts + 1 {
			if _, slope, _ := t.logs(t.density[i-1] + (d-t.density[i-1])*float64(k)/parts); !(slope < 0) {
				return false
			}
		}
	}
	return true
}

// An S-curve holds back the lights: the slope of ln v against density grows from there on, by far
// more than any usual encoding has it (sRGB by 15 %). TestSCurve holds how much and over which densities.
const (
	heldBack = 1.4
	lights   = 1.0
)

// corrected says whether software made an S of the tones.
func (t *tone) corrected() bool {
	_, first, _ := t.logs(t.lo)
	steepest := first
	for _, d := range t.density {
		if _, s, _ := t.logs(d); d <= t.lo+lights {
			steepest = min(steepest, s)
		}
	}
	return steepest < heldBack*first
}
