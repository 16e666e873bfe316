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
	"sensito/sensito/curve"
	"sensito/sensito/development"
	"sensito/sensito/scene"
)

// tally gathers the errors of one quantity and, where they are known, their
// Cramer-Rao bounds.
type tally struct {
	n, missing, covered int
	sum, squares        float64
	bounds, shares      float64 // sums of squares: of the bounds, of the errors in bounds
}

func (a *tally) bias() float64     { return a.sum / float64(a.n) }
func (a *tally) rms() float64      { return math.Sqrt(a.squares / float64(a.n)) }
func (a *tally) spread() float64   { return math.Sqrt(a.squares/float64(a.n) - a.bias()*a.bias()) }
func (a *tally) coverage() float64 { return float64(a.covered) / float64(a.n) }

// overBound returns the rms error over the rms bound: 1 for an estimator that
// makes full use of the readings.
func (a *tally) overBound() float64 { return math.Sqrt(a.squares / a.bounds) }

// tallies of one quantity, by class and, last, of all.
type tallies [len(classNames) + 1]tally

func (a *tallies) all() *tally { return &a[len(classNames)] }

// judge adds an estimate; nil counts as missing. by gives the error in the unit
// in which the quantity is judged; bound is in that unit too, NaN when unknown.
func judge[Q ~float64](a *tally, e *sensito.Estimate[Q], truth float64, by func(got, want float64) float64, bound float64) {
	if e == nil {
		a.missing++
		return
	}
	miss := by(float64(e.Value), truth)
	a.n++
	a.sum += miss
	a.squares += miss * miss
	a.bounds += bound * bound
	a.shares += miss * miss / (bound * bound)
	if lo, hi := e.Interval(0.95); float64(lo) <= truth && truth <= float64(hi) {
		a.covered++
	}
}

