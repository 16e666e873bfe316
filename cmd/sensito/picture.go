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

	"charm.land/huh/v2"
	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"sensito/cmd/sensito/internal/ask"
	"sensito/cmd/sensito/internal/console"
	"sensito/plot"
	"sensito/sensito/notebook/pictures"
	"sensito/sensito/picture"
	"sensito/sensito/printable"
	"sensito/sensito/report"
)

// pictureOptions are the flags of picture that say what is written.
type pictureOptions struct {
	options
	yes, plain bool
	into, keep string
	mine       map[string]bool // drawings of this run, which a later one of the same picture replaces
}

func newPictureCmd(s streams) *cobra.Command {
	o, q := &pictureOptions{}, &ask.Picture{Made: today()}
	cmd := &cobra.Command{
		Use:   "picture FILE... [--ends X,Y:X,Y]",
		Short: "Densities from a picture: a scanner or a camera over a light table",
		Long: `Reads the densities of strips in a picture, in place of a densitometer: a TIFF or
PNG of 16 bits by a scanner, or by a camera over a light table. It needs a step
tablet of known density under the same conditions, best beside the strip in the
same picture (--tablet FILE --tablet-ends X,Y:X,Y), else a calibration that was
kept (--keep) of a picture masked and set alike (--by). A picture of the empty table
(--empty FILE) makes even what a lens, or the table, leaves darker.

Where a strip lies is marked by the middles of its two outer edges, to a third of a
step, and refined. Without --ends a place is proposed, drawn and told, and nothing is
read. What was found is drawn over the picture, FILE-read.png unless --plot names
another: look at it. A second FILE of the same strips, laid anew, gives second
readings; --ends may then be given for each, those of the first picture first.

With --into the strips go into a trial, and what all of them err by alike goes with
them. A strip that is there already is told and left out; sensito enter TRIAL --undo
takes it back. See sensito help pictures.`,
		Example: `  sensito picture negatives.tif --steps 21 --ends 412,300:2890,318 --plot seen.png
  sensito picture negatives.tif --tablet bed.toml --tablet-ends 410,820:2886,824 --ends 412,300:2890,318 --fog step=22 --into tern.toml --minutes 8
  sensito picture bed.tif --tablet bed.toml --tablet-ends 410,820:2886,824 --keep bed-november.toml
  sensito picture negatives.tif --by bed-november.toml --ends 412,300:2890,318 --into tern.toml --minutes 8`,
		Args: cobra.ArbitraryArgs, // which the question checks
		RunE: func(cmd *cobra.Command, args []string) error {
			return s.picture(cmd, o, q, args)
		},
	}
	q.Register(cmd.Flags())
	o.register(cmd)
	f := cmd.Flags()
	f.BoolVar(&o.yes, "yes", false, "ask nothing, and take ends that may be off by a whole step")
	f.BoolVar(&o.plain, "plain", false, "questions line by line, without colours")
	return cmd
}

// picture reads strips, and writes what the flags ask for once all of it is certain.
func (s streams) picture(cmd *cobra.Command, o *pictureOptions, q *ask.Picture, paths []string) error {
	if err := o.check(); err != nil {
		return err
	}
	if o.plot != "" && len(paths) > 1 {
		return console.Usagef("--plot names one drawing, and %d pictures are given", len(paths))
	}
	o.into, o.keep = cmd.Flag("into").Value.String(), cmd.Flag("keep").Value.String()
	ctx := cmd.Context()
	asks := !o.yes && !o.json && console.IsTerminal(s.In) && console.IsTerminal(s.Terminal)
	var a *ask.PictureAnswer
	for a == nil {
		found, err := q.Ask(s.Streams, paths)
		missing := (*ask.MissingFlag)(nil)
		switch {
		case asks && errors.As(err, &missing):
			err = s.askFlag(ctx, o, cmd.Flags(), missing.Flag)
		case err == nil && found.Proposed != nil:
			err = s.proposed(ctx, o, cmd.Flags(), found, paths, asks)
			if !asks {
				return err
			}
		case err == nil:
			a = found
		}
		if err != nil {
			return err
		}
	}
	return s.writePicture(ctx, o, a, paths, asks)
}

// drawing is where what was found in a picture is drawn.
func (o *pictureOptions) drawing(path string) string {
	if o.plot != "" {
		return o.plot
	}
	return strings.TrimSuffix(path, filepath.Ext(path)) + "-read.png"
}

