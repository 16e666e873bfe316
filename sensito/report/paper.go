package report

import (
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"sensito/sensito"
	"sensito/sensito/answers"
	"sensito/sensito/paper"
	"sensito/sensito/report/internal/page"
	"sensito/sensito/scene"
)

// Paper is the report of the strips of a trial of paper.
type Paper struct {
	paper          *paper.Paper
	callier, level float64
}

// NewPaper reports a paper for negatives printed with the given Callier
// coefficient (0 or 1 for a diffusion enlarger), with intervals at the given
// level of confidence.
func NewPaper(p *paper.Paper, callier, level float64) *Paper {
	if callier == 0 {
		callier = 1
	}
	return &Paper{p, callier, level}
}

// MarshalJSON writes all that is known of the strips.
func (r *Paper) MarshalJSON() ([]byte, error) {
	return object{
		{"schema", "sensito/paper/1"},
		{"trial", r.paper.Trial.Name()},
		{"callier", r.callier}, // coefficient behind density_range
		{"strips", objects(r.paper.Strips, r.strip)},
		{"warnings", r.paper.Warnings},
	}.MarshalJSON()
}

func (r *Paper) strip(m *paper.Strip) object {
	model, residualSD, setAside := fitted(m.Fit)
	unit := logUnit(r.paper.Trial)
	var rounded, numbered any // null where the range has no upper end
	if l := m.LogRange; l != nil && !l.AtLeast {
		if !m.Pictured() {
			rounded = m.RoundedRange()
		}
		if grade, ok := paper.GradeOf(l.Value); ok {
			numbered = grade
		}
	}
	return object{
		{"grade", m.Grade},
		{"minutes", stated(float64(m.Strip.Minutes()))},
		{"model", model},
		{"min_density", quantity(m.MinDensity, r.level, unitOne)},
		{"max_density", quantity(m.MaxDensity, r.level, unitOne)},
		{"white_reached", m.WhiteReached}, // by the steps; otherwise intervals are open
		{"black_reached", m.BlackReached},
		{"log_range", quantity(m.LogRange, r.level, unitOne)},
		{"iso_range", quantity(m.ISORange(), r.level, unitOne)}, // null, as iso_speed, of a strip read in a picture
		{"iso_range_rounded", rounded},
		{"numbered_grade", numbered}, // null outside 0 to 5 too
		{"speed", quantity(m.Speed, r.level, unitOne)},
		{"iso_speed", quantity(m.ISOSpeed(), r.level, unitOne)},
		{"density_range", quantity(m.Negative(r.callier), r.level, unitOne)}, // that a negative needs
		{"average_gradient", quantity(m.AverageGradient, r.level, unitOne)},
		{"white_log_h_lxs", quantity(m.White, r.level, unit)},
		{"black_log_h_lxs", quantity(m.Black, r.level, unit)},
		{"speed_point_log_h_lxs", quantity(m.SpeedPoint, r.level, unit)},
		{"residual_sd", residualSD},
		{"set_aside", setAside},
		{"warnings", m.Warnings},
	}
}

// Text writes what each grade is, then the negative that suits it.
func (r *Paper) Text(out io.Writer, l Layout) error {
	w := &writer{page.NewWriter(out, l)}
	w.Answer("%s", r.answer())
	w.Printf("\n")
	w.Lines(heading(r.paper.Trial))
	w.Printf("\n")
	noise := "" // the same of all strips
	ranged, rounded, by := "ISO range", "ISO range rounded", " (ISO 6846)"
	pictured := slices.ContainsFunc(r.paper.Strips, (*paper.Strip).Pictured)
	if pictured {
		ranged, rounded, by = "log range", "range", ""
	}
	rows := [][]string{{"grade", "white", "black", ranged, "speed", "gradient"}}
	for _, m := range r.paper.Strips {
		width := withError(m.ISORange(), r.level)
		if pictured {
			width = withError(m.LogRange, r.level)
		}
		rows = append(rows, []string{gradeName(m), withError(m.MinDensity, r.level), withError(m.MaxDensity, r.level),
			width, withError(m.Speed, r.level), withError(m.AverageGradient, r.level)})
		if m.Fit != nil {
			noise = noiseName(m.Fit.Noise)
		}
	}
	if l.Full {
		w.Table(rows)
		w.Printf("\n")
	}

	q := r.callier
	if q == 1 {
		q = scene.DefaultCallier
	}
	condenser := "condenser, Q " + strconv.FormatFloat(q, 'g', 3, 64)
	w.Printf("The density range of a negative that fills the paper:\n\n")
	rows = [][]string{{"grade", rounded, "as of grade", "diffusion", condenser}}
	for _, m := range r.paper.Strips {
		rows = append(rows, append([]string{gradeName(m)}, needs(m, q)...))
	}
	w.Table(rows)
	w.Printf("\n")
	note := fmt.Sprintf("± one standard deviation, from the %s. Range from 0.04 over white to 90 %% of the net maximum density, speed 1000/H at 0.60 over white%s.", noise, by)
	if r.callier == 1 {
		note += " Q 1.3 for a condenser enlarger is a rule of thumb: the coefficient depends on the film and its density; give your own with --callier."
	}
	if l.Full {
		w.Paragraph("", "", note)
	} else if r.callier == 1 {
		w.Paragraph("", "", "Q 1.3 for a condenser enlarger is a rule of thumb; give your own with --callier.")
	}
	w.Warnings(r.paper.Warnings)
	writeWarnings(w, r.paper.Strips, func(m *paper.Strip) (string, sensito.Warnings) { return gradeName(m), m.Warnings })
	w.Printf("\n")
	w.Lines("A computed range is a starting point: verify it with a print of your own.\n" + page.Hazards)
	return w.Err
}

// answer tells the density range of a negative for the grades, by a diffusion
// enlarger or with the Callier coefficient given.
func (r *Paper) answer() string {
	var told []string
	for _, m := range r.paper.Strips {
		d := quantity(m.Negative(r.callier), r.level, unitOne)
		if d == nil {
			continue
		}
		text := page.Fixed(d.Value, 2)
		if d.atLeast {
			text += " or more"
		}
		if m.Grade != "" {
			text += " for grade " + m.Grade
		}
		told = append(told, text)
	}
	name := r.paper.Trial.Film().Name
	if len(told) == 0 {
		return "What a negative for " + name + " needs is not told."
	}
	enlarger := "a diffusion enlarger"
	if r.callier != 1 {
		enlarger = "a Callier coefficient of " + strconv.FormatFloat(r.callier, 'g', 3, 64)
	}
	return fmt.Sprintf("A negative for %s wants a density range of %s (%s).", name, strings.Join(told, ", "), enlarger)
}

// gradeName returns the grade or filter of a strip, or its number without one.
func gradeName(m *paper.Strip) string {
	if m.Grade == "" {
		return fmt.Sprintf("strip %d", m.Strip.Number())
	}
	return m.Grade
}

// needs returns the cells of a strip in the table of negatives, for a condenser
// enlarger of the given Callier coefficient.
func needs(m *paper.Strip, callier float64) []string {
	l := m.LogRange
	if l == nil {
		return []string{"-", "-", "-", "-"}
	}
	grade, ok := paper.GradeOf(l.Value)
	more := ""
	if l.AtLeast {
		grade, more = grade+" or softer", " or more"
	}
	if !ok {
		grade = "-"
	}
	density := func(callier float64) string { return page.Fixed(float64(m.Negative(callier).Value), 2) + more }
	return []string{answers.PaperRange(m), grade, density(1), density(callier)}
}
