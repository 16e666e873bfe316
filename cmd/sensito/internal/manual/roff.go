package manual

import (
	"bytes"
	"fmt"
	"strings"
	"unicode"
)

// roff is a page in the macros "man".
type roff struct {
	bytes.Buffer
	headed bool // a heading was the last thing written
}

// title writes the beginning of a page. Lines are not broken within words, which may
// be ones to type.
func (w *roff) title(page, section, date, source, manual string) {
	fmt.Fprintf(w, ".TH \"%s\" %s %s \"%s\" \"%s\"\n.nh\n.ad l\n", plain(page), section, date, plain(source), plain(manual))
}

func (w *roff) heading(title string) {
	w.macro("SH", title)
	w.headed = true
}

// macro writes a request with its arguments.
func (w *roff) macro(name string, args ...string) {
	w.WriteString("." + name)
	w.headed = false
	for _, a := range args {
		fmt.Fprintf(w, " \"%s\"", strings.ReplaceAll(text(a), `"`, `\(dq`))
	}
	w.WriteString("\n")
}

// line writes escaped text as lines of their own.
func (w *roff) line(escaped string) {
	for line := range strings.SplitSeq(escaped, "\n") {
		if strings.HasPrefix(line, ".") || strings.HasPrefix(line, "'") {
			w.WriteString(`\&`)
		}
		w.WriteString(line + "\n")
	}
	w.headed = false
}

// part begins a paragraph, which a heading does too.
func (w *roff) part() {
	if !w.headed {
		w.macro("PP")
	}
}

// paragraphs writes text as help has it: lines that are indented stay as they are,
// others are filled, blank lines part them, and "- " begins an item of a list.
func (w *roff) paragraphs(long string) {
	var filled, kept []string
	end := func() {
		switch {
		case len(filled) > 0:
			w.part()
			w.line(text(strings.Join(filled, "\n")))
		case len(kept) > 0:
			w.verbatim(kept)
		}
		filled, kept = nil, nil
	}
	item := false // of a list, whose lines are set in
	for line := range strings.SplitSeq(strings.TrimRight(long, "\n"), "\n") {
		switch rest, begins := strings.CutPrefix(line, "- "); {
		case begins:
			end()
			w.WriteString(".IP \\(bu 2\n" + text(rest) + "\n")
			w.headed, item = false, true
			continue
		case item && strings.HasPrefix(line, "  "):
			w.line(text(strings.TrimSpace(line)))
			continue
		}
		item = false
		switch {
		case strings.TrimSpace(line) == "":
			end()
		case unicode.IsSpace([]rune(line)[0]):
			if len(filled) > 0 {
				end()
			}
			kept = append(kept, line)
		default:
			if len(kept) > 0 {
				end()
			}
			filled = append(filled, line)
		}
	}
	end()
}

// verbatim writes lines as they are.
func (w *roff) verbatim(lines []string) {
	w.part()
	w.macro("nf")
	for _, l := range lines {
		w.line(plain(l))
	}
	w.macro("fi")
}

func bold(s string) string   { return `\fB` + plain(s) + `\fR` }
func italic(s string) string { return `\fI` + plain(s) + `\fR` }

// plain escapes what is to be typed as it stands: a hyphen is the sign on the
// keyboard.
func plain(s string) string { return escape(s, func(_, _ rune) bool { return true }) }

// text escapes prose, where a hyphen between letters is one.
func text(s string) string {
	return escape(s, func(before, after rune) bool { return !unicode.IsLetter(before) || !unicode.IsLetter(after) })
}

// escape writes text in characters of ASCII that roff leaves alone. Typed says of a
// hyphen, by what stands on both sides of it, whether it is the sign on the
// keyboard.
func escape(s string, typed func(before, after rune) bool) string {
	names := map[rune]string{'\\': `\e`, '\'': `\(aq`, '`': `\(ga`, '^': `\(ha`, '~': `\(ti`}
	var b strings.Builder
	runes := []rune(s)
	at := func(i int) rune {
		if i < 0 || i >= len(runes) {
			return ' '
		}
		return runes[i]
	}
	for i, r := range runes {
		switch name := names[r]; {
		case name != "":
			b.WriteString(name)
		case r == '-' && typed(at(i-1), at(i+1)):
			b.WriteString(`\-`)
		case r > unicode.MaxASCII:
			fmt.Fprintf(&b, `\[u%04X]`, r)
		default:
			b.WriteRune(r)
		}
	}
	return b.String()
}
