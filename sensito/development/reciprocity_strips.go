package development

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"sensito/fit"
	"sensito/sensito"
	"sensito/sensito/camera"
	"sensito/sensito/curve"
)

func (f *Family) warnApart() {
	var names []string
	for _, m := range f.apart {
		names = append(names, fmt.Sprintf("strip %d (%v)", m.Strip.Number(), m.Strip.Seconds()))
	}
	if len(names) > 0 {
		f.Warnings.Add("other_exposure/2", f.Trial.Exposures().Seconds(), strings.Join(names, ", "))
	}
}

// Reciprocity returns what is known of the film's long exposures: what the trial
// states or else the law that its strips show (see ReciprocityFromSpeeds), of
// those exposed for different times and developed for one and the same time,
// the time with most of them. It is nil where nothing is stated or tested; the
// error says why a test gives no law.
func (f *Family) Reciprocity() (*camera.Reciprocity, error) {
	if f.Trial.Reciprocity() != nil {
		return f.stated, f.notStated
	}
	return f.tested, f.noTest
}

// testReciprocity finds the law that strips exposed for other times than the
// trial's show, and what they say of contrast.
func (f *Family) testReciprocity() {
	f.stated, f.notStated = camera.NewReciprocity(f.Trial.Reciprocity())
	if len(f.apart) > 0 {
		strips := slices.Concat(f.Strips, f.apart)
		tb := NewTable(strips, func(m *curve.Measured) (fit.Derived, error) { return m.Derived, nil })
		alike := developedAlike(strips)
		f.tested, f.noTest = tb.reciprocity(strips, alike)
		f.warnContrast(tb, strips, alike)
	}
	switch {
	case f.noTest != nil:
		f.Warnings.Add("reciprocity_untested", f.noTest)
	case f.stated != nil && f.tested != nil:
		f.Warnings.Add("reciprocity_stated", against(f.stated, f.tested))
	}
	f.warnLoss()
}

// developedAlike returns the places of the strips of the development time that
// has most exposure times, one of them apart from the trial's; among equals it
// is the one with the longest exposure.
func developedAlike(strips []*curve.Measured) []int {
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
	most, longest := 0, sensito.Seconds(0)
	for _, at := range order {
		times := map[sensito.Seconds]bool{}
		apart, top := false, sensito.Seconds(0)
		for _, i := range groups[at] {
			s := strips[i].Strip
			times[s.Seconds()] = true
			apart, top = apart || s.ExposedApart(), max(top, s.Seconds())
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
func (tb *Table) reciprocity(strips []*curve.Measured, at []int) (*camera.Reciprocity, error) {
	var speeds []camera.SpeedAfter
	for _, i := range at {
		s := strips[i].Strip
		point, sd := tb.Rows[i][curve.ColumnSpeedPoint], tb.SD[i][curve.ColumnSpeedPoint]
		if math.IsNaN(point) || math.IsNaN(sd) || s.Seconds() < sensito.ShortestExposure {
			continue
		}
		e := sensito.Estimate[sensito.LogExposure]{Value: sensito.LogExposure(point), StdErr: sensito.LogExposure(math.Max(sd, LeastSD)), DoF: tb.DoF}
		e.AddCommon(s.Trial().Exposures().CommonSD())
		speeds = append(speeds, camera.SpeedAfter{Seconds: s.Seconds(), SpeedPoint: e})
	}
	return camera.ReciprocityFromSpeeds(speeds)
}

// warnContrast tells how the contrast of the longest exposures differs from that
// of the shortest ones developed alike, where it does so by more than chance.
func (f *Family) warnContrast(tb *Table, strips []*curve.Measured, at []int) {
	seconds := func(i int) sensito.Seconds { return strips[i].Strip.Seconds() }
	byTime := func(a, b int) int { return cmp.Compare(seconds(a), seconds(b)) }
	short, long := seconds(slices.MinFunc(at, byTime)), seconds(slices.MaxFunc(at, byTime))
	for _, q := range []struct {
		column int
		name   string
	}{{curve.ColumnIndex, "contrast index"}, {curve.ColumnGradient, "average gradient"}} {
		tb.Unsteady(q.column, Scatter)
		mean := func(t sensito.Seconds) (v, variance float64) {
			n := 0.0
			for _, i := range at {
				if seconds(i) == t {
					n++
					v += tb.Rows[i][q.column]
					variance += tb.SD[i][q.column] * tb.SD[i][q.column]
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
		if math.Abs(rise) > fit.StudentT(0.95, tb.DoF)*sd {
			verb := "raise"
			if rise < 0 {
				verb = "lower"
			}
			f.Warnings.Add("long_contrast", verb, rise, sd, q.name, long, short)
		}
		return
	}
}

// against says what two laws make of the longest metered time that was tested.
func against(stated, tested *camera.Reciprocity) string {
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
	t := f.Trial.Exposures().Seconds()
	if law == nil || t <= sensito.KeepsSpeed {
		return
	}
	metered, err := law.MeteredFor(t)
	if err != nil || float64(t/metered) < camera.GuessedFrom {
		return
	}
	f.Warnings.Add("speed_after_loss", t, math.Log2(float64(t/metered)))
}
