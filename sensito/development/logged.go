package development

import (
	"cmp"
	"slices"

	"sensito/sensito"
)

// Logged is the developments of a log against the times of a family.
type Logged struct {
	Count    int             // of all developments in the log
	Min, Max sensito.Minutes // as developed
	Outside  []sensito.Done  // outside the tested times, under the conditions of the trial
}

// Logged returns what the log of the trial says, nil when it is empty. A time at
// another temperature, agitation or dilution counts as the one that does the same under
// the conditions of the trial.
func (f *Family) Logged() *Logged {
	done := f.Trial.Done()
	if len(done) == 0 {
		return nil
	}
	byTime := func(a, b sensito.Done) int { return cmp.Compare(a.Minutes, b.Minutes) }
	l := &Logged{Count: len(done), Min: slices.MinFunc(done, byTime).Minutes, Max: slices.MaxFunc(done, byTime).Minutes}
	lo, hi := f.Times()
	const slack = 1 + 1e-9
	for _, d := range done {
		factor, told := f.longerFor(d)
		if t := d.Minutes / sensito.Minutes(factor); told && (t*slack < lo || t > hi*slack) {
			l.Outside = append(l.Outside, d)
		}
	}
	return l
}

// longerFor returns how many times longer a development takes in its bath and at its
// temperature, 1 where that is not known; told is false where the bath is another one
// than the trial's and cannot be compared with it.
func (f *Family) longerFor(d sensito.Done) (factor float64, told bool) {
	c := Conditions{Dilution: d.Dilution, Agitation: d.Agitation, Forced: true}
	if d.TemperatureC != 0 {
		c.TemperatureC = &d.TemperatureC
		if d.EndedC != 0 {
			c.EndC = &d.EndedC
		}
	}
	if !c.Changed() {
		return 1, true
	}
	ch, err := f.Under(c)
	if err != nil {
		return 1, d.Dilution == "" && d.Agitation == sensito.AgitationUnstated
	}
	return ch.Factor.Value, true
}
