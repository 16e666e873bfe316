package scene_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/interp"

	"sensito/sensito"
	"sensito/sensito/curve"
	"sensito/sensito/development"
	"sensito/sensito/internal/blind"
	"sensito/sensito/internal/simulated"
	"sensito/sensito/scene"
)

// grown is net density against log exposure, from a place of its own, and
// development time. None of the forms is fitted by the package.
type grown func(x, minutes float64) float64

type foreignForm struct {
	name string
	draw func(r *rand.Rand, g, rate float64) grown
}

// ramp is a line that begins at 0, smoothed by a Gaussian of width w.
func ramp(u, w float64) float64 {
	return u*math.Erfc(-u/w/math.Sqrt2)/2 + w/math.Sqrt(2*math.Pi)*math.Exp(-u*u/w/w/2)
}

// longToe is a table of a shape with a long toe: net density at a gradient of 1,
// each 0.2 of log exposure. Invented.
var longToe = func() func(float64) float64 {
	table := []float64{0, 0.002, 0.006, 0.014, 0.028, 0.050, 0.083, 0.127, 0.185, 0.258, 0.347, 0.453, 0.577, 0.718, 0.875, 1.046, 1.228, 1.417, 1.610, 1.806, 2.003, 2.201}
	var x []float64
	for i := range table {
		x = append(x, 0.2*float64(i))
	}
	var f interp.FritschButland
	if err := f.Fit(x, table); err != nil {
		panic(err)
	}
	last := len(x) - 1
	return func(u float64) float64 {
		if u > x[last] {
			return table[last] + u - x[last]
		}
		return f.Predict(math.Max(u, 0))
	}
}()

// foreignForms draw films of forms that are not fitted, developed to a gradient
// of g where the rate times the time is 1.
var foreignForms = []foreignForm{
	{"Gaussian toe that recedes", func(r *rand.Rand, g, rate float64) grown {
		w, recedes := simulated.Between(r, 0.12, 0.25), simulated.Between(r, 0.05, 0.20)
		return func(x, minutes float64) float64 {
			done := -math.Expm1(-rate * minutes)
			return g * done * ramp(x+recedes*done, w)
		}
	}},
	{"two emulsions", func(r *rand.Rand, g, rate float64) grown {
		share, apart, w := simulated.Between(r, 0.3, 0.7), simulated.Between(r, 0.3, 0.7), simulated.Between(r, 0.12, 0.22)
		fast, slow := rate*simulated.Between(r, 1, 1.25), rate*simulated.Between(r, 0.8, 1)
		return func(x, minutes float64) float64 {
			return g * (share*-math.Expm1(-fast*minutes)*ramp(x, w) + (1-share)*-math.Expm1(-slow*minutes)*ramp(x-apart, w))
		}
	}},
	{"long toe from a table", func(r *rand.Rand, g, rate float64) grown {
		wide := simulated.Between(r, 0.35, 0.60)
		return func(x, minutes float64) float64 {
			return g * -math.Expm1(-rate*minutes) * wide * longToe(x/wide+1)
		}
	}},
	{"soft toe and shoulder, induction", func(r *rand.Rand, g, rate float64) grown {
		toe, span, shoulder, begins := simulated.Between(r, 0.20, 0.35), simulated.Between(r, 1.9, 2.6), simulated.Between(r, 0.25, 0.45), simulated.Between(r, 0.2, 0.6)
		return func(x, minutes float64) float64 {
			return g * -math.Expm1(-rate*(minutes-begins)) * (ramp(x, toe) - ramp(x-span, shoulder))
		}
	}},
	{"second emulsion develops late", func(r *rand.Rand, g, rate float64) grown {
		share, apart, w, late := simulated.Between(r, 0.3, 0.5), simulated.Between(r, 0.4, 0.8), simulated.Between(r, 0.12, 0.22), simulated.Between(r, 0.15, 0.35)/rate
		return func(x, minutes float64) float64 {
			slow := -math.Expm1(-rate * math.Max(minutes-late, 0))
			return g * ((1-share)*-math.Expm1(-rate*minutes)*ramp(x, w) + share*slow*ramp(x-apart, w))
		}
	}},
	{"sigmoid growth, toe narrows", func(r *rand.Rand, g, rate float64) grown {
		w, narrows, power := simulated.Between(r, 0.15, 0.25), simulated.Between(r, 0.1, 0.4), simulated.Between(r, 1.1, 1.4)
		return func(x, minutes float64) float64 {
			return g * -math.Expm1(-math.Pow(rate*minutes, power)) * ramp(x, w*(1+narrows*math.Exp(-rate*minutes)))
		}
	}},
	{"upswept", func(r *rand.Rand, g, rate float64) grown {
		w, bend, recedes := simulated.Between(r, 0.12, 0.30), simulated.Between(r, 0.05, 0.20), simulated.Between(r, 0, 0.10)
		return func(x, minutes float64) float64 {
			done := -math.Expm1(-rate * minutes)
			s := ramp(x+recedes*done, w)
			return g * done * (s + bend/2*s*s)
		}
	}},
	{"stained", func(r *rand.Rand, g, rate float64) grown {
		w, stain := simulated.Between(r, 0.12, 0.25), simulated.Between(r, 0.1, 0.3)
		return func(x, minutes float64) float64 {
			silver := -math.Expm1(-rate*minutes) * ramp(x, w)
			return g * (silver + stain*(1-math.Exp(-1.5*silver)))
		}
	}},
}

