package sensito

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
