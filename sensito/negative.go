package sensito

import "math"

// negative is the film of a plan at every development time: how dense it is at
// distances from the speed point. The density gained over the aimed run grows
// by the law that gave the time, so that the negative of that time has the
// density range aimed at; the density at the foot of the run grows by a law of
// its own; and the share of the gain that lies below each place changes slowly
// with development, as the shape of a film's curve does.
type negative struct {
	plan   *Plan
	at     []LogRange
	table  *table
	speed  trend
	foot   growthModel
	degree []int // of the trends of the shares
}

// The columns of a negative's table after that of the gain, sceneRise.
const (
	negativeFoot = sceneRise + 1 + iota
	negativeShares
)

// negative returns the film of the plan at distances from the speed point.
func (p *Plan) negative(at []LogRange) (*negative, error) {
	n := &negative{plan: p, at: at, degree: make([]int, len(at))}
	n.table = newTable(p.Family.Strips, func(m *Measured) (derived, error) {
		d, err := deriveAll(m.Fit, n.columns)
		if err != nil {
			return derived{}, err
		}
		return m.derived.with(d), nil
	})
	if len(n.table.rows) < 2 {
		return nil, p.tooShort(len(n.table.rows))
	}
	n.table.unsteady(sceneRise, developmentScatter)
	n.table.unsteady(negativeFoot, developmentScatter)
	n.speed = n.table.trend(colSpeedPoint, n.table.rows, p.growth.development, -1)
	n.foot = n.table.law(negativeFoot)
	for i := range at {
		n.degree[i] = -1
		if t, y, sd := n.table.column(negativeShares+i, n.table.rows); len(t) == len(n.table.rows) {
			n.degree[i] = fitTrend(each(t, p.growth.development), y, sd, -1).degree()
		}
	}
	return n, nil
}

// columns returns what a strip's curve says: the gain over the aimed run, the
// density at its foot above that of the speed point, and the share of the gain
// that lies below each place, NaN beyond the curve's reach.
func (n *negative) columns(c Curve) ([]float64, error) {
	m, err := SpeedPoint(c)
	if err != nil {
		return nil, err
	}
	aimed := n.plan.over
	gain, err := aimed.rise(c, m)
	if err != nil {
		return nil, err
	}
	foot := c.Density(m.Add(aimed.from))
	lo, hi := c.Domain()
	row := []float64{gain, float64(foot - c.Density(m))}
	for _, r := range n.at {
		h, share := m.Add(r), math.NaN()
		if h >= lo.Add(-reach) && h <= hi.Add(sceneReach) {
			share = float64(c.Density(h)-foot) / gain
		}
		row = append(row, share)
	}
	return row, nil
}

func (n *negative) gain(rows [][]float64, minutes float64) float64 {
	g, err := n.table.grow(sceneRise, rows, n.plan.growth.model)
	if err != nil {
		return math.NaN()
	}
	return g.At(minutes)
}

func (n *negative) footAt(rows [][]float64, minutes float64) float64 {
	return n.table.along(negativeFoot, rows, n.foot, minutes)
}

// share returns that of a place, NaN where not all strips reach.
func (n *negative) share(i int, rows [][]float64, minutes float64) float64 {
	return n.shares(i, rows).at(n.plan.growth.development(minutes))
}

func (n *negative) shares(i int, rows [][]float64) trend {
	if n.degree[i] < 0 {
		return trend{coef: []float64{math.NaN()}}
	}
	return n.table.trend(negativeShares+i, rows, n.plan.growth.development, n.degree[i])
}

func (n *negative) speedPoint(rows [][]float64, minutes float64) float64 {
	u := n.plan.growth.development
	return n.table.trend(colSpeedPoint, rows, u, n.speed.degree()).at(u(minutes))
}

// nets returns the net densities at the places, NaN where not all strips reach.
func (n *negative) nets(minutes float64) []float64 {
	rows := n.table.rows
	foot, gain := float64(SpeedPointDensity)+n.footAt(rows, minutes), n.gain(rows, minutes)
	out := make([]float64, len(n.at))
	for i := range out {
		out[i] = foot + gain*n.share(i, rows, minutes)
	}
	return out
}

