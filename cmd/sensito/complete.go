package main

import (
	"errors"
	"maps"
	"slices"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"sensito/cmd/sensito/internal/ask"
	"sensito/cmd/sensito/internal/complete"
	"sensito/cmd/sensito/internal/enter"
	"sensito/plot"
	"sensito/sensito"
	"sensito/sensito/control/chart"
	"sensito/sensito/darkroom"
	"sensito/sensito/notebook"
	"sensito/sensito/notebook/table"
	"sensito/sensito/paper"
	"sensito/sensito/scene"
)

// A place is where a value stands on a command line: a flag of a command, of any
// command where that is "", or the arguments of a command where the flag is "".
type place struct{ command, flag string }

// offers returns what a shell may complete, by the place. What is at none is a
// number or a text that nobody else knows: there nothing is offered.
func offers() map[place]complete.Func {
	film := complete.Files(notebook.FilmKind)
	control := complete.Files(notebook.ControlKind)
	toml := complete.Endings("toml")
	volume := complete.Units("ml", "l", "usfloz", "impfloz")
	temperature := complete.Units("C", "F")
	var grades []string
	for _, g := range paper.GradeTable() {
		grades = append(grades, g.Name)
	}
	all := map[place]complete.Func{
		{"compare", ""}:    complete.Arguments(0, film),
		{"completion", ""}: complete.Arguments(1, complete.Words(shells()...)),
		{"control", ""}:    complete.Arguments(1, control),
		{"curve", ""}:      complete.Arguments(0, film),
		{"demo", ""}:       complete.Arguments(1, complete.Folders),
		{"enter", ""}:      complete.Arguments(1, complete.Files(notebook.FilmKind, notebook.PaperKind)),
		{"export", ""}:     complete.Arguments(1, complete.Files(notebook.FilmKind, notebook.PaperKind)),
		{"help", ""}:       complete.Commands,
		{"import", ""}:     complete.Arguments(1, complete.Endings("csv", "tsv", "txt", "xlsx", "json", "toml")),
		{"ls", ""}:         complete.Arguments(1, complete.Folders),
		{"serve", ""}:      complete.Arguments(1, complete.Folders),
		{"report", ""}:     complete.Arguments(0, complete.Files(notebook.FilmKind, notebook.PaperKind, notebook.ControlKind)),
		{"log", ""}:        complete.Arguments(0, complete.Files(notebook.FilmKind, notebook.ControlKind)),
		{"mix", ""}:        complete.Arguments(1, complete.Named(complete.Dilutions)),
		{"picture", ""}:    complete.Arguments(ask.MostPictures, complete.Endings("tif", "tiff", "png", "jpg", "jpeg")),
		{"paper", ""}:      complete.Arguments(1, complete.Files(notebook.PaperKind)),

		{"", "agitation"}:       complete.Words(sensito.Agitations...),
		{"", "as"}:              complete.Words(table.ExportForms...),
		{"", "at"}:              temperature,
		{"", "by"}:              complete.Files(notebook.PictureKind),
		{"", "channel"}:         complete.Words(ask.Channels...),
		{"", "chart"}:           complete.List(chart.Kinds...),
		{"", "concentrate"}:     volume,
		{"", "control"}:         control,
		{"", "developer"}:       complete.Named(complete.Developers),
		{"", "dilution"}:        complete.Named(complete.Dilutions),
		{"", "empty"}:           complete.Endings("tif", "tiff", "png"),
		{"", "encoding"}:        complete.Words(ask.Encodings...),
		{"", "ended"}:           temperature,
		{"", "ends-at"}:         temperature,
		{"", "enlarger"}:        complete.Words(ask.Lights...),
		{"", "figure"}:          complete.Words(plot.CompareFigures()...),
		{"", "film"}:            complete.Named(complete.Films),
		{"", "films"}:           complete.Words(sensito.FormatNames()...),
		{"", "flare"}:           complete.Words(flares()...),
		{"", "font"}:            complete.Endings("ttf", "otf"),
		{"", "from"}:            complete.AnyFile,
		{"", "grade"}:           complete.Grades("paper", grades...),
		{"", "into"}:            film,
		{"", "keep"}:            complete.Words(scene.AllKept...),
		{"", "kind"}:            complete.Words(sensito.Kinds...),
		{"", "output"}:          complete.Endings("csv", "txt", "json", "toml"),
		{"", "paper"}:           complete.Files(notebook.PaperKind),
		{"", "plot"}:            complete.Endings(plot.SVG, plot.PNG, plot.PDF, plot.CSV),
		{"", "procedure"}:       complete.Files(notebook.ProcedureKind),
		{"", "roll"}:            complete.Files(notebook.RollKind),
		{"", "rules"}:           complete.Words(chart.RuleSets...),
		{"", "sd-from"}:         complete.Words(ask.Noises()...),
		{"", "skeleton"}:        toml,
		{"", "stock"}:           complete.Named(complete.Dilutions),
		{"", "strip"}:           complete.Strips,
		{"picture", "tablet"}:   complete.Files(notebook.PictureKind),
		{"", "tank"}:            volume,
		{"", "theme"}:           complete.Words(plot.Themes()...),
		{"", "to"}:              toml,
		{"", "total"}:           volume,
		{"", "trial"}:           film,
		{"", "uses"}:            complete.Words(darkroom.OneShot),
		{"", "vessel"}:          complete.Words(darkroom.VesselKinds...),
		{"", "wanted"}:          complete.Words(ask.Wanted()...),
		{"", "water"}:           volume,
		{"", "way"}:             complete.Words(sensito.Contact, sensito.Camera),
		{"", "what"}:            complete.Words(exported...),
		{"", "width"}:           complete.Units(slices.Sorted(maps.Keys(lengthUnits))...),
		{"", "within"}:          complete.Units("%", "stops"),
		{"", "write-procedure"}: toml,
		{"", "zero"}:            complete.Words(sensito.Zeros...),

		{"card", "page"}:    complete.Words(ask.PageNames(plot.Pages())...),
		{"picture", "keep"}: toml,

		{"import", "paper"}:  complete.Named(complete.Papers),
		{"report", "output"}: complete.Endings("html"),
		{"sheet", "page"}:    complete.Words(ask.PageNames(plot.SheetPages())...),
	}
	for _, command := range []string{"card", "family", "flare", "plan", "scene", "sheet", "tone"} {
		all[place{command, ""}] = complete.Arguments(1, film)
	}
	for flag, words := range table.ImportChoices() {
		all[place{"import", flag}] = complete.Words(words...)
	}
	for flag, words := range enter.Choices() {
		all[place{"enter", flag}] = complete.Words(words...)
	}
	return all
}

