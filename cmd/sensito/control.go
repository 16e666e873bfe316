package main

import (
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"sensito/cmd/sensito/internal/console"
	"sensito/plot"
	"sensito/sensito/control"
	"sensito/sensito/control/chart"
	"sensito/sensito/notebook"
	"sensito/sensito/report"
)

type controlOptions struct {
	options
	trial    string
	baseline int
	rules    string
	charts   []string
	added    stripOptions
}

func newControlCmd(s streams) *cobra.Command {
	o := &controlOptions{}
	cmd := &cobra.Command{
		Use:   "control LOG",
		Short: "Control strips: is the process still in control",
		Long: `Reads a log of control strips and charts base plus fog, the low density, which
follows speed and contrast, and the difference of high and low, which follows
contrast: single strips, moving ranges, EWMA and CUSUM. Prints the first signal, since when, where
the process is now, and what that usually means.

Centre lines are the aim of the log or the mean of its baseline; limits are those
of the log, or three times its repeatability, or rest on the baseline: the strips
marked so, or the first 12. With an aim a log answers from its first strip.

With a trial of the same film and developer rate, speed and fog are told apart:
by how much longer to develop, the stops that the film has gained or lost at the
speed point (net density 0.10) beside that, and fog beside that. A low patch that
lost density with contrast is not a loss of speed.

With --add a strip is added to the file of the log first: the date on which it was
developed and its patches. The same strip given twice is added once.`,
		Example: `  sensito control control.toml
  sensito control control.toml --trial larkfield-brinewater.toml --plot control.svg
  sensito control control.toml --rules nelson --chart individuals
  sensito control control.toml --add --date 2026-06-08 --base-fog 0.12 --low 0.38 --high 1.21`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) != 1 {
				return console.Usagef("control takes one log (a file, a folder with one, or - for standard input); %d given", len(args))
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			if cmd.Flags().Changed("baseline") && o.baseline < control.LeastBaseline {
				return console.Usagef("--baseline %d is fewer than %d strips, too few for limits", o.baseline, control.LeastBaseline)
			}
			return s.control(o, args[0])
		},
	}
	o.register(cmd)
	o.look.register(cmd)
	o.registerFull(cmd, "the signals of each chart, and where limits are from")
	f := cmd.Flags()
	o.added.register(f)
	f.StringVar(&o.trial, "trial", "", "`TRIAL` of the film and developer, to give a change in stops and in time")
	f.IntVar(&o.baseline, "baseline", 0, "take limits from the first `N` strips, 8 or more")
	f.StringVar(&o.rules, "rules", string(chart.LimitsAlone), "tests of single strips: "+names(chart.RuleSets))
	f.StringSliceVar(&o.charts, "chart", nil, "only these charts: "+names(chart.Kinds))
	return cmd
}

func (s streams) control(o *controlOptions, path string) error {
	if err := o.check(); err != nil {
		return err
	}
	set := chart.RuleSet(o.rules)
	if !slices.Contains(chart.RuleSets, set) {
		return console.Usagef("--rules %q is not one of %s", o.rules, names(chart.RuleSets))
	}
	evaluate := control.Options{Baseline: o.baseline, Rules: set}
	for _, name := range o.charts {
		kind := chart.Kind(strings.ReplaceAll(name, "-", "_"))
		if !slices.Contains(chart.Kinds, kind) {
			return console.Usagef("--chart %q is not one of %s", name, names(chart.Kinds))
		}
		if !slices.Contains(evaluate.Kinds, kind) {
			evaluate.Kinds = append(evaluate.Kinds, kind)
		}
	}
	if path == "-" && o.trial == "-" {
		return console.Usagef("the log and the trial cannot both come from standard input")
	}
	if err := o.added.check(); err != nil {
		return err
	}
	read := s.readControl
	if o.added.add {
		if path == "-" {
			return console.Usagef("--add writes into the file of the log: name it")
		}
		strip, err := o.added.strip()
		if err != nil {
			return err
		}
		read = func(path string) (*control.Log, error) { return s.addControl(o, path, strip) }
	}
	if o.trial != "" {
		var err error
		if evaluate.Family, err = s.readFamily(&o.options, o.trial); err != nil {
			return err
		}
	}
	log, err := read(path)
	if err != nil {
		return err
	}
	c, err := log.Evaluate(evaluate)
	if err != nil {
		return err
	}
	c.Warnings = console.WithFlags(c.Warnings)
	r := report.NewControl(c, o.confidence)
	if evaluate.Family != nil {
		r.Developed(c.Deviations(evaluate.Family.Trial))
	}
	return s.finish(&o.options, r, func() (*plot.Figure, error) {
		return plot.Control(c, o.drawn)
	})
}

// readControl reads a log from a file, or from standard input for "-".
func (s streams) readControl(path string) (*control.Log, error) {
	path, err := only(path, notebook.ControlKind)
	if err != nil {
		return nil, err
	}
	return console.ReadInput(s.Streams, path, notebook.ReadControl)
}

// names returns choices as a list for people.
func names[T ~string](choices []T) string {
	var out []string
	for _, c := range choices {
		out = append(out, fmt.Sprint(c))
	}
	return strings.Join(out, ", ")
}
