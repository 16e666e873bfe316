package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"sensito/cmd/sensito/internal/ask"
	"sensito/cmd/sensito/internal/console"
	"sensito/cmd/sensito/internal/enter"
)

// newRootCmd returns all commands.
func newRootCmd(to console.Streams) *cobra.Command {
	s := streams{ask.Files{Streams: to}}
	var version bool
	root := &cobra.Command{
		Use:   "sensito",
		Short: "From densitometer readings to exposure index and development time",
		Long: `sensito reads densitometer readings of step-wedge exposures from a notebook of
small TOML files, fits characteristic curves, and gives speed, contrast and, for
a scene, the exposure index and development time, each with its uncertainty.

Begin with: sensito demo`,
		Args:          cobra.ArbitraryArgs,
		SilenceErrors: true,
		SilenceUsage:  true,
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) > 0 {
				return console.Usagef("%q is not a command; see: sensito --help", args[0])
			}
			if version {
				_, err := fmt.Fprintln(to.Out, versionText(released, builtFrom()))
				return err
			}
			return cmd.Help()
		},
		PersistentPreRunE: func(cmd *cobra.Command, args []string) error {
			if cmd.Name() == cobra.ShellCompRequestCmd { // the line is still being typed
				return offer(cmd.Root())
			}
			return checkTexts(cmd, args)
		},
	}
	root.Flags().BoolVar(&version, "version", false, "print which version this is, and of which commit")
	root.CompletionOptions.DisableDefaultCmd = true // for one with our words
	root.SetFlagErrorFunc(func(cmd *cobra.Command, err error) error {
		return console.Usagef("%s; see: %s --help", ask.FlagFault(err.Error()), cmd.CommandPath())
	})
	root.AddCommand(newDemoCmd(s), newCurveCmd(s), newFamilyCmd(s), newSceneCmd(s), newCardCmd(s), newPaperCmd(s), newPictureCmd(s), newToneCmd(s), newFlareCmd(s), newSpeedCmd(s), newControlCmd(s), newCompareCmd(s), newPlanCmd(s), newLsCmd(s), newServeCmd(s), newReportCmd(s), newLogCmd(s), enter.NewCommand(to), newMixCmd(s), newSheetCmd(s), newImportCmd(s), newExportCmd(s), newCompletionCmd(s))
	root.AddCommand(newTopicCmds()...)
	root.SetHelpCommand(newHelpCmd())
	groupFlags(root)
	return root
}
