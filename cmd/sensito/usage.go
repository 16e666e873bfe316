package main

import (
	"fmt"

	"github.com/spf13/cobra"
)

// A usageError is a command line that cannot be carried out as written.
type usageError struct{ error }

func (u usageError) Unwrap() error { return u.error }

// usagef returns a usageError with a text.
func usagef(format string, args ...any) error { return usageError{fmt.Errorf(format, args...)} }

// oneTrial is the argument check of commands that take a single trial.
func oneTrial(cmd *cobra.Command, args []string) error {
	if len(args) != 1 {
		return usagef("%s takes one trial (a file, a folder with one, or - for standard input); %d given", cmd.Name(), len(args))
	}
	return nil
}

// usage makes an error one of the command line.
func usage(err error) error { return usageError{err} }
