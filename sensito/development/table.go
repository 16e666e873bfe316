package development

import (
	"math"
	"slices"

	"sensito/fit"
	"sensito/sensito"
	"sensito/sensito/curve"
)

// Table holds quantities of several strips, a row for each, with their errors,
// so that what is computed across strips keeps every correlation. A NaN stands
// for a quantity that a strip does not give.
type Table struct {
	Minutes []float64   // at the temperature of the family; see Measured.Minutes
	Rows    [][]float64 // the quantities of each strip
	SD      [][]float64 // their standard deviations, without those of a calibration of all strips
	Moves   []Direction // of the errors of the strips
	DoF     float64     // of all strips together

	// Warp is how far the temperature of each strip is from the family's, in tens
	// of degrees (fit.TensOfDegrees); nil when all were developed at it.
	Warp []float64

	// Placed says how a column follows the speed point that all strips give
	// together, where it is read at places that count from it; nil without.
	Placed *PlacedColumns

	readAlike, asStated bool // by one calibration of pictures; their errors are as the trial states them

	stated sensito.Repeating // of the process
	drifts []drift           // of columns whose strips of one time do not tell it

	// apart names the condition in which a strip differs from the family, which
	// leaves it out of every column; "" for those that belong.
	apart []sensito.Condition
}

// NewTable returns the table of the quantities that per gives for each strip;
// strips for which it fails are left out.
func NewTable(strips []*curve.Measured, per func(*curve.Measured) (fit.Derived, error)) *Table {
	tb := &Table{}
	if len(strips) > 0 {
		tb.stated = strips[0].Strip.Trial().Repeating()
	}
	var all []fit.Derived
	var with []*curve.Measured
	pool := NewPool(strips)
	tb.readAlike = readAlike(strips)
	tb.asStated = !slices.ContainsFunc(strips, func(m *curve.Measured) bool { return !m.Fit.PicturesAsStated() })
	for _, m := range strips {
		d, err := per(m)
		if err != nil {
			continue
		}
		d = pool.Widened(m, d)
		tb.Minutes = append(tb.Minutes, float64(m.Minutes()))
		tb.apart = append(tb.apart, m.Apart)
		tb.Warp = append(tb.Warp, m.Warp)
		tb.Rows = append(tb.Rows, d.Values)
		if w := m.Fit.Together; w == nil || !slices.ContainsFunc(with, func(m *curve.Measured) bool { return m.Fit.Together == w }) {
			tb.DoF += m.Fit.DoF // of strips fitted together once
		}
		own := fit.Derived{Values: d.Values}
		for k, move := range d.Moves {
			if tb.Scatters(sourceOf(m.Fit, k)) {
				own.Moves = append(own.Moves, move)
			}
		}
		sd := make([]float64, len(d.Values))
		for i := range sd {
			sd[i] = own.SD(i)
		}
		tb.SD = append(tb.SD, sd)
		all, with = append(all, d), append(with, m)
	}
	if !slices.ContainsFunc(tb.Warp, func(u float64) bool { return u != 0 }) {
		tb.Warp = nil
	}
	if tb.OneTime() {
		t := tb.Minutes[0]
		tb.drifts = []drift{{curve.ColumnSpeedPoint, pointDrift, pointDriftSD}, {curve.ColumnFog, fogDrift / t, fogDriftSD / t}}
	}
	var directions Directions
	for j, d := range all {
		back := make([]float64, len(d.Moves)*len(d.Values))
		for k, at := range directions.Of(with[j], len(d.Moves)) {
			for at >= len(tb.Moves) {
				tb.Moves = append(tb.Moves, Direction{First: j})
			}
			to := &tb.Moves[at]
			to.Of = sourceOf(with[j].Fit, k)
			for to.First+len(to.By) < j { // strips of another development or bath may lie between
				to.By = append(to.By, make([]float64, len(d.Values)))
			}
			to.By, back = append(to.By, back[:len(d.Values):len(d.Values)]), back[len(d.Values):]
			for i, v := range d.Moves[k] {
				if !math.IsNaN(v) {
					to.By[j-to.First][i] = v
				}
			}
		}
	}
	return tb
}

