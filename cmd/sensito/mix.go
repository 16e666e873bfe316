package main

import (
	"errors"
	"strings"

	"github.com/spf13/cobra"

	"sensito/cmd/sensito/internal/console"
	"sensito/sensito"
	"sensito/sensito/darkroom"
	"sensito/sensito/report"
)

// mixOptions are the flags of mix, as text.
type mixOptions struct {
	json                              bool
	total, concentrate, water, stock  string
	tank, films, least, graduatesText string
}

func newMixCmd(s streams) *cobra.Command {
	o := &mixOptions{}
	cmd := &cobra.Command{
		Use:   "mix [DILUTION | PERCENT] [flags]",
		Short: "Dilution, volumes, least concentrate for the film",
		Long: `Volumes of concentrate and water, how to measure them with graduates and what
rounding does to the strength. Two of dilution, --concentrate, --water and
--total say the rest. DILUTION is 1+31 (parts concentrate + parts water) or
stock; PERCENT, as 2%, is grams in 100 ml.

A volume is written 600ml, 1.5l, 20usfloz or 20impfloz. With --films and --least,
from the product's sheet, too little concentrate for the film is refused.`,
		Example: `  sensito mix 1+19 --total 1l
  sensito mix --concentrate 2usfloz --total 40usfloz
  sensito mix 1+31 --tank 1000ml --films "4x 4x5in" --least 6ml
  sensito mix 1+3 --stock 1+1 --total 1l
  sensito mix 2% --stock 10% --total 500ml`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) > 1 {
				return console.Usagef("mix takes one dilution; %d given", len(args))
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			spec, err := o.spec(cmd.Flags().Changed, args)
			if err != nil {
				return console.Usage(err)
			}
			m, err := darkroom.NewMix(spec)
			if u := (*sensito.Unanswerable)(nil); err != nil && !errors.As(err, &u) {
				return console.Usage(err)
			} else if err != nil {
				return err
			}
			return s.finish(&options{json: o.json}, report.NewMix(m), nil)
		},
	}
	f := cmd.Flags()
	f.StringVar(&o.total, "total", "", "`VOLUME` of the working solution")
	f.StringVar(&o.concentrate, "concentrate", "", "`VOLUME` of concentrate")
	f.StringVar(&o.water, "water", "", "`VOLUME` of water that is added")
	f.StringVar(&o.stock, "stock", "", "make a stock of this `DILUTION` first, and dilute that; for PERCENT, the strength at hand, as 10%")
	f.StringVar(&o.tank, "tank", "", "`VOLUME` that the vessel takes; the total, unless that is stated")
	f.StringVar(&o.films, "films", "", "`FILMS` developed at once: \"4x 4x5in\", \"2x 120, 135-36\", \"9x12cm\"")
	f.StringVar(&o.least, "least", "", "least `CONCENTRATE` from the product's sheet: 6ml for 80 square inches, 6ml/film or 6ml/500cm2")
	f.StringVar(&o.graduatesText, "graduates", "", "a `LIST` of your own graduates, capacity and mark in ml: 10/0.1,100/1, or with a unit, 32/1usfloz")
	f.BoolVar(&o.json, "json", false, "write JSON, one object")
	return cmd
}

// spec reads the flags and the argument.
func (o *mixOptions) spec(given func(string) bool, args []string) (darkroom.MixSpec, error) {
	spec := darkroom.MixSpec{Systems: map[string]darkroom.VolumeSystem{}}
	for _, flag := range []struct {
		name, text string
		volume     *darkroom.Volume
	}{{"total", o.total, &spec.Total}, {"concentrate", o.concentrate, &spec.Concentrate}, {"water", o.water, &spec.Water}, {"tank", o.tank, &spec.Tank}} {
		if !given(flag.name) {
			continue
		}
		var err error
		if *flag.volume, spec.Systems[flag.text], err = darkroom.ParseVolume(flag.text); err != nil {
			return spec, console.Usagef("--%s %w", flag.name, err)
		}
	}
	var err error
	if given("least") {
		if spec.Least, spec.Systems[o.least], err = darkroom.ParseLeast(o.least); err != nil {
			return spec, console.Usagef("--least %w", err)
		}
	}
	if given("films") {
		if spec.Films, err = sensito.ParseFilms(o.films); err != nil {
			return spec, console.Usagef("--films %w", err)
		}
	}
	if given("graduates") {
		if spec.Graduates, err = darkroom.ParseGraduates(o.graduatesText); err != nil {
			return spec, console.Usagef("--graduates %w", err)
		}
	}
	for _, at := range []struct {
		text     string
		dilution *sensito.Dilution
		percent  *float64
		given    bool
	}{{strings.Join(args, " "), &spec.Dilution, &spec.Percent, len(args) > 0}, {o.stock, &spec.Stock, &spec.StockPercent, given("stock")}} {
		switch {
		case !at.given:
		case strings.Contains(at.text, "%"):
			*at.percent, err = sensito.ParsePercent(at.text)
		default:
			*at.dilution, err = sensito.ParseDilution(at.text)
		}
		if err != nil {
			return spec, err
		}
	}
	return spec, nil
}
