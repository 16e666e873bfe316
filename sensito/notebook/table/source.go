package table

import (
	"maps"
	"slices"
	"strings"

	"github.com/pelletier/go-toml/v2"

	"sensito/sensito"
	"sensito/sensito/notebook"
	"sensito/sensito/notebook/internal/grammar"
)

// source is one trial as found in a file: what a notebook would say, and where
// each key stands.
type source struct {
	values map[string]any
	at     map[string]place
	told   map[string]bool // keys of which a fault has been told
	table  bool            // from a table, which may leave the kind of exposure open

	written map[string]string // see faults
}

// place returns where a key stands or, if it stands nowhere, what is around it.
func (s *source) place(key string) place {
	for ; key != ""; key = grammar.Parent(key) {
		if at, ok := s.at[key]; ok {
			return at
		}
	}
	return place{line: 1}
}

// placeNamed returns the place of a key, with the key for its name where the
// place has none.
func (s *source) placeNamed(key string) place {
	at := s.place(key)
	if at.name == "" {
		at.name = key
	}
	return at
}

// keyOf returns the key of a column. What stands below film is said of the paper
// where there is one.
func (src *source) keyOf(c *column) string {
	if rest, ok := strings.CutPrefix(c.key, "film."); ok && c.name != colFilm && src.values["kind"] == "paper" {
		return "paper." + rest
	}
	return c.key
}

// put sets a key such as "film.name".
func (src *source) put(key string, v any) {
	in := src.values
	for table, name, below := strings.Cut(key, "."); below; table, name, below = strings.Cut(key, ".") {
		inner, ok := in[table].(map[string]any)
		if !ok {
			inner = map[string]any{}
			in[table] = inner
		}
		in, key = inner, name
	}
	in[key] = v
}

// get returns the value of a key such as "film.name", nil where it has none.
func (src *source) get(key string) any {
	in := src.values
	for table, name, below := strings.Cut(key, "."); below; table, name, below = strings.Cut(key, ".") {
		in, _ = in[table].(map[string]any)
		key = name
	}
	return in[key]
}

// firstLine returns the first line on which an element of a list stands.
func (src *source) firstLine(key string) int {
	first := 1
	for k, at := range src.at {
		if strings.HasPrefix(k, key+"[") && (first == 1 || at.line < first) {
			first = at.line
		}
	}
	return first
}

// rename puts a list of exposures in place of another, in the same places.
func (src *source) rename(from, to string, list []any) {
	exposure := src.values["exposure"].(map[string]any)
	delete(exposure, from)
	exposure[to] = list
	from, to = "exposure."+from, "exposure."+to
	if at, ok := src.at[from]; ok {
		src.at[to] = at
	}
	for i := range list {
		if at, ok := src.at[grammar.Element(from, i)]; ok {
			src.at[grammar.Element(to, i)] = at
		}
	}
}

// treeOf returns what the notebook of a trial says.
func treeOf(t *sensito.Trial) map[string]any {
	var tree map[string]any
	if err := toml.Unmarshal(notebook.Format(t), &tree); err != nil {
		panic("notebook: " + err.Error()) // what Format writes can be read
	}
	return tree
}

func sortedKeys[V any](m map[string]V) []string { return slices.Sorted(maps.Keys(m)) }
