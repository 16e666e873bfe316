package testplan

import (
	"math"
	"slices"

	"sensito/fit"
	"sensito/sensito/curve"
	"sensito/sensito/development"
	"sensito/sensito/scene"
)

// toCome are the columns that a strip to come is thought to have.
var toCome = [...]int{scene.ColumnRise, curve.ColumnSpeedPoint, curve.ColumnFog}

// with returns the design with one more strip. It errs along the directions that
// the errors of the strips share, as theirs go with development, and by itself as
// those tested do in the mean. The shape that is shared becomes better known as the readings
// become more (see shapeLeft).
func (d *design) with(minutes float64) *design {
	at, tb, n := d.lie(minutes), d.table, len(d.table.Rows)
	unknown := slices.Repeat([]float64{math.NaN()}, len(tb.Rows[0]))
	row := slices.Clone(unknown)
	for c, i := range toCome {
		row[i] = at[c]
	}
	like, own := d.likeTested(minutes)
	more := *d
	more.added++
	more.table = tb.Plus(minutes, row, unknown)
	more.table.DoF *= float64(n+1) / float64(n)
	if tb.Warp != nil {
		more.table.Warp = append(slices.Clone(tb.Warp), 0)
	}
	for k, move := range tb.Moves {
		switch {
		case shared(move.Of):
			by := 1.0
			if move.Of == development.OfShape {
				by = math.Sqrt(d.shapeLeft(n+1) / d.shapeLeft(n))
			}
			move.By = slices.Clone(move.By)
			for move.First+len(move.By) < n {
				move.By = append(move.By, make([]float64, len(row)))
			}
			move.By = append(move.By, like(tb.Moves[k]))
			more.table.Moves[k] = move.Times(by)
		case move.First < n-d.added:
			more.table.Moves = append(more.table.Moves, development.Direction{Of: move.Of, First: n, By: [][]float64{own(move, row)}})
		}
	}
	more.table.SD = deviations(more.table)
	if tb.Placed != nil {
		more.table.Place(tb.Placed.Plus(tb, minutes, at[1]))
	}
	more.off, more.judged = append(slices.Clone(d.off), d.chanceOff(minutes, more.table)), development.Growth{}
	if g, err := more.table.Grow(scene.ColumnRise, more.moved(), development.Growth{}); err == nil {
		more.judged = g
	}
	return &more
}

// unread is the distance of exposures, in log H, at which the shape of the curve between them
// would have all that is not known of it, since all strips have the same: with more strips
// it stays. The half stops of a wedge leave hardly a part (TestShapeToCome).
const unread = 0.8

// shapeLeft returns the variance that so many strips are thought to leave of the shape
// that they share, in units of that which the strips tested do.
func (d *design) shapeLeft(strips int) float64 {
	e := d.known.Family.Trial.Exposures()
	lo, hi := e.Span()
	between := math.Min(math.Pow(float64(hi-lo)/float64(e.Len()-1)/unread, 2), 1)
	return between + (1-between)*float64(len(d.table.Rows)-d.added)/float64(strips)
}

// shared says whether strips err by a source together, and not each by itself.
func shared(of development.Source) bool {
	return of == development.OfShape || of == development.OfWedge || of == development.OfDensitometer || of == development.OfPictures
}

// giving returns the strips tested that give a column.
func (d *design) giving(column int) []int {
	var out []int
	for j := range len(d.table.Rows) - d.added {
		if d.table.Gives(j, column) {
			out = append(out, j)
		}
	}
	return out
}

// likeTested returns how the values of a strip developed so long move as those of the
// strips tested do. Like has it along a direction that the strips share: as theirs, by a
// straight line against development. Own has it by what moves those of one tested strip,
// for a strip to come with these values: together with what the others lend it, as they do
// in the mean square. The process moves the contrast by a share of it.
func (d *design) likeTested(minutes float64) (like func(development.Direction) []float64, own func(move development.Direction, row []float64) []float64) {
	var giving [len(toCome)][]int
	var weights [len(toCome)][]float64
	for c, i := range toCome {
		giving[c] = d.giving(i)
		u := make([]float64, len(giving[c]))
		for k, j := range giving[c] {
			u[k] = d.known.Family.Development(d.table.Minutes[j])
		}
		weights[c] = fit.LineWeights(u, d.known.Family.Development(minutes))
	}
	like = func(move development.Direction) []float64 {
		out := make([]float64, len(d.table.Rows[0]))
		for c, i := range toCome {
			for k, j := range giving[c] {
				out[i] += weights[c][k] * move.At(j, i)
			}
		}
		return out
	}
	own = func(move development.Direction, row []float64) []float64 {
		out := make([]float64, len(row))
		for c, i := range toCome {
			out[i] = move.At(move.First, i) / math.Sqrt(float64(len(giving[c])))
		}
		if move.Of == development.OfProcess {
			out[scene.ColumnRise] *= row[scene.ColumnRise] / d.table.Rows[move.First][scene.ColumnRise]
		}
		return out
	}
	return like, own
}

// deviations returns the standard deviations of a table by its directions; NaN for
// what a strip does not give.
func deviations(tb *development.Table) [][]float64 {
	var out [][]float64
	for _, row := range tb.Rows {
		sd := make([]float64, len(row))
		for i, v := range row {
			if math.IsNaN(v) {
				sd[i] = v
			}
		}
		out = append(out, sd)
	}
	for _, move := range tb.Moves {
		if !tb.Scatters(move.Of) {
			continue
		}
		for k, row := range move.By {
			sd := out[move.First+k]
			for i, v := range row {
				sd[i] += v * v
			}
		}
	}
	for _, sd := range out {
		for i, v := range sd {
			sd[i] = math.Sqrt(v)
		}
	}
	return out
}

// moved returns the rows by which the scatter of the strips is judged.
func (d *design) moved() [][]float64 {
	var out [][]float64
	for j, row := range d.table.Rows {
		row = slices.Clone(row)
		row[scene.ColumnRise] += d.off[j]
		out = append(out, row)
	}
	return out
}

// chanceOff returns how far from the law that the design gives its strips the last
// strip of a table may lie by chance, so that with those before the squares of all
// are as often less as more: by the median of chi squared.
func (d *design) chanceOff(minutes float64, more *development.Table) float64 {
	law := d.judged
	law.Model = development.FirstOrderInduction
	t, _, _ := d.table.Timed(scene.ColumnRise, law)
	_, y, sd := d.table.Column(scene.ColumnRise, d.moved())
	scatter := law.MiddleScatter()
	f, err := law.Refit(t, y, fit.Each(sd, func(v float64) float64 { return scatter * v }))
	if err != nil {
		return 0
	}
	last := len(more.Rows) - 1
	squares := chiSquared(0, float64(d.added+1)) - chiSquared(0, float64(d.added))
	variance := 0.0 // of the strip by itself
	for _, move := range more.Moves {
		if !shared(move.Of) {
			variance += math.Pow(scatter*move.At(last, scene.ColumnRise), 2)
		}
	}
	off := math.Sqrt(squares * (variance + math.Pow(f.Holding(false).AtSD(minutes), 2)))
	if d.added%2 == 1 {
		off = -off
	}
	return d.judged.At(minutes) + off - more.Rows[last][scene.ColumnRise]
}
