package main

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"sensito/cmd/sensito/internal/console"
	"sensito/cmd/sensito/internal/page"
	"sensito/sensito/notebook"
)

// reportOptions are the flags of report.
type reportOptions struct {
	output string
	force  bool
}

func newReportCmd(s streams) *cobra.Command {
	o := &reportOptions{}
	cmd := &cobra.Command{
		Use:   "report (NOTEBOOK | TRIAL...) -o FILE.html",
		Short: "A notebook as one file to read, print and send",
		Long: `Writes a notebook, or some trials of it, as one HTML file: each trial with its
conditions, times and index, curves, strips, readings, tones and card; papers and
control logs; a comparison where one film was developed in several developers; and
the log. The file holds its style and figures and needs nothing outside it, no
network and no script. It prints on A4 and on Letter, each trial on a page of its own.

The intervals are those of 95 % and the scene one of seven stops, as the notebook
begins with in the browser; for another question, ask its command.`,
		Example: `  sensito report harrow-quay -o harrow-quay.html
  sensito report larkfield-brinewater.toml control.toml -o larkfield.html
  sensito report harrow-quay -o harrow-quay.html --force`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 {
				return console.Usagef("report takes a notebook, a folder, or files of one; none given")
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error { return s.report(o, args) },
	}
	forceFlag(cmd.Flags(), &o.force)
	cmd.Flags().StringVarP(&o.output, "output", "o", "", "write to `FILE`, ending in .html")
	return cmd
}

// report writes the report of the files that paths name, those in folders included.
func (s streams) report(o *reportOptions, paths []string) error {
	if o.output == "" {
		return console.Usagef("report writes a file: name it with -o FILE.html")
	}
	if ending := strings.ToLower(filepath.Ext(o.output)); ending != ".html" && ending != ".htm" {
		return console.Usagef("-o %s should end in .html: a report is a page for a browser", o.output)
	}
	if err := s.Free(o.output, o.force); err != nil {
		return err
	}
	files, err := s.reportFiles(paths)
	if err != nil {
		return err
	}
	name, err := reportName(paths)
	if err != nil {
		return err
	}
	data, err := page.Report(name, today(), files)
	if errors.Is(err, page.ErrNoReport) {
		err = fmt.Errorf("%s: %w", strings.Join(paths, ", "), err)
	}
	if err != nil {
		return err
	}
	if err := s.WriteOutput(o.output, data, o.force); err != nil {
		return err
	}
	fmt.Fprintf(s.Err, "sensito: wrote %s\n", o.output)
	return nil
}

// reportKinds are those of the files that a report shows.
var reportKinds = []notebook.Kind{notebook.FilmKind, notebook.PaperKind, notebook.ControlKind}

// reportFiles reads the files that paths name. One in a folder that cannot be read is kept
// with why, one that is named by itself is an error.
func (s streams) reportFiles(paths []string) ([]page.ReportFile, error) {
	var files []page.ReportFile
	taken := map[string]string{} // paths by names
	for _, path := range paths {
		entries := []notebook.Entry{{Name: path, Path: path}}
		info, err := os.Stat(path)
		folder := err == nil && info.IsDir()
		if folder {
			if entries, err = notebook.List(path); err != nil {
				return nil, err
			}
		}
		for _, e := range entries {
			f := page.ReportFile{Entry: e}
			if folder && !slices.Contains(reportKinds, e.Kind) {
				continue
			}
			f.Data, f.Err = console.ReadInput(s.Streams, e.Path, func(_ string, r io.Reader) ([]byte, error) { return io.ReadAll(r) })
			if !folder {
				if f.Err != nil {
					return nil, f.Err
				}
				f.Kind, f.Named = notebook.FileKind(path), true
				if !slices.Contains(reportKinds, f.Kind) {
					return nil, fmt.Errorf("%s %s", path, f.Kind.Instead("a trial or a control log"))
				}
			}
			if other := taken[e.Name]; other != "" {
				return nil, console.Usagef("%s and %s have the same name: a report tells files apart by it", other, e.Path)
			}
			taken[e.Name] = e.Path
			files = append(files, f)
		}
	}
	return files, nil
}

// reportName returns what a report is called: the folder that its first file is in.
func reportName(paths []string) (string, error) {
	dir, err := filepath.Abs(paths[0])
	if err != nil {
		return "", err
	}
	if info, err := os.Stat(dir); err == nil && !info.IsDir() {
		dir = filepath.Dir(dir)
	}
	return cmp.Or(strings.Trim(filepath.Base(dir), string(filepath.Separator)), "Notebook"), nil
}
