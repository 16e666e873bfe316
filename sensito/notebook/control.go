package notebook

import (
	"io"

	"sensito/sensito"
	"sensito/sensito/control"
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
func readControl(root *table) *control.Log {
	kind := root.text("kind")
	if kind != "control" && root.has("kind") && !root.hidden("kind") {
		root.add("kind", "%q is not control", kind)
	}
	root.refuseOthers([]string{"kind", "title", "minutes", "aim", "reference", "limits", "repeatability", "strip"})
	spec := control.LogSpec{Title: root.text("title"), Minutes: minutesIfKnown(root, "minutes")}
	readAim(root, &spec)
	spec.Repeatability = sensito.Density(root.nonzero("repeatability"))
	limits := root.sub("limits", "base_fog", "low", "difference", "patches")
	spec.Tolerances = control.Tolerances{
		BaseFog:    sensito.Density(limits.nonzero("base_fog")),
		Low:        sensito.Density(limits.nonzero("low")),
		Difference: sensito.Density(limits.nonzero("difference")),
		Others:     readOthers(limits),
	}
	spec.Strips = readControlStrips(root)
	log, err := control.NewLog(spec)
	root.absorb(err)
	return log
}

// readAim reads where the patches should be, from [aim] or [reference].
func readAim(root *table, spec *control.LogSpec) {
	aim := root.sub("aim", append([]string{"gradient", "strips", "note"}, patchKeys...)...)
	reference := root.sub("reference", append([]string{"date", "note"}, patchKeys...)...)
	aim.text("note")
	reference.text("note")
	readDateOf(reference, "date")
	spec.Gradient = aim.nonzero("gradient")
	if aim.has("strips") {
		spec.AimStrips = aim.integer("strips", 1, 1000)
	}
	aimed := aim.has("base_fog") || aim.has("low") || aim.has("high") || aim.has("patches") || aim.has("strips")
	switch {
	case root.has("reference") && aimed:
		root.add("reference", "does not go with an aim of the same patches; give one of them")
	case root.has("reference"):
		p := readPatches(reference)
		spec.Aim, spec.Reference = &p, true
	case aimed || root.has("aim") && !aim.has("gradient"):
		p := readPatches(aim)
		spec.Aim = &p
	}
}

func readPatches(t *table) control.Patches {
	for _, name := range patchKeys[:3] {
		t.need(name)
	}
	return control.Patches{
		BaseFog: sensito.Density(t.number("base_fog")),
		Low:     sensito.Density(t.number("low")),
		High:    sensito.Density(t.number("high")),
		Others:  readOthers(t),
	}
}

// maxPatches is more than a control strip has.
const maxPatches = 50

// readOthers returns further patches by their names, nil when there are none.
func readOthers(t *table) map[string]sensito.Density {
	if !t.has("patches") {
		return nil
	}
	list, ok := t.values["patches"].(map[string]any)
	if !ok {
		t.wrong(t.key("patches"), "a table of densities by name, such as { middle = 0.71 }", t.values["patches"])
		return nil
	}
	if len(list) > maxPatches {
		t.add(t.key("patches"), "has %d patches, more than %d", len(list), maxPatches)
		return nil
	}
	out := map[string]sensito.Density{}
	for name, v := range list {
		out[name] = sensito.Density(t.finite(below(t.key("patches"), name), v, false))
	}
	return out
}

func readControlStrips(root *table) []control.Strip {
	if root.has("strip") && kindOf(root.values["strip"]) == "a table" {
		root.add("strip", "must be written [[strip]], in double brackets")
		return nil
	}
	list := root.list("strip", "a list of tables")
	if len(list) > maxStrips {
		root.add(element("strip", maxStrips), "brings the file to more than %d strips", maxStrips)
		root.hide("strip")
		return nil
	}
	var strips []control.Strip
	readings := 0
	for i, v := range list {
		t := &table{faults: root.faults, path: element("strip", i)}
		var ok bool
		if t.values, ok = v.(map[string]any); !ok {
			t.wrong(t.path, "a table", v)
		}
		t.refuseOthers(append([]string{"date", "baseline", "fresh", "note"}, patchKeys...))
		t.need("date")
		others, _ := t.values["patches"].(map[string]any)
		if readings += len(patchKeys) - 1 + len(others); readings > maxReadings {
			t.add(t.path, "brings the file to more than %d readings", maxReadings)
			root.hide("strip")
			return nil
		}
		strips = append(strips, control.Strip{
			Date:     readDateOf(t, "date"),
			Patches:  readPatches(t),
			Baseline: t.yes("baseline"),
			Fresh:    t.yes("fresh"),
			Note:     t.text("note"),
		})
	}
	return strips
}