// readAlike says whether strips were read by one calibration. Then its error neither makes
// some of them surer than others nor hides how much they scatter.
func readAlike(strips []*curve.Measured) bool {
	by := func(m *curve.Measured) string {
		if c := m.Strip.Calibration(); c != nil {
			return c.Name
		}
		return ""
	}
	return !slices.ContainsFunc(strips, func(m *curve.Measured) bool { return by(m) == "" || by(m) != by(strips[0]) })
}

// Scatters says whether an error of a source is part of SD, by which strips weigh and
// scatter about their laws.
func (tb *Table) Scatters(of Source) bool { return of != OfPictures || !tb.readAlike }

// Pictured returns how values that Propagate returned move along each direction of the
// calibrations of the trial, in their order; nil where the strips judge these, or none were
// read in pictures.
func (tb *Table) Pictured(d fit.Derived) [][]float64 {
	var out [][]float64
	for k, move := range tb.Moves {
		if move.Of == OfPictures && tb.asStated {
			out = append(out, d.Moves[k])
		}
	}
	return out
}

// comparedShare is the part of the scatter of development that counts for a strip
// that is compared with the law of the others at its own contrast: all but the
// law's own.
const comparedShare = 0.7

// Unsteady adds to quantity i of every strip an error of its own, a share of its
// value, beside those of its readings; what it does to quantity i it does to
// those with it.
func (tb *Table) Unsteady(i int, share float64, with ...int) {
	for j, row := range tb.Rows {
		by, moved := make([]float64, len(row)), false
		for _, i := range append([]int{i}, with...) {
			v := share * row[i]
			if tb.apart != nil && tb.apart[j] != "" {
				v *= comparedShare
			}
			if math.IsNaN(v) {
				continue
			}
			tb.SD[j][i] = math.Hypot(tb.SD[j][i], v)
			by[i], moved = v, true
		}
		if moved {
			tb.Moves = append(tb.Moves, Direction{OfProcess, j, [][]float64{by}})
		}
	}
}

// PlacedColumns are read at fixed distances from the speed point that the law of
// the family gives each strip, and not from the strip's own: what a strip's toe
// errs by is mostly its own, and a longer scene would carry it into the time.
type PlacedColumns struct {
	Family *Family
	Slopes map[int][]float64 // by column: how it changes as the speed point of each strip moves
	Point  []float64         // the speed point by the law, for each strip

	law fit.Trend // of the speed points
	u   []float64 // the development of each strip
}

// Place lets columns of the table follow its speed points.
func (tb *Table) Place(p PlacedColumns) {
	p.law = tb.PlaceTrend(curve.ColumnSpeedPoint, tb.Rows, p.Family.Development)
	p.u = fit.Each(tb.Minutes, p.Family.Development)
	tb.Placed = &p
}

// lawOf returns the law of the speed points in rows.
func (p *PlacedColumns) lawOf(tb *Table, rows [][]float64) fit.Trend {
	return tb.TrendLike(curve.ColumnSpeedPoint, rows, p.law)
}

// moved returns how far each strip's speed point lies, by the law of the speed
// points in rows, from where the columns were read.
func (p *PlacedColumns) moved(tb *Table, rows [][]float64) []float64 {
	law := p.lawOf(tb, rows)
	out := make([]float64, len(tb.Rows))
	for j, point := range p.Point {
		out[j] = law.At(p.u[j]) - point
	}
	return out
}

// placed returns the Slopes of a column, nil for one that is not placed.
func (tb *Table) placed(i int) []float64 {
	if tb.Placed == nil {
		return nil
	}
	return tb.Placed.Slopes[i]
}

// Column returns the times, values and standard deviations of quantity i for
// the strips that give it, taking the values from rows.
func (tb *Table) Column(i int, rows [][]float64) (t, y, sd []float64) {
	y = tb.values(i, rows)
	t, sd = make([]float64, 0, len(y)), make([]float64, 0, len(y))
	for j := range tb.Rows {
		if tb.Gives(j, i) {
			t = append(t, tb.Minutes[j])
			sd = append(sd, math.Max(tb.SD[j][i], LeastSD))
		}
	}
	return t, y, sd
}

// values returns the values of Column.
func (tb *Table) values(i int, rows [][]float64) []float64 {
	slopes := tb.placed(i)
	var moved []float64
	if slopes != nil {
		moved = tb.Placed.moved(tb, rows)
	}
	y := make([]float64, 0, len(tb.Rows))
	for j, row := range rows[:len(tb.Rows)] {
		if !tb.Gives(j, i) {
			continue
		}
		v := row[i]
		if slopes != nil {
			v += slopes[j] * moved[j]
		}
		y = append(y, v)
	}
	return y
}

