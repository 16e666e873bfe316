package sensito

import (
	"fmt"
	"strings"
)

// Card is a pocket card: what to set and how long to develop for scenes from a
// long range (N-2) to a short one (N+2), in half steps.
type Card struct {
	Family *Family
	Scene  Scene // aim, flare and placement common to all rows; Stops unused
	Rows   []CardRow
}

// CardShortest is the shortest scene of a card, in stops: an aim that can be
// checked for it can be checked for every row.
const CardShortest = normalStops - 2

// CardRow is one line of a pocket card. Plan is nil where no time can serve,
// and Reason says why.
type CardRow struct {
	N, Stops float64
	Plan     *Plan
	Reason   string
}

// Card returns the pocket card for an aim. The error is for an aim outside its
// limits, or Unanswerable when no row has a time.
func (f *Family) Card(aim Scene) (*Card, error) {
	c := &Card{Family: f, Scene: aim.withDefaults()}
	var last error
	served := false
	for twice := -4; twice <= 4; twice++ {
		n := float64(twice) / 2
		row := CardRow{N: n, Stops: normalStops - n}
		s := aim
		s.Stops = row.Stops
		if err := s.Check(); err != nil {
			return nil, err
		}
		p, err := f.For(s)
		if err != nil {
			row.Reason, last = err.Error(), err
		} else {
			row.Plan, served = p, true
		}
		c.Rows = append(c.Rows, row)
	}
	if !served {
		return nil, last
	}
	return c, nil
}

// Warnings returns the warnings of the rows, each kind once with the rows it
// holds for, after those that hold for all.
func (c *Card) Warnings() []Warning {
	out := append([]Warning{}, c.Family.Warnings...)
	common := map[string]bool{}
	for _, w := range out {
		common[w.Code] = true
	}
	first := map[string]int{} // of a code in out
	rows := map[string][]string{}
	for _, row := range c.Rows {
		if row.Plan == nil {
			continue
		}
		for _, w := range row.Plan.Warnings {
			if common[w.Code] || w.Code == "extrapolated" { // which the rows themselves are marked with
				continue
			}
			if _, ok := first[w.Code]; !ok {
				first[w.Code] = len(out)
				out = append(out, w)
			}
			name := fmt.Sprintf("%g", row.Stops)
			if r := rows[w.Code]; len(r) == 0 || r[len(r)-1] != name {
				rows[w.Code] = append(r, name)
			}
		}
	}
	for code, i := range first {
		out[i].Message = fmt.Sprintf("for %s stops: %s", strings.Join(rows[code], ", "), out[i].Message)
	}
	return out
}
