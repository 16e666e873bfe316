package main

import (
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"sensito/cmd/sensito/internal/console"
	"sensito/sensito"
	"sensito/sensito/printable"
)

// A limited flag has a value within limits that 0 is outside of.
type limited struct {
	flag             string
	value, low, high float64
}

// notZero returns a usage error for the first of the flags that is given as 0,
// which a struct of the domain would take for its default. Other values are
// checked there.
func notZero(given func(flag string) bool, flags ...limited) error {
	for _, f := range flags {
		if given(f.flag) && f.value == 0 {
			return console.Usagef("--%s 0 is outside %g to %g", f.flag, f.low, f.high)
		}
	}
	return nil
}

// named are the words by which the help calls values that are names of files, or
// patterns for the lines of an instrument: they are no text of their own.
var named = []string{"FILE", "TRIAL", "LOG", "PORT", "EXPRESSION", "TEXT"}

// checkTexts returns a usage error for a flag whose text is empty, which would
// mean that it was not given, or is not one that can be printed; and for an empty
// argument, as a shell makes of a variable that is not set.
func checkTexts(cmd *cobra.Command, args []string) error {
	if i := slices.Index(args, ""); i >= 0 {
		return console.Usagef("argument %d of %s is empty", i+1, cmd.Name())
	}
	var err error
	cmd.Flags().Visit(func(f *pflag.Flag) {
		if err == nil {
			err = checkFlag(f)
		}
	})
	return err
}

func checkFlag(f *pflag.Flag) error {
	texts := []string{f.Value.String()}
	switch list, several := f.Value.(pflag.SliceValue); {
	case several:
		texts = list.GetSlice()
	case f.Value.Type() != "string":
		return nil
	}
	if len(texts) == 0 || slices.ContainsFunc(texts, func(s string) bool { return strings.TrimSpace(s) == "" }) {
		return console.Usagef("--%s must not be empty", f.Name)
	}
	if name, _ := pflag.UnquoteUsage(f); slices.Contains(named, name) {
		return nil
	}
	for _, s := range texts {
		if err := printable.CheckNote(s); err != nil {
			return console.Usage(fmt.Errorf("--%s %w", f.Name, err))
		}
	}
	return nil
}

// forceFlag registers --force, which every command has that writes files.
func forceFlag(f *pflag.FlagSet, force *bool) {
	f.BoolVar(force, "force", false, "replace a file that is there; one that is read is never replaced")
}

// minutesFlag reads the text of --minutes.
func minutesFlag(text string) (sensito.Minutes, error) {
	m, err := sensito.ParseMinutes(text)
	if err != nil {
		return 0, console.Usagef("--minutes %w", err)
	}
	return m, nil
}
