package main

import (
	"bytes"
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"sensito/cmd/sensito/internal/ask"
	"sensito/cmd/sensito/internal/console"
	"sensito/sensito"
	"sensito/sensito/curve"
	"sensito/sensito/development"
	"sensito/sensito/notebook/table"
	"sensito/sensito/paper"
	"sensito/sensito/report"
	"sensito/sensito/scene"
)

// exportOptions are the flags of export; those of the aim are for a card.
type exportOptions struct {
	ask.Aim
	force     bool
	given     func(flag string) bool
	as, what  string
	output    string
	points    int
	computing []string // flags that a trial itself has no use for
}

const defaultPoints = 101

// exported are the values of --what.
var exported = []string{"trial", "curves", "family", "card"}

func newExportCmd(s streams) *cobra.Command {
	o := &exportOptions{}
	cmd := &cobra.Command{
		Use:   "export TRIAL",
		Short: "Readings, curves, family or card as CSV, CGATS or JSON",
		Long: `Writes a trial for other programs: its readings with all that the notebook says of
them, which import reads back as the same trial; or what is computed from them:
points along the curves of a film or a paper, the strips as a family, or the rows of the card.

The forms are csv (a row for each reading), wide (CSV with a column for each
strip), cgats (CGATS.17, ISO 28178), json, and toml, a notebook in its canonical
layout. What a form leaves out is said.`,
		Example: `  sensito export larkfield-brinewater.toml > readings.csv
  sensito export larkfield-brinewater.toml --as cgats -o readings.txt
  sensito export larkfield-brinewater.toml --what curves --points 201 -o curves.csv
  sensito export slate.toml --what curves -o grades.csv
  sensito export larkfield-brinewater.toml --what card --as json`,
		Args: console.OneTrial,
		RunE: func(cmd *cobra.Command, args []string) error {
			return s.export(o, args[0])
		},
	}
	f := cmd.Flags()
	o.given = f.Changed
	computing := pflag.NewFlagSet("computing", pflag.ContinueOnError)
	o.Register(computing)
	o.RegisterGradient(computing)
	computing.VisitAll(func(flag *pflag.Flag) { o.computing = append(o.computing, flag.Name) })
	f.AddFlagSet(computing)
	forceFlag(f, &o.force)
	f.StringVar(&o.as, "as", "csv", "the `FORM`: "+strings.Join(table.ExportForms, ", "))
	f.StringVar(&o.what, "what", "trial", "`WHAT` to export: trial, curves, family or card")
	f.StringVarP(&o.output, "output", "o", "", "write to `FILE` in place of standard output")
	f.IntVar(&o.points, "points", defaultPoints, "points along each curve, `N`, evenly spaced over its exposures")
	return cmd
}

// export writes a trial, or what is computed from it, in the form asked for.
func (s streams) export(o *exportOptions, path string) error {
	if err := o.sense(); err != nil {
		return err
	}
	trial, err := s.Trial(path)
	if err != nil {
		return err
	}
	var data []byte
	if o.what == "trial" {
		var lost []string
		if data, lost, err = table.Export(trial, o.as, today()); err != nil {
			return err
		}
		for _, l := range lost {
			fmt.Fprintf(s.Err, "sensito: left out: %s\n", l)
		}
	} else if data, err = s.exportResult(o, trial, path); err != nil {
		return err
	}
	if o.output == "" {
		_, err := s.Out.Write(data)
		return err
	}
	if err := s.WriteOutput(o.output, data, o.force); err != nil {
		return err
	}
	fmt.Fprintf(s.Err, "sensito: wrote %s\n", o.output)
	return nil
}

// sense returns a usage error for flags that do not go together.
func (o *exportOptions) sense() error {
	switch {
	case !slices.Contains(exported, o.what):
		return console.Usagef("--what %q is not one of %s", o.what, strings.Join(exported, ", "))
	case !slices.Contains(table.ExportForms, o.as):
		return console.Usagef("--as %q is not one of %s", o.as, strings.Join(table.ExportForms, ", "))
	case o.what != "trial" && (o.as == "wide" || o.as == "toml"):
		return console.Usagef("--as %s is a form of a trial; %s can be csv, cgats or json", o.as, o.what)
	case o.points < 2 || o.points > 10_000:
		return console.Usagef("--points %d is outside 2 to 10000", o.points)
	case o.given("points") && o.what != "curves":
		return console.Usagef("--points is of --what curves")
	}
	if o.what == "trial" {
		if err := ask.Without(o.given, "--what curves, family or card", o.computing...); err != nil {
			return err
		}
	} else if o.what != "card" {
		if err := ask.Without(o.given, "--what card", ask.AimFlags...); err != nil {
			return err
		}
	}
	_, err := o.Measure()
	return err
}

// exportResult returns what is computed from a trial in the form asked for.
func (s streams) exportResult(o *exportOptions, trial *sensito.Trial, path string) ([]byte, error) {
	r, title, err := s.tabular(o, trial, path)
	if err != nil {
		return nil, err
	}
	var b bytes.Buffer
	if o.as == "json" {
		err := report.JSON(&b, r)
		return b.Bytes(), err
	}
	for _, n := range r.Notices() {
		fmt.Fprintf(s.Err, "sensito: warning: %s\n", n.Message())
	}
	headings, rows := r.Table()
	if o.as == "csv" {
		return table.TableCSV(headings, rows), nil
	}
	return table.TableCGATS(title, today(), headings, rows)
}

// tabular computes what is to be exported, with a title for it.
func (s streams) tabular(o *exportOptions, trial *sensito.Trial, path string) (r report.Tabular, title string, err error) {
	measure, err := o.Measure()
	if err != nil {
		return nil, "", err
	}
	name := trial.Title()
	if name == "" {
		name = trial.Film().Name
	}
	if o.what == "curves" && trial.Material() == sensito.PaperMaterial {
		p, err := paper.Measure(trial, measure.Fit)
		if err != nil {
			return nil, "", err
		}
		return report.NewSampledPaper(p, o.points), "curves of " + name, nil
	}
	if o.what == "curves" {
		trial, _ := development.Tie(trial, measure)
		ms, err := curve.MeasureTrial(trial, measure)
		if err != nil {
			return nil, "", err
		}
		return report.NewSampled(trial, ms, o.points), "curves of " + name, nil
	}
	f, err := development.NewFamily(trial, measure)
	if err != nil {
		return nil, "", err
	}
	if o.what == "family" {
		r, err := report.NewFamily(f, nil, o.Level)
		return r, "family of " + name, err
	}
	aim, err := o.Scene(s.Files, path, scene.ShortestOnCard)
	if err != nil {
		return nil, "", err
	}
	c, err := scene.NewCard(f, aim)
	if err != nil {
		return nil, "", err
	}
	return report.NewCard(c, o.Level, ""), "card of " + name, nil
}
