package main

import (
	"maps"
	"regexp"
	"slices"
	"strings"

	"sensito/sensito"
	"sensito/sensito/report"
)

// verb is one of fmt, "%%" among them.
var verb = regexp.MustCompile(`%(?:%|[-+#0-9.*]*[a-zA-Z])`)

// warningsTopic is the name of the topic of warnings.
const warningsTopic = "warnings"

// warningsText returns the list of the codes of warnings, for who reads the JSON by a
// program.
func warningsText() string {
	var text strings.Builder
	text.WriteString("In JSON each warning has a code, a message, and the numbers of strip and step,\nnull where it is of none. Codes do not change; messages may. Those of a control\nlog beside an answer begin with control_, those of a paper with paper_.\n")
	codes := sensito.WarningMeanings()
	for _, code := range slices.Sorted(maps.Keys(codes)) {
		text.WriteString("\n" + code + "\n")
		for _, told := range messages(codes[code]) {
			text.WriteString(report.Paragraph("    ", "      ", told))
		}
	}
	return text.String()
}

// messages returns what the sentences of a code tell, with dots for their values.
func messages(sentences []string) []string {
	var out []string
	for _, sentence := range sentences {
		told := verb.ReplaceAllStringFunc(sentence, func(v string) string {
			if v == "%%" {
				return "%"
			}
			return "…"
		})
		told = strings.ReplaceAll(told, "……", "…")
		if !slices.Contains(out, told) {
			out = append(out, told)
		}
	}
	return out
}
