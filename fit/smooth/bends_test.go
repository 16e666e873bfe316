package smooth

import (
	"math/rand/v2"

	"pgregory.net/rapid"

	"sensito/fit"
)

// usual holds a usual curve of each form.
var usual = map[string]fit.Bend{
	"toe-line":     {Base: 0.12, Gradient: 0.7, Toe: 0.9, ToeWidth: 0.2, Power: 1},
	"toe-curve":    {Base: 0.12, Gradient: 0.7, Toe: 0.9, ToeWidth: 0.2, Power: 1.2},
	"toe-shoulder": {Base: 0.12, Gradient: 0.7, Toe: 0.9, ToeWidth: 0.2, Power: 1, Shoulder: 2.1, ShoulderWidth: 0.2},
}

// drawBend returns a curve with toe and shoulder, both between 0 and 3.
func drawBend(t *rapid.T) fit.Bend {
	between := func(name string, lo, hi float64) float64 { return rapid.Float64Range(lo, hi).Draw(t, name) }
	b := fit.Bend{Base: between("base", 0.05, 0.5), Gradient: between("gradient", 0.3, 2.5),
		Toe: between("toe", 0.6, 1.2), ToeWidth: between("toe width", 0.06, 0.3), Power: 1}
	b.Shoulder, b.ShoulderWidth = b.Toe+between("span", 0.8, 1.4), between("shoulder width", 0.06, 0.3)
	return b
}

// strip returns n readings of a curve from 0 to 3 as they are, with two of the base.
func strip(b fit.Bend, n int) fit.BendData {
	d := fit.BendData{Sigma: 0.01, Base: []float64{b.Base, b.Base}}
	for i := range n {
		x := 3 * float64(i) / float64(n-1)
		d.X, d.Y = append(d.X, x), append(d.Y, b.At(x))
	}
	return d
}

// noisy returns the data with noise of standard deviation sigma.
func noisy(d fit.BendData, rnd *rand.Rand) fit.BendData {
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
