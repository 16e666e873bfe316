package parts

import (
	gplot "gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
)

// StopTicks marks an axis of density or log exposure at the multiples of 0.3, one
// stop, each divided in three. Those at multiples of Every stops are labelled; all
// have their line in a grid.
type StopTicks struct{ Every int }

const stopTick = 0.3

// NewStopTicks returns the ticks for an axis on which a unit is so long, as many of
// them labelled as stand clear of each other.
func NewStopTicks(unit vg.Length) StopTicks {
	room := TextWidth(BodySize, "-0.0") * 1.3
	every := 1
	for vg.Length(every)*stopTick*unit < room {
		every *= 2
	}
	return StopTicks{every}
}

// Ticks returns the ticks from lo to hi.
func (s StopTicks) Ticks(lo, hi float64) []gplot.Tick {
	const thirds = 3
	all := Steps{Major: stopTick, Every: thirds}.Ticks(lo, hi)
	labelled := map[string]bool{}
	for _, t := range (Steps{Major: stopTick * float64(s.Every), Every: 1}).Ticks(lo, hi) {
		labelled[Fixed(t.Value, 1)] = true
	}
	for i, t := range all {
		switch at := Fixed(t.Value, 1); {
		case t.Label == "":
		case labelled[at]:
			all[i].Label = at
		default:
			all[i].Label = " " // a major tick still
		}
	}
	return all
}
