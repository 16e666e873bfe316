package sensito_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/curve"
)

// Blind trials: films that are, but for classes a and b, not of the fitted
// family, read as a photographer would, and judged against a truth that is
// computed here from the film itself, by bisection, with nothing of the
// package. Exposures of a film count from the faint end of the wedge.

type layerShape int

const (
	cornered   layerShape = iota // a round corner and a line: w ln(1 + exp(u/w))
	shouldered                   // the same with a second corner span further on
	logistic                     // a layer that saturates
	normal                       // a layer of grains with normally distributed speeds
	skewed                       // generalised logistic, a short toe and a long shoulder
	upswept                      // a corner and a line that bends upwards by bend per unit
)

// layer is one emulsion, or one class of grains in it. Its amplitude is a slope
// or a greatest density, as its shape has it.
type layer struct {
	shape                layerShape
	amplitude, at, width float64
	span, spanWidth      float64 // of the shoulder
	bend                 float64
}

func corner(u, w float64) float64 {
	if u > 30*w {
		return u
	}
	return w * math.Log1p(math.Exp(u/w))
}

func (l layer) net(x float64) float64 {
	u := x - l.at
	switch l.shape {
	case cornered:
		return l.amplitude * corner(u, l.width)
	case shouldered:
		return l.amplitude * (corner(u, l.width) - corner(u-l.span, l.spanWidth))
	case logistic:
		return l.amplitude / (1 + math.Exp(-u/l.width))
	case normal:
		return l.amplitude * math.Erfc(-u/l.width/math.Sqrt2) / 2
	case skewed: // decays as exp(u/width) in the toe and exp(-u/spanWidth) in the shoulder
		nu := l.width / l.spanWidth
		return l.amplitude * math.Pow(1+nu*math.Exp(-u/l.spanWidth), -1/nu)
	case upswept:
		s := corner(u, l.width)
		return l.amplitude * (s + l.bend/2*s*s)
	}
	panic("no such shape")
}

type film struct {
	base   float64
	layers []layer
}

func (f film) net(x float64) float64 {
	d := 0.0
	for _, l := range f.layers {
		d += l.net(x)
	}
	return d
}

func (f film) density(x float64) float64 { return f.base + f.net(x) }

// scaled returns the film with the amplitude of layer i times by(i).
func (f film) scaled(by func(i int) float64) film {
	layers := append([]layer(nil), f.layers...)
	for i := range layers {
		layers[i].amplitude *= by(i)
	}
	return film{f.base, layers}
}

func (f film) moved(by float64) film {
	layers := append([]layer(nil), f.layers...)
	for i := range layers {
		layers[i].at += by
	}
	return film{f.base, layers}
}

// bisect returns where g, negative at lo and positive at hi, changes sign.
func bisect(lo, hi float64, g func(float64) float64) float64 {
	for range 45 { // to 1e-12 from the widest bracket
		mid := (lo + hi) / 2
		if g(mid) < 0 {
			lo = mid
		} else {
			hi = mid
		}
	}
	return (lo + hi) / 2
}

func (f film) speedPoint() float64 {
	return bisect(-8, 8, func(x float64) float64 { return f.net(x) - 0.10 })
}

// rise returns the density gained over the distance r from the speed point.
func (f film) rise(r float64) float64 {
	m := f.speedPoint()
	return f.net(m+r) - f.net(m)
}

// lit is a scene as a film gets it: the meter is set so that an even tone shadow
// stops below the metered one lands on the speed point, and a veil, a fraction
// of the luminance of the lightest tone, adds to every tone.
type lit struct{ stops, shadow, veil float64 }

// litBy returns the scene under a flare; the veil of a fixed loss by bisection.
func litBy(stops, shadow float64, flare sensito.Flare) lit {
	s := lit{stops: stops, shadow: shadow}
	switch flare.Kind {
	case sensito.FlareVeil:
		s.veil = flare.Value
	case sensito.FlareFixed, "":
		loss := flare.Value
		if loss == 0 {
			loss = 0.40
		}
		s.veil = bisect(0, 1, func(v float64) float64 {
			return stops*math.Log10(2) - loss - math.Log10((1+v)/(math.Exp2(-stops)+v))
		})
	}
	return s
}

// normally is the scene with the default flare and placement.
func normally(stops float64) lit { return litBy(stops, 4, sensito.Flare{}) }

