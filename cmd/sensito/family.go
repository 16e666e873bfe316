package main

import (
	"github.com/spf13/cobra"

	"sensito/cmd/sensito/internal/ask"
	"sensito/cmd/sensito/internal/console"
)

func newFamilyCmd(s streams) *cobra.Command {
	o, q := &options{}, &ask.Family{}
	cmd := &cobra.Command{
		Use:   "family TRIAL",
		Short: "Contrast, speed and fog against development time",
		Long: `Takes the strips of a trial together: contrast by first-order kinetics, speed
and fog against development time, and the time that meets the contrast
condition of ISO 6. With a control log it says how far the process of today is
from the trial's, and with --correct gives the ISO time and a marked one for it.
With --at, --agitation or --dilution both are for those conditions, and those of
the trial are told beside them.`,
		Example: `  sensito family larkfield-brinewater.toml
  sensito family larkfield-brinewater.toml --range 7 --plot family.pdf
  sensito family larkfield-brinewater.toml --control control.toml --correct
  sensito family larkfield-brinewater.toml --at 22.5`,
		Args: console.OneTrial,
		RunE: func(cmd *cobra.Command, args []string) error { return asked(s, o, q, args[0]) },
	}
	q.Register(cmd.Flags())
	o.register(cmd)
	o.look.register(cmd)
	o.registerFull(cmd, "average gradients, and the law of growth")
	return cmd
}
