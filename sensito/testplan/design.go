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
// others give and errs as the others do; the interval of the answer is then worked
// out by the code that works it out for strips.
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

	added int // of the strips in table that are only thought of

	// Strips thought of lie on the law, by which all would seem to scatter less. How
	// they scatter is judged with these strips moved off it, as chance might.
	off    []float64          // by how much, in the density rise of each in table
	judged development.Growth // the law of strips so moved
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
			judged: answer.Growth, told: float64(answer.Minutes.Value)}
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
	d.known.Aim = s.Wanted(sensito.Density(d.table.Trend(curve.ColumnFog, d.table.Rows, development.Fogging, -1).At(development.Fogging(slices.Max(t)))))
	if steady := d.known.UnderControl(d.table); steady != nil {
		return nil, steady
	}
	if _, lawless := development.FitGrowth(t, y, sd, development.Growth{}); lawless == nil {
		return nil, err // there is a law, and it says that no time serves
	}
	d.law = guess(t, y, float64(d.known.Aim))
	d.judged = d.law
	if d.told, err = d.law.Time(float64(d.known.Aim)); err != nil {
		return nil, err
	}
	d.follow()
	return d, nil
}

// follow takes speed point and fog from the strips.
func (d *design) follow() {
	d.speed = d.speeds()
	d.fog = d.table.Trend(curve.ColumnFog, d.table.Rows, development.Fogging, -1)
	d.off = make([]float64, len(d.table.Rows))
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

// lie returns where a strip developed so long is thought to lie, in the columns
// of toCome.
func (d *design) lie(minutes float64) [len(toCome)]float64 {
	return [...]float64{d.law.At(minutes), d.speed.At(d.known.Family.Development(minutes)), d.fog.At(development.Fogging(minutes))}
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

// answer returns the answer that the strips of the design give, with its
// interval. The error is that of the law.
func (d *design) answer() (sensito.Estimate[float64], error) {
	if d.wanted == WantedIndex {
		return d.index(d.speeds()), nil
	}
	if d.added == 0 && !d.guessed {
		return d.plainMinutes(d.known.Minutes), nil
	}
	g, err := d.table.Grow(scene.ColumnRise, d.table.Rows, d.judged)
	if err != nil {
		return sensito.Estimate[float64]{}, err
	}
	return d.minutes(g)
}

// speeds returns the trend of the speed points. Strips thought of lie on it; in
// truth they scatter less about it than their errors say, most of which they share.
func (d *design) speeds() fit.Trend {
	return d.table.PlaceTrend(curve.ColumnSpeedPoint, d.table.Rows, d.known.Family.Development)
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
	scan := d.known.Scene.ScanMax != 0 // which the fog has a part in
	lnTime := func(tb *development.Table, rows [][]float64) (float64, error) {
		g, err := tb.Grow(scene.ColumnRise, rows, g)
		if err != nil {
			return math.NaN(), err
		}
		var fog fit.Trend
		if scan {
			fog = tb.Trend(curve.ColumnFog, rows, development.Fogging, d.degree(d.fog))
		}
		minutes, _, err := d.known.Scene.TimeFor(g.Time, func(minutes float64) float64 { return fog.At(development.Fogging(minutes)) }, d.known.Aim)
		return math.Log(minutes), err
	}
	ln, err := lnTime(d.table, d.table.Rows)
	if err != nil {
		return sensito.Estimate[float64]{}, err
	}
	byStrip := func(tb *development.Table, column int) []float64 {
		return tb.ByStrip(column, func(rows [][]float64) float64 {
			ln, err := lnTime(tb, rows)
			if err != nil {
				return math.NaN()
			}
			return ln
		})
	}
	var by [len(toCome)][]float64
	for c, i := range toCome {
		if i != curve.ColumnFog || scan {
			by[c] = byStrip(d.table, i)
		}
	}
	// What is known beforehand only; see Table.Propagate.
	begun := fit.Derived{Values: []float64{ln}}
	begun.Moves, err = d.table.Beforehand(begun.Values, func(rows [][]float64) ([]float64, error) {
		ln, err := lnTime(d.table, rows)
		return []float64{ln}, err
	})
	if err != nil {
		return sensito.Estimate[float64]{}, err
	}
	law := begun.SD(0)
	scatter := [...]float64{g.Scatter, d.speeds().Scatter, d.fog.Scatter}
	total := math.Hypot(law, d.deviation(by, scatter))
	by[1] = nil // the speed points held, and what temperature does
	if d.table.Warp != nil {
		held := *d.table
		held.Minutes, held.Warp = d.table.Warped(g), nil
		by[0] = byStrip(&held, scene.ColumnRise)
	}
	base := d.known.TimeBase(d.table, g, math.Exp(ln), total, math.Hypot(law, d.deviation(by, scatter)))
	return d.plainMinutes(base.Estimate(base.Minutes, base.Total, 0, math.Inf(1))), nil
}

// deviation returns the standard deviation of what the values of the columns of
// toCome move by so much, by strip, nil for a column that does not; the error of each
// column is multiplied by its scatter.
func (d *design) deviation(by [len(toCome)][]float64, scatter [len(toCome)]float64) float64 {
	variance := 0.0
	for _, move := range d.table.Moves {
		along := 0.0
		for c, i := range toCome {
			wide := scatter[c]
			if move.Of == development.OfPictures { // as Table.Propagate
				wide = 1
			}
			if by[c] == nil {
				continue
			}
			for k, row := range move.By {
				if j := move.First + k; d.table.Gives(j, i) {
					along += wide * by[c][j] * row[i]
				}
			}
		}
		variance += along * along
	}
	return math.Sqrt(variance)
}

// plainMinutes returns a time of the trial as it is today.
func (d *design) plainMinutes(tested sensito.Estimate[sensito.Minutes]) sensito.Estimate[float64] {
	e := d.today.Minutes(&tested)
	return sensito.Estimate[float64]{Value: float64(e.Value), StdErr: float64(e.StdErr), DoF: e.DoF, Log: true, Limits: func(level float64) (float64, float64) {
		low, high := e.Interval(level)
		return float64(low), float64(high)
	}}
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
func (d *design) speedPoint(speed fit.Trend) (point, sd float64) {
	family := d.known.Family
	at := func(rows [][]float64) float64 {
		return d.table.TrendLike(curve.ColumnSpeedPoint, rows, speed).At(family.Development(d.told))
	}
	by := [len(toCome)][]float64{1: d.table.ByStrip(curve.ColumnSpeedPoint, at)}
	u := family.Development(d.told)
	bend := speed.Bending(1).At(u) - speed.At(u)
	return speed.At(u), math.Hypot(bend, d.deviation(by, [len(toCome)]float64{1: speed.Scatter}))
}

// formChance is the part by which what strips share of their errors comes out other
// than expected, as it depends on how well the curves of the strips to come have one
// form: of blind films with two strips more, that of the speed points was 0.94 to 1.20
// times what was expected of it in eight of ten.
const formChance = 0.10

// carriedOut returns the answer after strips that do not lie on the laws but
// about them, as chance will have it: how strips scatter and the laws are drawn from
// their errors, the strips to come from theirs, and what all give is worked out
// anew, scatter and all. What all strips err by together leaves them as they are to
// each other. The error is that of a law which such strips do not give.
func (d *design) carriedOut(r *rand.Rand) (sensito.Estimate[float64], error) {
	tb := *d.table
	tested := len(tb.Rows) - d.added
	rows := d.blurred(r, d.law.DrawnScatter(r.Float64()))
	laws := *d
	laws.table = &development.Table{Minutes: tb.Minutes[:tested], Rows: rows[:tested], SD: tb.SD[:tested]}
	if tb.Warp != nil {
		laws.table.Warp = tb.Warp[:tested]
	}
	if g, err := laws.table.Grow(scene.ColumnRise, laws.table.Rows, d.law); err == nil {
		laws.law.Kinetics = g.Kinetics
	}
	laws.speed = laws.speeds().Bending(r.NormFloat64())

	tb.Rows = append(slices.Clone(tb.Rows[:tested]), rows[tested:]...)
	for j := tested; j < len(tb.Rows); j++ {
		expected, drawn := d.lie(tb.Minutes[j]), laws.lie(tb.Minutes[j])
		for c, i := range toCome {
			tb.Rows[j][i] += drawn[c] - expected[c]
		}
	}
	read, form := d.readingsOff(r), math.Exp(formChance*r.NormFloat64())
	tb.Moves = nil
	for _, move := range d.table.Moves {
		by := read
		switch move.Of {
		case development.OfShape:
			by *= form
		case development.OfWedge, development.OfDensitometer, development.OfPictures, development.OfProcess:
			by = 1
		}
		tb.Moves = append(tb.Moves, move.Times(by))
	}
	tb.SD = deviations(&tb)
	if tb.Placed != nil {
		tb.Place(*tb.Placed)
	}
	out := *d
	out.table = &tb
	if d.wanted == WantedIndex {
		return out.index(out.speeds()), nil
	}
	g, err := tb.Grow(scene.ColumnRise, tb.Rows, development.Growth{})
	if err != nil {
		return sensito.Estimate[float64]{}, err
	}
	return out.minutes(g)
}

// blurred returns the rows of all strips, each moved by chance as it errs by itself,
// with such a scatter of the density rises.
func (d *design) blurred(r *rand.Rand, scatter float64) [][]float64 {
	wide := [...]float64{scatter, d.speed.Scatter, d.fog.Scatter}
	var out [][]float64
	for _, row := range d.table.Rows {
		out = append(out, slices.Clone(row))
	}
	for _, move := range d.table.Moves {
		if shared(move.Of) {
			continue
		}
		z := r.NormFloat64()
		for c, i := range toCome {
			out[move.First][i] += wide[c] * z * move.At(move.First, i)
		}
	}
	return out
}

// readingsOff returns by how much the scatter of the readings will be found to
// differ, by chance, as more are read.
func (d *design) readingsOff(r *rand.Rand) float64 {
	n := float64(len(d.table.Rows))
	share := float64(d.added) / n // of the readings that are to come
	dof := d.table.DoF
	if math.IsInf(dof, 1) {
		return 1
	}
	now, later := (1-share)*dof, share*dof
	truth := now / chiSquared(r.NormFloat64(), now) // variance of a reading over that found
	return math.Sqrt((now + truth*chiSquared(r.NormFloat64(), later)) / dof)
}

// chiSquared returns chi squared with so many degrees of freedom where a normal
// deviate has z, by the cube root (E. B. Wilson and M. M. Hilferty, Proceedings of
// the National Academy of Sciences 17, 684, 1931, from memory).
func chiSquared(z, dof float64) float64 {
	if dof <= 0 || math.IsInf(dof, 1) {
		return math.Max(dof, 0)
	}
	v := 2 / (9 * dof)
	return dof * math.Pow(math.Max(1-v+math.Sqrt(v)*z, 0.01), 3)
}
