package main

import (
	"sensito/sensito/development"
	"sensito/sensito/scene"

	"github.com/spf13/cobra"
)

// ageingOptions are the flags that say how the process of today is told and
// whether it is corrected for.
type ageingOptions struct {
	log     string
	correct bool

	given func(flag string) bool
}

func (o *ageingOptions) register(cmd *cobra.Command) {
	o.given = cmd.Flags().Changed
	f := cmd.Flags()
	f.StringVar(&o.log, "control", "", "a `LOG` of control strips of the film and developer: tell how far the process of today is")
	f.BoolVar(&o.correct, "correct", false, "correct times and speeds for the process of today, by --control")
}

// sense returns a usage error for flags that do not go together. Others are the
// files that the command reads, by the flags' names where they have one.
func (o *ageingOptions) sense(others ...string) error {
	switch {
	case o.given("control") && o.log == "":
		return usagef("--control must not be empty")
	case o.correct && o.log == "":
		return usagef("--correct needs --control LOG, the log that it corrects by")
	}
	for _, path := range others {
		if o.log == "-" && path == "-" {
			return usagef("standard input is one file: name a file for --control or for what else is -")
		}
	}
	return nil
}

// undrawn returns a usage error for a corrected drawing: drawings hold the
// trial's curves at the trial's times.
func (o *ageingOptions) undrawn(figure string) error {
	if o.correct && figure != "" {
		return usagef("--plot draws the trial as it was developed: leave out --correct")
	}
	return nil
}

// ageing returns how far the process of today is from the family's, nil without
// a log. The error says too when a correction is wanted and cannot be had.
func (s streams) ageing(o *ageingOptions, f *development.Family) (*scene.Ageing, error) {
	if o.log == "" {
		return nil, nil
	}
	log, err := s.readControl(o.log)
	if err != nil {
		return nil, err
	}
	a, err := scene.NewAgeing(f, log)
	if err != nil {
		return nil, err
	}
	if o.correct {
		err = a.Correctable()
	}
	return a, err
}
