package main

import (
	"github.com/spf13/cobra"

	"sensito/cmd/sensito/internal/ask"
	"sensito/cmd/sensito/internal/console"
)

func newSceneCmd(s streams) *cobra.Command {
	o, q := &options{}, &ask.Scene{}
	cmd := &cobra.Command{
		Use:   "scene TRIAL (--range STOPS | --shadow EV@ZONE --highlight EV@ZONE | --roll FILE)",
		Short: "Exposure index and development time for one scene, or for a roll of scenes",
		Long: `Gives the development time at which the tones of a scene span the density range
of the aim, the exposure index at that time, the density range that the two
deliver, and where each tone falls on the negative and, with a tested paper, in
the print.

The index lays an even tone, --shadow-stops below the metered one, on the speed
point without flare, as a test exposure shows. Time and tones count flare, which
lifts the shadows above that: a reserve.

The scene is a range in stops, from the darkest to the lightest tone that must
keep detail; or two spot readings with the zones they go with, from which the
camera is set too; or a file of the scenes of a roll, which share one
development time. That file is a table (CSV) with a header: name, and range_stops
or shadow and highlight.

With a control log it says how far the process of today is from the trial's, and
with --correct gives time and index for that process. With --at, --agitation or
--dilution the time is for those conditions, and that of the trial is told
beside it.

With --index the index is yours, as for a push, and with --exposed-at the film has
been exposed at it. The time then keeps the lightest tone at the net density that
it has in the answer without, or with --keep the metered tone, or the density range
of the scene. The answer says which shadows fall below the speed point and which
grade prints it.`,
		Example: `  sensito scene larkfield-brinewater.toml --range 7
  sensito scene larkfield-brinewater.toml --range 9 --density-range 1.25 --flare veil=0.01
  sensito scene larkfield-brinewater.toml --range 7 --paper slate.toml --grade 2
  sensito scene larkfield-brinewater.toml --shadow 8@III --highlight 13@VIII --aperture 16 --filter 2x
  sensito scene larkfield-brinewater.toml --roll harbour.csv --plot roll.svg
  sensito scene larkfield-brinewater.toml --range 7 --control control.toml --correct
  sensito scene larkfield-brinewater.toml --range 7 --index 160
  sensito scene larkfield-brinewater.toml --range 7 --exposed-at 40 --keep range
  sensito scene larkfield-brinewater.toml --range 7 --at 22.5
  sensito scene larkfield-brinewater.toml --range 7 --at 70F --ends-at 75F --agitation intermittent`,
		Args: console.OneTrial,
		RunE: func(cmd *cobra.Command, args []string) error { return asked(s, o, q, args[0]) },
	}
	q.Register(cmd.Flags())
	o.register(cmd)
	o.look.register(cmd)
	o.registerFull(cmd, "what goes with time and index, and what the error of the time is made of")
	return cmd
}
