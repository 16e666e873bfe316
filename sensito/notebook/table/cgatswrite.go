package table

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"strings"
	"unicode/utf8"
)

// Write writes measurement data for ReadCGATS to give back: keywords as the
// standard has them, private ones and private fields declared, strings in
// quotes, one set a line, tabs between. An empty ID is written as CGATS.17.
// Letters beyond ASCII, for which the standard has no place, are written in
// UTF-8, within strings only. The error names what the format cannot hold: a
// double quote or a line break in a string, a bad name, a row of another length
// than the fields, a word where the standard has a number. Then nothing is
// written.
func (c *CGATS) Write(w io.Writer) error {
	id := c.ID
	if id == "" {
		id = "CGATS.17"
	}
	switch upper := strings.ToUpper(id); {
	case !cgatsWord(id), cgatsStructure[upper], cgatsKeywords[upper]:
		return fmt.Errorf("%q cannot identify a file", clip(id))
	case len(c.Tables) == 0:
		return errors.New("there is no table to write")
	}
	var b bytes.Buffer
	for i := range c.Tables {
		b.WriteString(id + "\n")
		if err := c.Tables[i].write(&b); err != nil {
			return fmt.Errorf("table %d: %w", i+1, err)
		}
	}
	_, err := w.Write(b.Bytes())
	return err
}

func (t *CGATSTable) write(b *bytes.Buffer) error {
	declared := map[string]bool{}
	declare := func(word string) {
		if !declared[word] {
			declared[word] = true
			fmt.Fprintf(b, "KEYWORD\t\"%s\"\n", word)
		}
	}
	for _, h := range t.Header {
		switch {
		case !cgatsWord(h.Keyword), h.Keyword != strings.ToUpper(h.Keyword), cgatsStructure[h.Keyword], h.Keyword == "KEYWORD":
			return fmt.Errorf("%q cannot be a keyword", clip(h.Keyword))
		case !cgatsKeywords[h.Keyword]:
			declare(h.Keyword)
		}
		value, err := cgatsString(h.Value)
		if err != nil {
			return fmt.Errorf("%s: %w", h.Keyword, err)
		}
		fmt.Fprintf(b, "%s\t%s\n", h.Keyword, value)
	}
	if n := len(t.Fields); n == 0 || n > maxFields {
		return fmt.Errorf("has %d fields; a table has 1 to %d", n, maxFields)
	}
	for _, name := range t.Fields {
		switch upper := strings.ToUpper(name); {
		case !cgatsWord(name), cgatsStructure[upper], cgatsField(upper) && name != upper:
			return fmt.Errorf("%q cannot be a field name", clip(name))
		case !cgatsField(name):
			declare(name)
		}
	}
	fmt.Fprintf(b, "NUMBER_OF_FIELDS\t%d\nBEGIN_DATA_FORMAT\n%s\nEND_DATA_FORMAT\n", len(t.Fields), strings.Join(t.Fields, "\t"))
	fmt.Fprintf(b, "NUMBER_OF_SETS\t%d\nBEGIN_DATA\n", len(t.Rows))
	for i, row := range t.Rows {
		if len(row) != len(t.Fields) {
			return fmt.Errorf("row %d has %d of %d values", i+1, len(row), len(t.Fields))
		}
		for j, cell := range row {
			if j > 0 {
				b.WriteByte('\t')
			}
			text, err := cgatsCell(t.Fields[j], cell)
			if err != nil {
				return fmt.Errorf("row %d: %s: %w", i+1, t.Fields[j], err)
			}
			b.WriteString(text)
		}
		b.WriteByte('\n')
	}
	b.WriteString("END_DATA\n")
	return nil
}

func cgatsCell(field, cell string) (string, error) {
	if cgatsNumeric(field) && cell != "" {
		if fault := cgatsNumberFault(cell); fault != "" {
			return "", fmt.Errorf("%q %s", clip(cell), fault)
		}
	}
	if plainNumber().MatchString(cell) {
		return cell, nil
	}
	return cgatsString(cell)
}

// cgatsString returns a text in quotes.
func cgatsString(s string) (string, error) {
	bad := func(r rune) bool { return r == '"' || r < ' ' && r != '\t' || r == 0x7f }
	if strings.IndexFunc(s, bad) >= 0 || !utf8.ValidString(s) {
		return "", fmt.Errorf("%q has a character that CGATS cannot hold: a double quote, a line break or a control character", clip(s))
	}
	return `"` + s + `"`, nil
}
