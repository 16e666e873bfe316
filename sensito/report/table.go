package report

import (
	"math"

	"sensito/sensito"
	"sensito/sensito/scene"
)

// A Tabular report can be written as one table, for programs that read tables.
type Tabular interface {
	Report

	// Table returns headings, which carry their unit, and rows of cells with
	// numbers in full; an empty cell is unknown.
	Table() (headings []string, rows [][]string)

	// Notices returns the warnings of the report, which its table leaves out.
	Notices() sensito.Warnings
}

// quantityHeadings are those of a quantity: its value, its standard deviation,
// and the ends of its interval.
func quantityHeadings(name string) []string {
	return []string{name, name + "_sd", name + "_low", name + "_high"}
}

// cells are what stands below quantityHeadings.
func (q *Quantity) cells() []string {
	if q == nil {
		return make([]string, 4)
	}
	return []string{allDigits(q.Value), allDigits(q.SD), cell(q.Low), cell(q.High)}
}

// cell is the end of an interval, empty where there is none.
func cell(v float64) string {
	if math.IsInf(v, 0) {
		return ""
	}
	return allDigits(v)
}

// Table returns the strips of the family, a row each.
func (r *Family) Table() (headings []string, rows [][]string) {
	headings = []string{"minutes"}
	for _, name := range []string{"contrast_index", "average_gradient", "speed", "base_fog"} {
		headings = append(headings, quantityHeadings(name)...)
	}
	for _, m := range r.family.Strips {
		row := []string{allDigits(float64(m.Strip.Minutes()))}
		for _, q := range []*Quantity{quantity(m.ContrastIndex, r.level, unitOne), quantity(m.AverageGradient, r.level, unitOne),
			quantity(m.Speed, r.level, unitOne), quantity(m.BaseFog, r.level, unitOne)} {
			row = append(row, q.cells()...)
		}
		rows = append(rows, row)
	}
	return headings, rows
}

// Table returns the rows of the card.
func (r *Card) Table() (headings []string, rows [][]string) {
	headings = []string{"n", "scene_range_stops"}
	for _, name := range []string{"minutes", "exposure_index", "contrast_index", "delivered_density_range"} {
		headings = append(headings, quantityHeadings(name)...)
	}
	headings = append(headings, "extrapolated", "reason")
	for _, c := range r.card.Rows {
		p := c.Answer
		if p == nil {
			p = &scene.Answer{}
		}
		row := []string{allDigits(c.N), allDigits(c.Stops)}
		for _, q := range []*Quantity{r.minutes(c), quantity(p.ExposureIndex, r.level, unitOne), quantity(p.ContrastIndex, r.level, unitOne), quantity(p.Delivered, r.level, unitOne)} {
			row = append(row, q.cells()...)
		}
		row = append(row, yesNo(&p.Extrapolated), c.Reason)
		rows = append(rows, row)
	}
	return headings, rows
}

// Notices returns the warnings, which no table has room for.
func (r *Sampled) Notices() sensito.Warnings { return r.warnings }
