package table

import (
	"errors"
	"fmt"
	"strings"

	"sensito/sensito/notebook/internal/grammar"
	"sensito/sensito/printable"
)

// cgatsLine is a line of measurement data taken apart at its blanks.
type cgatsLine struct {
	line  string // without its comment
	words []cgatsToken
}

// cgatsToken is a word or a string in quotes.
type cgatsToken struct {
	text       string // without the quotes
	quoted     bool
	start, end int // in the line, with the quotes
}

// splitCGATS takes a line apart. Words and strings are parted by blanks and tabs;
// a string stands in double quotes, and # outside them begins a comment.
func splitCGATS(line string) (cgatsLine, error) {
	for part := range strings.SplitSeq(line, "\t") {
		if err := printable.CheckLine(part, grammar.MaxBytes); err != nil {
			return cgatsLine{}, err
		}
	}
	l := cgatsLine{line: line}
	for i := 0; i < len(line); {
		rest := line[i:]
		switch {
		case rest[0] == ' ' || rest[0] == '\t':
			i++
			continue
		case rest[0] == '#':
			l.line = line[:i]
			return l, nil
		case rest[0] == '"':
			n := strings.IndexByte(rest[1:], '"')
			if n < 0 {
				return cgatsLine{}, errors.New("has a quote that is not closed on its line")
			}
			l.words = append(l.words, cgatsToken{rest[1 : n+1], true, i, i + n + 2})
			if i += n + 2; i < len(line) && strings.IndexByte(" \t#", line[i]) < 0 {
				return cgatsLine{}, errors.New("has no blank after a closing quote")
			}
			continue
		}
		n := strings.IndexAny(rest, " \t#\"")
		if n < 0 {
			n = len(rest)
		}
		l.words = append(l.words, cgatsToken{rest[:n], false, i, i + n})
		if i += n; i < len(line) && line[i] == '"' {
			return cgatsLine{}, fmt.Errorf("has a quote within the word %q", clip(rest[:n]))
		}
	}
	return l, nil
}

// from returns the line without its first words.
func (l cgatsLine) from(word int) cgatsLine {
	l.words = l.words[word:]
	if len(l.words) > 0 {
		skip := l.words[0].start
		l.line = l.line[skip:]
		words := make([]cgatsToken, len(l.words))
		for i, w := range l.words {
			words[i] = cgatsToken{w.text, w.quoted, w.start - skip, w.end - skip}
		}
		l.words = words
	}
	return l
}

// text returns words i to j-1 as one text: one word or string, or words with the
// blanks between them. It cannot be had if a string stands beside others.
func (l cgatsLine) text(i, j int) (string, bool) {
	switch words := l.words[i:j]; len(words) {
	case 0:
		return "", true
	case 1:
		return words[0].text, true
	default:
		for _, w := range words {
			if w.quoted {
				return "", false
			}
		}
		return l.line[words[0].start:words[len(words)-1].end], true
	}
}

// cells returns what stands between the tabs of a line, and whether each is one
// text; a tab in quotes parts nothing.
func (l cgatsLine) cells() (cells []string, ok bool) {
	ok = true
	first, at := 0, 0
	for i := 0; i <= len(l.words); i++ {
		end := len(l.line)
		if i < len(l.words) {
			end = l.words[i].start
		}
		for range strings.Count(l.line[at:end], "\t") {
			text, one := l.text(first, i)
			cells, ok, first = append(cells, text), ok && one, i
		}
		if i < len(l.words) {
			at = l.words[i].end
		}
	}
	text, one := l.text(first, len(l.words))
	return append(cells, text), ok && one
}

// row returns the n cells of a line of data. In a table that follows the
// convention of one tab between fields, blanks belong to the cells. Where a line
// does not fit it, it is read by the standard only if blanks alone or tabs part
// all of its words, so that no word can move to another field.
func (l cgatsLine) row(n int, tabbed bool) ([]string, error) {
	if tabbed {
		tabs := 0 // gaps between words that hold a tab
		for i := 1; i < len(l.words); i++ {
			if strings.ContainsRune(l.line[l.words[i-1].end:l.words[i].start], '\t') {
				tabs++
			}
		}
		if tabs > 0 {
			cells, ok := l.cells()
			switch {
			case ok && len(cells) == n:
				return cells, nil
			case tabs < len(l.words)-1:
				return nil, fmt.Errorf("has %d of %d values, counted by the tabs that part the field names as well", len(cells), n)
			}
		}
	}
	if len(l.words) != n {
		return nil, fmt.Errorf("has %d of %d values", len(l.words), n)
	}
	cells := make([]string, n)
	for i, w := range l.words {
		cells[i] = w.text
	}
	return cells, nil
}
