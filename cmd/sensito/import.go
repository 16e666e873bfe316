package main

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"sensito/sensito"
	"sensito/sensito/notebook"
)

// importOptions are the flags of import.
type importOptions struct {
	read   notebook.ImportOptions
	to     string
	into   string
	dryRun bool
}

// importValues are the flags that say what a file does not, by the column that
// would say it.
var importValues = []struct{ flag, column, usage string }{
	{"title", "trial", "what the trial is called"},
	{"film", "film", "the film `NAME`"},
	{"paper", "paper", "the paper `NAME`, for a trial of paper"},
	{"speed", "rated_speed", "rated speed `S` of the film, as on the box"},
	{"developer", "developer", "the developer `NAME`, with its dilution: \"Ashlar 1+4\""},
	{"dilution", "dilution", "`DILUTION`, as 1+19: parts concentrate + parts water"},
	{"temperature", "temperature_c", "temperature in degrees `C`"},
	{"agitation", "agitation", "continuous, intermittent or none"},
	{"minutes", "minutes", "development time `M` of strips that have none, as 5.5 or 5:30"},
	{"kind", "exposure", "how it was exposed: contact, camera or relative"},
	{"lux", "illuminance_lx", "illuminance at the film in `LX`"},
	{"seconds", "seconds", "exposure under the wedge in `S` seconds"},
	{"meter-index", "meter_index", "index `S` set on the meter, in the camera"},
	{"wedge-first", "wedge_first", "`DENSITY` of step 1 of an even wedge"},
	{"wedge-step", "wedge_step", "`DENSITY` from step to step of an even wedge"},
	{"wedge-count", "wedge_count", "its `N` steps"},
	{"repeatability", "repeatability", "standard deviation of one reading, as a `DENSITY`"},
	{"zero", "zero", "what the densitometer was set to zero on: air or base"},
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
a column for each strip headed by its time, or a row for each strip. What is
guessed about it is said; flags overrule it and say what the file does not.`,
		Example: `  sensito import readings.csv --film "Tern 400" --lux 2 --seconds 0.5 --dry-run
  sensito import readings.csv --film "Tern 400" --kind relative --to tern.toml
  sensito import strip4.csv --minutes 12:30 --into tern.toml
  sensito import all-trials.csv --to notebook/`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) != 1 {
				return usagef("import takes one file, or - for standard input; %d given", len(args))
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			o.read.Values = map[string]string{}
			for _, v := range importValues {
				if cmd.Flags().Changed(v.flag) {
					o.read.Values[v.column] = *values[v.flag]
				}
			}
			return s.importFile(o, args[0])
		},
	}
	f := cmd.Flags()
	f.StringVar(&o.to, "to", "", "write the trial to a new `FILE`, or each trial to a new file in a folder")
	f.StringVar(&o.into, "into", "", "add the strips to the `TRIAL`")
	f.BoolVar(&o.dryRun, "dry-run", false, "show what was guessed and the trial, and write nothing")
	f.StringVar(&o.read.Separator, "separator", "", "what parts the cells: comma, semicolon or tab")
	f.StringVar(&o.read.Decimal, "decimal", "", "the decimal mark: point or comma")
	f.StringVar(&o.read.Orientation, "orientation", "", "long (a row for each reading), columns (one for each strip) or rows (one for each strip)")
	f.StringVar(&o.read.Sheet, "sheet", "", "the `SHEET` of a workbook with several")
	for _, v := range importValues {
		values[v.flag] = textFlag(f, v.flag, v.usage)
	}
	return cmd
}

func textFlag(f *pflag.FlagSet, name, usage string) *string { return f.String(name, "", usage) }

// importFile reads the file and writes what the flags ask for.
func (s streams) importFile(o *importOptions, path string) error {
	if err := o.check(); err != nil {
		return err
	}
	var seen []byte
	if o.into != "" {
		var err error
		if seen, err = notebook.ReadBytes(o.into); err != nil {
			return err
		}
		if o.read.Into, err = notebook.Read(o.into, bytes.NewReader(seen)); err != nil {
			return err
		}
	}
	in, name := s.in, "standard input"
	if path != "-" {
		f, err := notebook.Open(path)
		if err != nil {
			return err
		}
		defer f.Close()
		in, name = f, path
	}
	found, guesses, err := notebook.Import(name, in, o.read)
	for _, g := range guesses {
		fmt.Fprintf(s.err, "sensito: %s: %s\n", name, g)
	}
	if err != nil {
		return err
	}
	if o.into != "" {
		return s.addStrips(o, seen, found[0].Strips)
	}
	return s.createTrials(o, found)
}

// check returns a usage error for flags that do not go together.
func (o *importOptions) check() error {
	switch {
	case o.to != "" && o.into != "":
		return usagef("--to makes a new trial and --into adds to one: give one of them")
	case o.to == "" && o.into == "" && !o.dryRun:
		return usagef("import needs --to NEW.toml, --into TRIAL.toml, or --dry-run to look at what it would write")
	case o.into == "-":
		return usagef("--into adds to a file, which standard input is not")
	}
	v := o.read.Values
	if developer, dilution := splitDilution(v["developer"]); dilution != "" {
		if v["dilution"] != "" && v["dilution"] != dilution {
			return usagef("--developer says the dilution %s and --dilution %s", dilution, v["dilution"])
		}
		v["developer"], v["dilution"] = developer, dilution
	}
	if err := o.read.Check(); err != nil {
		return usageError{err}
	}
	return nil
}

// addStrips adds strips to the trial whose content was seen.
func (s streams) addStrips(o *importOptions, seen []byte, strips []sensito.StripSpec) error {
	add := func(data []byte) ([]byte, error) {
		var err error
		for _, strip := range strips {
			if data, err = notebook.AppendStrip(data, strip); err != nil {
				return nil, fmt.Errorf("%s: %w", o.into, err)
			}
		}
		return data, nil
	}
	if o.dryRun {
		data, err := add(seen)
		if err != nil {
			return err
		}
		_, err = s.out.Write(data)
		return err
	}
	if err := s.save(o.into, func() error {
		_, err := notebook.Update(o.into, seen, add)
		return err
	}); err != nil {
		return err
	}
	fmt.Fprintf(s.err, "sensito: added %s to %s\n", counted(len(strips), "strip"), o.into)
	return nil
}

// createTrials writes each trial to a new file.
func (s streams) createTrials(o *importOptions, found []*notebook.Imported) error {
	paths := make([]string, len(found))
	if info, err := os.Stat(o.to); o.to != "" && err == nil && info.IsDir() {
		taken := map[string]int{}
		for i, f := range found {
			name := notebook.FileName(f.Trial)
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
				fmt.Fprintf(&b, "# trial %d of %d %s\n", i+1, len(found), strings.TrimSpace(paths[i]))
			}
			b.Write(notebook.Format(f.Trial))
		}
		_, err := s.out.Write(b.Bytes())
		return err
	}
	for _, path := range paths {
		if err := notebook.Free(path); err != nil {
			return err
		}
	}
	for i, f := range found {
		if err := s.save(paths[i], func() error { return notebook.CreateFile(paths[i], notebook.Format(f.Trial)) }); err != nil {
			return err
		}
		fmt.Fprintf(s.err, "sensito: wrote %s: %s\n", paths[i], counted(len(f.Trial.Strips()), "strip"))
	}
	return nil
}

// counted returns a number with its noun.
func counted(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return fmt.Sprintf("%d %ss", n, noun)
}
