package control

import (
	"fmt"
	"math"
	"slices"

	"sensito/fit"
	"sensito/sensito"
	"sensito/sensito/curve"
	"sensito/sensito/development"
)

// patchFilm is the film of a family at the two exposures of a control strip.
type patchFilm struct {
	family *development.Family
	aim    patchDensities
	t      sensito.Minutes // of the strips

	span   sensito.LogRange   // between the exposures, as far as the strips reach
	share  float64            // part of the difference that is gained over it, 1 where all is
	growth development.Growth // of the rise over it
	place  fit.Trend          // of the exposure that gives the low density
	speed  *fit.Trend         // of the speed point, nil where no strip has one
}

// patchDensities are those of a control strip.
type patchDensities struct{ fog, low, difference float64 }

func (d patchDensities) net() float64 { return d.low - d.fog }

// The columns of a patchFilm's table after those of the strips, for the aim and
// again for the densities of today: the log exposure that gives the low net
// density, and how far density rises from it over the span, and over a little
// more.
const (
	patchPlace = curve.ColumnFractional + 1 + iota
	patchRise
	patchFurther
	patchColumns = iota
)

const patchMore sensito.LogRange = 0.05

// atPatches returns the film at the patches of strips developed for t whose
// densities should be those of the aim. The error says that the strips of the
// family do not reach so far.
func atPatches(f *development.Family, t sensito.Minutes, aim patchDensities) (*patchFilm, error) {
	p := &patchFilm{family: f, aim: aim, t: t}
	most, err := p.reach()
	if err != nil {
		return nil, err
	}
	tb, span := (*development.Table)(nil), min(1, most)
	for range 30 { // Newton's steps, which settle within ten but where strips drop out
		p.span = span
		tb = p.table(aim.net())
		if p.growth, err = tb.Grow(patchRise, tb.Rows, development.Growth{}); err != nil {
			return nil, err
		}
		further, err := tb.Grow(patchFurther, tb.Rows, p.growth)
		if err != nil {
			return nil, err
		}
		rise := p.growth.At(float64(t))
		slope := (further.At(float64(t)) - rise) / float64(patchMore)
		p.share = rise / aim.difference
		if span = most; slope > 0 {
			span = min(max(p.span+sensito.LogRange((aim.difference-rise)/slope), p.span/2), most)
		}
		if math.Abs(float64(span-p.span)) < 1e-9 {
			break
		}
	}
	p.place = tb.PlaceTrend(patchPlace, tb.Rows, p.growth.Development)
	if t, _, _ := tb.Column(curve.ColumnSpeedPoint, tb.Rows); len(t) > 0 {
		law := tb.PlaceTrend(curve.ColumnSpeedPoint, tb.Rows, p.growth.Development)
		p.speed = &law
	}
	return p, nil
}

// checkedStrips is how many strips must reach to the high patch.
const checkedStrips = 3

// reach returns the longest span above the low patch that enough strips reach
// over.
func (p *patchFilm) reach() (sensito.LogRange, error) {
	var spans []sensito.LogRange
	for _, m := range p.family.Strips {
		c := m.Fit.Curve
		if h, err := c.LogExposure(sensito.NetDensity(p.aim.net()).Over(curve.BaseFog(c))); err == nil {
			_, hi := c.Domain()
			spans = append(spans, hi.Sub(h))
		}
	}
	slices.Sort(spans)
	const least = 2 * patchMore
	if n := min(checkedStrips, len(p.family.Strips)); len(spans) >= n && spans[len(spans)-n] > least {
		return spans[len(spans)-n], nil
	}
	return 0, fmt.Errorf("too few strips of the trial reach above the net density %.2f of the low patch", p.aim.net())
}

// short says whether the high patch lies beyond the strips, so that the density
// difference is taken to change in proportion to the part that they show.
func (p *patchFilm) short() bool { return p.share < 0.95 }

// columns returns those of a curve for a net density of the low patch.
func (p *patchFilm) columns(c curve.Curve, net float64) []float64 {
	h, err := c.LogExposure(sensito.NetDensity(net).Over(curve.BaseFog(c)))
	if err != nil {
		return []float64{math.NaN(), math.NaN(), math.NaN()}
	}
	return []float64{float64(h), fit.OrNaN(curve.Rise(c, h, p.span)), fit.OrNaN(curve.Rise(c, h, p.span+patchMore))}
}

// table returns the quantities of the strips with those of the patches, for the
// net densities of low patches.
func (p *patchFilm) table(nets ...float64) *development.Table {
	tb := development.NewTable(p.family.Strips, func(m *curve.Measured) (fit.Derived, error) {
		d, err := curve.DeriveAll(m.Fit, func(c curve.Curve) ([]float64, error) {
			var out []float64
			for _, net := range nets {
				out = append(out, p.columns(c, net)...)
			}
			return out, nil
		})
		if err != nil {
			return fit.Derived{}, err
		}
		return m.Derived.With(d), nil
	})
	rises := []int{patchFurther}
	for k := range nets[1:] {
		rises = append(rises, patchRise+(k+1)*patchColumns, patchFurther+(k+1)*patchColumns)
	}
	tb.Unsteady(patchRise, development.Scatter, rises...)
	return tb
}

