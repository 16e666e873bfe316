package main

import (
	"github.com/spf13/cobra"

	"sensito/cmd/sensito/internal/console"
	"sensito/plot"
	"sensito/sensito/development"
	"sensito/sensito/report"
	"sensito/sensito/scene"
)

// familyOptions are the flags of family.
type familyOptions struct {
	aimOptions
	today todayOptions
}

func newFamilyCmd(s streams) *cobra.Command {
	o := &familyOptions{}
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
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := o.today.sense(args[0], o.paper); err != nil {
				return err
			}
			return s.family(o, args[0])
		},
	}
	o.register(cmd)
	o.look.register(cmd)
	o.registerFull(cmd, "average gradients, and the law of growth")
	o.registerGradient(cmd)
	o.today.register(cmd)
	cmd.Flags().Float64Var(&o.scene.Stops, "range", 0, "mark the time for a scene of so many `STOPS`, in the drawing too")
	return cmd
}

func (s streams) family(o *familyOptions, path string) error {
	var aimed scene.Scene
	marked := o.given("range")
	if !marked {
		if err := without(o.given, "--range STOPS, the scene that is marked", aimFlags...); err != nil {
			return err
		}
	}
	if marked {
		var err error
		if aimed, err = s.aim(&o.aimOptions, path, o.scene.Stops); err != nil {
			return err
		}
	}
	f, err := s.readFamily(&o.options, path)
	if err != nil {
		return err
	}
	if aimed.Today, err = s.asToday(&o.today); err != nil {
		return err
	}
	today, err := aimed.Today.For(f)
	if err != nil {
		return err
	}
	r, err := report.NewFamily(f, today, o.confidence)
	if err != nil {
		return err
	}
	var mark *scene.Answer
	if marked {
		if mark, err = scene.For(f, aimed); err != nil {
			return err
		}
		r.Mark(mark)
	}
	return s.finish(&o.options, r, func() (*plot.Figure, error) {
		return plot.Family(f, today, mark, o.drawn)
	})
}

// readFamily reads a trial and joins its strips.
func (s streams) readFamily(o *options, path string) (*development.Family, error) {
	if err := o.check(); err != nil {
		return nil, err
	}
	trial, err := s.readFilm(path)
	if err != nil {
		return nil, err
	}
	return development.NewFamily(trial, o.measure)
}
