package report

import (
	"fmt"
	"strings"

	"sensito/sensito/development"
	"sensito/sensito/report/internal/page"
)

// Conditions are those that times are told for where they are not the trial's.
// What is as in the trial is null.
type Conditions struct {
	TemperatureC *float64    `json:"temperature_c"`
	EndsAtC      *float64    `json:"ends_at_c"` // null where the temperature stays
	SteadyC      *float64    `json:"steady_c"`  // the steady temperature that takes as long
	Q10          *Quantity   `json:"q10"`
	Q10Source    *string     `json:"q10_source"`
	Agitation    *TimeFactor `json:"agitation"`
	Dilution     *TimeFactor `json:"dilution"`
	Factor       *Quantity   `json:"time_factor"` // in all

	change *development.Change
}

// TimeFactor is how many times longer development takes under one condition.
type TimeFactor struct {
	Condition string    `json:"condition"`
	InPlaceOf string    `json:"in_place_of"`
	Factor    *Quantity `json:"factor"`
	Measured  bool      `json:"measured"` // by strips of the trial
	Source    string    `json:"source"`
}

func newConditions(ch *development.Change, level float64) *Conditions {
	c := &Conditions{Agitation: newTimeFactor(ch.Agitation, level), Dilution: newTimeFactor(ch.Dilution, level),
		Factor: quantity(&ch.Factor, level, unitOne), TemperatureC: ch.Conditions.TemperatureC, EndsAtC: ch.Conditions.EndC, change: ch}
	if k := ch.Coefficient; k != nil {
		c.Q10, c.Q10Source, c.SteadyC = quantity(&k.Q10, level, unitOne), &k.Source, &ch.SteadyC
	}
	return c
}

func newTimeFactor(t *development.TimeFactor, level float64) *TimeFactor {
	if t == nil {
		return nil
	}
	return &TimeFactor{Condition: t.Condition, InPlaceOf: t.Was, Factor: quantity(&t.Factor, level, unitOne), Measured: t.Measured, Source: t.Source}
}

// degrees returns a temperature in words.
func degrees(c float64) string { return page.Trimmed(c, 1) + " °C" }

// bothDegrees returns a temperature in words, in Fahrenheit too.
func bothDegrees(c float64) string {
	return degrees(c) + " (" + page.Trimmed(1.8*c+32, 1) + " °F)"
}

// place names the conditions in a few words, "" for nil.
func (c *Conditions) place() string {
	if c == nil {
		return ""
	}
	var parts []string
	if t := c.TemperatureC; t != nil {
		text := "at " + bothDegrees(*t)
		if e := c.EndsAtC; e != nil && *e != *t {
			text += " drifting to " + bothDegrees(*e)
		}
		parts = append(parts, text)
	}
	if f := c.Dilution; f != nil {
		parts = append(parts, "diluted "+f.Condition)
	}
	if f := c.Agitation; f != nil {
		parts = append(parts, "with "+f.Condition)
	}
	if len(parts) == 0 {
		return "under the conditions of the trial"
	}
	return strings.Join(parts, ", ")
}

// tested names what of the trial's conditions is otherwise.
func (c *Conditions) tested() string {
	var parts []string
	p := c.change.Family.Trial.Process()
	if c.TemperatureC != nil {
		parts = append(parts, "at "+degrees(p.TemperatureC))
	}
	if c.Dilution != nil {
		parts = append(parts, "diluted "+c.Dilution.InPlaceOf)
	}
	if c.Agitation != nil {
		parts = append(parts, "with "+c.Agitation.InPlaceOf)
	}
	return strings.Join(parts, ", ")
}

// rows puts the time as tested under that of an answer.
func (c *Conditions) rows(rows [][]string, asTested *Quantity) [][]string {
	if c == nil || asTested == nil || len(rows) == 0 {
		return rows
	}
	row := answerRows(asTested, nil, false)[0]
	row[0] = "    as tested"
	return append([][]string{rows[0], row}, rows[1:]...)
}

// answerRows are the rows of a development time and an exposure index.
func answerRows(minutes, index *Quantity, extrapolated bool) [][]string {
	var rows [][]string
	if m := minutes; m != nil {
		interval := timeInterval(m)
		if extrapolated {
			interval += "  outside the tested times"
		}
		rows = append(rows, []string{"  develop, min:s", clock(m.Value, 5), interval})
	}
	if e := index; e != nil {
		rows = append(rows,
			[]string{"  set the meter to EI", page.Figures(e.Value), page.Figures(float64(e.Low)) + " to " + page.Figures(float64(e.High))},
			[]string{"    nearest setting", page.Setting(e.Value), ""})
	}
	return rows
}

// write tells what the conditions do to the time. Nil writes nothing.
func (c *Conditions) write(w *writer) { c.writeOf(w, "") }

// writeOf is write for one of several trials, which begins with its label.
func (c *Conditions) writeOf(w *writer, label string) {
	if c == nil {
		return
	}
	w.Printf("\n")
	w.Paragraph("", "", label+c.text())
}

// text says under which conditions the time holds, and how that was found.
func (c *Conditions) text() string {
	text := "The time is for development " + c.place()
	if t := c.tested(); t != "" {
		text += "; the trial was developed " + t
	}
	text += ". "
	if f := c.Factor; f != nil && f.SD > 0 {
		text += fmt.Sprintf("It takes %s times as long.", f)
	}
	if q := c.Q10; q != nil {
		text += fmt.Sprintf(" Temperature: the rate at 30 °C is %s times that at 20 (%s)", q, *c.Q10Source)
		if c.EndsAtC != nil && *c.EndsAtC != *c.TemperatureC {
			text += fmt.Sprintf("; the drift does the same as a steady %s", degrees(*c.SteadyC))
		}
		text += "."
	}
	for _, f := range []*TimeFactor{c.Dilution, c.Agitation} {
		if f != nil {
			text += fmt.Sprintf(" %s in place of %s: %s times as long (%s).", capital(f.Condition), f.InPlaceOf, f.Factor, f.Source)
		}
	}
	return text
}

func capital(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

// TemperatureLaw is how the rate of development follows the temperature.
type TemperatureLaw struct {
	Q10              *Quantity `json:"q10"` // rate at 30 over that at 20 degrees Celsius
	ActivationEnergy *Quantity `json:"activation_energy_kj_per_mol"`
	TemperaturesC    []float64 `json:"temperatures_c"`
}

const unitEnergy = "kJ/mol"

func newTemperatureLaw(l *development.TemperatureLaw, level float64) *TemperatureLaw {
	if l == nil {
		return nil
	}
	return &TemperatureLaw{Q10: quantity(&l.Q10, level, unitOne), ActivationEnergy: quantity(&l.ActivationEnergy, level, unitEnergy), TemperaturesC: l.Temperatures}
}
