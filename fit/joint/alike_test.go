package joint

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Steps of a wedge that are off are off on all strips: what the fit finds covers the
// curve of the true exposures, which taking the wedge for exact does not, and of what is
// left the errors of the wedge are the larger part.
func TestWedgeOffAlike(t *testing.T) {
	const sd, noise = 0.04, 0.006
	covered, missed, count, share := 0, 0, 0, 0.0
	for seed := range uint64(12) {
		r := rand.New(rand.NewPCG(seed, 77))
		s := strips(r, noise, 4, 5.5, 7, 9, 12)
		off := make([]float64, 21)
		for i := range off {
			off[i] = sd * r.NormFloat64()
		}
		alike := make([]Strip, len(s))
		for j, m := range []float64{4, 5.5, 7, 9, 12} {
			g, foot, base := 1.1*-math.Expm1(-0.15*m), -2.2-0.05*math.Log(m/7), 0.1+0.004*m
			for i, x := range s[j].X {
				x += off[i]
				s[j].Y[i] = math.Round(100*(base+g*(corner(x-foot, 0.13)-corner(x-foot-1.7, 0.2))+noise*r.NormFloat64())) / 100
				alike[j].Alike = append(alike[j].Alike, []Alike{{Error: i, Along: sd}})
			}
			as := alike[j].Alike
			alike[j] = s[j]
			alike[j].Alike = append(as, nil, nil) // of the base
		}
		slope := func(c *Curve, along []Part) float64 {
			a, _ := c.AtSlope(-1.9, along)
			b, _ := c.AtSlope(-0.6, along)
			return b - a
		}
		of := func(p Problem) (value, sd, wedge float64) {
			f, err := New(p, noSlips(p.Strips))
			require.NoError(t, err)
			curves, err := f.Curves(1, nil)
			require.NoError(t, err)
			c := curves[2]
			value = slope(c, nil)
			variance := 0.0
			for k := range c.Directions() {
				d := slope(c, []Part{{k, 1}}) - value
				variance += d * d
				if c.Alike != nil && k < c.Shared && k >= c.Shared-c.Alike[0] {
					wedge += d * d
				}
			}
			return value, math.Sqrt(variance), wedge / variance
		}
		g, foot := 1.1*-math.Expm1(-0.15*7), -2.2
		truth := g * (corner(-0.6-foot, 0.13) - corner(-0.6-foot-1.7, 0.2) - corner(-1.9-foot, 0.13) + corner(-1.9-foot-1.7, 0.2))
		value, err, part := of(Problem{Strips: alike, Sigma: math.Hypot(noise, 0.0029), Worth: 10, Alike: []int{21}})
		if math.Abs(value-truth) < 2*err {
			covered++
		}
		share += part / 12
		value, err, _ = of(Problem{Strips: s, Sigma: math.Hypot(noise, 0.0029), Worth: 10})
		if math.Abs(value-truth) > 2*err {
			missed++
		}
		count++
	}
	assert.GreaterOrEqual(t, covered, count-2, "of %d", count)
	assert.GreaterOrEqual(t, missed, 3, "taken for exact, of %d", count)
	assert.Greater(t, share, 0.5, "of the variance")
}
