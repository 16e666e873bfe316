package report

import (
	"fmt"
	"io"
	"math"
	"slices"

	"sensito/sensito"
	"sensito/sensito/answers"
	"sensito/sensito/report/internal/page"
	"sensito/sensito/scene"
)

// Temperatures is the report of the times of a card over temperature.
type Temperatures struct {
	Schema    string           `json:"schema"`
	Trial     string           `json:"trial"`
	Aim       string           `json:"aim"`
	TrialC    float64          `json:"trial_temperature_c"`
	Q10       *Quantity        `json:"q10"`
	Q10Source string           `json:"q10_source"`
	Agitation string           `json:"agitation"` // "" where it is the trial's
	Dilution  string           `json:"dilution"`
	Today     *Today           `json:"today"` // null without a control log
	Rows      []TemperatureRow `json:"rows"`

	Warnings sensito.Warnings `json:"warnings"`

	heading string
	table   *scene.TemperatureTable
	level   float64
}

// TemperatureRow holds the times at one temperature.
type TemperatureRow struct {
	TemperatureC float64           `json:"temperature_c"`
	Times        []TemperatureTime `json:"times"`
}

// TemperatureTime is the time for one scene range; null where none can serve.
type TemperatureTime struct {
	N               float64   `json:"n"`
	SceneRangeStops float64   `json:"scene_range_stops"`
	Minutes         *Quantity `json:"minutes"`
	Short           bool      `json:"short"` // under 5 minutes, easily uneven
}

// NewTemperatures reports times over temperature, with intervals at the given
// level of confidence.
func NewTemperatures(t *scene.TemperatureTable, level float64) *Temperatures {
	trial := t.Card.Family.Trial
	r := &Temperatures{Schema: "sensito/temperatures/1", Trial: trial.Name(), Aim: t.Card.Scene.AimText(), TrialC: trial.Process().TemperatureC,
		Q10: quantity(&t.Coefficient.Q10, level, unitOne), Q10Source: t.Coefficient.Source,
		Agitation: string(t.Card.Scene.Today.Conditions.Agitation), Dilution: t.Card.Scene.Today.Conditions.Dilution,
		Rows: []TemperatureRow{}, Warnings: t.Warnings, heading: heading(trial), table: t, level: level}
	var more sensito.Warnings
	_, r.Today, more = adjusted(t.Card.Today, level)
	r.Warnings = join(r.Warnings, more)
	for i, c := range t.Celsius {
		row := TemperatureRow{TemperatureC: c, Times: []TemperatureTime{}}
		for j, e := range t.Minutes[i] {
			row.Times = append(row.Times, TemperatureTime{N: t.Card.Rows[j].N, SceneRangeStops: t.Card.Rows[j].Stops,
				Minutes: quantity(e, level, unitMinutes), Short: t.Short(e)})
		}
		r.Rows = append(r.Rows, row)
	}
	return r
}

// Text writes the table by temperature and N.
func (r *Temperatures) Text(out io.Writer, l Layout) error {
	w := &writer{page.NewWriter(out, l)}
	w.Lines(r.heading)
	w.Paragraph("Aim: ", "  ", r.Aim+"; "+answers.Flare(r.table.Card.Scene.Flare))
	w.Paragraph("", "", fmt.Sprintf("Temperature: the rate at 30 °C is %s times that at 20 (%s).", r.Q10, r.Q10Source))
	if r.Dilution != "" {
		w.Printf("Diluted %s.\n", r.Dilution)
	}
	if r.Agitation != "" {
		w.Printf("Agitation: %s.\n", r.Agitation)
	}
	r.Today.write(w, "")
	w.Printf("\n")
	const normal = 0
	head := []string{"°C"}
	for _, row := range r.table.Card.Rows {
		head = append(head, page.DevelopmentName(row.N))
	}
	rows := [][]string{append(head, "± at N")}
	short, extrapolated := false, false
	for _, row := range r.Rows {
		cells := []string{page.Trimmed(row.TemperatureC, 1)}
		if r.table.Tested(row.TemperatureC) {
			cells[0] += " tested"
		}
		sd := ""
		for j, t := range row.Times {
			cell := "-"
			if m := t.Minutes; m != nil {
				cell = clock(m.Value, 5)
				short = short || t.Short
				if t.Short {
					cell += "!"
				}
				if t.N == normal {
					sd = clock(math.Max(m.SD, 1.0/60), 1)
				}
				if r.table.Card.Rows[j].Answer.Extrapolated {
					cell += "*"
					extrapolated = true
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
	if extrapolated {
		w.Printf("* as tested outside the tested times: test a strip there before relying on it.\n")
	}
	for _, row := range r.table.Card.Rows {
		if row.Reason != "" {
			w.Paragraph("- ", "  ", page.DevelopmentName(row.N)+": "+row.Reason)
		}
	}
	w.Warnings(slices.Clone(r.Warnings))
	w.Printf("\n")
	w.Lines(page.StartingPoint)
	return w.Err
}
