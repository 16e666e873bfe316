package curve

import (
	"math"
	"slices"
	"sync"

	vec "gonum.org/v1/gonum/floats"

	"sensito/fit"
	"sensito/fit/smooth"
	"sensito/sensito"
)

// candidate is one curve fitted to the readings with some left out: a bend, or
// a spline where that is set.
type candidate struct {
	fit.BendFit
	spline *smooth.SplineFit
	drop   []int   // readings left out, counted as readings.count does
	rss    float64 // of the readings, in units of Sigma
	k      float64 // parameters, effective ones of a spline
	score  float64 // lower is better
	least  float64 // that of the best fit to the same readings, also of a curve that is of no use
	poor   bool    // no form follows the readings well, so all may be beside their minimum

	starts   [3][]float64 // of all forms fitted beside it, their parameters
	hopeless [3]bool      // forms that were not fitted beside it, since they had no room to come near it
	owed     [3]bool      // those of them whose start is where their fit begins
	straight bool         // toe and line, which left no room for other forms
	freed    float64      // what it promises with the densest reading free, where it is straight
	known    *prospects   // once they are
	others   []candidate  // the best of each other form, where it was fitted too
}

// at returns the curve at x.
func (c *candidate) at(x float64) float64 {
	if c.spline != nil {
		return c.spline.At(x)
	}
	return c.At(x)
}

// base returns the level of the curve far to the left.
func (c *candidate) base() float64 {
	if c.spline != nil {
		return c.spline.Coef[0]
	}
	return c.Base
}

// dof returns the degrees of freedom of the readings; priors are not counted.
func (c candidate) dof(r readings) float64 {
	free := c.k
	if c.spline == nil {
		free = float64(c.Free())
	}
	return float64(r.count()-len(c.drop)) - free
}

// promise returns how much less the sum of squares of the readings d may be for
// another form than for c, and how much less with the densest reading free too. A form
// that adds a direction z to a straight model lowers it by (e z)^2 / z'(I - H)z,
// residuals e and hat matrix H; the directions tried are those of a line that
// bends and of shoulders at several places. A fit that is no guide promises all.
func (c candidate) promise(d readings) (held, freed float64) {
	w := looks.Get().(*look)
	defer looks.Put(w)
	l := c.LeverageIn(&w.leverage, d.BendData)
	if c.Status != fit.Converged || l == nil {
		return math.Inf(1), math.Inf(1)
	}
	e, last := l.Residuals, len(d.X)-1
	densest := 1 / math.Max(1-l.Hat(last, last), 1e-9)
	w.room = slices.Grow(w.room[:0], (1+departures)*(last+1))[:(1+departures)*(last+1)]
	rest, others := w.room[:last+1], w.room[last+1:]
	gain := func(ez, zz float64) float64 {
		if zz > 1e-9 {
			return ez * ez / zz
		}
		return 0
	}
	for _, z := range c.directions(d, others) {
		l.Unfitted(rest, z, last+1)
		ez, zz := vec.Dot(e[:last+1], z), vec.Dot(z, rest)
		held = math.Max(held, gain(ez, zz))
		freed = math.Max(freed, gain(ez-e[last]*rest[last]*densest, zz-rest[last]*rest[last]*densest))
	}
	freed += e[last] * e[last] * densest
	return 1.5 * held, 1.5 * freed // what one direction promises, two may exceed
}

// look is the working memory of promise, and looks those not in use.
type look struct {
	leverage fit.Leverage
	room     []float64
}

var looks = sync.Pool{New: func() any { return new(look) }}

// departures is how many directions other forms depart in.
const departures = 7

// directions returns how other forms depart from c: a line that bends, and shoulders at
// several places. Room is for as many values of each reading.
func (c candidate) directions(d readings, room []float64) (out [departures][]float64) {
	const places = departures - 1
	n := len(d.X)
	last := d.X[n-1]
	for k := range out {
		out[k], room = room[:n:n], room[n:]
		corner := fit.Bend{Gradient: 1, Toe: c.Toe, ToeWidth: c.ToeWidth, Power: 1}
		if k > 0 {
			corner.Toe, corner.ToeWidth = last-(last-c.Toe)*float64(k-1)/places, shoulderWidthPrior.Typical
		}
		for i, x := range d.X {
			s := corner.At(x)
			if out[k][i] = s; k == 0 {
				out[k][i] = s * math.Log(math.Max(s, 1e-9))
			}
		}
	}
	return out
}

// guide tells what sum of squares any form leaves of the readings less one or two more
// than drop, given c that leaves out the wrong ones.
func (r readings) guide(c candidate, drop []int) *fit.Spare {
	d := r.without(drop)
	c.M += d.count() - (r.count() - len(c.drop))
	l := c.Leverage(d.BendData)
	if c.Status != fit.Converged || l == nil {
		return nil
	}
	directions := c.directions(d, make([]float64, departures*len(d.X)))
	s := l.Spare(directions[:])
	return &s
}

// room is what sum of squares a form leaves to first order without some readings, and how
// much less that is than with them; the zero value is unknown.
type room struct{ left, gain float64 }

// much is how many times what it must stay below a form leaves that is not fitted
// without readings, or how many times less than it must it gains. Slips bend a curve, so
// what is told about it is worth less than of one without (see beaten).
const much = 4

// none says whether the form has no room to fall below beat; not of a beat of 0.
func (m room) none(beat float64) bool {
	return beat > 0 && m != room{} && (m.left > much*beat || much*m.gain < m.left+m.gain-beat)
}

// prospects tell to first order what each form leaves of other readings of the strip than
// it was fitted to; those not known are nil.
type prospects [3]struct {
	rss float64
	*fit.Leverage
}

// prospects returns those of c and of the forms fitted beside it.
func (r readings) prospects(c *candidate) *prospects {
	if c.known != nil {
		return c.known
	}
	ps := new(prospects)
	c.known = ps
	add := func(b fit.BendFit) {
		if b.Status == fit.Converged {
			b.M += len(c.drop)
			ps[b.Form].rss, ps[b.Form].Leverage = b.RSS, b.Leverage(r.BendData)
		}
	}
	add(c.BendFit)
	for _, o := range c.others {
		add(o.BendFit)
	}
	return ps
}

// without returns what room each form has without more readings.
func (ps *prospects) without(more []int) (has [3]room) {
	for f, p := range ps {
		if p.Leverage != nil {
			gain := -p.Change(nil, more)
			has[f] = room{p.rss - gain, gain}
		}
	}
	return has
}

// chosen returns the candidate as a curve over the exposures from lo to hi.
func (c candidate) chosen(r readings, lo, hi sensito.LogExposure) chosen {
	out := chosen{rss: c.rss, dof: c.dof(r), drop: c.drop}
	if out.dof > 1 {
		out.dof-- // for the choice of the form
	}
	if c.spline != nil {
		out.model, out.params, out.cov, out.status = modelSpline, c.spline.Params, c.spline.Cov, fit.Converged
		spline := c.spline
		out.vary = func(p []float64, _ Curve) Curve { return splineCurve{Spline: spline.SplineOf(p), lo: lo, hi: hi} }
		return out
	}
	out.model, out.names, out.params, out.cov, out.status = formNames[c.Form], c.Form.Names(), c.Params, c.Cov, c.Status
	form := c.Form
	out.vary = func(p []float64, old Curve) Curve {
		b, ok := old.(*bendCurve)
		if !ok {
			b = new(bendCurve)
		}
		*b = bendCurve{Bend: form.Bend(p), lo: lo, hi: hi}
		return b
	}
	return out
}