// above returns how far above the speed point a tone lands, in log H.
func (s lit) above(tone float64) float64 {
	return s.shadow*math.Log10(2) + math.Log10(math.Exp2(tone)+s.veil*math.Exp2(s.stops-s.shadow))
}

// ends returns where the darkest and the lightest tone land.
func (s lit) ends() (darkest, lightest float64) {
	return s.above(-s.shadow), s.above(s.stops - s.shadow)
}

// spans returns the density between the darkest and the lightest tone of a
// scene.
func (f film) spans(s lit) float64 {
	m := f.speedPoint()
	darkest, lightest := s.ends()
	return f.net(m+lightest) - f.net(m+darkest)
}

// contrastIndex moves the foot of the ray until the directions to the curve's
// points at the distances 0.20 and 2.20 are one.
func (f film) contrastIndex() float64 {
	direction := func(foot, radius float64) float64 {
		x := bisect(foot, foot+radius, func(x float64) float64 { return math.Hypot(x-foot, f.net(x)) - radius })
		return math.Atan2(f.net(x), x-foot)
	}
	top := bisect(-8, 8, func(x float64) float64 { return f.net(x) - 0.2 })
	foot := bisect(top-3, top, func(x float64) float64 { return direction(x, 0.2) - direction(x, 2.2) })
	return math.Tan(direction(foot, 2.2))
}

// The classes of films.
const classNames = "abcdef"

var classTitles = [len(classNames)]string{"toe and line", "toe, line, shoulder", "two emulsions", "generalised logistic", "three grain sizes", "upswept"}

func between(r *rand.Rand, lo, hi float64) float64 { return lo + (hi-lo)*r.Float64() }

// practice is how films are, and how carefully they are exposed and read.
type practice struct {
	toe      [2]float64 // roundness of a corner, log H
	soft     [2]float64 // spread of the speeds of grains in one layer, log H
	gradient [2]float64 // mean gradient over 1.50 log H
	inside   [2]float64 // of the speed point from the faint end of the wedge, log H
	baseRead []int      // how often base plus fog is read
	kit
}

// kit is a step wedge and a densitometer.
type kit struct {
	steps int
	step  float64
	noise float64 // of one reading, besides rounding
}

// reach returns how far the steps of the wedge lie apart in all.
func (k kit) reach() float64 { return float64(k.steps-1) * k.step }

// usual is a wedge of half-stop steps and a fair densitometer.
var usual = kit{steps: 21, step: 0.15, noise: 0.01}

var (
	// ordinary film, exposed so that the speed point lies four to eight steps
	// inside the wedge, and its base plus fog read twice.
	ordinary = practice{toe: [2]float64{0.06, 0.20}, soft: [2]float64{0.4, 0.6}, gradient: [2]float64{0.5, 0.8},
		inside: [2]float64{0.6, 1.2}, baseRead: []int{2}, kit: usual}

	// reaching is ordinary practice for scenes: the speed point lies three to six
	// steps inside, so that the wedge reaches over seven stops.
	reaching = practice{toe: ordinary.toe, soft: ordinary.soft, gradient: ordinary.gradient,
		inside: [2]float64{0.45, 0.90}, baseRead: []int{2}, kit: usual}

	// careless: long toes, speed points down to two steps inside the wedge, base
	// plus fog read twice or never.
	careless = practice{toe: [2]float64{0.06, 0.25}, soft: [2]float64{0.5, 0.8}, gradient: [2]float64{0.4, 0.9},
		inside: [2]float64{0.35, 1.0}, baseRead: []int{2, 0}, kit: usual}
)

func among(r *rand.Rand, ends [2]float64) float64 { return between(r, ends[0], ends[1]) }

