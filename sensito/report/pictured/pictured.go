// Package pictured reports what was read of a picture of strips: text for people, JSON for programs. Begin with New.
package pictured

import (
	"encoding/hex"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

	"sensito/sensito"
	"sensito/sensito/picture"
	"sensito/sensito/printable"
	"sensito/sensito/report/internal/page"
)

// A File is a picture that was read.
type File struct {
	Name   string
	SHA256 [sha256]byte
	Image  *picture.Image // what it says of itself is told
}

const sha256 = 32 // bytes

// A Strip is one strip as it was read, of all pictures together.
type Strip struct {
	Minutes   sensito.Minutes // 0 where it was not told
	Grade     string          // of paper
	Rows      []*picture.Lattice
	Densities []picture.Density // empty where nothing is known to read them by
	Fog       *picture.Density  // nil where it was not asked
	Warnings  sensito.Warnings
}

// A Result is what one look at pictures gave.
type Result struct {
	Files       []File
	Empty       *File // of the empty table, by which all is made even; nil where there is none
	Channel     string
	Calibration *picture.Calibration // nil where there is none
	SameFrame   bool                 // the tablet lies in the picture of the strips
	Strips      []Strip
	Warnings    sensito.Warnings // of the pictures and of the calibration
	Trial       bool             // the strips are to go into a trial, which may want base plus fog
}

// A Report is a Result, ready to be written.
type Report struct{ Result }

// New reports a result.
func New(r Result) *Report { return &Report{r} }

// number is null in JSON where it is none.
func number(v float64) any {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return nil
	}
	return v
}

// Each returns the objects that JSON is made of, one a strip.
func (r *Report) Each() []any {
	var out []any
	for _, s := range r.Strips {
		var pictures []printable.Object
		for j, f := range r.Files {
			pictures = append(pictures, printable.Object{{"file", f.Name}, {"sha256", hex.EncodeToString(f.SHA256[:])}, {"ends", s.Rows[j].Ends.String()}, {"edges_seen", s.Rows[j].Edges}})
		}
		var calibration, minutes, grade, common any // null where not told, or there is none
		densities := s.Densities
		if c := r.Calibration; c != nil {
			calibration, common = c.Name, c.Covariance(r.SameFrame)
		} else {
			densities = nil
			for step := range s.Rows[0].Steps {
				densities = append(densities, picture.Density{Step: step + 1, Value: math.NaN()})
			}
		}
		if s.Minutes > 0 {
			minutes = s.Minutes
		}
		if s.Grade != "" {
			grade = s.Grade
		}
		read := []printable.Object{}
		for _, d := range densities {
			read = append(read, append(printable.Object{{"step", d.Step}}, density(d)...))
		}
		var fog printable.Object
		if s.Fog != nil {
			fog = density(*s.Fog)
		}
		var empty any
		if r.Empty != nil {
			empty = printable.Object{{"file", r.Empty.Name}, {"sha256", hex.EncodeToString(r.Empty.SHA256[:])}}
		}
		out = append(out, printable.Object{
			{"schema", "sensito/picture/1"}, {"pictures", pictures}, {"empty", empty}, {"channel", r.Channel}, {"calibration", calibration},
			{"minutes", minutes}, {"grade", grade}, {"base_fog", fog}, {"densities", read}, {"common_covariance", common},
			{"warnings", append(append(sensito.Warnings{}, r.Warnings...), s.Warnings...)},
		})
	}
	return out
}

// density is one that was read; both are null where it was not.
func density(d picture.Density) printable.Object {
	if math.IsNaN(d.Value) {
		return printable.Object{{"value", nil}, {"sd", nil}}
	}
	return printable.Object{{"value", number(d.Value)}, {"sd", number(d.SD)}}
}

// Text writes the report for people.
func (r *Report) Text(out io.Writer, l page.Layout) error {
	w := page.NewWriter(out, l)
	w.Answer("%s", r.answer())
	w.Printf("\n")
	for _, text := range r.files() {
		w.Paragraph("", "  ", text)
	}
	for i, s := range r.Strips {
		w.Printf("\n")
		w.Lines(r.title(i))
		if len(s.Densities) > 0 {
			w.Printf("\n")
			w.Table(rows(s))
		}
		w.Warnings(gathered(s.Warnings))
	}
	if r.Calibration != nil {
		w.Printf("\n")
		w.Paragraph("", "", r.common())
	}
	w.Warnings(gathered(r.Warnings))
	return w.Err
}

// answer says in one sentence what was read.
func (r *Report) answer() string {
	read, all := 0, 0
	low, high := math.Inf(1), math.Inf(-1)
	for _, s := range r.Strips {
		all += s.Rows[0].Steps
		for _, d := range s.Densities {
			if !math.IsNaN(d.Value) {
				read++
				low, high = min(low, d.Value), max(high, d.Value)
			}
		}
	}
	switch {
	case len(r.Strips) == 0:
		return fmt.Sprintf("Calibrated by %s.", tablet(r.Calibration))
	case r.Calibration == nil:
		return fmt.Sprintf("%s found, and no density: %s.", printable.Counted(all, "step"), picture.ErrNoTablet)
	case read == 0:
		return fmt.Sprintf("None of %s could be read.", printable.Counted(all, "step"))
	}
	return fmt.Sprintf("%d of %s read, densities %.2f to %.2f.", read, printable.Counted(all, "step"), low, high)
}

