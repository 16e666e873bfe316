package main

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"sensito/cmd/sensito/internal/console"
	"sensito/plot"
	"sensito/sensito/compare"
	"sensito/sensito/development"
	"sensito/sensito/report"
)

type compareOptions struct {
	options
	figure  string
	compare compare.Options
	today   todayOptions
}

func newCompareCmd(s streams) *cobra.Command {
	o := &compareOptions{}
	cmd := &cobra.Command{
		Use:   "compare TRIAL TRIAL...",
		Short: "Several trials side by side at equal contrast",
		Long: `Brings two or more trials to the same average gradient, that of the aim of a
normal scene unless told otherwise, and gives speed, base plus fog, the time
needed, the form of the curve and the density of every tone side by side; then
the differences, and which of them are larger than chance makes them.

A control log is one of the first trial: it says how far that process is today
from the trial's, and --correct compares the first trial as it is today. --at,
--agitation and --dilution are of all trials.`,
		Example: `  sensito compare larkfield-brinewater.toml larkfield-ashlar.toml
  sensito compare harrow-quay --gradient 0.58 --plot compare.pdf
  sensito compare one.toml other.toml --plot gradient.svg --figure gradient
  sensito compare larkfield-brinewater.toml larkfield-ashlar.toml --control control.toml --correct`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 {
				return fewTrials(0)
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			given := cmd.Flags().Changed
			if given("figure") && o.plot == "" {
				return console.Usagef("--figure picks a drawing: give --plot FILE too")
			}
			if err := notZero(given, limited{"gradient", o.compare.Gradient, 0.2, 2}, limited{"range", o.compare.Scene.Stops, 1, 20}); err != nil {
				return err
			}
			if err := o.today.sense(args...); err != nil {
				return err
			}
			return s.compare(o, args)
		},
	}
	o.register(cmd)
	o.look.register(cmd)
	o.registerFull(cmd, "what is not proven, and tones, toe and shoulder")
	o.today.register(cmd)
	f := cmd.Flags()
	f.Float64Var(&o.compare.Gradient, "gradient", 0, "average gradient `G` at which the trials are compared; that of the aim unless given")
	f.Float64Var(&o.compare.Scene.Stops, "range", 7, "range in `STOPS` of the scene over which the gradient is taken")
	f.BoolVar(&o.compare.SeparateExposures, "separate-exposures", false, "exposures written alike were made under different lamps all the same")
	f.StringVar(&o.figure, "figure", "", "draw only `NAME`: "+strings.Join(plot.CompareFigures(), ", "))
	return cmd
}

func (s streams) compare(o *compareOptions, paths []string) error {
	if err := o.check(); err != nil {
		return err
	}
	paths, err := films(paths)
	if err != nil {
		return err
	}
	if len(paths) < 2 {
		return fewTrials(len(paths))
	}
	if o.figure != "" && !slices.Contains(plot.CompareFigures(), o.figure) {
		return console.Usagef("--figure %q is not one of %s", o.figure, strings.Join(plot.CompareFigures(), ", "))
	}
	stdin := 0
	for _, path := range paths {
		if path == "-" {
			stdin++
		}
	}
	if stdin > 1 {
		return console.Usagef("standard input is one trial: name files for the others")
	}
	o.compare.Level = o.confidence
	if err := o.compare.Check(); err != nil {
		return console.Usage(err)
	}
	var families []*development.Family
	var failed []error
	read := func(path string) (*development.Family, error) {
		trial, err := s.readFilm(path)
		if err != nil {
			return nil, err
		}
		f, err := development.NewFamily(trial, o.measure)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", path, err) // which the reason does not name
		}
		return f, nil
	}
	err = inOrder(paths, read, func(_ int, f *development.Family, err error) error {
		families, failed = append(families, f), append(failed, err)
		return nil
	})
	if err = errors.Join(append(failed, err)...); err != nil {
		return err
	}
	if o.compare.Scene.Today, err = s.asToday(&o.today); err != nil {
		return err
	}
	c, err := compare.Compare(families, o.compare)
	if err != nil {
		return err
	}
	return s.finish(&o.options, report.NewCompare(c), func() (*plot.Figure, error) {
		return plot.Compare(c, o.figure, o.drawn)
	})
}

func fewTrials(n int) error {
	return console.Usagef("compare takes two trials or more (files, folders, or - for standard input); %d given", n)
}
