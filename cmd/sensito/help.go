package main

import (
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"sensito/cmd/sensito/internal/console"
	"sensito/cmd/sensito/internal/topics"
)

// newHelpCmd returns help for a command or a topic; what is neither is refused.
func newHelpCmd() *cobra.Command {
	return &cobra.Command{
		Use:   "help [COMMAND | TOPIC]",
		Short: "A command or a topic in full",
		RunE: func(cmd *cobra.Command, args []string) error {
			asked, rest, err := cmd.Root().Find(args)
			if err != nil || len(rest) > 0 || asked == cmd.Root() && len(args) > 0 {
				return console.Usagef("%q is neither a command nor a topic; see: sensito --help", strings.Join(args, " "))
			}
			asked.InitDefaultHelpFlag()
			return asked.Help()
		},
	}
}

// newTopicCmds returns the topics, which are commands that have nothing to run. Their texts
// are set when they are asked for, since every command would wait for that.
func newTopicCmds() []*cobra.Command {
	list := []*cobra.Command{{Use: warningsTopic, Short: "The codes of warnings in JSON"}}
	for _, t := range topics.All() {
		list = append(list, &cobra.Command{Use: t.Name, Short: t.Title})
	}
	for _, c := range list {
		c.SetHelpFunc(func(cmd *cobra.Command, args []string) {
			cmd.Long = topicText(cmd.Name())
			cmd.Parent().HelpFunc()(cmd, args)
		})
	}
	return list
}

// topicText returns what a topic tells.
func topicText(name string) string {
	if name == warningsTopic {
		return warningsText()
	}
	all := topics.All()
	return all[slices.IndexFunc(all, func(t topics.Topic) bool { return t.Name == name })].Plain()
}
