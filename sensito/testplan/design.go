package testplan

import (
	"math"
	"math/rand/v2"
	"slices"

	"sensito/fit"
	"sensito/sensito"
	"sensito/sensito/curve"
	"sensito/sensito/development"
	"sensito/sensito/scene"

	"gonum.org/v1/gonum/stat"
)

// design is a set of strips, some developed and some only thought of, and what
// they say of the answer wanted. A strip thought of lies on the laws that the
// others give and has the errors that the others have; the interval of the
// answer is then worked out by the code that works it out for strips.
type design struct {
	known  *scene.Answer     // how the scene stands in its family, as tested; without a time where the law is guessed
	today  *scene.Adjustment // what today makes of that, nil for nothing
	wanted Wanted
	table  *development.Table // with ColumnRise

	law     development.Growth // of the density rise
	guessed bool               // the law is not the strips'
	speed   fit.Trend
	fog     fit.Trend
	told    float64 // minutes at which the law has it

	now *scene.Answer // as today; nil where the law is guessed

	added  int     // of the strips in table that are only thought of
	placed float64 // what placing gives with the strips at hand
}

// newDesign returns the strips of the family, for an answer about the scene. Where
// they give no law of growth it is guessed (see guess). The error says why no
// strip can help.
func newDesign(f *development.Family, s scene.Scene, wanted Wanted) (*design, error) {
	today, noToday := s.Today.For(f)
	if noToday != nil {
		return nil, noToday
	}
	answer, err := scene.For(f, s)
	if err == nil {
		now := answer
		answer = now.Tested()
		d := &design{known: answer, today: today, now: now, wanted: wanted, table: answer.Table(), law: answer.Growth,
			told: float64(answer.Minutes.Value)}
		d.follow()
		return d, nil
	}
	if checked := s.Check(); checked != nil {
		return nil, checked
	}
	s = s.WithDefaults()
	d := &design{known: scene.Unsolved(f, s), today: today, wanted: wanted, guessed: true}
	d.table = d.known.Table()
	t, y, sd := d.table.Column(scene.ColumnRise, d.table.Rows)
	if len(t) == 0 {
		return nil, err
	}
	d.known.Aim = s.Wanted(sensito.Density(d.table.Trend(curve.ColumnFog, d.table.Rows, math.Log, -1).At(math.Log(slices.Max(t)))))
	if steady := d.known.UnderControl(d.table); steady != nil {
		return nil, steady
	}
	if _, lawless := development.FitGrowth(t, y, sd, ""); lawless == nil {
		return nil, err // there is a law, and it says that no time serves
	}
	d.law = guess(t, y, float64(d.known.Aim))
	if d.told, err = d.law.Time(float64(d.known.Aim)); err != nil {
		return nil, err
	}
	d.follow()
	return d, nil
}

