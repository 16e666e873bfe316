package trialfile

import (
	"sensito/sensito"
	"sensito/sensito/notebook/internal/grammar"
)

// Calibrations returns the calibrations of pictures in which strips were read.
func Calibrations(root *grammar.Table) []sensito.Calibration {
	const name = "calibration"
	if root.Has(name) && grammar.KindOfValue(root.Values[name]) == "a table" {
		root.Add(name, "must be written [[calibration]], in double brackets")
		return nil
	}
	list := root.List(name, "a list of tables")
	if len(list) > grammar.MaxStrips {
		root.Add(name, "there are %d, more than %d", len(list), grammar.MaxStrips)
		return nil
	}
	var out []sensito.Calibration
	for i, v := range list {
		t := &grammar.Table{Faults: root.Faults, Path: grammar.Element(name, i)}
		var ok bool
		if t.Values, ok = v.(map[string]any); !ok {
			t.Wrong(t.Path, "a table", v)
		}
		t.RefuseOthers([]string{"name", "repeatability", "covariance"})
		for _, name := range []string{"name", "repeatability", "covariance"} {
			t.Need(name)
		}
		out = append(out, sensito.Calibration{Name: t.Text("name"), Repeatability: sensito.Density(t.Nonzero("repeatability")), Covariance: readCovariance(t)})
	}
	return out
}

// readCovariance returns a covariance of offset, scale and bend, three lists of three
// numbers.
func readCovariance(t *grammar.Table) (out [3][3]float64) {
	const name, want = "covariance", "three lists of three numbers"
	list := t.List(name, want)
	if t.Has(name) && list != nil && len(list) != len(out) {
		t.Add(t.Key(name), "has %d lists; it is %s", len(list), want)
		t.Hide(t.Key(name))
		return out
	}
	for i, v := range list {
		key := grammar.Element(t.Key(name), i)
		row, ok := v.([]any)
		switch {
		case !ok:
			t.Wrong(key, "a list of three numbers", v)
			t.Hide(t.Key(name))
		case len(row) != len(out):
			t.Add(key, "has %d numbers, not three", len(row))
			t.Hide(t.Key(name))
		default:
			for j, v := range row {
				out[i][j] = t.FiniteIn(key, j, v, false)
			}
		}
	}
	return out
}
