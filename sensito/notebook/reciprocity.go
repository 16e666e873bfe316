package notebook

import (
	"slices"

	"sensito/sensito"
)

// reciprocityLaws are the keys of a stated law, one of which a file may give in
// [reciprocity].
var reciprocityLaws = []string{string(sensito.PowerLaw), string(sensito.AdditiveLaw), string(sensito.SchwarzschildLaw)}

// readReciprocity returns what the file says of long exposures: pairs of times in
// [[reciprocity]], or one law in [reciprocity]; nil when it says nothing.
func readReciprocity(root *table) *sensito.StatedReciprocity {
	if !root.has("reciprocity") {
		return nil
	}
	if kindOf(root.values["reciprocity"]) == "a list" {
		return readReciprocityPairs(root)
	}
	t := root.sub("reciprocity", append([]string{"metered_s", "corrected_s"}, reciprocityLaws...)...)
	if t.has("metered_s") || t.has("corrected_s") {
		t.add(t.path, "pairs of times must be written [[reciprocity]], in double brackets")
		return nil
	}
	given := slices.DeleteFunc(slices.Clone(reciprocityLaws), func(name string) bool { return !t.has(name) })
	switch {
	case len(given) > 1:
		t.add(t.key(given[1]), "does not go with %s; one law can hold", given[0])
		return nil
	case len(given) == 0:
		if len(t.values) == 0 && !t.hidden(t.path) { // else told above
			t.add(t.path, "needs exponent, schwarzschild_p or extra_at_1_s, or pairs of times in [[reciprocity]]")
		}
		return nil
	}
	return stated(t, &sensito.StatedReciprocity{Law: sensito.ReciprocityLaw(given[0]), Constant: t.number(given[0])})
}

func readReciprocityPairs(root *table) *sensito.StatedReciprocity {
	var pairs []sensito.ReciprocityPair
	list := root.list("reciprocity", "a list of tables")
	const most = 100
	if len(list) > most {
		root.add(element("reciprocity", most), "brings the file to more than %d pairs of times", most)
		return nil
	}
	for i, v := range list {
		t := &table{faults: root.faults, path: element("reciprocity", i)}
		var ok bool
		if t.values, ok = v.(map[string]any); !ok {
			t.wrong(t.path, "a table", v)
			continue
		}
		t.refuseOthers([]string{"metered_s", "corrected_s"})
		t.need("metered_s")
		t.need("corrected_s")
		pairs = append(pairs, sensito.ReciprocityPair{
			Metered: sensito.Seconds(t.number("metered_s")), Corrected: sensito.Seconds(t.number("corrected_s"))})
	}
	if len(pairs) < len(list) {
		return nil // their numbers would no longer be those of the file
	}
	return stated(root, &sensito.StatedReciprocity{Pairs: pairs})
}

// stated returns what the file states, nil where it is faulty.
func stated(t *table, r *sensito.StatedReciprocity) *sensito.StatedReciprocity {
	if err := r.Check(); err != nil {
		t.absorb(err)
		return nil
	}
	return r
}
