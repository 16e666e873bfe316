package grammar

import (
	"bytes"

	"github.com/pelletier/go-toml/v2"
)

// Decoding takes time with the square of the number of keys in one table, and
// with the length of a key. These allow for tables of 4000 keys, where one of a
// notebook has fewer than 100.
const (
	maxKey  = 10_000 // bytes
	maxWork = 10_000_000

	// So few bytes hold no such key, nor so many: each is one at most.
	tooFew = 4_000
)

// TooManyKeys says why a file is refused that would take too long to read; see
// Crowded.
const TooManyKeys = "has too many keys, or one too long; a table of a notebook has fewer than 100"

// listHeader returns the name, of one part, of a list of tables whose element a line begins;
// nil for other lines.
func listHeader(line []byte) []byte {
	const blanks = "\t\n\f\r "
	rest, ok := bytes.CutPrefix(line, []byte("[["))
	rest = bytes.TrimLeft(rest, blanks)
	end := bytes.IndexAny(rest, "]."+blanks)
	if !ok || end <= 0 || !bytes.HasPrefix(bytes.TrimLeft(rest[end:], blanks), []byte("]]")) {
		return nil
	}
	return rest[:end]
}

// Crowded returns the line at which TOML holds more keys than can be decoded in
// a moment, or 0. It counts as the decoder does: a key is looked for among those
// of its table, a header among all keys, save those of the elements before it of
// the same list of tables.
func Crowded(data []byte) (line int) {
	if len(data) <= tooFew {
		return 0
	}
	return crowded(data)
}

func crowded(data []byte) (line int) {
	live, start, work := 0, 0, 0 // keys there are, those before the table, comparisons
	list := ""                   // of tables, the one whose element is being read
	first, own := map[string]int{}, map[string]int{}
	var inline []int
	for text := range bytes.Lines(data) {
		line++
		text = bytes.TrimLeft(text, " \t")
		if len(text) == 0 || text[0] == '#' {
			continue
		}
		if text[0] == '[' && !bytes.ContainsRune(text[:min(len(text), maxKey)], ',') {
			work += live + 1
			name := listHeader(text)
			if inline = inline[:0]; string(name) != list {
				list = string(name)
			}
			if list != "" {
				live -= own[list]
				own[list] = 0
				if _, seen := first[list]; !seen {
					first[list] = live
				}
			}
			start = live
			if list != "" {
				start = min(live, first[list])
			}
			live++
			own[list]++
		}
		from := 0
		for i, c := range text {
			switch c {
			case ',', '[':
				from = i + 1
			case '{':
				from = i + 1
				inline = append(inline, live)
			case '}':
				inline = inline[:max(0, len(inline)-1)]
			case ']', '=':
				if i-from > maxKey {
					return line
				}
				if c == ']' {
					break
				}
				from = i + 1
				work += live + 1 - start
				if n := len(inline); n > 0 {
					work += start - inline[n-1]
				}
				live++
				own[list]++
			}
		}
		if work > maxWork || len(inline) > MaxStrips {
			return line
		}
	}
	return 0
}

// WellFormed says whether data is TOML.
func WellFormed(data []byte) bool {
	var root map[string]any
	return Crowded(data) == 0 && toml.Unmarshal(data, &root) == nil
}
