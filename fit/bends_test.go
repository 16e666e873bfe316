package fit

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"os"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// readReadings returns the readings of the sets of testdata/golden/smooth.json.
func readReadings(t *testing.T) map[string]struct{ X, Y []float64 } {
	text, err := os.ReadFile("../testdata/golden/smooth.json")
	require.NoError(t, err)
	var all struct {
		Sets map[string]struct{ X, Y []float64 }
	}
	require.NoError(t, json.Unmarshal(text, &all))
	return all.Sets
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
