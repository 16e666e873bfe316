package sensito

import (
	"fmt"
	"math"
	"slices"
	"strings"

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
// TestTimeIsNoControl holds it.
const leastElasticity = 0.15

// mostElasticity returns the upper end of the interval, 95 % and one-sided, of
// d ln y / d ln t over the times; NaN where the times are one.
func mostElasticity(t, y, sd []float64) float64 {
	if len(distinct(t)) < 2 {
		return math.NaN()
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
	return line.coef[1] + studentT(0.90, math.Inf(1))*scatter/math.Sqrt(square)
}

// noControl says whether a contrast that grows so with time shows that time does
// not control it: it hardly grows, and strips do not differ either, as they would
// where some were mixed up.
func noControl(t, y, sd []float64) bool {
	low, high := slices.Min(y), slices.Max(y)
	if low <= 0 {
		return false
	}
	const most = 3 // standard deviations
	unsure := 0.0
	for i := range y {
		unsure = math.Max(unsure, most*sd[i]/y[i])
	}
	if math.Log(high/low) > leastElasticity*math.Log(slices.Max(t)/slices.Min(t))+unsure {
		return false
	}
	return mostElasticity(t, y, sd) < leastElasticity
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

// sought is a density that is wanted of a development time, and what the strips
// gain of it.
type sought struct {
	scene    Scene
	name     string // of the density
	wish     string // for it
	aim      float64
	above    float64 // of what the photographer gave: for a scan, base plus fog and net 0.10
	t, y, sd []float64
}

// sought returns what is wanted of the time of the plan. The times of strips in
// the table are as g has them.
func (p *Plan) sought(tb *table, g growth) sought {
	s := sought{scene: p.Scene, aim: float64(p.aim)}
	s.t, s.y, s.sd = tb.timed(sceneRise, g)
	s.name, s.wish = p.wish(s.aim)
	return s.scanned()
}

// wish names the density range of the plan, and an aim for it.
func (p *Plan) wish(aim float64) (name, wish string) {
	return "the density range of this scene", fmt.Sprintf("a density range of %.2f over the %.2f log H of this scene", aim, float64(p.FilmRange))
}

// scanned returns it in the words of a scan where it is for one.
func (s sought) scanned() sought {
	if s.scene.ScanMax != 0 {
		s.above = float64(s.scene.ScanMax) - s.aim
		s.name = "the density of the lightest tone"
		s.wish = fmt.Sprintf("a density of %.2f at the lightest tone", float64(s.scene.ScanMax))
	}
	return s
}

// underControl refuses a time where time hardly moves the density: two baths,
// stand development, or development that has ended.
func (s sought) underControl() error {
	if len(s.t) < 2 || !noControl(s.t, s.y, s.sd) {
		return nil
	}
	shortest, longest := Minutes(slices.Min(s.t)), Minutes(slices.Max(s.t))
	low, high := slices.Min(s.y), slices.Max(s.y)
	u := &Unanswerable{
		Reason: fmt.Sprintf("time is no control here: at times from %s to %s %s %s, where %.2f is wanted",
			shortest.Clock(1), longest.Clock(1), s.name, lies(low+s.above, high+s.above), s.aim+s.above),
		Hint: otherControls,
	}
	if g := s.aim; g > low-0.02 && g < high+0.02 {
		u.Hint = "develop for a time that was tested, which gives what is wanted; " + otherControls
	} else if c, ok := s.scene.printFor(NetDensity((low + high) / 2)); ok {
		u.Hint += "; as it is, such a negative suits " + c.String()
	}
	u.Hint += fmt.Sprintf("; a strip at %s would show whether development has simply ended", (shortest / 2).Clock(5))
	return u
}

// reached refuses a density that development by the law g does not reach, or of
// which the strips do not tell whether it does.
func (s sought) reached(g growth) error {
	if told, err := g.Time(s.aim); err == nil && told <= farthest*slices.Max(s.t) {
		return nil
	}
	return s.unreached(g)
}

// unreached says that development by the law g does not reach the density, or
// that the strips do not tell whether it does.
func (s sought) unreached(g growth) error {
	longest := slices.Max(s.t)
	f, err := fit.FitKinetics(s.t, s.y, each(s.sd, func(v float64) float64 { return g.scatter * v }), g.model == firstOrderInduction)
	if err != nil {
		return noGrowth(s.t, s.y)
	}
	const level = 0.95
	low, high := f.LimitInterval(level)
	earliest, _ := f.TimeInterval(s.aim, level)
	lower := s.lower(g, longest)
	if math.IsInf(earliest, 1) {
		return &Unanswerable{
			Reason: fmt.Sprintf("%s cannot be reached: with this developer it ends between %.2f and %.2f", s.wish, low+s.above, high+s.above),
			Hint:   eitherOf(lower, "use a more active developer"),
		}
	}
	ends := fmt.Sprintf("between %.2f and %.2f", low+s.above, high+s.above)
	if math.IsInf(high, 1) {
		ends = fmt.Sprintf("somewhere above %.2f", low+s.above)
	}
	return &Unanswerable{
		Reason: fmt.Sprintf("whether %s can be reached is not known: it takes longer than %s, and it ends %s", s.wish, Minutes(earliest).Clock(5), ends),
		Hint:   eitherOf(fmt.Sprintf("develop a strip for about %s", Minutes(math.Max(1.5*longest, math.Min(earliest, 3*longest))).Clock(30)), lower),
	}
}

// eitherOf joins what could be done instead, "" left out.
func eitherOf(hints ...string) string {
	return strings.Join(slices.DeleteFunc(hints, func(h string) bool { return h == "" }), "; or ")
}

// lower says in words what could be aimed at instead; "" where that would be less
// than any scene may ask for.
func (s sought) lower(g growth, longest float64) string {
	gives := g.At(longest)
	if s.scene.ScanMax != 0 {
		if gives+s.above < float64(leastScanMax) {
			return ""
		}
		return fmt.Sprintf("let the lightest tone reach %.2f, which %s gives", gives+s.above, Minutes(longest).Clock(1))
	}
	if gives < float64(NegativeRange(LogRange(leastDensityRange), s.scene.Callier)) {
		return ""
	}
	text := fmt.Sprintf("aim at a density range of %.2f, which %s gives (a paper of shorter range)", gives, Minutes(longest).Clock(1))
	if advice := s.scene.advice(g, NetDensity(s.aim), slices.Min(s.t), longest); advice != "" {
		text += ": " + advice
	}
	return text
}

// farthest is how many times the longest tested time an answer may lie beyond
// it; further out the law says nothing of use.
const farthest = 4

// noGrowth says that what the strips show does not grow with time.
func noGrowth(t, y []float64) error {
	shortest := Minutes(slices.Min(t))
	return &Unanswerable{
		Reason: fmt.Sprintf("the strips do not show contrast grow with time: at times from %s to %s it lies between %.2f and %.2f, the longer times not above the shorter",
			shortest.Clock(1), Minutes(slices.Max(t)).Clock(1), slices.Min(y), slices.Max(y)),
		Hint: fmt.Sprintf("check which time belongs to which strip; if they are right, develop a strip for %s, or change something else: %s", (shortest / 2).Clock(5), otherControls),
	}
}
