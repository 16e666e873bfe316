package main

import (
	"bytes"
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"sensito/cmd/sensito/internal/ask"
	"sensito/cmd/sensito/internal/console"
	"sensito/plot"
	"sensito/sensito/notebook/store"
	"sensito/sensito/report"
)

// streams are what a command reads from and writes to; the methods are the
// commands.
type streams struct{ ask.Files }

// today returns the date that a card is made on.
var today = ask.Date

// noteAhead says that a date of what was done is yet to come.
func (s streams) noteAhead(date string) {
	if ahead := ask.Ahead(date, today()); ahead != "" {
		fmt.Fprintf(s.Err, "sensito: kept, but %s\n", ahead)
	}
}

// options are the flags that say where a result goes and how it looks.
type options struct {
	json  bool
	full  bool // the text tells all that is known
	plot  string
	font  string // a file for the letters that the built-in fonts lack
	force bool
	look  look
	drawn plot.Options // how a figure is drawn, once the options are checked
}

func (o *options) register(cmd *cobra.Command) {
	o.registerUndrawn(cmd)
	cmd.Flags().StringVar(&o.plot, "plot", "", "draw into `FILE`, ending in .svg, .png or .pdf; .csv for its numbers")
	cmd.Flags().StringVar(&o.font, "font", "", "take letters that a .png or .pdf could not draw from `FILE`, a font in TrueType or OpenType")
	forceFlag(cmd.Flags(), &o.force)
}

// registerUndrawn is register for a command that draws nothing.
func (o *options) registerUndrawn(cmd *cobra.Command) {
	cmd.Flags().BoolVar(&o.json, "json", false, "write JSON, one object a trial")
}

// registerFull adds the flag by which the text tells more: what, is said.
func (o *options) registerFull(cmd *cobra.Command, more string) {
	cmd.Flags().BoolVar(&o.full, "full", false, "also "+more)
}

// check completes the options and returns a usage error for those that do not go
// together.
func (o *options) check() error {
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

// output is the finished result of one trial: bytes for standard output, and a
// figure if one is wanted.
type output struct {
	text   []byte
	figure []byte
	path   string // of the figure
	force  bool
}

// render writes a report and draws its figure in memory.
func (s streams) render(o *options, r report.Report, figure func(plot.Options) (*plot.Figure, error)) (*output, error) {
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
	return out, s.draw(o, out, figure)
}

// draw draws a figure in memory.
func (s streams) draw(o *options, out *output, figure func(plot.Options) (*plot.Figure, error)) error {
	fig, err := figure(o.drawn)
	if err != nil {
		return err
	}
	format, err := plot.FormatOf(o.plot)
	if err != nil {
		return err
	}
	if o.font != "" {
		if fig.Fallback, err = console.ReadInput(s.Streams, o.font, readFont); err != nil {
			return err
		}
	}
	var drawn bytes.Buffer
	if err := plot.Write(&drawn, fig, format); err != nil {
		return err
	}
	out.figure, out.path, out.force = drawn.Bytes(), o.plot, o.force
	return nil
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
func (s streams) finish(o *options, r report.Report, figure func(plot.Options) (*plot.Figure, error)) error {
	out, err := s.render(o, r, figure)
	if err != nil {
		return err
	}
	return s.write(out)
}

// show renders and writes an answer.
func (s streams) show(o *options, a ask.Answer) error {
	r, err := a.Report()
	if err != nil {
		return err
	}
	return s.finish(o, r, a.Figure)
}

// asked is a command on one trial: it asks a question, and shows the answer.
func asked[A ask.Answer](s streams, o *options, q interface {
	Ask(from console.Streams, path string) (A, error)
}, path string) error {
	if err := o.check(); err != nil {
		return err
	}
	a, err := q.Ask(s.Streams, path)
	if err != nil {
		return err
	}
	return s.show(o, a)
}
