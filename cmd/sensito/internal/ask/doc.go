// Package ask is what a command asks: flags as questions, answered from files. A question
// is made by its flags, from a command line or from elsewhere, and asks the same through
// either. Begin with Scene: Register, the flags set, CheckTexts, then Ask.
package ask

import (
	"sensito/plot"
	"sensito/sensito/report"
)

// An Answer is what asking a question gives.
type Answer interface {
	// Report returns the result to be written, at the level of intervals that was asked.
	Report() (report.Report, error)
	// Figure draws it; the level and what else was asked stand above those of the options.
	Figure(plot.Options) (*plot.Figure, error)
}
