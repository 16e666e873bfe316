package main

import (
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"sensito/sensito"
)

var verb = regexp.MustCompile(`%[^a-zA-Z%]*[a-zA-Z]`)

// newWarningsTopic returns the list of the codes of warnings, for who reads the
// JSON by a program.
func newWarningsTopic() *cobra.Command {
	var text strings.Builder
	text.WriteString("In JSON each warning has a code, a message, and the numbers of strip and step,\nnull where it is of none. Codes do not change; messages may. Those of a control\nlog beside an answer begin with control_, those of a paper with paper_.\n")
	codes := sensito.WarningCodes()
	for _, code := range slices.Sorted(maps.Keys(codes)) {
		fmt.Fprintf(&text, "\n%s\n", code)
		for _, sentence := range codes[code] {
			sentence = verb.ReplaceAllString(strings.ReplaceAll(sentence, "%%", "%"), "…")
			if strings.Trim(sentence, "…") != "" {
				fmt.Fprintf(&text, "    %s\n", sentence)
			}
		}
	}
	return &cobra.Command{Use: "warnings", Short: "The codes of warnings in JSON", Long: text.String()}
}