// drawPictures draws what was found into memory, and returns what writes it.
func (s streams) drawPictures(o *pictureOptions, a *ask.PictureAnswer, paths []string) (write func() error, err error) {
	if a.Proposed != nil {
		paths = paths[:1]
	}
	outs := make([]*output, len(paths))
	for i, path := range paths {
		one := o.options
		one.plot = o.drawing(path)
		one.force = o.force || drawnHere(one.plot)
		if !o.mine[one.plot] {
			if err := s.Free(one.plot, one.force); err != nil {
				return nil, err
			}
		}
		outs[i] = &output{}
		if err := s.draw(&one, outs[i], func(p plot.Options) (*plot.Figure, error) { return a.Drawing(i, p) }); err != nil {
			return nil, err
		}
	}
	return func() error {
		for _, out := range outs {
			var err error
			if o.mine[out.path] {
				err = s.ReplaceOutput(out.path, out.figure)
			} else {
				err = s.write(out)
			}
			if err != nil {
				return err
			}
			if o.mine == nil {
				o.mine = map[string]bool{}
			}
			o.mine[out.path] = true
		}
		return nil
	}, nil
}

// drawnHere says whether a file is a drawing of this command, which it may replace.
func drawnHere(path string) bool {
	f, err := os.Open(path)
	if err != nil {
		return false
	}
	defer f.Close()
	head := make([]byte, 4096)
	n, _ := io.ReadFull(f, head)
	return bytes.HasPrefix(head, []byte("\x89PNG")) && bytes.Contains(head[:n], []byte("Software\x00sensito picture"))
}

// proposed draws and tells where a strip may lie that nobody has marked, and asks for it at a terminal. Nothing else
// is done.
func (s streams) proposed(ctx context.Context, o *pictureOptions, f *pflag.FlagSet, a *ask.PictureAnswer, paths []string, asks bool) error {
	write, err := s.drawPictures(o, a, paths)
	if err == nil {
		err = write()
	}
	if err != nil {
		return err
	}
	what := "strip"
	if a.ProposedFlag == "tablet-ends" {
		what = "tablet"
	}
	first := a.Proposed[0].Ends.String()
	text := fmt.Sprintf("A row of %d steps may lie at %s; it is drawn in %s.", a.ProposedSteps, first, o.drawing(paths[0]))
	if len(a.Proposed) > 1 {
		text = fmt.Sprintf("Rows of %d steps may lie at", a.ProposedSteps)
		for i, l := range a.Proposed {
			text += fmt.Sprintf(" %s (row %d),", l.Ends, i+1)
		}
		text = strings.TrimSuffix(text, ",") + fmt.Sprintf("; they are drawn in %s.", o.drawing(paths[0]))
	}
	text += " Look whether each number stands on its step: the ends may be off by whole steps, or exchanged."
	if asks {
		s.Tell("%s", report.Paragraph("", "", text))
		return s.askEnds(ctx, o, f, a, what)
	}
	again := commandLine(f, paths, a.ProposedFlag, first)
	if o.into != "" || o.keep != "" || o.json {
		return console.WithHint(console.Usagef("nobody has marked the %s, so nothing was read; --%s X,Y:X,Y marks it", what, a.ProposedFlag), text+" Then: "+again)
	}
	s.Tell("%s\n  %s\n", report.Paragraph("", "", fmt.Sprintf("Nobody has marked the %s, so nothing was read. %s Then:", what, text)), again)
	return nil
}

// commandLine returns the line as it was given, with one flag more.
func commandLine(f *pflag.FlagSet, paths []string, flag, value string) string {
	words := []string{"sensito", "picture"}
	for _, path := range paths {
		words = append(words, console.InShell(path))
	}
	f.Visit(func(f *pflag.Flag) {
		switch list, several := f.Value.(pflag.SliceValue); {
		case several:
			for _, v := range list.GetSlice() {
				words = append(words, "--"+f.Name, console.InShell(v))
			}
		case f.Value.Type() == "bool":
			words = append(words, "--"+f.Name)
		default:
			words = append(words, "--"+f.Name, console.InShell(f.Value.String()))
		}
	})
	return strings.Join(append(words, "--"+flag, value), " ")
}

// askFlag asks for a flag without which nothing can be asked.
func (s streams) askFlag(ctx context.Context, o *pictureOptions, f *pflag.FlagSet, flag string) error {
	title := map[string]string{"steps": "Steps of a strip, like 21", "minutes": "Development times of the strips, in order, like 4:00, 5:30"}[flag]
	values := func(text string) []string {
		if flag == "minutes" {
			return strings.Split(text, ",")
		}
		return []string{text}
	}
	check := func(text string) error {
		probe := pflag.NewFlagSet("", pflag.ContinueOnError)
		try := &ask.Picture{}
		try.Register(probe)
		for _, v := range values(text) {
			if err := ask.Set(probe, flag, strings.TrimSpace(v)); err != nil {
				return err
			}
		}
		return try.Check([]string{""})
	}
	text := ""
	if err := s.Ask(ctx, o.plain, huh.NewGroup(huh.NewInput().Title(title).Value(&text).Validate(check))); err != nil {
		return err
	}
	for _, v := range values(text) {
		if err := ask.Set(f, flag, strings.TrimSpace(v)); err != nil {
			return err
		}
	}
	return nil
}

