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
	Schema   string           `json:"schema"`
	Trial    string           `json:"trial"`
	LogHUnit string           `json:"log_h_unit"`
	Strips   []SampledStrip   `json:"strips"`
	Warnings sensito.Warnings `json:"warnings"`

	heading  string
	absolute bool
	paper    bool // the rows have a grade
}

// SampledStrip is the curve of one strip.
type SampledStrip struct {
	Strip   int            `json:"strip"`
	Grade   string         `json:"grade,omitempty"` // of a paper
	Minutes float64        `json:"minutes"`
	Model   string         `json:"model"`
	Points  []SampledPoint `json:"points"`
}

// SampledPoint is one point of a curve.
type SampledPoint struct {
	LogH       float64 `json:"log_h"`
	Density    float64 `json:"density"`
	NetDensity float64 `json:"net_density"`
	Slope      float64 `json:"slope"`
}

// NewSampled reports n points of each curve of measured strips of one trial. A
// strip without a curve is left out; its warnings say why.
func NewSampled(t *sensito.Trial, ms []*curve.Measured, n int) *Sampled {
	r := newSampled(t)
	for _, m := range ms {
		r.add(m.Strip, m.Fit, m.Sample(n), m.Warnings)
	}
	return r
}

// NewSampledPaper is NewSampled for the grades of a paper; their net densities are
// above paper white.
func NewSampledPaper(p *paper.Paper, n int) *Sampled {
	r := newSampled(p.Trial)
	r.paper, r.Warnings = true, append(r.Warnings, p.Warnings...)
	for _, m := range p.Strips {
		r.add(m.Strip, m.Fit, m.Sample(n), m.Warnings)
	}
	return r
}

func newSampled(t *sensito.Trial) *Sampled {
	r := &Sampled{Schema: "sensito/curves/1", Trial: t.Name(), LogHUnit: unitLogRel, Strips: []SampledStrip{}, Warnings: sensito.Warnings{},
		heading: heading(t), absolute: t.Exposures().Absolute()}
	if r.absolute {
		r.LogHUnit = unitLogH
	}
	return r
}

// add adds the curve of a strip, if there is one, and the warnings.
func (r *Sampled) add(m *sensito.Strip, f *curve.Fit, points []curve.Point, warnings sensito.Warnings) {
	for _, w := range warnings {
		r.Warnings = append(r.Warnings, w.OfStrip(m.Number()))
	}
	if f == nil {
		return
	}
	s := SampledStrip{Strip: m.Number(), Grade: m.Grade(), Minutes: float64(m.Minutes()), Model: f.Model}
	for _, p := range points {
		s.Points = append(s.Points, SampledPoint{LogH: float64(p.LogH), Density: float64(p.Density), NetDensity: float64(p.Net), Slope: p.Slope})
	}
	r.Strips = append(r.Strips, s)
}

// Table returns the points, a row each; log_h_lxs is in log10 lux seconds, log_h
// is relative. The strips of a paper have their grade beside their number.
func (r *Sampled) Table() (headings []string, rows [][]string) {
	headings = []string{"strip", "minutes", "log_h", "density", "net_density", "slope"}
	if r.absolute {
		headings[2] = "log_h_lxs"
	}
	if r.paper {
		headings = slices.Insert(headings, 1, "grade")
	}
	for _, s := range r.Strips {
		for _, p := range s.Points {
			row := []string{strconv.Itoa(s.Strip), allDigits(s.Minutes), allDigits(p.LogH), allDigits(p.Density), allDigits(p.NetDensity), allDigits(p.Slope)}
			if r.paper {
				row = slices.Insert(row, 1, s.Grade)
			}
			rows = append(rows, row)
		}
	}
	return headings, rows
}

// Text writes the points as a table.
func (r *Sampled) Text(out io.Writer, l Layout) error {
	w := &writer{page.NewWriter(out, l)}
	w.Lines(r.heading)
	w.Printf("\n")
	headings, rows := r.Table()
	w.Table(append([][]string{headings}, rows...))
	w.Warnings(r.Warnings)
	return w.Err
}

// allDigits writes every digit of a number.
func allDigits(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }
