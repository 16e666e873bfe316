package report

import (
	"fmt"
	"io"
	"math"

	"sensito/sensito/answers"
	"sensito/sensito/report/internal/page"
	"sensito/sensito/scene"
)

// Temperatures is the report of the times of a card over temperature.
type Temperatures struct {
	told
	table *scene.TemperatureTable
}

// NewTemperatures reports times over temperature, with intervals at the given
// level of confidence.
func NewTemperatures(t *scene.TemperatureTable, level float64) *Temperatures {
	return &Temperatures{tell(t.Card.Today, level, t.Warnings), t}
}

// MarshalJSON writes all that is known of the times.
func (r *Temperatures) MarshalJSON() ([]byte, error) {
	t, trial := r.table, r.table.Card.Family.Trial
	under := t.Card.Scene.Today.Conditions
	rows := []object{}
	for i, c := range t.Celsius {
		times := []object{}
		for j, m := range t.Minutes[i] {
			times = append(times, object{
				{"n", t.Card.Rows[j].N},
				{"scene_range_stops", t.Card.Rows[j].Stops},
				{"minutes", quantity(m, r.level, unitMinutes)}, // null where none can serve
				{"short", t.Short(m)},                          // under 5 minutes, easily uneven
			})
		}
		rows = append(rows, object{{"temperature_c", c}, {"times", times}})
	}
	return object{
		{"schema", "sensito/temperatures/1"},
		{"trial", trial.Name()},
		{"aim", t.Card.Scene.AimText()},
		{"trial_temperature_c", trial.Process().TemperatureC},
		{"q10", quantity(&t.Coefficient.Q10, r.level, unitOne)},
		{"q10_source", t.Coefficient.Source},
		{"agitation", under.Agitation}, // "" where it is the trial's
		{"dilution", under.Dilution},
		{"today", r.today}, // null without a control log
		{"rows", rows},
		{"warnings", r.warnings},
	}.MarshalJSON()
}

// Text writes the table by temperature and N.
func (r *Temperatures) Text(out io.Writer, l Layout) error {
	w := &writer{page.NewWriter(out, l)}
	card := r.table.Card
	w.Lines(heading(card.Family.Trial))
	w.Paragraph("Aim: ", "  ", card.Scene.AimText()+"; "+answers.Flare(card.Scene.Flare))
	w.Paragraph("", "", fmt.Sprintf("Temperature: the rate at 30 °C is %s times that at 20 (%s).", withError(&r.table.Coefficient.Q10, r.level), r.table.Coefficient.Source))
	under := card.Scene.Today.Conditions
	if under.Dilution != "" {
		w.Printf("Diluted %s.\n", under.Dilution)
	}
	if under.Agitation != "" {
		w.Printf("Agitation: %s.\n", under.Agitation)
	}
	r.today.write(w, "")
	w.Printf("\n")
	const normal = 0
	head := []string{"°C"}
	for _, row := range card.Rows {
		head = append(head, page.DevelopmentName(row.N))
	}
	rows := [][]string{append(head, "± at N")}
	short := false
	for i, c := range r.table.Celsius {
		cells := []string{page.Trimmed(c, 1)}
		if r.table.Tested(c) {
			cells[0] += " tested"
		}
		sd := ""
		for j, e := range r.table.Minutes[i] {
			cell := "-"
			if m := quantity(e, r.level, unitMinutes); m != nil {
				cell = clock(m.Value, 5)
				if r.table.Short(e) {
					cell += "!"
					short = true
				}
				if card.Rows[j].N == normal {
					sd = clock(math.Max(m.SD, 1.0/60), 1)
				}
				if card.Rows[j].Answer.Extrapolated {
					cell += "*"
				}
			}
			cells = append(cells, cell)
		}
		rows = append(rows, append(cells, sd))
	}
	w.Table(rows)
	w.Printf("\nTimes in min:s; ± one standard deviation, that of the coefficient included.\n")
	if short {
		w.Printf("! under 5 minutes: development is easily uneven (common practice, no source).\n")
	}
	if outside := answers.OutsideOnCard(card); outside != "" {
		w.Paragraph("* ", "  ", "as tested "+outside+": test a strip there before relying on it.")
	}
	for _, row := range card.Rows {
		if row.Reason != "" {
			w.Paragraph("- ", "  ", page.DevelopmentName(row.N)+": "+row.Reason)
		}
	}
	w.Warnings(r.warnings)
	w.Printf("\n")
	w.Lines(page.StartingPoint)
	return w.Err
}
