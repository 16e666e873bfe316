package scene

import (
	"math"
	"slices"

	"sensito/fit"
	"sensito/sensito"
	"sensito/sensito/curve"
	"sensito/sensito/development"
)

// negative is the film of an answer at every development time: how dense it is at
// distances from the speed point. The density gained over the aimed run grows
// by the law that gave the time, so that the negative of that time has the
// density range aimed at; how far above the speed point's density the foot of the run lies
// and what lies between it and each place change slowly with development as shares of the
// gain, as the shape of a film's curve does.
type negative struct {
	answer *Answer
	at     []sensito.LogRange
	table  *development.Table
	growth development.Growth // of the gain; without a model where there is none
	slow   []*fit.Trend       // of the foot and the shares, nil where not all strips reach
}

// The columns of a negative's table after that of the gain, ColumnRise.
const (
	negativeFoot = ColumnRise + 1 + iota
	negativeShares
)

// negative returns the film of the answer at distances from the speed point.
func (p *Answer) negative(at []sensito.LogRange) (*negative, error) {
	n := &negative{answer: p, at: at, slow: make([]*fit.Trend, 1+len(at))}
	n.table = development.NewTable(p.Family.Strips, func(m *curve.Measured) (fit.Derived, error) {
		d, err := curve.DeriveAll(m.Fit, func(c curve.Curve) ([]float64, error) { return n.columns(m, c) })
		if err != nil {
			return fit.Derived{}, err
		}
		return m.Derived.With(d), nil
	})
	if len(n.table.Rows) < min(2, len(p.Family.Strips)) {
		return nil, p.tooShort(len(n.table.Rows))
	}
	n.table.Unsteady(ColumnRise, development.Scatter)
	if g, err := n.table.Grow(ColumnRise, n.table.Rows, p.Growth); err == nil {
		n.growth = g
	}
	for i := range n.slow {
		if t, _, _ := n.table.Column(negativeFoot+i, n.table.Rows); len(t) == len(n.table.Rows) {
			n.slow[i] = new(n.table.Trend(negativeFoot+i, n.table.Rows, p.Family.Development, -1))
		}
	}
	return n, nil
}

// columns returns what a strip's curve says: the gain over the aimed run, and as shares of
// that the density at its foot above net 0.10 and what each place has above the foot, NaN
// beyond the curve's reach.
func (n *negative) columns(strip *curve.Measured, c curve.Curve) ([]float64, error) {
	m, err := placedAt(n.answer.Family, strip, c)
	if err != nil {
		return nil, err
	}
	gain, err := n.answer.over.Rise(c, m)
	if err != nil {
		return nil, err
	}
	foot := n.answer.over.foot(c, m)
	lo, hi := c.Domain()
	darkest := n.answer.placement.Run().From // whose density counts wherever the strip begins
	row := []float64{gain, float64(foot-curve.SpeedPointDensity.Over(curve.BaseFog(c))) / gain}
	for _, r := range n.at {
		h, share := m.Add(r), math.NaN()
		if (r == darkest || h >= lo.Add(-curve.Reach)) && h <= hi.Add(Reach) {
			share = float64(c.Density(h)-foot) / gain
		}
		row = append(row, share)
	}
	return row, nil
}

func (n *negative) gain(rows [][]float64, minutes float64) float64 {
	if n.growth.Model == "" {
		return math.NaN()
	}
	g, err := n.table.Grow(ColumnRise, rows, n.growth)
	if err != nil {
		return math.NaN()
	}
	return g.At(minutes)
}

// slowly returns a column by its trend, NaN where not all strips reach.
func (n *negative) slowly(column int, rows [][]float64, minutes float64) float64 {
	trend := n.slow[column-negativeFoot]
	if trend == nil {
		return math.NaN()
	}
	return n.table.TrendLike(column, rows, *trend).At(n.answer.Family.Development(minutes))
}

// nets returns the net densities at the places when the film is developed for
// the time of the answer, NaN where not all strips reach.
func (n *negative) nets(rows [][]float64) []float64 { return n.netsAt(rows, n.answer.Base.Minutes) }

