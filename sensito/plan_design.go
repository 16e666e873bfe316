package sensito

import (
	"math"
	"math/rand/v2"
	"slices"

	"sensito/fit"

	"gonum.org/v1/gonum/stat"
)

// design is a set of strips, some developed and some only thought of, and what
// they say of the answer wanted. A strip thought of lies on the laws that the
// others give and has the errors that the others have; the interval of the
// answer is then worked out by the code that works it out for strips.
type design struct {
	plan   *Plan // how the scene stands in its family; without a time where the law is guessed
	wanted Wanted
	table  *table // with sceneRise

	law     growth // of the density rise
	guessed bool   // the law is not the strips'
	speed   trend
	fog     trend
	told    float64 // minutes at which the law has it

	added  int     // of the strips in table that are only thought of
	placed float64 // what placing gives with the strips at hand
}

// design returns the strips of the family, for an answer about the scene. Where
// they give no law of growth it is guessed (see guess). The error says why no
// strip can help.
func (f *Family) design(s Scene, wanted Wanted) (*design, error) {
	plan, err := f.For(s)
	if err == nil {
		d := &design{plan: plan, wanted: wanted, table: plan.table(), law: plan.growth,
			told: float64(plan.Minutes.Value)}
		d.follow()
		return d, nil
	}
	if checked := s.Check(); checked != nil {
		return nil, checked
	}
	s = s.withDefaults()
	d := &design{plan: f.planOf(s), wanted: wanted, guessed: true}
	d.table = d.plan.table()
	t, y, sd := d.table.column(sceneRise, d.table.rows)
	if len(t) == 0 {
		return nil, err
	}
	d.plan.aim = s.wanted(Density(d.table.trend(colFog, d.table.rows, math.Log, -1).at(math.Log(slices.Max(t)))))
	if steady := d.plan.sought(d.table, growth{}).underControl(); steady != nil {
		return nil, steady
	}
	if _, lawless := fitGrowth(t, y, sd, ""); lawless == nil {
		return nil, err // there is a law, and it says that no time serves
	}
	d.law = guess(t, y, float64(d.plan.aim))
	if d.told, err = d.law.Time(float64(d.plan.aim)); err != nil {
		return nil, err
	}
	d.follow()
	return d, nil
}

// follow takes speed point and fog from the strips.
func (d *design) follow() {
	d.speed = d.table.trend(colSpeedPoint, d.table.rows, d.plan.Family.development, -1)
	d.fog = d.table.trend(colFog, d.table.rows, math.Log, -1)
	d.placed = d.placing(d.law)
}

// guessedGrowth is how far development has gone by the middle of the tested
// times where the strips do not show it: rate times time. A negative that prints
// on grade 2 is developed to some 40 to 65 % of its limit, 0.5 to 1.0 (common
// practice, no source; with the limit of 1.45 of Ives 1920 a gradient of 0.57 is
// at 0.5).
const guessedGrowth = 0.8

// guess returns a law of growth for strips that show none, through their mean
// at their middle time; slower where its limit would not be well above the aim.
func guess(t, y []float64, aim float64) growth {
	middle, reached := math.Exp(stat.Mean(logs(t), nil)), math.Exp(stat.Mean(logs(y), nil))
	g := growth{model: firstOrder, scatter: 1}
	for k := guessedGrowth; k > 0.01; k *= 0.7 {
		g.Rate = k / middle
		g.Limit = -reached / math.Expm1(-k)
		g.Slope = g.Limit * g.Rate
		if aim < 0.8*g.Limit {
			return g
		}
	}
	g.Rate, g.Limit, g.Slope = 0, math.Inf(1), reached/middle // a straight line
	return g
}

// errorsOf are the standard deviations of a strip to come in the columns of
// toCome, of its density rise by the readings alone, and the degrees of freedom
// behind them.
type errorsOf struct {
	sd  [len(toCome)]float64
	dof float64
}

// toCome are the columns that a strip to come is thought to have.
var toCome = [...]int{sceneRise, colSpeedPoint, colFog}

