package main

import (
	"github.com/spf13/cobra"

	"sensito/plot"
	"sensito/sensito"
	"sensito/sensito/report"
)

func newCardCmd(s streams) *cobra.Command {
	o := &aimOptions{}
	cmd := &cobra.Command{
		Use:   "card TRIAL",
		Short: "Pocket card: times and indices from N-2 to N+2",
		Long: `Prints development time, exposure index and contrast index for scenes from nine
stops (N-2) to five (N+2). With --plot it is a page to print and cut.`,
		Example: `  sensito card larkfield-brinewater.toml
  sensito card larkfield-brinewater.toml --plot card.pdf`,
		Args: oneTrial,
		RunE: func(cmd *cobra.Command, args []string) error { return s.card(o, args[0]) },
	}
	o.register(cmd)
	return cmd
}

func (s streams) card(o *aimOptions, path string) error {
	aim, err := o.aim(sensito.CardShortest)
	if err != nil {
		return err
	}
	f, err := s.readFamily(&o.options, path)
	if err != nil {
		return err
	}
	c, err := f.Card(aim)
	if err != nil {
		return err
	}
	return s.finish(&o.options, report.NewCard(c, o.confidence), func() (*plot.Figure, error) {
		return plot.Card(c, plot.Options{Confidence: o.confidence})
	})
}
