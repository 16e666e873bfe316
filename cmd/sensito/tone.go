package main

import (
	"github.com/spf13/cobra"

	"sensito/cmd/sensito/internal/ask"
	"sensito/cmd/sensito/internal/console"
)

func newToneCmd(s streams) *cobra.Command {
	o, q := &options{}, &ask.Tone{}
	cmd := &cobra.Command{
		Use:   "tone TRIAL --paper PAPERTRIAL [--grade G] --range STOPS",
		Short: "Follow a scene through film and paper to the print",
		Long: `Gives, for each tone of a scene, the exposure of the film with flare, the density
of the negative, the exposure of the paper and the density of the print, at the
development time that suits the paper. With --plot it is the four-quadrant
diagram of tone reproduction.

Index, time and tones are those of scene with the same flags, those of today
among them; the print is exposed so that the lightest tone gets the paper's white
point.`,
		Example: `  sensito tone larkfield-brinewater.toml --paper slate.toml --grade 2 --range 7
  sensito tone larkfield-brinewater.toml --paper slate.toml --grade 1 --enlarger condenser --range 7 --plot tone.pdf`,
		Args: console.OneTrial,
		RunE: func(cmd *cobra.Command, args []string) error { return asked(s, o, q, args[0]) },
	}
	q.Register(cmd.Flags())
	o.register(cmd)
	o.look.register(cmd)
	o.registerFull(cmd, "what goes with time and index, and exposures of film and paper")
	return cmd
}
