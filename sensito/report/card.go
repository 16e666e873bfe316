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
	Schema       string      `json:"schema"`
	Trial        string      `json:"trial"`
	Aim          string      `json:"aim"`
	DensityRange *float64    `json:"density_range"` // of the negative; nil for a scan, where it differs by row
	Rows         []CardRow   `json:"rows"`
	Conditions   *Conditions `json:"conditions"` // null under those of the trial
	Today        *Today      `json:"today"`      // null without a control log

	Warnings sensito.Warnings `json:"warnings"`

	heading string
	dates   string
	zero    sensito.Zero
	scene   scene.Scene
	level   float64
}

// CardRow is one line of a pocket card; Reason says why there is no time.
type CardRow struct {
	N               float64   `json:"n"`
	SceneRangeStops float64   `json:"scene_range_stops"`
	Minutes         *Quantity `json:"minutes"`
	ExposureIndex   *Quantity `json:"exposure_index"`
	ContrastIndex   *Quantity `json:"contrast_index"`
	Delivered       *Quantity `json:"delivered_density_range"`
	Veil            *float64  `json:"veil"` // of flare, of the highlight luminance; null without a time
	Extrapolated    bool      `json:"extrapolated"`
	Reason          string    `json:"reason,omitempty"`

	AsTested    *Quantity    `json:"minutes_as_tested"` // null under the conditions of the trial
	Uncorrected *Uncorrected `json:"uncorrected"`       // null where nothing is corrected
}

// NewCard reports a pocket card, with intervals at the given level of
// confidence. Made is the date of the card; "" leaves it out.
func NewCard(c *scene.Card, level float64, made string) *Card {
	t := c.Family.Trial
	r := &Card{Schema: "sensito/card/1", Trial: t.Name(), Aim: c.Scene.AimText(), Rows: []CardRow{}, Warnings: c.Warnings(),
		heading: heading(t), dates: c.Dates(made), zero: t.Reading().Zero, scene: c.Scene, level: level}
	var more sensito.Warnings
	r.Conditions, r.Today, more = adjusted(c.Today, level)
	r.Warnings = join(r.Warnings, more)
	for _, row := range c.Rows {
		out := CardRow{N: row.N, SceneRangeStops: row.Stops, Reason: row.Reason}
		if p := row.Answer; p != nil {
			out.Minutes = quantity(&p.Minutes, level, unitMinutes)
			out.ExposureIndex = quantity(p.ExposureIndex, level, unitOne)
			out.ContrastIndex = quantity(p.ContrastIndex, level, unitOne)
			out.Delivered, out.Veil = quantity(p.Delivered, level, unitOne), &p.Veil
			out.Extrapolated = p.Extrapolated
			out.AsTested, out.Uncorrected = asTested(p, level), uncorrectedAnswer(p, level)
			if c.Scene.ScanMax == 0 {
				wanted := float64(p.DensityRange)
				r.DensityRange = &wanted
			}
		}
		r.Rows = append(r.Rows, out)
	}
	return r
}

