package main

import (
	"fmt"

	"github.com/spf13/cobra"
)

// flagGroups are the headings under which help lists flags, each with its flags
// in order. Flags of no group come last.
var flagGroups = []struct {
	title string
	names []string
}{
	{"The answer wanted", []string{"wanted", "within", "strips"}},
	{"A first test", []string{"film", "speed", "minutes", "developer", "temperature", "agitation", "skeleton"}},
	{"How it is exposed", []string{"way", "wedge-count", "wedge-step", "wedge-first", "seconds", "lux", "step-stops"}},
	{"The bench", []string{"developer-ml", "strip-cm2"}},
	{"The comparison", []string{"gradient", "separate-exposures", "figure"}},
	{"The charts", []string{"trial", "baseline", "rules", "chart"}},
	{"The scene", []string{"range", "shadow", "highlight", "meter-index", "roll"}},
	{"The exposure of a spot-metered scene", []string{"aperture", "time", "filter", "extension", "focal"}},
	{"What the negative is to suit", []string{"paper", "grade", "density-range", "scan", "enlarger", "callier"}},
	{"Flare and placement", []string{"flare", "shadow-stops"}},
	{"Gradient", []string{"gradient-from", "gradient-span", "gradient-to", "gradient-arc"}},
	{"The process of today", []string{"control", "correct"}},
	{"Evaluation", []string{"strip", "keep-all", "sd-from", "confidence"}},
	{"Output", []string{"json", "plot", "page", "help"}},
}

// groupFlags makes help list the flags of the commands below root in groups.
func groupFlags(root *cobra.Command) {
	plain := root.UsageFunc()
	root.SetUsageFunc(func(cmd *cobra.Command) error {
		if cmd.HasAvailableSubCommands() {
			return plain(cmd)
		}
		w := cmd.OutOrStderr()
		fmt.Fprintf(w, "Usage:\n  %s\n", cmd.UseLine())
		if cmd.HasExample() {
			fmt.Fprintf(w, "\nExamples:\n%s\n", cmd.Example)
		}
		local := cmd.LocalFlags()
		for _, g := range flagGroups {
			flags := new(cobra.Command).Flags()
			flags.SortFlags = false
			for _, name := range g.names {
				if f := local.Lookup(name); f != nil && !f.Hidden {
					flags.AddFlag(f)
				}
			}
			if !flags.HasAvailableFlags() {
				continue
			}
			fmt.Fprintf(w, "\n%s:\n%s", g.title, flags.FlagUsages())
			for _, name := range g.names {
				if f := flags.Lookup(name); f != nil {
					f.Hidden = true // told
					defer func() { f.Hidden = false }()
				}
			}
		}
		if rest := local.FlagUsages(); rest != "" {
			fmt.Fprintf(w, "\nOther:\n%s", rest)
		}
		return nil
	})
}
