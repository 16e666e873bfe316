package main

import (
	"github.com/spf13/cobra"

	"sensito/cmd/sensito/internal/ask"
	"sensito/cmd/sensito/internal/console"
)

func newCardCmd(s streams) *cobra.Command {
	o, q := &options{}, &ask.Card{Made: today()}
	cmd := &cobra.Command{
		Use:   "card TRIAL",
		Short: "Pocket card: times and indices from N-2 to N+2",
		Long: `Prints development time, exposure index, contrast index and the density range
delivered, for scenes from nine stops (N-2) to five (N+2). With --plot it is
a page to print, at its true size (100 %), and to cut: a6 is 148 by 105 mm, index
5 by 3 inches. With a control log it says how far the process of today is from the
trial's, and with --correct is the card for that process. With --at, --agitation or --dilution the card is for those
conditions; with --temperatures it is a table of times from 18 to 24 °C.`,
		Example: `  sensito card larkfield-brinewater.toml
  sensito card larkfield-brinewater.toml --plot card.pdf
  sensito card larkfield-brinewater.toml --plot card.png --page index
  sensito card larkfield-brinewater.toml --control control.toml --correct
  sensito card larkfield-brinewater.toml --at 72F
  sensito card larkfield-brinewater.toml --temperatures --plot chart.pdf`,
		Args: console.OneTrial,
		RunE: func(cmd *cobra.Command, args []string) error {
			if cmd.Flags().Changed("page") && o.plot == "" {
				return console.Usagef("--page is the size of the page that --plot FILE draws: give both")
			}
			return asked(s, o, q, args[0])
		},
	}
	q.Register(cmd.Flags())
	o.register(cmd)
	o.registerFull(cmd, "standard deviations, contrast and density range")
	return cmd
}
