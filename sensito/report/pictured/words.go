package pictured

import (
	"strings"

	"sensito/sensito"
	"sensito/sensito/printable"
)

// Words are the sentences of a report that the local page has too.
type Words struct {
	Answer   string
	Files    []string // of each picture, what it is and says of itself, and by what they are made even
	Strips   []StripWords
	Common   string // what all readings err by alike; "" without a calibration
	Warnings []string
}

// StripWords are those of one strip.
type StripWords struct {
	Title    []string // which it is, how it was found, and its base plus fog, a line each
	Warnings []string
}

// Words returns the sentences of the report.
func (r *Report) Words() Words {
	w := Words{Answer: printable.Text(r.answer()), Files: r.files(), Warnings: messages(r.Warnings)}
	for i, s := range r.Strips {
		w.Strips = append(w.Strips, StripWords{strings.Split(printable.Lines(r.title(i)), "\n"), messages(s.Warnings)})
	}
	if r.Calibration != nil {
		w.Common = printable.Text(r.common())
	}
	return w
}

// messages are warnings in words, those of a code once.
func messages(all sensito.Warnings) []string {
	var out []string
	for _, w := range gathered(all) {
		out = append(out, printable.Text(w.Message()))
	}
	return out
}