// netsAt is nets for another time.
func (n *negative) netsAt(rows [][]float64, minutes float64) []float64 {
	foot, gain := n.slowly(negativeFoot, rows, minutes), n.gain(rows, minutes)
	out := make([]float64, len(n.at))
	for i := range out {
		out[i] = float64(curve.SpeedPointDensity) + gain*(foot+n.slowly(negativeShares+i, rows, minutes))
	}
	return out
}

// estimates returns the net densities of nets together, so that what is computed from several
// keeps their correlation: with the error of the film's curve and, apart from that since few
// strips tell it, of a development that repeats only so well. The exposures and the time are
// taken as plain numbers.
func (n *negative) estimates() fit.Parted {
	tb, g, minutes := n.table, n.answer.Growth, n.answer.Base.Minutes
	out := fit.NewParted(n.nets(tb.Rows), g.Behind(tb.DoF), tb.DoF)
	gain := n.gain(tb.Rows, minutes)
	// Each quantity rests on its own column alone: a direction moves it by what
	// it moves the column of every strip.
	moved := func(column int, by []float64) []float64 {
		out := make([]float64, len(tb.Moves))
		for k, direction := range tb.Moves {
			for i, row := range direction.By {
				if v := row[column]; v != 0 {
					out[k] += by[direction.First+i] * v
				}
			}
		}
		return out
	}
	slow := func(column int) []float64 {
		trend := n.slow[column-negativeFoot]
		if trend == nil {
			return slices.Repeat([]float64{math.NaN()}, len(tb.Moves))
		}
		by := trend.ByValue(n.answer.Family.Development(minutes))
		return moved(column, fit.Each(by, func(v float64) float64 { return trend.Scatter * v }))
	}
	gains := moved(ColumnRise, tb.ByStrip(ColumnRise, func(rows [][]float64) float64 { return n.gain(rows, minutes) }))
	foots := slow(negativeFoot)
	var shares [][]float64
	for i := range n.at {
		shares = append(shares, slow(negativeShares+i))
	}
	for k, direction := range tb.Moves {
		move, ofProcess := make([]float64, len(n.at)), direction.Of == development.OfProcess
		for i := range n.at {
			if ofProcess { // which makes all densities of a strip greater alike
				move[i] = g.Repeats / development.Scatter * gains[k] / gain * out.Values[i]
				continue
			}
			share := (out.Values[i] - float64(curve.SpeedPointDensity)) / gain
			move[i] = share*gains[k] + gain*(foots[k]+shares[i][k])
		}
		out.Add(ofProcess, move)
	}
	another := fit.Each(out.Values, func(v float64) float64 { return g.Repeats * v }) // of one more development
	out.Add(true, another)
	if len(tb.Rows) < 3 { // more strips tell all that moves densities
		before, err := tb.Beforehand(out.Values, func(rows [][]float64) ([]float64, error) { return n.nets(rows), nil })
		if err == nil { // nets has none
			for _, move := range before {
				out.Add(false, move)
			}
		}
	}
	return out
}

// netOf returns a net density as told: what the strips extrapolate to may lie
// below the base.
func netOf(v float64) sensito.NetDensity { return sensito.NetDensity(math.Max(v, 0)) }

// offBy returns the standard deviation by which net densities are off, as a share
// of each, when the time of today is known only so well: all of them grow alike.
func (p *Answer) offBy(t todaysTime) float64 {
	gain := p.Growth.At(p.Base.Minutes)
	per := p.Growth.PerAim(gain)
	if !(t.lnSD > 0) || math.IsInf(per, 1) {
		return 0
	}
	return t.lnSD / per / gain
}

// givenTime returns a net density, or a difference of two, with the error that
// the time of today leaves.
func (p *Answer) givenTime(e *sensito.Estimate[sensito.NetDensity], t todaysTime) *sensito.Estimate[sensito.NetDensity] {
	return off(e, p.offBy(t), t.dof)
}

