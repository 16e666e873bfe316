package scene

import (
	"fmt"
	"math"
	"slices"
	"strconv"

	"sensito/sensito"
	"sensito/sensito/curve"
)

// What cannot be told at an index that is given, and what would serve.

// mostAt returns the highest index at which the density kept is reached when the film is
// developed for so many minutes; ok is false where the strips do not tell.
func (x *indexTime) mostAt(minutes float64) (index float64, ok bool) {
	const below, above, step = 2.0, 1.0, 0.05 // log H about where the tones land at the film's own index
	own := x.run(x.normal.placement)
	var at []sensito.LogRange
	var around int // places of one run
	for i := range int((below+above)/step) + 1 {
		r, by := own, sensito.LogRange(float64(i)*step-below)
		r.From, r.To = r.From+by, r.To+by
		at, around = append(at, r.around()...), len(r.around())
	}
	n, err := x.normal.negative(at)
	if err != nil {
		return 0, false
	}
	nets, wanted := n.netsAt(n.table.Rows, minutes), x.wanted(minutes, x.film.fogOf(x.film.table.Rows))
	last, _ := own.of(nets)
	for i := 1; i*around < len(at); i++ {
		kept, _ := own.of(nets[i*around:])
		if last < wanted && kept >= wanted {
			lands := float64(own.To) - below + step*(float64(i-1)+(wanted-last)/(kept-last))
			more := lands - float64(x.run(x.placed(minutes)).To) // exposure than at the index given
			return float64(x.given.Index) * math.Pow(10, -more), true
		}
		last = kept
	}
	return 0, false
}

// figures returns a number to two figures, rounded down.
func figures(v float64) string {
	unit := math.Pow(10, math.Floor(math.Log10(v))-1)
	return strconv.FormatFloat(math.Floor(v/unit)*unit, 'f', max(0, -int(math.Floor(math.Log10(unit)+1e-9))), 64)
}

// keptName names what is kept, and its density.
func (x *indexTime) keptName(density float64) (name, of string) {
	switch x.given.Keep {
	case KeepRange:
		return "the density range of the scene", fmt.Sprintf("a density range of %.2f", density)
	case KeepMetered:
		return "the net density of the metered tone", fmt.Sprintf("a net density of %.2f at the metered tone", density)
	}
	return "the net density of the lightest tone", fmt.Sprintf("a net density of %.2f at the lightest tone", density)
}

// exposed says at which index the film is exposed.
func (x *indexTime) exposed() string {
	return fmt.Sprintf("exposed at EI %g", math.Round(100*float64(x.given.Index))/100)
}

// tooLong says that no time gives the density kept, or that the strips do not tell one,
// and what serves: another index, or to keep something else.
func (x *indexTime) tooLong(p *Answer, longest float64) error {
	instead := x.instead(longest, p.exposure)
	p.placement = x.placed(longest)
	tb, err := x.ask(p, longest)
	if err != nil { // the tone lies at the foot of the toe at every time
		_, of := x.keptName(x.density)
		return &sensito.Unanswerable{
			Reason: fmt.Sprintf("%s, %s, cannot be reached: it lies where the strips hardly gain density with time", of, x.exposed()),
			Hint:   eitherOf(instead, "use a more active developer"),
		}
	}
	kept := x.alone.answer
	s := kept.sought(tb, kept.Growth)
	if !x.scans() {
		if kept.over.fromNet {
			s.above = float64(curve.SpeedPointDensity)
		}
		var of string
		s.name, of = x.keptName(s.aim + s.above)
		s.wish = of + ", " + x.exposed() + ","
	}
	s.instead = instead
	return s.unreached(kept.Growth)
}

// instead says what serves where no time gives the density kept, exposed only so surely;
// "" for nothing.
func (x *indexTime) instead(longest float64, unsure unsureExposure) string {
	var serves []string
	for _, keep := range AllKept[slices.Index(AllKept, x.given.Keep)+1:] {
		if o := x.other(keep, 1, unsure); o.Minutes != 0 {
			serves = append(serves, fmt.Sprintf("keep %s instead, for which %s serves", keptNames[keep], o.Minutes.Clock(5)))
			break
		}
	}
	if most, ok := x.mostAt(longest); ok && !x.given.Exposed {
		serves = append(serves, fmt.Sprintf("expose at EI %s at most, for which the longest time tested, %s, serves", figures(most), sensito.Minutes(longest).Clock(1)))
	}
	return eitherOf(serves...)
}

// keptNames are what can be kept, in words.
var keptNames = map[Kept]string{KeepHighlight: "the highlight", KeepMetered: "the metered tone", KeepRange: "the density range"}

// tooShort says that the time is shorter than the strips tell.
func (x *indexTime) tooShort(shortest float64) error {
	_, of := x.keptName(x.density)
	return &sensito.Unanswerable{
		Reason: fmt.Sprintf("for %s, %s, development is shorter than %s, a quarter of the shortest time tested", of, x.exposed(), sensito.Minutes(shortest/farthest).Clock(1)),
		Hint:   fmt.Sprintf("develop a strip for about %s, or in a higher dilution", sensito.Minutes(shortest/2).Clock(5)),
	}
}

// beyondStrips says that the film gets more exposure than the strips tell of.
func (x *indexTime) beyondStrips(p *Answer) error {
	reach := sensito.LogRange(math.Inf(1)) // of the strip that reaches least
	for _, m := range p.Family.Strips {
		if point, err := placedAt(p.Family, m, m.Fit.Curve); err == nil {
			_, hi := m.Fit.Curve.Domain()
			reach = min(reach, hi.Sub(point)+Reach)
		}
	}
	scene := fmt.Sprintf("a scene of %s stops, %s,", stopsText(p.Scene.Stops), x.exposed())
	if more := p.RunEnd() - reach; more > 0 && !math.IsInf(float64(more), 0) {
		return &sensito.Unanswerable{
			Reason: fmt.Sprintf("%s needs strips exposed to %.2f log H above the speed point, which not all of them can be followed to", scene, float64(p.RunEnd())),
			Hint:   fmt.Sprintf("expose the strips %.1f log H (%.1f stops) more", math.Max(0.1, float64(more)), math.Max(0.3, more.Stops())),
		}
	}
	return &sensito.Unanswerable{
		Reason: scene + " has tones that are kept below the faintest step of the strips",
		Hint:   "expose the strips less, or use a wedge that begins fainter, so that the toe is within the steps",
	}
}
