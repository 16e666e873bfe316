package enter

import (
	"context"
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"

	"sensito/cmd/sensito/internal/console"
	"sensito/cmd/sensito/internal/instrument"
	"sensito/sensito"
	"sensito/sensito/entry"
	"sensito/sensito/notebook/table"
)

// An enterer takes readings for one strip, from lines that are typed or piped
// and from an instrument.
type enterer struct {
	*entry.Keying
	streams console.Streams // err for prompts, questions and remarks
	file    *kept

	asks   bool // somebody is there to answer
	strict bool // a reading far off is refused when nobody is
	bold   bool // questions stand out

	typed <-chan typedLine     // nil when nothing is typed
	meter *instrument.Readings // nil without an instrument
	name  string               // of where lines come from, for errors
	line  int                  // the last one taken

	fogs     int               // so many readings of base plus fog come next
	fogFirst int               // so many do when a strip is begun
	pending  []sensito.Density // readings that were questioned
	meant    keyed             // with unsure, what a line without a decimal mark meant
	unsure   bool              // meant waits for a yes
	unsaid   error             // of writing to err

	contrary bool // it was said that readings run against the exposures
	noise    int  // lines of an instrument that nobody could read, one after the other
}

// fogReadings is how often base plus fog is asked for.
const fogReadings = 2

// afterLast is how long an instrument must be silent after the last step before
// enter ends by itself: another reading would say that one was taken too many.
const afterLast = 2 * time.Second

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
	if next := e.file.trial.Strips()[e.Number()-1].NextStep(); next > 0 {
		e.say("Strip %d goes on at step %d of %d: sensito enter %s\n", e.Number(), next, e.Steps(), e.file.path)
	}
}

func (e *enterer) say(format string, args ...any) {
	if _, err := fmt.Fprintf(e.streams.Err, format, args...); err != nil {
		e.unsaid = err
	}
}

// question says something that wants an answer.
func (e *enterer) question(format string, args ...any) {
	style := func(code string) {
		if e.bold {
			fmt.Fprint(e.streams.Terminal, code)
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
	case e.fogs > 0:
		e.say("base plus fog, reading %d of %d (Enter goes on): ", e.fogFirst-e.fogs+1, e.fogFirst)
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
	switch {
	case exposures.Wedge() != nil:
		parts = append(parts, fmt.Sprintf("wedge %.2f", float64(exposures.Wedge()[i])))
	case exposures.Kind() == sensito.Camera:
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
func (e *enterer) take(line typedLine) (stop bool, err error) {
	switch {
	case errors.Is(line.err, errLongLine):
		return false, e.fault(line.err)
	case line.err != nil:
		return false, console.CutOff(fmt.Errorf("%s: %w", e.name, line.err))
	}
	k, err := parseKeyed(line.text, e.Trial().Reading().Unit)
	if m := (*markless)(nil); errors.As(err, &m) && e.asks && m.possible && m.alone {
		e.question("%s has no decimal point. Is it %.2f?", m.text, float64(m.meant))
		k.readings = []sensito.Density{m.meant}
		e.pending, e.unsure, e.meant = nil, true, k
		return false, nil
	}
	if err != nil {
		return false, e.fault(err)
	}
	if e.unsure && k.verb == verbYes {
		k = e.meant
	}
	switch k.verb {
	case verbStop:
		return true, nil
	case verbHelp:
		e.say("%s", language)
		return false, nil
	case verbNothing:
		return e.nothing()
	}
	if err := e.cutOff(strings.TrimSpace(line.text), line.unended); err != nil {
		return false, err
	}
	e.unsure = false
	return false, e.change(k)
}

// nothing is an empty line: it goes on where there is something to go on from.
func (e *enterer) nothing() (stop bool, err error) {
	switch {
	case !e.asks || e.unsure || len(e.pending) > 0:
		return false, nil
	case e.fogs > 0:
		e.fogs = 0
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
		e.warn("passed over: %v; if that was a reading, take it again: %s comes next", r.Err, e.next())
		return false, nil
	case r.Err != nil:
		return false, e.fault(r.Err)
	}
	e.noise = 0
	if e.asks {
		e.say("%s\n", densities([]sensito.Density{sensito.Density(r.Value)}))
	}
	if err := e.cutOff(r.Text, r.Unended); err != nil {
		return false, err
	}
	e.unsure = false
	return false, e.change(keyed{verb: verbRead, readings: []sensito.Density{sensito.Density(r.Value)}})
}

// next names what is to be read next.
func (e *enterer) next() string {
	switch {
	case e.fogs > 0:
		return "base plus fog"
	case e.Done():
		return "nothing"
	}
	return fmt.Sprintf("step %d of %d", e.At(), e.Steps())
}

// warn says what nobody can answer.
func (e *enterer) warn(format string, args ...any) {
	e.say("sensito: %s:%d: %s\n", e.name, e.line, fmt.Sprintf(format, args...))
}
