package report

import (
	"fmt"
	"io"
	"strconv"
	"strings"

	"sensito/sensito"
	"sensito/sensito/curve"
	"sensito/sensito/scene"
)

// Paper is the report of the strips of a trial of paper.
type Paper struct {
	Schema   string           `json:"schema"`
	Trial    string           `json:"trial"`
	Callier  float64          `json:"callier"` // coefficient behind density_range
	Strips   []PaperStrip     `json:"strips"`
	Warnings sensito.Warnings `json:"warnings"`

	heading string
	noise   string
}

// PaperStrip is one strip of a Paper report.
type PaperStrip struct {
	Grade           string           `json:"grade"`
	Minutes         *float64         `json:"minutes"` // null when not stated
	Model           *string          `json:"model"`
	MinDensity      *Quantity        `json:"min_density"`
	MaxDensity      *Quantity        `json:"max_density"`
	WhiteReached    bool             `json:"white_reached"` // by the steps; otherwise intervals are open
	BlackReached    bool             `json:"black_reached"`
	ISORange        *Quantity        `json:"iso_range"`
	ISORangeRounded *int             `json:"iso_range_rounded"` // null where the range has no upper end
	NumberedGrade   *string          `json:"numbered_grade"`    // null likewise, and outside 0 to 5
	ISOSpeed        *Quantity        `json:"iso_speed"`
	DensityRange    *Quantity        `json:"density_range"` // that a negative needs
	AverageGradient *Quantity        `json:"average_gradient"`
	White           *Quantity        `json:"white_log_h_lxs"`
	Black           *Quantity        `json:"black_log_h_lxs"`
	SpeedPoint      *Quantity        `json:"speed_point_log_h_lxs"`
	ResidualSD      *float64         `json:"residual_sd"`
	SetAside        []SetAside       `json:"set_aside"`
	Warnings        sensito.Warnings `json:"warnings"`

	name  string
	strip *curve.PaperStrip
}

// NewPaper reports a paper for negatives printed with the given Callier
// coefficient (0 or 1 for a diffusion enlarger), with intervals at the given
// level of confidence.
func NewPaper(p *curve.Paper, callier, level float64) *Paper {
	if callier == 0 {
		callier = 1
	}
	r := &Paper{Schema: "sensito/paper/1", Trial: name(p.Trial), Callier: callier, Strips: []PaperStrip{},
		Warnings: p.Warnings, heading: heading(p.Trial)}
	unit := unitLogH
	if !p.Trial.Exposures().Absolute() {
		unit = unitLogRel
	}
	for _, m := range p.Strips {
		s := PaperStrip{
			Grade:           m.Grade,
			MinDensity:      quantity(m.MinDensity, level, unitOne),
			MaxDensity:      quantity(m.MaxDensity, level, unitOne),
			WhiteReached:    m.WhiteReached,
			BlackReached:    m.BlackReached,
			DensityRange:    quantity(m.Negative(callier), level, unitOne),
			ISORange:        quantity(m.ISORange(), level, unitOne),
			ISOSpeed:        quantity(m.Speed, level, unitOne),
			AverageGradient: quantity(m.AverageGradient, level, unitOne),
			White:           quantity(m.White, level, unit),
			Black:           quantity(m.Black, level, unit),
			SpeedPoint:      quantity(m.SpeedPoint, level, unit),
			SetAside:        []SetAside{},
			Warnings:        m.Warnings,
			name:            m.Grade,
			strip:           m,
		}
		if m.Grade == "" {
			s.name = fmt.Sprintf("strip %d", m.Strip.Number())
		}
		if minutes := float64(m.Strip.Minutes()); minutes != 0 {
			s.Minutes = &minutes
		}
		if l := m.LogRange; l != nil && !l.AtLeast {
			s.ISORangeRounded = new(m.RoundedRange())
			if grade, ok := curve.GradeOf(l.Value); ok {
				s.NumberedGrade = &grade
			}
		}
		if f := m.Fit; f != nil {
			r.noise = noiseName(f.Noise)
			scatter := float64(f.ResidualSD)
			s.Model, s.ResidualSD = &f.Model, &scatter
			for _, a := range f.SetAside {
				s.SetAside = append(s.SetAside, SetAside{Step: a.Step, Density: float64(a.Density), Expected: float64(a.Expected)})
			}
		}
		r.Strips = append(r.Strips, s)
	}
	return r
}

