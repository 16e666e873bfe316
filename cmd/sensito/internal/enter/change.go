package enter

import (
	"errors"
	"fmt"
	"strings"

	"sensito/sensito"
	"sensito/sensito/entry"
)

// change carries out what a line asks for, and saves it.
func (e *enterer) change(k keyed) error {
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
func (e *enterer) carryOut(k keyed) error {
	pending := e.pending
	e.pending = nil
	if k.verb != verbRead && k.verb != verbNote {
		e.StateOrder()
	}
	switch k.verb {
	case verbRead:
		if e.fogs > 0 {
			return e.fog(k.readings)
		}
		same := len(pending) == 1 && len(k.readings) == 1 && pending[0] == k.readings[0]
		if !e.asks {
			return e.readInOrder(k.readings)
		}
		return e.read(k.readings, same)
	case verbStep:
		before, fogs := *e.Keying, e.fogs
		e.fogs = 0
		err := e.GoTo(k.step)
		if err == nil && len(k.readings) > 0 {
			if err = e.read(k.readings, false); err != nil {
				*e.Keying, e.fogs = before, fogs
			}
		}
		return err
	case verbKeep:
		switch {
		case pending != nil && e.fogs > 0:
			return e.takeFog(pending)
		case pending != nil:
			return e.read(pending, true)
		}
		return e.Keep()
	case verbAgain:
		return e.again(k.readings)
	case verbFog:
		if len(k.readings) == 0 {
			e.ClearFog()
			return nil
		}
		return e.fog(k.readings)
	case verbBack:
		return e.back(k.step)
	case verbSkip:
		if e.fogs > 0 {
			e.fogs = 0
			return nil
		}
		return e.Skip()
	case verbNote:
		if err := e.Note(k.text); err != nil {
			return err
		}
		if e.asks {
			e.say("noted: %s\n", e.Spec().Note)
		}
		return nil
	}
	return errors.New("there is no question to say yes to")
}

// read takes readings of the step at hand, unless they are far off and nobody
// has confirmed them.
func (e *enterer) read(readings []sensito.Density, confirmed bool) error {
	step := e.At()
	off, by, far := e.FarOff(readings...)
	far = far && !e.Done()
	switch {
	case far && !confirmed && e.asks:
		e.question("%s is far from the %.2f expected at step %d.", densities([]sensito.Density{off}), float64(by.Density.Value), step)
		e.pending = readings
		return nil
	case far && e.strict:
		return fmt.Errorf("step %d reads %s where about %.2f is expected", step, densities([]sensito.Density{off}), float64(by.Density.Value))
	}
	if err := e.Read(readings...); err != nil {
		return err
	}
	if far {
		e.Asked(step)
		if !e.asks {
			e.warn("step %d reads %s where about %.2f is expected", step, densities([]sensito.Density{off}), float64(by.Density.Value))
		}
	}
	if e.asks && !e.contrary && e.Contrary() {
		e.contrary = true
		e.question("The readings fall where the exposures rise. Is the strip the other way round? To begin anew: back 1")
	}
	return nil
}

// again takes more readings of the step before. One that differs too much from
// the others is told; their mean would be of no step.
func (e *enterer) again(readings []sensito.Density) error {
	step := e.Before()
	has := e.Readings(step)
	for _, d := range readings {
		if x, ok := entry.ExpectAgain(e.Trial(), has); ok && x.FarOff(d) {
			err := fmt.Errorf("step %d was read as %s before; %s is too far from it: go back and read the step again",
				step, densities(has), densities([]sensito.Density{d}))
			if e.asks || e.strict {
				return err
			}
			e.warn("step %d was read as %s before; %s is too far from it", step, densities(has), densities([]sensito.Density{d}))
		}
		has = append(has, d)
	}
	if err := e.Again(readings...); err != nil {
		return err
	}
	if e.asks {
		e.say("step %d: %s, mean %.3f\n", step, densities(e.Readings(step)), float64(e.Spec().Density[step-1]))
	}
	return nil
}

// fog takes readings of base plus fog, unless they are far off.
func (e *enterer) fog(readings []sensito.Density) error {
	if off, by, far := e.FogFarOff(readings...); far {
		text := fmt.Sprintf("%s is far from the %.2f expected for base plus fog", densities([]sensito.Density{off}), float64(by.Density.Value))
		switch {
		case e.asks && e.fogs > 0:
			e.question("%s.", text)
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
	return e.takeFog(readings)
}

func (e *enterer) takeFog(readings []sensito.Density) error {
	err := e.Fog(readings...)
	if err == nil {
		e.fogs = max(0, e.fogs-len(readings))
	}
	return err
}

func (e *enterer) back(step int) error {
	if step > 0 {
		return e.BackTo(step)
	}
	if e.At() == 1 && e.asks {
		e.ClearFog()
		e.fogs = e.fogFirst
		return nil
	}
	return e.Back()
}

// keep saves what a line has changed, and tells of readings that others have
// made doubtful.
func (e *enterer) keep(before string) error {
	if stateOf(e.Keying) == before {
		return nil
	}
	if err := e.file.save(e.Number(), e.Spec()); err != nil {
		return err
	}
	e.streams.Wrote(e.file.path)
	e.In(e.file.trial)
	for _, step := range e.NewDoubts() {
		x, _ := entry.Expect(e.Trial(), e.Spec(), e.Number(), step)
		text := fmt.Sprintf("step %d reads %s, but the steps about it lead to expect %.2f", step, densities(e.Readings(step)), float64(x.Density.Value))
		if !e.asks {
			e.warn("%s", text)
			continue
		}
		e.question("%s. To read it again: back %d", strings.ToUpper(text[:1])+text[1:], step)
	}
	return nil
}

func stateOf(k *entry.Keying) string { return fmt.Sprintf("%+v", k.Spec()) }
