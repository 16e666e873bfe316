package report

import (
	"io"
	"slices"
	"strconv"

	"sensito/sensito"
	"sensito/sensito/curve"
	"sensito/sensito/paper"
	"sensito/sensito/report/internal/page"
)

// Sampled is the report of points along the curves of one trial.
type Sampled struct {
	trial    *sensito.Trial
	strips   []sampled
	warnings sensito.Warnings
	paper    bool // the rows have a grade
}

// sampled is the curve of one strip.
type sampled struct {
	strip  *sensito.Strip
	fit    *curve.Fit
	points []curve.Point
}

// NewSampled reports n points of each curve of measured strips of one trial. A
// strip without a curve is left out; its warnings say why.
func NewSampled(t *sensito.Trial, ms []*curve.Measured, n int) *Sampled {
	r := &Sampled{trial: t, warnings: sensito.Warnings{}}
	for _, m := range ms {
		r.add(m.Strip, m.Fit, m.Sample(n), m.Warnings)
	}
	return r
}

// NewSampledPaper is NewSampled for the grades of a paper; their net densities are
// above paper white.
func NewSampledPaper(p *paper.Paper, n int) *Sampled {
	r := &Sampled{trial: p.Trial, warnings: append(sensito.Warnings{}, p.Warnings...), paper: true}
	for _, m := range p.Strips {
		r.add(m.Strip, m.Fit, m.Sample(n), m.Warnings)
	}
	return r
}

// add adds the curve of a strip, if there is one, and the warnings.
func (r *Sampled) add(m *sensito.Strip, f *curve.Fit, points []curve.Point, warnings sensito.Warnings) {
	for _, w := range warnings {
		r.warnings = append(r.warnings, w.OfStrip(m.Number()))
	}
	if f != nil {
		r.strips = append(r.strips, sampled{m, f, points})
	}
}

// MarshalJSON writes the points.
func (r *Sampled) MarshalJSON() ([]byte, error) {
	return object{
		{"schema", "sensito/curves/1"}, {"trial", r.trial.Name()}, {"log_h_unit", logUnit(r.trial)},
		{"strips", objects(r.strips, func(s sampled) object {
			out := object{{"strip", s.strip.Number()}}
			if g := s.strip.Grade(); g != "" { // of a paper
				out = append(out, member{"grade", g})
			}
			return append(out, member{"minutes", s.strip.Minutes()}, member{"model", s.fit.Model},
				member{"points", objects(s.points, func(p curve.Point) object {
					return object{{"log_h", p.LogH}, {"density", p.Density}, {"net_density", p.Net}, {"slope", p.Slope}}
				})})
		})},
		{"warnings", r.warnings},
	}.MarshalJSON()
}

// Table returns the points, a row each; log_h_lxs is in log10 lux seconds, log_h
// is relative. The strips of a paper have their grade beside their number.
func (r *Sampled) Table() (headings []string, rows [][]string) {
	headings = []string{"strip", "minutes", "log_h", "density", "net_density", "slope"}
	if r.trial.Exposures().Absolute() {
		headings[2] = "log_h_lxs"
	}
	if r.paper {
		headings = slices.Insert(headings, 1, "grade")
	}
	for _, s := range r.strips {
		for _, p := range s.points {
			row := []string{strconv.Itoa(s.strip.Number()), allDigits(float64(s.strip.Minutes())), allDigits(float64(p.LogH)), allDigits(float64(p.Density)), allDigits(float64(p.Net)), allDigits(p.Slope)}
			if r.paper {
				row = slices.Insert(row, 1, s.strip.Grade())
			}
			rows = append(rows, row)
		}
	}
	return headings, rows
}

// Text writes the points as a table.
func (r *Sampled) Text(out io.Writer, l Layout) error {
	w := &writer{page.NewWriter(out, l)}
	w.Lines(heading(r.trial))
	w.Printf("\n")
	headings, rows := r.Table()
	w.Table(append([][]string{headings}, rows...))
	w.Warnings(r.warnings)
	return w.Err
}
