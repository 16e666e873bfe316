package report

import (
	"fmt"
	"strings"

	"sensito/sensito/development"
	"sensito/sensito/report/internal/page"
)

// Conditions are those that times are told for where they are not the trial's; nil
// for those of the trial.
type Conditions struct {
	change *development.Change
	level  float64
}

// AppendJSON appends what is otherwise than in the trial. What is as there is null.
func (c *Conditions) AppendJSON(out []byte) ([]byte, error) {
	if c == nil {
		return object(nil).AppendJSON(out)
	}
	ch := c.change
	var steady, q10, source any
	if k := ch.Coefficient; k != nil {
		steady, q10, source = ch.SteadyC, quantity(&k.Q10, c.level, unitOne), k.Source
	}
	return object{
		{"temperature_c", ch.Conditions.TemperatureC},
		{"ends_at_c", ch.Conditions.EndC}, // null where the temperature stays
		{"steady_c", steady},              // the steady temperature that takes as long
		{"q10", q10},
		{"q10_source", source},
		{"agitation", timeFactor(ch.Agitation, c.level)},
		{"dilution", timeFactor(ch.Dilution, c.level)},
		{"time_factor", quantity(&ch.Factor, c.level, unitOne)}, // in all
	}.AppendJSON(out)
}

// timeFactor is how many times longer development takes under one condition.
func timeFactor(t *development.TimeFactor, level float64) object {
	if t == nil {
		return nil
	}
	return object{
		{"condition", t.Condition},
		{"in_place_of", t.Was},
		{"factor", quantity(&t.Factor, level, unitOne)},
		{"measured", t.Measured}, // by strips of the trial
		{"source", t.Source},
	}
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
	under := c.change.Conditions
	var parts []string
	if t := under.TemperatureC; t != nil {
		text := "at " + bothDegrees(*t)
		if e := under.EndC; e != nil && *e != *t {
			text += " drifting to " + bothDegrees(*e)
		}
		parts = append(parts, text)
	}
	if f := c.change.Dilution; f != nil {
		parts = append(parts, "diluted "+f.Condition)
	}
	if f := c.change.Agitation; f != nil {
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
	if c.change.Conditions.TemperatureC != nil {
		parts = append(parts, "at "+degrees(p.TemperatureC))
	}
	if f := c.change.Dilution; f != nil {
		parts = append(parts, "diluted "+f.Was)
	}
	if f := c.change.Agitation; f != nil {
		parts = append(parts, "with "+f.Was)
	}
	return strings.Join(parts, ", ")
}

// rows puts the time as tested under that of an answer.
func (c *Conditions) rows(rows [][]string, asTested *Quantity) [][]string {
	if c == nil || asTested == nil || len(rows) == 0 {
		return rows
	}
	row := answerRows(asTested, nil, "")[0]
	row[0] = "    as tested"
	return append([][]string{rows[0], row}, rows[1:]...)
}

// besideInterval is what a time lies outside of, in a cell beside its interval.
func besideInterval(outside string) string {
	if len(outside) > len("outside the tested times") { // a line of 80 has no room for more
		return "outside: see below"
	}
	return outside
}

// answerRows are the rows of a development time and an exposure index.
func answerRows(minutes, index *Quantity, outside string) [][]string {
	var rows [][]string
	if m := minutes; m != nil {
		interval := timeInterval(m)
		if outside != "" {
			interval += "  " + besideInterval(outside)
		}
		rows = append(rows, []string{"  develop, min:s", clock(m.Value, 5), interval})
	}
	if e := index; e != nil {
		rows = append(rows,
			[]string{"  set the meter to EI", page.Figures(e.Value), page.Figures(e.Low) + " to " + page.Figures(e.High)},
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
	ch := c.change
	if f := quantity(&ch.Factor, c.level, unitOne); f != nil && f.SD > 0 {
		text += fmt.Sprintf("It takes %s times as long.", f)
	}
	if k := ch.Coefficient; k != nil && k.Q10.Known(c.level) {
		text += fmt.Sprintf(" Temperature: the rate at 30 °C is %s times that at 20 (%s)", withError(&k.Q10, c.level), k.Source)
		if e := ch.Conditions.EndC; e != nil && *e != *ch.Conditions.TemperatureC {
			text += fmt.Sprintf("; the drift does the same as a steady %s", degrees(ch.SteadyC))
		}
		text += "."
	}
	for _, f := range []*development.TimeFactor{ch.Dilution, ch.Agitation} {
		if f != nil {
			text += fmt.Sprintf(" %s in place of %s: %s times as long (%s).", capital(f.Condition), f.Was, withError(&f.Factor, c.level), f.Source)
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

// temperatureLaw is how the rate of development follows the temperature; nil is null.
func temperatureLaw(l *development.TemperatureLaw, level float64) object {
	if l == nil {
		return nil
	}
	return object{
		{"q10", quantity(&l.Q10, level, unitOne)}, // rate at 30 over that at 20 degrees Celsius
		{"activation_energy_kj_per_mol", quantity(&l.ActivationEnergy, level, "kJ/mol")},
		{"temperatures_c", l.Temperatures},
	}
}