// off returns an estimate that is off by a share of its value, with the degrees of
// freedom by which that is known. Nil stays nil.
func off[Q ~float64](e *sensito.Estimate[Q], by, dof float64) *sensito.Estimate[Q] {
	if e == nil || by == 0 {
		return e
	}
	out := *e
	sd, dof := fit.Joined(float64(e.StdErr), e.DoF, by*math.Abs(float64(e.Value)), dof)
	out.StdErr, out.DoF = Q(sd), dof
	return &out
}

// toneGiven is givenTime for a tone and its print, which is exposed for the
// lightest tone of the scene.
func (p *Answer) toneGiven(tone Tone, t todaysTime) Tone {
	by := p.offBy(t)
	if tone.NetDensity == nil || by == 0 {
		return tone
	}
	if tone.Print != nil {
		below := p.Ends[1].NetDensity.Value - tone.NetDensity.Value
		out := *tone.Print
		sd, dof := fit.Joined(float64(out.StdErr), out.DoF, p.printSlope(below)*by*math.Abs(float64(below)), t.dof)
		out.StdErr, out.DoF = sensito.Density(sd), dof
		tone.Print = &out
	}
	tone.NetDensity = p.givenTime(tone.NetDensity, t)
	return tone
}

// know counts in all densities of an answer, and in its contrast index, how well
// the time of today is known, beside what they count already.
func (p *Answer) know(t todaysTime) {
	p.Delivered = p.givenTime(p.Delivered, t)
	p.ContrastIndex = off(p.ContrastIndex, p.offBy(t), t.dof)
	p.Tones = slices.Clone(p.Tones)
	for i := range p.Tones {
		p.Tones[i] = p.toneGiven(p.Tones[i], t)
	}
	for i := range p.Ends {
		p.Ends[i] = p.toneGiven(p.Ends[i], t)
	}
	p.today.lnSD, p.today.dof = fit.Joined(p.today.lnSD, p.today.dof, t.lnSD, t.dof)
}

// unsurely returns places of a negative and, where the exposure of the film is not known
// for sure, behind them each place as far up as its standard deviation.
func (p *Answer) unsurely(at []sensito.LogRange) []sensito.LogRange {
	for _, r := range at[:len(at):len(at)] {
		if p.exposure.sd > 0 {
			at = append(at, r+sensito.LogRange(p.exposure.sd))
		}
	}
	return at
}

// unsure returns the estimates of a negative whose places are those of unsurely, with
// what they err by as the exposure does.
func (p *Answer) unsure(n *negative) fit.Parted {
	all := n.estimates()
	if !(p.exposure.sd > 0) {
		return all
	}
	move := make([]float64, len(all.Values))
	for i := range len(all.Values) / 2 {
		move[i] = all.Values[len(all.Values)/2+i] - all.Values[i]
	}
	all.Add(false, move)
	return all
}

// netEstimate returns a net density, or a difference of two, with its error.
func netEstimate(v, sd, dof float64) *sensito.Estimate[sensito.NetDensity] {
	return &sensito.Estimate[sensito.NetDensity]{Value: sensito.NetDensity(v), StdErr: sensito.NetDensity(sd), DoF: dof}
}

// deliver finds the ends of the scene on the negative and the density range
// between them, when the film is exposed at the answer's index and developed for
// its time, both taken as plain numbers; and tones at stops from the metered one.
func (p *Answer) deliver(stops []float64) error {
	r := p.placement.Run()
	n, err := p.negative(p.unsurely(append([]sensito.LogRange{r.From, r.To}, p.placement.each(stops)...)))
	if err != nil {
		return err
	}
	all := p.unsure(n)
	for i, stops := range []float64{p.placement.Darkest, p.placement.Lightest} {
		sd, dof := all.Error(i)
		p.Ends[i] = Tone{Stops: stops, Film: p.SpeedPoint.Value.Add(n.at[i]), NetDensity: netEstimate(float64(netOf(all.Values[i])), sd, dof)}
	}
	sd, dof := all.ErrorBetween(0, 1)
	p.Delivered = netEstimate(all.Values[1]-all.Values[0], sd, dof)
	p.Tones, err = p.tonesOf(stops, n, all, 2, 1)
	return err
}
