package notebook

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"strings"
	"testing"
	"unicode/utf16"

	"github.com/stretchr/testify/assert"

	"sensito/sensito/notebook/notebooktest"
)

func manyKeys(n int) string {
	var b strings.Builder
	for i := range n {
		fmt.Fprintf(&b, "k%d = 1\n", i)
	}
	return b.String()
}

// badSyntax are notebooks that are not well-formed TOML, or not to be decoded.
var badSyntax = []badCase{
	bad("not TOML", all, "density 1.0 0.9\n",
		"1: a line is KEY = VALUE, and = is missing"),
	bad("unclosed string", `"T"`, `"T`,
		"1: a quote that closes the text is missing"),
	bad("unclosed list", "0.50,\n]\n", "0.50,\n",
		"22: a ] that closes the list is missing"),
	bad("key twice", "seconds = 0.5", "seconds = 0.5\nseconds = 0.6",
		"13: seconds is there twice"),
	bad("table twice", "[reading]", "[film]\n[reading]",
		"14: [film] is there twice: put what is below them together"),
	bad("leading zero", "rated_speed = 125", "rated_speed = 0125",
		"4: a number does not begin with 0; is there a decimal comma? write a point"),
	bad("decimal comma", "seconds = 0.5", "seconds = 0,5",
		"12: a number is written with a decimal point, and a line holds one value"),
	bad("time without quotes", "minutes = 5.5", "minutes = 5:30",
		`17: a time is written in quotes, like "5:30"`),
	bad("impossible date", "minutes = 5.5", "minutes = 5.5\ndeveloped = 2026-02-30",
		"18: there is no such date"),
	bad("number too large", "seconds = 0.5", "seconds = 1e999",
		"12: the number is too large"),
	bad("not UTF-8", `"T"`, "\"\xff\"",
		"1: is not text in UTF-8"),
	bad("text without quotes", "\"Larkfield 125\"", "Larkfield 125",
		`3: a value is a number, or text in "quotes"; a step that was not read is nan`),
	bad("text in typographic quotes", "\"Larkfield 125\"", "\u201cLarkfield 125\u201d",
		`3: a value is a number, or text in "quotes"; a step that was not read is nan`),
	bad("no value", "rated_speed = 125", "rated_speed =",
		"4: a value is missing after ="),
	bad("no key", "rated_speed = 125", "= 125",
		"4: a line begins with a key of letters, not with '='"),
	bad("colon for equals", "rated_speed = 125", "rated_speed: 125",
		"4: a line is KEY = VALUE, and = is missing"),
	bad("header not closed", "[film]", "[film",
		"2: a header is written [film] or [[strip]]: ']' is missing"),
	bad("double header not closed", "[[strip]]", "[[strip]",
		"16: a header is written [film] or [[strip]]: ']]' is missing"),
	bad("header with more", "[film]", "[film] 125",
		"2: '1' is left over: a line holds one value"),
	bad("table and list of tables", "[reading]", "[strip]\nminutes = 1\n[reading]",
		"18: strip is written in two ways: as [strip], [[strip]] or a key"),
	bad("value twice on a line", "seconds = 0.5", "seconds = 0.5 0.6",
		"12: '0' is left over: a line holds one value"),
	bad("number without its nought", "seconds = 0.5", "seconds = .5",
		"12: a number does not begin with a point: write 0.5"),
	bad("number cut short", "seconds = 0.5", "seconds = 0.",
		"12: the number is not complete"),
	bad("semicolons in a list", "0.05, 0.20, 0.35]", "0,05; 0,20; 0,35]",
		"13: a number does not begin with 0; is there a decimal comma? write a point"),
	bad("comma missing in a list", "0.05, 0.20, 0.35]", "0.05 0.20, 0.35]",
		"13: the values of a list are parted by commas, numbers written with a decimal point"),
	bad("gap in a list", "0.05, 0.20, 0.35]", "0.05, , 0.35]",
		"13: a value is missing between two commas; a step that was not read is nan"),
	bad("step not read in words", "  0.80,", "  n/a,",
		`21: a value is a number, or text in "quotes"; a step that was not read is nan`),
	bad("time of day that is none", "minutes = 5.5", "minutes = 05:75",
		`17: a time is written in quotes, like "5:30"`),
	bad("date without noughts", "minutes = 5.5", "minutes = 5.5\ndeveloped = 2026-3-1",
		"18: a date is written like 2026-03-01"),
	bad("thirteenth month", "minutes = 5.5", "minutes = 5.5\ndeveloped = 2026-13-01",
		"18: there is no such date"),
	bad("backslash", `"T"`, `"C:\Tern"`,
		`1: in text a backslash \ is written twice`),
	bad("whole number too large", "rated_speed = 125", "rated_speed = 99999999999999999999",
		"4: the number is too large"),
	bad("inline table not closed", notebooktest.Film, "film = {name = \"Larkfield 125\"\n",
		"3: a } that closes the table is missing, or a comma in it"),
	bad("lists within lists", "0.05, 0.20, 0.35]", strings.Repeat("[", 10_001),
		"13: lists within lists go too deep"),
	bad("keys by the thousand", "rated_speed = 125\n", manyKeys(6000),
		"4473: has too many keys, or one too long; a table of a notebook has fewer than 100"),
	bad("tables by the thousand", "[reading]", strings.Repeat("[reading]\n", 5000),
		"4472: has too many keys, or one too long; a table of a notebook has fewer than 100"),
	bad("dotted key without end", `title = "T"`, "a"+strings.Repeat(".a", 6000)+" = 1",
		"1: has too many keys, or one too long; a table of a notebook has fewer than 100"),
}

func TestUTF16And32(t *testing.T) {
	const text = "[film]\nname = \"Tern 400\"\n"
	for order, put := range map[string]binary.AppendByteOrder{"little": binary.LittleEndian, "big": binary.BigEndian} {
		for _, mark := range []string{"\ufeff", ""} {
			encoded := map[string][]byte{}
			for _, unit := range utf16.Encode([]rune(mark + text)) {
				encoded["UTF-16"] = put.AppendUint16(encoded["UTF-16"], unit)
			}
			for _, letter := range mark + text {
				encoded["UTF-32"] = put.AppendUint32(encoded["UTF-32"], uint32(letter))
			}
			for form, data := range encoded {
				want := "a.toml:1: is text in " + form + "; save it as UTF-8, in which a notebook is written"
				_, err := Read("a.toml", bytes.NewReader(data))
				assert.EqualError(t, err, want, order)
				_, err = ReadControl("a.toml", bytes.NewReader(data))
				assert.EqualError(t, err, want, order)
				_, err = ReadProcedure("a.toml", bytes.NewReader(data))
				assert.EqualError(t, err, want, order)
				_, err = ReadRoll("a.toml", bytes.NewReader(data))
				assert.EqualError(t, err, want, order)
			}
		}
	}
}
