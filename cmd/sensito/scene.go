package main

import (
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"sensito/plot"
	"sensito/sensito"
	"sensito/sensito/report"
)

// aimOptions are the flags of an aim, common to scene and card.
type aimOptions struct {
	options
	flare string
	scene sensito.Scene
}

func (o *aimOptions) register(cmd *cobra.Command) {
	o.options.register(cmd)
	f := cmd.Flags()
	f.Float64Var((*float64)(&o.scene.DensityRange), "density-range", float64(sensito.DefaultDensityRange), "net density range the negative must span")
	f.StringVar(&o.flare, "flare", "fixed", "flare in the camera: fixed, fixed=LOSS in log H, veil=FRACTION of the highlights, or none")
	f.Float64Var(&o.scene.ShadowStops, "shadow-stops", sensito.DefaultShadowStops, "stops below the metered exposure at which the darkest tone is placed")
}

// aim returns the scene that the flags describe, for the given range.
func (o *aimOptions) aim(stops float64) (sensito.Scene, error) {
	flare, err := parseFlare(o.flare)
	if err != nil {
		return sensito.Scene{}, err
	}
	if o.scene.DensityRange == 0 || o.scene.ShadowStops == 0 { // zero would mean the default
		return sensito.Scene{}, usagef("--density-range and --shadow-stops must be above zero")
	}
	scene := o.scene
	scene.Flare, scene.Stops = flare, stops
	if err := scene.Check(); err != nil {
		return sensito.Scene{}, usageError{err}
	}
	return scene, nil
}

// parseFlare reads the value of --flare.
func parseFlare(text string) (sensito.Flare, error) {
	kind, value, given := strings.Cut(text, "=")
	f := sensito.Flare{Kind: sensito.FlareKind(kind)}
	switch {
	case f.Kind == sensito.FlareNone && !given, f.Kind == sensito.FlareFixed && !given:
		return f, nil
	case f.Kind == sensito.FlareFixed, f.Kind == sensito.FlareVeil && given:
		v, err := strconv.ParseFloat(value, 64)
		if err == nil && v > 0 {
			f.Value = v
			return f, nil
		}
	}
	return f, usagef("--flare %q is not fixed, fixed=LOSS or veil=FRACTION, both above 0, or none", text)
}

func newSceneCmd(s streams) *cobra.Command {
	o := &aimOptions{}
	cmd := &cobra.Command{
		Use:   "scene TRIAL --range STOPS",
		Short: "Exposure index and development time for one scene",
		Long: `Gives the development time at which the tones of a scene span the density range
of the aim, the exposure index at that time, and where each tone falls on the
negative. The range is that between the darkest and the lightest tone that must
keep detail.`,
		Example: `  sensito scene larkfield-brinewater.toml --range 7
  sensito scene larkfield-brinewater.toml --range 9 --density-range 1.25 --flare veil=0.01`,
		Args: oneTrial,
		RunE: func(cmd *cobra.Command, args []string) error {
			if !cmd.Flags().Changed("range") {
				return usagef("scene needs --range STOPS, the range of the scene")
			}
			return s.scene(o, args[0])
		},
	}
	o.register(cmd)
	cmd.Flags().Float64Var(&o.scene.Stops, "range", 0, "range of the scene in `STOPS`")
	return cmd
}

func (s streams) scene(o *aimOptions, path string) error {
	scene, err := o.aim(o.scene.Stops)
	if err != nil {
		return err
	}
	f, err := s.readFamily(&o.options, path)
	if err != nil {
		return err
	}
	p, err := f.For(scene)
	if err != nil {
		return err
	}
	return s.finish(&o.options, report.NewScene(p, o.confidence), func() (*plot.Figure, error) {
		return plot.Scene(p, plot.Options{Confidence: o.confidence})
	})
}
