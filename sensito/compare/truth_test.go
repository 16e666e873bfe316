package compare_test

import (
	"math"

	"sensito/sensito/internal/simulated"
)

// The form of a film, from the film itself.

// where returns the exposure of a net density.
func where(f simulated.Film, net float64) float64 {
	return simulated.Bisect(-8, 12, func(x float64) float64 { return f.Net(x) - net })
}

func slope(f simulated.Film, x float64) float64 {
	const h = 1e-5
	return (f.Net(x+h) - f.Net(x-h)) / (2 * h)
}

// form is what a comparison says of a film, NaN for what the film does not show.
type form struct{ toe, shadow, straightness, shoulder, usable float64 }

// formOf returns the form of the film, with the steepest place and the shoulder
// looked for at the exposures from start to end.
func formOf(f simulated.Film, start, end float64) form {
	const step = 0.001
	m := f.SpeedPoint()
	top := start
	for x := start; x <= end; x += step {
		if slope(f, x) > slope(f, top) {
			top = x
		}
	}
	first := func(share, from, to float64, up bool) float64 {
		for x := from; x < to; x += step {
			if (slope(f, x) >= share*slope(f, top)) == up {
				return x
			}
		}
		return math.NaN()
	}
	out := form{
		toe:      first(0.75, m-2, top, true) - first(0.25, m-2, top, true),
		shadow:   0.30 / (where(f, 0.40) - m),
		shoulder: first(0.75, top, end, false) - m,
		usable:   first(0.50, top, end, false) - m,
	}
	from, to := where(f, 0.30), where(f, 1.20)
	for i := range 1000 {
		part := float64(i) / 999
		out.straightness = math.Max(out.straightness, math.Abs(f.Net(from+part*(to-from))-0.30-0.90*part))
	}
	return out
}