// usualErrors returns those of the strips at hand, in the root mean square.
func (d *design) usualErrors() errorsOf {
	var e errorsOf
	strips := len(d.table.rows) - d.added
	for c, i := range toCome {
		var squares, n float64
		for j := range strips {
			v, sd := d.table.rows[j][i], d.table.sd[j][i]
			if math.IsNaN(v) || math.IsNaN(sd) {
				continue
			}
			if i == sceneRise {
				sd = math.Sqrt(math.Max(sd*sd-math.Pow(developmentScatter*v, 2), 0))
			}
			squares, n = squares+sd*sd, n+1
		}
		e.sd[c] = math.Max(math.Sqrt(squares/n), leastSD)
	}
	e.dof = d.table.dof / float64(len(d.table.rows))
	return e
}

// lie returns where a strip developed so long is thought to lie, in the columns
// of toCome.
func (d *design) lie(minutes float64) [len(toCome)]float64 {
	return [...]float64{d.law.At(minutes), d.speed.at(d.plan.Family.development(minutes)), d.fog.at(math.Log(minutes))}
}

// leastRise is the density rise below which a strip says little: its curve
// could hardly be fitted.
const leastRise = 0.15

// serves says whether a strip developed so long would give the density rise:
// enough of it, and the scene within the exposures as the curve may be followed.
func (d *design) serves(minutes float64) bool {
	at := d.lie(minutes)
	lo, hi := d.plan.Family.Trial.Exposures().Span()
	point := LogExposure(at[1])
	return at[0] >= leastRise && point >= lo.Add(-reach) && point.Add(d.plan.end()) <= hi.Add(sceneReach)
}

// with returns the design with one more strip.
func (d *design) with(minutes float64) *design {
	at, errors := d.lie(minutes), d.usualErrors()
	row := make([]float64, len(d.table.rows[0]))
	sd := make([]float64, len(row))
	for i := range row {
		row[i], sd[i] = math.NaN(), math.NaN()
	}
	for c, i := range toCome {
		row[i], sd[i] = at[c], errors.sd[c]
	}
	sd[sceneRise] = math.Hypot(sd[sceneRise], developmentScatter*row[sceneRise])
	more := *d
	more.table = d.table.plus(minutes, row, sd, errors.dof)
	more.table.placed = d.table.placed.plus(d.table, minutes, at[1])
	more.added++
	return &more
}

// answer returns the answer that the strips of the design give, with its
// interval. The error is that of the law.
//
// Strips only thought of lie on the laws, so the scatter cannot be taken from
// them: they are expected to scatter as those at hand do.
func (d *design) answer() (Estimate[float64], error) {
	if d.wanted == WantedIndex {
		speed := d.table.trend(colSpeedPoint, d.table.rows, d.plan.Family.development, d.degree(d.speed))
		speed.scatter = d.speed.scatter
		return d.index(speed), nil
	}
	if d.added == 0 && !d.guessed {
		return plainMinutes(d.plan.Minutes), nil
	}
	t, y, sd := d.table.column(sceneRise, d.table.rows)
	if d.added == 0 || len(t) == 2 {
		g, err := fitGrowth(t, y, sd, "")
		if err != nil {
			return Estimate[float64]{}, err
		}
		return d.minutes(g)
	}
	model := d.law.model
	if model == twoTimes {
		model = firstOrder
	}
	g, err := growthOf(t, y, sd, model)
	if err != nil {
		return Estimate[float64]{}, err
	}
	g.scatter = d.scatter()
	return d.minutes(g)
}

// scatter returns how much strips about the law are expected to scatter once
// more are added: two, taken to scatter because no third one checks them, do not.
func (d *design) scatter() float64 {
	if d.law.model == twoTimes {
		return 1
	}
	return d.law.scatter
}

// degree returns that of a trend when strips are added: a line at least.
func (d *design) degree(p trend) int {
	if d.added > 0 && len(distinct(d.table.minutes)) > 1 {
		return max(p.degree(), 1)
	}
	return p.degree()
}

