package trialfile

import (
	"strconv"

	"sensito/sensito"
	"sensito/sensito/notebook/internal/grammar"
)

// readMaterial returns what the trial is of, and the name of the table that
// tells of it.
func readMaterial(root *grammar.Table) (m sensito.Material, table string) {
	switch kind := root.Text("kind"); {
	case kind == "paper":
		return sensito.PaperMaterial, "paper"
	case kind != "film" && root.Has("kind") && !root.Hidden("kind"):
		root.Add("kind", "%q is neither film nor paper", kind)
	case kind == "" && root.Has("paper") && !root.Has("film"):
		root.Add("paper", "goes with kind = \"paper\" at the top of the file")
		return sensito.PaperMaterial, "paper" // as is meant
	}
	return sensito.FilmMaterial, "film"
}

// gradeKeys name the contrast of a strip of paper, which has one of them.
var gradeKeys = []string{"grade", "filter"}

// readGrade returns the grade or filter of a strip of paper as text, "" when it
// is missing; a number is written as briefly as it can be.
func readGrade(t *grammar.Table) string {
	grade := ""
	for i, name := range gradeKeys {
		switch v := t.Values[name].(type) {
		case nil:
			continue
		case string:
			if v == "" {
				t.Add(t.Key(name), "is empty; leave the key out if there is none")
			}
			grade = v
		case int64, float64:
			if x := t.Number(name); x == x {
				grade = strconv.FormatFloat(x, 'f', -1, 64)
			}
		default:
			t.Wrong(t.Key(name), "a number or text in quotes", v)
		}
		if i > 0 && t.Has(gradeKeys[0]) {
			t.Add(t.Key(name), "does not go with grade; a strip has one or the other")
		}
	}
	return grade
}
