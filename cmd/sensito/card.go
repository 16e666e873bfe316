package main

import (
	"strings"
	"time"

	"github.com/spf13/cobra"

	"sensito/plot"
	"sensito/sensito"
	"sensito/sensito/report"
)

// today returns the date that a card is made on.
var today = func() string { return time.Now().Format(time.DateOnly) }

// cardOptions are the flags of card.
type cardOptions struct {
	aimOptions
	page  string
	today ageingOptions
}

func newCardCmd(s streams) *cobra.Command {
	o := &cardOptions{}
	var pages []string
	for _, p := range plot.Pages() {
		pages = append(pages, p.Name)
	}
	cmd := &cobra.Command{
		Use:   "card TRIAL",
		Short: "Pocket card: times and indices from N-2 to N+2",
		Long: `Prints development time, exposure index and contrast index for scenes from nine
stops (N-2) to five (N+2). With --plot it is a page to print, at its true size
(100 %), and to cut: a6 is 148 by 105 mm, index 5 by 3 inches. With a control log it
says how far the process of today is from the trial's, and with --correct is the
card for that process.`,
		Example: `  sensito card larkfield-brinewater.toml
  sensito card larkfield-brinewater.toml --plot card.pdf
  sensito card larkfield-brinewater.toml --plot card.png --page index
  sensito card larkfield-brinewater.toml --control control.toml --correct`,
		Args: oneTrial,
		RunE: func(cmd *cobra.Command, args []string) error {
			if cmd.Flags().Changed("page") && o.plot == "" {
				return usagef("--page is the size of the page that --plot FILE draws: give both")
			}
			if err := o.today.sense(args[0], o.paper); err != nil {
				return err
			}
			return s.card(o, args[0])
		},
	}
	o.register(cmd)
	o.today.register(cmd)
	cmd.Flags().StringVar(&o.page, "page", pages[0], "size of the `PAGE` drawn: "+strings.Join(pages, " or "))
	return cmd
}

func (s streams) card(o *cardOptions, path string) error {
	page, err := plot.PageNamed(o.page)
	if err != nil {
		return usagef("--page %w", err)
	}
	aim, err := s.aim(&o.aimOptions, path, sensito.CardShortest)
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
	a, err := s.ageing(&o.today, f)
	if err != nil {
		return err
	}
	var was *sensito.Card
	dated := today()
	if o.today.correct {
		was, c = c, a.Card(c)
		if !a.InControl {
			dated += ", corrected for the process of " + a.AsOf
		}
	}
	r := report.NewCard(c, o.confidence, dated)
	if a != nil {
		r.Aged(a, was)
	}
	return s.finish(&o.options, r, func() (*plot.Figure, error) {
		return plot.Card(c, plot.Options{Confidence: o.confidence, Date: dated, Width: page.Width, Height: page.Height})
	})
}
