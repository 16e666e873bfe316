package report

import (
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

	"sensito/sensito"
	"sensito/sensito/answers"
	"sensito/sensito/report/internal/page"
	"sensito/sensito/scene"
)

// Card is the report of a pocket card.
type Card struct {
	told
	card *scene.Card
	made string // date of the card; "" leaves it out
}

// NewCard reports a pocket card, with intervals at the given level of
// confidence. Made is the date of the card; "" leaves it out.
func NewCard(c *scene.Card, level float64, made string) *Card {
	return &Card{tell(c.Today, level, c.Warnings()), c, made}
}

// MarshalJSON writes all that is known of the rows.
func (r *Card) MarshalJSON() ([]byte, error) {
	var wanted any // null for a scan, where it differs by row
	for _, row := range r.card.Rows {
		if row.Answer != nil && r.card.Scene.ScanMax == 0 {
			wanted = row.Answer.DensityRange
		}
	}
	return object{
		{"schema", "sensito/card/1"},
		{"trial", r.card.Family.Trial.Name()},
		{"aim", r.card.Scene.AimText()},
		{"density_range", wanted}, // of the negative
		{"rows", objects(r.card.Rows, r.row)},
		{"conditions", r.conditions}, // null under those of the trial
		{"today", r.today},           // null without a control log
		{"warnings", r.warnings},
	}.MarshalJSON()
}

// row is one line; reason says why there is no time.
func (r *Card) row(row scene.CardRow) object {
	p, veil := row.Answer, any(nil)
	if p == nil {
		p = &scene.Answer{}
	} else {
		veil = p.Veil
	}
	out := object{
		{"n", row.N},
		{"scene_range_stops", row.Stops},
		{"minutes", r.minutes(row)},
		{"exposure_index", quantity(p.ExposureIndex, r.level, unitOne)},
		{"contrast_index", quantity(p.ContrastIndex, r.level, unitOne)},
		{"delivered_density_range", quantity(p.Delivered, r.level, unitOne)},
		{"veil", veil}, // of flare, of the highlight luminance; null without a time
		{"extrapolated", p.Extrapolated},
	}
	if row.Reason != "" {
		out = append(out, member{"reason", row.Reason})
	}
	return append(out,
		member{"minutes_as_tested", asTested(p, r.level)},    // null under the conditions of the trial
		member{"uncorrected", uncorrectedAnswer(p, r.level)}) // null where nothing is corrected
}

// minutes returns the time of a row, nil where there is none.
func (r *Card) minutes(row scene.CardRow) *Quantity {
	if row.Answer == nil {
		return nil
	}
	return quantity(&row.Answer.Minutes, r.level, unitMinutes)
}

