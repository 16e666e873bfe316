package table

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"sensito/sensito/internal/lazy"
	"sensito/sensito/notebook/internal/grammar"
)

// cell is text of a table, or of a flag, and where it stands.
type cell struct {
	text string
	place
}

// place is where a value stands in a file that is being imported.
type place struct {
	line int
	name string // of its column, keyword or flag; "" in a notebook or JSON, where the key names it
}

var (
	plainNumber    = lazy.Regexp(`^[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?$`)
	withPoint      = lazy.Regexp(`^[+-]?(\d*\.\d+|\d+\.)([eE][+-]?\d+)?$|^[+-]?\d+[eE][+-]?\d+$`)
	withComma      = lazy.Regexp(`^[+-]?\d*,\d+$`)
	perhapsGrouped = lazy.Regexp(`^[+-]?[1-9]\d{0,2},\d{3}$`)
)

// guessDecimal returns the decimal mark of numbers, and how sure it is: found is
// false where no number has one.
func guessDecimal(numbers []cell) (mark rune, found bool, fault *grammar.Error) {
	var point, comma, either *cell
	note := func(at **cell, c *cell) {
		if *at == nil {
			*at = c
		}
	}
	for i := range numbers {
		c := &numbers[i]
		switch text := bare(c.text); {
		case withPoint().MatchString(text):
			note(&point, c)
		case perhapsGrouped().MatchString(text):
			note(&either, c)
		case withComma().MatchString(text):
			note(&comma, c)
		}
	}
	at := func(c *cell, format string, args ...any) *grammar.Error {
		return &grammar.Error{Line: c.line, Key: c.name, Msg: fmt.Sprintf(format, args...)}
	}
	switch {
	case point != nil && comma != nil:
		return 0, false, at(comma, "%q has a decimal comma, but %q in line %d a point; give --decimal comma or --decimal point to have the others named",
			comma.text, point.text, point.line)
	case point != nil:
		return '.', true, nil
	case comma != nil:
		return ',', true, nil
	case either != nil:
		plain := strings.Replace(bare(either.text), ",", ".", 1)
		return 0, false, at(either, "%q is %s with a decimal comma and %s with a mark of thousands; give --decimal comma or --decimal point",
			either.text, plain, strings.Replace(plain, ".", "", 1))
	}
	return '.', false, nil
}

// printed holds the signs that are typed otherwise: a minus, and marks of minutes
// and seconds.
var printed = strings.NewReplacer("\u2212", "-", "\u2032", "'", "\u2019", "'", "\u2033", `"`, "\u201d", `"`, "''", `"`)

// bare returns the text of a number without what a spreadsheet may put around it.
func bare(text string) string {
	return printed.Replace(strings.Trim(text, " \u00a0\u202f")) // no-break blanks
}

// parseNumber reads a number with the given decimal mark. The reason says what
// is wrong with it, "" for nothing.
func parseNumber(text string, decimal rune) (v float64, reason string) {
	plain := bare(text)
	switch {
	case decimal == ',' && strings.Contains(plain, "."):
		return math.NaN(), fmt.Sprintf("%q has a point, but the decimal mark is a comma", clip(text))
	case decimal == ',':
		plain = strings.Replace(plain, ",", ".", 1)
	case strings.Contains(plain, ","):
		return math.NaN(), fmt.Sprintf("%q has a comma, but the decimal mark is a point, and marks of thousands are not read", clip(text))
	}
	if !plainNumber().MatchString(plain) {
		return math.NaN(), fmt.Sprintf("%q is not a number", clip(text))
	}
	v, err := strconv.ParseFloat(plain, 64)
	if err != nil {
		return math.NaN(), fmt.Sprintf("%q is beyond any number", clip(text))
	}
	return v, ""
}

// eitherNumber reads a number whose decimal mark is not settled yet.
func eitherNumber(text string) (float64, bool) {
	v, err := strconv.ParseFloat(strings.Replace(bare(text), ",", ".", 1), 64)
	return v, err == nil && !math.IsNaN(v)
}

// notRead says whether a cell stands for a step that was not read.
func notRead(text string) bool {
	return slices.Contains([]string{"", "-", "--", "\u2013", "\u2014", "nan", "na", "n/a", "#n/a"}, strings.ToLower(text))
}

// splitList returns the numbers of a cell that holds several.
func splitList(text string) []string {
	return strings.FieldsFunc(text, func(r rune) bool { return r == ' ' || r == ';' || r == '/' || r == '\u00a0' || r == '\t' })
}
