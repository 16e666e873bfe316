package notebook

import (
	"bytes"
	"fmt"
	"slices"

	"sensito/sensito"
	"sensito/sensito/darkroom"
	"sensito/sensito/notebook/internal/grammar"
)

// stepFields gives a step in the order of a procedure, with every key that one can
// have.
func stepFields(s darkroom.ProcessStep) []field {
	yes := func(v bool) value {
		if v {
			return plain("true")
		}
		return value{}
	}
	minutes := clock(s.Minutes)
	if s.From != darkroom.TimeStated {
		minutes = quotedValue(string(s.From))
	}
	return []field{
		{"name", quotedValue(s.Name)},
		{"bath", quotedValue(s.Bath.Name)},
		{"dilution", quotedValue(s.Bath.Dilution)},
		{"one_shot", yes(s.Bath.OneShot)},
		{"capacity", quotedValue(s.Bath.Capacity)},
		{"mixed", plain(s.Bath.Mixed)},
		{"least", quotedValue(s.Bath.Least)},
		{"minutes", minutes},
		{"changes", known(float64(s.Changes))},
		{"clearing_minutes", clock(s.Clearing)},
		{"clearing_factor", known(s.ClearingFactor)},
		{"temperature_c", known(s.TemperatureC)},
		{"agitation", quotedValue(s.Agitation)},
		{"dark", plain(fmt.Sprint(s.Dark))},
		{"critical", yes(s.Critical)},
		{"drain_seconds", known(s.DrainSeconds)},
		{"note", quotedValue(s.Note)},
	}
}

// FormatProcedure returns a procedure as a file, from which ReadProcedure gives an
// equal one.
func FormatProcedure(p *darkroom.Procedure) []byte {
	s := p.Spec()
	out := &printer{}
	out.WriteString("# Take times and dilutions from the sheets of your own products, and their cautions.\n\n")
	out.write("", false, []field{{"kind", quotedValue(string(ProcedureKind))}, {"title", quotedValue(s.Title)}, {"shuffle_seconds", known(s.ShuffleSeconds)}})
	for _, step := range s.Steps {
		out.list("step", stepFields(step))
	}
	return out.Bytes()
}

// InsertStep returns the text of a procedure with a step more before the one of the
// number, from 1, or at its end, where the number is one more than there are. Errors
// are as for AppendStrip.
func InsertStep(data []byte, number int, s darkroom.ProcessStep) ([]byte, error) {
	steps, tables, err := procedureSteps(data)
	if err != nil {
		return nil, err
	}
	if number < 1 || number > len(steps)+1 {
		return nil, fmt.Errorf("there is no step %d; the procedure has %d", number, len(steps))
	}
	text := appendTable(data, "step", stepFields(s))
	if number <= len(steps) {
		p := &printer{}
		p.list("step", stepFields(s))
		p.WriteByte('\n')
		at := tables[number-1].header
		added := bytes.ReplaceAll(p.Bytes(), []byte("\n"), []byte(newline(data)))
		text = slices.Concat(data[:at], added, data[at:])
	}
	return verifiedProcedure(text, slices.Insert(steps, number-1, s))
}

// ReplaceStep returns the text of a procedure in which the step of the number, from 1,
// has become s. Only what differs is rewritten. Errors are as for ReplaceStrip.
func ReplaceStep(data []byte, number int, s darkroom.ProcessStep) ([]byte, error) {
	steps, tables, err := procedureSteps(data)
	if err != nil {
		return nil, err
	}
	if number < 1 || number > len(steps) {
		return nil, fmt.Errorf("there is no step %d; the procedure has %d", number, len(steps))
	}
	old := steps[number-1]
	steps[number-1] = s
	e := &editor{text: data, strip: tables[number-1]}
	return verifiedProcedure(e.change(stepFields(old), stepFields(s)), steps)
}

// RemoveStep returns the text of a procedure without the step of the number, from 1.
// Errors are as for RemoveStrip.
func RemoveStep(data []byte, number int) ([]byte, error) {
	steps, tables, err := procedureSteps(data)
	if err != nil {
		return nil, err
	}
	if err := removable("step", number, len(steps)); err != nil {
		return nil, err
	}
	return verifiedProcedure(tables[number-1].without(data), slices.Delete(steps, number-1, number))
}

// procedureSteps returns the steps of a file, and where they stand.
func procedureSteps(data []byte) ([]darkroom.ProcessStep, []stripText, error) {
	p, err := ReadProcedure(editedFile, bytes.NewReader(data))
	if err != nil {
		return nil, nil, err
	}
	steps, tables := p.Steps(), outline(data, "step")
	if len(tables) != len(steps) {
		return nil, nil, fmt.Errorf("the steps are written in one line, step = [...]; write each as [[step]] to have one added or changed")
	}
	return steps, tables, nil
}

// verifiedProcedure returns the text if it reads as these steps.
func verifiedProcedure(text []byte, steps []darkroom.ProcessStep) ([]byte, error) {
	want, err := darkroom.NewProcedure(darkroom.ProcedureSpec{Steps: steps})
	if err != nil {
		return nil, err
	}
	got, err := ReadProcedure(editedFile, bytes.NewReader(text))
	if err != nil {
		return nil, withoutLines(err)
	}
	if !slices.Equal(got.Steps(), want.Steps()) {
		return nil, errNotSame
	}
	return text, nil
}

// StepTime reads when a step ends: "5:30", "from plan", the development time, "from
// clearing", or "" for a step that lasts until it is done. The error is that of
// sensito.ParseMinutes.
func StepTime(text string) (darkroom.TimeFrom, sensito.Minutes, error) {
	switch f := darkroom.TimeFrom(text); f {
	case darkroom.TimeStated, darkroom.TimeFromPlan, darkroom.TimeFromClearing:
		return f, 0, nil
	}
	m, err := sensito.ParseMinutes(text)
	return darkroom.TimeStated, m, err
}

// TimeText returns the time of a step as StepTime reads it.
func TimeText(s darkroom.ProcessStep) string {
	if s.From != darkroom.TimeStated || s.Minutes == 0 {
		return string(s.From)
	}
	if text, ok := grammar.ClockText(s.Minutes); ok {
		return text
	}
	return grammar.Number(float64(s.Minutes))
}
