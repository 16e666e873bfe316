package screen

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"sensito/sensito"
	"sensito/sensito/listing"
)

// readings is the table of what was read, in the unit in which it was read.
func readings(t *sensito.Trial, strips []listing.Strip, at string) *Table {
	at = keying(at)
	log, base := "log H", "base"
	if !t.Exposures().Absolute() {
		log = "log H, relative"
	}
	if t.Material() == sensito.PaperMaterial {
		base = "white"
	}
	out := &Table{Name: "Table of readings", Fives: true, Heads: heads("Step|Step wedge", log+"|log H")}
	for _, name := range stripNames(strips) {
		out.Heads = append(out.Heads, Head{Text: name})
	}
	unit := unitOf(t.Reading(), strips)
	first := Row{Head: Cell{Text: base}, Cells: []Cell{{}}}
	for _, s := range strips {
		var read []string
		for _, d := range s.BaseFog() {
			read = append(read, unit(d))
		}
		c := Cell{Text: strings.Join(read, " ")}
		switch {
		case len(read) == 0:
			c = none("not read")
		case questioned(s, 0):
			c = Cell{Text: c.Text + "?", Hidden: "questioned, ", Address: under(at, stepAddress(s.Number(), 0))}
		}
		first.Cells = append(first.Cells, c)
	}
	out.First = []Row{first}
	for i, h := range t.Exposures().LogH() {
		row := Row{Head: Cell{Text: fmt.Sprint(i + 1)}, Cells: []Cell{figure(float64(h), 2)}}
		for _, s := range strips {
			row.Cells = append(row.Cells, reading(s, s.Steps()[i], unit, at))
		}
		out.Rows = append(out.Rows, row)
	}
	return out
}

// reading is the cell of one step.
func reading(s listing.Strip, step sensito.Step, unit func(sensito.Density) string, at string) Cell {
	switch {
	case math.IsNaN(float64(step.Density)):
		return none("not read")
	case step.Ignored:
		return Cell{Text: "(" + unit(step.Density) + ")", Hidden: "left out, ", Soft: true}
	case questioned(s, step.Number):
		return Cell{Text: unit(step.Density) + "?", Hidden: "questioned, ", Address: under(at, stepAddress(s.Number(), step.Number))}
	}
	return Cell{Text: unit(step.Density)}
}

// questioned says whether the reading of a step cannot belong to the curve of its strip.
func questioned(s listing.Strip, step int) bool {
	for _, q := range s.Questioned {
		if q.Step == step {
			return true
		}
	}
	return false
}

// unitOf returns how densities are told as they were read: all with as many places as the
// finest of them needs, densities with two.
func unitOf(r sensito.Reading, strips []listing.Strip) func(sensito.Density) string {
	hundredths := func(d sensito.Density) float64 { return math.Round(100*float64(r.AsRead(d))) / 100 }
	places := 2
	if r.Unit != sensito.UnitDensity {
		places = 0
		for _, s := range strips {
			all := slices.Clone(s.BaseFog())
			for _, step := range s.Steps() {
				all = append(all, step.Density)
			}
			for _, d := range all {
				if v := hundredths(d); !math.IsNaN(v) {
					places = max(places, decimals(v))
				}
			}
		}
	}
	return func(d sensito.Density) string { return fixed(hundredths(d), places) }
}

// readNotes say what the marks of the readings mean, as far as there are some.
func readNotes(strips []listing.Strip) []Note {
	var asked, ignored bool
	for _, s := range strips {
		asked = asked || len(s.Questioned) > 0
		ignored = ignored || len(s.Ignored) > 0
	}
	var out []Note
	if asked {
		out = append(out, Note{About: "With “?”", Text: say("are readings that cannot belong to the curve. They are set aside until they are read again.")})
	}
	if ignored {
		out = append(out, Note{About: "In brackets", Text: say("are readings that you left out.")})
	}
	return out
}