// estimates returns the net densities at a development time together, with the
// speed point after them, so that what is computed from several keeps their
// correlation; and the degrees of freedom behind them. The error of the time
// itself is not in them.
func (n *negative) estimates(minutes float64) (all derived, dof float64) {
	tb, g := n.table, n.plan.growth
	all.values = append(n.nets(minutes), n.speedPoint(tb.rows, minutes))
	gain := n.gain(tb.rows, minutes)
	// Each quantity rests on its own column alone: a direction moves it by what
	// it moves the column of every strip.
	moved := func(column int, scatter float64, f func(rows [][]float64, minutes float64) float64) []float64 {
		by := tb.byStrip(column, func(rows [][]float64) float64 { return scatter * f(rows, minutes) })
		out := make([]float64, len(tb.moves))
		for k, direction := range tb.moves {
			for j, row := range tb.rows {
				if v := direction[j*len(row)+column]; v != 0 {
					out[k] += by[j] * v
				}
			}
		}
		return out
	}
	gains, foots := moved(sceneRise, g.scatter, n.gain), moved(negativeFoot, g.scatter, n.footAt)
	points := moved(colSpeedPoint, n.speed.scatter, n.speedPoint)
	moves := make([][]float64, len(tb.moves))
	for k := range moves {
		moves[k] = make([]float64, len(n.at)+1)
		moves[k][len(n.at)] = points[k]
	}
	for i := range n.at {
		share := n.share(i, tb.rows, minutes)
		own := moved(negativeShares+i, n.shares(i, tb.rows).scatter, func(rows [][]float64, minutes float64) float64 { return n.share(i, rows, minutes) })
		for k := range moves {
			moves[k][i] = foots[k] + share*gains[k] + gain*own[k]
		}
	}
	unseen := make([]float64, len(n.at)+1) // of all strips alike
	for i, at := range n.at {
		unseen[i] = gain * n.plan.over.unseen(n.plan.Family.Strips, at)
	}
	all.moves = append(moves, unseen)
	return all, spread(g.scatter, g.dof, tb.dof)
}

// byStrip returns the derivatives of f by the value of each strip in a column.
func (tb *table) byStrip(column int, f func(rows [][]float64) float64) []float64 {
	rows := make([][]float64, len(tb.rows))
	copy(rows, tb.rows)
	by := make([]float64, len(rows))
	for j, row := range tb.rows {
		h := varyBy * math.Max(tb.sd[j][column], leastSD)
		at := func(v float64) float64 {
			rows[j] = append([]float64(nil), row...)
			rows[j][column] = v
			return f(rows)
		}
		by[j] = (at(row[column]+h) - at(row[column]-h)) / (2 * h)
		rows[j] = row
	}
	return by
}

// delivered returns the density range between the darkest and the lightest tone
// of the scene when the film is exposed at the plan's index and developed for
// its time, both taken as plain numbers: with the error of the film's curve, of
// where its speed point lies under that exposure, and of a development that
// repeats only so well.
func (p *Plan) delivered() (*Estimate[NetDensity], error) {
	const aside LogRange = 0.02 // for the slopes at the ends
	r := p.placement.run()
	n, err := p.negative([]LogRange{r.from, r.to, r.from - aside, r.from + aside, r.to - aside, r.to})
	if err != nil {
		return nil, err
	}
	all, dof := n.estimates(float64(p.Minutes.Value))
	v, point := all.values, len(n.at)
	low, high := (v[3]-v[2])/float64(2*aside), (v[5]-v[4])/float64(aside)
	if math.IsNaN(low) {
		low = (v[3] - v[0]) / float64(aside)
	}
	variance := math.Pow(developmentScatter*(v[1]-v[0]), 2)
	for _, m := range all.moves {
		// Where the speed point lies further up, the tones lie lower on the curve.
		d := m[1] - m[0] - (high-low)*m[point]
		variance += d * d
	}
	return &Estimate[NetDensity]{Value: NetDensity(v[1] - v[0]), StdErr: NetDensity(math.Sqrt(variance)), DoF: dof}, nil
}
