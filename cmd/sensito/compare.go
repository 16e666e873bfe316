package main

import (
	"github.com/spf13/cobra"

	"sensito/cmd/sensito/internal/ask"
	"sensito/cmd/sensito/internal/console"
)

func newCompareCmd(s streams) *cobra.Command {
	o, q := &options{}, &ask.Compare{}
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
		RunE: func(cmd *cobra.Command, args []string) error {
			if cmd.Flags().Changed("figure") && o.plot == "" {
				return console.Usagef("--figure picks a drawing: give --plot FILE too")
			}
			if err := o.check(); err != nil {
				return err
			}
			q.ToDraw = o.plot != ""
			a, err := q.Ask(s.Streams, args)
			if err != nil {
				return err
			}
			return s.show(o, a)
		},
	}
	q.Register(cmd.Flags())
	o.register(cmd)
	o.look.register(cmd)
	o.registerFull(cmd, "what is not proven, and tones, toe and shoulder")
	return cmd
}
