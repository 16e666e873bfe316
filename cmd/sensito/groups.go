package main

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"sensito/cmd/sensito/internal/console"
	"sensito/cmd/sensito/internal/manual"
	"sensito/sensito/report"
)

// A flagGroup is a heading and the flags below it.
type flagGroup struct {
	title string
	names []string
}

// ownGroups are groups of single commands, which come before the others.
var ownGroups = map[string][]flagGroup{
	"enter": {
		{"The strip", []string{"minutes", "grade", "strip"}},
		{"Other files", []string{"what", "frame", "step", "before"}},
		{"Keying in", []string{"fog", "no-expect", "plain", "strict", "delete", "undo"}},
		{"An instrument", []string{"from", "baud", "bits", "parity", "stop-bits", "pattern", "terminator"}},
		{"A new trial", []string{"film", "paper", "speed", "developer", "temperature", "agitation"}},
		{"How it is read", []string{"unit", "zero", "repeatability", "reads-to", "open-ev", "tablet", "tablet-first", "tablet-step", "tablet-sd"}},
		{"How it was exposed", []string{"way", "wedge-count", "wedge-first", "wedge-step", "lux", "seconds", "meter-index", "stops", "step-stops",
			"frame-index", "frame-stops", "frame-reading"}},
	},
	"picture": {
		{"Where the strips lie", []string{"ends", "steps", "patch", "fog"}},
		{"What densities are told by", []string{"tablet", "tablet-ends", "scale-sd", "encoding", "channel", "by", "empty", "opaque", "clear", "anchor"}},
		{"What is written", []string{"into", "minutes", "grade", "keep", "plot", "force", "yes", "plain"}},
	},
	"log":     {{"Which developments", []string{"film", "developer", "last"}}},
	"control": {{"A strip to add", []string{"add", "date", "base-fog", "low", "high", "patch", "fresh", "note"}}},
	"sheet": {
		{"The session", []string{"minutes", "films", "vessel", "least", "uses", "graduates", "date", "note", "run"}},
		{"The steps", []string{"procedure", "write-procedure"}},
		{"What was done", []string{"done", "temperature", "ended", "exposure-index"}},
	},
	"import": {
		{"Where to", []string{"to", "into", "force", "dry-run"}},
		{"How the file is read", []string{"separator", "decimal", "orientation", "times", "dates", "sheet", "without", "yes", "plain"}},
		{"What the file does not say", []string{"title", "film", "paper", "speed", "developer", "dilution", "temperature", "agitation", "minutes",
			"kind", "lux", "seconds", "meter-index", "wedge-first", "wedge-step", "wedge-count", "repeatability", "zero"}},
	},
	"plan": {
		{"The answer wanted", []string{"wanted", "within", "strips"}},
		{"A first test", []string{"film", "speed", "minutes", "developer", "temperature", "agitation", "skeleton"}},
	},
	"speed":  {{"The frames", []string{"meter-index", "first-frame", "step-stops"}}},
	"flare":  {{"The test negative", []string{"minutes", "hollow", "field", "base-fog"}}},
	"export": {{"What to export", []string{"what", "as", "output", "force", "points"}}},
}

// flagGroups are the headings under which help lists flags, each with its flags
// in order. Flags of no group come last.
var flagGroups = []flagGroup{
	{"How it is exposed", []string{"way", "wedge-count", "wedge-step", "wedge-first", "seconds", "lux", "step-stops"}},
	{"The bench", []string{"developer-ml", "strip-cm2"}},
	{"The mixture", []string{"total", "concentrate", "water", "stock", "graduates"}},
	{"The film in it", []string{"tank", "films", "least"}},
	{"The comparison", []string{"gradient", "separate-exposures", "figure"}},
	{"The charts", []string{"trial", "baseline", "rules", "chart"}},
	{"The scene", []string{"range", "shadow", "highlight", "meter-index", "roll"}},
	{"An index of your own", []string{"index", "exposed-at", "keep"}},
	{"The exposure of a spot-metered scene", []string{"aperture", "time", "filter", "extension", "focal"}},
	{"What the negative is to suit", []string{"paper", "grade", "density-range", "scan", "enlarger", "callier"}},
	{"Flare and placement", []string{"flare", "shadow-stops"}},
	{"Gradient", []string{"gradient-from", "gradient-span", "gradient-to", "gradient-arc"}},
	{"The conditions of today", []string{"at", "ends-at", "q10", "q10-sd", "agitation", "dilution", "temperatures", "force-temperature"}},
	{"The process of today", []string{"control", "correct"}},
	{"Evaluation", []string{"strip", "apart", "keep-all", "sd-from", "confidence"}},
	{"Output", []string{"full", "json", "csv", "plot", "triangle", "width", "theme", "font", "force", "page", "help", "version"}},
}