func tablet(c *picture.Calibration) string {
	text := printable.Counted(len(c.Tablet.Density), "step") + " of a tablet"
	if c.Tablet.Name != "" {
		text += " (" + c.Tablet.Name + ")"
	}
	return text
}

// files says of each picture what it is and says of itself, and by which empty one they are made even.
func (r *Report) files() []string {
	var out []string
	for _, f := range r.Files {
		out = append(out, printable.Text(f.Name)+": "+About(f.Image))
	}
	if r.Empty != nil {
		out = append(out, fmt.Sprintf("Made even by the empty table of %s.", printable.Text(r.Empty.Name)))
	}
	return out
}

// About says in words what a picture is, and what its file says of itself.
func About(im *picture.Image) string {
	a := im.About
	parts := []string{fmt.Sprintf("%s, %d by %d pixels, %d bits", a.Format, im.Width, im.Height, im.Bits)}
	if a.PixelsPerInch > 0 {
		parts = append(parts, strconv.FormatFloat(math.Round(a.PixelsPerInch), 'f', -1, 64)+" to the inch")
	}
	if a.Encoding != "" {
		parts = append(parts, "it says that it is "+printable.Text(a.Encoding)+", which is not relied on")
	}
	if maker := strings.TrimSpace(a.Device); maker != "" {
		parts = append(parts, "by "+printable.Text(maker))
	}
	if a.Software != "" {
		parts = append(parts, "software "+printable.Text(a.Software))
	}
	if a.Turned {
		parts = append(parts, "turned as it asks")
	}
	if a.Pages > 1 {
		parts = append(parts, fmt.Sprintf("the first of its %d pictures", a.Pages))
	}
	if a.OtherChannels > 0 {
		parts = append(parts, printable.Counted(a.OtherChannels, "further channel")+" passed over")
	}
	return strings.Join(parts, "; ")
}

// title says which strip follows, and how it was found.
func (r *Report) title(i int) string {
	s := r.Strips[i]
	text := fmt.Sprintf("Strip %d", i+1)
	if s.Grade != "" {
		text += ", grade " + s.Grade
	}
	if s.Minutes > 0 {
		text += ", " + s.Minutes.Clock(1)
	}
	for j, row := range s.Rows {
		if j > 0 {
			text += "; again"
		}
		text += fmt.Sprintf(": ends %s, %d of %d edges seen", row.Ends, row.Edges, row.Steps+1)
	}
	switch {
	case s.Fog != nil && math.IsNaN(s.Fog.Value):
		text += "\nBase plus fog is not read: " + s.Fog.Why
	case s.Fog != nil:
		text += fmt.Sprintf("\nBase plus fog %.3f ±%.3f", s.Fog.Value, s.Fog.SD)
	}
	return text
}

// gathered returns the warnings with those of a code told once, with the steps that it is of too.
func gathered(all sensito.Warnings) sensito.Warnings {
	var out sensito.Warnings
	more := map[string][]string{} // of the first of a code, further steps
	key := func(w sensito.Warning) string { return w.Of + "\x00" + w.Code }
	for _, w := range all {
		if i := slices.IndexFunc(out, func(o sensito.Warning) bool { return key(o) == key(w) }); i >= 0 && w.Step > 0 {
			more[key(w)] = append(more[key(w)], strconv.Itoa(w.Step))
			continue
		}
		out = append(out, w)
	}
	for i, w := range out {
		if steps := more[key(w)]; len(steps) == 1 {
			out[i].Hint = "likewise step " + steps[0]
		} else if len(steps) > 1 {
			out[i].Hint = "likewise steps " + strings.Join(steps, ", ")
		}
	}
	return out
}

// rows are the densities of a strip as a table.
func rows(s Strip) [][]string {
	steps, values, errors := []string{"step"}, []string{"density"}, []string{"±"}
	for _, d := range s.Densities {
		steps = append(steps, strconv.Itoa(d.Step))
		if math.IsNaN(d.Value) {
			values, errors = append(values, "-"), append(errors, "")
			continue
		}
		values, errors = append(values, fmt.Sprintf("%.3f", d.Value)), append(errors, fmt.Sprintf("%.3f", d.SD))
	}
	return [][]string{steps, values, errors}
}

// common says what all readings of a calibration err by alike.
func (r *Report) common() string {
	at := func(d float64) string {
		return fmt.Sprintf("±%.3f at %.1f", picture.ErrorOf(r.Calibration.Covariance(r.SameFrame), d), d)
	}
	return fmt.Sprintf("± is one standard deviation of one step. By %s all may be off together: %s, %s, %s. These are densities of this "+
		"device, matched to the tablet: no ISO 5 densities.", tablet(r.Calibration), at(0.5), at(1), at(2))
}
