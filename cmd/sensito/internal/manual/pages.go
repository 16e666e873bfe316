// Package manual writes the pages of the manual from the commands: what help says,
// as roff for man. A release has them; nothing writes them at run time. Begin with
// Pages.
package manual

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// A Group is a heading and the flags below it.
type Group struct {
	Title string
	Flags *pflag.FlagSet
}

// Options say of what and when the pages are.
type Options struct {
	Version, Date string                       // "1.2.0" and "2026-03-01"
	Groups        func(*cobra.Command) []Group // the flags of a command as help lists them
	Common        []Section                    // at the end of the page of the tool and of each command
}

// A Section has text as help has it: paragraphs, with lines that are indented left
// as they are.
type Section struct{ Title, Text string }

// A Page is one page of the manual.
type Page struct {
	Name    string // of its file, as "sensito-curve.1"
	Section string // of the manual: 1 for commands, 7 for topics
	Text    []byte
}

// Pages returns the page of the tool and one of each command and topic below root.
func Pages(root *cobra.Command, o Options) []Page {
	pages := []Page{o.page(root, root)}
	for _, cmd := range root.Commands() {
		if cmd.IsAvailableCommand() && cmd.Name() != "help" || cmd.IsAdditionalHelpTopicCommand() {
			pages = append(pages, o.page(root, cmd))
		}
	}
	return pages
}

// name returns the name of a page and its section.
func name(cmd *cobra.Command) (string, string) {
	if cmd.IsAdditionalHelpTopicCommand() {
		return strings.ReplaceAll(cmd.CommandPath(), " ", "-"), "7"
	}
	return strings.ReplaceAll(cmd.CommandPath(), " ", "-"), "1"
}

func (o Options) page(root, cmd *cobra.Command) Page {
	cmd.InitDefaultHelpFlag()
	page, section := name(cmd)
	w := &roff{}
	w.title(strings.ToUpper(page), section, o.Date, root.Name()+" "+o.Version, "Manual of "+root.Name())
	w.heading("NAME")
	w.line(plain(page) + ` \- ` + text(cmd.Short))
	if section == "1" {
		w.heading("SYNOPSIS")
		w.synopsis(cmd)
	}
	w.heading("DESCRIPTION")
	w.paragraphs(cmd.Long)
	if cmd == root {
		w.heading("COMMANDS")
		w.list(root, func(c *cobra.Command) bool { return c.IsAvailableCommand() && c.Name() != "help" })
		w.heading("TOPICS")
		w.list(root, (*cobra.Command).IsAdditionalHelpTopicCommand)
	}
	if section == "1" {
		w.heading("OPTIONS")
		for _, g := range o.Groups(cmd) {
			w.macro("SS", g.Title)
			g.Flags.VisitAll(func(f *pflag.Flag) {
				if !f.Hidden {
					w.flag(f)
				}
			})
		}
		if cmd.HasExample() {
			w.heading("EXAMPLES")
			w.verbatim(strings.Split(cmd.Example, "\n"))
		}
		for _, s := range o.Common {
			w.heading(s.Title)
			w.paragraphs(s.Text)
		}
	}
	w.heading("SEE ALSO")
	w.line(seeAlso(root, cmd))
	return Page{Name: page + "." + section, Section: section, Text: w.Bytes()}
}

// list writes some of the commands with what they are for.
func (w *roff) list(root *cobra.Command, of func(*cobra.Command) bool) {
	for _, c := range root.Commands() {
		if of(c) {
			page, section := name(c)
			w.macro("TP")
			w.line(bold(page) + "(" + section + ")")
			w.line(text(c.Short))
		}
	}
}

// synopsis writes how a command is called: its own words in bold, as they are
// typed, and what stands for others as it is.
func (w *roff) synopsis(cmd *cobra.Command) {
	path := cmd.CommandPath()
	if cmd.HasAvailableSubCommands() {
		w.line(bold(path) + ` \fICOMMAND\fR [\fIflags\fR]`)
		w.macro("br")
		w.line(bold(path) + " " + bold("--version"))
		return
	}
	rest := strings.TrimPrefix(cmd.UseLine(), path)
	if !strings.Contains(rest, "[flags]") {
		rest += " [flags]"
	}
	w.line(bold(path) + plain(rest))
}

// values are what the value of a flag is called where its help has no name for it,
// by its type.
var values = map[string]string{"string": "TEXT", "strings": "LIST", "stringArray": "TEXT", "int": "N", "float": "NUMBER"}

// flag writes a flag, what its value is called, what it does, and the value that it
// has unless given.
func (w *roff) flag(f *pflag.Flag) {
	value, usage := pflag.UnquoteUsage(f)
	told := bold("--" + f.Name)
	if f.Shorthand != "" {
		told = bold("-"+f.Shorthand) + ", " + told
	}
	if word, ok := values[value]; ok {
		value = word
	}
	if value != "" {
		told += " " + italic(value)
	}
	w.macro("TP")
	w.line(told)
	if usual := f.DefValue; f.Value.Type() != "bool" && usual != "" && usual != "0" && usual != "[]" {
		usage += fmt.Sprintf(" (%s unless given)", usual)
	}
	w.line(text(usage))
}

// seeAlso names the page of the tool, or on that one all others.
func seeAlso(root, cmd *cobra.Command) string {
	if cmd != root {
		page, section := name(root)
		return bold(page) + "(" + section + ")"
	}
	var all []string
	for _, c := range root.Commands() {
		if c.IsAvailableCommand() && c.Name() != "help" || c.IsAdditionalHelpTopicCommand() {
			page, section := name(c)
			all = append(all, bold(page)+"("+section+")")
		}
	}
	return strings.Join(all, ",\n")
}
