// Package lazy holds regular expressions until they are first asked for: begin with
// Regexp.
package lazy

import (
	"regexp"
	"sync"
)

// Regexp returns a regular expression that is compiled when it is first asked
// for: all of them would cost every start of the command some milliseconds.
func Regexp(expression string) func() *regexp.Regexp {
	return sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(expression) })
}
