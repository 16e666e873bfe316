package main

import (
	"context"
	"fmt"
	"net"
	"net/http"

	"github.com/spf13/cobra"

	"sensito/cmd/sensito/internal/console"
	"sensito/cmd/sensito/internal/page"
)

// serveOptions are the flags of serve.
type serveOptions struct{ port int }

func newServeCmd(s streams) *cobra.Command {
	o := &serveOptions{}
	cmd := &cobra.Command{
		Use:   "serve NOTEBOOK",
		Short: "The notebook as a page in the browser, on this machine",
		Long: `Shows a notebook as a page in the browser of this machine: what is in it and what
is to be done, readings keyed in with the curve redrawn as they arrive, scenes, and
the session in the darkroom by the clock. Nobody else reaches it. The first line
tells the address.`,
		Example: `  sensito serve harrow-quay
  sensito serve harrow-quay --port 8080`,
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
			return s.serve(o, args[0])
		},
	}
	cmd.Flags().IntVar(&o.port, "port", 0, "`N` of the port; the last one where it is free, unless given")
	return cmd
}

func (s streams) serve(o *serveOptions, dir string) error {
	handler, err := page.New(dir, open{})
	if err != nil {
		return err
	}
	l, err := net.Listen("tcp", fmt.Sprintf("127.0.0.1:%d", o.port))
	if err != nil {
		return err
	}
	s.Tell("http://%s/\n", l.Addr())
	return http.Serve(l, handler)
}

type open struct{}

func (open) FormToken(*http.Request) string            { return "" }
func (open) Computing(context.Context) (func(), error) { return func() {}, nil }

// Stream answers with events that are written as they come.
func (open) Stream(w http.ResponseWriter, r *http.Request) (page.Stream, error) {
	w.Header().Set("Content-Type", "text/event-stream")
	s := &stream{w, r.Context()}
	return s, http.NewResponseController(w).Flush()
}

type stream struct {
	w   http.ResponseWriter
	ctx context.Context
}

func (s *stream) Context() context.Context { return s.ctx }
func (s *stream) Close()                   {}

func (s *stream) Send(event, data string) error {
	if _, err := fmt.Fprintf(s.w, "event: %s\ndata: %s\n\n", event, data); err != nil {
		return err
	}
	return http.NewResponseController(s.w).Flush()
}
