package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"unicode/utf8"

	"charm.land/huh/v2"
	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"sensito/cmd/sensito/internal/console"
	"sensito/sensito"
	"sensito/sensito/notebook"
	"sensito/sensito/notebook/store"
	"sensito/sensito/notebook/table"
	"sensito/sensito/printable"
)

// importOptions are the flags of import.
type importOptions struct {
	read   table.ImportOptions
	to     string
	into   string
	force  bool
	dryRun bool
	yes    bool
	plain  bool
}

func newImportCmd(s streams) *cobra.Command {
	o := &importOptions{}
	values := map[string]*string{}
	cmd := &cobra.Command{
		Use:   "import FILE (--to NEW.toml | --into TRIAL.toml | --dry-run)",
		Short: "Readings from a table, a workbook, CGATS or JSON",
		Long: `Makes a notebook of readings kept elsewhere, or adds them to one. FILE is a table
in text (commas, semicolons or tabs, decimal point or comma), a workbook (.xlsx),
measurement data in CGATS.17 (ISO 28178), JSON as export writes it, or - for
standard input; what it is shows in its content.

A table has a row for each reading (columns such as minutes, step, wedge, density),
a column for each strip headed by its time, with a dilution, date or note beside it
where strips differ ("N-1 5:30", "Strip 2 (4:00)", "5:30 1+9"), or a row for each
strip. How each column was read is shown; flags overrule it and say what the file
does not. What can be meant in two ways, such as a time of 5:30:00 or 5.30, strips
headed 1, 2, 3, or a date of 3/4/2026, is asked for at a terminal, and so is
whether to write; through a pipe, and with --yes, it is refused with the flag that
settles it.

A strip that is there already, with the same readings, exposure and development,
is told and left out.`,
		Example: `  sensito import readings.csv --film "Tern 400" --lux 2 --seconds 0.5 --dry-run
  sensito import readings.csv --film "Tern 400" --kind relative --to tern.toml
  sensito import strip4.csv --minutes 12:30 --into tern.toml
  sensito import all-trials.csv --to notebook/`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) != 1 {
				return console.Usagef("import takes one file, or - for standard input; %d given", len(args))
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			o.read.Values = map[string]string{}
			for _, v := range table.ImportValues {
				if cmd.Flags().Changed(v.Flag) {
					o.read.Values[v.Column] = *values[v.Flag]
				}
			}
			return s.importFile(cmd.Context(), o, args[0])
		},
	}
	f := cmd.Flags()
	f.StringVar(&o.to, "to", "", "write the trial to a new `FILE`, or each trial to a new file in a folder")
	f.StringVar(&o.into, "into", "", "add the strips to the `TRIAL`")
	forceFlag(f, &o.force)
	f.BoolVar(&o.dryRun, "dry-run", false, "show what was guessed and the trial, and write nothing")
	f.StringVar(&o.read.Separator, "separator", "", "what parts the cells: comma, semicolon or tab")
	f.StringVar(&o.read.Decimal, "decimal", "", "the decimal mark: point or comma")
	f.StringVar(&o.read.Orientation, "orientation", "", "long (a row for each reading), columns (one for each strip) or rows (one for each strip)")
	f.StringVar(&o.read.Times, "times", "", "how times are meant that do not say it: `WAY` is minutes, seconds, clock (5.30 and 5:30:00 are 5 min 30 s) or hours (5:30:00 is 5 h 30 min)")
	f.StringVar(&o.read.Dates, "dates", "", "how a date like 3/4/2026 is meant: `ORDER` is day-first or month-first")
	f.StringArrayVar(&o.read.Without, "without", nil, "leave out the `COLUMN` of that heading; may be given several times")
	f.BoolVar(&o.yes, "yes", false, "at a terminal, ask nothing: write what can be meant in one way")
	f.BoolVar(&o.plain, "plain", false, "questions line by line, without colours")
	f.StringVar(&o.read.Sheet, "sheet", "", "the `SHEET` of a workbook with several")
	for _, v := range table.ImportValues {
		values[v.Flag] = textFlag(f, v.Flag, v.Usage)
	}
	return cmd
}

func textFlag(f *pflag.FlagSet, name, usage string) *string { return f.String(name, "", usage) }

