package scene

import (
	"fmt"
	"strings"

	"sensito/sensito"
	"sensito/sensito/camera"
	"sensito/sensito/development"
)

// Card is a pocket card: what to set and how long to develop for scenes from a
// long range (N-2) to a short one (N+2), in half steps.
type Card struct {
	Family *development.Family
	Scene  Scene // aim, flare and placement common to all rows; Stops unused
	Rows   []CardRow
	Today  *Adjustment // of all rows; nil for as in the trial
}

// ShortestOnCard is the shortest scene of a card, in stops: an aim that can be
// checked for it can be checked for every row.
const ShortestOnCard = camera.NormalStops - 2

// CardRow is one line of a pocket card. Answer, without its tones, is nil where no
// time can serve, and Reason says why.
type CardRow struct {
	N, Stops float64 // range of the scene: N+1 is a stop less than normal
	Answer   *Answer
	Reason   string
}

// NewCard returns the pocket card for an aim, with times and indices of its Today.
// The error is for an aim outside its limits, or Unanswerable when no row has a
// time or today cannot be told.
func NewCard(f *development.Family, aim Scene) (*Card, error) {
	c := &Card{Family: f, Scene: aim.WithDefaults()}
	var last error
	served := false
	for twice := -4; twice <= 4; twice++ {
		n := float64(twice) / 2
		row := CardRow{N: n, Stops: camera.NormalStops - n}
		s := aim
		s.Stops = row.Stops
		if err := s.Check(); err != nil {
			return nil, err
		}
		p, err := asTested(f, s, nil)
		if err != nil {
			row.Reason = err.Error()
			if last == nil || n <= 0 { // that of a normal scene, where all fail
				last = err
			}
		} else {
			row.Answer, served = p, true
		}
		c.Rows = append(c.Rows, row)
	}
	if !served {
		return nil, last
	}
	var err error
	if c.Today, err = aim.Today.For(f); err != nil {
		return nil, err
	}
	for i := range c.Rows {
		row := &c.Rows[i]
		if row.Answer == nil {
			continue
		}
		if row.Answer, err = c.Today.Adjust(row.Answer); err != nil {
			return nil, err
		}
	}
	return c, nil
}

// Developed returns the first and the last date on which strips of the card
// were developed, of those that say so; "" when none does.
func (c *Card) Developed() (from, to string) {
	for _, m := range c.Family.Strips {
		d := m.Strip.Date()
		if d == "" {
			continue
		}
		if from == "" || d < from { // dates of this form sort as text
			from = d
		}
		to = max(to, d)
	}
	return from, to
}

// Dates returns in words when the card was made and when its strips were
// developed; "" for made leaves the former out.
func (c *Card) Dates(made string) string {
	var parts []string
	if made != "" {
		parts = append(parts, "made "+made)
	}
	switch from, to := c.Developed(); {
	case from == "":
	case from == to:
		parts = append(parts, "strips developed "+from)
	default:
		parts = append(parts, "strips developed "+from+" to "+to)
	}
	return strings.Join(parts, "; ")
}

// Warnings returns the warnings of the rows, each kind once with the rows it
// holds for, after those that hold for all; last are those of other conditions
// than the trial's, which hold for all as well.
func (c *Card) Warnings() sensito.Warnings {
	out := append(append(sensito.Warnings{}, c.Family.Warnings...), c.Scene.AimWarnings()...)
	common := map[string]bool{}
	for _, w := range out {
		common[w.Code] = true
	}
	var changed sensito.Warnings
	if ch := c.Today.Under(); ch != nil {
		changed = ch.Warnings
	}
	for _, w := range changed {
		common[w.Code] = true
	}
	first := map[string]int{} // of a kind in out
	rows := map[string][]string{}
	for _, row := range c.Rows {
		if row.Answer == nil {
			continue
		}
		for _, w := range row.Answer.Warnings {
			if common[w.Code] || w.Code == "extrapolated" { // which the rows themselves are marked with
				continue
			}
			kind := w.Code
			if kind == "other_paper" { // advice that differs by row
				kind += w.Message()
			}
			if _, ok := first[kind]; !ok {
				first[kind] = len(out)
				out = append(out, w)
			}
			if w.Code == "longer_time" && len(rows[kind]) > 0 {
				continue // told for the shortest, the longest scene
			}
			name := fmt.Sprintf("%g", row.Stops)
			if r := rows[kind]; len(r) == 0 || r[len(r)-1] != name {
				rows[kind] = append(r, name)
			}
		}
	}
	for kind, i := range first {
		out[i] = out[i].Within(fmt.Sprintf("for %s stops", strings.Join(rows[kind], ", ")))
	}
	return append(out, changed...)
}
