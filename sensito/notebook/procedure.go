package notebook

import (
	"io"
	"math"

	"sensito/sensito"
	"sensito/sensito/darkroom"
	"sensito/sensito/notebook/internal/grammar"
	"sensito/sensito/notebook/internal/trialfile"
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

func readProcedure(root *grammar.Table) *darkroom.Procedure {
	root.RefuseOthers([]string{"kind", "title", "shuffle_seconds", "step"})
	if kind := root.Text("kind"); kind != "" && kind != string(ProcedureKind) {
		root.Add("kind", "%q is not %s", kind, ProcedureKind)
	}
	procedure, err := darkroom.NewProcedure(darkroom.ProcedureSpec{
		Title:          root.Text("title"),
		ShuffleSeconds: root.Nonzero("shuffle_seconds"),
		Steps:          readSteps(root),
	})
	root.Absorb(err)
	return procedure
}

var stepKeys = []string{"name", "bath", "dilution", "one_shot", "capacity", "mixed", "least", "minutes", "changes", "clearing_minutes",
	"clearing_factor", "temperature_c", "agitation", "dark", "critical", "drain_seconds", "note"}

func readSteps(root *grammar.Table) []darkroom.ProcessStep {
	if root.Has("step") && grammar.KindOfValue(root.Values["step"]) == "a table" {
		root.Add("step", "must be written [[step]], in double brackets")
		return nil
	}
	list := root.List("step", "a list of tables")
	var steps []darkroom.ProcessStep
	for i, v := range list {
		if i > darkroom.MaxProcessSteps { // told by the domain
			break
		}
		t := &grammar.Table{Faults: root.Faults, Path: grammar.Element("step", i)}
		var ok bool
		if t.Values, ok = v.(map[string]any); !ok {
			t.Wrong(t.Path, "a table", v)
		}
		t.RefuseOthers(stepKeys)
		t.Need("name")
		t.Need("dark")
		s := darkroom.ProcessStep{
			Name: t.Text("name"),
			Bath: darkroom.Bath{Name: t.Text("bath"), Dilution: t.Text("dilution"), OneShot: t.Yes("one_shot"),
				Capacity: t.Text("capacity"), Mixed: trialfile.DateOf(t, "mixed"), Least: t.Text("least")},
			Clearing:       trialfile.MinutesIfKnown(t, "clearing_minutes"),
			ClearingFactor: t.Nonzero("clearing_factor"),
			TemperatureC:   t.Nonzero("temperature_c"),
			Agitation:      t.Text("agitation"),
			Dark:           t.Yes("dark"),
			Critical:       t.Yes("critical"),
			Note:           t.Text("note"),
		}
		if d := t.Number("drain_seconds"); !math.IsNaN(d) {
			s.DrainSeconds = d
		}
		if t.Has("changes") {
			s.Changes = t.Integer("changes", 2, darkroom.MaxChanges)
		}
		s.From, s.Minutes = readStepTime(t)
		steps = append(steps, s)
	}
	return steps
}

// readStepTime returns where the time of a step comes from, and the time where
// it is stated.
func readStepTime(t *grammar.Table) (darkroom.TimeFrom, sensito.Minutes) {
	if from, ok := t.Values["minutes"].(string); ok {
		switch f := darkroom.TimeFrom(from); f {
		case darkroom.TimeFromPlan, darkroom.TimeFromClearing:
			return f, 0
		}
		if grammar.TimeForm().FindStringSubmatch(from) == nil {
			t.Add(t.Key("minutes"), "%q is not a time like 5:30, %q or %q", from, darkroom.TimeFromPlan, darkroom.TimeFromClearing)
			return darkroom.TimeStated, 0
		}
	}
	m := trialfile.MinutesOf(t, "minutes")
	if m == 0 && t.Has("minutes") && !t.Hidden(t.Key("minutes")) {
		t.Add(t.Key("minutes"), "must not be 0; leave the key out of a step that lasts until it is done")
	}
	return darkroom.TimeStated, m
}
