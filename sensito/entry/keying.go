package entry

import (
	"fmt"
	"maps"
	"math"
	"slices"

	"sensito/sensito"
	"sensito/sensito/printable"
)

// A Keying is a strip of a trial whose readings are being keyed in, step after
// step. It is made by NewKeying and is not for several goroutines.
type Keying struct {
	trial  *sensito.Trial
	number int
	spec   sensito.StripSpec
	at     int  // step, from 1; one more than there are steps at the end
	ret    int  // where to go on after the step that was gone back to; 0 for the next
	whole  bool // nothing of a strip that was complete has been changed yet

	order   order
	others  *others      // what the other strips told when they were last looked at
	doubted map[int]bool // steps that have been named by NewDoubts, or questioned
}

// NewKeying goes on keying in the strip of a trial with the number, from 1: where
// it was interrupted, else at its first step without a reading, else at step 1.
// It panics when there is no such strip.
func NewKeying(t *sensito.Trial, number int) *Keying {
	k := &Keying{trial: t, number: number, spec: t.Strips()[number-1].Spec(), doubted: map[int]bool{}}
	k.at = k.spec.NextStep
	if k.at == 0 {
		k.at = slices.IndexFunc(k.spec.Density, unread) + 1
	}
	k.at = max(k.at, 1)
	k.whole = k.spec.NextStep == 0 && !notRead(k.spec.Density)
	k.others = othersOf(t, k.spec, number)
	for step := range k.Steps() {
		for _, s := range k.others.doubts(t, k.spec, number, step+1) {
			k.doubted[s] = true
		}
	}
	return k
}

// notRead says whether no step has a reading.
func notRead(d []sensito.Density) bool {
	return !slices.ContainsFunc(d, func(d sensito.Density) bool { return !unread(d) })
}

func unread(d sensito.Density) bool { return math.IsNaN(float64(d)) }

// Number returns the place of the strip in its trial, from 1.
func (k *Keying) Number() int { return k.number }

// Trial returns the trial that the strip belongs to.
func (k *Keying) Trial() *sensito.Trial { return k.trial }

// In goes on in another state of the same trial, such as one whose other strips
// have changed, or in which the strip has another number.
func (k *Keying) In(t *sensito.Trial, number int) {
	k.trial, k.number = t, number
	k.others = k.others.at(t, k.spec, number)
}

// Steps returns the number of steps of the strip.
func (k *Keying) Steps() int { return len(k.spec.Density) }

// At returns the step that is to be read next, from 1; Steps()+1 when there is
// none.
func (k *Keying) At() int { return k.at }

// Done says whether all steps have been read or skipped.
func (k *Keying) Done() bool { return k.at > k.Steps() }

// Spec returns the strip as it is, with the step at which to go on.
func (k *Keying) Spec() sensito.StripSpec {
	s := k.spec
	s.BaseFog, s.Density, s.Repeats = slices.Clone(s.BaseFog), slices.Clone(s.Density), maps.Clone(s.Repeats)
	s.NextStep = 0
	if !k.Done() && !k.whole {
		s.NextStep = k.at
	}
	return s
}

// Begun says whether any step has a reading.
func (k *Keying) Begun() bool { return !notRead(k.spec.Density) }

// Readings returns the readings of a step, from 1, nil where there are none.
func (k *Keying) Readings(step int) []sensito.Density {
	if step < 1 || step > k.Steps() {
		return nil
	}
	if r := k.spec.Repeats[step]; len(r) > 0 {
		return slices.Clone(r)
	}
	if d := k.spec.Density[step-1]; !unread(d) {
		return []sensito.Density{d}
	}
	return nil
}

// BaseFog returns the readings of base plus fog.
func (k *Keying) BaseFog() []sensito.Density { return slices.Clone(k.spec.BaseFog) }

// Expect returns what the reading of the step at hand should be; see
// the function Expect.
func (k *Keying) Expect() (Expectation, bool) {
	return k.others.expect(k.trial, k.telling(), k.number, k.at)
}

// ExpectAt is Expect for any step, from 1.
func (k *Keying) ExpectAt(step int) (Expectation, bool) {
	return k.others.expect(k.trial, k.telling(), k.number, step)
}

// Alone says that no other strip of the trial tells what to expect of this one.
func (k *Keying) Alone() bool {
	return k.others.strips == nil && !slices.ContainsFunc(k.trial.Strips(), func(o *sensito.Strip) bool {
		return o.Number() != k.number && o.Grade() == k.spec.Grade && tells(o)
	})
}