// Text writes what each grade is, then the negative that suits it.
func (r *Paper) Text(out io.Writer) error {
	w := &writer{w: out}
	w.printf("%s\n\n", r.heading)
	rows := [][]string{{"grade", "white", "black", "ISO range", "speed", "gradient"}}
	for _, s := range r.Strips {
		rows = append(rows, []string{s.name, s.MinDensity.String(), s.MaxDensity.String(), s.ISORange.String(), s.ISOSpeed.String(), s.AverageGradient.String()})
	}
	w.table(rows)

	q := r.Callier
	if q == 1 {
		q = scene.DefaultCallier
	}
	condenser := "condenser, Q " + strconv.FormatFloat(q, 'g', 3, 64)
	w.printf("\nThe density range of a negative that fills the paper:\n\n")
	rows = [][]string{{"grade", "ISO range rounded", "as of grade", "diffusion", condenser}}
	for _, s := range r.Strips {
		rows = append(rows, append([]string{s.name}, s.needs(q)...))
	}
	w.table(rows)
	w.printf("\n")
	note := fmt.Sprintf("± one standard deviation, from the %s. Range from 0.04 over white to 90 %% of the net maximum density, speed 1000/H at 0.60 over white (ISO 6846).", r.noise)
	if r.Callier == 1 {
		note += " Q 1.3 for a condenser enlarger is a rule of thumb: the coefficient depends on the film and its density; give your own with --callier."
	}
	w.paragraph("", "", note)
	for _, text := range r.notes() {
		w.paragraph("! ", "  ", text)
	}
	_, hazards, _ := strings.Cut(startingPoint, "\n")
	w.printf("\nA computed range is a starting point: verify it with a print of your own.\n%s\n", hazards)
	return w.err
}

// needs returns the cells of a strip in the table of negatives, for a condenser
// enlarger of the given Callier coefficient.
func (s PaperStrip) needs(callier float64) []string {
	l := s.strip.LogRange
	if l == nil {
		return []string{"-", "-", "-", "-"}
	}
	grade, ok := curve.GradeOf(l.Value)
	more := ""
	if l.AtLeast {
		grade, more = grade+" or softer", " or more"
	}
	if !ok {
		grade = "-"
	}
	density := func(callier float64) string { return fixed(float64(s.strip.Negative(callier).Value), 2) + more }
	return []string{roundedRange(s.strip), grade, density(1), density(callier)}
}

// roundedRange returns the ISO range of a strip as it is printed.
func roundedRange(m *curve.PaperStrip) string {
	text := fmt.Sprintf("R %d", m.RoundedRange())
	if m.LogRange.AtLeast {
		text += " or more"
	}
	return text
}

// notes returns the warnings, those that several strips share once.
func (r *Paper) notes() []string {
	var messages []string
	for _, warning := range r.Warnings {
		messages = append(messages, warning.Message())
	}
	of := map[string][]string{}
	var shared []string
	for _, s := range r.Strips {
		for _, warning := range s.Warnings {
			if of[warning.Message()] == nil {
				shared = append(shared, warning.Message())
			}
			of[warning.Message()] = append(of[warning.Message()], s.name)
		}
	}
	for _, m := range shared {
		who := strings.Join(of[m], ", ")
		if len(of[m]) == len(r.Strips) && len(r.Strips) > 1 {
			who = "all strips"
		}
		messages = append(messages, who+": "+m)
	}
	return messages
}
