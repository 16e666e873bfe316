package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"

	"sensito/sensito"
	"sensito/sensito/notebook"
)

// An enterer takes readings for one strip, from lines that are typed or piped
// and from an instrument.
type enterer struct {
	*sensito.Keying
	file *kept
	out  io.Writer // prompts, questions, remarks

	screen io.Writer // what out writes to, for bold type

	asks   bool // somebody is there to answer
	strict bool // a reading far off is refused when nobody is
	bold   bool // questions stand out

	typed <-chan string       // nil when nothing is typed
	meter <-chan meterReading // nil without an instrument
	name  string              // of where lines come from, for errors
	line  int                 // the last one taken

	fogs    bool              // base plus fog comes next
	pending []sensito.Density // readings that were questioned
	meant   sensito.Density   // with markless, what was meant
	unsure  bool              // meant waits for a yes
}

// fogReadings is how often base plus fog is asked for.
const fogReadings = 2

// lines sends the lines of r until it ends.
func lines(ctx context.Context, r io.Reader) <-chan string {
	out := make(chan string)
	go func() {
		defer close(out)
		for in := bufio.NewScanner(r); in.Scan(); {
			select {
			case out <- in.Text():
			case <-ctx.Done():
				return
			}
		}
	}()
	return out
}

// run takes lines until the strip is done, or stop, or the end of the lines, or
// until ctx ends. What has been read is in the file then.
func (e *enterer) run(ctx context.Context) error {
	e.fogs = e.asks && e.At() == 1 && len(e.BaseFog()) == 0 && len(e.Readings(1)) == 0
	defer e.stopped()
	for {
		e.prompt()
		var stop bool
		var err error
		select {
		case <-ctx.Done():
			e.say("\n")
			return nil
		case line, ok := <-e.typed:
			if !ok {
				if e.asks {
					e.say("\n")
				}
				return nil
			}
			e.line++
			stop, err = e.take(line)
		case r, ok := <-e.meter:
			if !ok {
				e.meter = nil
				if e.typed == nil {
					return nil
				}
				e.say("\nNo more readings come from %s.\n", e.name)
				continue
			}
			e.line++
			err = e.measured(r)
		}
		if err != nil || stop {
			return err
		}
	}
}

// stopped says where the strip goes on, by the file.
func (e *enterer) stopped() {
	if next := e.file.trial.Strips()[e.Number()-1].NextStep(); next > 0 {
		e.say("Strip %d goes on at step %d of %d: sensito enter %s\n", e.Number(), next, e.Steps(), e.file.path)
	}
}

func (e *enterer) say(format string, args ...any) { fmt.Fprintf(e.out, format, args...) }

// question says something that wants an answer.
func (e *enterer) question(format string, args ...any) {
	style := func(code string) {
		if e.bold {
			fmt.Fprint(e.screen, code)
		}
	}
	style("\x1b[1m")
	e.say(format, args...)
	style("\x1b[0m")
	e.say("\n")
}

// prompt says what comes next.
func (e *enterer) prompt() {
	if !e.asks {
		return
	}
	switch {
	case e.unsure:
		e.say("yes, or the reading: ")
	case len(e.pending) > 0:
		e.say("keep, or the reading again: ")
	case e.fogs:
		e.say("base plus fog, reading %d of %d (Enter goes on): ", len(e.BaseFog())+1, fogReadings)
	case e.Done():
		e.say("all steps are read (Enter ends): ")
	default:
		e.say("%s: ", e.step())
	}
}

// step describes the step at hand.
func (e *enterer) step() string {
	parts := []string{fmt.Sprintf("step %d of %d", e.At(), e.Steps())}
	exposures := e.Trial().Exposures()
	i := e.At() - 1
	switch exposures.Kind() {
	case sensito.Contact:
		parts = append(parts, fmt.Sprintf("wedge %.2f", float64(exposures.Wedge()[i])))
	case sensito.Camera:
		parts = append(parts, fmt.Sprintf("%+g stops", exposures.Stops()[i]))
	default:
		parts = append(parts, fmt.Sprintf("log H %.2f", float64(exposures.RelativeLogH()[i])))
	}
	if x, ok := e.Expect(); ok {
		parts = append(parts, fmt.Sprintf("expected about %.2f", float64(x.Density.Value)))
	}
	if has := e.Readings(e.At()); len(has) > 0 {
		parts = append(parts, fmt.Sprintf("has %s (Enter keeps)", densities(has)))
	}
	return strings.Join(parts, ", ")
}

// densities writes readings as they are read.
func densities(ds []sensito.Density) string {
	out := make([]string, len(ds))
	for i, d := range ds {
		if out[i] = strconv.FormatFloat(float64(d), 'f', -1, 64); len(out[i]) < 4 || out[i][len(out[i])-3] == '.' {
			out[i] = fmt.Sprintf("%.2f", float64(d))
		}
	}
	return strings.Join(out, " and ")
}

