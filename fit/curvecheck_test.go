package fit

import (
	"math"
	"math/rand/v2"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// curve is what every curve of this package answers.
type curve interface {
	At(x float64) float64
	SlopeAt(x float64) float64
}

// checkCurve checks what every curve owes: the slope is that of the values,
// inside the domain and on both sides of it; the curve does not fall on the
// domain; and the inverse by Root leads back.
func checkCurve(t require.TestingT, c curve, lo, hi float64) {
	reach := hi - lo
	scale, steepest := 0.0, 0.0
	for i := range 601 {
		x := lo + reach*float64(i-200)/200
		scale = math.Max(scale, math.Abs(c.At(x)))
		steepest = math.Max(steepest, c.SlopeAt(x))
	}
	checkSlope := func(x, h float64) {
		rounding := 0x1p-50 * (scale + steepest*math.Abs(x)) / h
		numeric := (c.At(x+h) - c.At(x-h)) / (2 * h)
		assert.InDelta(t, numeric, c.SlopeAt(x), 1e-6*math.Max(steepest, 1e-3)+rounding, "slope at %g", x)
	}
	// Three domains wide, at points that are not the ends, where a second
	// derivative may jump.
	for i := range 300 {
		checkSlope(lo+reach*(float64(i)-99.7)/100, 1e-5*reach)
	}
	checkSlope(lo-50*reach, 1e-3*reach)
	checkSlope(hi+50*reach, 1e-3*reach)
	for _, end := range []float64{lo, hi} {
		const eps = 1e-9
		assert.InDelta(t, c.At(end-eps*reach), c.At(end+eps*reach), 4*eps*reach*steepest+1e-14*scale, "value at the end %g", end)
		assert.InDelta(t, c.SlopeAt(end-eps*reach), c.SlopeAt(end+eps*reach), 1e-6*steepest+1e-13*scale/reach, "slope at the end %g", end)
	}

	last := c.At(lo)
	for i := range 201 {
		x := lo + reach*float64(i)/200
		y, slope := c.At(x), c.SlopeAt(x)
		assert.GreaterOrEqual(t, y, last-1e-14*scale, "falls before %g", x)
		assert.GreaterOrEqual(t, slope, -1e-13*math.Max(steepest, scale/reach), "slope at %g", x)
		last = y
		if 0 < i && i < 200 && slope > 1e-3*steepest && slope*reach > 1e-6*scale {
			back, err := Root(func(v float64) float64 { return c.At(v) - y }, lo, hi, 0)
			require.NoError(t, err, "inverse at %g", x)
			assert.InDelta(t, x, back, 1e-8*reach, "inverse of %g", y)
			assert.InDelta(t, y, c.At(back), 4e-15*(scale+steepest*(reach+math.Abs(x))), "inverse of %g", y)
		}
	}
}

// bendForms ranges over the forms with their names.
func bendForms(yield func(string, BendForm) bool) {
	_ = yield("toe-line", ToeLine) && yield("toe-curve", ToeCurve) && yield("toe-shoulder", ToeShoulder)
}

// drawBend returns parameters of a curve whose corners 21 readings over three
// decades show: both inside the readings, apart, and neither much sharper than
// the readings are apart nor smeared over the strip.
func drawBend(t *rapid.T, f BendForm) []float64 {
	// Never 1, the default of gradient and power: a logarithm of zero that data
	// meet exactly has no size for the solver's tolerance to be relative to.
	between := func(name string, lo, hi float64) float64 {
		return rapid.Float64Range(lo, hi).Filter(func(v float64) bool { return math.Abs(v-1) > 1e-3 }).Draw(t, name)
	}
	b := Bend{Base: between("base", 0.05, 0.5), Gradient: between("gradient", 0.3, 2.5),
		Toe: between("toe", 0.6, 1.2), ToeWidth: between("toe width", 0.06, 0.3), Power: 1}
	switch f {
	case ToeCurve:
		b.Power = between("power", 0.6, 1.6)
	case ToeShoulder:
		b.Shoulder, b.ShoulderWidth = b.Toe+between("span", 0.8, 1.4), between("shoulder width", 0.06, 0.3)
	}
	return bendParams(f, b)
}

// bendParams returns the parameters of the form for a bend.
func bendParams(f BendForm, b Bend) []float64 {
	p := []float64{b.Base, math.Log(b.Gradient), b.Toe, b.ToeWidth}
	switch f {
	case ToeCurve:
		p = append(p, math.Log(b.Power))
	case ToeShoulder:
		p = append(p, math.Log(b.Shoulder-b.Toe), b.ShoulderWidth)
	}
	return p
}

// usual returns a usual curve of the form.
func usual(f BendForm) Bend {
	b := Bend{Base: 0.12, Gradient: 0.7, Toe: 0.9, ToeWidth: 0.2, Power: 1}
	switch f {
	case ToeCurve:
		b.Power = 1.2
	case ToeShoulder:
		b.Shoulder, b.ShoulderWidth = 2.1, 0.2
	}
	return b
}

// strip returns n noiseless readings of a bend from 0 to 3, with two of the
// base.
func strip(b Bend, n int) BendData {
	d := BendData{Sigma: 0.01, Base: []float64{b.Base, b.Base}}
	for i := range n {
		x := 3 * float64(i) / float64(n-1)
		d.X, d.Y = append(d.X, x), append(d.Y, b.At(x))
	}
	return d
}

// noisy returns the data with noise of standard deviation sigma.
func noisy(d BendData, rnd *rand.Rand) BendData {
	out := d
	out.Y, out.Base = nil, nil
	for _, y := range d.Y {
		out.Y = append(out.Y, y+d.Sigma*rnd.NormFloat64())
	}
	for _, y := range d.Base {
		out.Base = append(out.Base, y+d.Sigma*rnd.NormFloat64())
	}
	return out
}