// askEnds asks where the strips lie, or the tablet, one after the other; what is proposed is that of the first.
func (s streams) askEnds(ctx context.Context, o *pictureOptions, f *pflag.FlagSet, a *ask.PictureAnswer, what string) error {
	n := 1
	if list, ok := f.Lookup("minutes").Value.(pflag.SliceValue); ok && what == "strip" {
		n = max(n, len(list.GetSlice()))
	}
	for i := range n {
		text, name := "", what
		if n > 1 {
			name = fmt.Sprintf("%s %d", what, i+1)
		}
		if i == 0 {
			text = a.Proposed[0].Ends.String()
		}
		check := func(text string) error {
			_, err := picture.ParseEnds(text)
			return err
		}
		title := fmt.Sprintf("Ends of the %s, X,Y:X,Y in pixels, the first step first", name)
		if err := s.Ask(ctx, o.plain, huh.NewGroup(huh.NewInput().Title(title).Value(&text).Validate(check))); err != nil {
			return err
		}
		if err := ask.Set(f, a.ProposedFlag, text); err != nil {
			return err
		}
	}
	return nil
}

// writePicture writes what was read: the drawing and the calibration, then the strips, and last the text. Before the
// first of them all is known to be possible.
func (s streams) writePicture(ctx context.Context, o *pictureOptions, a *ask.PictureAnswer, paths []string, asks bool) error {
	r, err := a.Report()
	if err != nil {
		return err
	}
	plain := o.options
	plain.plot = ""
	out, err := s.render(&plain, r, nil)
	if err != nil {
		return err
	}
	if a.Calibration == nil && o.plot == "" {
		return console.WithHint(fmt.Errorf("%s: %w", paths[0], picture.ErrNoTablet), "--tablet FILE --tablet-ends X,Y:X,Y names it; --plot FILE shows where the steps are")
	}
	draw := func() error { return nil }
	if o.plot != "" || o.into != "" || o.keep != "" {
		if draw, err = s.drawPictures(o, a, paths); err != nil {
			return err
		}
	}
	if o.keep != "" {
		if err := s.Free(o.keep, o.force); err != nil {
			return err
		}
	}
	if o.into != "" {
		if err := a.Fits(o.into); err != nil {
			return err
		}
	}
	if err := draw(); err != nil {
		return err
	}
	if doubt := a.Doubt(); doubt != "" && !o.yes && !asks && (o.into != "" || o.keep != "") {
		return console.WithHint(fmt.Errorf("%s: %s", paths[0], doubt), fmt.Sprintf("nothing was written: look at %s; --yes takes the ends as they are", o.drawing(paths[0])))
	}
	if asks && o.into != "" {
		if err := s.write(out); err != nil {
			return err
		}
		out.text = nil
		if err := s.confirm(ctx, o.plain, fmt.Sprintf("Does each number in %s stand on its step? Add %s to %s", o.drawing(paths[0]), printable.Counted(len(a.Strips), "strip"), o.into)); err != nil {
			return err
		}
	}
	if o.keep != "" {
		if err := s.WriteOutput(o.keep, pictures.FormatCalibration(a.Calibration), o.force); err != nil {
			return err
		}
		fmt.Fprintf(s.Err, "sensito: kept the calibration in %s\n", o.keep)
	}
	if o.into != "" {
		if err := s.addPicture(o.into, a); err != nil {
			return err
		}
	}
	return s.write(out)
}

// addPicture adds the strips to the trial, but for those that it has.
func (s streams) addPicture(path string, a *ask.PictureAnswer) error {
	var left []string
	if err := s.Save(path, func() (err error) {
		left, err = ask.AddPicture(path, a)
		return err
	}); err != nil {
		return err
	}
	for _, l := range left {
		fmt.Fprintf(s.Err, "sensito: %s: %s\n", path, l)
	}
	if n := len(a.Strips) - len(left); n > 0 {
		fmt.Fprintf(s.Err, "sensito: added %s to %s\n", printable.Counted(n, "strip"), path)
	} else {
		fmt.Fprintf(s.Err, "sensito: %s has every strip already; nothing was added\n", path)
	}
	return nil
}