// Gives says whether strip j gives quantity i to the family.
func (tb *Table) Gives(j, i int) bool {
	return (tb.apart == nil || tb.apart[j] == "") && !math.IsNaN(tb.Rows[j][i]) && !math.IsNaN(tb.SD[j][i])
}

// Grow fits the law of growth to column i, with the values taken from rows. Of
// strips developed at several temperatures the law is joined with that of the
// rate against temperature. Like and the error are as for FitGrowth.
func (tb *Table) Grow(i int, rows [][]float64, like Growth) (Growth, error) {
	like.before, like.stated = before(rows, len(tb.Rows)), tb.stated
	if tb.grown(i, rows, &like) {
		return like, nil
	}
	t, y, sd := tb.Column(i, rows)
	var u []float64
	for j, w := range tb.Warp {
		if tb.Gives(j, i) {
			u = append(u, w)
		}
	}
	var g Growth
	var err error
	if len(fit.Distinct(u)) < 2 {
		g, err = FitGrowth(t, y, sd, like)
	} else {
		g, err = fitWarpedGrowth(t, y, sd, u, like, 0)
	}
	return tb.note(i, rows, y, g), err
}

// LeastSD stands for the error of a value that is exact by definition, such as
// the density of the tone on the speed point.
const LeastSD = 1e-6

// Propagate returns the values of g with how they move along every direction
// of the strips' errors, and with what is known beforehand only (see Beforehand).
// inflate multiplies the errors of single columns.
func (tb *Table) Propagate(inflate map[int]float64, g func(rows [][]float64) ([]float64, error)) (fit.Derived, error) {
	if len(tb.Rows) == 0 {
		return fit.Derived{}, sensito.ErrNoUncertainty
	}
	rows := slices.Clone(tb.Rows)
	values, err := g(rows)
	if err != nil {
		return fit.Derived{}, err
	}
	out := fit.Derived{Values: values}
	wide, exact := slices.Repeat([]float64{1}, len(tb.Rows[0])), slices.Repeat([]float64{1}, len(tb.Rows[0]))
	for i, by := range inflate {
		wide[i] = by
	}
	moved := make([][]float64, len(tb.Rows))
	for j := range moved {
		moved[j] = make([]float64, len(wide))
	}
	inflated := wide
	for _, d := range tb.Moves {
		most := 0.0
		if wide = inflated; d.Of == OfPictures { // strips that repeat better say nothing of it
			wide = exact
		}
		for _, row := range d.By {
			for i, v := range row {
				most = math.Max(most, wide[i]*math.Abs(v))
			}
		}
		move, err := fit.Along(values, most, func(by float64) ([]float64, error) {
			for k, row := range d.By {
				j := d.First + k
				for i, v := range row {
					moved[j][i] = tb.Rows[j][i] + by*wide[i]*v
				}
				rows[j] = moved[j]
			}
			return g(rows)
		})
		if err != nil {
			return fit.Derived{}, err
		}
		out.Moves = append(out.Moves, move)
		copy(rows[d.First:d.First+len(d.By)], tb.Rows[d.First:])
	}
	before, err := tb.Beforehand(values, g)
	out.Moves = append(out.Moves, before...)
	return out, err
}

// Beforehand returns how the values of g move with each that is known beforehand only,
// by its standard deviation: how development begins, how the law of the speed points
// bends, and where all strips have one time at which rate it goes on and what changes
// with it. For that the rows have one more than the table.
func (tb *Table) Beforehand(values []float64, g func(rows [][]float64) ([]float64, error)) ([][]float64, error) {
	places := []int{beginsLater, bendsMore}
	if tb.OneTime() {
		places[1] = runsFaster
		for k := range tb.drifts {
			places = append(places, driftPlaces+k)
		}
	}
	return beforehand(tb.Rows, places, values, g)
}

// OneTime says whether all strips were developed for one time.
func (tb *Table) OneTime() bool { return len(fit.Distinct(tb.Minutes)) == 1 }

