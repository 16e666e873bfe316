package scene

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"sensito/fit"
	"sensito/sensito"
	"sensito/sensito/curve"
	"sensito/sensito/development"
	"sensito/sensito/paper"
)

// What a scene cannot be told, and what would help.

// tooShort says that too few strips reach over the scene, how long a scene they
// do answer, and how to reach further.
func (p *Answer) tooShort(reaching int) error {
	f := p.Family
	var ends []float64 // how far above the speed point each strip reaches
	room := math.Inf(1)
	for _, m := range f.Strips {
		point, err := placedAt(f, m, m.Fit.Curve)
		if err != nil {
			continue
		}
		lo, hi := m.Fit.Curve.Domain()
		ends, room = append(ends, float64(hi.Sub(point))), math.Min(room, float64(point.Sub(lo)))
	}
	u := &sensito.Unanswerable{Reason: fmt.Sprintf("a scene of %s stops needs strips exposed to %.2f log H above the speed point, and %d of %d reach there",
		stopsText(p.Scene.Stops), float64(p.RunEnd()), reaching, len(f.Strips))}
	if err := f.TooMuchLight(); err != nil {
		return err
	}
	need := min(2, len(f.Strips))
	if len(ends) < need {
		u.Hint = "expose two strips or more so that their speed point lies within the wedge, three to six steps from its faint end"
		return u
	}
	slices.Sort(ends)
	reach := ends[len(ends)-need]
	more := float64(p.RunEnd()) - reach
	const toe = 0.45 // log H of wedge that should stay below the speed point, common practice, no source
	if room-more >= toe {
		u.Hint = fmt.Sprintf("expose the strips %.1f log H (%.1f stops) more", more, sensito.LogRange(more).Stops())
	} else {
		u.Hint = fmt.Sprintf("use a wedge that is %.1f log H longer, or two exposures of it on one strip", math.Max(more, 0.1))
	}
	if stops := longestScene(p.Scene, sensito.LogRange(reach)+Reach); stops >= 1 {
		u.Hint += fmt.Sprintf("; these strips answer scenes of up to %s stops", stopsText(stops))
	}
	return u
}

// longestScene returns the longest scene, to a tenth of a stop, whose lightest
// tone lands no further above the speed point than at; 0 where there is none.
func longestScene(s Scene, at sensito.LogRange) float64 {
	for tenths := math.Floor(10 * s.Stops); tenths >= 10; tenths-- {
		s.Stops = tenths / 10
		if s.Check() == nil && s.Placement().Run().To <= at {
			return s.Stops
		}
	}
	return 0
}

func stopsText(stops float64) string { return fmt.Sprintf("%g", math.Round(100*stops)/100) }

// sought is a density that is wanted of a development time, and what the strips
// gain of it.
type sought struct {
	scene    Scene
	name     string // of the density
	wish     string // for it
	aim      float64
	above    float64 // of what the photographer gave: for a scan, base plus fog and net 0.10
	instead  string  // what serves in its place, where that is no lower aim; "" otherwise
	t, y, sd []float64
}

// sought returns what is wanted of the time of the answer. The times of strips in
// the table are as g has them.
func (p *Answer) sought(tb *development.Table, g development.Growth) sought {
	s := sought{scene: p.Scene, aim: float64(p.Aim)}
	s.t, s.y, s.sd = tb.Timed(ColumnRise, g)
	s.name, s.wish = p.wish(s.aim)
	return s.scanned()
}