// flares returns the values of --flare, as far as they are words.
func flares() []string {
	var out []string
	for _, k := range sensito.FlareKinds {
		if k != sensito.FlareVeil { // which has a number
			out = append(out, string(k))
		}
		if k != sensito.FlareNone {
			out = append(out, string(k)+"=")
		}
	}
	return out
}

// A lenient flag takes any value: a line that is still being typed may hold what is
// refused later, and what comes next can be told all the same.
type lenient struct{ pflag.Value }

func (l lenient) Set(text string) error {
	_ = l.Value.Set(text)
	return nil
}

// offer makes the commands below root offer what a shell may complete. It is for
// the time when a shell asks, since nothing else needs it.
func offer(root *cobra.Command) error {
	root.CompletionOptions.SetDefaultShellCompDirective(cobra.ShellCompDirectiveNoFileComp)
	for _, topic := range root.Commands() { // one may have the name of a command, whose flags it has not
		same := func(c *cobra.Command) bool { return c != topic && c.Name() == topic.Name() }
		if topic.IsAdditionalHelpTopicCommand() && slices.ContainsFunc(root.Commands(), same) {
			root.RemoveCommand(topic)
		}
	}
	all := offers()
	var err error
	for _, cmd := range root.Commands() {
		if f, ok := all[place{cmd.Name(), ""}]; ok {
			cmd.ValidArgsFunction = f
		}
		cmd.FParseErrWhitelist.UnknownFlags = true
		cmd.Flags().VisitAll(func(flag *pflag.Flag) {
			flag.Value = lenient{flag.Value}
			f, ok := all[place{cmd.Name(), flag.Name}]
			if !ok {
				f, ok = all[place{"", flag.Name}]
			}
			if ok {
				err = errors.Join(err, cmd.RegisterFlagCompletionFunc(flag.Name, f))
			}
		})
	}
	return err
}
