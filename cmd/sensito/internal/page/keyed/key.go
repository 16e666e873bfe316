package keyed

import (
	"bytes"
	"errors"
	"fmt"
	"slices"

	"sensito/cmd/sensito/internal/told"
	"sensito/sensito"
	"sensito/sensito/entry"
	"sensito/sensito/notebook"
	"sensito/sensito/notebook/store"
)

// What a form of keying in asks for.
const (
	Save  = "save"  // the reading of the step at hand
	Again = "again" // another reading of the step at hand where it has one, else of the step before
	Skip  = "skip"  // the step is left out
	Keep  = "keep"  // the reading that was questioned, or that the step has
	Back  = "back"  // to the step before
)

// Known says whether a form can ask for that.
func Known(do string) bool { return slices.Contains([]string{Save, Again, Skip, Keep, Back}, do) }

// An Act is what a form of keying in asks for.
type Act struct {
	Do    string
	Step  int    // at hand, from 1
	Typed string // in the field
	Asked string // the reading that was questioned before; "" for none
}

// An Outcome is where an Act led to.
type Outcome struct {
	Number int  // of the strip
	Next   int  // step that comes next
	Done   bool // no step comes next
	After  int  // step whose reading was saved, or left out; 0 for none

	Again string // what was typed and not taken: it is questioned, or not understood
}

// errNothing says that a form asked for nothing.
var errNothing = errors.New("nothing was keyed in")

// Key carries out an act on the strip that was drawn, near the number in the address. A
// reading that is not understood, or far from what is expected and not confirmed, changes
// nothing, and the outcome has it in Again. The error is a *Conflict, or that of reading
// or writing; nothing is written then.
func Key(path string, d Drawn, hint int, a Act) (Outcome, error) {
	out := Outcome{Next: a.Step}
	_, err := store.Update(path, nil, func(old []byte) ([]byte, error) {
		out = Outcome{Next: a.Step}
		t, err := notebook.Read(path, bytes.NewReader(old))
		if err != nil {
			return nil, err
		}
		if out.Number = d.find(old, t, hint); out.Number == 0 {
			return nil, lost(d, map[string]string{stepField(a.Step): a.Typed}, t.Exposures().Len())
		}
		k := entry.NewKeying(t, out.Number)
		before := told.Text(t, out.Number)
		atHand := k.At() == a.Step && !complete(k)
		if err := goTo(k, a.Step); err != nil {
			return nil, err
		}
		if a.Do == Back {
			if err := k.Back(); err != nil {
				return old, nil // at step 1 already
			}
			out.Next = k.At()
			if !atHand { // looked at, and keying in goes on elsewhere
				return old, nil
			}
			return replaced(old, t, k, before)
		}
		step, mine, err := a.mine(k, d)
		var no *notTaken
		switch {
		case errors.Is(err, errNothing):
			out.Again = a.Asked
			return old, nil
		case errors.As(err, &no):
			out.Again = no.text
			return old, nil
		case err != nil:
			return nil, err
		}
		write, err := d.join(old, t, out.Number, map[string]string{stepField(step): readingsText(mine)})
		if err != nil {
			return nil, err
		}
		out.After = step
		if step != a.Step { // the step at hand stays
			if len(write) == 0 {
				return old, nil
			}
			spec := t.Strips()[out.Number-1].Spec()
			setReadings(&spec, step, mine)
			return notebook.ReplaceStrip(old, out.Number, spec)
		}
		if err := take(k, mine, len(write) > 0); err != nil {
			return nil, err
		}
		out.Next, out.Done = k.At(), k.Done()
		return replaced(old, t, k, before)
	})
	return out, err
}

// replaced returns the text with the strip as it was keyed in, the text itself where
// that is as before.
func replaced(old []byte, t *sensito.Trial, k *entry.Keying, before string) ([]byte, error) {
	text, err := notebook.ReplaceStrip(old, k.Number(), k.Spec())
	if err != nil {
		return nil, err
	}
	if now, err := notebook.Read("the file", bytes.NewReader(text)); err == nil && told.Text(now, k.Number()) == before {
		return old, nil
	}
	return text, nil
}

