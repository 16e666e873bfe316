package printable

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf16"
	"unicode/utf8"
)

// The longest texts that are taken, in characters: far above what anybody writes.
const (
	MaxName = 200 // of a title, or the name of a film or a developer
	maxNote = 2000
)

// prints says whether a character shows, or is a blank. Control characters, ends
// of lines and marks that turn the direction of text do not; the joiners do,
// without which some scripts cannot be written.
func prints(r rune) bool {
	return plain(r) || unicode.IsGraphic(r) || unicode.Is(unicode.Join_Control, r)
}

// plain says whether a character is one of ASCII that prints, as nearly all are.
func plain(r rune) bool { return r >= ' ' && r < utf8.RuneSelf-1 }

// Plain says whether a text is of characters of ASCII that print, as most of JSON is.
func Plain(s []byte) bool {
	return !slices.ContainsFunc(s, func(c byte) bool { return !plain(rune(c)) })
}

// Text returns s with an escape, such as \n, \x1b or \u202e, in place of
// each character that does not print and of each byte that is not UTF-8. It is
// for what was not checked, such as the name of a file.
func Text(s string) string { return printable(s, prints) }

// Lines is Text for text of several lines, whose ends and tabs stay.
func Lines(s string) string {
	return printable(s, func(r rune) bool { return r == '\n' || r == '\t' || prints(r) })
}

// JSON returns JSON of the same meaning whose strings hold nothing that
// does not print.
func JSON(s string) string {
	return escaped(s, func(r rune) bool { return r == '\n' || r == '\t' || r == '\r' || prints(r) }, func(r string) string {
		text := ""
		for _, unit := range utf16.Encode([]rune(r)) {
			text += fmt.Sprintf(`\u%04x`, unit)
		}
		return text
	})
}

func printable(s string, keep func(rune) bool) string {
	return escaped(s, keep, func(r string) string {
		quoted := strconv.QuoteToASCII(r)
		return quoted[1 : len(quoted)-1]
	})
}

// escaped returns s with the escapes of the characters that are not to be kept.
func escaped(s string, keep func(rune) bool, escape func(string) string) string {
	at, n := unprinted(s, keep)
	if n == 0 {
		return s
	}
	var b strings.Builder
	for ; n > 0; at, n = unprinted(s, keep) {
		b.WriteString(s[:at] + escape(s[at:at+n]))
		s = s[at+n:]
	}
	return b.String() + s
}

// unprinted returns where the first character is that is not to be kept, and how
// many bytes it has; 0 where there is none.
func unprinted(s string, keep func(rune) bool) (at, n int) {
	for i, r := range s {
		switch {
		case plain(r): // which everybody keeps
		case r == utf8.RuneError:
			if _, n := utf8.DecodeRuneInString(s[i:]); n == 1 {
				return i, 1
			}
		case !keep(r):
			return i, utf8.RuneLen(r)
		}
	}
	return 0, 0
}

// Brief returns printable text of at most so many characters, with dots in place
// of the middle of a longer one.
func Brief(s string, most int) string {
	const dots = " ... "
	r := []rune(Text(s))
	if len(r) <= most {
		return string(r)
	}
	half := (most - len(dots)) / 2
	return string(r[:half]) + dots + string(r[len(r)-half:])
}

// CheckLine returns an error for a text that is not one line of at most so many
// characters, all of which print.
func CheckLine(s string, most int) error { return checkText(s, most, prints) }

// CheckNote returns an error for a text of more than 2000 characters, and for one
// with a character that does not print, its line ends and tabs aside.
func CheckNote(s string) error {
	return checkText(s, maxNote, func(r rune) bool { return r == '\n' || r == '\r' || r == '\t' || prints(r) })
}

// checkText returns an error that shows the text about its fault.
func checkText(s string, most int, keep func(rune) bool) error {
	const shown = 40 // characters to either side
	if utf8.RuneCountInString(s) > most {
		return fmt.Errorf("%q is longer than %d characters", Brief(s, 2*shown), most)
	}
	at, n := unprinted(s, keep)
	if n == 0 {
		return nil
	}
	before, after := []rune(s[:at]), []rune(s[at+n:])
	near := string(before[max(0, len(before)-shown):]) + s[at:at+n] + string(after[:min(shown, len(after))])
	switch r, _ := utf8.DecodeRuneInString(s[at:]); r {
	case utf8.RuneError:
		return fmt.Errorf("%q is not text in UTF-8", near)
	case '\n', '\r':
		return fmt.Errorf("%q has more than one line", near)
	default:
		return fmt.Errorf("%q holds the character %U, which does not print", near, r)
	}
}
