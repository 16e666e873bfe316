package main

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"sensito/cmd/sensito/internal/ask"
	"sensito/cmd/sensito/internal/console"
	"sensito/sensito/notebook"
)

func newPlanCmd(s streams) *cobra.Command {
	o, q := &options{}, &ask.Plan{}
	var skeleton string
	cmd := &cobra.Command{
		Use:   "plan (TRIAL --range STOPS | --film NAME --speed S --minutes M)",
		Short: "What to test next, and how much the answer would sharpen",
		Long: `For a trial and a scene: which strips to develop next, for how long, and which
readings are missing, with the interval that the development time (or the
exposure index) has now and would have then; and a sheet for the bench. With --at
and its like, or a control log, the answer is that of today, while strips are
developed as in the trial.

Times tested already are tried again, since strips developed alike tell how well
the process repeats, unless the trial states that: temperature_sd_c, time_sd_s.

For a film of which only the box is known: the times of a first test about the
published one, and how to expose it, under a wedge or in the camera.`,
		Example: `  sensito plan larkfield-brinewater.toml --range 5 --within 3%
  sensito plan larkfield-brinewater.toml --range 7 --wanted ei --within 0.1stops
  sensito plan --film "Tern 400" --speed 400 --minutes 9 --developer "Ashlar 1+4"
  sensito plan --film "Tern 400" --speed 400 --minutes 9 --way camera --skeleton tern.toml`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) > 1 {
				return console.Usagef("plan takes one trial at most; %d given", len(args))
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			return s.plan(o, q, strings.Join(args, ""), skeleton)
		},
	}
	q.Register(cmd.Flags())
	o.register(cmd)
	o.look.register(cmd)
	o.registerFull(cmd, "what each strip would do by itself")
	cmd.Flags().StringVar(&skeleton, "skeleton", "", "write the notebook to be filled in to a new `FILE`")
	return cmd
}

// plan plans a test of the trial at path, or a first one without a path, of which the
// notebook to be filled in is written too where a file for it is named.
func (s streams) plan(o *options, q *ask.Plan, path, skeleton string) error {
	if err := o.check(); err != nil {
		return err
	}
	a, err := q.Ask(s.Streams, path)
	if err != nil {
		return err
	}
	if skeleton == "" {
		return s.show(o, a)
	}
	if err := s.Free(skeleton, o.force); err != nil {
		return err
	}
	r, err := a.Report()
	if err != nil {
		return err
	}
	out, err := s.render(o, r, a.Figure)
	if err != nil {
		return err
	}
	if err := s.WriteOutput(skeleton, notebook.Skeleton(a.First), o.force); err != nil {
		return err
	}
	fmt.Fprintf(s.Err, "sensito: wrote %s\n", skeleton)
	return s.write(out)
}
