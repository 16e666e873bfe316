package sensito

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
)

func (f *Family) warnApart() {
	var names []string
	for _, m := range f.apart {
		names = append(names, fmt.Sprintf("strip %d (%v)", m.Strip.number, m.Strip.seconds))
	}
	if len(names) > 0 {
		f.warn("other_exposure", "left out of contrast and speed against time, exposed for another time than the %v of the trial: %s",
			f.Trial.exposures.seconds, strings.Join(names, ", "))
	}
}

// Reciprocity returns what is known of the film's long exposures: what the trial
// states or else the law that its strips show (see ReciprocityFromSpeeds), of
// those exposed for different times and developed for one and the same time,
// the time with most of them. It is nil where nothing is stated or tested; the
// error says why a test gives no law.
func (f *Family) Reciprocity() (*Reciprocity, error) {
	if f.Trial.reciprocity != nil {
		return f.stated, f.notStated
	}
	return f.tested, f.noTest
}

// testReciprocity finds the law that strips exposed for other times than the
// trial's show, and what they say of contrast.
func (f *Family) testReciprocity() {
	f.stated, f.notStated = NewReciprocity(f.Trial.reciprocity)
	if len(f.apart) > 0 {
		strips := slices.Concat(f.Strips, f.apart)
		tb := newTable(strips, func(m *Measured) (derived, error) { return m.derived, nil })
		alike := developedAlike(strips)
		f.tested, f.noTest = tb.reciprocity(strips, alike)
		f.warnContrast(tb, strips, alike)
	}
	switch {
	case f.noTest != nil:
		f.warn("reciprocity_untested", "the strips exposed for other times give no law of reciprocity: %v", f.noTest)
	case f.stated != nil && f.tested != nil:
		f.warn("reciprocity_stated", "the reciprocity data stated are used, not the strips exposed for other times%s", against(f.stated, f.tested))
	}
	f.warnLoss()
}

// developedAlike returns the places of the strips of the development time that
// has most exposure times, one of them apart from the trial's; among equals it
// is the one with the longest exposure.
func developedAlike(strips []*Measured) []int {
	groups := map[int][]int{} // by development in whole seconds
	var order []int
	for i, m := range strips {
		at := int(math.Round(60 * float64(m.Minutes())))
		if groups[at] == nil {
			order = append(order, at)
		}
		groups[at] = append(groups[at], i)
	}
	var best []int
	most, longest := 0, Seconds(0)
	for _, at := range order {
		times := map[Seconds]bool{}
		apart, top := false, Seconds(0)
		for _, i := range groups[at] {
			s := strips[i].Strip
			times[s.seconds] = true
			apart, top = apart || s.exposedApart(), max(top, s.seconds)
		}
		if apart && cmp.Or(cmp.Compare(len(times), most), cmp.Compare(top, longest)) > 0 {
			best, most, longest = groups[at], len(times), top
		}
	}
	return best
}

// reciprocity returns the law that the speed points of some of the strips show.
// The error of lamp and shutter counts for each strip anew, since the light of a
// long exposure is made dimmer.
func (tb *table) reciprocity(strips []*Measured, at []int) (*Reciprocity, error) {
	var speeds []SpeedAfter
	for _, i := range at {
		s := strips[i].Strip
		point, sd := tb.rows[i][colSpeedPoint], tb.sd[i][colSpeedPoint]
		if math.IsNaN(point) || math.IsNaN(sd) || s.seconds < shortest {
			continue
		}
		e := Estimate[LogExposure]{Value: LogExposure(point), StdErr: LogExposure(math.Max(sd, leastSD)), DoF: tb.dof}
		e.addCommon(s.trial.exposures.commonSD)
		speeds = append(speeds, SpeedAfter{Seconds: s.seconds, SpeedPoint: e})
	}
	return ReciprocityFromSpeeds(speeds)
}

// warnContrast tells how the contrast of the longest exposures differs from that
// of the shortest ones developed alike, where it does so by more than chance.
func (f *Family) warnContrast(tb *table, strips []*Measured, at []int) {
	seconds := func(i int) Seconds { return strips[i].Strip.seconds }
	byTime := func(a, b int) int { return cmp.Compare(seconds(a), seconds(b)) }
	short, long := seconds(slices.MinFunc(at, byTime)), seconds(slices.MaxFunc(at, byTime))
	for _, q := range []struct {
		column int
		name   string
	}{{colIndex, "contrast index"}, {colGradient, "average gradient"}} {
		tb.unsteady(q.column, developmentScatter)
		mean := func(t Seconds) (v, variance float64) {
			n := 0.0
			for _, i := range at {
				if seconds(i) == t {
					n++
					v += tb.rows[i][q.column]
					variance += tb.sd[i][q.column] * tb.sd[i][q.column]
				}
			}
			return v / n, variance / (n * n)
		}
		a, va := mean(short)
		b, vb := mean(long)
		rise, sd := b-a, math.Sqrt(va+vb)
		if math.IsNaN(rise + sd) {
			continue
		}
		if math.Abs(rise) > studentT(0.95, tb.dof)*sd {
			verb := "raise"
			if rise < 0 {
				verb = "lower"
			}
			f.warn("long_contrast", "long exposures %s contrast: measured %+.2f ±%.2f in %s at %v against %v, developed alike", verb, rise, sd, q.name, long, short)
		}
		return
	}
}

// against says what two laws make of the longest metered time that was tested.
func against(stated, tested *Reciprocity) string {
	pairs := tested.Pairs()
	last := pairs[len(pairs)-1].Metered
	a, errA := stated.Correct(last)
	b, errB := tested.Correct(last)
	if errA != nil || errB != nil {
		return ""
	}
	return fmt.Sprintf("; of a metered %v they make %v, the strips %v", last, a.Corrected, b.Corrected)
}

// warnLoss tells of a loss of speed at the exposure time of the trial itself.
func (f *Family) warnLoss() {
	law, _ := f.Reciprocity()
	t := f.Trial.exposures.seconds
	if law == nil || t <= KeepsSpeed {
		return
	}
	metered, err := law.MeteredFor(t)
	if err != nil || float64(t/metered) < guessedFrom {
		return
	}
	f.warn("speed_after_loss", "the strips were exposed for %v, at which the film has lost %.1f stops of its speed: the index is lower than for short exposures, and times corrected for reciprocity come out so much too long",
		t, math.Log2(float64(t/metered)))
}
