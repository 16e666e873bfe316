package plot

import (
	"strings"

	"sensito/plot/internal/parts"
	"sensito/sensito"
	"sensito/sensito/printable"
	"sensito/sensito/scene"
)

// headed returns the heading of a figure about a trial: the answer, unless the
// options have a title of their own, over the trial, how it is developed, and what
// else the answer holds for. The title becomes that of the options.
func (o *Options) headed(answer string, t *sensito.Trial, conditions ...string) parts.Heading {
	if o.Title == "" {
		o.Title = printable.Brief(answer, 2*printable.MaxName)
	}
	h := headingFor(*o, t, t.Process())
	said := []string{h.Sub}
	if !tells(h.Sub, t.Title()) {
		said = []string{printable.Brief(t.Title(), 2*printable.MaxName), h.Sub}
	}
	for _, c := range conditions {
		if c != "" {
			said = append(said, c)
		}
	}
	h.Sub = strings.Join(said, "; ")
	return h
}

// tells says whether a line has every longer word of a title already.
func tells(line, title string) bool {
	for word := range strings.FieldsSeq(title) {
		if len(word) > 2 && !strings.Contains(line, word) {
			return false
		}
	}
	return true
}

// The cautions stand on every card.
const (
	startingPoint  = "A starting point: verify on your own process."
	caution        = "Chemicals are hazardous: gloves, eye protection, ventilation; read the product's safety sheet."
	furtherCaution = "Never mix acids or bleach with fixer. Dispose of used baths by local rules."
)

func newHeading(o Options, t *sensito.Trial) parts.Heading { return headingFor(o, t, t.Process()) }

// headingFor is newHeading with a development in place of the trial's.
func headingFor(o Options, t *sensito.Trial, p sensito.Process) parts.Heading {
	h := parts.Heading{Title: o.Title}
	film := t.Film().Name
	if b := t.Film().Batch; b != "" {
		film = strings.TrimSpace(film + " batch " + b)
	}
	h.Sub = film
	if c := p.String(); c != "" {
		h.Sub = strings.TrimPrefix(film+", "+c, ", ")
	}
	return h
}

// headed returns the heading of a figure whose title answers: trial, film and
// development stand below it.
func headed(o Options, t *sensito.Trial, p sensito.Process) parts.Heading {
	h := headingFor(o, t, p)
	h.Sub = strings.Trim(t.Title()+"\n"+h.Sub, "\n")
	return h
}

// cautioned returns the heading for a figure that tells a development time of
// today.
func cautioned(h parts.Heading, today *scene.Adjustment) parts.Heading {
	h.Foot = uncorrected(today) + "\n" + startingPoint + " " + caution + " " + furtherCaution
	return h
}

// answered returns the options with the answer of a figure as its title, unless they
// have one.
func (o Options) answered(answer string) Options {
	if o.Title == "" {
		o.Title = printable.Brief(answer, 2*printable.MaxName)
	}
	return o
}

// capital returns s with a capital first letter.
func capital(s string) string { return strings.ToUpper(s[:1]) + s[1:] }
