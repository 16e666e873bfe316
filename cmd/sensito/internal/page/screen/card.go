package screen

import (
	"fmt"
	"strings"

	"sensito/sensito"
	"sensito/sensito/answers"
	"sensito/sensito/printable"
	"sensito/sensito/report"
	"sensito/sensito/scene"
)

// CardAsked is what the screen of a card is made of.
type CardAsked struct {
	Card         *scene.Card
	Temperatures *scene.TemperatureTable // nil for a card
	Words        report.Words
	Made         string // the date, YYYY-MM-DD
	Trial        string // the address of its page
	Actions      []Action
}

// A Card is the screen of a card, or of its times over temperature.
type Card struct {
	Fault   *Fault // in place of the card
	Plate   *Plate
	Actions []Action
	Notes   []Note
	Asking  *Asking
}

// A Plate is what is printed, alone on its page.
type Plate struct {
	Title  []Run
	Under  string // the title
	Table  *Table
	Below  []string // the table
	Narrow bool     // it fits the page of a card
}

// NewCard returns the screen of a card that has an answer.
func NewCard(a CardAsked) *Card {
	c := a.Card
	s := &Card{Actions: a.Actions, Plate: &Plate{Title: []Run{{Text: printable.Text(c.Family.Trial.Name()), Address: a.Trial}}, Narrow: a.Temperatures == nil}}
	s.Plate.Under = printable.Text(capital(processText(c)) + ". " + capital(c.Scene.AimText()) + ", " + answers.Flare(c.Scene.Flare) + ".")
	if a.Temperatures != nil {
		s.Plate.Table = temperatures(a.Temperatures)
	} else {
		s.Plate.Table = cardRows(c)
	}
	if outside := answers.OutsideOnCard(c); outside != "" {
		s.Plate.Below = append(s.Plate.Below, "* "+outside+": test a strip there before relying on it.")
	}
	if a.Temperatures == nil {
		s.Plate.Below = append(s.Plate.Below, fmt.Sprintf("Shadow %s stops below the metered tone. Index: the nearest setting of a meter.", plain(c.Scene.WithDefaults().ShadowStops)))
	}
	s.Plate.Below = append(s.Plate.Below, printable.Text(dated(c, a.Made)))
	for _, row := range c.Rows {
		if row.Reason != "" {
			s.Notes = append(s.Notes, Note{About: rowName(row.N), Text: say(strings.TrimSuffix(row.Reason, ".") + ".")})
		}
	}
	for _, note := range []struct{ about, text string }{{"Today.", a.Words.Conditions}, {"The process.", a.Words.Process}} {
		if note.text != "" {
			s.Notes = append(s.Notes, Note{About: note.about, Text: say(note.text)})
		}
	}
	for _, text := range WarningTexts(a.Words.Warnings) {
		s.Notes = append(s.Notes, Note{About: "Warning.", Text: []Run{{Text: text}}, Marked: true})
	}
	return s
}

// processText says how film of the card is developed.
func processText(c *scene.Card) string {
	p := c.Family.Trial.Process()
	if ch := c.Today.Under(); ch != nil {
		p = ch.Process()
	}
	var parts []string
	if p.TemperatureC != 0 {
		parts = append(parts, strings.Replace(sensito.Celsius(p.TemperatureC), " ", space, 1))
	}
	if p.Agitation != sensito.AgitationUnstated {
		parts = append(parts, p.Agitation.Named())
	}
	if b := c.Family.Trial.Film().Batch; b != "" {
		parts = append(parts, "batch "+b)
	}
	if len(parts) == 0 {
		return "conditions not stated"
	}
	return strings.Join(parts, ", ")
}

// dated says when the card was made, and from what.
func dated(c *scene.Card, made string) string {
	text := "Made " + answers.DateOf(made)
	if first, last := c.Developed(); first != "" {
		text += " from strips developed " + span(first, last)
	}
	if c.Today.Corrects() {
		text += ", corrected for the process of " + answers.DateOf(c.Today.Drift.AsOf)
	}
	return text + ". A starting point: verify."
}

// rowName is the name of a development, N−1.
func rowName(n float64) string {
	if n == 0 {
		return "N"
	}
	return "N" + signed(n)
}

// cardRows is the table of a card.
func cardRows(c *scene.Card) *Table {
	t := &Table{Name: "Card", Fives: true, Heads: []Head{{Text: "Scene", Left: true}, {Text: "stops"}, {Text: "develop"}, {Text: "index"}, {Text: "contrast"}}}
	for _, row := range c.Rows {
		out := Row{Head: Cell{Text: rowName(row.N), Whole: true}, Cells: []Cell{{Text: plain(row.Stops)}}}
		if p := row.Answer; p != nil {
			out.Cells = append(out.Cells, timeCell(&p.Minutes, p.Extrapolated), none("relative"), none("not known"))
			if p.ExposureIndex != nil {
				out.Cells[2] = Cell{Text: setting(p.ExposureIndex.Value)}
			}
			if p.ContrastIndex != nil {
				out.Cells[3] = figure(p.ContrastIndex.Value, 2)
			}
		} else {
			out.Cells = append(out.Cells, none("cannot be reached"), none("no time"), none("no time"))
		}
		t.Rows = append(t.Rows, out)
	}
	return t
}

// timeCell is a time of a card, with a star outside the tested ones.
func timeCell(e *sensito.Estimate[sensito.Minutes], extrapolated bool) Cell {
	c := Cell{Text: clock(e.Value)}
	if e.AtLeast {
		c.Text += "+"
		c.Hidden = "at least "
	}
	if extrapolated {
		c.Text += "*"
	}
	return c
}

// temperatures is the table of the times of a card over temperature.
func temperatures(tt *scene.TemperatureTable) *Table {
	t := &Table{Name: "Times over temperature", Heads: []Head{{Text: "°C", Left: true}}}
	for _, row := range tt.Card.Rows {
		t.Heads = append(t.Heads, Head{Text: rowName(row.N)})
	}
	for i, celsius := range tt.Celsius {
		row := Row{Head: Cell{Text: plain(celsius)}}
		for j, e := range tt.Minutes[i] {
			if e == nil {
				row.Cells = append(row.Cells, none("no time"))
				continue
			}
			row.Cells = append(row.Cells, timeCell(e, tt.Card.Rows[j].Answer.Extrapolated))
		}
		if tt.Tested(celsius) {
			row.Head.Error = "as tested"
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}