// The values of patchFilm.tell: the causes, and the stops by which they move the
// speed point when the time stays as it is.
const (
	toldUnchanged = causes
	toldValues    = causes + 1
)

// tell returns the causes that bring the densities of the aim to those of today,
// by the rows of a table for both.
//
// The rate follows from the density rise between the patches, from the net
// density that the low one has now: it tells at which time the trial's process
// gives as much. The speed is how far the exposure that gives that density then
// lies from that of the low patch.
func (p *patchFilm) tell(tb *development.Table, rows [][]float64, today patchDensities) ([]float64, error) {
	var laws, further [2]development.Growth
	for k := range laws {
		var err error
		if laws[k], err = tb.Grow(patchRise+k*patchColumns, rows, p.growth); err != nil {
			return nil, err
		}
		if further[k], err = tb.Grow(patchFurther+k*patchColumns, rows, p.growth); err != nil {
			return nil, err
		}
	}
	slope := func(k int, minutes float64) float64 {
		return (further[k].At(minutes) - laws[k].At(minutes)) / float64(patchMore)
	}
	// The high patch is where these rows have its density, which is not quite the
	// span from the low one where they differ from those of the aim.
	t := float64(p.t)
	more := (p.share*p.aim.difference - laws[0].At(t)) / slope(0, t)
	now, err := laws[1].Time(p.share * today.difference)
	if err == nil && more != 0 {
		now, err = laws[1].Time(p.share*today.difference - more*slope(1, now))
	}
	if err != nil || !(now > 0) {
		return nil, fmt.Errorf("a density difference %.2f of what it should be is beyond the trial's law of growth", today.difference/p.aim.difference)
	}
	u := p.growth.Development
	place := func(k int, minutes float64) float64 {
		return tb.PlaceTrend(patchPlace+k*patchColumns, rows, u).At(u(minutes))
	}
	out := make([]float64, toldValues)
	out[causeRate] = math.Log(now / t)
	out[causeSpeed] = (place(1, now) - place(0, t)) / float64(sensito.Stop)
	fog := tb.Trend(curve.ColumnFog, rows, development.Fogging, p.family.Fog.Degree())
	out[causeFog] = today.fog - p.aim.fog - fog.At(development.Fogging(now)) + fog.At(development.Fogging(t))
	out[toldUnchanged] = math.NaN()
	if p.speed != nil {
		point := tb.PlaceTrend(curve.ColumnSpeedPoint, rows, u)
		out[toldUnchanged] = out[causeSpeed] + (point.At(u(t))-point.At(u(now)))/float64(sensito.Stop)
	}
	return out, nil
}

// told returns tell with its errors by those of the trial, and how its values
// move with base plus fog, low density and density difference of today.
func (p *patchFilm) told(today patchDensities) (d fit.Derived, dof float64, moves [toldValues][causes]float64, err error) {
	tb := p.table(p.aim.net(), today.net())
	for k, net := range []float64{p.aim.net(), today.net()} {
		if t, _, _ := tb.Column(patchRise+k*patchColumns, tb.Rows); len(fit.Distinct(t)) < 2 {
			return d, 0, moves, fmt.Errorf("too few strips of the trial reach from the net density %.2f of the low patch to the high one", net)
		}
	}
	inflate := map[int]float64{curve.ColumnFog: p.family.Fog.Scatter}
	if p.speed != nil {
		inflate[curve.ColumnSpeedPoint] = p.speed.Scatter
	}
	for _, k := range []int{0, patchColumns} {
		inflate[patchPlace+k] = p.place.Scatter
		inflate[patchRise+k], inflate[patchFurther+k] = p.growth.Scatter, p.growth.Scatter
	}
	d, err = tb.Propagate(inflate, func(rows [][]float64) ([]float64, error) { return p.tell(tb, rows, today) })
	if err != nil {
		return d, 0, moves, err
	}
	center := []float64{today.fog, today.low, today.difference}
	by, err := fit.Propagate(center, d.Values, [][]float64{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}, func(_, v []float64) ([]float64, error) {
		moved := patchDensities{v[0], v[1], v[2]}
		var rows [][]float64
		for j, m := range p.family.Strips {
			rows = append(rows, append(slices.Clone(tb.Rows[j][:patchPlace+patchColumns]), p.columns(m.Fit.Curve, moved.net())...))
		}
		return p.tell(tb, rows, moved)
	})
	if err != nil {
		return d, 0, moves, err
	}
	for i, move := range by.Moves {
		for k, v := range move {
			moves[k][i] = v
		}
	}
	return d, p.growth.Behind(tb.DoF), moves, nil
}
