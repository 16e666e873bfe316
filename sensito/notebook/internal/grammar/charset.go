package grammar

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"slices"
	"unicode"
	"unicode/utf16"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"
)

// DecodeText returns the text of a file without its byte order mark, and the
// name of its characters, "" for UTF-8. They are UTF-16 by the mark or by the
// zeros between its letters, and Windows-1252, which holds Latin-1, where the
// bytes are text but not UTF-8. The error is of type Errors.
func DecodeText(name string, data []byte) (text, charset string, err error) {
	refuse := func(at int, format string, args ...any) error {
		return Errors{{File: name, Line: 1 + bytes.Count(data[:at], []byte("\n")), Msg: fmt.Sprintf(format, args...)}}
	}
	order, body := utf16Order(data)
	switch {
	case inUTF32(data):
		return "", "", refuse(0, "is text in UTF-32; save the table as CSV in UTF-8")
	case order != nil && len(body)%2 != 0:
		return "", "", refuse(0, "is cut short: text in UTF-16 has an even number of bytes")
	case order != nil:
		units := make([]uint16, 0, len(body)/2)
		for ; len(body) > 0; body = body[2:] {
			units = append(units, order.Uint16(body))
		}
		return string(utf16.Decode(units)), "UTF-16", nil
	}
	body = bytes.TrimPrefix(data, []byte("\ufeff"))
	if utf8.Valid(body) {
		return string(body), "", nil
	}
	bad := FirstInvalid(data)
	switch {
	case len(body) < len(data), hasRunes(data[:bad]): // a file that says it is UTF-8, or is as far as that
		return "", "", refuse(bad, "is not text in UTF-8; save the table as CSV in UTF-8")
	case slices.ContainsFunc(data, func(b byte) bool { return b < ' ' && !bytes.ContainsRune([]byte("\t\n\v\f\r\x1a"), rune(b)) }):
		return "", "", refuse(bad, "is not text; save the table as CSV in UTF-8")
	}
	for i, b := range data {
		if r := charmap.Windows1252.DecodeByte(b); b >= utf8.RuneSelf && (r == utf8.RuneError || unicode.IsControl(r)) {
			return "", "", refuse(i, "has the byte %#x, which is of no letter in UTF-8 or Windows-1252; save the table as CSV in UTF-8", b)
		}
	}
	decoded, err := charmap.Windows1252.NewDecoder().Bytes(data)
	if err != nil {
		return "", "", refuse(bad, "is not text in UTF-8: %v", err)
	}
	return string(decoded), "Windows-1252 (Latin-1)", nil
}

// hasRunes says whether text that is valid in UTF-8 has a letter of more than
// one byte.
func hasRunes(data []byte) bool {
	return slices.ContainsFunc(data, func(b byte) bool { return b >= utf8.RuneSelf })
}

// utf16Order returns how the bytes of text in UTF-16 lie, nil for other text,
// and the text without its mark. Without a mark, every other byte of the first
// line is zero, as the letters of a heading are.
func utf16Order(data []byte) (order binary.ByteOrder, body []byte) {
	switch {
	case bytes.HasPrefix(data, []byte{0xff, 0xfe}):
		return binary.LittleEndian, data[2:]
	case bytes.HasPrefix(data, []byte{0xfe, 0xff}):
		return binary.BigEndian, data[2:]
	}
	const enough = 8 // bytes, four letters
	if len(data) < enough {
		return nil, data
	}
	zeros := [2]int{}
	for i, b := range data[:enough] {
		if b == 0 {
			zeros[i%2]++
		}
	}
	switch zeros {
	case [2]int{0, enough / 2}:
		return binary.LittleEndian, data
	case [2]int{enough / 2, 0}:
		return binary.BigEndian, data
	}
	return nil, data
}

// FirstInvalid returns where text that is not UTF-8 begins.
func FirstInvalid(data []byte) int {
	for i := 0; i < len(data); {
		r, n := utf8.DecodeRune(data[i:])
		if r == utf8.RuneError && n == 1 {
			return i
		}
		i += n
	}
	return len(data)
}