// ByStrip returns the derivatives of f by the value of each strip in a column.
func (tb *Table) ByStrip(column int, f func(rows [][]float64) float64) []float64 {
	rows := make([][]float64, len(tb.Rows))
	copy(rows, tb.Rows)
	by, here := make([]float64, len(rows)), f(tb.Rows)
	for j, row := range tb.Rows {
		h := fit.VaryBy * math.Max(tb.SD[j][column], LeastSD)
		at := func(v float64) float64 {
			rows[j] = append([]float64(nil), row...)
			rows[j][column] = v
			return f(rows)
		}
		up, down := at(row[column]+h), at(row[column]-h)
		switch { // at the edge of what can be reached the other side alone counts
		case math.IsNaN(up):
			by[j] = (here - down) / h
		case math.IsNaN(down):
			by[j] = (up - here) / h
		default:
			by[j] = (up - down) / (2 * h)
		}
		rows[j] = row
	}
	return by
}

// Trend fits a trend to a column, against a measure of the development time;
// see fit.FitTrend.
func (tb *Table) Trend(i int, rows [][]float64, measure func(minutes float64) float64, degree int) fit.Trend {
	t, y, sd := tb.Column(i, rows)
	u := fit.Each(t, measure)
	if len(fit.Distinct(u)) > 1 {
		return fit.FitTrend(u, y, sd, degree)
	}
	p := fit.FitTrend(u, y, sd, 0)
	if k := driftOf(tb.drifts, i); k >= 0 {
		p = p.Sloped(tb.drifts[k].slope)
	}
	return p
}

// PlaceTrend fits a trend to a column of log exposures that give a density, such as the
// speed points, against a measure of the development that is the logarithm of contrast or
// near it. It bends as is known beforehand.
func (tb *Table) PlaceTrend(i int, rows [][]float64, measure func(minutes float64) float64) fit.Trend {
	t, y, sd := tb.Column(i, rows)
	u := fit.Each(t, measure)
	if len(fit.Distinct(u)) < 2 {
		return tb.Trend(i, rows, measure, 0)
	}
	return fit.TrendBent(u, y, sd, pointBend, pointBendSD, func(by []float64) float64 { return tb.varianceOf(i, by) }).Bending(bending(rows, len(tb.Rows)))
}

// varianceOf returns that of the sum of a column, the value of each strip that gives it
// times a factor, 0 where the table holds no directions.
func (tb *Table) varianceOf(i int, by []float64) float64 {
	var factors []float64
	for j, k := 0, 0; j < len(tb.Rows); j++ {
		factors = append(factors, 0)
		if tb.Gives(j, i) {
			factors[j] = by[k]
			k++
		}
	}
	variance := 0.0
	for _, move := range tb.Moves {
		if !tb.Scatters(move.Of) {
			continue
		}
		sum := 0.0
		for k, row := range move.By {
			if f := factors[move.First+k]; f != 0 {
				sum += f * row[i]
			}
		}
		variance += sum * sum
	}
	return variance
}

// bending returns by how many standard deviations speed points bend more than expected.
func bending(rows [][]float64, strips int) float64 {
	if before := before(rows, strips); len(before) > bendsMore {
		return before[bendsMore]
	}
	return 0
}

// TrendLike fits a trend of this table's column i to other values of it.
func (tb *Table) TrendLike(i int, rows [][]float64, like fit.Trend) fit.Trend {
	var p fit.Trend
	if like.Values() == len(tb.Rows) && tb.placed(i) == nil { // other strips have the values of before
		from, to := changed(tb.Rows, rows)
		y := make([]float64, 0, to-from)
		for _, row := range rows[from:to] {
			y = append(y, row[i])
		}
		p = like.With(from, y)
	} else {
		p = like.Of(tb.values(i, rows))
	}
	p = p.Bending(bending(rows, len(tb.Rows)))
	if before := before(rows, len(tb.Rows)); len(before) > driftPlaces {
		if k := driftOf(tb.drifts, i); k >= 0 {
			p.Coef[1] += before[driftPlaces+k] * tb.drifts[k].sd
		}
	}
	return p
}

// Shares returns the standard deviation of value i by where it comes from, for values
// that Propagate returned.
func (tb *Table) Shares(d fit.Derived, i int) (sd [Sources]float64) {
	for k, move := range d.Moves {
		of := OfLaw
		if k < len(tb.Moves) {
			of = tb.Moves[k].Of
		}
		sd[of] = math.Hypot(sd[of], move[i])
	}
	return sd
}
