package enter

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"sensito/cmd/sensito/internal/console"
	"sensito/cmd/sensito/internal/instrument"
	"sensito/cmd/sensito/internal/keyed"
	"sensito/cmd/sensito/internal/told"
	"sensito/sensito"
	"sensito/sensito/entry"
	"sensito/sensito/notebook/table"
)

// An enterer takes readings for the strips of a trial, one after the other, from
// lines that are typed or piped and from an instrument.
type enterer struct {
	*talk
	*entry.Keying
	file *kept

	strict   bool // a reading far off is refused when nobody is there to answer
	expects  bool // what was expected is told after a reading
	fogGiven bool // it was said how many readings of base plus fog come first

	meter *instrument.Readings // nil without an instrument

	fogs     int               // so many readings of base plus fog come next
	fogFirst int               // so many do when a strip is begun
	pending  []sensito.Density // readings that were questioned
	offered  []string          // for the strips that come, as they would be typed

	contrary bool // it was said that readings run against the exposures
	told     bool // what the strip came to
	noise    int  // lines of an instrument that nobody could read, one after the other
}

// fogReadings is how often base plus fog is asked for.
const fogReadings = 2

// afterLast is how long an instrument must be silent after the last step before
// enter ends by itself: another reading would say that one was taken too many.
const afterLast = 2 * time.Second

// start begins with a strip that is in the file, or was begun.
func (e *enterer) start(number int) {
	e.file.strip = told.Text(e.file.trial, number)
	if e.file.begun {
		e.file.strip = ""
	}
	e.Keying = entry.NewKeying(e.file.trial, number)
	e.pending, e.contrary, e.told, e.fogs = nil, false, e.Done(), 0
	if !e.asks {
		e.InOrder()
	}
	switch {
	case e.fogGiven:
		e.StateOrder()
		if e.At() == 1 && !e.Begun() {
			e.ClearFog() // of an earlier try
		}
		e.fogs = e.fogFirst
	case e.asks && e.At() == 1 && len(e.BaseFog()) == 0 && len(e.Readings(1)) == 0:
		e.fogs = e.fogFirst
	}
	if e.asks {
		e.say("%s.\n", told.Name(e.Trial().Strips()[number-1]))
	}
}

// run takes lines until the strip is done, or stop, or the end of the lines, or
// until ctx is cancelled, whose cause it then returns. What has been read is in
// the file then.
func (e *enterer) run(ctx context.Context) error {
	defer e.stopped()
	var lines <-chan instrument.Reading
	if e.meter != nil {
		lines = e.meter.Lines
	}
	var over <-chan time.Time
	for {
		if e.prompt(); e.asks && e.unsaid != nil {
			return e.unsaid
		}
		if over == nil && !e.asks && e.Done() && lines != nil && e.meter.Device {
			over = time.After(afterLast)
		}
		var stop bool
		var err error
		if line, ok := e.ready(); ok {
			e.line++
			e.echo(line)
			if stop, err = e.take(line); err != nil || stop {
				return err
			}
			continue
		}
		select {
		case <-ctx.Done():
			if e.asks {
				e.say("\n")
			}
			return context.Cause(ctx)
		case <-over:
			return nil
		case line, ok := <-e.typed:
			if !ok {
				return e.ended(ctx)
			}
			e.line++
			e.answered = true
			e.echo(line)
			stop, err = e.take(line)
		case r, ok := <-lines:
			if !ok {
				lines = nil
				if e.typed == nil {
					return e.ended(ctx)
				}
				e.say("\nNo more readings come from %s.\n", e.name)
				continue
			}
			e.line++
			stop, err = e.measured(r)
		}
		if err != nil || stop {
			return err
		}
	}
}

// place counts readings of base plus fog that are still to come, then steps.
func (e *enterer) place() int { return e.At() - 1 - e.fogs }

// wait has lines that were pasted after the one at hand wait for their step, which is
// so many further on.
func (e *enterer) wait(further int) {
	if len(e.held) > 0 {
		return // for theirs
	}
	want := e.place() + further
	if e.resume = nil; !e.Done() {
		e.resume = func() bool { return e.place() == want && len(e.pending) == 0 }
	}
}

// fault is an error of the line at hand.
func (e *enterer) fault(err error) error {
	e.wait(1)
	return e.talk.fault(err)
}

// ended judges that no more lines come: a person has ended them, and so has
// whoever gave all steps. Lines end too when ctx is cancelled, whose cause it then
// returns.
func (e *enterer) ended(ctx context.Context) error {
	if ctx.Err() != nil {
		return context.Cause(ctx)
	}
	if e.asks {
		e.say("\n")
		return nil
	}
	next := e.Spec().NextStep
	if next == 0 {
		return nil
	}
	text := fmt.Sprintf("%s ended before step %d of %d", e.name, next, e.Steps())
	if e.typed != nil {
		text += ", and no line says stop"
	}
	return console.CutOff(errors.New(text))
}

// cutOff returns an error for a last line that may be half of one, unless it is
// of the last step: that the strip is complete tells that the line is.
func (e *enterer) cutOff(line string, unended bool) error {
	if !unended || e.asks || e.At() >= e.Steps() {
		return nil
	}
	return console.CutOff(fmt.Errorf("%s:%d: the input ended within this line, so %q may be half a reading and was not taken", e.name, e.line, line))
}

// stopped says where the strip goes on, by the file.
func (e *enterer) stopped() {
	e.left()
	if e.file.begun {
		return // nothing of it was read
	}
	if next := e.file.trial.Strips()[e.Number()-1].NextStep(); next > 0 {
		e.say("Strip %d goes on at step %d of %d: sensito enter %s\n", e.Number(), next, e.Steps(), e.file.path)
	}
}