// crystals are films of one to three populations of crystals, each developable after three
// quanta, of three sizes, and developing at a rate of its own: they end in one shoulder or
// several. Mixtures of the forms are without them.
var crystals = foreignForm{"crystals of three hits", func(r *rand.Rand, g, rate float64) grown {
	type population struct{ amount, at, spread, rate float64 }
	var all []population
	begins := simulated.Between(r, 0, 0.6)
	for i := range 1 + r.IntN(3) {
		all = append(all, population{simulated.Between(r, 0.8, 1.6), float64(i) * simulated.Between(r, 0.35, 0.75), simulated.Between(r, 0.2, 0.4), rate * simulated.Between(r, 0.6, 1.5)})
	}
	hit := func(x float64) float64 {
		q := math.Pow(10, x)
		return 1 - math.Exp(-q)*(1+q+q*q/2)
	}
	return func(x, minutes float64) float64 {
		d := 0.0
		for _, p := range all {
			u := x - p.at
			d += p.amount * -math.Expm1(-p.rate*math.Max(minutes-begins, 0)) * (0.3*hit(u-p.spread) + 0.4*hit(u) + 0.3*hit(u+p.spread))
		}
		return g * d
	}
}}

var everyForm = append(slices.Clip(foreignForms), crystals)

// foreign is a film of a foreign form in front of a wedge of 21 steps of 0.15.
type foreign struct {
	net     grown // log exposure from the faint end of the wedge
	base    float64
	fog     float64 // growth a minute
	minutes []float64
	scatter float64 // of the contrast from one development to the next, as a share
	off     float64 // share by which every reading is off
	wedgeSD float64 // as the notebook states it
	simulated.Bench

	reading   sensito.Reading // what the notebook states
	repeating sensito.Repeating
}

func newForeign(r *rand.Rand, form int, inside [2]float64) foreign {
	return newForeignOf(r, everyForm[form], inside)
}

func newForeignOf(r *rand.Rand, form foreignForm, inside [2]float64) foreign {
	rate := simulated.Between(r, 0.09, 0.22)
	d := foreign{base: simulated.Between(r, 0.08, 0.30), fog: simulated.Between(r, 0.001, 0.008), scatter: development.Scatter}
	d.Bench = simulated.Bench{Lamp: simulated.Between(r, -0.5, 1.5), Reversed: r.IntN(2) == 0, BaseRead: 2, Kit: simulated.Usual}
	shape := form.draw(r, 1, rate)
	// Scaled so that seven stops want 5 to 9 minutes, and moved so that the speed
	// point lies so far inside the wedge then.
	right := simulated.Between(r, 5, 9)
	var gain, at float64
	gain = simulated.Bisect(0.05, 20, func(g float64) float64 {
		return netCurve(func(x float64) float64 { return g * shape(x, right) }).spans(simulated.Normally(7)) - 1.05
	})
	at = netCurve(func(x float64) float64 { return gain * shape(x, right) }).speedPoint() - simulated.Among(r, inside)
	d.net = func(x, minutes float64) float64 { return gain * shape(x+at, minutes) }
	first, ratio := right*simulated.Between(r, 0.5, 0.65), simulated.Between(r, 2.6, 3.3)
	for i := range 5 {
		d.minutes = append(d.minutes, math.Round(4*first*math.Pow(ratio, float64(i)/4))/4)
	}
	return d
}

