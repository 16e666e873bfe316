package main

import (
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"sensito/cmd/sensito/internal/console"
	"sensito/sensito"
	"sensito/sensito/scene"
)

// todayOptions are the flags that say how film is developed today, where that is
// not as in the trial.
type todayOptions struct {
	at, endsAt string
	q10, q10SD float64
	control    string // a log of control strips
	today      scene.Today

	given func(flag string) bool
}

// todayFlags are those that say how development is today.
var todayFlags = []string{"at", "ends-at", "q10", "q10-sd", "force-temperature", "agitation", "dilution", "control", "correct"}

func (o *todayOptions) register(cmd *cobra.Command) {
	o.given = cmd.Flags().Changed
	f, c := cmd.Flags(), &o.today.Conditions
	f.StringVar(&o.at, "at", "", "temperature of today's developer `T`, 22.5 or 72F: the time there")
	f.StringVar(&o.endsAt, "ends-at", "", "temperature `T` that the bath drifts to by the end of development, with --at at its start")
	f.Float64Var(&o.q10, "q10", 0, "your own temperature coefficient `Q`, the rate at 30 °C over that at 20")
	f.Float64Var(&o.q10SD, "q10-sd", 0, "standard deviation `SD` of --q10")
	f.BoolVar(&c.Forced, "force-temperature", false, "tell a time outside 13 to 30 °C too")
	f.StringVar((*string)(&c.Agitation), "agitation", "", "`WAY` to agitate: continuous, intermittent or none")
	f.StringVar(&c.Dilution, "dilution", "", "dilution `1+N` of the developer, like 1+31")
	f.StringVar(&o.control, "control", "", "a `LOG` of control strips of the film and developer: tell how far the process of today is")
	f.BoolVar(&o.today.Correct, "correct", false, "correct times and speeds for the process of today, by --control")
}

// sense completes the conditions and returns a usage error for flags that do not
// go together or are outside their limits. Others are the files that the command
// reads.
func (o *todayOptions) sense(others ...string) error {
	if !o.given("at") {
		switch {
		case o.given("ends-at"):
			return console.Usagef("--ends-at goes with --at, the temperature at the start")
		case o.given("q10") || o.given("q10-sd") || o.today.Conditions.Forced:
			return console.Usagef("--q10, --q10-sd and --force-temperature go with --at, the temperature of today")
		}
	}
	return o.senseTable(others...)
}

// senseTable is sense for all temperatures at once.
func (o *todayOptions) senseTable(others ...string) error {
	c := &o.today.Conditions
	for _, t := range []struct {
		flag, text string
		to         **float64
	}{{"at", o.at, &c.TemperatureC}, {"ends-at", o.endsAt, &c.EndC}} {
		if !o.given(t.flag) {
			continue
		}
		celsius, err := sensito.ParseTemperature(t.text)
		if err != nil {
			return console.Usagef("--%s %w", t.flag, err)
		}
		*t.to = &celsius
	}
	if o.given("q10") {
		c.Q10 = &o.q10
	}
	if o.given("q10-sd") {
		c.Q10SD = &o.q10SD
	}
	if err := c.Check(); err != nil {
		if _, data := err.(*sensito.Unanswerable); data {
			return err
		}
		return console.Usage(byFlag(err))
	}
	switch {
	case o.given("control") && o.control == "":
		return console.Usagef("--control must not be empty")
	case o.today.Correct && o.control == "":
		return console.Usagef("--correct needs --control LOG, the log that it corrects by")
	}
	for _, path := range others {
		if o.control == "-" && path == "-" {
			return console.Usagef("standard input is one file: name a file for --control or for what else is -")
		}
	}
	return nil
}

// byFlag names the flag in an error of a field of the conditions.
func byFlag(err error) error {
	var fault *sensito.FieldError
	if !errors.As(err, &fault) {
		return err
	}
	return fmt.Errorf("--%s %s", strings.ReplaceAll(fault.Key, "_", "-"), strings.ReplaceAll(fault.Reason, "q10", "--q10"))
}

// asToday returns what the flags say of today, with the control log read.
func (s streams) asToday(o *todayOptions) (scene.Today, error) {
	if o.control == "" {
		return o.today, nil
	}
	var err error
	o.today.Control, err = s.readControl(o.control)
	return o.today, err
}
