package screen

import (
	"fmt"
	"strings"

	"sensito/sensito/answers"
	"sensito/sensito/printable"
	"sensito/sensito/scene"
)

// RollTitle is that of the page of a roll.
func RollTitle(r *scene.Roll) string { return "A roll of " + counted(len(r.Frames), "scene") }

// roll takes what one time gives the scenes of a roll.
func (s *Scene) roll(a SceneAsked) {
	r := a.Roll
	s.Lead = sceneLead(a.Links.Trial, r.Family.Trial, r.Scene)
	s.Figures = []Figure{timeFigureAt("develop", &r.Minutes, a.Level)}
	if r.ExposureIndex != nil {
		s.Figures = append(s.Figures, indexFigureAt("set the meter to", r.ExposureIndex, a.Level))
	}
	s.Says = []string{printable.Text(a.Words.Worst)}
	var text []string
	if was := r.AsTested; was != nil {
		text = append(text, fmt.Sprintf("As tested, it would be %s (%s).", clock(was.Minutes.Value), intervalAt(&was.Minutes, a.Level, clock)))
	}
	if was := r.Uncorrected; was != nil {
		text = append(text, fmt.Sprintf("Without the correction it would be %s.", clock(was.Minutes.Value)))
	}
	if outside := answers.Outside(r.Extrapolation); outside != "" {
		text = append(text, "The time lies "+outside+": test a strip there before relying on it.")
	}
	if len(text) > 0 {
		s.Says = append(s.Says, strings.Join(text, " "))
	}
	s.actions(a.Links)
	s.note("Today.", a.Words.Conditions)
	s.note("The process.", a.Words.Process)
	s.Table = frames(r)
	s.OfTones = []Note{{About: "±", Text: say("is one standard deviation.")}, {About: "Placement.", Text: say(a.Words.Placement)}}
}

// frames is the table of the frames of a roll.
func frames(r *scene.Roll) *Table {
	scan := r.Scene.ScanMax != 0
	metered := false
	for _, f := range r.Frames {
		metered = metered || f.EV != nil
	}
	t := &Table{Name: "Table of frames", Fives: true, Heads: []Head{{Text: "Scene", Left: true}, {Text: "Stops"}, {Text: "Density range"}}}
	if scan {
		t.Heads = append(t.Heads, Head{Text: "Below the aim"})
	} else {
		t.Heads = append(t.Heads, Head{Text: "Print on", Left: true}, Head{Text: "Left over"})
	}
	if metered {
		t.Heads = append(t.Heads, Head{Text: "EV to set"})
	}
	for _, f := range r.Frames {
		row := Row{Head: Cell{Text: printable.Text(f.Name)}, Cells: []Cell{{Text: plain(f.Stops)}, cell(&f.DensityRange, 3)}}
		if scan {
			row.Cells = append(row.Cells, figure(-float64(f.Mismatch), 2))
		} else {
			rest := Cell{Text: signedFixed(float64(f.Rest), 2)}
			if !f.Fits {
				rest.Hidden, rest.Text = "outside the paper, ", rest.Text+"!"
			}
			row.Cells = append(row.Cells, Cell{Text: printable.Text(f.Print.Name), Left: true}, rest)
		}
		if metered {
			ev := none("no spot readings")
			if f.EV != nil {
				ev = figure(float64(*f.EV), 1)
			}
			row.Cells = append(row.Cells, ev)
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

// signedFixed is fixed with a plus where it is above 0.
func signedFixed(v float64, places int) string {
	text := fixed(v, places)
	if v > 0 && strings.ContainsAny(text, "123456789") {
		return "+" + text
	}
	return text
}
