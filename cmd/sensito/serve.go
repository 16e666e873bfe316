package main

import (
	"context"
	"errors"
	"net/http"
	"os"

	"github.com/spf13/cobra"

	"sensito/cmd/sensito/internal/console"
	"sensito/cmd/sensito/internal/page"
	"sensito/cmd/sensito/internal/page/guard"
)

// serveOptions are the flags of serve.
type serveOptions struct {
	port   int
	listen string
}

func newServeCmd(s streams) *cobra.Command {
	o := &serveOptions{}
	cmd := &cobra.Command{
		Use:   "serve NOTEBOOK",
		Short: "The notebook as a page in the browser, on this machine",
		Long: `Shows a notebook as a page in the browser of this machine: what is in it and what
is to be done, readings keyed in with the curve redrawn as they arrive, scenes, and
the session in the darkroom by the clock. The first line tells the address, which
lets one browser in; Enter prints a fresh one, Ctrl-C ends.

Nobody else reaches it, unless --listen gives an address of this machine as well:
then a phone at the sink in the same network reaches it too, with the code that is
shown. That way is not encrypted, so whoever shares the network can read along.`,
		Example: `  sensito serve harrow-quay
  sensito serve harrow-quay --port 8080
  sensito serve harrow-quay --listen 192.168.1.20`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) != 1 {
				return console.Usagef("serve takes one notebook, a folder; %d given", len(args))
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			const highest = 65535
			if cmd.Flags().Changed("port") && (o.port < 1 || o.port > highest) {
				return console.Usagef("--port %d is outside 1 to %d", o.port, highest)
			}
			return s.serve(cmd.Context(), o, args[0])
		},
	}
	cmd.Flags().IntVar(&o.port, "port", 0, "`N` of the port; the last one where it is free, unless given")
	cmd.Flags().StringVar(&o.listen, "listen", "", "also at an `ADDRESS` of this machine, for another device, which asks for a code: nobody else may read along there")
	return cmd
}

// serve answers for a notebook until it is interrupted.
func (s streams) serve(ctx context.Context, o *serveOptions, dir string) error {
	if info, err := os.Stat(dir); err != nil {
		return err
	} else if !info.IsDir() {
		return console.Usagef("%s is a file, and serve shows a folder", dir)
	}
	gate, err := guard.New(guard.Options{Notebook: dir, Port: o.port, Listen: o.listen, Out: s.Out, Err: s.Err, In: s.In})
	if err != nil {
		if errors.As(err, new(guard.UsageError)) {
			return console.Usage(err)
		}
		return err
	}
	handler, err := page.New(dir, gated{gate})
	if err != nil {
		return err
	}
	defer s.Heed()()
	return errors.Join(gate.Serve(ctx, handler), handler.Close())
}

// gated is the guard as the page asks it.
type gated struct{ *guard.Guard }

func (g gated) Stream(w http.ResponseWriter, r *http.Request) (page.Stream, error) {
	return g.Guard.Stream(w, r)
}
