package notebook

import (
	"io"
	"math"

	"sensito/sensito"
	"sensito/sensito/darkroom"
)

// ReadProcedureFile returns the procedure in the file at path, for programs that use
// the library (see ReadFile). Errors are as for Read.
func ReadProcedureFile(path string) (*darkroom.Procedure, error) {
	return readFile(path, ReadProcedure)
}

// ReadProcedure returns the procedure written in TOML in r: [[step]] after
// [[step]], in order. Errors are as for Read.
func ReadProcedure(name string, r io.Reader) (*darkroom.Procedure, error) {
	return decode(name, r, readProcedure, "a procedure", ProcedureKind)
}

func readProcedure(root *table) *darkroom.Procedure {
	root.refuseOthers([]string{"kind", "title", "shuffle_seconds", "step"})
	if kind := root.text("kind"); kind != "" && kind != string(ProcedureKind) {
		root.add("kind", "%q is not %s", kind, ProcedureKind)
	}
	procedure, err := darkroom.NewProcedure(darkroom.ProcedureSpec{
		Title:          root.text("title"),
		ShuffleSeconds: root.nonzero("shuffle_seconds"),
		Steps:          readSteps(root),
	})
	root.absorb(err)
	return procedure
}

var stepKeys = []string{"name", "bath", "dilution", "one_shot", "capacity", "mixed", "least", "minutes", "clearing_minutes",
	"clearing_factor", "temperature_c", "agitation", "dark", "critical", "drain_seconds", "note"}

func readSteps(root *table) []darkroom.ProcessStep {
	if root.has("step") && kindOf(root.values["step"]) == "a table" {
		root.add("step", "must be written [[step]], in double brackets")
		return nil
	}
	list := root.list("step", "a list of tables")
	var steps []darkroom.ProcessStep
	for i, v := range list {
		if i > darkroom.MaxProcessSteps { // told by the domain
			break
		}
		t := &table{faults: root.faults, path: element("step", i)}
		var ok bool
		if t.values, ok = v.(map[string]any); !ok {
			t.wrong(t.path, "a table", v)
		}
		t.refuseOthers(stepKeys)
		t.need("name")
		t.need("dark")
		s := darkroom.ProcessStep{
			Name: t.text("name"),
			Bath: darkroom.Bath{Name: t.text("bath"), Dilution: t.text("dilution"), OneShot: t.yes("one_shot"),
				Capacity: t.text("capacity"), Mixed: readDateOf(t, "mixed"), Least: t.text("least")},
			Clearing:       minutesIfKnown(t, "clearing_minutes"),
			ClearingFactor: t.nonzero("clearing_factor"),
			TemperatureC:   t.nonzero("temperature_c"),
			Agitation:      t.text("agitation"),
			Dark:           t.yes("dark"),
			Critical:       t.yes("critical"),
			Note:           t.text("note"),
		}
		if d := t.number("drain_seconds"); !math.IsNaN(d) {
			s.DrainSeconds = d
		}
		s.From, s.Minutes = readStepTime(t)
		steps = append(steps, s)
	}
	return steps
}

// readStepTime returns where the time of a step comes from, and the time where
// it is stated.
func readStepTime(t *table) (darkroom.TimeFrom, sensito.Minutes) {
	if from, ok := t.values["minutes"].(string); ok {
		switch f := darkroom.TimeFrom(from); f {
		case darkroom.TimeFromPlan, darkroom.TimeFromClearing:
			return f, 0
		}
		if timeForm().FindStringSubmatch(from) == nil {
			t.add(t.key("minutes"), "%q is not a time like 5:30, %q or %q", from, darkroom.TimeFromPlan, darkroom.TimeFromClearing)
			return darkroom.TimeStated, 0
		}
	}
	m := readMinutesOf(t, "minutes")
	if m == 0 && t.has("minutes") && !t.hidden(t.key("minutes")) {
		t.add(t.key("minutes"), "must not be 0; leave the key out of a step that lasts until it is done")
	}
	return darkroom.TimeStated, m
}