// Text writes the card as a table by scene range.
func (r *Card) Text(out io.Writer, l Layout) error {
	w := &writer{page.NewWriter(out, l)}
	if text := r.answer(); text != "" {
		w.Answer("%s", text)
		w.Printf("\n")
	}
	t := r.card.Family.Trial
	w.Lines(heading(t))
	w.Paragraph("Aim: ", "  ", r.card.Scene.AimText()+"; "+answers.Flare(r.card.Scene.Flare))
	if t.Reading().Zero == sensito.ZeroBase {
		w.Printf("The densitometer was set to zero on the film base.\n")
	}
	if dates := r.card.Dates(r.made); dates != "" {
		w.Printf("%s\n", dates)
	}
	w.Printf("\n")
	rows := [][]string{{"", "stops", "develop", page.Percent(r.level) + " sure", "set EI"}}
	if l.Full {
		rows = [][]string{{"", "stops", "develop", "±, s", "EI", "setting", "contrast index", "delivers"}}
	}
	open, endless := false, false
	for _, row := range r.card.Rows {
		cells := []string{page.DevelopmentName(row.N), strconv.FormatFloat(row.Stops, 'f', -1, 64)}
		m, p := r.minutes(row), row.Answer
		if m == nil {
			rows = append(rows, append(cells, slices.Repeat([]string{"-"}, len(rows[0])-len(cells))...))
			continue
		}
		ei, set := "-", "-"
		if e := quantity(p.ExposureIndex, r.level, unitOne); e != nil {
			ei, set = e.String(), page.Setting(e.Value)
		}
		time := clock(m.Value, 5)
		if p.Extrapolated {
			time = "* " + time
		}
		spread := (&Quantity{Value: 60 * m.SD, SD: 60 * m.SD}).value()
		switch {
		case m.atLeast:
			spread, open = "open", true
		case math.IsInf(m.High, 1):
			spread, endless = "-", true
		}
		if l.Full {
			rows = append(rows, append(cells, time, spread, ei, set, withError(p.ContrastIndex, r.level), withError(p.Delivered, r.level)))
		} else {
			rows = append(rows, append(cells, time, timeInterval(m), set))
		}
	}
	w.Table(rows)
	r.conditions.write(w)
	r.writeTested(w)
	r.today.write(w, r.uncorrected())
	w.Printf("\n")
	if l.Full {
		w.Paragraph("", "", "Stops: the range of the scene; delivers: the density range of the negative; ± one standard deviation. "+answers.Placement(r.card.Scene))
	} else {
		w.Paragraph("", "", "Stops: the range of the scene, from the darkest to the lightest tone that must keep detail; set EI: what to set on the meter.")
	}
	if outside := answers.OutsideOnCard(r.card); outside != "" {
		as := ""
		if r.adjusts() {
			as = "as tested "
		}
		w.Paragraph("* ", "  ", as+outside+": test a strip there before relying on it.")
	}
	if endless && l.Full {
		w.Printf("Without ±: the strips set that time no upper limit.\n")
	}
	if open {
		w.Printf("Open: so long or longer; what the paper needs is not known.\n")
	}
	for _, row := range r.card.Rows {
		if row.Reason != "" {
			w.Paragraph("- ", "  ", page.DevelopmentName(row.N)+": "+row.Reason)
		}
	}
	w.Closing(r.warnings)
	return w.Err
}

// answer tells the times of N, N-1 and N+1, "" where there is none.
func (r *Card) answer() string {
	var told []string
	for _, n := range []float64{0, -1, 1} {
		for _, row := range r.card.Rows {
			m := r.minutes(row)
			if row.N != n || m == nil {
				continue
			}
			text := page.DevelopmentName(n) + " " + clock(m.Value, 5)
			if m.atLeast {
				text += " or longer"
			}
			if e := quantity(row.Answer.ExposureIndex, r.level, unitOne); e != nil {
				text += " at EI " + page.Setting(e.Value)
			}
			told = append(told, text)
		}
	}
	if len(told) == 0 {
		return ""
	}
	if place := r.conditions.place(); place != "" {
		return "Develop " + place + ": " + strings.Join(told, ", ") + "."
	}
	return "Develop " + strings.Join(told, ", ") + "."
}

// writeTested writes the times of the rows under the conditions of the trial.
func (r *Card) writeTested(w *writer) {
	var parts []string
	for _, row := range r.card.Rows {
		if m := asTested(row.Answer, r.level); m != nil {
			parts = append(parts, page.DevelopmentName(row.N)+" "+clock(m.Value, 5))
		}
	}
	if len(parts) > 0 {
		w.Paragraph("", "", "As tested: "+strings.Join(parts, ", ")+".")
	}
}

// uncorrected returns the times and indices of the rows by the trial itself.
func (r *Card) uncorrected() string {
	var parts []string
	for _, row := range r.card.Rows {
		if u := uncorrectedAnswer(row.Answer, r.level); u != nil && u.minutes != nil {
			text := page.DevelopmentName(row.N) + " " + clock(u.minutes.Value, 5)
			if u.speed != nil {
				text += " at EI " + u.speed.value()
			}
			parts = append(parts, text)
		}
	}
	return strings.Join(parts, "; ")
}