// FarOff judges readings of the step at hand before they are taken. It returns
// the first that lies too far from what is expected, by the other steps or by the
// readings before it.
func (k *Keying) FarOff(readings ...sensito.Density) (off sensito.Density, by Expectation, far bool) {
	by, _ = k.Expect()
	for i, d := range readings {
		if again, ok := ExpectAgain(k.trial, readings[:i]); ok {
			by = again
		}
		if by.FarOff(d) {
			return d, by, true
		}
	}
	return 0, by, false
}

// Confirmed returns what to keep of a reading of the step at hand that was questioned
// and of the one that was then found: the reading where both are the same, both where
// they differ by no more than a reading may always be off, and nil where the second is
// to be judged in its turn.
func (k *Keying) Confirmed(questioned, found sensito.Density) []sensito.Density {
	read := k.trial.Reading()
	const rounding = 1e-9 // of 1.18 - 1.16
	alike := farOffLeast/sensito.Density(read.PerUnit(read.Density(questioned))) + rounding
	switch {
	case questioned == found:
		return []sensito.Density{questioned}
	case math.Abs(float64(questioned-found)) <= float64(alike):
		return []sensito.Density{questioned, found}
	}
	return nil
}

// Read takes the readings of the step at hand, at least one, in place of those
// that it has, and goes on. The error names a density that no densitometer
// gives, or says that all steps are read; nothing is taken then.
func (k *Keying) Read(readings ...sensito.Density) error {
	if k.Done() {
		return fmt.Errorf("all %d steps are read", k.Steps())
	}
	if err := k.check(readings); err != nil {
		return err
	}
	k.set(k.at, readings)
	k.advance()
	return nil
}

// Before returns the step that another reading of the step before is of, 0 where
// there is none.
func (k *Keying) Before() int {
	if len(k.Readings(k.at-1)) == 0 {
		return 0
	}
	return k.at - 1
}

// Again adds readings to those of the step before. The error is as for Read.
func (k *Keying) Again(readings ...sensito.Density) error {
	step := k.Before()
	if step == 0 {
		return fmt.Errorf("the step before has no reading yet")
	}
	if err := k.check(readings); err != nil {
		return err
	}
	k.set(step, append(k.Readings(step), readings...))
	return nil
}

// set puts readings in the place of those of a step; none mean that it is not
// read.
func (k *Keying) set(step int, readings []sensito.Density) {
	k.whole = false
	delete(k.order.stale, step)
	k.spec.Density = slices.Clone(k.spec.Density)
	k.spec.Repeats = maps.Clone(k.spec.Repeats)
	delete(k.spec.Repeats, step)
	delete(k.doubted, step)
	switch len(readings) {
	case 0:
		k.spec.Density[step-1] = sensito.Density(math.NaN())
	case 1:
		k.spec.Density[step-1] = readings[0]
	default:
		if k.spec.Repeats == nil {
			k.spec.Repeats = map[int][]sensito.Density{}
		}
		k.spec.Repeats[step] = slices.Clone(readings)
		k.spec.Density[step-1] = sensito.AverageDensity(readings)
	}
}

// Skip leaves the step at hand without a reading and goes on.
func (k *Keying) Skip() error {
	if k.Done() {
		return fmt.Errorf("all %d steps are read", k.Steps())
	}
	k.set(k.at, nil)
	k.advance()
	return nil
}

// Keep leaves the step at hand as it is and goes on. The error says that it has
// no reading.
func (k *Keying) Keep() error {
	if len(k.Readings(k.at)) == 0 {
		return fmt.Errorf("there is no reading to keep")
	}
	k.advance()
	return nil
}

func (k *Keying) advance() {
	k.whole = false
	k.at++
	if k.ret > 0 {
		k.at, k.ret = k.ret, 0
	}
}

// Back goes back to the step before; its readings stay until others are taken.
func (k *Keying) Back() error {
	if k.at == 1 {
		return fmt.Errorf("step 1 is the first")
	}
	k.at, k.ret, k.whole = k.at-1, 0, false
	return nil
}

// BackTo goes back to one step, from 1, to return once it is read.
func (k *Keying) BackTo(step int) error {
	if step < 1 || step >= k.at {
		return fmt.Errorf("there is no step %d before this one", step)
	}
	if k.ret == 0 {
		k.ret = k.at
	}
	k.at, k.whole = step, false
	return nil
}

// Returns returns the step that follows once the one that was gone back to is read,
// 0 where that is the next one.
func (k *Keying) Returns() int { return k.ret }

// SetMinutes changes the development time of the strip, in minutes; 0 is not stated.
func (k *Keying) SetMinutes(m sensito.Minutes) { k.spec.Minutes = m }

// SetGrade changes the grade or contrast filter of a strip of paper.
func (k *Keying) SetGrade(grade string) { k.spec.Grade = grade }

