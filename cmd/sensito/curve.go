package main

import (
	"errors"
	"fmt"
	"runtime/debug"
	"slices"

	"github.com/spf13/cobra"

	"sensito/cmd/sensito/internal/ask"
	"sensito/cmd/sensito/internal/console"
	"sensito/sensito"
)

func newCurveCmd(s streams) *cobra.Command {
	o, q := &options{}, &ask.Curve{}
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
			if drawn, _ := cmd.Flags().GetBool("triangle"); drawn && o.plot == "" {
				return console.Usagef("--triangle has no use without --plot")
			}
			return s.curve(o, q, args)
		},
	}
	q.Register(cmd.Flags())
	o.register(cmd)
	o.look.register(cmd)
	o.registerFull(cmd, "all that is told of each strip")
	return cmd
}

// curve reports trials in the order given. A trial that fails is told, the
// others are still reported, and the errors are returned.
func (s streams) curve(o *options, q *ask.Curve, paths []string) error {
	if err := o.check(); err != nil {
		return err
	}
	if err := q.Check(); err != nil {
		return err
	}
	paths, err := s.Films(paths)
	if err != nil {
		return err
	}
	if o.plot != "" && len(paths) > 1 {
		return console.Usagef("--plot draws one trial; %d given", len(paths))
	}
	if slices.Contains(paths, "-") && len(paths) > 1 {
		return console.Usagef("standard input is one trial and goes alone")
	}
	work := func(path string) (*output, error) {
		a, err := q.Ask(s.Streams, path)
		if err != nil {
			return nil, err
		}
		r, err := a.Report()
		if err != nil {
			return nil, err
		}
		return s.render(o, r, a.Figure)
	}
	var failed []error
	written := false
	progress := console.NewProgress(s.Terminal, len(paths))
	defer debug.SetGCPercent(debug.SetGCPercent(seldom))
	err = console.InOrder(paths, work, func(i int, out *output, err error) error {
		progress.Step(i + 1)
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
	progress.End()
	return errors.Join(append(failed, err)...)
}

// seldom is how often memory is cleared while strips stream through, in percent
// of what is in use, which is a few megabytes: a fifth of the time goes into
// clearing it otherwise.
const seldom = 400
