package main

import (
	"github.com/spf13/cobra"

	"sensito/cmd/sensito/internal/ask"
	"sensito/cmd/sensito/internal/console"
	"sensito/sensito/cameratest"
	"sensito/sensito/report"
	"sensito/sensito/scene"
)

func newSpeedCmd(s streams) *cobra.Command {
	o := &options{}
	var level float64
	t := &cameratest.FirstFrame{}
	cmd := &cobra.Command{
		Use:   "speed --meter-index INDEX --first-frame STOPS",
		Short: "Exposure index without any instrument, by the first frame that is seen",
		Long: `Photograph an even target that fills the frame, out of focus, in steady light:
first as the meter says, then ever darker, by stops, halves or thirds, until
well past zone 0, and leave a frame unexposed. Develop as usual. Lay the film on an
even light: the faintest frame that is just told from the clear edge beside it
is the first frame, so many stops from the metered exposure. The next darker one
must look clear.

The index lays zone I, --shadow-stops below the metered tone, on net density 0.10.
The eye tells no density, so the interval is wide; the screen says what to
measure next.`,
		Example: `  sensito speed --meter-index 400 --first-frame -4.5
  sensito speed --meter-index 400 --first-frame -4.67 --step-stops 0.33 --shadow-stops 4`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) > 0 {
				return console.Usagef("speed takes no trial; %q given", args[0])
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			given := cmd.Flags().Changed
			if !given("meter-index") || !given("first-frame") {
				return console.Usagef("speed needs --meter-index, which was set on the meter, and --first-frame, the faintest frame that is seen")
			}
			if err := ask.CheckLevel(level); err != nil {
				return err
			}
			m, err := cameratest.IndexByFirstFrame(*t)
			if err != nil {
				return console.Usage(err)
			}
			return s.finish(o, report.NewSpeed(m, level), nil)
		},
	}
	const halves = 0.5
	f := cmd.Flags()
	f.Float64Var((*float64)(&t.MeterIndex), "meter-index", 0, "the `INDEX` that was set on the meter")
	f.Float64Var(&t.Stops, "first-frame", 0, "the faintest frame that is told from the clear edge, in `STOPS` from the metered exposure, as -4.5")
	f.Float64Var(&t.Step, "step-stops", halves, "`STOPS` from one frame to the next")
	f.Float64Var(&t.ShadowStops, "shadow-stops", scene.DefaultShadowStops, "stops below the metered tone that the index lays on the speed point")
	f.Float64Var(&level, "confidence", report.DefaultConfidence, "level of the intervals, between 0.5 and 0.999")
	f.BoolVar(&o.json, "json", false, "write JSON, one object")
	return cmd
}
