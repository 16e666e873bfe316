package main

import (
	"strings"
	"time"

	"github.com/spf13/cobra"

	"sensito/cmd/sensito/internal/console"
	"sensito/plot"
	"sensito/sensito/report"
	"sensito/sensito/scene"
)

// today returns the date that a card is made on.
var today = func() string { return time.Now().Format(time.DateOnly) }

// cardOptions are the flags of card.
type cardOptions struct {
	aimOptions
	page  string
	today todayOptions
	table bool // of temperatures
}

func newCardCmd(s streams) *cobra.Command {
	o := &cardOptions{}
	pages := pageNames(plot.Pages())
	cmd := &cobra.Command{
		Use:   "card TRIAL",
		Short: "Pocket card: times and indices from N-2 to N+2",
		Long: `Prints development time, exposure index, contrast index and the density range
delivered, for scenes from nine stops (N-2) to five (N+2). With --plot it is
a page to print, at its true size (100 %), and to cut: a6 is 148 by 105 mm, index
5 by 3 inches. With a control log it says how far the process of today is from the
trial's, and with --correct is the card for that process. With --at, --agitation or --dilution the card is for those
conditions; with --temperatures it is a table of times from 18 to 24 °C.`,
		Example: `  sensito card larkfield-brinewater.toml
  sensito card larkfield-brinewater.toml --plot card.pdf
  sensito card larkfield-brinewater.toml --plot card.png --page index
  sensito card larkfield-brinewater.toml --control control.toml --correct
  sensito card larkfield-brinewater.toml --at 72F
  sensito card larkfield-brinewater.toml --temperatures --plot chart.pdf`,
		Args: console.OneTrial,
		RunE: func(cmd *cobra.Command, args []string) error {
			if cmd.Flags().Changed("page") && o.plot == "" {
				return console.Usagef("--page is the size of the page that --plot FILE draws: give both")
			}
			if err := o.sense(args[0], o.paper); err != nil {
				return err
			}
			return s.card(o, args[0])
		},
	}
	o.register(cmd)
	o.today.register(cmd)
	o.registerFull(cmd, "standard deviations, contrast and density range")
	cmd.Flags().BoolVar(&o.table, "temperatures", false, "times from 18 to 24 °C, and with --plot a time-temperature chart")
	cmd.Flags().StringVar(&o.page, "page", pages[0], "size of the `PAGE` drawn: "+strings.Join(pages, " or "))
	return cmd
}

func pageNames(pages []plot.Page) []string {
	var names []string
	for _, p := range pages {
		names = append(names, p.Name)
	}
	return names
}

func (s streams) card(o *cardOptions, path string) error {
	page, err := plot.PageNamed(o.page)
	if err != nil {
		return console.Usagef("--page %w", err)
	}
	aim, err := s.aim(&o.aimOptions, path, scene.ShortestOnCard)
	if err != nil {
		return err
	}
	if aim.Today, err = s.asToday(&o.today); err != nil {
		return err
	}
	f, err := s.readFamily(&o.options, path)
	if err != nil {
		return err
	}
	c, err := scene.NewCard(f, aim)
	if err != nil {
		return err
	}
	if o.table {
		return s.temperatures(o, c)
	}
	dated := today()
	if c.Today.Corrects() {
		dated += ", corrected for the process of " + c.Today.Drift.AsOf
	}
	r := report.NewCard(c, o.confidence, dated)
	return s.finish(&o.options, r, func() (*plot.Figure, error) {
		return plot.Card(c, plot.Options{Confidence: o.confidence, Date: dated, Width: page.Width, Height: page.Height})
	})
}

// sense returns a usage error for flags that do not go together.
func (o *cardOptions) sense(files ...string) error {
	if !o.table {
		return o.today.sense(files...)
	}
	switch {
	case o.given("at") || o.given("ends-at"):
		return console.Usagef("--temperatures gives the times at every temperature: leave out --at and --ends-at")
	case o.given("page"):
		return console.Usagef("--page is of the card: leave it out with --temperatures")
	}
	return o.today.senseTable(files...)
}

// temperatures writes the times of a card over temperature.
func (s streams) temperatures(o *cardOptions, c *scene.Card) error {
	t, err := c.Temperatures()
	if err != nil {
		return err
	}
	return s.finish(&o.options, report.NewTemperatures(t, o.confidence), func() (*plot.Figure, error) {
		return plot.Temperatures(t, o.drawn)
	})
}