// follow takes speed point and fog from the strips.
func (d *design) follow() {
	d.speed = d.table.Trend(curve.ColumnSpeedPoint, d.table.Rows, d.known.Family.Development, -1)
	d.fog = d.table.Trend(curve.ColumnFog, d.table.Rows, math.Log, -1)
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
func guess(t, y []float64, aim float64) development.Growth {
	middle, reached := math.Exp(stat.Mean(fit.Logs(t), nil)), math.Exp(stat.Mean(fit.Logs(y), nil))
	g := development.Growth{Model: development.FirstOrder, Scatter: 1}
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
var toCome = [...]int{scene.ColumnRise, curve.ColumnSpeedPoint, curve.ColumnFog}

// usualErrors returns those of the strips at hand, in the root mean square.
func (d *design) usualErrors() errorsOf {
	var e errorsOf
	strips := len(d.table.Rows) - d.added
	for c, i := range toCome {
		var squares, n float64
		for j := range strips {
			v, sd := d.table.Rows[j][i], d.table.SD[j][i]
			if math.IsNaN(v) || math.IsNaN(sd) {
				continue
			}
			if i == scene.ColumnRise {
				sd = math.Sqrt(math.Max(sd*sd-math.Pow(development.Scatter*v, 2), 0))
			}
			squares, n = squares+sd*sd, n+1
		}
		e.sd[c] = math.Max(math.Sqrt(squares/n), development.LeastSD)
	}
	e.dof = d.table.DoF / float64(len(d.table.Rows))
	return e
}

// lie returns where a strip developed so long is thought to lie, in the columns
// of toCome.
func (d *design) lie(minutes float64) [len(toCome)]float64 {
	return [...]float64{d.law.At(minutes), d.speed.At(d.known.Family.Development(minutes)), d.fog.At(math.Log(minutes))}
}

// leastRise is the density rise below which a strip says little: its curve
// could hardly be fitted.
const leastRise = 0.15

// serves says whether a strip developed so long would give the density rise:
// enough of it, and the scene within the exposures as the curve may be followed.
func (d *design) serves(minutes float64) bool {
	at := d.lie(minutes)
	lo, hi := d.known.Family.Trial.Exposures().Span()
	point := sensito.LogExposure(at[1])
	return at[0] >= leastRise && point >= lo.Add(-curve.Reach) && point.Add(d.known.RunEnd()) <= hi.Add(scene.Reach)
}

// with returns the design with one more strip.
func (d *design) with(minutes float64) *design {
	at, errors := d.lie(minutes), d.usualErrors()
	row := make([]float64, len(d.table.Rows[0]))
	sd := make([]float64, len(row))
	for i := range row {
		row[i], sd[i] = math.NaN(), math.NaN()
	}
	for c, i := range toCome {
		row[i], sd[i] = at[c], errors.sd[c]
	}
	sd[scene.ColumnRise] = math.Hypot(sd[scene.ColumnRise], development.Scatter*row[scene.ColumnRise])
	more := *d
	more.table = d.table.Plus(minutes, row, sd, errors.dof)
	more.table.Placed = d.table.Placed.Plus(d.table, minutes, at[1])
	more.added++
	return &more
}

// answer returns the answer that the strips of the design give, with its
// interval. The error is that of the law.
//
// Strips only thought of lie on the laws, so the scatter cannot be taken from
// them: they are expected to scatter as those at hand do.
func (d *design) answer() (sensito.Estimate[float64], error) {
	if d.wanted == WantedIndex {
		speed := d.table.Trend(curve.ColumnSpeedPoint, d.table.Rows, d.known.Family.Development, d.degree(d.speed))
		speed.Scatter = d.speed.Scatter
		return d.index(speed), nil
	}
	if d.added == 0 && !d.guessed {
		return d.plainMinutes(d.known.Minutes), nil
	}
	t, y, sd := d.table.Column(scene.ColumnRise, d.table.Rows)
	if d.added == 0 || len(t) == 2 {
		g, err := development.FitGrowth(t, y, sd, "")
		if err != nil {
			return sensito.Estimate[float64]{}, err
		}
		return d.minutes(g)
	}
	model := d.law.Model
	if model == development.TwoTimes {
		model = development.FirstOrder
	}
	g, err := development.GrowthOf(t, y, sd, model)
	if err != nil {
		return sensito.Estimate[float64]{}, err
	}
	g.Scatter = d.scatter()
	return d.minutes(g)
}

// scatter returns how much strips about the law are expected to scatter once
// more are added: two, taken to scatter because no third one checks them, do not.
func (d *design) scatter() float64 {
	if d.law.Model == development.TwoTimes {
		return 1
	}
	return d.law.Scatter
}

// degree returns that of a trend when strips are added: a line at least.
func (d *design) degree(p fit.Trend) int {
	if d.added > 0 && len(fit.Distinct(d.table.Minutes)) > 1 {
		return max(p.Degree(), 1)
	}
	return p.Degree()
}

// minutes returns the development time that a growth gives, with the interval
// that the answer by these strips would have.
func (d *design) minutes(g development.Growth) (sensito.Estimate[float64], error) {
	minutes, held, err := d.held(g)
	if err != nil {
		return sensito.Estimate[float64]{}, err
	}
	// How far the speed points move the time, and how that goes with the errors of
	// the gains, is as with the strips at hand.
	placing := d.placing(g)
	total := held*held + placing*placing
	if before := d.known.Base; before.SD > 0 && d.placed > 0 {
		total += (before.Total*before.Total - before.SD*before.SD - d.placed*d.placed) * held / before.SD * placing / d.placed
	}
	base := d.known.TimeBase(d.table, g, minutes, math.Sqrt(math.Max(total, held*held)), held)
	return d.plainMinutes(base.Estimate(base.Minutes, base.Total, 0, math.Inf(1))), nil
}

// plainMinutes returns a time of the trial as it is today.
func (d *design) plainMinutes(tested sensito.Estimate[sensito.Minutes]) sensito.Estimate[float64] {
	e := d.today.Minutes(&tested)
	return sensito.Estimate[float64]{Value: float64(e.Value), StdErr: float64(e.StdErr), DoF: e.DoF, Log: true, Limits: func(level float64) (float64, float64) {
		low, high := e.Interval(level)
		return float64(low), float64(high)
	}}
}

// placing returns the standard deviation that the speed points of the strips
// give the time, in ln t, by themselves.
func (d *design) placing(g development.Growth) float64 {
	_, sd := d.speedPoint(d.table.Trend(curve.ColumnSpeedPoint, d.table.Rows, d.known.Family.Development, d.degree(d.speed)))
	slopes := d.table.Placed.Slopes[scene.ColumnRise]
	u := fit.Each(d.table.Minutes, d.known.Family.Development)
	slope := fit.LineAt(u, slopes, d.known.Family.Development(d.told))
	return math.Abs(slope) * sd * g.PerAim(float64(d.known.Aim))
}

// held returns the time at which a growth has the density wanted, and the
// standard deviation of its logarithm with the speed points held.
func (d *design) held(g development.Growth) (minutes, lnSD float64, err error) {
	aimed, aim := d.known.Scene, float64(d.known.Aim)
	if aimed.ScanMax == 0 {
		if minutes, err = g.Time(aim); err != nil {
			return 0, 0, err
		}
		t, y, sd := d.table.Column(scene.ColumnRise, d.table.Rows)
		wide := fit.Each(sd, func(v float64) float64 { return g.Scatter * v })
		f, err := fit.FitKinetics(t, y, wide, g.Model == development.FirstOrderInduction)
		return minutes, f.TimeSD(aim) / minutes, err
	}
	held := *d.table
	held.Placed = nil
	change, err := held.Propagate(map[int]float64{scene.ColumnRise: g.Scatter, curve.ColumnFog: d.fog.Scatter}, func(rows [][]float64) ([]float64, error) {
		g, err := held.Grow(scene.ColumnRise, rows, g.Model)
		if err != nil {
			return nil, err
		}
		fog := held.Trend(curve.ColumnFog, rows, math.Log, d.degree(d.fog))
		minutes, _, err := aimed.TimeFor(g.Time, func(minutes float64) float64 { return fog.At(math.Log(minutes)) }, sensito.NetDensity(aim))
		return []float64{math.Log(minutes)}, err
	})
	if err != nil {
		return 0, 0, err
	}
	return math.Exp(change.Values[0]), change.SD(0), nil
}

// index returns the exposure index at the time told, for a trend of the speed
// point.
func (d *design) index(speed fit.Trend) sensito.Estimate[float64] {
	family := d.known.Family
	point, sd := d.speedPoint(speed)
	h := family.SpeedPointAt(point, sd, fit.ScatterDoF(speed.Scatter, speed.DoF, d.table.DoF))
	meter := family.Trial.Exposures().Meter()
	e := d.today.Speed(curve.SpeedEstimate(h, func(h sensito.LogExposure) sensito.Speed { return meter.Index(h, d.known.Scene.ShadowStops) }))
	return sensito.Estimate[float64]{Value: float64(e.Value), StdErr: float64(e.StdErr), DoF: e.DoF, Log: true}
}

// speedPoint returns the speed point at the time told, for a trend, with its
// standard deviation by the strips.
func (d *design) speedPoint(speed fit.Trend) (point, deviation float64) {
	t, y, sd := d.table.Column(curve.ColumnSpeedPoint, d.table.Rows)
	u := fit.Each(t, d.known.Family.Development)
	at := func() float64 { return fit.FitTrend(u, y, sd, speed.Degree()).At(d.known.Family.Development(d.told)) }
	point = at()
	variance := 0.0
	for j := range y { // exact, a trend being linear in the speed points
		y[j] += sd[j]
		variance += math.Pow(speed.Scatter*(at()-point), 2)
		y[j] -= sd[j]
	}
	return point, math.Sqrt(variance)
}

// carriedOut returns the answer after strips that do not lie on the laws but
// about them, as chance will have it: the laws are drawn from their errors, the
// strips to come from theirs, and what all give is worked out anew, scatter and
// all. The error is that of a law which such strips do not give.
func (d *design) carriedOut(r *rand.Rand) (sensito.Estimate[float64], error) {
	tb := *d.table
	at := len(tb.Rows) - d.added // where the strips to come begin
	laws := *d
	laws.table = &development.Table{Minutes: tb.Minutes[:at], Rows: d.blurred(r, 0, at), SD: tb.SD[:at]}
	if t, y, sd := laws.table.Column(scene.ColumnRise, laws.table.Rows); !d.guessed {
		if g, err := development.FitGrowth(t, y, sd, d.law.Model); err == nil {
			laws.law.Kinetics = g.Kinetics
		}
	}
	laws.speed = laws.table.Trend(curve.ColumnSpeedPoint, laws.table.Rows, d.known.Family.Development, d.speed.Degree())

	come := d.blurred(r, at, len(tb.Rows))
	for j, row := range come {
		expected, drawn := d.lie(tb.Minutes[at+j]), laws.lie(tb.Minutes[at+j])
		for c, i := range toCome {
			row[i] += drawn[c] - expected[c]
		}
	}
	tb.Rows = append(slices.Clone(tb.Rows[:at]), come...)
	tb.SD = d.drawnErrors(r)
	out := *d
	out.table = &tb
	if d.wanted == WantedIndex {
		return out.index(tb.Trend(curve.ColumnSpeedPoint, tb.Rows, d.known.Family.Development, -1)), nil
	}
	t, y, sd := tb.Column(scene.ColumnRise, tb.Rows)
	g, err := development.FitGrowth(t, y, sd, "")
	if err != nil {
		return sensito.Estimate[float64]{}, err
	}
	return out.minutes(g)
}

// blurred returns the rows from one to another, each value of toCome moved by
// chance as its error has it.
func (d *design) blurred(r *rand.Rand, from, to int) [][]float64 {
	scatter := [...]float64{d.scatter(), d.speed.Scatter, d.fog.Scatter}
	var out [][]float64
	for j := from; j < to; j++ {
		row := slices.Clone(d.table.Rows[j])
		for c, i := range toCome {
			row[i] += scatter[c] * d.table.SD[j][i] * r.NormFloat64()
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
	at := len(d.table.Rows) - d.added
	dof := d.table.DoF * float64(at) / float64(len(d.table.Rows)) // of the strips at hand
	truth := dof / chiSquared(r, dof)                             // variance of a reading over that found
	pooled := math.Sqrt((dof + truth*chiSquared(r, d.table.DoF-dof)) / d.table.DoF)
	if math.IsInf(dof, 1) {
		pooled = 1
	}
	out := make([][]float64, len(d.table.Rows))
	for j := range out {
		lender := j
		if j >= at {
			lender = r.IntN(at)
		}
		out[j] = slices.Clone(d.table.SD[j])
		for _, i := range toCome {
			lent := d.table.SD[lender][i]
			strength := 0.0
			if i == scene.ColumnRise {
				strength = development.Scatter
			}
			own := math.Sqrt(math.Max(lent*lent-math.Pow(strength*d.table.Rows[lender][i], 2), 0))
			out[j][i] = math.Hypot(pooled*own, strength*d.table.Rows[j][i])
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