// netCurve is a curve of net density as the film of a simulation.
type netCurve func(x float64) float64

func (f netCurve) speedPoint() float64 {
	return simulated.Bisect(-4, 6, func(x float64) float64 { return f(x) - 0.10 })
}

func (f netCurve) spans(s simulated.Lit) float64 {
	darkest, lightest := s.Ends()
	m := f.speedPoint()
	return f(m+lightest) - f(m+darkest)
}

// developed is the film as it comes of one development.
func (d foreign) developed(r *rand.Rand, minutes float64) netCurve {
	by := 1 + d.scatter*r.NormFloat64()
	return func(x float64) float64 { return by * d.net(x, minutes) }
}

func (d foreign) family(t testing.TB, r *rand.Rand) *development.Family {
	var strips []sensito.StripSpec
	for _, minutes := range d.minutes {
		film := d.developed(r, minutes)
		s := d.ReadFilm(r, (1+d.off)*(d.base+d.fog*minutes), func(x float64) float64 { return (1 + d.off) * film(x) })
		s.Minutes = sensito.Minutes(minutes)
		strips = append(strips, s)
	}
	spec := sensito.TrialSpec{Film: sensito.Film{Name: "Larkfield 125"}, Process: simulated.Tank, Strips: strips, Reading: d.reading, Repeating: d.repeating}
	var err error
	spec.Exposures, err = d.Exposures(t).WithWedgeSD(sensito.LogRange(d.wedgeSD))
	require.NoError(t, err)
	return blind.FamilyOf(t, spec)
}

// judge compares an answer with the time that the scene wants, the speed point then, and
// the negative of one more development: time, index, range delivered and tones -3 and 0.
func (d foreign) judge(r *rand.Rand, p *scene.Answer, all []blind.Tally, lit simulated.Lit, right, point float64) {
	blind.Judge(&all[0], &p.Minutes, right, blind.InShare, math.NaN())
	blind.Judge(&all[1], p.ExposureIndex, 8.125/(16*math.Pow(10, point+d.Faint())), blind.InStops, math.NaN())
	got := d.developed(r, float64(p.Minutes.Value))
	darkest, lightest := lit.Ends()
	placed := math.Log10(8.125/(16*float64(p.ExposureIndex.Value))) - d.Faint()
	blind.Judge(&all[2], p.Delivered, got(placed+lightest)-got(placed+darkest), blind.Apart, math.NaN())
	for j, stops := range []float64{-3, 0} {
		tone := p.Tones[int(stops)-scene.LowestTone]
		blind.Judge(&all[3+j], tone.NetDensity, got(placed+lit.Above(tone.Stops)), blind.Apart, math.NaN())
	}
}

