package main

import (
	"github.com/spf13/cobra"

	"sensito/sensito"
	"sensito/sensito/development"
)

// conditionOptions are the flags that say under which conditions film is to be
// developed, where they differ from the trial's.
type conditionOptions struct {
	at, endsAt string
	q10, q10SD float64
	conditions development.Conditions

	given func(flag string) bool
}

func (o *conditionOptions) register(cmd *cobra.Command) {
	o.given = cmd.Flags().Changed
	f := cmd.Flags()
	f.StringVar(&o.at, "at", "", "temperature of today's developer `T`, 22.5 or 72F: the time there")
	f.StringVar(&o.endsAt, "ends-at", "", "temperature `T` that the bath drifts to by the end of development, with --at at its start")
	f.Float64Var(&o.q10, "q10", 0, "your own temperature coefficient `Q`, the rate at 30 °C over that at 20")
	f.Float64Var(&o.q10SD, "q10-sd", 0, "standard deviation `SD` of --q10")
	f.BoolVar(&o.conditions.Forced, "force-temperature", false, "tell a time outside 13 to 30 °C too")
	f.StringVar((*string)(&o.conditions.Agitation), "agitation", "", "`WAY` to agitate: continuous, intermittent or none")
	f.StringVar(&o.conditions.Dilution, "dilution", "", "dilution `1+N` of the developer, like 1+31")
}

// sense completes the conditions and returns a usage error for flags that do not
// go together or are outside their limits.
func (o *conditionOptions) sense() error {
	switch {
	case o.given("ends-at") && !o.given("at"):
		return usagef("--ends-at goes with --at, the temperature at the start")
	case !o.given("at") && (o.given("q10") || o.given("q10-sd") || o.conditions.Forced):
		return usagef("--q10, --q10-sd and --force-temperature go with --at, the temperature of today")
	}
	return o.senseTable()
}

// senseTable is sense for all temperatures at once.
func (o *conditionOptions) senseTable() error {
	c := &o.conditions
	for _, t := range []struct {
		flag, text string
		to         **float64
	}{{"at", o.at, &c.TemperatureC}, {"ends-at", o.endsAt, &c.EndC}} {
		if !o.given(t.flag) {
			continue
		}
		celsius, err := sensito.ParseTemperature(t.text)
		if err != nil {
			return usagef("--%s %w", t.flag, err)
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
		return usageError{err}
	}
	return nil
}

// changed returns how development differs from the trial's, nil where no flag
// asks.
func (o *conditionOptions) changed(f *development.Family) (*development.Change, error) {
	if !o.conditions.Changed() {
		return nil, nil
	}
	return f.Under(o.conditions)
}
