package main

import (
	"github.com/spf13/cobra"

	"sensito/cmd/sensito/internal/ask"
	"sensito/cmd/sensito/internal/console"
)

func newPaperCmd(s streams) *cobra.Command {
	o, q := &options{}, &ask.Paper{}
	cmd := &cobra.Command{
		Use:   "paper TRIAL",
		Short: "Print material: ISO range, speed, the negative it needs",
		Long: `Fits a characteristic curve to each strip of a trial of paper, one for each
grade or contrast filter, and prints white, black, ISO range and speed, each with
its standard deviation, and the density range of a negative that suits it.`,
		Example: `  sensito paper slate.toml
  sensito paper slate.toml --grade 2 --plot slate.svg`,
		Args: console.OneTrial,
		RunE: func(cmd *cobra.Command, args []string) error { return asked(s, o, q, args[0]) },
	}
	q.Register(cmd.Flags())
	o.register(cmd)
	o.look.register(cmd)
	o.registerFull(cmd, "white, black, speed and gradient of each grade")
	return cmd
}
