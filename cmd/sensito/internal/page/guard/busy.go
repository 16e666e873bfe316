package guard

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"strings"
	"sync"
	"time"
)

// ErrBusy says that no further event stream is to be had.
var ErrBusy = errors.New("as many pages as may be are kept up to date already")

// Computing waits until fewer answers are being computed than may be at a time, and
// returns what ends the computation of the caller. The error is that of the
// context, which ends when the page is left.
func (g *Guard) Computing(ctx context.Context) (release func(), err error) {
	if err := context.Cause(ctx); err != nil {
		return nil, err
	}
	select {
	case g.computing <- struct{}{}:
		return sync.OnceFunc(func() { <-g.computing }), nil
	case <-ctx.Done():
		return nil, context.Cause(ctx)
	}
}

// A Stream is an answer of server-sent events, which has no end of its own. One
// goroutine at a time may use it.
type Stream struct {
	ctx     context.Context
	release func()
	w       http.ResponseWriter
	control *http.ResponseController
	write   time.Duration
}

// Stream begins an answer of events. The error is ErrBusy, of which the page has
// been told (503), or that the answer cannot be written bit by bit; the handler
// then returns. Otherwise it must Close the stream before it returns.
func (g *Guard) Stream(w http.ResponseWriter, r *http.Request) (*Stream, error) {
	select {
	case g.streams <- struct{}{}:
	default:
		w.Header().Set("Retry-After", "60")
		refuse(w, http.StatusServiceUnavailable, refusal{Title: "Too many pages are open",
			Says: []string{"This page is not kept up to date. Close another one, and load this one again."}})
		return nil, ErrBusy
	}
	ctx, cancel := context.WithCancelCause(r.Context())
	stop := context.AfterFunc(g.stopping, func() { cancel(http.ErrServerClosed) })
	s := &Stream{ctx: ctx, w: w, control: http.NewResponseController(w), write: g.limits.write}
	s.release = sync.OnceFunc(func() {
		stop()
		cancel(context.Canceled)
		<-g.streams
	})
	w.Header().Set("Content-Type", "text/event-stream")
	w.WriteHeader(http.StatusOK)
	if err := s.flush(); err != nil {
		s.Close()
		return nil, err
	}
	return s, nil
}

// Context ends when the page is left, the server stops or the stream is closed.
func (s *Stream) Context() context.Context { return s.ctx }

// Send sends an event with its data, which may have several lines. The error is
// that nobody takes it, and the stream is then over.
func (s *Stream) Send(event, data string) error {
	if err := context.Cause(s.ctx); err != nil {
		return err
	}
	if strings.ContainsAny(event, "\r\n") {
		return fmt.Errorf("the event %q has the end of a line in its name", event)
	}
	var text strings.Builder
	fmt.Fprintf(&text, "event: %s\n", event)
	data = strings.NewReplacer("\r\n", "\n", "\r", "\n").Replace(data)
	for line := range strings.SplitSeq(data, "\n") {
		fmt.Fprintf(&text, "data: %s\n", line)
	}
	if err := s.control.SetWriteDeadline(time.Now().Add(s.write)); err != nil {
		return err
	}
	if _, err := fmt.Fprintln(s.w, text.String()); err != nil {
		return err
	}
	return s.flush()
}

// flush sends what is written, and lifts the deadline until the next event: the
// stream outlasts any.
func (s *Stream) flush() error {
	err := s.control.Flush()
	return errors.Join(err, s.control.SetWriteDeadline(time.Time{}))
}

// Close gives the place of the stream to another.
func (s *Stream) Close() { s.release() }
