package sensito

import (
	"math"
	"slices"

	"sensito/fit"
)

// table holds quantities of several strips, a row for each, with their errors,
// so that what is computed across strips keeps every correlation. A NaN stands
// for a quantity that a strip does not give.
type table struct {
	minutes []float64 // at the temperature of the family; see Measured.Minutes
	rows    [][]float64
	sd      [][]float64
	moves   [][]float64 // of all values row by row, along each direction of each strip's error
	dof     float64     // of all strips together

	// warp is how far the temperature of each strip is from the family's, in tens
	// of degrees (fit.TensOfDegrees); nil when all were developed at it.
	warp []float64

	// placed says how a column follows the speed point that all strips give
	// together, where it is read at places that count from it; nil without.
	placed *placedColumns

	// apart names the condition in which a strip differs from the family, which
	// leaves it out of every column; "" for those that belong.
	apart []condition
}

// newTable returns the table of the quantities that per gives for each strip;
// strips for which it fails are left out.
func newTable(strips []*Measured, per func(*Measured) (derived, error)) *table {
	tb := &table{}
	var all []derived
	pool := newPool(strips)
	for _, m := range strips {
		d, err := per(m)
		if err != nil {
			continue
		}
		d = d.widened(pool.factor(m))
		tb.minutes = append(tb.minutes, float64(m.Minutes()))
		tb.apart = append(tb.apart, m.apart)
		tb.warp = append(tb.warp, m.warp)
		tb.rows = append(tb.rows, d.values)
		tb.dof += m.Fit.DoF
		sd := make([]float64, len(d.values))
		for i := range sd {
			sd[i] = d.sd(i)
		}
		tb.sd = append(tb.sd, sd)
		all = append(all, d)
	}
	if !slices.ContainsFunc(tb.warp, func(u float64) bool { return u != 0 }) {
		tb.warp = nil
	}
	for j, d := range all {
		width := len(d.values)
		for _, move := range d.moves {
			direction := make([]float64, width*len(all))
			for i, v := range move {
				if !math.IsNaN(v) {
					direction[j*width+i] = v
				}
			}
			tb.moves = append(tb.moves, direction)
		}
	}
	return tb
}

// comparedShare is the part of the scatter of development that counts for a strip
// that is compared with the law of the others at its own contrast: all but the
// law's own.
const comparedShare = 0.7

// unsteady adds to quantity i of every strip an error of its own, a share of its
// value, beside those of its readings; what it does to quantity i it does to
// those with it.
func (tb *table) unsteady(i int, share float64, with ...int) {
	for j, row := range tb.rows {
		direction, moved := make([]float64, len(row)*len(tb.rows)), false
		for _, i := range append([]int{i}, with...) {
			v := share * row[i]
			if tb.apart != nil && tb.apart[j] != "" {
				v *= comparedShare
			}
			if math.IsNaN(v) {
				continue
			}
			tb.sd[j][i] = math.Hypot(tb.sd[j][i], v)
			direction[j*len(row)+i], moved = v, true
		}
		if moved {
			tb.moves = append(tb.moves, direction)
		}
	}
}

// pool is the scatter of the readings of several strips together. One
// densitometer read them all, and strips weighted by their own scatter would be
// weighted by chance.
type pool struct{ squares, dof float64 }

func newPool(strips []*Measured) pool {
	var p pool
	for _, m := range strips {
		p.squares += math.Pow(float64(m.Fit.ResidualSD), 2) * m.Fit.residualDoF
		p.dof += m.Fit.residualDoF
	}
	return p
}

// factor returns how much larger the pooled scatter is than the strip's own.
func (p pool) factor(m *Measured) float64 {
	own := float64(m.Fit.ResidualSD)
	if m.Fit.Noise == fit.NoiseGiven || own == 0 || p.dof == 0 {
		return 1
	}
	return math.Sqrt(p.squares/p.dof) / own
}

// placedColumns are read at fixed distances from the speed point that the law of
// the family gives each strip, and not from the strip's own: what a strip's toe
// errs by is mostly its own, and a longer scene would carry it into the time.
type placedColumns struct {
	family *Family
	slopes map[int][]float64 // by column: how it changes as the speed point of each strip moves
	point  []float64         // the speed point by the law, for each strip
}

// moved returns how far each strip's speed point lies, by the law of the speed
// points in rows, from where column i was read.
func (p *placedColumns) moved(tb *table, rows [][]float64) []float64 {
	f := p.family
	law := tb.trend(colSpeedPoint, rows, f.development, f.speed.degree())
	out := make([]float64, len(rows))
	for j := range rows {
		out[j] = law.at(f.development(tb.minutes[j])) - p.point[j]
	}
	return out
}

// plus returns the columns with another strip, developed for minutes, whose
// speed point is as the law has it.
func (p *placedColumns) plus(tb *table, minutes, point float64) *placedColumns {
	if p == nil {
		return nil
	}
	out := &placedColumns{family: p.family, point: append(slices.Clone(p.point), point), slopes: map[int][]float64{}}
	u := each(tb.minutes, p.family.development)
	for i, slopes := range p.slopes {
		out.slopes[i] = append(slices.Clone(slopes), straight(u, slopes, p.family.development(minutes)))
	}
	return out
}

// straight returns what a straight line through values y at u has at a place.
func straight(u, y []float64, at float64) float64 {
	ones := make([]float64, len(y))
	for j := range ones {
		ones[j] = 1
	}
	return fitTrend(u, y, ones, min(1, len(distinct(u))-1)).at(at)
}

