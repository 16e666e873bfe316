package trialfile

import (
	"slices"

	"sensito/sensito"
	"sensito/sensito/notebook/internal/grammar"
)

// reciprocityLaws are the keys of a stated law, one of which a file may give in
// [reciprocity].
var reciprocityLaws = []string{string(sensito.PowerLaw), string(sensito.AdditiveLaw), string(sensito.SchwarzschildLaw)}

// readReciprocity returns what the file says of long exposures: pairs of times in
// [[reciprocity]], or one law in [reciprocity]; nil when it says nothing.
func readReciprocity(root *grammar.Table) *sensito.StatedReciprocity {
	if !root.Has("reciprocity") {
		return nil
	}
	if grammar.KindOfValue(root.Values["reciprocity"]) == "a list" {
		return readReciprocityPairs(root)
	}
	t := root.Sub("reciprocity", append([]string{"metered_s", "corrected_s"}, reciprocityLaws...)...)
	if t.Has("metered_s") || t.Has("corrected_s") {
		t.Add(t.Path, "pairs of times must be written [[reciprocity]], in double brackets")
		return nil
	}
	given := slices.DeleteFunc(slices.Clone(reciprocityLaws), func(name string) bool { return !t.Has(name) })
	switch {
	case len(given) > 1:
		t.Add(t.Key(given[1]), "does not go with %s; one law can hold", given[0])
		return nil
	case len(given) == 0:
		if len(t.Values) == 0 && !t.Hidden(t.Path) { // else told above
			t.Add(t.Path, "needs exponent, schwarzschild_p or extra_at_1_s, or pairs of times in [[reciprocity]]")
		}
		return nil
	}
	return stated(t, &sensito.StatedReciprocity{Law: sensito.ReciprocityLaw(given[0]), Constant: t.Number(given[0])})
}

func readReciprocityPairs(root *grammar.Table) *sensito.StatedReciprocity {
	list := root.List("reciprocity", "a list of tables")
	const most = 100
	if len(list) > most {
		root.Add(grammar.Element("reciprocity", most), "brings the file to more than %d pairs of times", most)
		return nil
	}
	pairs := make([]sensito.ReciprocityPair, 0, len(list))
	for i, v := range list {
		t := &grammar.Table{Faults: root.Faults, Path: grammar.Element("reciprocity", i)}
		var ok bool
		if t.Values, ok = v.(map[string]any); !ok {
			t.Wrong(t.Path, "a table", v)
			continue
		}
		t.RefuseOthers([]string{"metered_s", "corrected_s"})
		t.Need("metered_s")
		t.Need("corrected_s")
		pairs = append(pairs, sensito.ReciprocityPair{
			Metered: sensito.Seconds(t.Number("metered_s")), Corrected: sensito.Seconds(t.Number("corrected_s"))})
	}
	if len(pairs) < len(list) {
		return nil // their numbers would no longer be those of the file
	}
	return stated(root, &sensito.StatedReciprocity{Pairs: pairs})
}

// stated returns what the file states, nil where it is faulty.
func stated(t *grammar.Table, r *sensito.StatedReciprocity) *sensito.StatedReciprocity {
	if err := r.Check(); err != nil {
		t.Absorb(err)
		return nil
	}
	return r
}