// minutes returns the development time that a growth gives, with the interval
// that a plan on these strips would have.
func (d *design) minutes(g growth) (Estimate[float64], error) {
	minutes, held, err := d.held(g)
	if err != nil {
		return Estimate[float64]{}, err
	}
	// How far the speed points move the time, and how that goes with the errors of
	// the gains, is as with the strips at hand.
	placing := d.placing(g)
	total := held*held + placing*placing
	if before := d.plan.base; before.sd > 0 && d.placed > 0 {
		total += (before.total*before.total - before.sd*before.sd - d.placed*d.placed) * held / before.sd * placing / d.placed
	}
	base := d.plan.timeBase(d.table, g, minutes, math.Sqrt(math.Max(total, held*held)), held)
	return plainMinutes(base.estimate(base.minutes, base.total, 0, math.Inf(1))), nil
}

func plainMinutes(e Estimate[Minutes]) Estimate[float64] {
	return Estimate[float64]{Value: float64(e.Value), StdErr: float64(e.StdErr), DoF: e.DoF, Log: true, Limits: func(level float64) (float64, float64) {
		low, high := e.Interval(level)
		return float64(low), float64(high)
	}}
}

// placing returns the standard deviation that the speed points of the strips
// give the time, in ln t, by themselves.
func (d *design) placing(g growth) float64 {
	_, sd := d.speedPoint(d.table.trend(colSpeedPoint, d.table.rows, d.plan.Family.development, d.degree(d.speed)))
	slopes := d.table.placed.slopes[sceneRise]
	u := each(d.table.minutes, d.plan.Family.development)
	slope := straight(u, slopes, d.plan.Family.development(d.told))
	return math.Abs(slope) * sd * g.perAim(float64(d.plan.aim))
}

// held returns the time at which a growth has the density wanted, and the
// standard deviation of its logarithm with the speed points held.
func (d *design) held(g growth) (minutes, lnSD float64, err error) {
	scene, aim := d.plan.Scene, float64(d.plan.aim)
	if scene.ScanMax == 0 {
		if minutes, err = g.Time(aim); err != nil {
			return 0, 0, err
		}
		t, y, sd := d.table.column(sceneRise, d.table.rows)
		wide := each(sd, func(v float64) float64 { return g.scatter * v })
		f, err := fit.FitKinetics(t, y, wide, g.model == firstOrderInduction)
		return minutes, f.TimeSD(aim) / minutes, err
	}
	held := *d.table
	held.placed = nil
	change, err := held.propagate(map[int]float64{sceneRise: g.scatter, colFog: d.fog.scatter}, func(rows [][]float64) ([]float64, error) {
		g, err := held.grow(sceneRise, rows, g.model)
		if err != nil {
			return nil, err
		}
		fog := held.trend(colFog, rows, math.Log, d.degree(d.fog))
		minutes, _, err := scene.timeFor(g.Time, func(minutes float64) float64 { return fog.at(math.Log(minutes)) }, NetDensity(aim))
		return []float64{math.Log(minutes)}, err
	})
	if err != nil {
		return 0, 0, err
	}
	return math.Exp(change.values[0]), change.sd(0), nil
}

// index returns the exposure index at the time told, for a trend of the speed
// point.
func (d *design) index(speed trend) Estimate[float64] {
	family := d.plan.Family
	point, sd := d.speedPoint(speed)
	h := family.speedPointAt(point, sd, fit.ScatterDoF(speed.scatter, speed.dof, d.table.dof))
	meter := family.Trial.exposures.meter
	e := speedEstimate(h, func(h LogExposure) Speed { return meter.Index(h, d.plan.Scene.ShadowStops) })
	return Estimate[float64]{Value: float64(e.Value), StdErr: float64(e.StdErr), DoF: e.DoF, Log: true}
}

// speedPoint returns the speed point at the time told, for a trend, with its
// standard deviation by the strips.
func (d *design) speedPoint(speed trend) (point, deviation float64) {
	t, y, sd := d.table.column(colSpeedPoint, d.table.rows)
	u := each(t, d.plan.Family.development)
	at := func() float64 { return fitTrend(u, y, sd, speed.degree()).at(d.plan.Family.development(d.told)) }
	point = at()
	variance := 0.0
	for j := range y { // exact, a trend being linear in the speed points
		y[j] += sd[j]
		variance += math.Pow(speed.scatter*(at()-point), 2)
		y[j] -= sd[j]
	}
	return point, math.Sqrt(variance)
}

