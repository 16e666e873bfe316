package simulated

import (
	"math"
	"math/rand/v2"
)

// Developing is a film against development time: each layer grows at its own
// rate, fog grows, and the speed point moves.
type Developing struct {
	Film                   // at the end of development
	Rates       []float64  // per minute, by layer
	Induction   float64    // minutes before anything grows
	Fog         float64    // growth per minute
	Speed, Move float64    // where the speed point is at the first time, and how far it moves to the last
	Settling    float64    // rate of that
	Minutes     [5]float64 // of the strips of a family
}

// Developing draws a film of a class that reaches the density range of a scene of
// seven stops in 5 to 10 minutes, and five times about that.
func (p Practice) Developing(r *rand.Rand, class int) Developing {
	d := Developing{Film: Film{Base: Between(r, 0.08, 0.30), Layers: p.emulsion(r, class)}}
	rate, spreads := Between(r, 0.08, 0.30), r.IntN(2) == 0
	for range d.Layers {
		k := rate
		if spreads {
			k *= math.Exp(Between(r, -0.25, 0.25))
		}
		d.Rates = append(d.Rates, k)
	}
	if r.IntN(2) == 0 {
		d.Induction = Between(r, 0, 0.7)
	}
	d.Fog, d.Settling = Between(r, 0.001, 0.010), Between(r, 0.05, 0.30)
	d.Speed, d.Move = Among(r, p.inside), Between(r, 0, 0.15)
	first, ratio := Between(r, 3.5, 4.5), Between(r, 2.7, 3.3)
	for i := range d.Minutes {
		d.Minutes[i] = math.Round(4*first*math.Pow(ratio, float64(i)/4)) / 4
	}
	right := math.Exp(Between(r, math.Log(5), math.Log(10))) // for seven stops
	gain := Bisect(0.01, 50, func(g float64) float64 {
		e := d
		e.Film = d.Scaled(func(int) float64 { return g })
		return e.At(right).Spans(Normally(7)) - 1.05
	})
	d.Film = d.Scaled(func(int) float64 { return gain })
	return d
}

// At returns the film developed for a time.
func (d Developing) At(minutes float64) Film {
	f := d.Scaled(func(i int) float64 { return -math.Expm1(-d.Rates[i] * (minutes - d.Induction)) })
	f.Base += d.Fog * minutes
	settled := func(t float64) float64 { return math.Exp(-d.Settling * (t - d.Minutes[0])) }
	gone := (1 - settled(minutes)) / (1 - settled(d.Minutes[4]))
	return f.Moved(d.Speed - d.Move*gone - f.SpeedPoint())
}

// Right returns the right time for a scene and the exposure index at it; ok is
// false when that time is not among those tested.
func (d Developing) Right(b Bench, stops float64) (minutes, index float64, ok bool) {
	short := func(t float64) float64 { return d.At(t).Spans(Normally(stops)) - 1.05 }
	if short(d.Minutes[0]) > 0 || short(d.Minutes[4]) < 0 {
		return 0, 0, false
	}
	minutes = Bisect(d.Minutes[0], d.Minutes[4], short)
	return minutes, 8.125 / (16 * math.Pow(10, d.At(minutes).SpeedPoint()+b.Faint())), true
}
