package screen

import (
	"net/url"
	"strings"

	"sensito/sensito/answers"
	"sensito/sensito/printable"
)

// A Run is a piece of a sentence: plain, or bold, or a link.
type Run struct {
	Text    string
	Bold    bool
	Address string // of a link; "" for none
}

// say returns a sentence that is plain from end to end.
func say(text string) []Run { return []Run{{Text: printable.Text(text)}} }

// linked returns a sentence whose words are a link, the whole where they are not in it.
// Without an address it is plain.
func linked(sentence, words, address string) []Run {
	sentence, words = printable.Text(sentence), printable.Text(words)
	at := strings.LastIndex(sentence, words)
	switch {
	case address == "":
		return []Run{{Text: sentence}}
	case at < 0 || words == "":
		return []Run{{Text: sentence, Address: address}}
	}
	return runs(Run{Text: sentence[:at]}, Run{Text: words, Address: address}, Run{Text: sentence[at+len(words):]})
}

// bold returns a sentence in which the figures, in their order, are bold.
func bold(sentence string, figures ...string) []Run {
	rest := printable.Text(sentence)
	var out []Run
	for _, f := range figures {
		before, after, found := strings.Cut(rest, f)
		if f == "" || !found {
			continue
		}
		out = append(out, Run{Text: before}, Run{Text: f, Bold: true})
		rest = after
	}
	return runs(append(out, Run{Text: rest})...)
}

// runs returns those that say something.
func runs(all ...Run) []Run {
	var out []Run
	for _, r := range all {
		if r.Text != "" {
			out = append(out, r)
		}
	}
	return out
}

// A Note stands in the margin: what it is about, then a sentence or two. One that asks for
// an act is marked.
type Note struct {
	About  string
	Text   []Run
	Marked bool
}

// An Addresses returns the address of the page of a file of the notebook, "" where it has
// none, as in a report.
type Addresses func(file string) string

// under returns an address below that of a file, "" where the file has none.
func under(address, path string) string {
	if address == "" {
		return ""
	}
	return address + path
}

// keying returns the address below which a trial of the address of its page is keyed in,
// be it of film or of paper.
func keying(at string) string {
	if at == "" {
		return ""
	}
	return "/t" + at[strings.LastIndex(at, "/"):]
}

// named returns the name at the end of the address of a file, as a query has it.
func named(address string) string {
	name, err := url.PathUnescape(address[strings.LastIndex(address, "/")+1:])
	if err != nil {
		return ""
	}
	return name
}

// term returns the address of a word of the glossary.
func term(word string) string { return "/help/words#" + TermID(word) }

// TermID returns what a word of the glossary is called within its page: "base-plus-fog".
func TermID(word string) string {
	keep := func(r rune) rune {
		switch {
		case r >= 'a' && r <= 'z', r >= '0' && r <= '9', r == '-', r == '+':
			return r
		case r >= 'A' && r <= 'Z':
			return r + 'a' - 'A'
		case r == ' ':
			return '-'
		case r > '~':
			return r
		}
		return -1
	}
	return strings.Map(keep, strings.TrimSpace(word))
}

// capital returns a text that begins as a sentence does.
func capital(text string) string {
	if text == "" {
		return ""
	}
	return strings.ToUpper(text[:1]) + text[1:]
}

// counted returns a number with its noun within a sentence: "five strips".
func counted(n int, noun string) string {
	text := answers.Counted(n, noun)
	return strings.ToLower(text[:1]) + text[1:]
}

// listed joins parts as a sentence does: "a, b and c".
func listed(parts []string) string {
	if n := len(parts); n > 1 {
		return strings.Join(parts[:n-1], ", ") + " and " + parts[n-1]
	}
	return strings.Join(parts, "")
}

// query returns an address with its query, whose keys and values are given in turn.
func query(path string, pairs ...string) string {
	var parts []string
	for i := 0; i+1 < len(pairs); i += 2 {
		parts = append(parts, url.QueryEscape(pairs[i])+"="+url.QueryEscape(pairs[i+1]))
	}
	return path + "?" + strings.Join(parts, "&")
}
