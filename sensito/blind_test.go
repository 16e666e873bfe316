package sensito_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
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

// emulsion draws the layers of a film of a class, their amplitudes to be scaled.
func emulsion(r *rand.Rand, class int) []layer {
	toe := func() float64 { return between(r, 0.06, 0.25) }
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
				l.width = between(r, 0.5, 0.8)
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

// newFilm draws a film of a class, developed once.
func newFilm(r *rand.Rand, class int) film {
	f := film{base: between(r, 0.08, 0.35), layers: emulsion(r, class)}
	aim := 1.5 * between(r, 0.4, 0.9)
	gain := bisect(0.01, 50, func(g float64) float64 { return f.scaled(func(int) float64 { return g }).rise(1.5) - aim })
	f = f.scaled(func(int) float64 { return gain })
	return f.moved(between(r, 0.35, 1.0) - f.speedPoint())
}

const (
	wedgeSteps   = 21
	wedgeStep    = 0.15
	wedgeThin    = 0.05
	wedgeReach   = (wedgeSteps - 1) * wedgeStep
	readingNoise = 0.01 // besides rounding
)

// bench is how a film is exposed and read.
type bench struct {
	lamp     float64 // log10 lux seconds with nothing in between
	reversed bool    // the wedge is read from its dense end
	baseRead int
}

func newBench(r *rand.Rand) bench {
	return bench{lamp: between(r, -0.5, 1.5), reversed: r.IntN(2) == 0, baseRead: 2 * r.IntN(2)}
}

// faint returns the log exposure of the faint end, where films count from.
func (b bench) faint() float64 { return b.lamp - wedgeThin - wedgeReach }

func (b bench) exposures(t testing.TB) sensito.Exposures {
	wedge := sensito.EvenWedge(wedgeThin, wedgeStep, wedgeSteps)
	if b.reversed {
		wedge = sensito.EvenWedge(wedgeThin+wedgeReach, -wedgeStep, wedgeSteps)
	}
	e, err := sensito.NewContact(math.Pow(10, b.lamp), 1, wedge)
	require.NoError(t, err)
	return e
}

func (b bench) read(r *rand.Rand, f film) sensito.StripSpec {
	reading := func(d float64) sensito.Density {
		return sensito.Density(math.Max(0, math.Round((d+readingNoise*r.NormFloat64())*100)/100))
	}
	s := sensito.StripSpec{Minutes: 8, Process: tank}
	for i := range wedgeSteps {
		if !b.reversed { // the thin end gives most exposure
			i = wedgeSteps - 1 - i
		}
		s.Density = append(s.Density, reading(f.density(float64(i)*wedgeStep)))
	}
	for range b.baseRead {
		s.BaseFog = append(s.BaseFog, reading(f.base))
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

// tally gathers the errors of one quantity.
type tally struct {
	n, missing, covered int
	sum, squares        float64
}

func (a *tally) bias() float64     { return a.sum / float64(a.n) }
func (a *tally) rms() float64      { return math.Sqrt(a.squares / float64(a.n)) }
func (a *tally) spread() float64   { return math.Sqrt(a.squares/float64(a.n) - a.bias()*a.bias()) }
func (a *tally) coverage() float64 { return float64(a.covered) / float64(a.n) }

// tallies of one quantity, by class and, last, of all.
type tallies [len(classNames) + 1]tally

func (a *tallies) all() *tally { return &a[len(classNames)] }

// score adds an estimate; nil counts as missing. by gives the error in the unit
// in which the quantity is judged.
func score[Q ~float64](a *tallies, class int, e *sensito.Estimate[Q], truth float64, by func(got, want float64) float64) {
	for _, t := range []*tally{&a[class], &a[len(classNames)]} {
		if e == nil {
			t.missing++
			continue
		}
		miss := by(float64(e.Value), truth)
		t.n++
		t.sum += miss
		t.squares += miss * miss
		if lo, hi := e.Interval(0.95); float64(lo) <= truth && truth <= float64(hi) {
			t.covered++
		}
	}
}

func apart(got, want float64) float64   { return got - want }
func inShare(got, want float64) float64 { return got/want - 1 }
func inStops(got, want float64) float64 { return math.Log2(got / want) }

func (a *tallies) table(name string) string {
	var b strings.Builder
	for c, class := range append(strings.Split(classNames, ""), "all") {
		t := &a[c]
		fmt.Fprintf(&b, "%-18s %-3s %5d %4d %9.4f %8.4f %8.4f %6.1f\n", name, class, t.n, t.missing, t.bias(), t.spread(), t.rms(), 100*t.coverage())
		name = ""
	}
	return b.String()
}

const tallyHead = "quantity           cls     n miss      bias   spread      rms  cover\n"

// effort multiplies the number of blind trials; SENSITO_BLIND sets it.
func effort(t testing.TB) int {
	v := os.Getenv("SENSITO_BLIND")
	if v == "" {
		return 1
	}
	n, err := strconv.Atoi(v)
	require.NoError(t, err)
	return n
}

// notes counts what is said of strips, by class.
type notes struct {
	strips, shoulder, lackOfFit, setAside [len(classNames)]int
}

func (n *notes) add(class int, f *sensito.CurveFit) {
	n.strips[class]++
	if strings.Contains(f.Model, "shoulder") {
		n.shoulder[class]++
	}
	for _, w := range f.Warnings {
		if w.Code == "lack_of_fit" {
			n.lackOfFit[class]++
		}
	}
	if len(f.SetAside) > 0 {
		n.setAside[class]++
	}
}

func (n *notes) table() string {
	var b strings.Builder
	fmt.Fprintln(&b, "class                     strips shoulder lack of fit clean strip lost a reading")
	for c, title := range classTitles {
		fmt.Fprintf(&b, "%c %-23s %6d %7.1f%% %10.1f%% %10d\n", classNames[c], title, n.strips[c],
			100*float64(n.shoulder[c])/float64(n.strips[c]), 100*float64(n.lackOfFit[c])/float64(n.strips[c]), n.setAside[c])
	}
	return b.String()
}

// checkClean holds the rate of clean strips that lose a reading to one in a
// thousand, allowing three standard deviations of the count.
func (n *notes) checkClean(t *testing.T) {
	strips, lost := 0, 0
	for c := range n.strips {
		strips += n.strips[c]
		lost += n.setAside[c]
	}
	due := float64(strips) / 1000
	assert.LessOrEqual(t, float64(lost), due+3*math.Sqrt(due), "clean strips of %d that lost a reading", strips)
}

// checkCoverage holds the share of 95 % intervals that cover to 92 to 98 %.
func checkCoverage(t *testing.T, name string, a *tallies) {
	assert.InDelta(t, 0.95, a.all().coverage(), 0.03, "coverage of %s", name)
}

// Single strips: the errors, and the coverage of the 95 % intervals.
func TestBlindStrips(t *testing.T) {
	var base, speed, index, gradient, iso tallies
	var said notes
	for i := range 360 * effort(t) {
		r := rand.New(rand.NewPCG(uint64(i), 1))
		class := i % len(classNames)
		f, b := newFilm(r, class), newBench(r)
		m, err := sensito.Measure(b.trial(t, b.read(r, f)).Strips()[0], sensito.MeasureOptions{})
		require.NoError(t, err, "strip %d", i)
		said.add(class, m.Fit)
		score(&base, class, m.BaseFog, f.base, apart)
		score(&speed, class, m.SpeedPoint, f.speedPoint()+b.faint(), apart)
		score(&index, class, m.ContrastIndex, f.contrastIndex(), apart)
		score(&gradient, class, m.AverageGradient, f.rise(1.5)/1.5, apart)
		score(&iso, class, m.ISODifference, f.rise(1.3), apart)
	}
	t.Log("\n" + tallyHead + base.table("base+fog") + speed.table("speed point") + index.table("contrast index") +
		gradient.table("average gradient") + iso.table("ISO difference") + said.table())

	assert.LessOrEqual(t, speed.all().rms(), 0.023, "rms error of the speed point, log H")
	assert.LessOrEqual(t, math.Abs(speed.all().bias()), 0.005, "bias of the speed point, log H")
	assert.LessOrEqual(t, index.all().rms(), 0.0085, "rms error of the contrast index")
	for name, a := range map[string]*tallies{"base plus fog": &base, "the speed point": &speed, "the contrast index": &index,
		"the average gradient": &gradient, "the ISO difference": &iso} {
		checkCoverage(t, name, a)
		assert.Zero(t, a.all().missing, "strips that do not give %s", name)
	}
	said.checkClean(t)
}

// developing is a film against development time: each layer grows at its own
// rate, fog grows, and the speed point moves.
type developing struct {
	film        // at the end of development
	rates       []float64
	induction   float64
	fog         float64 // growth per minute
	speed, move float64 // where the speed point is at the first time, and how far it moves to the last
	settling    float64 // rate of that
	minutes     [5]float64
}

func newDeveloping(r *rand.Rand, class int) developing {
	d := developing{film: film{base: between(r, 0.08, 0.30), layers: emulsion(r, class)}}
	rate, spreads := between(r, 0.08, 0.30), r.IntN(2) == 0
	for range d.layers {
		k := rate
		if spreads {
			k *= math.Exp(between(r, -0.25, 0.25))
		}
		d.rates = append(d.rates, k)
	}
	if r.IntN(2) == 0 {
		d.induction = between(r, 0, 0.7)
	}
	d.fog, d.settling = between(r, 0.001, 0.010), between(r, 0.05, 0.30)
	d.speed, d.move = between(r, 0.50, 1.0), between(r, 0, 0.15)
	first, ratio := between(r, 3.5, 4.5), between(r, 2.7, 3.3)
	for i := range d.minutes {
		d.minutes[i] = math.Round(4*first*math.Pow(ratio, float64(i)/4)) / 4
	}
	right := math.Exp(between(r, math.Log(5), math.Log(10))) // for seven stops
	gain := bisect(0.01, 50, func(g float64) float64 {
		e := d
		e.film = d.scaled(func(int) float64 { return g })
		return e.at(right).rise(filmRange(7)) - 1.05
	})
	d.film = d.scaled(func(int) float64 { return gain })
	return d
}

func filmRange(stops float64) float64 { return stops*math.Log10(2) - 0.40 }

func (d developing) at(minutes float64) film {
	f := d.scaled(func(i int) float64 { return -math.Expm1(-d.rates[i] * (minutes - d.induction)) })
	f.base += d.fog * minutes
	settled := func(t float64) float64 { return math.Exp(-d.settling * (t - d.minutes[0])) }
	gone := (1 - settled(minutes)) / (1 - settled(d.minutes[4]))
	return f.moved(d.speed - d.move*gone - f.speedPoint())
}

// Families of five strips: development time and exposure index for scenes of
// six to eight stops whose time lies among those tested.
func TestBlindScenes(t *testing.T) {
	stops := []float64{7, 6, 8}
	times, indices := make([]tallies, len(stops)), make([]tallies, len(stops))
	var said notes
	laws, refused := map[string]int{}, 0
	for i := range 150 * effort(t) {
		r := rand.New(rand.NewPCG(uint64(i), 2))
		class := i % len(classNames)
		d, b := newDeveloping(r, class), newBench(r)
		var strips []sensito.StripSpec
		for _, minutes := range d.minutes {
			s := b.read(r, d.at(minutes))
			s.Minutes = sensito.Minutes(minutes)
			strips = append(strips, s)
		}
		family, err := sensito.NewFamily(b.trial(t, strips...), sensito.MeasureOptions{})
		require.NoError(t, err, "family %d", i)
		laws[family.Model]++
		for _, m := range family.Strips {
			said.add(class, m.Fit)
		}
		for k, n := range stops {
			short := func(t float64) float64 { return d.at(t).rise(filmRange(n)) - 1.05 }
			if short(d.minutes[0]) > 0 || short(d.minutes[4]) < 0 {
				continue // the right time is not among those tested
			}
			minutes := bisect(d.minutes[0], d.minutes[4], short)
			index := 8.125 / (16 * math.Pow(10, d.at(minutes).speedPoint()+b.faint()))
			plan, err := family.For(sensito.Scene{Stops: n})
			if err != nil {
				refused++
				t.Logf("family %d, %g stops, %.1f min of %v: %v", i, n, minutes, d.minutes, err)
				score[sensito.Minutes](&times[k], class, nil, minutes, inShare)
				continue
			}
			score(&times[k], class, &plan.Minutes, minutes, inShare)
			score(&indices[k], class, plan.ExposureIndex, index, inStops)
		}
	}
	text := tallyHead
	for k, n := range stops {
		text += times[k].table(fmt.Sprintf("time, %g stops", n)) + indices[k].table(fmt.Sprintf("EI, %g stops", n))
	}
	t.Logf("\n%slaws of growth: %v; refused: %d\n%s", text, laws, refused, said.table())
	for k, n := range stops {
		assert.LessOrEqual(t, times[k].all().rms(), 0.022, "rms relative error of the time, %g stops", n)
		assert.LessOrEqual(t, indices[k].all().rms(), 0.08, "rms error of the exposure index in stops, %g stops", n)
		checkCoverage(t, fmt.Sprintf("the time, %g stops", n), &times[k])
		checkCoverage(t, fmt.Sprintf("the exposure index, %g stops", n), &indices[k])
		assert.Zero(t, times[k].all().missing, "scenes refused though a tested time serves")
	}
	said.checkClean(t)
}