// importFile reads the file and writes what the flags ask for. At a terminal it
// asks what the file leaves open, and before it writes; elsewhere it writes only
// what can be meant in one way.
func (s streams) importFile(ctx context.Context, o *importOptions, path string) error {
	if err := o.check(); err != nil {
		return err
	}
	var seen []byte
	if o.into != "" {
		var err error
		if seen, err = store.ReadBytes(o.into); err != nil {
			return err
		}
		if o.read.Into, err = notebook.Read(o.into, bytes.NewReader(seen)); err != nil {
			return err
		}
	}
	name := path
	if path == "-" {
		name = console.StandardInput
	}
	var data bytes.Buffer // kept, since an answer has it read again
	asks := path != "-" && !o.yes && console.IsTerminal(s.In) && console.IsTerminal(s.Terminal)
	found, err := console.ReadInput(s.Streams, path, func(name string, r io.Reader) (*table.Found, error) {
		return table.Import(name, io.TeeReader(r, &data), o.read)
	})
	for asks {
		var doubt *table.Doubt
		if !errors.As(err, &doubt) {
			break
		}
		if err := s.settle(ctx, o, name, doubt); err != nil {
			return err
		}
		found, err = table.Import(name, bytes.NewReader(data.Bytes()), o.read)
	}
	if found != nil {
		s.tellImport(name, found)
	}
	if err != nil {
		return err
	}
	sure := func(what string) error {
		if !asks || o.dryRun {
			return nil
		}
		return s.confirm(ctx, o.plain, what)
	}
	if o.into != "" {
		return s.addStrips(o, seen, found.Trials[0].Strips, found.Trials[0].Trial.Calibrations(), sure)
	}
	return s.createTrials(o, found.Trials, sure)
}

// tellImport says how a file was read.
func (s streams) tellImport(name string, found *table.Found) {
	for _, g := range found.Guesses {
		fmt.Fprintf(s.Err, "sensito: %s: %s\n", name, g)
	}
	if len(found.Columns) == 0 {
		return
	}
	const widest = 24
	width := 0
	for _, c := range found.Columns {
		width = max(width, min(utf8.RuneCountInString(c.Heading), widest))
	}
	fmt.Fprintf(s.Err, "sensito: %s: its columns are read as\n", name)
	for _, c := range found.Columns {
		fmt.Fprintf(s.Err, "  %-*s  %s\n", width, c.Heading, c.As)
	}
}

// settle asks what is in doubt and notes the answer.
func (s streams) settle(ctx context.Context, o *importOptions, name string, d *table.Doubt) error {
	var options []huh.Option[int]
	for i, c := range d.Choices {
		options = append(options, huh.NewOption(c.Means, i))
	}
	options = append(options, huh.NewOption("stop, and write nothing", -1))
	answer := 0
	title := fmt.Sprintf("%s, line %d: %s", name, d.Fault.Line, d.Question)
	if err := s.Ask(ctx, o.plain, huh.NewGroup(huh.NewSelect[int]().Title(title).Options(options...).Value(&answer))); err != nil {
		return err
	}
	if answer < 0 {
		return errNothingWritten
	}
	choice, value := d.Choices[answer], ""
	if choice.Value == "" {
		check := func(text string) error { return o.read.Answer(choice, text).Check() }
		if err := s.Ask(ctx, o.plain, huh.NewGroup(huh.NewInput().Title("Their development times, in order, like 4:00,5:30,8:00").Value(&value).Validate(check))); err != nil {
			return err
		}
	}
	o.read = o.read.Answer(choice, value)
	return nil
}

// confirm asks whether to do what is named.
func (s streams) confirm(ctx context.Context, plain bool, what string) error {
	yes := false
	if err := s.Ask(ctx, plain, huh.NewGroup(huh.NewConfirm().Title(what+"?").Affirmative("Yes").Negative("No").Value(&yes))); err != nil {
		return err
	}
	if !yes {
		return errNothingWritten
	}
	return nil
}

var errNothingWritten = errors.New("stopped; nothing was written")

