package main

import (
	"slices"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"sensito/cmd/sensito/internal/ask"
	"sensito/cmd/sensito/internal/console"
)

// checkTexts is ask.CheckTexts with the arguments: one may be empty, as a shell makes
// of a variable that is not set.
func checkTexts(cmd *cobra.Command, args []string) error {
	if i := slices.Index(args, ""); i >= 0 {
		return console.Usagef("argument %d of %s is empty", i+1, cmd.Name())
	}
	return ask.CheckTexts(cmd.Flags())
}

// forceFlag registers --force, which every command has that writes files.
func forceFlag(f *pflag.FlagSet, force *bool) {
	f.BoolVar(force, "force", false, "replace a file that is there; one that is read is never replaced")
}