// fault is an error of the line at hand: told where somebody can type it again,
// the end otherwise.
func (e *enterer) fault(err error) error {
	if e.asks {
		e.say("%v\n", err)
		return nil
	}
	return fmt.Errorf("%s:%d: %w", e.name, e.line, err)
}

// take carries out one typed line, and says whether to stop.
func (e *enterer) take(line string) (stop bool, err error) {
	k, err := parseKeyed(line)
	if m := (*markless)(nil); errors.As(err, &m) && e.asks && m.possible {
		e.question("%s has no decimal point. Is it %.2f?", m.text, float64(m.meant))
		e.pending, e.unsure, e.meant = nil, true, m.meant
		return false, nil
	}
	if err != nil {
		return false, e.fault(err)
	}
	if e.unsure && k.verb == verbYes {
		k = keyed{verb: verbRead, readings: []sensito.Density{e.meant}}
	}
	if k.verb == verbStop {
		return true, nil
	}
	if k.verb == verbHelp {
		e.say("%s", language)
		return false, nil
	}
	if k.verb == verbNothing {
		return e.nothing()
	}
	e.unsure = false
	before := stateOf(e.Keying)
	if err := e.carryOut(k); err != nil {
		return false, e.fault(err)
	}
	return false, e.keep(before)
}

// nothing is an empty line: it goes on where there is something to go on from.
func (e *enterer) nothing() (stop bool, err error) {
	switch {
	case !e.asks || e.unsure || len(e.pending) > 0:
		return false, nil
	case e.fogs:
		e.fogs = false
	case e.Done():
		return true, nil
	case len(e.Readings(e.At())) > 0:
		before := stateOf(e.Keying)
		if err := e.Keep(); err != nil {
			return false, err
		}
		return false, e.keep(before)
	}
	return false, nil
}

// measured takes a reading of the instrument.
func (e *enterer) measured(r meterReading) error {
	switch {
	case errors.Is(r.Err, notebook.ErrNoReading):
		if e.asks {
			e.say("\n")
		}
		e.say("Passed over: %v\n", r.Err)
		return nil
	case errors.Is(r.Err, errSourceLost) && e.asks && e.typed != nil:
		e.say("\n%v\nReadings can be typed.\n", r.Err)
		return nil
	case errors.Is(r.Err, errSourceLost):
		return r.Err
	case r.Err != nil:
		if e.asks {
			e.say("\n")
		}
		return e.fault(r.Err)
	}
	if e.asks {
		e.say("%s\n", densities([]sensito.Density{sensito.Density(r.Value)}))
	}
	e.unsure = false
	before := stateOf(e.Keying)
	if err := e.carryOut(keyed{verb: verbRead, readings: []sensito.Density{sensito.Density(r.Value)}}); err != nil {
		return e.fault(err)
	}
	return e.keep(before)
}

// carryOut does what a line asks for. An error leaves everything as it was.
func (e *enterer) carryOut(k keyed) error {
	pending := e.pending
	e.pending = nil
	switch k.verb {
	case verbRead:
		if e.fogs {
			return e.fog(k.readings)
		}
		same := len(pending) == 1 && len(k.readings) == 1 && pending[0] == k.readings[0]
		return e.read(k.readings, same)
	case verbKeep:
		switch {
		case pending != nil && e.fogs:
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
		if e.fogs {
			e.fogs = false
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
	return nil
}

// warn says what nobody can answer.
func (e *enterer) warn(format string, args ...any) {
	e.say("sensito: %s:%d: %s\n", e.name, e.line, fmt.Sprintf(format, args...))
}

// again takes more readings of the step before. One that differs too much from
// the others is told; their mean would be of no step.
func (e *enterer) again(readings []sensito.Density) error {
	step := e.Before()
	has := e.Readings(step)
	for _, d := range readings {
		if x, ok := e.Trial().ExpectAgain(has); ok && x.FarOff(d) {
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
		case e.asks && e.fogs:
			e.question("%s.", text)
			e.pending = readings
			return nil
		case e.strict && !e.asks:
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
	e.fogs = e.fogs && len(e.BaseFog()) < fogReadings
	return err
}

func (e *enterer) back(step int) error {
	if step > 0 {
		return e.BackTo(step)
	}
	if e.At() == 1 && e.asks {
		e.ClearFog()
		e.fogs = true
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
	e.In(e.file.trial)
	for _, step := range e.NewDoubts() {
		x, _ := e.Trial().Expect(e.Spec(), e.Number(), step)
		text := fmt.Sprintf("step %d reads %s, but the steps about it lead to expect %.2f", step, densities(e.Readings(step)), float64(x.Density.Value))
		if !e.asks {
			e.warn("%s", text)
			continue
		}
		e.question("%s. To read it again: back %d", strings.ToUpper(text[:1])+text[1:], step)
	}
	return nil
}

func stateOf(k *sensito.Keying) string { return fmt.Sprintf("%+v", k.Spec()) }
