package notebook

import (
	"regexp"
	"sync"
)

// lazily returns a regular expression that is compiled when it is first asked
// for: all of them would cost every start of the command some milliseconds.
func lazily(expression string) func() *regexp.Regexp {
	return sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(expression) })
}