// Films of forms that are not fitted, with few strips and many, coarse wedges and
// fine ones, quiet readings and a process that scatters: every answer of a scene
// covers the truth as it says, in every class.
func TestBlindForms(t *testing.T) {
	t.Parallel()
	quiet, coarse, fine := simulated.Usual, simulated.Usual, simulated.Usual
	quiet.Noise = 0.003
	coarse.Steps, coarse.Step = 8, 0.43
	fine.Steps, fine.Step = 61, 0.05
	type class struct {
		name    string
		form    int // -1 for each in turn
		strips  int
		kit     simulated.Kit
		scatter float64
		stated  bool // that of the process
		scale   float64
	}
	var classes []class
	for form, f := range foreignForms {
		classes = append(classes, class{name: f.name, form: form, strips: 5, kit: simulated.Usual, scatter: development.Scatter})
	}
	for _, c := range []class{
		{name: "two strips", strips: 2}, {name: "three strips", strips: 3},
		{name: "coarse wedge", kit: coarse}, {name: "fine wedge", kit: fine}, {name: "quiet", kit: quiet},
		{name: "process 2 %", scatter: 0.02}, {name: "process 2 %, stated", scatter: 0.02, stated: true}, {name: "densitometer 0.7 %", scale: 0.007},
		{name: "process 2 %, two strips", scatter: 0.02, strips: 2}, {name: "process 2 %, three strips", scatter: 0.02, strips: 3},
	} {
		c.form = -1
		if c.strips == 0 {
			c.strips = 5
		}
		if c.kit.Steps == 0 {
			c.kit = simulated.Usual
		}
		if c.scatter == 0 {
			c.scatter = development.Scatter
		}
		classes = append(classes, c)
	}
	classes = append(classes, class{name: crystals.name, form: len(foreignForms), strips: 5, kit: simulated.Usual, scatter: development.Scatter})
	names := []string{"time", "index", "delivered", "tone -3", "tone 0"}
	pooled := make([]blind.Tally, len(names))
	text := ""
	for k, c := range classes {
		all := make([]blind.Tally, len(names))
		for i := range 6 * blind.Effort(t) {
			r := rand.New(rand.NewPCG(uint64(i), uint64(900+k)))
			form := c.form
			if form < 0 {
				form = i % len(foreignForms)
			}
			d := newForeign(r, form, [2]float64{0.45, 0.75})
			d.Kit, d.scatter = c.kit, c.scatter
			if c.stated { // contrast changes half as fast as the rate
				d.repeating.TemperatureSDC = 2 * c.scatter / math.Log(development.DefaultQ10) * 10
			}
			if c.scale > 0 {
				d.reading.ScaleSD, d.off = c.scale, c.scale*r.NormFloat64()
			}
			var minutes []float64
			for j := range c.strips {
				minutes = append(minutes, d.minutes[j*4/(c.strips-1)])
			}
			d.minutes = minutes
			family := d.family(t, r)
			const stops = 7
			lit := simulated.Normally(stops)
			repeatable := d
			repeatable.scatter = 0
			short := func(m float64) float64 { return repeatable.developed(r, m).spans(lit) - 1.05 }
			if short(minutes[0]) > 0 || short(minutes[len(minutes)-1]) < 0 {
				continue
			}
			right := simulated.Bisect(minutes[0], minutes[len(minutes)-1], short)
			point := repeatable.developed(r, right).speedPoint()
			p, err := scene.For(family, scene.Scene{Stops: stops})
			if err != nil {
				all[0].Missing++
				continue
			}
			d.judge(r, p, all, lit, right, point)
		}
		text += fmt.Sprintf("\n%-32s n %3d miss %2d ", c.name, all[0].N, all[0].Missing)
		for j, a := range all {
			text += fmt.Sprintf("| %+.4f %.4f %5.1f ", a.Bias(), a.RMS(), 100*a.Coverage())
			pooled[j].N, pooled[j].Covered, pooled[j].Missing = pooled[j].N+a.N, pooled[j].Covered+a.Covered, pooled[j].Missing+a.Missing
			// 92 of 100 in every class, and 3.3 standard deviations of the count of few:
			// there are 70 of them.
			allow := 3.3 * math.Sqrt(0.95*0.05/float64(a.N))
			assert.GreaterOrEqual(t, a.Coverage(), math.Min(0.92, 0.95-allow), "%s of %s", names[j], c.name)
		}
	}
	t.Logf("bias, rms and coverage of %v%s", names, text)
	for j, a := range pooled {
		t.Logf("%-10s n %d covers %.1f", names[j], a.N, 100*a.Coverage())
		few := 2.5 * math.Sqrt(0.95*0.05/float64(a.N)) // standard deviations of the count
		assert.GreaterOrEqual(t, a.Coverage(), 0.95-math.Max(0.02, few), names[j])
		most := math.Min(0.99, 0.97+0.8*few) // and two standard deviations of the count
		if names[j] == "index" {
			most = 0.97
		}
		assert.LessOrEqual(t, a.Coverage(), math.Max(most, 0.95+few), names[j])
	}
}

