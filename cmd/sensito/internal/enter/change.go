package enter

import (
	"errors"
	"fmt"
	"strings"

	"sensito/cmd/sensito/internal/keyed"
	"sensito/cmd/sensito/internal/told"
	"sensito/sensito"
	"sensito/sensito/entry"
)

// change carries out what a line asks for, and saves it.
func (e *enterer) change(k keyed.Line) error {
	before := stateOf(e.Keying)
	wrong := e.carryOut(k)
	if wrong == nil || wentBack(wrong) {
		if err := e.keep(before); err != nil {
			return err
		}
	}
	if wrong != nil {
		return e.fault(wrong)
	}
	return nil
}

// carryOut does what a line asks for. An error leaves everything as it was, but
// that of an order may have gone back.
func (e *enterer) carryOut(k keyed.Line) error {
	pending := e.pending
	e.pending = nil
	if k.Verb != keyed.Read && k.Verb != keyed.Note {
		e.StateOrder()
	}
	switch k.Verb {
	case keyed.Read:
		if e.fogs > 0 {
			return e.fog(k)
		}
		return e.readStep(k, pending)
	case keyed.Step:
		before, fogs := *e.Keying, e.fogs
		e.fogs = 0
		err := e.GoTo(k.Step)
		if err == nil && len(k.Readings) > 0 {
			if err = e.readStep(k, nil); err != nil {
				*e.Keying, e.fogs = before, fogs
			}
		} else if err == nil {
			e.sayBack()
		}
		return err
	case keyed.Keep:
		switch {
		case pending != nil && e.fogs > 0:
			return e.takeFog(pending)
		case pending != nil:
			return e.read(pending, true)
		}
		return e.Keep()
	case keyed.Again:
		return e.again(k)
	case keyed.Fog:
		if len(k.Readings) == 0 {
			e.ClearFog()
			return nil
		}
		return e.fog(k)
	case keyed.Back:
		return e.back(k.Step)
	case keyed.Skip:
		if e.fogs > 0 {
			e.fogs = 0
			return nil
		}
		return e.Skip()
	case keyed.Minutes, keyed.Grade:
		return e.correct(k)
	}
	if err := e.Note(k.Text); err != nil {
		return err
	}
	if e.asks {
		e.say("noted: %s\n", e.Spec().Note)
	}
	return nil
}

// readStep reads the step at hand as a line says.
func (e *enterer) readStep(k keyed.Line, pending []sensito.Density) error {
	x, expected := e.Expect()
	readings, guessed, err := e.understood(k, x, expected)
	if err != nil {
		return err
	}
	if !e.asks && k.Verb == keyed.Read {
		return e.readInOrder(readings)
	}
	confirmed := false
	if len(pending) == 1 && len(readings) == 1 {
		if kept := e.Confirmed(pending[0], readings[0]); kept != nil {
			readings, confirmed = kept, true
		}
	}
	at := e.At()
	if err := e.read(readings, confirmed); err != nil || e.pending != nil || !e.asks {
		return err
	}
	e.tell(readings, guessed, at <= e.Steps() && expected, x)
	if !e.contrary && e.Contrary() {
		e.contrary = true
		e.wait(0)
		e.question("The readings fall where the exposures rise. Is the strip\nthe other way round? To begin anew: back 1")
	}
	return nil
}

// understood returns the readings of a line, by what is expected where they have no
// decimal mark, and whether any had none. What was understood is told.
func (e *enterer) understood(k keyed.Line, x entry.Expectation, expected bool) (readings []sensito.Density, guessed bool, err error) {
	if k.Measured != nil {
		return k.Measured, false, nil
	}
	for _, word := range k.Readings {
		r, err := e.Typed(word)
		if err == nil {
			r, err = r.Settled(x, expected)
		}
		switch {
		case err != nil:
			return nil, false, err
		case r.Guessed && !e.asks && e.strict:
			return nil, false, fmt.Errorf("%s has no decimal point; write %s if that is meant", word, told.Densities([]sensito.Density{r.Density}))
		case r.Guessed && !e.asks:
			e.warn("%s is taken as %s", word, told.Densities([]sensito.Density{r.Density}))
		}
		readings, guessed = append(readings, r.Density), guessed || r.Guessed
	}
	return readings, guessed, nil
}

// tell says after a reading how it was understood, and what was expected.
func (e *enterer) tell(readings []sensito.Density, guessed, expected bool, x entry.Expectation) {
	var parts []string
	switch {
	case len(readings) > 1:
		parts = append(parts, fmt.Sprintf("%s, mean %.3f", e.said(readings...), float64(sensito.AverageDensity(readings))))
	case guessed:
		parts = append(parts, e.said(readings...))
	}
	if e.expects && expected {
		parts = append(parts, e.about(x)+" was expected")
	}
	if len(parts) > 0 {
		e.say("  %s\n", strings.Join(parts, "; "))
	}
}

// read takes readings of the step at hand, unless they are far off and nobody
// has confirmed them.
func (e *enterer) read(readings []sensito.Density, confirmed bool) error {
	step := e.At()
	off, by, far := e.FarOff(readings...)
	far = far && !e.Done()
	switch {
	case far && !confirmed && e.asks:
		e.wait(1)
		// What is expected is not told yet: whoever knows it reads it.
		e.question("%s at step %d does not fit the others. Read it again.", e.said(off), step)
		e.pending = readings
		return nil
	case far && e.strict:
		return fmt.Errorf("step %d reads %s where about %s is expected", step, e.said(off), e.about(by))
	}
	if err := e.Read(readings...); err != nil {
		return err
	}
	if far {
		e.Asked(step)
		if !e.asks {
			e.warn("step %d reads %s where about %s is expected", step, e.said(off), e.about(by))
		}
	}
	return nil
}

