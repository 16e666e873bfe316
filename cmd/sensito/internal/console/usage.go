package console

import (
	"fmt"

	"github.com/spf13/cobra"
)

// A UsageError is a command line that cannot be carried out as written.
type UsageError struct{ error }

func (u UsageError) Unwrap() error { return u.error }

// Usage makes an error one of the command line.
func Usage(err error) error { return UsageError{err} }

// Usagef returns a UsageError with a text.
func Usagef(format string, args ...any) error { return UsageError{fmt.Errorf(format, args...)} }

// OneTrial is the argument check of commands that take a single trial.
func OneTrial(cmd *cobra.Command, args []string) error {
	if len(args) != 1 {
		return Usagef("%s takes one trial (a file, a folder with one, or - for standard input); %d given", cmd.Name(), len(args))
	}
	return nil
}
