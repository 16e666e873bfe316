package sensito

import (
	"fmt"
	"math"
	"slices"

	"sensito/fit"
)

// What a scene cannot be told, and what would help.

// tooShort says that too few strips reach over the scene, how long a scene they
// do answer, and how to reach further.
func (p *Plan) tooShort(reaching int) error {
	f := p.Family
	var ends []float64 // how far above the speed point each strip reaches
	room := math.Inf(1)
	for _, m := range f.Strips {
		point, err := f.placedAt(m, m.Fit.Curve)
		if err != nil {
			continue
		}
		lo, hi := m.Fit.Curve.Domain()
		ends, room = append(ends, float64(hi.Sub(point))), math.Min(room, float64(point.Sub(lo)))
	}
	u := &Unanswerable{Reason: fmt.Sprintf("a scene of %s stops needs strips exposed to %.2f log H above the speed point, and %d of %d reach there",
		stopsText(p.Scene.Stops), float64(p.end()), reaching, len(f.Strips))}
	if err := f.tooMuchLight(); err != nil {
		return err
	}
	if len(ends) < 2 {
		u.Hint = "expose two strips or more so that their speed point lies within the wedge, three to six steps from its faint end"
		return u
	}
	slices.Sort(ends)
	second := ends[len(ends)-2]
	more := float64(p.end()) - second
	const toe = 0.45 // log H of wedge that should stay below the speed point, common practice, no source
	if room-more >= toe {
		u.Hint = fmt.Sprintf("expose the strips %.1f log H (%.1f stops) more", more, LogRange(more).Stops())
	} else {
		u.Hint = fmt.Sprintf("use a wedge that is %.1f log H longer, or two exposures of it on one strip", math.Max(more, 0.1))
	}
	if stops := f.longestScene(p.Scene, LogRange(second)+sceneReach); stops >= 1 {
		u.Hint += fmt.Sprintf("; these strips answer scenes of up to %s stops", stopsText(stops))
	}
	return u
}

// tooMuchLight returns an error, Unanswerable, where all strips but one do not
// show their speed point because they were exposed too much.
func (f *Family) tooMuchLight() error {
	dark := 0
	for _, m := range f.Strips {
		if m.overexposed() {
			dark++
		}
	}
	if dark == 0 || dark <= len(f.Strips)-2 {
		return nil
	}
	return &Unanswerable{Reason: fmt.Sprintf("%d of %d strips do not show their speed point: they are denser already at the faintest step", dark, len(f.Strips)),
		Hint: "expose strips less, or under a wedge whose dark end is denser, so that the speed point lies three to six steps inside"}
}

// overexposed says whether the strip does not show its speed point because its
// faintest step is denser already.
func (m *Measured) overexposed() bool {
	c := m.Fit.Curve
	lo, _ := c.Domain()
	point, err := SpeedPoint(c)
	return (err != nil || point < lo.Add(-reach)) && c.Density(lo).Above(BaseFog(c)) > SpeedPointDensity
}

// longestScene returns the longest scene, to a tenth of a stop, whose lightest
// tone lands no further above the speed point than at; 0 where there is none.
func (f *Family) longestScene(s Scene, at LogRange) float64 {
	for tenths := math.Floor(10 * s.Stops); tenths >= 10; tenths-- {
		s.Stops = tenths / 10
		if s.Check() == nil && s.Placement().run().to <= at {
			return s.Stops
		}
	}
	return 0
}

func stopsText(stops float64) string { return fmt.Sprintf("%g", math.Round(100*stops)/100) }

// leastElasticity is how many per cent contrast must grow for each per cent of
// time, or time is no means to choose it: at 0.15 twice the time gives 11 % more.
// By first order it is passed where development is 95 % complete (limitShare).
const leastElasticity = 0.15

// elasticity returns d ln y / d ln t over the times, and the upper end of its
// interval at 95 %, one-sided; NaN where the times are one.
func elasticity(t, y, sd []float64) (slope, upper float64) {
	if len(distinct(t)) < 2 {
		return math.NaN(), math.NaN()
	}
	share := make([]float64, len(y))
	for i := range y {
		share[i] = sd[i] / y[i]
	}
	line := trendOf(logs(t), logs(y), share, 1)
	var mean, square, weights float64
	for i := range t {
		w := 1 / (share[i] * share[i])
		mean, weights = mean+w*math.Log(t[i]), weights+w
	}
	mean /= weights
	for i := range t {
		square += math.Pow(math.Log(t[i])-mean, 2) / (share[i] * share[i])
	}
	scatter := line.scatter
	if line.dof == 0 {
		scatter = uncheckedScatter
	}
	return line.coef[1], line.coef[1] + studentT(0.90, math.Inf(1))*scatter/math.Sqrt(square)
}

