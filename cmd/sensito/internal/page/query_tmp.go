package page

import (
	"io"
	"net/http"
	"slices"

	"github.com/spf13/pflag"

	"sensito/cmd/sensito/internal/ask"
	"sensito/cmd/sensito/internal/console"
	"sensito/sensito/notebook/store"
)

func askedBy(r *http.Request, q interface{ Register(*pflag.FlagSet) }, own ...string) (*pflag.FlagSet, error) {
	flags := pflag.NewFlagSet("", pflag.ContinueOnError)
	q.Register(flags)
	for name, values := range r.URL.Query() {
		for _, v := range values {
			if slices.Contains(own, name) || v == "" {
				continue
			}
			if err := ask.Set(flags, name, v); err != nil {
				return nil, err
			}
		}
	}
	return flags, ask.CheckTexts(flags)
}

func (s *Server) streams() (console.Streams, func() error, error) {
	root, err := store.OpenRoot(s.dir)
	if err != nil {
		return console.Streams{}, nil, err
	}
	return console.New(nil, io.Discard, io.Discard).Within(root.Open), root.Close, nil
}

// flagsOf returns the flags that are given as a command line has them.
func flagsOf(flags *pflag.FlagSet) string {
	text := ""
	flags.Visit(func(f *pflag.Flag) { text += " --" + f.Name + " " + inShell(f.Value.String()) })
	return text
}
