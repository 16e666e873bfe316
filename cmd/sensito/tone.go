package main

import (
	"github.com/spf13/cobra"

	"sensito/cmd/sensito/internal/console"
	"sensito/plot"
	"sensito/sensito/report"
	"sensito/sensito/scene"
)

// toneOptions are the flags of tone.
type toneOptions struct {
	aimOptions
	today todayOptions
}

func newToneCmd(s streams) *cobra.Command {
	o := &toneOptions{}
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
		RunE: func(cmd *cobra.Command, args []string) error { return s.tone(o, args[0]) },
	}
	o.register(cmd)
	o.look.register(cmd)
	o.registerFull(cmd, "what goes with time and index, and exposures of film and paper")
	o.today.register(cmd)
	cmd.Flags().Float64Var(&o.scene.Stops, "range", 0, "range of the scene in `STOPS`")
	return cmd
}

func (s streams) tone(o *toneOptions, path string) error {
	switch {
	case !o.given("range"):
		return console.Usagef("tone needs --range STOPS, the range of the scene")
	case o.given("scan"):
		return console.Usagef("--scan does not go with tone, which follows the scene to a print")
	case !o.given("paper"):
		return console.Usagef("tone needs --paper TRIAL, the curve of the paper: a grade of the published table has none")
	}
	if err := o.today.sense(path, o.paper); err != nil {
		return err
	}
	aimed, err := s.aim(&o.aimOptions, path, o.scene.Stops)
	if err != nil {
		return err
	}
	if aimed.Today, err = s.asToday(&o.today); err != nil {
		return err
	}
	f, err := s.readFamily(&o.options, path)
	if err != nil {
		return err
	}
	p, err := scene.For(f, aimed)
	if err != nil {
		return err
	}
	r, err := p.Reproduce()
	if err != nil {
		return err
	}
	return s.finish(&o.options, report.NewReproduction(r, o.confidence), func() (*plot.Figure, error) {
		return plot.Tone(r, o.drawn)
	})
}