// column returns the times, values and standard deviations of quantity i for
// the strips that give it, taking the values from rows.
func (tb *table) column(i int, rows [][]float64) (t, y, sd []float64) {
	var slopes, moved []float64
	if tb.placed != nil && tb.placed.slopes[i] != nil {
		slopes, moved = tb.placed.slopes[i], tb.placed.moved(tb, rows)
	}
	for j, row := range rows {
		if !tb.gives(j, i) {
			continue
		}
		v := row[i]
		if slopes != nil {
			v += slopes[j] * moved[j]
		}
		t = append(t, tb.minutes[j])
		y = append(y, v)
		sd = append(sd, math.Max(tb.sd[j][i], leastSD))
	}
	return t, y, sd
}

// gives says whether strip j gives quantity i to the family.
func (tb *table) gives(j, i int) bool {
	return (tb.apart == nil || tb.apart[j] == "") && !math.IsNaN(tb.rows[j][i]) && !math.IsNaN(tb.sd[j][i])
}

// grow fits the law of growth to column i, with the values taken from rows. Of
// strips developed at several temperatures the law is joined with that of the
// rate against temperature.
func (tb *table) grow(i int, rows [][]float64, model growthModel) (growth, error) {
	t, y, sd := tb.column(i, rows)
	var u []float64
	for j, w := range tb.warp {
		if tb.gives(j, i) {
			u = append(u, w)
		}
	}
	if len(distinct(u)) < 2 {
		return fitGrowth(t, y, sd, model)
	}
	return fitWarpedGrowth(t, y, sd, u, model, 0)
}

// leastSD stands for the error of a value that is exact by definition, such as
// the density of the tone on the speed point.
const leastSD = 1e-6

// propagate returns the values of g with how they move along every direction
// of the strips' errors. inflate multiplies the errors of single columns.
func (tb *table) propagate(inflate map[int]float64, g func(rows [][]float64) ([]float64, error)) (derived, error) {
	if len(tb.rows) == 0 {
		return derived{}, ErrNoUncertainty
	}
	width := len(tb.rows[0])
	center := make([]float64, 0, width*len(tb.rows))
	for _, row := range tb.rows {
		center = append(center, row...)
	}
	directions := make([][]float64, len(tb.moves))
	for k, move := range tb.moves {
		directions[k] = append([]float64(nil), move...)
		for i, by := range inflate {
			for j := range tb.rows {
				directions[k][j*width+i] *= by
			}
		}
	}
	rows := make([][]float64, len(tb.rows))
	split := func(p []float64) [][]float64 {
		for j := range rows {
			rows[j] = p[j*width : (j+1)*width]
		}
		return rows
	}
	values, err := g(split(center))
	if err != nil {
		return derived{}, err
	}
	return differences(center, values, directions, func(p []float64) ([]float64, error) { return g(split(p)) })
}

// byStrip returns the derivatives of f by the value of each strip in a column.
func (tb *table) byStrip(column int, f func(rows [][]float64) float64) []float64 {
	rows := make([][]float64, len(tb.rows))
	copy(rows, tb.rows)
	by, here := make([]float64, len(rows)), f(tb.rows)
	for j, row := range tb.rows {
		h := varyBy * math.Max(tb.sd[j][column], leastSD)
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

// trend fits a trend to a column, against a measure of the development time;
// see fitTrend.
func (tb *table) trend(i int, rows [][]float64, measure func(minutes float64) float64, degree int) trend {
	t, y, sd := tb.column(i, rows)
	return fitTrend(each(t, measure), y, sd, degree)
}

// law returns the law by which a column grows, or "" when it follows a trend
// instead: densities near the base, that time hardly changes.
func (tb *table) law(i int) growthModel {
	t, y, sd := tb.column(i, tb.rows)
	if len(distinct(t)) < 2 {
		return ""
	}
	g, err := fitGrowth(t, y, sd, "")
	if err != nil {
		return ""
	}
	return g.model
}

// along returns a column at a development time, NaN when too few strips have it.
func (tb *table) along(i int, rows [][]float64, law growthModel, minutes float64) float64 {
	t, y, sd := tb.column(i, rows)
	switch {
	case len(t) < len(rows):
		return math.NaN()
	case law == "":
		return fitTrend(logs(t), y, sd, 1).at(math.Log(minutes))
	}
	g, err := fitGrowth(t, y, sd, law)
	if err != nil {
		return math.NaN()
	}
	return g.At(minutes)
}

// warped returns the times of the strips with the temperature coefficient that g
// was fitted with.
func (tb *table) warped(g growth) []float64 {
	out := slices.Clone(tb.minutes)
	for j, u := range tb.warp {
		out[j] *= math.Exp(g.warp * u)
	}
	return out
}

// timed is column with the times of warped.
func (tb *table) timed(i int, g growth) (t, y, sd []float64) {
	_, y, sd = tb.column(i, tb.rows)
	for j, minutes := range tb.warped(g) {
		if tb.gives(j, i) {
			t = append(t, minutes)
		}
	}
	return t, y, sd
}

// plus returns the table with another row, whose errors are its own.
func (tb *table) plus(minutes float64, row, sd []float64, dof float64) *table {
	width, n := len(row), len(tb.rows)
	out := &table{
		minutes: append(slices.Clone(tb.minutes), minutes),
		rows:    append(slices.Clone(tb.rows), row),
		sd:      append(slices.Clone(tb.sd), sd),
		dof:     tb.dof + dof,
	}
	for _, move := range tb.moves {
		out.moves = append(out.moves, append(slices.Clone(move), make([]float64, width)...))
	}
	for i, v := range sd {
		if !math.IsNaN(v) {
			move := make([]float64, width*(n+1))
			move[n*width+i] = v
			out.moves = append(out.moves, move)
		}
	}
	return out
}