// score judges an estimate within its class and among all.
func score[Q ~float64](a *tallies, class int, e *sensito.Estimate[Q], truth float64, by func(got, want float64) float64) {
	judge(&a[class], e, truth, by, math.NaN())
	judge(a.all(), e, truth, by, math.NaN())
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
	if testing.Short() {
		t.Skip("statistics are for the full run")
	}
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

func (n *notes) add(class int, f *curve.Fit) {
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

// checkCoverage holds the share of 95 % intervals that cover to 92 to 98 %, over
// all that the tallies hold together; of few films, to 2.5 standard deviations of
// the count. Tallies are of the same films, whose intervals miss together, so
// that the largest of them says how many there are.
func checkCoverage(t *testing.T, name string, as ...*tallies) {
	n, covered, films := 0, 0, 0
	for _, a := range as {
		all := a.all()
		n, covered, films = n+all.n, covered+all.covered, max(films, all.n)
	}
	allow := math.Max(0.03, 2.5*math.Sqrt(0.95*0.05/float64(films)))
	assert.InDelta(t, 0.95, float64(covered)/float64(n), allow, "coverage of %s, %d intervals of %d films", name, n, films)
}

// strips is the result of many blind strips.
type strips struct {
	base, speed, index, gradient, iso tallies
	said                              notes
}

// blindStrips measures n strips of every class in turn and holds coverage and
// false alarms to their limits.
func blindStrips(t *testing.T, p practice, n int) *strips {
	s := &strips{}
	for i := range n {
		r := rand.New(rand.NewPCG(uint64(i), 1))
		class := i % len(classNames)
		f, b, m := p.strip(t, r, class)
		s.said.add(class, m.Fit)
		score(&s.base, class, m.BaseFog, f.base, apart)
		score(&s.speed, class, m.SpeedPoint, f.speedPoint()+b.faint(), apart)
		score(&s.index, class, m.ContrastIndex, f.contrastIndex(), apart)
		score(&s.gradient, class, m.AverageGradient, f.rise(1.5)/1.5, apart)
		score(&s.iso, class, m.ISODifference, f.rise(1.3), apart)
	}
	t.Log("\n" + tallyHead + s.base.table("base+fog") + s.speed.table("speed point") + s.index.table("contrast index") +
		s.gradient.table("average gradient") + s.iso.table("ISO difference") + s.said.table())
	for name, a := range map[string]*tallies{"base plus fog": &s.base, "the speed point": &s.speed, "the contrast index": &s.index,
		"the average gradient": &s.gradient, "the ISO difference": &s.iso} {
		checkCoverage(t, name, a)
		assert.LessOrEqual(t, float64(a.all().missing), 0.005*float64(n), "strips that do not give %s", name)
	}
	s.said.checkClean(t)
	return s
}

// Single strips of ordinary practice: the errors, and the coverage of the 95 %
// intervals.
func TestBlindStrips(t *testing.T) {
	t.Parallel()
	s := blindStrips(t, ordinary, 1080*effort(t))
	assert.LessOrEqual(t, s.speed.all().rms(), 0.023, "rms error of the speed point, log H")
	assert.LessOrEqual(t, math.Abs(s.speed.all().bias()), 0.005, "bias of the speed point, log H")
	assert.LessOrEqual(t, s.index.all().rms(), 0.0085, "rms error of the contrast index")
}

// Careless practice leaves larger errors, a speed point to 0.04 log H, but the
// intervals must say so.
func TestBlindCarelessStrips(t *testing.T) {
	t.Parallel()
	blindStrips(t, careless, 480*effort(t))
}

// Strips read twice as well as stated, in fine steps, show of what form a film
// is not; the intervals must count that too.
func TestBlindQuietStrips(t *testing.T) {
	t.Parallel()
	quiet := ordinary
	quiet.kit = kit{steps: 41, step: 0.075, noise: usual.noise / 2}
	blindStrips(t, quiet, 240*effort(t))
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

func (p practice) developing(r *rand.Rand, class int) developing {
	d := developing{film: film{base: between(r, 0.08, 0.30), layers: p.emulsion(r, class)}}
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
	d.speed, d.move = among(r, p.inside), between(r, 0, 0.15)
	first, ratio := between(r, 3.5, 4.5), between(r, 2.7, 3.3)
	for i := range d.minutes {
		d.minutes[i] = math.Round(4*first*math.Pow(ratio, float64(i)/4)) / 4
	}
	right := math.Exp(between(r, math.Log(5), math.Log(10))) // for seven stops
	gain := bisect(0.01, 50, func(g float64) float64 {
		e := d
		e.film = d.scaled(func(int) float64 { return g })
		return e.at(right).spans(normally(7)) - 1.05
	})
	d.film = d.scaled(func(int) float64 { return gain })
	return d
}

func (d developing) at(minutes float64) film {
	f := d.scaled(func(i int) float64 { return -math.Expm1(-d.rates[i] * (minutes - d.induction)) })
	f.base += d.fog * minutes
	settled := func(t float64) float64 { return math.Exp(-d.settling * (t - d.minutes[0])) }
	gone := (1 - settled(minutes)) / (1 - settled(d.minutes[4]))
	return f.moved(d.speed - d.move*gone - f.speedPoint())
}

// family measures a blind family of five strips of a film of a class.
func (p practice) family(t testing.TB, r *rand.Rand, class int) (developing, bench, *development.Family) {
	d, b := p.developing(r, class), p.bench(r)
	var strips []sensito.StripSpec
	for _, minutes := range d.minutes {
		s := b.read(r, d.at(minutes))
		s.Minutes = sensito.Minutes(minutes)
		strips = append(strips, s)
	}
	f, err := development.NewFamily(b.trial(t, strips...), curve.MeasureOptions{})
	require.NoError(t, err, "%+v on %+v", d, b)
	return d, b, f
}

// right returns the right time for a scene and the exposure index at it; ok is
// false when that time is not among those tested.
func (d developing) right(b bench, stops float64) (minutes, index float64, ok bool) {
	short := func(t float64) float64 { return d.at(t).spans(normally(stops)) - 1.05 }
	if short(d.minutes[0]) > 0 || short(d.minutes[4]) < 0 {
		return 0, 0, false
	}
	minutes = bisect(d.minutes[0], d.minutes[4], short)
	return minutes, 8.125 / (16 * math.Pow(10, d.at(minutes).speedPoint()+b.faint())), true
}

// blindScenes plans scenes of six to eight stops, whose time lies among those
// tested, on n families of five strips, and holds coverage and refusals to
// their limits.
func blindScenes(t *testing.T, p practice, n int) (times, indices []tallies) {
	stops := []float64{7, 6, 8}
	times, indices = make([]tallies, len(stops)), make([]tallies, len(stops))
	var said notes
	laws, refused := map[string]int{}, 0
	for i := range n {
		r := rand.New(rand.NewPCG(uint64(i), 2))
		class := i % len(classNames)
		d, b, family := p.family(t, r, class)
		laws[family.Model]++
		for _, m := range family.Strips {
			said.add(class, m.Fit)
		}
		for k, n := range stops {
			minutes, index, ok := d.right(b, n)
			if !ok {
				continue
			}
			plan, err := scene.For(family, scene.Scene{Stops: n})
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
	checkCoverage(t, "the time", &times[0], &times[1], &times[2])
	checkCoverage(t, "the exposure index", &indices[0], &indices[1], &indices[2])
	// A true time at the end of development can look out of reach.
	assert.LessOrEqual(t, float64(refused), 0.01*float64(n), "families with a scene refused though a tested time serves")
	said.checkClean(t)
	return times, indices
}

// Families of ordinary practice. The limits are for a normal scene; shorter ones
// ask for times near the end of development, where the time is less certain
// and the intervals say so.
func TestBlindScenes(t *testing.T) {
	t.Parallel()
	times, indices := blindScenes(t, reaching, 48*effort(t))
	assert.LessOrEqual(t, times[0].all().rms(), 0.022, "rms relative error of the time")
	assert.LessOrEqual(t, indices[0].all().rms(), 0.08, "rms error of the exposure index in stops")
}

func TestBlindCarelessScenes(t *testing.T) {
	t.Parallel()
	if testing.Short() {
		t.Skip("the ordinary families are enough for a short run")
	}
	blindScenes(t, careless, 36*effort(t))
}