// sayNext says at the end what the readings can tell.
func (e *enterer) sayNext() {
	if e.Trial().Material() == sensito.PaperMaterial {
		e.say("What it comes to: sensito paper %s\n", e.file.path)
		return
	}
	e.say("Index and time, as for a scene of 7 stops: sensito scene %s --range 7\n", e.file.path)
}

// prompt says what comes next.
func (e *enterer) prompt() {
	if !e.asks {
		return
	}
	switch {
	case len(e.pending) > 0:
		e.ask("keep, or the reading again: ")
	case e.fogs > 0:
		e.ask("base plus fog, reading %d of %d (Enter goes on): ", e.fogFirst-e.fogs+1, e.fogFirst)
	case e.Done():
		e.ask("%s", e.nextPrompt())
	default:
		e.ask("%s: ", e.step())
	}
}

// heading says what is being keyed in.
func (e *enterer) heading() {
	what := e.file.trial.Title()
	if what == "" {
		what = e.file.trial.Film().Name
	}
	if r := e.file.trial.Reading(); r.Unit != sensito.UnitDensity {
		what += ", " + r.How()
	}
	e.say("%s; help lists what can be typed.\n", what)
}

// step describes the step at hand.
func (e *enterer) step() string {
	parts := []string{fmt.Sprintf("step %d of %d", e.At(), e.Steps())}
	exposures := e.Trial().Exposures()
	i := e.At() - 1
	switch {
	case exposures.Wedge() != nil:
		parts = append(parts, fmt.Sprintf("wedge %.2f", float64(exposures.Wedge()[i])))
	case exposures.Kind() == sensito.Camera:
		parts = append(parts, fmt.Sprintf("%+g stops", exposures.Stops()[i]))
	default:
		parts = append(parts, fmt.Sprintf("log H %.2f", float64(exposures.RelativeLogH()[i])))
	}
	if has := e.Readings(e.At()); len(has) > 0 {
		parts = append(parts, fmt.Sprintf("has %s (Enter keeps)", e.said(has...)))
	}
	return strings.Join(parts, ", ")
}

// take carries out one typed line, and says whether to stop.
func (e *enterer) take(line typedLine) (stop bool, err error) {
	switch {
	case errors.Is(line.err, errLongLine):
		return false, e.fault(line.err)
	case line.err != nil:
		return false, console.CutOff(fmt.Errorf("%s: %w", e.name, line.err))
	}
	k, err := keyed.Parse(line.text)
	if e.asks && e.Done() && len(e.pending) == 0 && e.fogs == 0 && (err != nil || k.Verb == keyed.Read) {
		return false, e.another(strings.TrimSpace(line.text), true) // which is asked for
	}
	if err != nil {
		return false, e.fault(err)
	}
	switch k.Verb {
	case keyed.Stop:
		return true, nil
	case keyed.Help:
		e.say("%s", keyed.Language(e.Trial().Reading().Unit))
		return false, nil
	case keyed.Drop:
		e.drop()
		return false, nil
	case keyed.Strip:
		return false, e.another(k.Text, false)
	case keyed.Nothing:
		return e.nothing(line)
	}
	if err := e.cutOff(strings.TrimSpace(line.text), line.unended); err != nil {
		return false, err
	}
	return false, e.change(k)
}

// nothing is an empty line: it goes on where there is something to go on from. One
// that was pasted says nothing.
func (e *enterer) nothing(line typedLine) (stop bool, err error) {
	switch {
	case !e.asks || len(e.pending) > 0 || line.at.Before(e.prompted):
		return false, nil
	case e.fogs > 0:
		e.fogs = 0
	case e.Done():
		text := e.offer()
		if text == "" {
			return true, nil
		}
		return false, e.another(text, true)
	case len(e.Readings(e.At())) > 0:
		before := stateOf(e.Keying)
		if err := e.Keep(); err != nil {
			return false, err
		}
		return false, e.keep(before)
	}
	return false, nil
}

// noisy is how many lines that nobody can read, one after the other, are noise on
// the line of an instrument; more are a setting that is wrong.
const noisy = 2

// measured takes a reading of the instrument, and says whether to stop.
func (e *enterer) measured(r instrument.Reading) (stop bool, err error) {
	if e.asks && (r.Err != nil) {
		e.say("\n")
	}
	switch {
	case errors.Is(r.Err, table.ErrNoReading):
		e.say("Passed over: %v\n", r.Err)
		return false, nil
	case errors.Is(r.Err, instrument.ErrLost) && e.asks && e.typed != nil:
		e.say("%v\nReadings can be typed.\n", r.Err)
		return false, nil
	case errors.Is(r.Err, instrument.ErrLost) && e.Done():
		return true, nil
	case errors.Is(r.Err, instrument.ErrLost):
		return false, console.CutOff(r.Err)
	case r.Err != nil && !e.asks && e.meter.Device && e.noise < noisy:
		e.noise++
		e.warn("passed over: %v; if that was a reading, take it again: %s comes next", r.Err, e.comes())
		return false, nil
	case r.Err != nil:
		return false, e.fault(r.Err)
	}
	e.noise = 0
	if e.asks {
		e.say("%s\n", e.said(sensito.Density(r.Value)))
	}
	if err := e.cutOff(r.Text, r.Unended); err != nil {
		return false, err
	}
	return false, e.change(keyed.Line{Verb: keyed.Read, Measured: []sensito.Density{sensito.Density(r.Value)}})
}

// comes names what is to be read next.
func (e *enterer) comes() string {
	switch {
	case e.fogs > 0:
		return "base plus fog"
	case e.Done():
		return "nothing"
	}
	return fmt.Sprintf("step %d of %d", e.At(), e.Steps())
}
