package grammar

import (
	"encoding/binary"
	"errors"
	"regexp"
	"strings"
	"unicode/utf8"

	"github.com/pelletier/go-toml/v2"
)

// plainly are the decoder's messages, matched in order, and what they mean to
// somebody who keeps a notebook.
var plainly = [][2]string{
	{`new lines|^unterminated|not terminated`, `a quote that closes the text is missing`},
	{`^array is incomplete`, `a ] that closes the list is missing`},
	{`^inline table is incomplete|^expected ',' or '}'`, `a } that closes the table is missing, or a comma in it`},
	{`^expected (']+') to close`, `a header is written [film] or [[strip]]: $1 is missing`},
	{`^expected '=' after key`, `a line is KEY = VALUE, and = is missing`},
	{`^invalid character at start of key: U\+\w+ ('.+')`, `a line begins with a key of letters, not with $1`},
	{`^unexpected character U\+000[AD]|^expected value, not end`, `a value is missing after =`},
	{`^unexpected character U\+002E`, `a number does not begin with a point: write 0.5`},
	{`^unexpected character U\+\w+ '\p{L}'|^strings must be quoted|^expected keyword`, `a value is a number, or text in "quotes"; a step that was not read is nan`},
	{`^unexpected character U\+\w+ ('.+') at start of value`, `a value is a number, or text in "quotes", and does not begin with $1`},
	{`^expected ',' or '\]' after array value`, `the values of a list are parted by commas, numbers written with a decimal point`},
	{`^expected value but got U\+002C`, `a value is missing between two commas; a step that was not read is nan`},
	{`got U\+003A ':'$`, `a time is written in quotes, like "5:30"`},
	{`got U\+002C ','$`, `a number is written with a decimal point, and a line holds one value`},
	{`^expected newline but got U\+\w+ ('.+')$`, `$1 is left over: a line holds one value`},
	{`leading zero`, `a number does not begin with 0; is there a decimal comma? write a point`},
	{`^decimal point must be followed|^exponent must|^expected number|^expected digit|underscore`, `the number is not complete`},
	{`value out of range|too large`, `the number is too large`},
	{`impossible date`, `there is no such date`},
	{`^dates are expected`, `a date is written like 2026-03-01`},
	{`^hour cannot|^minutes cannot|^seconds cannot|^times are expected|^expecting colon`, `a time is written in quotes, like "5:30"`},
	{`^key (\S+) is already defined|^key (\S+) already exists as a value`, `$1$2 is there twice`},
	{`^table (\S+) already exists$`, `[$1] is there twice: put what is below them together`},
	{`^(?:table|key) (\S+) already exists as an? `, `$1 is written in two ways: as [$1], [[$1]] or a key`},
	{`invalid UTF-8`, `is not text in UTF-8`},
	{`(?i)escape|need a character after`, `in text a backslash \ is written twice`},
	{`nested more than`, `lists within lists go too deep`},
}

// NotUTF8 says what is wrong with a notebook in UTF-16 or UTF-32, "" for any other: one that
// begins with the byte order mark of them or, since its text begins in ASCII, with a letter of
// two bytes or four.
func NotUTF8(data []byte) string {
	form := ""
	switch {
	case inUTF32(data):
		form = "UTF-32"
	case len(data) < 2:
	default:
		a, b := data[0], data[1]
		if a == 0xff && b == 0xfe || a == 0xfe && b == 0xff || (a == 0) != (b == 0) {
			form = "UTF-16"
		}
	}
	if form == "" {
		return ""
	}
	return "is text in " + form + "; save it as UTF-8, in which a notebook is written"
}

// inUTF32 says whether a text begins with the byte order mark of UTF-32, or with a letter of
// ASCII of four bytes.
func inUTF32(data []byte) bool {
	const letter = 4 // bytes
	if len(data) < letter {
		return false
	}
	little, big := binary.LittleEndian.Uint32(data), binary.BigEndian.Uint32(data)
	is := func(v uint32) bool { return v == '\ufeff' || 0 < v && v < utf8.RuneSelf }
	return is(little) || is(big)
}

// SyntaxError says where and why a file is not well-formed.
func SyntaxError(file string, err error) *Error {
	e := &Error{File: file, Line: 1, Msg: strings.TrimPrefix(err.Error(), "toml: ")}
	var at *toml.DecodeError
	if errors.As(err, &at) {
		e.Line, _ = at.Position()
	}
	for _, p := range plainly {
		if match := regexp.MustCompile(p[0]); match.MatchString(e.Msg) {
			found := match.FindStringSubmatchIndex(e.Msg)
			e.Msg = string(match.ExpandString(nil, p[1], e.Msg, found))
			break
		}
	}
	return e
}