// noControl says whether a contrast that grows so with time shows that time does
// not control it.
func noControl(t, y, sd []float64) bool {
	if slices.Min(y) <= 0 {
		return false
	}
	_, upper := elasticity(t, y, sd)
	return upper < leastElasticity
}

// lies says between what values something lies, or that it stays at one.
func lies(low, high float64) string {
	if fmt.Sprintf("%.2f", low) == fmt.Sprintf("%.2f", high) {
		return fmt.Sprintf("stays at %.2f", low)
	}
	return fmt.Sprintf("only lies between %.2f and %.2f", low, high)
}

// otherControls is what changes contrast where time does not.
const otherControls = "dilution, temperature or agitation change contrast: test strips with one of them changed"

// timeIsControl refuses a time where time hardly moves the density range: two
// baths, stand development, or development that has ended.
func (p *Plan) timeIsControl(tb *table) error {
	t, y, sd := tb.column(sceneRise, tb.rows)
	if len(t) < 2 || !noControl(t, y, sd) {
		return nil
	}
	shortest, longest := Minutes(slices.Min(t)), Minutes(slices.Max(t))
	low, high := slices.Min(y), slices.Max(y)
	what := "the density range of this scene"
	if p.Scene.ScanMax != 0 {
		what = "the density above net 0.10 at the lightest tone"
	}
	u := &Unanswerable{
		Reason: fmt.Sprintf("time is no control here: at times from %s to %s %s %s, where %.2f is wanted",
			shortest.Clock(1), longest.Clock(1), what, lies(low, high), float64(p.aim)),
		Hint: otherControls,
	}
	if g := float64(p.aim); g > low-0.02 && g < high+0.02 {
		u.Hint = "develop for a time that was tested, which gives what is wanted; " + otherControls
	} else if c, ok := p.Scene.printFor(NetDensity((low + high) / 2)); ok {
		u.Hint += "; as it is, such a negative suits " + c.String()
	}
	u.Hint += fmt.Sprintf("; a strip at %s would show whether development has simply ended", (shortest / 2).Clock(5))
	return u
}

// reachable refuses an aim that development cannot reach, or of which the strips
// do not tell whether it does.
func (p *Plan) reachable(tb *table, g growth) error {
	aim := float64(p.aim)
	t, y, sd := tb.column(sceneRise, tb.rows)
	longest := slices.Max(t)
	if aim < g.At(1.3*longest) {
		return nil
	}
	f, err := fit.FitKinetics(t, y, each(sd, func(v float64) float64 { return g.scatter * v }), g.model == firstOrderInduction)
	if err != nil {
		return err
	}
	const level = 0.95
	low, high := f.LimitInterval(level)
	earliest, _ := f.TimeInterval(aim, level)
	hint := fmt.Sprintf("aim at a density range of %.2f, which %s gives (a paper of shorter range)", g.At(longest), Minutes(longest).Clock(1))
	if advice := p.Scene.advice(g, p.aim, slices.Min(t), longest); advice != "" {
		hint += ": " + advice
	}
	if math.IsInf(earliest, 1) {
		return &Unanswerable{
			Reason: fmt.Sprintf("a density range of %.2f over the %.2f log H of this scene cannot be reached: with this developer it ends between %.2f and %.2f",
				aim, float64(p.FilmRange), low, high),
			Hint: hint + "; or use a more active developer",
		}
	}
	if told, err := g.Time(aim); err == nil && told <= farthest*longest {
		return nil
	}
	ends := fmt.Sprintf("between %.2f and %.2f", low, high)
	if math.IsInf(high, 1) {
		ends = fmt.Sprintf("somewhere above %.2f", low)
	}
	return &Unanswerable{
		Reason: fmt.Sprintf("whether a density range of %.2f over the %.2f log H of this scene can be reached is not known: it takes longer than %s, and it ends %s",
			aim, float64(p.FilmRange), Minutes(earliest).Clock(5), ends),
		Hint: fmt.Sprintf("develop a strip for about %s; or %s", Minutes(math.Max(1.5*longest, math.Min(earliest, 3*longest))).Clock(30), hint),
	}
}

// farthest is how many times the longest tested time an answer may lie beyond
// it; further out the law says nothing of use.
const farthest = 4
