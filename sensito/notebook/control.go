package notebook

import (
	"io"

	"sensito/sensito"
	"sensito/sensito/control"
	"sensito/sensito/notebook/internal/grammar"
	"sensito/sensito/notebook/internal/trialfile"
)

// ReadControlFile returns the control log in the file at path, for programs that use
// the library (see ReadFile). Errors are as for ReadControl.
func ReadControlFile(path string) (*control.Log, error) {
	return readFile(path, ReadControl)
}

// ReadControl returns the control log written in TOML in r; name stands for the
// file in errors. Errors are as for Read.
func ReadControl(name string, r io.Reader) (*control.Log, error) {
	return decode(name, r, readControl, "a control log", ControlKind)
}

var patchKeys = []string{"base_fog", "low", "high", "patches"}

// readControl returns the log, which is of use only when no fault was noted.
func readControl(root *grammar.Table) *control.Log {
	kind := root.Text("kind")
	if kind != "control" && root.Has("kind") && !root.Hidden("kind") {
		root.Add("kind", "%q is not control", kind)
	}
	root.RefuseOthers([]string{"kind", "title", "film", "developer", "dilution", "minutes", "aim", "reference", "limits", "repeatability", "strip"})
	spec := control.LogSpec{Title: root.Text("title"), Film: root.Text("film"), Developer: root.Text("developer"), Dilution: root.Text("dilution"),
		Minutes: trialfile.MinutesIfKnown(root, "minutes")}
	readAim(root, &spec)
	spec.Repeatability = sensito.Density(root.Nonzero("repeatability"))
	limits := root.Sub("limits", "base_fog", "low", "difference", "patches")
	spec.Tolerances = control.Tolerances{
		BaseFog:    sensito.Density(limits.Nonzero("base_fog")),
		Low:        sensito.Density(limits.Nonzero("low")),
		Difference: sensito.Density(limits.Nonzero("difference")),
		Others:     readOthers(limits),
	}
	spec.Strips = readControlStrips(root)
	log, err := control.NewLog(spec)
	root.Absorb(err)
	return log
}

// readAim reads where the patches should be, from [aim] or [reference].
func readAim(root *grammar.Table, spec *control.LogSpec) {
	aim := root.Sub("aim", append([]string{"gradient", "strips", "note"}, patchKeys...)...)
	reference := root.Sub("reference", append([]string{"date", "note"}, patchKeys...)...)
	aim.Text("note")
	reference.Text("note")
	trialfile.DateOf(reference, "date")
	spec.Gradient = aim.Nonzero("gradient")
	if aim.Has("strips") {
		spec.AimStrips = aim.Integer("strips", 1, 1000)
	}
	aimed := aim.Has("base_fog") || aim.Has("low") || aim.Has("high") || aim.Has("patches") || aim.Has("strips")
	switch {
	case root.Has("reference") && aimed:
		root.Add("reference", "does not go with an aim of the same patches; give one of them")
	case root.Has("reference"):
		p := readPatches(reference)
		spec.Aim, spec.Reference = &p, true
	case aimed || root.Has("aim") && !aim.Has("gradient"):
		p := readPatches(aim)
		spec.Aim = &p
	}
}

func readPatches(t *grammar.Table) control.Patches {
	for _, name := range patchKeys[:3] {
		t.Need(name)
	}
	return control.Patches{
		BaseFog: sensito.Density(t.Number("base_fog")),
		Low:     sensito.Density(t.Number("low")),
		High:    sensito.Density(t.Number("high")),
		Others:  readOthers(t),
	}
}

// maxPatches is more than a control strip has.
const maxPatches = 50

// readOthers returns further patches by their names, nil when there are none.
func readOthers(t *grammar.Table) map[string]sensito.Density {
	if !t.Has("patches") {
		return nil
	}
	list, ok := t.Values["patches"].(map[string]any)
	if !ok {
		t.Wrong(t.Key("patches"), "a table of densities by name, such as { middle = 0.71 }", t.Values["patches"])
		return nil
	}
	if len(list) > maxPatches {
		t.Add(t.Key("patches"), "has %d patches, more than %d", len(list), maxPatches)
		return nil
	}
	out := map[string]sensito.Density{}
	for name, v := range list {
		out[name] = sensito.Density(t.Finite(grammar.Below(t.Key("patches"), name), v, false))
	}
	return out
}

func readControlStrips(root *grammar.Table) []control.Strip {
	if root.Has("strip") && grammar.KindOfValue(root.Values["strip"]) == "a table" {
		root.Add("strip", "must be written [[strip]], in double brackets")
		return nil
	}
	list := root.List("strip", "a list of tables")
	if len(list) > grammar.MaxStrips {
		root.Add(grammar.Element("strip", grammar.MaxStrips), "brings the file to more than %d strips", grammar.MaxStrips)
		root.Hide("strip")
		return nil
	}
	var strips []control.Strip
	readings := 0
	for i, v := range list {
		t := &grammar.Table{Faults: root.Faults, Path: grammar.Element("strip", i)}
		var ok bool
		if t.Values, ok = v.(map[string]any); !ok {
			t.Wrong(t.Path, "a table", v)
		}
		t.RefuseOthers(append([]string{"date", "baseline", "fresh", "note"}, patchKeys...))
		t.Need("date")
		others, _ := t.Values["patches"].(map[string]any)
		if readings += len(patchKeys) - 1 + len(others); readings > grammar.MaxReadings {
			t.Add(t.Path, "brings the file to more than %d readings", grammar.MaxReadings)
			root.Hide("strip")
			return nil
		}
		strips = append(strips, control.Strip{
			Date:     trialfile.DateOf(t, "date"),
			Patches:  readPatches(t),
			Baseline: t.Yes("baseline"),
			Fresh:    t.Yes("fresh"),
			Note:     t.Text("note"),
		})
	}
	return strips
}
