package sensito_test

import (
	"math"
)

// The form of a film, from the film itself.

// where returns the exposure of a net density.
func (f film) where(net float64) float64 {
	return bisect(-8, 12, func(x float64) float64 { return f.net(x) - net })
}

func (f film) slope(x float64) float64 {
	const h = 1e-5
	return (f.net(x+h) - f.net(x-h)) / (2 * h)
}

// form is what a comparison says of a film, NaN for what the film does not show.
type form struct{ toe, shadow, straightness, shoulder, usable float64 }

// form returns the form of the film, with the steepest place and the shoulder
// looked for at the exposures from start to end.
func (f film) form(start, end float64) form {
	const step = 0.001
	m := f.speedPoint()
	top := start
	for x := start; x <= end; x += step {
		if f.slope(x) > f.slope(top) {
			top = x
		}
	}
	first := func(share, from, to float64, up bool) float64 {
		for x := from; x < to; x += step {
			if (f.slope(x) >= share*f.slope(top)) == up {
				return x
			}
		}
		return math.NaN()
	}
	out := form{
		toe:      first(0.75, m-2, top, true) - first(0.25, m-2, top, true),
		shadow:   0.30 / (f.where(0.40) - m),
		shoulder: first(0.75, top, end, false) - m,
		usable:   first(0.50, top, end, false) - m,
	}
	from, to := f.where(0.30), f.where(1.20)
	for i := range 1000 {
		part := float64(i) / 999
		out.straightness = math.Max(out.straightness, math.Abs(f.net(from+part*(to-from))-0.30-0.90*part))
	}
	return out
}