// A notTaken is a reading that is questioned or not understood.
type notTaken struct{ text string }

func (n *notTaken) Error() string { return fmt.Sprintf("%q was not taken", n.text) }

// mine returns the readings that a step has once the act is done, and the step. The strip
// as it was drawn is what they are added to.
func (a Act) mine(k *entry.Keying, d Drawn) (step int, readings []sensito.Density, err error) {
	switch a.Do {
	case Skip:
		return a.Step, nil, nil
	case Keep:
		if a.Asked == "" {
			readings, err = readingsOf(k, d.Old[stepField(a.Step)], entry.Expectation{}, false)
			if err == nil && len(readings) == 0 {
				err = errNothing
			}
			return a.Step, readings, err
		}
		readings, err = a.read(k, a.Asked)
		return a.Step, readings, err
	case Again:
		step = Once(k, a.Step)
		had, err := readingsOf(k, d.Old[stepField(step)], entry.Expectation{}, false)
		if err != nil {
			return step, nil, err
		}
		more, err := a.read(k, a.Typed)
		if err != nil {
			return step, nil, err
		}
		if faultAgain(k, had, more) != nil || len(had) == 0 || len(had)+len(more) > mostReadings {
			return step, nil, &notTaken{a.Typed}
		}
		return step, append(had, more...), nil
	case Save:
		readings, err = a.read(k, a.Typed)
		if err != nil {
			return a.Step, nil, err
		}
		if len(readings) == 1 && a.Asked != "" {
			if asked, err := a.read(k, a.Asked); err == nil && len(asked) == 1 {
				if kept := k.Confirmed(asked[0], readings[0]); kept != nil {
					return a.Step, kept, nil
				}
			}
		}
		now := readingsText(k.Readings(a.Step))
		if _, _, far := k.FarOff(readings...); far && now != readingsText(readings) {
			return a.Step, nil, &notTaken{a.Typed}
		}
		return a.Step, readings, nil
	}
	return a.Step, nil, fmt.Errorf("%q is nothing that a strip can be asked for", a.Do)
}

// read reads what was typed for the step at hand.
func (a Act) read(k *entry.Keying, text string) ([]sensito.Density, error) {
	x, ok := k.Expect()
	readings, err := readingsOf(k, text, x, ok)
	switch {
	case err != nil:
		return nil, &notTaken{text}
	case len(readings) == 0:
		return nil, errNothing
	}
	return readings, nil
}

// take keys in the readings of the step at hand and goes on. Where write is false the file
// has them already, or has those of somebody else, which stay.
func take(k *entry.Keying, readings []sensito.Density, write bool) error {
	switch {
	case !write && len(k.Readings(k.At())) > 0:
		return k.Keep()
	case len(readings) == 0:
		return k.Skip()
	}
	return k.Read(readings...)
}

// Once returns the step that another reading is of while one is at hand: that one where
// it has a reading, else the one before, 0 for none.
func Once(k *entry.Keying, atHand int) int {
	for _, step := range []int{atHand, atHand - 1} {
		if len(k.Readings(step)) > 0 {
			return step
		}
	}
	return max(atHand-1, 0)
}

// faultAgain says why more readings cannot be of a step that has some, nil where they
// can.
func faultAgain(k *entry.Keying, had, more []sensito.Density) error {
	has := slices.Clone(had)
	for _, d := range more {
		if x, ok := entry.ExpectAgain(k.Trial(), has); ok && x.FarOff(d) {
			return fmt.Errorf("it was read as %s before; %s is too far from it: go back and read the step again",
				told.Readings(k.Trial().Reading(), has), told.Readings(k.Trial().Reading(), []sensito.Density{d}))
		}
		has = append(has, d)
	}
	return nil
}