// Text writes the card as a table by scene range.
func (r *Card) Text(out io.Writer, l Layout) error {
	w := &writer{page.NewWriter(out, l)}
	if text := r.answer(); text != "" {
		w.Answer("%s", text)
		w.Printf("\n")
	}
	w.Lines(r.heading)
	w.Paragraph("Aim: ", "  ", r.Aim+"; "+answers.Flare(r.scene.Flare))
	if r.zero == sensito.ZeroBase {
		w.Printf("The densitometer was set to zero on the film base.\n")
	}
	if r.dates != "" {
		w.Printf("%s\n", r.dates)
	}
	w.Printf("\n")
	rows := [][]string{{"", "stops", "develop", page.Percent(r.level) + " sure", "set EI"}}
	if l.Full {
		rows = [][]string{{"", "stops", "develop", "±, s", "EI", "setting", "contrast index", "delivers"}}
	}
	marked, open, endless := false, false, false
	for _, row := range r.Rows {
		cells := []string{page.DevelopmentName(row.N), strconv.FormatFloat(row.SceneRangeStops, 'f', -1, 64)}
		if row.Minutes == nil {
			rows = append(rows, append(cells, slices.Repeat([]string{"-"}, len(rows[0])-len(cells))...))
			continue
		}
		ei, set := "-", "-"
		if e := row.ExposureIndex; e != nil {
			ei, set = e.String(), page.Setting(e.Value)
		}
		time := clock(row.Minutes.Value, 5)
		if row.Extrapolated {
			time, marked = "* "+time, true
		}
		spread := (&Quantity{Value: 60 * row.Minutes.SD, SD: 60 * row.Minutes.SD}).value()
		switch {
		case row.Minutes.atLeast:
			spread, open = "open", true
		case math.IsInf(float64(row.Minutes.High), 1):
			spread, endless = "-", true
		}
		if l.Full {
			rows = append(rows, append(cells, time, spread, ei, set, row.ContrastIndex.String(), row.Delivered.String()))
		} else {
			rows = append(rows, append(cells, time, timeInterval(row.Minutes), set))
		}
	}
	w.Table(rows)
	r.Conditions.write(w)
	r.writeTested(w)
	r.Today.write(w, r.uncorrected())
	w.Printf("\n")
	if l.Full {
		w.Paragraph("", "", "Stops: the range of the scene; delivers: the density range of the negative; ± one standard deviation. "+answers.Placement(r.scene))
	} else {
		w.Paragraph("", "", "Stops: the range of the scene, from the darkest to the lightest tone that must keep detail; set EI: what to set on the meter.")
	}
	if marked {
		as := ""
		if r.Conditions != nil || r.Today != nil && r.Today.Corrected {
			as = "as tested "
		}
		w.Printf("* %soutside the tested times: test a strip there before relying on it.\n", as)
	}
	if endless && l.Full {
		w.Printf("Without ±: the strips set that time no upper limit.\n")
	}
	if open {
		w.Printf("Open: so long or longer; what the paper needs is not known.\n")
	}
	for _, row := range r.Rows {
		if row.Reason != "" {
			w.Paragraph("- ", "  ", page.DevelopmentName(row.N)+": "+row.Reason)
		}
	}
	w.Closing(r.Warnings)
	return w.Err
}

// answer tells the times of N, N-1 and N+1, "" where there is none.
func (r *Card) answer() string {
	var told []string
	for _, n := range []float64{0, -1, 1} {
		for _, row := range r.Rows {
			if row.N != n || row.Minutes == nil {
				continue
			}
			text := page.DevelopmentName(n) + " " + clock(row.Minutes.Value, 5)
			if row.Minutes.atLeast {
				text += " or longer"
			}
			if e := row.ExposureIndex; e != nil {
				text += " at EI " + page.Setting(e.Value)
			}
			told = append(told, text)
		}
	}
	if len(told) == 0 {
		return ""
	}
	if place := r.Conditions.place(); place != "" {
		return "Develop " + place + ": " + strings.Join(told, ", ") + "."
	}
	return "Develop " + strings.Join(told, ", ") + "."
}

// writeTested writes the times of the rows under the conditions of the trial.
func (r *Card) writeTested(w *writer) {
	var parts []string
	for _, row := range r.Rows {
		if row.AsTested != nil {
			parts = append(parts, page.DevelopmentName(row.N)+" "+clock(row.AsTested.Value, 5))
		}
	}
	if len(parts) > 0 {
		w.Paragraph("", "", "As tested: "+strings.Join(parts, ", ")+".")
	}
}

// uncorrected returns the times and indices of the rows by the trial itself.
func (r *Card) uncorrected() string {
	var parts []string
	for _, row := range r.Rows {
		if u := row.Uncorrected; u != nil && u.Minutes != nil {
			text := page.DevelopmentName(row.N) + " " + clock(u.Minutes.Value, 5)
			if u.Speed != nil {
				text += " at EI " + u.Speed.value()
			}
			parts = append(parts, text)
		}
	}
	return strings.Join(parts, "; ")
}
