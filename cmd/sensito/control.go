package main

import (
	"github.com/spf13/cobra"

	"sensito/cmd/sensito/internal/ask"
	"sensito/cmd/sensito/internal/console"
	"sensito/sensito/control"
)

func newControlCmd(s streams) *cobra.Command {
	o, q, added := &options{}, &ask.Control{}, &stripOptions{}
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
			if err := s.adding(o, q, added, args[0]); err != nil {
				return err
			}
			return asked(s, o, q, args[0])
		},
	}
	q.Register(cmd.Flags())
	o.register(cmd)
	o.look.register(cmd)
	o.registerFull(cmd, "the signals of each chart, and where limits are from")
	added.register(cmd.Flags())
	return cmd
}

// adding makes the question add a strip to the log that it reads, if one is given.
func (s streams) adding(o *options, q *ask.Control, added *stripOptions, path string) error {
	if err := added.check(); err != nil || !added.add {
		return err
	}
	if path == "-" {
		return console.Usagef("--add writes into the file of the log: name it")
	}
	strip, err := added.strip()
	if err != nil {
		return err
	}
	q.Read = func(path string) (*control.Log, error) { return s.addControl(o, path, strip) }
	return nil
}