// emulsion draws the layers of a film of a class, their amplitudes to be scaled.
func (p practice) emulsion(r *rand.Rand, class int) []layer {
	toe := func() float64 { return among(r, p.toe) }
	switch classNames[class] {
	case 'a':
		return []layer{{shape: cornered, amplitude: 1, width: toe()}}
	case 'b':
		return []layer{{shape: shouldered, amplitude: 1, width: toe(), span: between(r, 1.3, 2.2), spanWidth: between(r, 0.08, 0.30)}}
	case 'c':
		share, apart, shape := between(r, 0.2, 0.8), between(r, 0.2, 0.7), []layerShape{cornered, logistic, normal}[r.IntN(3)]
		layers := []layer{{shape: shape, amplitude: share}, {shape: shape, amplitude: 1 - share, at: apart}}
		for i := range layers {
			l := &layers[i]
			switch shape {
			case cornered:
				l.width = toe()
			case logistic:
				l.width = between(r, 0.20, 0.28)
				l.amplitude *= 4 * l.width // shares are of gamma
			case normal:
				l.width = among(r, p.soft)
				l.amplitude *= math.Sqrt(2*math.Pi) * l.width
			}
		}
		return layers
	case 'd':
		return []layer{{shape: skewed, amplitude: 1, width: between(r, 0.08, 0.25), spanWidth: between(r, 0.4, 0.8)}}
	case 'e':
		var layers []layer
		at := 0.0
		for range 3 {
			layers = append(layers, layer{shape: normal, amplitude: between(r, 0.5, 1), at: at, width: between(r, 0.35, 0.55)})
			at += between(r, 0.35, 0.65)
		}
		return layers
	case 'f':
		return []layer{{shape: upswept, amplitude: 1, width: toe(), bend: between(r, 0.05, 0.20)}}
	}
	panic("no such class")
}

// film draws a film of a class, developed once.
func (p practice) film(r *rand.Rand, class int) film {
	f := film{base: between(r, 0.08, 0.35), layers: p.emulsion(r, class)}
	aim := 1.5 * among(r, p.gradient)
	gain := bisect(0.01, 50, func(g float64) float64 { return f.scaled(func(int) float64 { return g }).rise(1.5) - aim })
	f = f.scaled(func(int) float64 { return gain })
	return f.moved(among(r, p.inside) - f.speedPoint())
}

const wedgeThin = 0.05

// bench is how a film is exposed and read.
type bench struct {
	lamp     float64 // log10 lux seconds with nothing in between
	reversed bool    // the wedge is read from its dense end
	baseRead int
	kit
}

func (p practice) bench(r *rand.Rand) bench {
	return bench{lamp: between(r, -0.5, 1.5), reversed: r.IntN(2) == 0, baseRead: p.baseRead[r.IntN(len(p.baseRead))], kit: p.kit}
}

// faint returns the log exposure of the faint end, where films count from.
func (b bench) faint() float64 { return b.lamp - wedgeThin - b.reach() }

func (b bench) exposures(t testing.TB) sensito.Exposures {
	wedge := sensito.EvenWedge(wedgeThin, sensito.Density(b.step), b.steps)
	if b.reversed {
		wedge = sensito.EvenWedge(sensito.Density(wedgeThin+b.reach()), -sensito.Density(b.step), b.steps)
	}
	e, err := sensito.NewContact(math.Pow(10, b.lamp), 1, wedge)
	require.NoError(t, err)
	return e
}

func (b bench) read(r *rand.Rand, f film) sensito.StripSpec { return b.readFilm(r, f.base, f.net) }

// readFilm reads a film of any form, given its base and its net density.
func (b bench) readFilm(r *rand.Rand, base float64, net func(x float64) float64) sensito.StripSpec {
	reading := func(d float64) sensito.Density {
		return sensito.Density(math.Max(0, math.Round((d+b.noise*r.NormFloat64())*100)/100))
	}
	s := sensito.StripSpec{Minutes: 8, Process: tank}
	for i := range b.steps {
		if !b.reversed { // the thin end gives most exposure
			i = b.steps - 1 - i
		}
		s.Density = append(s.Density, reading(base+net(float64(i)*b.step)))
	}
	for range b.baseRead {
		s.BaseFog = append(s.BaseFog, reading(base))
	}
	return s
}

var tank = sensito.Process{Developer: "Brinewater", Dilution: "1+19", TemperatureC: 20}

func (b bench) trial(t testing.TB, strips ...sensito.StripSpec) *sensito.Trial {
	trial, err := sensito.NewTrial(sensito.TrialSpec{Film: sensito.Film{Name: "Larkfield 125"}, Process: tank,
		Exposures: b.exposures(t), Strips: strips})
	require.NoError(t, err)
	return trial
}

// strip measures one blind strip of a film of a class.
func (p practice) strip(t testing.TB, r *rand.Rand, class int) (film, bench, *curve.Measured) {
	f, b := p.film(r, class), p.bench(r)
	m, err := curve.Measure(b.trial(t, b.read(r, f)).Strips()[0], curve.MeasureOptions{})
	require.NoError(t, err, "%+v on %+v", f, b)
	return f, b, m
}