// grouped returns the flags of a command under their headings; those of no group
// come last.
func grouped(cmd *cobra.Command) []manual.Group {
	local := cmd.LocalFlags()
	told := map[string]bool{}
	var groups []manual.Group
	add := func(title string, flags *pflag.FlagSet) {
		if flags.HasAvailableFlags() {
			groups = append(groups, manual.Group{Title: title, Flags: flags})
		}
	}
	for _, g := range append(slices.Clone(ownGroups[cmd.Name()]), flagGroups...) {
		flags := new(cobra.Command).Flags()
		flags.SortFlags = false
		for _, name := range g.names {
			if f := local.Lookup(name); f != nil && !told[name] {
				told[name] = true
				flags.AddFlag(f)
			}
		}
		add(g.title, flags)
	}
	rest := new(cobra.Command).Flags()
	local.VisitAll(func(f *pflag.Flag) {
		if !told[f.Name] {
			rest.AddFlag(f)
		}
	})
	add("Other", rest)
	return groups
}

// commandGroups are the headings under which help lists the commands, in the order
// of the job.
var commandGroups = []flagGroup{
	{"To begin", []string{"demo", "plan", "speed", "enter", "picture", "import", "ls"}},
	{"What your film does", []string{"curve", "family", "compare", "control"}},
	{"The answer", []string{"scene", "card", "tone", "paper", "flare"}},
	{"At the sink", []string{"sheet", "mix", "log"}},
	{"On screen and paper", []string{"serve", "report"}},
	{"More", []string{"export", "completion"}},
}

// listCommands writes every command, the topics of help, and what the exit codes
// mean.
func listCommands(w io.Writer, root *cobra.Command) {
	fmt.Fprint(w, "Usage:\n  sensito COMMAND TRIAL... [flags]\n")
	list := func(commands []*cobra.Command) {
		for _, c := range commands {
			first := fmt.Sprintf("  %-10s  ", c.Name())
			fmt.Fprint(w, report.Paragraph(first, strings.Repeat(" ", len(first)), c.Short))
		}
	}
	var topics []*cobra.Command
	rest := slices.Clone(root.Commands())
	rest = slices.DeleteFunc(rest, func(c *cobra.Command) bool {
		if c.IsAdditionalHelpTopicCommand() {
			topics = append(topics, c)
		}
		return !c.IsAvailableCommand()
	})
	for _, g := range commandGroups {
		var commands []*cobra.Command
		for _, name := range g.names {
			if i := slices.IndexFunc(rest, func(c *cobra.Command) bool { return c.Name() == name }); i >= 0 {
				commands = append(commands, rest[i])
				rest = slices.Delete(rest, i, i+1)
			}
		}
		if g.title == "More" {
			commands = append(commands, rest...)
		}
		fmt.Fprintf(w, "\n%s:\n", g.title)
		list(commands)
	}
	fmt.Fprint(w, "\nTopics, as sensito help words:\n")
	list(topics)
	fmt.Fprint(w, "\nsensito help COMMAND tells a command in full, with its flags; sensito --version\nwhich version this is.\n\n", console.ExitCodes)
}

// groupFlags makes help list the flags of the commands below root in groups.
func groupFlags(root *cobra.Command) {
	root.SetUsageFunc(func(cmd *cobra.Command) error {
		w := cmd.OutOrStderr()
		if cmd == root {
			listCommands(w, root)
			return nil
		}
		fmt.Fprintf(w, "Usage:\n  %s\n", cmd.UseLine())
		if cmd.HasExample() {
			fmt.Fprintf(w, "\nExamples:\n%s\n", cmd.Example)
		}
		for _, g := range grouped(cmd) {
			fmt.Fprintf(w, "\n%s:\n%s", g.Title, g.Flags.FlagUsages())
		}
		return nil
	})
}