// carriedOut returns the answer after strips that do not lie on the laws but
// about them, as chance will have it: the laws are drawn from their errors, the
// strips to come from theirs, and what all give is worked out anew, scatter and
// all. The error is that of a law which such strips do not give.
func (d *design) carriedOut(r *rand.Rand) (Estimate[float64], error) {
	tb := *d.table
	at := len(tb.rows) - d.added // where the strips to come begin
	laws := *d
	laws.table = &table{minutes: tb.minutes[:at], rows: d.blurred(r, 0, at), sd: tb.sd[:at]}
	if t, y, sd := laws.table.column(sceneRise, laws.table.rows); !d.guessed {
		if g, err := fitGrowth(t, y, sd, d.law.model); err == nil {
			laws.law.Kinetics = g.Kinetics
		}
	}
	laws.speed = laws.table.trend(colSpeedPoint, laws.table.rows, d.plan.Family.development, d.speed.degree())

	come := d.blurred(r, at, len(tb.rows))
	for j, row := range come {
		expected, drawn := d.lie(tb.minutes[at+j]), laws.lie(tb.minutes[at+j])
		for c, i := range toCome {
			row[i] += drawn[c] - expected[c]
		}
	}
	tb.rows = append(slices.Clone(tb.rows[:at]), come...)
	tb.sd = d.drawnErrors(r)
	out := *d
	out.table = &tb
	if d.wanted == WantedIndex {
		return out.index(tb.trend(colSpeedPoint, tb.rows, d.plan.Family.development, -1)), nil
	}
	t, y, sd := tb.column(sceneRise, tb.rows)
	g, err := fitGrowth(t, y, sd, "")
	if err != nil {
		return Estimate[float64]{}, err
	}
	return out.minutes(g)
}

// blurred returns the rows from one to another, each value of toCome moved by
// chance as its error has it.
func (d *design) blurred(r *rand.Rand, from, to int) [][]float64 {
	scatter := [...]float64{d.scatter(), d.speed.scatter, d.fog.scatter}
	var out [][]float64
	for j := from; j < to; j++ {
		row := slices.Clone(d.table.rows[j])
		for c, i := range toCome {
			row[i] += scatter[c] * d.table.sd[j][i] * r.NormFloat64()
		}
		out = append(out, row)
	}
	return out
}

// drawnErrors returns the standard deviations as chance may have them. Those of
// a strip to come depend on the form of its curve, as do those of the strips at
// hand, one of which lends it its own; and the scatter of the readings, pooled,
// moves a little as more are read.
func (d *design) drawnErrors(r *rand.Rand) [][]float64 {
	at := len(d.table.rows) - d.added
	dof := d.table.dof * float64(at) / float64(len(d.table.rows)) // of the strips at hand
	truth := dof / chiSquared(r, dof)                             // variance of a reading over that found
	pooled := math.Sqrt((dof + truth*chiSquared(r, d.table.dof-dof)) / d.table.dof)
	if math.IsInf(dof, 1) {
		pooled = 1
	}
	out := make([][]float64, len(d.table.rows))
	for j := range out {
		lender := j
		if j >= at {
			lender = r.IntN(at)
		}
		out[j] = slices.Clone(d.table.sd[j])
		for _, i := range toCome {
			lent := d.table.sd[lender][i]
			development := 0.0
			if i == sceneRise {
				development = developmentScatter
			}
			own := math.Sqrt(math.Max(lent*lent-math.Pow(development*d.table.rows[lender][i], 2), 0))
			out[j][i] = math.Hypot(pooled*own, development*d.table.rows[j][i])
		}
	}
	return out
}

// chiSquared returns a draw of chi squared with so many degrees of freedom, as
// a normal one by the cube root (E. B. Wilson and M. M. Hilferty, Proceedings of
// the National Academy of Sciences 17, 684, 1931, from memory).
func chiSquared(r *rand.Rand, dof float64) float64 {
	if dof <= 0 || math.IsInf(dof, 1) {
		return math.Max(dof, 0)
	}
	v := 2 / (9 * dof)
	return dof * math.Pow(math.Max(1-v+math.Sqrt(v)*r.NormFloat64(), 0.01), 3)
}
