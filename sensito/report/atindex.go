package report

import (
	"sensito/sensito/answers"
	"sensito/sensito/report/internal/page"
	"sensito/sensito/scene"
)

// atIndex says what an index that is given makes of the scene; nil where none is.
func (r *Scene) atIndex() any {
	a := r.answer.AtIndex
	if a == nil {
		return nil
	}
	var grade, rest any // null for a scan
	if a.Print != nil {
		grade, rest = a.Print.Name, a.Rest
	}
	return object{
		{"index", a.Index},
		{"exposed", a.Exposed},            // the film has been exposed at it
		{"keep", a.Keep},                  // metered, highlight or range
		{"kept_stops_from_meter", a.Tone}, // the lightest tone of a range
		{"kept_density", a.Density},       // net of the tone, or the range
		{"keep_others", objects(a.Others, func(o scene.KeptTime) object {
			var minutes any // null where no time keeps it that the strips tell
			if o.Minutes != 0 {
				minutes = o.Minutes
			}
			return object{{"keep", o.Keep}, {"minutes", minutes}}
		})},
		{"push_stops", quantity(&a.Push, r.level, unitStops)},              // over the index that the film has for the scene; negative for more exposure
		{"speed_point_stops", quantity(&a.SpeedPoint, r.level, unitStops)}, // from the metered tone
		{"scene_lost_stops", a.Lost},                                       // below the speed point
		{"scene_left_stops", r.answer.Scene.Stops - a.Lost},
		{"paper_log_range", a.PaperRange}, // that prints the negative
		{"print", grade},                  // the grade that comes nearest; null for a scan
		{"rest_log_range", rest},          // what that grade leaves over; null likewise
		{"normal", object{
			{"minutes", quantity(&a.Normal.Minutes, r.level, unitMinutes)},
			{"exposure_index", quantity(a.Normal.ExposureIndex, r.level, unitOne)},
			{"delivered_density_range", quantity(a.Normal.Delivered, r.level, unitOne)},
		}},
	}
}

// textAtIndex is Text where an index was given.
func (r *Scene) textAtIndex(w *writer) error {
	p := r.answer
	minutes := quantity(&p.Minutes, r.level, unitMinutes)
	w.Answer("%s%s.", developText(minutes, r.level, r.conditions, answers.Outside(p.Extrapolation)), answers.Index(p.AtIndex))
	r.writeEV(w)
	w.Answer("%s", answers.Shadows(p, r.level))
	if text := answers.PrintOn(p, r.ends, r.level); text != "" {
		w.Answer("%s", text)
	}
	w.Printf("\n")
	w.Lines(heading(p.Family.Trial))
	w.Paragraph("", "", answers.Kept(p))
	r.writeExposure(w)
	r.writeProcess(w)
	if w.Full {
		r.writeIndexDetails(w, minutes)
	}
	r.conditions.write(w)
	r.today.write(w, uncorrectedAnswer(p, r.level).answers("EI"))
	r.writeTones(w)
	if w.Full {
		r.writeParts(w)
		w.Printf("\n")
		w.Paragraph("", "", "Stops count from the metered tone, zone V. The speed point is where an even tone lands without flare; flare gives what is darker some density, but no detail.")
	}
	w.Closing(r.warnings)
	return w.Err
}

// writeIndexDetails is writeDetails where an index was given.
func (r *Scene) writeIndexDetails(w *writer, minutes *Quantity) {
	p := r.answer
	w.Printf("\n")
	rows := append([][]string{{"", "", page.Percent(r.level) + " interval"}}, r.conditions.rows(answerRows(minutes, nil, answers.Outside(p.Extrapolation)), asTested(p, r.level))...)
	rows = append(rows, []string{"  exposure index", page.Figures(float64(p.AtIndex.Index)), "as given"})
	stops := func(label string, q *Quantity) {
		rows = append(rows, []string{label, page.SignedFixed(q.Value, 1), page.SignedFixed(q.Low, 1) + " to " + page.SignedFixed(q.High, 1)})
	}
	stops("    over its own, stops", quantity(&p.AtIndex.Push, r.level, unitStops))
	stops("  speed point, stops", quantity(&p.AtIndex.SpeedPoint, r.level, unitStops))
	w.Table(append(rows, r.negativeRows("  average gradient")...))
}

// normalTones is a row of net densities.
func normalTones(label string, tones []scene.Tone) []string {
	row := []string{label}
	for _, t := range tones {
		if t.NetDensity == nil || !t.NetDensity.Known(DefaultConfidence) {
			row = append(row, "-")
			continue
		}
		row = append(row, page.Fixed(float64(t.NetDensity.Value), 2))
	}
	return row
}