// again takes more readings of the step before. One that differs too much from
// the others is told; their mean would be of no step.
func (e *enterer) again(k keyed.Line) error {
	step := e.Before()
	has := e.Readings(step)
	x, ok := entry.ExpectAgain(e.Trial(), has)
	readings, _, err := e.understood(k, x, ok)
	if err != nil {
		return err
	}
	for _, d := range readings {
		if x, ok := entry.ExpectAgain(e.Trial(), has); ok && x.FarOff(d) {
			err := fmt.Errorf("step %d was read as %s before; %s is too far from it: go back and read the step again",
				step, e.said(has...), e.said(d))
			if e.asks || e.strict {
				return err
			}
			e.warn("step %d was read as %s before; %s is too far from it", step, e.said(has...), e.said(d))
		}
		has = append(has, d)
	}
	if err := e.Again(readings...); err != nil {
		return err
	}
	if e.asks {
		e.say("step %d: %s, mean %.3f\n", step, e.said(e.Readings(step)...), float64(e.Spec().Density[step-1]))
	}
	return nil
}

// fog takes readings of base plus fog, unless they are far off.
func (e *enterer) fog(k keyed.Line) error {
	readings, guessed, err := e.understood(k, e.ExpectFog(), true)
	if err != nil {
		return err
	}
	if off, by, far := e.FogFarOff(readings...); far {
		text := fmt.Sprintf("%s is far from the %s expected for base plus fog", e.said(off), e.about(by))
		switch {
		case e.asks && e.fogs > 0:
			e.wait(1)
			e.question("%s is unusual for base plus fog. Read it again.", e.said(off))
			e.pending = readings
			return nil
		case !e.asks && (e.strict || e.fogs > 0):
			return errors.New(text)
		case e.asks:
			e.say("%s; fog none takes it away.\n", text)
		default:
			e.warn("%s", text)
		}
	}
	if err := e.takeFog(readings); err != nil {
		return err
	}
	if e.asks {
		e.tell(readings, guessed, false, entry.Expectation{})
	}
	return nil
}

func (e *enterer) takeFog(readings []sensito.Density) error {
	err := e.Fog(readings...)
	if err == nil {
		e.fogs = max(0, e.fogs-len(readings))
	}
	return err
}

func (e *enterer) back(step int) error {
	switch {
	case step > 0:
		if err := e.BackTo(step); err != nil {
			return err
		}
	case e.At() == 1 && e.asks:
		e.ClearFog()
		e.fogs = e.fogFirst
		e.say("Back to base plus fog; its readings are taken anew.\n")
		return nil
	default:
		if err := e.Back(); err != nil {
			return err
		}
	}
	e.fogs = 0
	e.sayBack()
	return nil
}

// sayBack says where the strip is, and what follows.
func (e *enterer) sayBack() {
	if !e.asks {
		return
	}
	follows := e.Returns()
	if follows == 0 {
		follows = e.At() + 1
	}
	switch {
	case follows > e.Steps():
		e.say("Step %d, and then all steps are read.\n", e.At())
	default:
		e.say("Step %d, and then step %d.\n", e.At(), follows)
	}
}

// correct changes what is said of the strip.
func (e *enterer) correct(k keyed.Line) error {
	switch {
	case k.Verb == keyed.Grade && e.Trial().Material() != sensito.PaperMaterial:
		return errors.New("a grade is of paper, and this is a film")
	case k.Verb == keyed.Grade:
		e.SetGrade(k.Text)
	default:
		m, err := sensito.ParseMinutes(k.Text)
		if err != nil {
			return err
		}
		e.SetMinutes(m)
	}
	if e.asks {
		e.say("%s.\n", told.Title(e.Number(), e.Spec()))
	}
	return nil
}

// keep saves what a line has changed, and tells of readings that others have
// made doubtful. A strip of which nothing is known yet but its time is not saved.
func (e *enterer) keep(before string) error {
	if stateOf(e.Keying) == before || e.file.begun && !e.Begun() && len(e.BaseFog()) == 0 && e.Spec().Note == "" {
		return nil
	}
	fresh := e.file.fresh
	number, err := e.file.save(e.Number(), e.Spec())
	if err != nil {
		return err
	}
	e.streams.Wrote(e.file.path)
	if fresh {
		e.say("sensito: wrote %s\n", e.file.path)
	}
	e.In(e.file.trial, number)
	for _, step := range e.NewDoubts() {
		if e.asks {
			e.remark("%s at step %d does not fit the steps about it.\nTo read it again: back %d", e.said(e.Readings(step)...), step, step)
			continue
		}
		x, _ := entry.Expect(e.Trial(), e.Spec(), e.Number(), step)
		e.warn("step %d reads %s, but the steps about it lead to expect %s", step, e.said(e.Readings(step)...), e.about(x))
	}
	wasTold := e.told
	if e.told = e.Done(); e.asks && e.told && !wasTold {
		return told.Summary(e.streams.Out, e.file.trial, e.Number())
	}
	return nil
}

// said writes readings in the unit of the trial.
func (e *enterer) said(readings ...sensito.Density) string {
	return told.Readings(e.Trial().Reading(), readings)
}

// about writes what was expected in the unit of the trial.
func (e *enterer) about(x entry.Expectation) string {
	return e.Trial().Reading().Written(x.Density.Value)
}

func stateOf(k *entry.Keying) string { return fmt.Sprintf("%+v", k.Spec()) }