// wish names the density range of the answer, and an aim for it.
func (p *Answer) wish(aim float64) (name, wish string) {
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

// UnderControl returns an error, Unanswerable, where the strips of a table with
// ColumnRise show that time hardly moves the density: two baths, stand development,
// or development that has ended.
func (p *Answer) UnderControl(tb *development.Table) error {
	s := p.sought(tb, development.Growth{})
	off := func(m *curve.Measured) bool { return !p.onShoulderOf(m) }
	if err := s.underControl(); err != nil || len(s.t) < 2 || !development.Falls(s.t, s.y, s.sd) || slices.ContainsFunc(p.Family.Strips, off) {
		return err
	}
	return development.Shouldered(s.name, s.t, fit.Each(s.y, func(v float64) float64 { return v + s.above }), p.placement.Lift(p.placement.Darkest))
}

func (s sought) underControl() error {
	if len(s.t) < 2 || !development.NoControl(s.t, s.y, s.sd) {
		return nil
	}
	shortest, longest := sensito.Minutes(slices.Min(s.t)), sensito.Minutes(slices.Max(s.t))
	low, high := slices.Min(s.y), slices.Max(s.y)
	u := &sensito.Unanswerable{
		Reason: fmt.Sprintf("time is no control here: at times from %s to %s %s %s, where %.2f is wanted",
			shortest.Clock(1), longest.Clock(1), s.name, development.SpanText(low+s.above, high+s.above), s.aim+s.above),
		Hint: development.OtherControls,
	}
	switch print := s.scene.suited(sensito.NetDensity((low + high) / 2)); {
	case s.aim > low-0.02 && s.aim < high+0.02:
		u.Hint = "develop for a time that was tested, which gives what is wanted; " + development.OtherControls
	case print.print == nil:
	case print.fits || print.more != "":
		u.Hint += "; as it is, such a negative suits " + print.print.String()
	default:
		u.Hint += "; as it is, no grade prints such a negative: the nearest is " + print.print.String()
	}
	u.Hint += fmt.Sprintf("; a strip at %s would show whether development has simply ended", (shortest / 2).Clock(5))
	return u
}

// reached refuses a density that development by the law g does not reach, or of
// which the strips do not tell whether it does.
func (s sought) reached(g development.Growth) error {
	if told, err := g.Time(s.aim); err == nil && told <= farthest*slices.Max(s.t) {
		return nil
	}
	return s.unreached(g)
}

// unreached says that development by the law g does not reach the density, or
// that the strips do not tell whether it does.
func (s sought) unreached(g development.Growth) error {
	longest := slices.Max(s.t)
	sd := fit.Each(s.sd, func(v float64) float64 { return g.Scatter * v })
	f, err := g.Refit(s.t, s.y, sd)
	if err != nil {
		return development.NoGrowth(s.t, s.y)
	}
	const level = 0.95
	low, high := f.LimitInterval(level)
	earliest, _ := f.TimeInterval(s.aim, level)
	later, end := development.Slowest(s.t, s.y, sd, f.RSS, s.aim, farthest*longest)
	next, high := math.Min(earliest, later), math.Max(high, end) // next: when it may be reached
	lower := s.lower(g, longest)
	if math.IsInf(next, 1) {
		return &sensito.Unanswerable{
			Reason: fmt.Sprintf("%s cannot be reached: with this developer it ends between %.2f and %.2f", s.wish, low+s.above, high+s.above),
			Hint:   eitherOf(lower, "use a more active developer"),
		}
	}
	ends := fmt.Sprintf("between %.2f and %.2f", low+s.above, high+s.above)
	if math.IsInf(high, 1) {
		ends = fmt.Sprintf("somewhere above %.2f", low+s.above)
	}
	if next < earliest {
		earliest = longest
	}
	return &sensito.Unanswerable{
		Reason: fmt.Sprintf("whether %s can be reached is not known: it takes longer than %s, and it ends %s", s.wish, sensito.Minutes(earliest).Clock(5), ends),
		Hint:   eitherOf(fmt.Sprintf("develop a strip for about %s", sensito.Minutes(math.Max(1.5*longest, math.Min(next, 3*longest))).Clock(30)), lower),
	}
}

// eitherOf joins what could be done instead, "" left out.
func eitherOf(hints ...string) string {
	return strings.Join(slices.DeleteFunc(hints, func(h string) bool { return h == "" }), "; or ")
}

// lower says in words what could be aimed at instead; "" where that would be less
// than any scene may ask for.
func (s sought) lower(g development.Growth, longest float64) string {
	if s.instead != "" {
		return s.instead
	}
	gives := g.At(longest)
	if s.scene.ScanMax != 0 {
		if gives+s.above < float64(leastScanMax) {
			return ""
		}
		return fmt.Sprintf("let the lightest tone reach %.2f, which %s gives", gives+s.above, sensito.Minutes(longest).Clock(1))
	}
	if gives < float64(paper.NegativeRange(sensito.LogRange(leastDensityRange), s.scene.Callier)) {
		return ""
	}
	paperFor := "a paper of shorter range"
	if print := s.scene.suited(sensito.NetDensity(gives)); !print.fits && float64(print.paperRange) < print.low {
		paperFor = "for a scan: no grade is so hard"
	}
	text := fmt.Sprintf("aim at a density range of %.2f, which %s gives (%s)", gives, sensito.Minutes(longest).Clock(1), paperFor)
	if advice := s.scene.advice(g, sensito.NetDensity(s.aim), slices.Min(s.t), longest); advice != "" {
		text += ": " + advice
	}
	return text
}

// farthest is how many times the longest tested time an answer may lie beyond
// it; further out the law says nothing of use.
const farthest = 4
