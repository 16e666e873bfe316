package notebook

import (
	"strconv"

	"sensito/sensito"
)

// readMaterial returns what the trial is of, and the name of the table that
// tells of it.
func readMaterial(root *table) (m sensito.Material, table string) {
	switch kind := root.text("kind"); {
	case kind == "paper":
		return sensito.PaperMaterial, "paper"
	case kind != "film" && root.has("kind") && !root.hidden("kind"):
		root.add("kind", "%q is neither film nor paper", kind)
	case kind == "" && root.has("paper") && !root.has("film"):
		root.add("paper", "goes with kind = \"paper\" at the top of the file")
		return sensito.PaperMaterial, "paper" // as is meant
	}
	return sensito.FilmMaterial, "film"
}

// gradeKeys name the contrast of a strip of paper, which has one of them.
var gradeKeys = []string{"grade", "filter"}

// readGrade returns the grade or filter of a strip of paper as text, "" when it
// is missing; a number is written as briefly as it can be.
func readGrade(t *table) string {
	grade := ""
	for i, name := range gradeKeys {
		switch v := t.values[name].(type) {
		case nil:
			continue
		case string:
			if v == "" {
				t.add(t.key(name), "is empty; leave the key out if there is none")
			}
			grade = v
		case int64, float64:
			if x := t.number(name); x == x {
				grade = strconv.FormatFloat(x, 'f', -1, 64)
			}
		default:
			t.wrong(t.key(name), "a number or text in quotes", v)
		}
		if i > 0 && t.has(gradeKeys[0]) {
			t.add(t.key(name), "does not go with grade; a strip has one or the other")
		}
	}
	return grade
}