// check returns a usage error for flags that do not go together.
func (o *importOptions) check() error {
	switch {
	case o.to != "" && o.into != "":
		return console.Usagef("--to makes a new trial and --into adds to one: give one of them")
	case o.to == "" && o.into == "" && !o.dryRun:
		return console.Usagef("import needs --to NEW.toml, --into TRIAL.toml, or --dry-run to look at what it would write")
	case o.into == "-":
		return console.Usagef("--into adds to a file, which standard input is not")
	}
	v := o.read.Values
	if developer, dilution := sensito.SplitDilution(v["developer"]); dilution != "" {
		if v["dilution"] != "" && v["dilution"] != dilution {
			return console.Usagef("--developer says the dilution %s and --dilution %s", dilution, v["dilution"])
		}
		v["developer"], v["dilution"] = developer, dilution
	}
	if err := o.read.Check(); err != nil {
		return console.Usage(err)
	}
	return nil
}

// addStrips adds strips, and the calibrations that they were read by, to the trial whose content was seen, and to which others
// may have added theirs since, but for those that it has already.
func (s streams) addStrips(o *importOptions, seen []byte, strips []sensito.StripSpec, known []sensito.Calibration, sure func(what string) error) error {
	var left []string
	add := func(data []byte) (text []byte, err error) {
		if text, left, err = table.AppendStrips(data, seen, strips, known...); err != nil {
			return nil, fmt.Errorf("%s: %w", o.into, err)
		}
		return text, nil
	}
	data, err := add(seen)
	if err != nil {
		return err
	}
	for _, l := range left {
		fmt.Fprintf(s.Err, "sensito: %s: %s\n", o.into, l)
	}
	if o.dryRun {
		_, err = s.Out.Write(data)
		return err
	}
	added := len(strips) - len(left)
	if added == 0 {
		fmt.Fprintf(s.Err, "sensito: %s has every strip already; nothing was added\n", o.into)
		return nil
	}
	if err := sure(fmt.Sprintf("Add %s to %s", printable.Counted(added, "strip"), o.into)); err != nil {
		return err
	}
	if err := s.Save(o.into, func() error {
		_, err := store.Update(o.into, nil, add)
		return err
	}); err != nil {
		return err
	}
	fmt.Fprintf(s.Err, "sensito: added %s to %s\n", printable.Counted(len(strips)-len(left), "strip"), o.into)
	return nil
}

// createTrials writes each trial to a new file.
func (s streams) createTrials(o *importOptions, found []*table.Imported, sure func(what string) error) error {
	paths := make([]string, len(found))
	if info, err := os.Stat(o.to); o.to != "" && err == nil && info.IsDir() {
		taken := map[string]int{}
		for i, f := range found {
			name := table.FileName(f.Trial)
			if taken[name]++; taken[name] > 1 {
				name = fmt.Sprintf("%s-%d", name, taken[name])
			}
			paths[i] = filepath.Join(o.to, name+".toml")
		}
	} else if len(found) > 1 && o.to != "" {
		return fmt.Errorf("the file holds %d trials; name a folder with --to", len(found))
	} else if o.to != "" {
		paths[0] = o.to
	}
	if o.dryRun {
		var b bytes.Buffer
		for i, f := range found {
			if i > 0 {
				b.WriteString("\n")
			}
			if len(found) > 1 {
				fmt.Fprintf(&b, "# trial %d of %d %s\n", i+1, len(found), strings.TrimSpace(printable.Text(paths[i])))
			}
			b.Write(notebook.Format(f.Trial))
		}
		_, err := s.Out.Write(b.Bytes())
		return err
	}
	for _, path := range paths {
		if err := s.Free(path, o.force); err != nil {
			return err
		}
	}
	var files []string
	for i, f := range found {
		var times []string
		for _, s := range f.Trial.Strips() {
			times = append(times, s.Minutes().Clock(1))
		}
		files = append(files, fmt.Sprintf("%s with %s (%s)", paths[i], printable.Counted(len(times), "strip"), strings.Join(times, ", ")))
	}
	if err := sure("Write " + strings.Join(files, "; ")); err != nil {
		return err
	}
	for i, f := range found {
		if err := s.WriteOutput(paths[i], notebook.Format(f.Trial), o.force); err != nil {
			return err
		}
		fmt.Fprintf(s.Err, "sensito: wrote %s: %s\n", paths[i], printable.Counted(len(f.Trial.Strips()), "strip"))
	}
	return nil
}
