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
	Outside  []sensito.Done  // outside the tested times, at the temperature of the trial
}

// Logged returns what the log of the trial says, nil when it is empty. A time at
// another temperature counts as the one that does the same at the trial's.
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
		if t := d.Minutes / sensito.Minutes(f.longerFor(d)); t*slack < lo || t > hi*slack {
			l.Outside = append(l.Outside, d)
		}
	}
	return l
}

// longerFor returns how many times longer a development takes at the temperature
// at which it was done, 1 where that is not known.
func (f *Family) longerFor(d sensito.Done) float64 {
	if d.TemperatureC == 0 {
		return 1
	}
	var ended *float64 // nil when not stated
	if d.EndedC != 0 {
		ended = &d.EndedC
	}
	ch, err := f.Under(Conditions{TemperatureC: &d.TemperatureC, EndC: ended, Forced: true})
	if err != nil {
		return 1
	}
	return ch.Factor.Value
}
