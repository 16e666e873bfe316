package main

import (
	"bytes"
	"strings"

	"github.com/spf13/cobra"

	"sensito/cmd/sensito/internal/console"
)

// completions write the scripts by which shells complete, by the name of the shell.
var completions = []struct {
	shell string
	write func(root *cobra.Command, to *bytes.Buffer) error
}{
	{"bash", func(root *cobra.Command, to *bytes.Buffer) error { return root.GenBashCompletionV2(to, true) }},
	{"zsh", func(root *cobra.Command, to *bytes.Buffer) error { return root.GenZshCompletion(to) }},
	{"fish", func(root *cobra.Command, to *bytes.Buffer) error { return root.GenFishCompletion(to, true) }},
	{"powershell", func(root *cobra.Command, to *bytes.Buffer) error { return root.GenPowerShellCompletionWithDesc(to) }},
}

// shells returns those that can complete.
func shells() []string {
	var names []string
	for _, c := range completions {
		names = append(names, c.shell)
	}
	return names
}

func newCompletionCmd(s streams) *cobra.Command {
	return &cobra.Command{
		Use:   "completion SHELL",
		Short: "Have your shell complete commands, files and values",
		Long: `Prints a script for the shell: bash, zsh, fish or powershell. Once that is loaded
the Tab key completes commands, flags and what they take: trials and logs by what
is in the files, grades of the paper that is named, films and developers of the
notebook.

bash needs its package bash-completion, zsh the line "autoload -U compinit;
compinit" in ~/.zshrc. A shell that is open has to be started anew. A package for
Debian brings the scripts of bash, zsh and fish.`,
		Example: `  sensito completion bash > ~/.local/share/bash-completion/completions/sensito
  sensito completion zsh > ~/.zsh/_sensito       # a folder of $fpath
  sensito completion fish > ~/.config/fish/completions/sensito.fish
  sensito completion powershell | Out-String | Invoke-Expression   # a line of $PROFILE`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) != 1 {
				return console.Usagef("completion takes the name of one shell, %s; %d given", strings.Join(shells(), ", "), len(args))
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			for _, c := range completions {
				if c.shell == args[0] {
					var script bytes.Buffer
					if err := c.write(cmd.Root(), &script); err != nil {
						return err
					}
					_, err := s.Out.Write(script.Bytes())
					return err
				}
			}
			return console.Usagef("%q is not one of %s", args[0], strings.Join(shells(), ", "))
		},
	}
}
