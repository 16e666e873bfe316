package main

import (
	"github.com/spf13/cobra"

	"sensito/cmd/sensito/internal/ask"
	"sensito/cmd/sensito/internal/console"
	"sensito/sensito"
	"sensito/sensito/cameratest"
	"sensito/sensito/report"
)

// flareOptions are the flags of flare.
type flareOptions struct {
	options
	ask.Evaluation
	minutes                string
	hollow, field, baseFog float64
	given                  func(flag string) bool
}

func newFlareCmd(s streams) *cobra.Command {
	o := &flareOptions{}
	cmd := &cobra.Command{
		Use:   "flare TRIAL --hollow DENSITY --field DENSITY --minutes TIME",
		Short: "The veil of flare of your camera, from a test negative",
		Long: `Turns two readings of one negative into the veil of flare that --flare veil= of
the other commands takes. Set a black hollow (a box lined with black cloth, with
a small opening) in the middle of a bright, even white field that fills the
frame, and expose so that the field comes out as a light tone. Develop as the
trial's strips and read both: the light that the hollow's image got is flare.`,
		Example: `  sensito flare larkfield-brinewater.toml --hollow 0.24 --field 1.52 --minutes 6:00
  sensito flare larkfield-brinewater.toml --hollow 0.24 --field 1.52 --base-fog 0.11 --minutes 6:00`,
		Args: console.OneTrial,
		RunE: func(cmd *cobra.Command, args []string) error { return s.flare(o, args[0]) },
	}
	o.Register(cmd.Flags())
	o.registerUndrawn(cmd)
	o.given = cmd.Flags().Changed
	f := cmd.Flags()
	f.StringVar(&o.minutes, "minutes", "", "`TIME` for which the negative was developed, as 6:00")
	f.Float64Var(&o.hollow, "hollow", 0, "gross `DENSITY` of the black hollow")
	f.Float64Var(&o.field, "field", 0, "gross `DENSITY` of the white field")
	f.Float64Var(&o.baseFog, "base-fog", 0, "`DENSITY` of the negative's unexposed edge; the trial's at that time unless given")
	return cmd
}

func (s streams) flare(o *flareOptions, path string) error {
	switch {
	case !o.given("hollow") || !o.given("field"):
		return console.Usagef("flare needs --hollow and --field, the densities of the test negative")
	case !o.given("minutes"):
		return console.Usagef("flare needs --minutes, for which the negative was developed")
	}
	minutes, err := ask.Minutes(o.minutes)
	if err != nil {
		return err
	}
	test := cameratest.VeilTest{Minutes: minutes, Hollow: sensito.Density(o.hollow), Field: sensito.Density(o.field)}
	if o.given("base-fog") {
		test.BaseFog = new(sensito.Density(o.baseFog))
	}
	if err := test.Check(); err != nil {
		return console.Usage(err)
	}
	f, err := o.Family(s.Files, path)
	if err != nil {
		return err
	}
	m, err := cameratest.MeasureVeil(f, test)
	if err != nil {
		return err
	}
	return s.finish(&o.options, report.NewFlare(f.Trial, m, o.Level), nil)
}
