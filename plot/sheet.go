package plot

import (
	"fmt"

	"gonum.org/v1/plot/vg"

	"sensito/plot/internal/figure"
	"sensito/plot/internal/parts"
	"sensito/sensito/darkroom"
	"sensito/sensito/logbook"
)

// sheetPages are upright. A4 is of ISO 216, letter of ANSI Y14.1 (from memory).
var sheetPages = [...]Page{
	{"a4", 210 * vg.Millimeter, 297 * vg.Millimeter},
	{"letter", 8.5 * vg.Inch, 11 * vg.Inch},
}

// SheetPages returns the pages that a process sheet may be printed on, the usual
// one first.
func SheetPages() []Page { return append([]Page(nil), sheetPages[:]...) }

// SheetPageNamed returns the page of a name. The error names the pages there are.
func SheetPageNamed(name string) (Page, error) {
	return named(sheetPages[:], name, "a process sheet")
}

// Sheet returns a process sheet to print, an A4 sheet unless told otherwise: the
// time, the volumes to mix, the steps by the clock with those in the dark
// shaded, the cautions, and room to write what was done. The type is as large as
// the page allows. The error is for options outside their limits or a page too
// small to be read at arm's length.
func Sheet(s *darkroom.Sheet, o Options) (*Figure, error) {
	o, err := o.WithDefaults(s.Spec.Trial.Title())
	if err != nil {
		return nil, err
	}
	b := newSheetBody(s, o)
	fig := o.Figure(sheetPages[0].Width, sheetPages[0].Height, b).Fine()
	var ok bool
	if b.size, ok = b.fit(fig.Width, fig.Height); !ok {
		return nil, fmt.Errorf("%d steps with all that is said of them do not go on a page of %.0f by %.0f mm in type that can be read: shorten the notes of the procedure, or use a larger page",
			len(b.steps), fig.Width/vg.Millimeter, fig.Height/vg.Millimeter)
	}
	return fig, nil
}

// sheetBody is what a process sheet says.
type sheetBody struct {
	title, sub      string
	headline, basis string
	lines           []string // of film and vessel
	mix             [][3]string
	uses            []string
	steps           []sheetRow
	end             string // what the clock shows in the end
	words           []string
	warnings        []string
	cautions        []string

	size vg.Length // of the type, settled by fit
}

// sheetRow is one step.
type sheetRow struct {
	number, name, detail, clock, time string
	dark, critical, timed             bool
	changes                           int // of the bath, each with a box to tick
}

// furtherMixing is said where somebody is told to mix.
const furtherMixing = "Pour acid, and any concentrate, into water, never water into it."

func newSheetBody(s *darkroom.Sheet, o Options) *sheetBody {
	h := figure.HeadingFor(o, s.Spec.Trial, s.Process)
	b := &sheetBody{title: h.Title, sub: h.Sub, headline: s.Headline(), basis: figure.Capital(s.Basis(o.Confidence)),
		words:    []string{s.LightText(), darkroom.CriticalText},
		cautions: []string{furtherMixing + " " + figure.Caution, figure.FurtherCaution + " " + figure.StartingPoint}}
	if s.Spec.Date != "" {
		b.title += ", " + s.Spec.Date
	}
	if e := s.Spec.Index; e != nil {
		set, _ := e.Value.Standard()
		b.basis += fmt.Sprintf("; exposed at EI %s (nearest setting %s)", parts.Speed(e.Value), parts.Number(float64(set)))
	}
	if t := s.FilmText(); t != "" {
		b.lines = append(b.lines, "Film: "+t)
	}
	if v := s.Spec.Vessel; v.Stated() {
		b.lines = append(b.lines, "Vessel: "+v.String())
	}
	if s.Spec.Note != "" {
		b.lines = append(b.lines, s.Spec.Note)
	}
	if last := logbook.LastTime(s.Spec.Trial, s.Process); last != nil {
		b.lines = append(b.lines, last.Sentence())
	}
	for _, bath := range s.Baths {
		if bath.Ratio() == "" {
			continue
		}
		measure := "–"
		if m := bath.Measure(); m != "" {
			measure = m
		}
		b.mix = append(b.mix, [3]string{bath.Label(), measure, s.Kept(bath)})
		if t := bath.UseText(); t != "" {
			b.uses = append(b.uses, t)
		}
	}
	for _, step := range s.Steps {
		row := sheetRow{number: fmt.Sprint(step.Number), name: step.Name, detail: step.Detail(), clock: step.StartText(), time: step.TimeText(),
			dark: step.Dark, critical: step.Critical, timed: step.TimeText() != "", changes: step.Changes}
		if l := step.Bath.Label(); l != "" {
			row.name += ": " + l
		}
		b.steps = append(b.steps, row)
	}
	if s.Total != nil {
		b.end = parts.Clock(*s.Total)
	}
	if s.Order != nil {
		b.words = append(b.words, s.Order.Text())
	}
	for _, w := range s.Warnings {
		b.warnings = append(b.warnings, "! "+w.Message())
	}
	return b
}
