package entry

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"sensito/sensito"
	"sensito/sensito/curve"
)

// others is what the complete strips of a trial tell of another one of the same
// film, exposure and bath.
type others struct {
	of     string            // the strips, as text
	strips []*curve.Measured // that share a shape, by rising time; nil where fewer than two do
}

// othersOf returns what the strips of a trial other than number tell of strip s.
func othersOf(t *sensito.Trial, s sensito.StripSpec, number int) *others {
	return (*others)(nil).at(t, s, number)
}

// at returns what the strips of another state of the trial tell, measured again only
// where they have changed.
func (o *others) at(t *sensito.Trial, s sensito.StripSpec, number int) *others {
	spec := t.Spec()
	spec.Strips, spec.Done = likeStrip(t, s, number), nil
	of := fmt.Sprintf("%+v", spec.Strips)
	if o != nil && o.of == of {
		return o
	}
	o = &others{of: of}
	if len(spec.Strips) < 2 {
		return o
	}
	complete, err := sensito.NewTrial(spec)
	if err != nil {
		return o
	}
	ms, _ := curve.MeasureStrips(complete, curve.MeasureOptions{})
	ms = slices.DeleteFunc(ms, func(m *curve.Measured) bool { return m == nil || m.Fit.Together == nil })
	reverses := slices.ContainsFunc(ms, func(m *curve.Measured) bool { return len(m.Fit.Reversed) > 0 }) // as no shape does
	if len(ms) >= 2 && !reverses {
		slices.SortFunc(ms, func(a, b *curve.Measured) int { return cmp.Compare(a.Strip.Minutes(), b.Strip.Minutes()) })
		o.strips = ms
	}
	return o
}

// mostOthers is how many strips are measured together, the nearest in time: more tell
// little more, and this many take 30 ms (BenchmarkExpectByShape).
const mostOthers = 12

// likeStrip returns the complete strips of film that were exposed and developed as
// strip s, the one of the number, but for the time: mostOthers at most.
func likeStrip(t *sensito.Trial, s sensito.StripSpec, number int) []sensito.StripSpec {
	strips := t.Strips()
	if t.Material() != sensito.FilmMaterial || number < 1 || number > len(strips) || strips[number-1].ExposedApart() || !(s.Minutes > 0) {
		return nil
	}
	var out []sensito.StripSpec
	for _, o := range strips {
		if o.Number() != number && tells(o) && !o.ExposedApart() && o.Minutes() > 0 && sensito.SameProcess(o.Process(), strips[number-1].Process()) {
			out = append(out, o.Spec())
		}
	}
	away := func(o sensito.StripSpec) float64 { return math.Abs(math.Log(float64(o.Minutes / s.Minutes))) }
	slices.SortStableFunc(out, func(a, b sensito.StripSpec) int { return cmp.Compare(away(a), away(b)) })
	return out[:min(len(out), mostOthers)]
}

// expect is Expect with what the other strips tell.
func (o *others) expect(t *sensito.Trial, s sensito.StripSpec, number, step int) (e Expectation, ok bool) {
	if step < 1 || step > t.Exposures().Len() {
		return e, false
	}
	e.Density = o.course(t, s, number).expect(step)
	return e.asRead(t.Reading()), e.Density.StdErr <= useful
}

// doubts is Doubts with what the other strips tell.
func (o *others) doubts(t *sensito.Trial, s sensito.StripSpec, number, step int) []int {
	if step < 1 || step > t.Exposures().Len() {
		return nil
	}
	c := o.course(t, s, number)
	k := c.known(c.x[step-1], 0)
	slices.Sort(k.doubted)
	return k.doubted
}

// course returns the course of strip s.
func (o *others) course(t *sensito.Trial, s sensito.StripSpec, number int) *course {
	c := courseOf(t, s)
	if o.strips == nil {
		c.beside(t, s, number)
	} else {
		c.follow(o.strips, t, s)
	}
	return c
}

// Where strips share a shape: how much less another departs from it than from a
// straight line, if it is of their film (besideAnother if not), and by how much its
// place differs from what theirs lead to expect, in log H (TestBlindExpectByShape).
const (
	besideFilm = 0.05
	placeSD    = 0.03
)

// follow makes the course lean on strips that share a shape, two or more by rising
// time: on those of the next shorter and the next longer time, and beyond all on the
// nearest.
func (c *course) follow(strips []*curve.Measured, t *sensito.Trial, s sensito.StripSpec) {
	longer := slices.IndexFunc(strips, func(m *curve.Measured) bool { return m.Strip.Minutes() >= s.Minutes })
	if longer < 0 {
		longer = len(strips) - 1
	}
	a, b := strips[max(longer-1, 0)], strips[longer]
	ln := func(m *curve.Measured) float64 { return math.Log(float64(s.Minutes / m.Strip.Minutes())) }
	share, away := 0.0, 0.0
	switch {
	case ln(b) > 0: // longer than all
		share, away = 1, ln(b)
	case ln(a) < 0:
		away = ln(a)
	case ln(a) > ln(b):
		share = ln(a) / (ln(a) - ln(b))
	}
	gain := math.Exp(gainPower * away)
	factor := math.Hypot(gainSD, gainSDPerLnMin*away)
	between := func(of func(curve.Curve) float64) float64 {
		return (1-share)*of(a.Fit.Curve) + share*of(b.Fit.Curve)
	}
	base := between(func(f curve.Curve) float64 { return float64(curve.BaseFog(f)) })
	first := slices.Min(t.Exposures().LogH())
	for _, x := range c.x {
		h := first.Add(sensito.LogRange(x))
		n := gain * math.Max(0, between(func(f curve.Curve) float64 { return float64(f.Density(h)) })-base)
		slope := gain * between(func(f curve.Curve) float64 { return f.Slope(h) })
		c.other, c.own = append(c.other, n), append(c.own, []float64{factor * n, placeSD * slope})
	}
	if math.IsInf(c.lowest, -1) {
		c.start = base
	}
	c.startSD = besideStartSD
	c.slopeSD *= besideAnother
	c.follows = besideFilm / besideAnother
}
