package main

import (
	"bytes"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"sensito/cmd/sensito/internal/console"
	"sensito/fit"
	"sensito/plot"
	"sensito/sensito"
	"sensito/sensito/curve"
	"sensito/sensito/notebook"
	"sensito/sensito/notebook/store"
	"sensito/sensito/report"
)

// streams are what a command reads from and writes to; the methods are the
// commands.
type streams struct{ console.Streams }

// options are the flags that every computing command has.
type options struct {
	json       bool
	full       bool // the text tells all that is known
	plot       string
	font       string // a file for the letters that the built-in fonts lack
	force      bool
	confidence float64
	keepAll    bool
	sdFrom     string
	gradient   bool // the command has the flags of a gradient
	changed    func(flag string) bool
	measure    curve.MeasureOptions
	look       look
	drawn      plot.Options // how a figure is drawn, once the options are checked
}

func (o *options) register(cmd *cobra.Command) {
	o.registerUndrawn(cmd)
	cmd.Flags().StringVar(&o.plot, "plot", "", "draw into `FILE`, ending in .svg, .png or .pdf; .csv for its numbers")
	cmd.Flags().StringVar(&o.font, "font", "", "take letters that a .png or .pdf could not draw from `FILE`, a font in TrueType or OpenType")
	forceFlag(cmd.Flags(), &o.force)
}

// registerUndrawn is register for a command that draws nothing.
func (o *options) registerUndrawn(cmd *cobra.Command) {
	f := cmd.Flags()
	f.BoolVar(&o.json, "json", false, "write JSON, one object a trial")
	f.Float64Var(&o.confidence, "confidence", report.DefaultConfidence, "level of the intervals, between 0.5 and 0.999")
	f.BoolVar(&o.keepAll, "keep-all", false, "use every reading, even one that cannot belong to the curve")
	f.StringVar(&o.sdFrom, "sd-from", "scatter", "standard deviation of a reading: from the scatter about the curve, or the notebook's repeatability")
}

// registerFull adds the flag by which the text tells more: what, is said.
func (o *options) registerFull(cmd *cobra.Command, more string) {
	cmd.Flags().BoolVar(&o.full, "full", false, "also "+more)
}

func (o *options) registerGradient(cmd *cobra.Command) {
	o.gradient = true
	o.changed = cmd.Flags().Changed
	f := cmd.Flags()
	f.Float64Var((*float64)(&o.measure.Gradient.From), "gradient-from", float64(curve.SpeedPointDensity), "net density where the average gradient starts")
	f.Float64Var((*float64)(&o.measure.Gradient.Span), "gradient-span", defaultSpan, "log exposure over which the average gradient is taken")
	f.Float64Var((*float64)(&o.measure.Gradient.To), "gradient-to", 0, "net density where the average gradient ends, in place of a span")
	f.BoolVar(&o.measure.Gradient.Arc, "gradient-arc", false, "measure the span as the straight distance to the curve")
}

const defaultSpan = 1.50

// noises are the values of --sd-from.
var noises = map[string]fit.Noise{"scatter": fit.NoiseFromResiduals, "repeatability": fit.NoiseGiven}

// check completes the options and returns a usage error for what is outside
// its limits.
func (o *options) check() error {
	if !(o.confidence >= 0.5 && o.confidence <= 0.999) {
		return console.Usagef("--confidence %g is outside 0.5 to 0.999", o.confidence)
	}
	var known bool
	if o.measure.Fit.Noise, known = noises[o.sdFrom]; !known {
		return console.Usagef("--sd-from %q is neither scatter nor repeatability", o.sdFrom)
	}
	o.measure.Fit.KeepAll = o.keepAll
	if g := o.measure.Gradient; o.gradient {
		if !(g.From >= 0.01 && g.From <= 4) {
			return console.Usagef("--gradient-from %g is outside 0.01 to 4", g.From)
		}
		ended := o.changed("gradient-to")
		if ended && !(g.To >= g.From+0.1 && g.To <= 6) {
			return console.Usagef("--gradient-to %g is outside %g to 6", g.To, g.From+0.1)
		}
		if ended && (g.Arc || o.changed("gradient-span")) {
			return console.Usagef("--gradient-to takes the place of --gradient-span and --gradient-arc: give one of them")
		}
		if !(g.Span >= 0.1 && g.Span <= 5) {
			return console.Usagef("--gradient-span %g is outside 0.1 to 5", g.Span)
		}
	}
	if o.plot != "" {
		if _, err := plot.FormatOf(o.plot); err != nil {
			return console.Usage(err)
		}
	} else if o.font != "" {
		return console.Usagef("--font is for the figure that --plot FILE draws: give both")
	}
	var err error
	o.drawn, err = o.look.options(o)
	return err
}

// readTrial reads a trial of film or paper from a file, from standard input for
// "-", or from the folder that holds no other.
func (s streams) readTrial(path string) (*sensito.Trial, error) {
	path, err := only(path, notebook.FilmKind, notebook.PaperKind)
	if err != nil {
		return nil, err
	}
	return console.ReadInput(s.Streams, path, notebook.Read)
}

