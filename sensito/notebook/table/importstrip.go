package table

import (
	"regexp"
	"strings"

	"sensito/sensito/internal/lazy"
)

// stripWords is what a heading, or a cell in the place of a time, says of a
// strip, each as it is written.
type stripWords struct {
	time, unit  string
	dilution    string
	temperature string
	date        string
	note        string // what is left
	twice       string // the name of what is there twice, "" for nothing
}

// piece returns an expression for a part of a heading that stands by itself.
func piece(form string) func() *regexp.Regexp {
	return lazy.Regexp(`(?i)(?:^|[\s(\[,;/@=|_])(` + form + `)(?:$|[\s)\],;/|_])`)
}

var (
	datePiece        = piece(`\d{4}-\d{1,2}-\d{1,2}|\d{1,2}\.\d{1,2}\.(?:\d{4}|\d{2})|\d{1,2}/\d{1,2}/\d{4}`)
	dilutionPiece    = piece(`\d+(?:\.\d+)?\+\d+(?:\.\d+)?|stock`)
	temperaturePiece = piece(`\d{1,3}(?:[.,]\d+)?(?:\s*°\s*[CF]?|[CF])`)
	timePiece        = piece(`(?:\d{1,2}:\d{2}:\d{2}|\d{1,4}:\d{2})(?:\s*` + inMinutes + `\.?)?|` +
		`\d+\s*` + inHours + `\s*\d{1,2}\s*` + inMinutes + `?\.?|` +
		`\d+\s*` + inMinutes + `\s*\d{1,2}\s*` + inSeconds + `?\.?|` +
		`\d+(?:[.,]\d+)?\s*(?:` + inHours + `|` + inMinutes + `|` + inSeconds + `)\.?`)
	unitPiece   = lazy.Regexp(`(?i)[(\[]\s*(` + inMinutes + `|` + inSeconds + `|` + inHours + `|m+:ss|min:s(?:ec)?)\.?\s*[)\]]\s*$`)
	plainTime   = lazy.Regexp(`^\d{1,4}(?:[.,]\d+)?$`)
	noiseWord   = lazy.Regexp(`(?i)^(?:dev\.?|development|developed|developing|time|for|at|in|t|d|density|@)$`)
	stripNumber = lazy.Regexp(`(?i)^(?:strip|no|nr|#)?\.?\s*#?(\d+)$`)
)

// readStripWords takes a heading such as "N-1 5:30", "Strip 1 (4:00)" or "5.5
// min, 1+19, 2026-03-01" apart. A number without a unit is a time where nothing
// but words such as "dev" stand beside it.
func readStripWords(text string) stripWords {
	const longest = 2000 // bytes; nobody heads a strip with more
	if len(text) > longest {
		return stripWords{}
	}
	var w stripWords
	rest := bare(text)
	if u := unitPiece().FindStringSubmatchIndex(rest); u != nil {
		w.unit = strings.ToLower(rest[u[2]:u[3]])
		rest = rest[:u[0]]
	}
	for _, p := range []struct {
		name string
		form func() *regexp.Regexp
		to   *string
	}{{"dates", datePiece, &w.date}, {"dilutions", dilutionPiece, &w.dilution}, {"temperatures", temperaturePiece, &w.temperature}, {"times", timePiece, &w.time}} {
		for at := p.form().FindStringSubmatchIndex(rest); at != nil; at = p.form().FindStringSubmatchIndex(rest) {
			if *p.to != "" {
				w.twice = p.name
				break
			}
			*p.to = rest[at[2]:at[3]]
			rest = rest[:at[2]] + " " + rest[at[3]:]
		}
	}
	var words []string
	for _, word := range strings.FieldsFunc(rest, func(r rune) bool { return strings.ContainsRune(" \t\u00a0()[];=|_", r) }) {
		if word = strings.Trim(word, "/,:"); !noiseWord().MatchString(word) && strings.Trim(word, "-–—:") != "" {
			words = append(words, word)
		}
	}
	w.note = strings.Join(words, " ")
	if w.time == "" && plainTime().MatchString(w.note) {
		w.time, w.note = w.note, ""
	}
	return w
}

// stripWords returns readStripWords of a text that stands in many rows.
func (im *importer) stripWords(text string) stripWords {
	w, ok := im.words[text]
	if !ok {
		if im.words == nil {
			im.words = map[string]stripWords{}
		}
		w = readStripWords(text)
		im.words[text] = w
	}
	return w
}

// isTime says whether a heading tells a development time.
func isTime(heading string) bool { return readStripWords(heading).time != "" }

// sound says whether the time can be read with one decimal mark or the other.
func (w stripWords) sound(meant string) bool {
	for _, decimal := range decimals {
		if _, reason := parseMinutes(w.time, w.unit, meant, decimal); reason == "" {
			return true
		}
	}
	return false
}
