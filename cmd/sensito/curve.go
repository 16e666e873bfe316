package main

import (
	"errors"
	"fmt"
	"runtime/debug"
	"slices"

	"github.com/spf13/cobra"

	"sensito/cmd/sensito/internal/console"
	"sensito/plot"
	"sensito/sensito"
	"sensito/sensito/curve"
	"sensito/sensito/development"
	"sensito/sensito/report"
)

type curveOptions struct {
	options
	strip    int
	triangle bool // of ISO 6, drawn
}

func newCurveCmd(s streams) *cobra.Command {
	o := &curveOptions{}
	cmd := &cobra.Command{
		Use:   "curve TRIAL...",
		Short: "Speed and contrast of each strip",
		Long: `Fits a characteristic curve to each strip of a trial and prints base plus fog,
speed point, speed, contrast index, average gradient, gamma, the conditions of
ISO 6 and the readings set aside, each quantity with its standard deviation.
Strips of one film share the shape of their curve and tell more together than
each by itself (--apart). One that does not agree with the others is shown both
ways.`,
		Example: `  sensito curve larkfield-brinewater.toml
  sensito curve larkfield-brinewater.toml --strip 2 --plot curve.svg
  sensito curve harrow-quay --json`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 {
				return console.Usagef("curve takes one trial or more (files, folders, or - for standard input)")
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			if cmd.Flags().Changed("strip") && o.strip < 1 {
				return console.Usagef("--strip %d is below 1", o.strip)
			}
			return s.curve(o, args)
		},
	}
	o.register(cmd)
	o.look.register(cmd)
	o.registerFull(cmd, "all that is told of each strip")
	o.registerGradient(cmd)
	cmd.Flags().IntVar(&o.strip, "strip", 0, "only strip `N` of the trial, counting from 1")
	cmd.Flags().BoolVar(&o.triangle, "triangle", false, "draw the triangle of ISO 6 on the curve of one strip")
	cmd.Flags().BoolVar(&o.measure.Apart, "apart", false, "each strip by itself, without what the others tell of the film")
	return cmd
}

// curve reports trials in the order given. A trial that fails is told, the
// others are still reported, and the errors are returned.
func (s streams) curve(o *curveOptions, paths []string) error {
	if err := o.check(); err != nil {
		return err
	}
	if o.triangle && o.plot == "" {
		return console.Usagef("--triangle has no use without --plot")
	}
	paths, err := films(paths)
	if err != nil {
		return err
	}
	if o.plot != "" && len(paths) > 1 {
		return console.Usagef("--plot draws one trial; %d given", len(paths))
	}
	if slices.Contains(paths, "-") && len(paths) > 1 {
		return console.Usagef("standard input is one trial and goes alone")
	}
	var failed []error
	written := false
	progress := newProgress(s.Terminal, len(paths))
	defer debug.SetGCPercent(debug.SetGCPercent(seldom))
	err = inOrder(paths, func(path string) (*output, error) { return s.curveOf(o, path) }, func(i int, out *output, err error) error {
		progress.step(i + 1)
		if err != nil {
			if u := (*sensito.Unanswerable)(nil); errors.As(err, &u) && len(paths) > 1 {
				err = fmt.Errorf("%s: %w", paths[i], err) // which the reason does not name
			}
			failed = append(failed, err)
			return nil
		}
		if written && !o.json {
			out.text = append([]byte{'\n'}, out.text...)
		}
		written = true
		return s.write(out)
	})
	progress.end()
	return errors.Join(append(failed, err)...)
}

// seldom is how often memory is cleared while strips stream through, in percent
// of what is in use, which is a few megabytes: a fifth of the time goes into
// clearing it otherwise.
const seldom = 400

// curveOf does the work of one trial, up to the bytes.
func (s streams) curveOf(o *curveOptions, path string) (*output, error) {
	trial, err := s.readFilm(path)
	if err != nil {
		return nil, err
	}
	trial, tied := development.Tie(trial, o.measure)
	ms, err := o.measureStrips(trial)
	if err != nil {
		return nil, err
	}
	for _, m := range ms {
		m.Warnings = append(m.Warnings, tied...)
	}
	return s.render(&o.options, report.NewCurve(trial, ms, o.confidence), func() (*plot.Figure, error) {
		if o.triangle && len(ms) > 1 {
			return nil, console.Usagef("--triangle is drawn on one strip of %d: name it with --strip", len(ms))
		}
		look := o.drawn
		look.Triangle = o.triangle
		return plot.Curves(ms, look)
	})
}

// measureStrips measures all strips of a trial, or the one asked for.
func (o *curveOptions) measureStrips(t *sensito.Trial) ([]*curve.Measured, error) {
	if o.strip == 0 {
		return curve.MeasureTrial(t, o.measure)
	}
	strips := t.Strips()
	if o.strip > len(strips) {
		return nil, console.Usagef("--strip %d is outside 1 to %d", o.strip, len(strips))
	}
	ms, errs := curve.MeasureStrips(t, o.measure)
	return ms[o.strip-1 : o.strip], errs[o.strip-1]
}