// The law of the speed points through those that films of every form have at five times:
// at the time that the scene wants no form is off by more than a sixth of what the speed
// point of one strip errs by on the average, where a line is off by a third. The law says how
// far off it may be, and that is a fifth at most.
func TestSpeedPointsBend(t *testing.T) {
	t.Parallel()
	const sd = 0.013 // of the speed point of a strip among five
	within, films, open := 0, 0, 0.0
	for form, f := range foreignForms {
		var off blind.Tally
		for i := range 30 {
			r := rand.New(rand.NewPCG(uint64(i), uint64(970+form)))
			d := newForeign(r, form, [2]float64{0.45, 0.75})
			d.scatter = 0
			lit := simulated.Normally(7)
			contrast := func(minutes float64) float64 { return math.Log(d.developed(r, minutes).spans(lit)) }
			table := development.Table{Minutes: d.minutes}
			for range d.minutes {
				table.Rows, table.SD = append(table.Rows, make([]float64, curve.ColumnFractional+1)), append(table.SD, make([]float64, curve.ColumnFractional+1))
			}
			for j, minutes := range d.minutes {
				table.Rows[j][curve.ColumnSpeedPoint], table.SD[j][curve.ColumnSpeedPoint] = d.developed(r, minutes).speedPoint(), sd
			}
			law := table.PlaceTrend(curve.ColumnSpeedPoint, table.Rows, contrast)
			right := simulated.Bisect(d.minutes[0]/2, 2*d.minutes[4], func(m float64) float64 { return contrast(m) - math.Log(1.05) })
			u := contrast(right)
			may := math.Abs(law.Bending(1).At(u) - law.At(u))
			miss := law.At(u) - d.developed(r, right).speedPoint()
			blind.Judge(&off, &sensito.Estimate[float64]{Value: law.At(u), StdErr: may, DoF: math.Inf(1)}, law.At(u)-miss, blind.Apart, math.NaN())
			open += may
		}
		t.Logf("%-32s bias %+.4f rms %.4f covers %.0f", f.name, off.Bias(), off.RMS(), 100*off.Coverage())
		assert.LessOrEqual(t, math.Abs(off.Bias()), sd/6, f.name)
		within, films = within+off.Covered, films+off.N
	}
	t.Logf("it may be off by %.4f", open/float64(films))
	assert.GreaterOrEqual(t, float64(within)/float64(films), 0.95)
	assert.LessOrEqual(t, open/float64(films), sd/5)
}

// One strip, developed for 0.7 to 1.4 of the time that the scene wants, or for 0.7 to
// twice: what is taken of usual developers covers the truth, and near it the answer is
// not further off than it needs to be.
func TestBlindOneTime(t *testing.T) {
	t.Parallel()
	near := oneTime(t, 0.7, 1.4)
	assert.Less(t, near[0].RMS(), 0.08, "the time")
	assert.Less(t, near[1].RMS(), 0.14, "the index, stops")
	oneTime(t, 0.7, 2)
}

// oneTime judges answers from strips of one time, that many times the right one.
func oneTime(t *testing.T, least, most float64) []blind.Tally {
	t.Helper()
	names := []string{"time", "index", "delivered", "tone -3", "tone 0", "fog"}
	all := make([]blind.Tally, len(names))
	for i := range 200 * blind.Effort(t) {
		r := rand.New(rand.NewPCG(uint64(i), 77))
		d := newForeign(r, i%len(foreignForms), [2]float64{0.45, 0.75})
		const stops = 7
		lit := simulated.Normally(stops)
		repeatable := d
		repeatable.scatter = 0
		right := simulated.Bisect(1, 40, func(m float64) float64 { return repeatable.developed(r, m).spans(lit) - 1.05 })
		point := repeatable.developed(r, right).speedPoint()
		d.minutes = []float64{math.Round(8*right*math.Exp(simulated.Between(r, math.Log(least), math.Log(most)))) / 8}
		p, err := scene.For(d.family(t, r), scene.Scene{Stops: stops})
		if err != nil {
			all[0].Missing++
			continue
		}
		d.judge(r, p, all, lit, right, point)
		blind.Judge(&all[5], &p.BaseFog, d.base+d.fog*float64(p.Minutes.Value), blind.Apart, math.NaN())
	}
	text := fmt.Sprintf("%v to %v of the right time", least, most)
	for j, a := range all {
		text += fmt.Sprintf("\n%-10s n %d miss %d bias %+.4f rms %.4f covers %.1f", names[j], a.N, a.Missing, a.Bias(), a.RMS(), 100*a.Coverage())
		assert.Zero(t, a.Missing, names[j])
		assert.GreaterOrEqual(t, a.Coverage(), 0.92, names[j])
	}
	t.Log(text)
	return all
}
