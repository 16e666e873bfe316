package guard

import (
	"context"
	"errors"
	"io"
	"log"
	"net/http"
	"net/netip"
	"path/filepath"
	"sync"
	"time"
)

// Options say of which notebook the page is, where it is found and who is told.
type Options struct {
	Notebook string // the folder; the secret and the port are kept for it in the user's cache folder
	Port     int    // 0: the last one of the notebook where that is free, else any
	Listen   string // one more address of this machine, without port, for another device; "": this machine alone

	Out io.Writer // takes the address with its token, first and on each Enter; nil: nobody is told
	Err io.Writer // takes warnings and the code for another device; nil: nobody is told
	In  io.Reader // where Enter is pressed; nil or at its end: nowhere

	Now func() time.Time // nil: the clock

	addresses func() ([]netip.Addr, error) // of this machine
	limits    *limits
}

// A Guard stands before the page of one notebook.
type Guard struct {
	doors     []*door // the first is for this machine alone
	keys      keys
	entry     *entry
	limits    limits
	computing chan struct{}
	streams   chan struct{}
	stopping  context.Context // ends when the server stops
	stop      context.CancelFunc
	in        io.Reader

	saying   sync.Mutex // so that what is printed at one time stays together
	out, err io.Writer
}

// New opens the listeners, which queue until Serve. What cannot be kept in the
// user's cache folder is warned of and kept in memory. The error is a UsageError
// for an address that is none or not of this machine, or a port that is none;
// else why nothing can be listened to.
func New(o Options) (*Guard, error) {
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.addresses == nil {
		o.addresses = machineAddresses
	}
	if o.limits == nil {
		o.limits = &usualLimits
	}
	if o.Out == nil {
		o.Out = io.Discard
	}
	if o.Err == nil {
		o.Err = io.Discard
	}
	g := &Guard{
		keys: keys{now: o.Now}, entry: &entry{now: o.Now}, limits: *o.limits,
		computing: make(chan struct{}, o.limits.answers), streams: make(chan struct{}, o.limits.streams),
		in: o.In, out: o.Out, err: o.Err,
	}
	notebook, err := filepath.Abs(o.Notebook)
	if err != nil {
		return nil, err
	}
	kept, renewed, err := keepOf(notebook)
	var fault error
	if err == nil {
		g.keys.secret, fault, err = kept.secret()
	}
	switch {
	case err != nil:
		g.warn("nothing can be kept for the next start, after which open pages will ask for a new address: %v", err)
		g.keys.secret = newSecret()
		kept = keep{}
	case renewed:
		g.warn("%s was open to others and is closed now; pages that were open ask for a new address", kept.dir)
	case fault != nil:
		g.warn("%s was made anew, since %v; pages that were open ask for a new address", kept.secretFile(), fault)
	}
	if g.doors, err = openDoors(o.Listen, o.Port, kept.port(), o.addresses); err != nil {
		return nil, err
	}
	if kept.dir != "" {
		if err := kept.keepPort(g.doors[0].port()); err != nil {
			g.warn("the next start may have another port: %v", err)
		}
	}
	g.stopping, g.stop = context.WithCancel(context.Background())
	return g, nil
}

// Address returns where the page is on this machine, without a token.
func (g *Guard) Address() string { return "http://" + g.doors[0].hosts[0] + "/" }

// FormToken returns what each form of the page that answers r has in its hidden
// field "token", or script sends as the header X-Sensito-Token. In a form with
// files the field comes before all others. It is "" for a request that has not
// passed the guard.
func (g *Guard) FormToken(r *http.Request) string {
	if s, ok := sessionOf(r); ok {
		return g.keys.formToken(s)
	}
	return ""
}

// Serve prints how to get in and has h answer what the guard lets through, until
// ctx ends. Then no more is taken, event streams end, what is being answered has a
// few seconds to be finished, and Serve returns nil. An error is that of a
// listener. Serve is called once; it leaves a reader of In behind that waits for
// the next line.
func (g *Guard) Serve(ctx context.Context, h http.Handler) error {
	defer g.stop()
	g.begin()
	if g.in != nil {
		go g.heed()
	}
	var servers []*http.Server
	var unused unusedConns
	ended := make(chan error, len(g.doors))
	for _, d := range g.doors {
		s := &http.Server{
			Handler:           &gate{d, g.keys, g.entry, g.limits, http.NewCrossOriginProtection(), h},
			ReadHeaderTimeout: g.limits.header, ReadTimeout: g.limits.read, WriteTimeout: g.limits.write, IdleTimeout: g.limits.idle,
			MaxHeaderBytes:               g.limits.headerBytes,
			DisableGeneralOptionsHandler: true,
			ConnState:                    unused.note,
			ErrorLog:                     log.New(g.err, "sensito: ", 0),
		}
		servers = append(servers, s)
		go func() { ended <- s.Serve(d) }()
	}
	var failed error
	left := len(servers)
	select {
	case <-ctx.Done():
	case failed = <-ended:
		left--
	}
	g.stop()
	last, cancel := context.WithTimeout(context.WithoutCancel(ctx), g.limits.stop)
	defer cancel()
	var wg sync.WaitGroup
	for _, s := range servers {
		wg.Go(func() {
			if s.Shutdown(last) != nil {
				s.Close()
			}
		})
	}
	unused.close()
	wg.Wait()
	for range left {
		if err := <-ended; !errors.Is(err, http.ErrServerClosed) {
			failed = errors.Join(failed, err)
		}
	}
	return failed
}
