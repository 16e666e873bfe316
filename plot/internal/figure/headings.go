package figure

import (
	"strings"

	"sensito/plot/internal/parts"
	"sensito/sensito"
	"sensito/sensito/printable"
	"sensito/sensito/scene"
)

// Headed returns the heading of a figure about a trial: the answer, unless the
// options have a title of their own, over the trial, how it is developed, and what
// else the answer holds for. The title becomes that of the options.
func (o *Options) Headed(answer string, t *sensito.Trial, conditions ...string) parts.Heading {
	return o.HeadedFor(answer, t, t.Process(), conditions...)
}

// HeadedFor is Headed for a development that is not the trial's.
func (o *Options) HeadedFor(answer string, t *sensito.Trial, p sensito.Process, conditions ...string) parts.Heading {
	*o = o.Answered(answer)
	h := HeadingFor(*o, t, p)
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

// Answered returns the options with the answer of a figure as its title, unless they
// have one.
func (o Options) Answered(answer string) Options {
	if o.Title == "" {
		o.Title = printable.Brief(answer, 2*printable.MaxName)
	}
	return o
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
	StartingPoint  = "A starting point: verify on your own process."
	Caution        = "Chemicals are hazardous: gloves, eye protection, ventilation; read the product's safety sheet."
	FurtherCaution = "Never mix acids or bleach with fixer. Dispose of used baths by local rules."
)

// HeadingFor returns the title of the options over film and development.
func HeadingFor(o Options, t *sensito.Trial, p sensito.Process) parts.Heading {
	h := parts.Heading{Title: o.Title, Bare: o.Page}
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

// Cautioned returns the heading for a figure that tells a development time of
// today. A page of HTML has the cautions at its own foot.
func Cautioned(h parts.Heading, today *scene.Adjustment) parts.Heading {
	h.Foot = Uncorrected(today)
	if !h.Bare {
		h.Foot += "\n" + StartingPoint + " " + Caution + " " + FurtherCaution
	}
	return h
}

// Capital returns s with a capital first letter.
func Capital(s string) string { return strings.ToUpper(s[:1]) + s[1:] }
