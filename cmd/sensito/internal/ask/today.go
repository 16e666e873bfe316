package ask

import (
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/pflag"

	"sensito/cmd/sensito/internal/console"
	"sensito/sensito"
	"sensito/sensito/scene"
)

// Today is how film is developed today, where that is not as in the trial.
type Today struct {
	at, endsAt string
	q10, q10SD float64
	control    string // a log of control strips
	today      scene.Today

	given func(flag string) bool
}

// TodayFlags are those that say how development is today.
var TodayFlags = []string{"at", "ends-at", "q10", "q10-sd", "force-temperature", "agitation", "dilution", "control", "correct"}

// Register adds the flags to those of a question.
func (q *Today) Register(f *pflag.FlagSet) {
	q.given = f.Changed
	c := &q.today.Conditions
	f.StringVar(&q.at, "at", "", "temperature of today's developer `T`, 22.5 or 72F: the time there")
	f.StringVar(&q.endsAt, "ends-at", "", "temperature `T` that the bath drifts to by the end of development, with --at at its start")
	f.Float64Var(&q.q10, "q10", 0, "your own temperature coefficient `Q`, the rate at 30 °C over that at 20")
	f.Float64Var(&q.q10SD, "q10-sd", 0, "standard deviation `SD` of --q10")
	f.BoolVar(&c.Forced, "force-temperature", false, "tell a time outside 13 to 30 °C too")
	f.StringVar((*string)(&c.Agitation), "agitation", "", "`WAY` to agitate: continuous, intermittent or none")
	f.StringVar(&c.Dilution, "dilution", "", "dilution `1+N` of the developer, like 1+31")
	f.StringVar(&q.control, "control", "", "a `LOG` of control strips of the film and developer: tell how far the process of today is")
	f.BoolVar(&q.today.Correct, "correct", false, "correct times and speeds for the process of today, by --control")
}

// Sense returns what the flags say of today, without the control log, and a usage error
// for those that do not go together or are outside their limits. Others are the files
// that the question reads.
func (q *Today) Sense(others ...string) (scene.Today, error) {
	if !q.given("at") {
		switch {
		case q.given("ends-at"):
			return scene.Today{}, console.Usagef("--ends-at goes with --at, the temperature at the start")
		case q.given("q10") || q.given("q10-sd") || q.today.Conditions.Forced:
			return scene.Today{}, console.Usagef("--q10, --q10-sd and --force-temperature go with --at, the temperature of today")
		}
	}
	return q.senseTable(others...)
}

// senseTable is Sense for all temperatures at once.
func (q *Today) senseTable(others ...string) (scene.Today, error) {
	today := q.today
	c := &today.Conditions
	for _, t := range []struct {
		flag, text string
		to         **float64
	}{{"at", q.at, &c.TemperatureC}, {"ends-at", q.endsAt, &c.EndC}} {
		if !q.given(t.flag) {
			continue
		}
		celsius, err := sensito.ParseTemperature(t.text)
		if err != nil {
			return today, console.Usagef("--%s %w", t.flag, err)
		}
		*t.to = &celsius
	}
	if q.given("q10") {
		c.Q10 = &q.q10
	}
	if q.given("q10-sd") {
		c.Q10SD = &q.q10SD
	}
	if err := c.Check(); err != nil {
		if _, data := err.(*sensito.Unanswerable); data {
			return today, err
		}
		return today, console.Usage(byFlag(err))
	}
	switch {
	case q.given("control") && q.control == "":
		return today, console.Usagef("--control must not be empty")
	case q.today.Correct && q.control == "":
		return today, console.Usagef("--correct needs --control LOG, the log that it corrects by")
	}
	for _, path := range others {
		if q.control == "-" && path == "-" {
			return today, console.Usagef("standard input is one file: name a file for --control or for what else is -")
		}
	}
	return today, nil
}

// byFlag names the flag in an error of a field of the conditions.
func byFlag(err error) error {
	var fault *sensito.FieldError
	if !errors.As(err, &fault) {
		return err
	}
	return fmt.Errorf("--%s %s", strings.ReplaceAll(fault.Key, "_", "-"), strings.ReplaceAll(fault.Reason, "q10", "--q10"))
}

// read completes what the flags say of today by the control log.
func (q *Today) read(s Files, today scene.Today) (scene.Today, error) {
	if q.control == "" {
		return today, nil
	}
	var err error
	today.Control, err = s.Control(q.control)
	return today, err
}