// readFilm reads a trial of film, named as for readTrial.
func (s streams) readFilm(path string) (*sensito.Trial, error) {
	return s.readOf(path, notebook.FilmKind)
}

// readOf reads a trial of one material, named as for readTrial.
func (s streams) readOf(path string, kind notebook.Kind) (*sensito.Trial, error) {
	path, err := only(path, kind)
	if err != nil {
		return nil, err
	}
	trial, err := s.readTrial(path)
	if err != nil {
		return nil, err
	}
	is := notebook.FilmKind
	if trial.Material() == sensito.PaperMaterial {
		is = notebook.PaperKind
	}
	if is != kind {
		if path == "-" {
			path = console.StandardInput
		}
		return nil, fmt.Errorf("%s %s", path, is.Instead(kind.String()))
	}
	return trial, nil
}

// only returns the file that a path stands for: itself or, of a folder, the one
// file of the kinds in it; "-" is standard input.
func only(path string, kinds ...notebook.Kind) (string, error) {
	if path == "-" {
		return path, nil
	}
	files, folder, err := expand(path, kinds...)
	switch {
	case err != nil:
		return "", err
	case !folder || len(files) == 1:
		return files[0], nil
	case len(files) == 0:
		return "", fmt.Errorf("%s holds no file that is %s; see: sensito ls %s", path, alternatives(kinds), path)
	}
	for i, f := range files {
		files[i] = filepath.Base(f)
	}
	return "", console.Usagef("%s holds %d %s: name one, %s", path, len(files), kinds[0].Plural(), strings.Join(files, ", "))
}

func alternatives(kinds []notebook.Kind) string {
	var names []string
	for _, k := range kinds {
		names = append(names, k.String())
	}
	return strings.Join(names, " or ")
}

// expand returns the files of the kinds in a folder, sorted by name; a path that
// is not a folder stands for itself.
func expand(path string, kinds ...notebook.Kind) (files []string, folder bool, err error) {
	if info, err := os.Stat(path); err != nil || !info.IsDir() {
		return []string{path}, false, nil
	}
	entries, err := notebook.List(path)
	if err != nil {
		return nil, true, err
	}
	for _, e := range entries {
		if slices.Contains(kinds, e.Kind) {
			files = append(files, e.Path)
		}
	}
	return files, true, nil
}

// films returns the trials of film that paths name, those in folders included.
func films(paths []string) ([]string, error) {
	var all []string
	for _, path := range paths {
		files, _, err := expand(path, notebook.FilmKind)
		if err != nil {
			return nil, err
		}
		if len(files) == 0 {
			return nil, fmt.Errorf("%s holds no file that is %s; see: sensito ls %s", path, notebook.FilmKind, path)
		}
		all = append(all, files...)
	}
	return all, nil
}

// output is the finished result of one trial: bytes for standard output, and a
// figure if one is wanted.
type output struct {
	text   []byte
	figure []byte
	path   string // of the figure
	force  bool
}

// render writes a report and draws its figure in memory.
func (s streams) render(o *options, r report.Report, figure func() (*plot.Figure, error)) (*output, error) {
	var text bytes.Buffer
	var err error
	if o.json {
		err = report.JSON(&text, r)
	} else {
		err = r.Text(&text, report.Layout{Full: o.full, Width: console.Columns(s.Out), Bold: console.Emphasised(s.Out)})
	}
	if err != nil {
		return nil, err
	}
	out := &output{text: text.Bytes()}
	if o.plot == "" {
		return out, nil
	}
	fig, err := figure()
	if err != nil {
		return nil, err
	}
	format, err := plot.FormatOf(o.plot)
	if err != nil {
		return nil, err
	}
	if o.font != "" {
		if fig.Fallback, err = console.ReadInput(s.Streams, o.font, readFont); err != nil {
			return nil, err
		}
	}
	var drawn bytes.Buffer
	if err := plot.Write(&drawn, fig, format); err != nil {
		return nil, err
	}
	out.figure, out.path, out.force = drawn.Bytes(), o.plot, o.force
	return out, nil
}

// readFont reads a font from a file of a name.
func readFont(name string, r io.Reader) (*plot.Font, error) {
	const most = 100 << 20 // bytes, several times the largest fonts
	data, err := io.ReadAll(io.LimitReader(r, most+1))
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, store.Cause(err))
	}
	if len(data) > most {
		return nil, fmt.Errorf("%s is larger than %d MiB: it is no font", name, most>>20)
	}
	font, err := plot.ParseFont(data)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	return font, nil
}

// write puts out what is finished: the figure first, so that a result on
// standard output means that all of it is there.
func (s streams) write(out *output) error {
	if out.path != "" {
		if err := s.WriteOutput(out.path, out.figure, out.force); err != nil {
			return err
		}
		fmt.Fprintf(s.Err, "sensito: drew %s\n", out.path)
	}
	_, err := s.Out.Write(out.text)
	return err
}

// finish renders and writes the result of a command on one trial.
func (s streams) finish(o *options, r report.Report, figure func() (*plot.Figure, error)) error {
	out, err := s.render(o, r, figure)
	if err != nil {
		return err
	}
	return s.write(out)
}
