package main

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/pflag"

	"sensito/cmd/sensito/internal/ask"
	"sensito/cmd/sensito/internal/console"
	"sensito/sensito"
	"sensito/sensito/control"
	"sensito/sensito/notebook"
)

// stripOptions are the flags of a control strip that is added to a log.
type stripOptions struct {
	add, fresh         bool
	date, note         string
	baseFog, low, high float64
	patches            []string
	given              func(flag string) bool
}

// neededOfStrip are the flags without which there is no strip, and moreOfStrip
// those that it can have.
var (
	neededOfStrip = []string{"date", "base-fog", "low", "high"}
	moreOfStrip   = []string{"patch", "fresh", "note"}
)

func (o *stripOptions) register(f *pflag.FlagSet) {
	o.given = f.Changed
	f.BoolVar(&o.add, "add", false, "add a strip to the file of the log, then judge the log with it")
	f.StringVar(&o.date, "date", "", "`DATE` on which the strip was developed, like 2026-03-01")
	f.Float64Var(&o.baseFog, "base-fog", 0, "`DENSITY` of the strip where it got no light")
	f.Float64Var(&o.low, "low", 0, "`DENSITY` of its low patch")
	f.Float64Var(&o.high, "high", 0, "`DENSITY` of its high patch")
	f.StringArrayVar(&o.patches, "patch", nil, "a further patch, `NAME=DENSITY`, where the log has such; may be repeated")
	f.BoolVar(&o.fresh, "fresh", false, "it is the first after the process was set right: charts begin anew")
	f.StringVar(&o.note, "note", "", "a `NOTE` on the strip")
}

// check returns a usage error where the flags are no strip, or one that is not
// to be added.
func (o *stripOptions) check() error {
	if !o.add {
		for _, flag := range slices.Concat(neededOfStrip, moreOfStrip) {
			if o.given(flag) {
				return console.Usagef("--%s is of a strip that is added: give --add too", flag)
			}
		}
		return nil
	}
	var missing []string
	for _, flag := range neededOfStrip {
		if !o.given(flag) {
			missing = append(missing, "--"+flag)
		}
	}
	if len(missing) > 0 {
		return console.Usagef("--add needs --%s; without it: %s", strings.Join(neededOfStrip, ", --"), strings.Join(missing, ", "))
	}
	return nil
}

// strip returns the strip that the flags tell of.
func (o *stripOptions) strip() (control.Strip, error) {
	s := control.Strip{Date: o.date, Fresh: o.fresh, Note: o.note, Patches: control.Patches{
		BaseFog: sensito.Density(o.baseFog), Low: sensito.Density(o.low), High: sensito.Density(o.high)}}
	for _, text := range o.patches {
		name, density, err := control.ParsePatch(text)
		if err != nil {
			return s, console.Usagef("--patch %w", err)
		}
		if _, twice := s.Others[name]; twice {
			return s, console.Usagef("--patch %q: %s is given twice", text, name)
		}
		if s.Others == nil {
			s.Others = map[string]sensito.Density{}
		}
		s.Others[name] = density
	}
	return s, ofFlag(ask.CheckControl(s))
}

// ofFlag returns the fault of a strip as one of the flag that gave the value; another
// error as it is.
func ofFlag(err error) error {
	var fault *ask.StripFault
	if !errors.As(err, &fault) {
		return err
	}
	flag, of, further := strings.Cut(fault.Field, ".")
	switch {
	case further:
		return console.Usagef("--patch %s: %s", of, fault.Reason)
	case flag == "patches":
		flag = "patch"
	}
	return console.Usagef("--%s %s", strings.ReplaceAll(flag, "_", "-"), fault.Reason)
}

// addControl adds the strip to the file of a log, unless the log has it, and
// returns the log. Nothing is added where the result or the figure could not be
// written afterwards, as into the log itself.
func (s streams) addControl(o *options, path string, strip control.Strip) (*control.Log, error) {
	path, err := s.Only(path, notebook.ControlKind)
	if err != nil {
		return nil, err
	}
	f, err := s.OpenInput(path)
	if err != nil {
		return nil, err
	}
	f.Close()
	if o.plot != "" {
		if err := s.Free(o.plot, o.force); err != nil {
			return nil, err
		}
	}
	var log *control.Log
	same := 0
	if err := s.Save(path, func() (err error) {
		log, same, err = ask.AddControl(path, strip)
		return ofFlag(err)
	}); err != nil {
		return nil, err
	}
	s.noteAhead(strip.Date)
	if same > 0 {
		fmt.Fprintf(s.Err, "sensito: not added again: strip %d of the log says the same; if this is another one, say so with --note\n", same)
	} else {
		fmt.Fprintf(s.Err, "sensito: added strip %d to %s\n", len(log.Strips()), path)
	}
	return log, nil
}
