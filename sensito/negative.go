package sensito

import (
	"math"
	"slices"

	"sensito/fit"
)

// negative is the film of a plan at every development time: how dense it is at
// distances from the speed point. The density gained over the aimed run grows
// by the law that gave the time, so that the negative of that time has the
// density range aimed at; the density at the foot of the run and the share of the
// gain that lies below each place change slowly with development, as the shape
// of a film's curve does.
type negative struct {
	plan   *Plan
	at     []LogRange
	table  *table
	degree []int // of the trends of the foot and the shares
}

// The columns of a negative's table after that of the gain, sceneRise.
const (
	negativeFoot = sceneRise + 1 + iota
	negativeShares
)

// negative returns the film of the plan at distances from the speed point.
func (p *Plan) negative(at []LogRange) (*negative, error) {
	n := &negative{plan: p, at: at, degree: make([]int, 1+len(at))}
	n.table = newTable(p.Family.Strips, func(m *Measured) (derived, error) {
		d, err := deriveAll(m.Fit, func(c Curve) ([]float64, error) { return n.columns(m, c) })
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
	for i := range n.degree {
		n.degree[i] = -1
		if t, y, sd := n.table.column(negativeFoot+i, n.table.rows); len(t) == len(n.table.rows) {
			n.degree[i] = fitTrend(each(t, p.Family.development), y, sd, -1).degree()
		}
	}
	return n, nil
}

// columns returns what a strip's curve says: the gain over the aimed run, the
// density at its foot above net 0.10, and the share of the gain that lies below
// each place, NaN beyond the curve's reach.
func (n *negative) columns(strip *Measured, c Curve) ([]float64, error) {
	m, err := n.plan.Family.placedAt(strip, c)
	if err != nil {
		return nil, err
	}
	gain, err := n.plan.over.rise(c, m)
	if err != nil {
		return nil, err
	}
	foot := n.plan.over.foot(c, m)
	lo, hi := c.Domain()
	darkest := n.plan.placement.run().from // whose density counts wherever the strip begins
	row := []float64{gain, float64(foot - SpeedPointDensity.Over(BaseFog(c)))}
	for _, r := range n.at {
		h, share := m.Add(r), math.NaN()
		if (r == darkest || h >= lo.Add(-reach)) && h <= hi.Add(sceneReach) {
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

// trend returns that of a column, NaN where not all strips reach.
func (n *negative) trend(column int, rows [][]float64) trend {
	degree := n.degree[column-negativeFoot]
	if degree < 0 {
		return trend{coef: []float64{math.NaN()}}
	}
	return n.table.trend(column, rows, n.plan.Family.development, degree)
}

func (n *negative) slowly(column int, rows [][]float64, minutes float64) float64 {
	return n.trend(column, rows).at(n.plan.Family.development(minutes))
}

// nets returns the net densities at the places when the film is developed for
// the time of the plan, NaN where not all strips reach.
func (n *negative) nets() []float64 {
	minutes, rows := n.plan.base.minutes, n.table.rows
	foot, gain := float64(SpeedPointDensity)+n.slowly(negativeFoot, rows, minutes), n.gain(rows, minutes)
	out := make([]float64, len(n.at))
	for i := range out {
		out[i] = foot + gain*n.slowly(negativeShares+i, rows, minutes)
	}
	return out
}

// estimates returns the net densities of nets together, so that what is computed
// from several keeps their correlation, and the degrees of freedom behind them:
// with the error of the film's curve and of a development that repeats only so
// well. The exposures and the time are taken as plain numbers.
func (n *negative) estimates() (all derived, dof float64) {
	tb, g, minutes := n.table, n.plan.growth, n.plan.base.minutes
	all.values = n.nets()
	gain := n.gain(tb.rows, minutes)
	// Each quantity rests on its own column alone: a direction moves it by what
	// it moves the column of every strip.
	moved := func(column int, scatter float64, f func(rows [][]float64) float64) []float64 {
		by := tb.byStrip(column, func(rows [][]float64) float64 { return scatter * f(rows) })
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
	slow := func(column int) []float64 {
		return moved(column, n.trend(column, tb.rows).scatter, func(rows [][]float64) float64 { return n.slowly(column, rows, minutes) })
	}
	gains := moved(sceneRise, g.scatter, func(rows [][]float64) float64 { return n.gain(rows, minutes) })
	foots := slow(negativeFoot)
	all.moves = make([][]float64, len(tb.moves)+2)
	for k := range all.moves {
		all.moves[k] = make([]float64, len(n.at))
	}
	unseen, repeats := all.moves[len(tb.moves)], all.moves[len(tb.moves)+1] // of all strips alike, and of one more development
	for i, at := range n.at {
		share, own := n.slowly(negativeShares+i, tb.rows, minutes), slow(negativeShares+i)
		for k := range tb.moves {
			all.moves[k][i] = foots[k] + share*gains[k] + gain*own[k]
		}
		unseen[i] = gain * n.plan.Family.unseen(n.plan.over, at)
		repeats[i] = developmentScatter * all.values[i]
	}
	return all, fit.ScatterDoF(g.scatter, g.dof, tb.dof)
}

// netOf returns a net density as told: what the strips extrapolate to may lie
// below the base.
func netOf(v float64) NetDensity { return NetDensity(math.Max(v, 0)) }

// todaysTime is how well the time of today is known, as a standard deviation of
// ln t, for a process that does then what the trial's did.
type todaysTime struct{ lnSD, dof float64 }

// offBy returns the standard deviation by which net densities are off, as a share
// of each, when the time of today is known only so well: all of them grow alike.
func (p *Plan) offBy(t todaysTime) float64 {
	gain := p.growth.At(p.base.minutes)
	per := p.growth.perAim(gain)
	if !(t.lnSD > 0) || math.IsInf(per, 1) {
		return 0
	}
	return t.lnSD / per / gain
}

// givenTime returns a net density, or a difference of two, with the error that
// the time of today leaves.
func (p *Plan) givenTime(e *Estimate[NetDensity], t todaysTime) *Estimate[NetDensity] {
	by := p.offBy(t)
	if e == nil || by == 0 {
		return e
	}
	out := *e
	sd, dof := joined(float64(e.StdErr), e.DoF, by*math.Abs(float64(e.Value)), t.dof)
	out.StdErr, out.DoF = NetDensity(sd), dof
	return &out
}

// toneGiven is givenTime for a tone and its print, which is exposed for the
// lightest tone of the scene.
func (p *Plan) toneGiven(tone Tone, t todaysTime) Tone {
	by := p.offBy(t)
	if tone.NetDensity == nil || by == 0 {
		return tone
	}
	if tone.Print != nil {
		below := p.Ends[1].NetDensity.Value - tone.NetDensity.Value
		out := *tone.Print
		sd, dof := joined(float64(out.StdErr), out.DoF, p.printSlope(below)*by*math.Abs(float64(below)), t.dof)
		out.StdErr, out.DoF = Density(sd), dof
		tone.Print = &out
	}
	tone.NetDensity = p.givenTime(tone.NetDensity, t)
	return tone
}

// know counts in all densities of a plan how well the time of today is known,
// beside what they count already.
func (p *Plan) know(t todaysTime) {
	p.Delivered = p.givenTime(p.Delivered, t)
	p.Tones = slices.Clone(p.Tones)
	for i := range p.Tones {
		p.Tones[i] = p.toneGiven(p.Tones[i], t)
	}
	for i := range p.Ends {
		p.Ends[i] = p.toneGiven(p.Ends[i], t)
	}
	p.today.lnSD, p.today.dof = joined(p.today.lnSD, p.today.dof, t.lnSD, t.dof)
}

// deliver finds the ends of the scene on the negative and the density range
// between them, when the film is exposed at the plan's index and developed for
// its time, both taken as plain numbers.
func (p *Plan) deliver() error {
	r := p.placement.run()
	n, err := p.negative([]LogRange{r.from, r.to})
	if err != nil {
		return err
	}
	all, dof := n.estimates()
	for i, stops := range []float64{p.placement.Darkest, p.placement.Lightest} {
		p.Ends[i] = Tone{Stops: stops, Film: p.speedPoint.Value.Add(n.at[i]),
			NetDensity: &Estimate[NetDensity]{Value: netOf(all.values[i]), StdErr: NetDensity(all.sd(i)), DoF: dof}}
	}
	v := all.values[1] - all.values[0]
	p.Delivered = &Estimate[NetDensity]{Value: NetDensity(v), StdErr: NetDensity(all.sdBetween(0, 1)), DoF: dof}
	return nil
}
