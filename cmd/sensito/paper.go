package main

import (
	"github.com/spf13/cobra"

	"sensito/cmd/sensito/internal/console"
	"sensito/plot"
	"sensito/sensito/curve"
	"sensito/sensito/notebook"
	"sensito/sensito/report"
)

type paperOptions struct {
	options
	grade   string
	callier float64
}

func newPaperCmd(s streams) *cobra.Command {
	o := &paperOptions{}
	cmd := &cobra.Command{
		Use:   "paper TRIAL",
		Short: "Print material: ISO range, speed, the negative it needs",
		Long: `Fits a characteristic curve to each strip of a trial of paper, one for each
grade or contrast filter, and prints white, black, ISO range and speed, each with
its standard deviation, and the density range of a negative that suits it.`,
		Example: `  sensito paper slate.toml
  sensito paper slate.toml --grade 2 --plot slate.svg`,
		Args: console.OneTrial,
		RunE: func(cmd *cobra.Command, args []string) error {
			const least, most = 1, 2
			if !(o.callier >= least && o.callier <= most) {
				return console.Usagef("--callier %g is outside %d to %d", o.callier, least, most)
			}
			return s.paper(o, args[0])
		},
	}
	o.register(cmd)
	o.look.register(cmd)
	o.registerFull(cmd, "white, black, speed and gradient of each grade")
	f := cmd.Flags()
	f.StringVar(&o.grade, "grade", "", "only the strip of this `GRADE` or filter, as in the file")
	f.Float64Var(&o.callier, "callier", 1, "Callier coefficient `Q` of a condenser enlarger; 1 is diffusion")
	return cmd
}

func (s streams) paper(o *paperOptions, path string) error {
	if err := o.check(); err != nil {
		return err
	}
	trial, err := s.readOf(path, notebook.PaperKind)
	if err != nil {
		return err
	}
	p, err := curve.MeasurePaper(trial, o.measure.Fit)
	if err != nil {
		return err
	}
	if o.grade != "" {
		strip, err := p.Grade(o.grade)
		if err != nil {
			return err
		}
		only := *p
		only.Strips = []*curve.PaperStrip{strip}
		p = &only
	}
	return s.finish(&o.options, report.NewPaper(p, o.callier, o.confidence), func() (*plot.Figure, error) {
		return plot.Paper(p, o.drawn)
	})
}