// GoTo goes to any step, from 1: back as BackTo does, or on, steps between being
// left as they are.
func (k *Keying) GoTo(step int) error {
	switch {
	case step < 1 || step > k.Steps():
		return fmt.Errorf("there is no step %d of %d", step, k.Steps())
	case step < k.at:
		return k.BackTo(step)
	case step > k.at:
		k.at, k.ret, k.whole = step, 0, false
	}
	return nil
}

// ToEnd goes behind the last step, steps between being left as they are.
func (k *Keying) ToEnd() { k.at, k.ret = k.Steps()+1, 0 }

// Fog adds readings of base plus fog. The error is as for Read.
func (k *Keying) Fog(readings ...sensito.Density) error {
	if err := k.check(readings); err != nil {
		return err
	}
	k.spec.BaseFog = append(slices.Clone(k.spec.BaseFog), readings...)
	return nil
}

// Base plus fog of most films and papers (common practice, no source), and how
// alike it is on strips of one trial.
const (
	usualFogSD  = 0.1
	besideFogSD = 0.05
)

// ExpectFog returns what a reading of base plus fog should be, by those that there
// are, by the other strips, or by what is usual.
func (k *Keying) ExpectFog() Expectation {
	if again, ok := ExpectAgain(k.trial, k.spec.BaseFog); ok {
		return again
	}
	by := Expectation{Density: sensito.Estimate[sensito.Density]{Value: usualStart, StdErr: usualFogSD, DoF: math.Inf(1)}}
	if o := fogBeside(k.trial, k.number, k.spec.Grade); len(o) > 0 {
		by.Density.Value, by.Density.StdErr = sensito.AverageDensity(o), besideFogSD
	}
	return by.asRead(k.trial.Reading())
}

// FogFarOff judges readings of base plus fog before they are taken, by ExpectFog.
// It is as FarOff otherwise.
func (k *Keying) FogFarOff(readings ...sensito.Density) (off sensito.Density, by Expectation, far bool) {
	by = k.ExpectFog()
	for i, d := range readings {
		if again, ok := ExpectAgain(k.trial, append(k.BaseFog(), readings[:i]...)); ok {
			by = again
		}
		if by.FarOff(d) {
			return d, by, true
		}
	}
	return 0, by, false
}

// fogBeside returns the readings of base plus fog of the other strips of a grade.
func fogBeside(t *sensito.Trial, number int, grade string) []sensito.Density {
	var out []sensito.Density
	for _, s := range t.Strips() {
		if s.Number() != number && s.Grade() == grade {
			out = append(out, s.BaseFog()...)
		}
	}
	return out
}

// ClearFog takes the readings of base plus fog away.
func (k *Keying) ClearFog() { k.spec.BaseFog = nil }

// Note adds a line to the note of the strip. The error is that of CheckNote for
// the whole.
func (k *Keying) Note(text string) error {
	if k.spec.Note != "" {
		text = k.spec.Note + "; " + text
	}
	if err := printable.CheckNote(text); err != nil {
		return fmt.Errorf("the note %w", err)
	}
	k.spec.Note = text
	return nil
}

// Asked notes that the reading of a step was questioned when it was taken, so
// that NewDoubts does not name it.
func (k *Keying) Asked(step int) { k.doubted[step] = true }

// NewDoubts returns the steps whose readings no longer belong to the same curve
// as those about them, now that there are more; each is returned once.
func (k *Keying) NewDoubts() []int {
	var out []int
	for _, step := range k.others.doubts(k.trial, k.telling(), k.number, min(k.at, k.Steps())) {
		if !k.doubted[step] {
			k.doubted[step] = true
			out = append(out, step)
		}
	}
	return out
}

// DoubtedBy returns the steps whose readings no longer belong to the same curve as those
// about them because of the readings of one step, from 1, which is not among them.
func (k *Keying) DoubtedBy(step int) []int {
	with := k.telling()
	if step < 1 || step > k.Steps() || unread(with.Density[step-1]) {
		return nil
	}
	without := with
	without.Density, without.Repeats = slices.Clone(with.Density), maps.Clone(with.Repeats)
	without.Density[step-1] = sensito.Density(math.NaN())
	delete(without.Repeats, step)
	before := k.others.doubts(k.trial, without, k.number, step)
	return slices.DeleteFunc(k.others.doubts(k.trial, with, k.number, step), func(s int) bool { return s == step || slices.Contains(before, s) })
}

// check refuses densities that NewTrial would refuse.
func (k *Keying) check(readings []sensito.Density) error {
	if len(readings) == 0 {
		return fmt.Errorf("there is no reading")
	}
	read := k.trial.Reading()
	for _, d := range readings {
		if err := read.CheckReading(d); err != nil {
			return err
		}
	}
	return nil
}
