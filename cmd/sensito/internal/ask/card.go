package ask

import (
	"fmt"
	"strings"
	"time"

	"github.com/spf13/pflag"

	"sensito/cmd/sensito/internal/console"
	"sensito/plot"
	"sensito/sensito/report"
	"sensito/sensito/scene"
)

// Date returns the date of today.
func Date() string { return time.Now().Format(time.DateOnly) }

// Ahead says that a date of what was done is yet to come, "" where it is not; a day more
// than today is left for places where it has begun. Both are as 2026-03-01.
func Ahead(date, today string) string {
	on, err := time.Parse(time.DateOnly, date)
	now, failed := time.Parse(time.DateOnly, today)
	if err != nil || failed != nil || !on.After(now.AddDate(0, 0, 1)) {
		return ""
	}
	return fmt.Sprintf("%s is yet to come: today is %s; correct it in the file if it is wrong", date, today)
}

// Card asks for the pocket card of a film, or for a table of its times over temperature.
type Card struct {
	Aim
	Today Today
	Made  string // the date on which it is made
	page  string
	table bool // of temperatures
}

// Register adds the flags of the question.
func (q *Card) Register(f *pflag.FlagSet) {
	pages := PageNames(plot.Pages())
	q.Aim.Register(f)
	q.Today.Register(f)
	f.BoolVar(&q.table, "temperatures", false, "times from 18 to 24 °C, and with --plot a time-temperature chart")
	f.StringVar(&q.page, "page", pages[0], "size of the `PAGE` drawn: "+strings.Join(pages, " or "))
}

// PageNames returns the names of pages, the values of --page.
func PageNames(pages []plot.Page) []string {
	var names []string
	for _, p := range pages {
		names = append(names, p.Name)
	}
	return names
}

// A CardAnswer is what Card.Ask found.
type CardAnswer struct {
	Card         *scene.Card
	Temperatures *scene.TemperatureTable // nil for a card
	Dated        string                  // what the card says of its date
	Page         plot.Page               // on which it is drawn
	Level        float64                 // of the intervals
}

// Report returns the result to be written.
func (a *CardAnswer) Report() (report.Report, error) {
	if a.Temperatures != nil {
		return report.NewTemperatures(a.Temperatures, a.Level), nil
	}
	return report.NewCard(a.Card, a.Level, a.Dated), nil
}

// Figure draws the card at the size of its page, or a chart of the temperatures.
func (a *CardAnswer) Figure(o plot.Options) (*plot.Figure, error) {
	o.Confidence = a.Level
	if a.Temperatures != nil {
		return plot.Temperatures(a.Temperatures, o)
	}
	o.Date, o.Width, o.Height = a.Dated, a.Page.Width, a.Page.Height
	return plot.Card(a.Card, o)
}

// Ask answers for the film trial at path. An error is of usage where the flags cannot be
// asked together.
func (q *Card) Ask(from console.Streams, path string) (*CardAnswer, error) {
	s := Files{from}
	today, err := q.sense(path, q.paper)
	if err != nil {
		return nil, err
	}
	a := &CardAnswer{Dated: q.Made, Level: q.Level}
	if a.Page, err = plot.PageNamed(q.page); err != nil {
		return nil, console.Usagef("--page %w", err)
	}
	aim, err := q.Aim.Scene(s, path, scene.ShortestOnCard)
	if err != nil {
		return nil, err
	}
	if aim.Today, err = q.Today.read(s, today); err != nil {
		return nil, err
	}
	f, err := q.Family(s, path)
	if err != nil {
		return nil, err
	}
	if a.Card, err = scene.NewCard(f, aim); err != nil {
		return nil, err
	}
	if a.Card.Today.Corrects() {
		a.Dated += ", corrected for the process of " + a.Card.Today.Drift.AsOf
	}
	if q.table {
		if a.Temperatures, err = a.Card.Temperatures(); err != nil {
			return nil, err
		}
	}
	return a, nil
}

// sense is Today.Sense, for all temperatures at once where they are asked.
func (q *Card) sense(files ...string) (scene.Today, error) {
	if !q.table {
		return q.Today.Sense(files...)
	}
	switch {
	case q.given("at") || q.given("ends-at"):
		return scene.Today{}, console.Usagef("--temperatures gives the times at every temperature: leave out --at and --ends-at")
	case q.given("page"):
		return scene.Today{}, console.Usagef("--page is of the card: leave it out with --temperatures")
	}
	return q.Today.senseTable(files...)
}
