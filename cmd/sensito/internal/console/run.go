package console

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"strings"
	"syscall"

	"github.com/spf13/cobra"

	"sensito/sensito"
)

// The exit codes.
const (
	ExitDone    = 0
	ExitData    = 1   // the data cannot answer, or a file cannot be read or written
	ExitUsage   = 2   // the command was not understood, or the program failed
	ExitUnshown = 3   // what was to be saved is saved, but standard output or error failed
	ExitCutOff  = 4   // the input or the output broke off
	exitSignal  = 128 // and the number of the signal that ended the command
)

// ExitCodes are what help says of them.
const ExitCodes = `Exit codes:
  0    done
  1    the data cannot answer, or a file cannot be read or written
  2    the command was not understood, or the program failed
  3    saved, but not shown: standard output or error failed after the file was
       written, so do not run it again
  4    cut off: the input ended or failed before all was read (what enter had read
       is saved), or the result could not be written whole
  130  interrupted by Ctrl-C; 143 by SIGTERM, 129 by SIGHUP
  141  nobody reads the output, and nothing was saved
`

// Execute runs a command line with the commands that newRoot returns, and
// returns its exit code. No panic passes it.
func (s Streams) Execute(ctx context.Context, newRoot func(Streams) *cobra.Command, args []string) (code int) {
	defer func() {
		if v := recover(); v != nil {
			s.crashed(args, CrashOf(v))
			code = ExitUsage
		}
	}()
	s.Err = newMessages(s.Terminal, args)
	root := newRoot(s)
	root.SetArgs(args)
	root.SetIn(s.In)
	root.SetOut(s.Out)
	root.SetErr(s.Err)
	return s.end(root.ExecuteContext(ctx))
}

// end says how a command ended that returned err, and returns the exit code. Of
// two calls, when a command ends as it is interrupted, only the first returns.
func (s Streams) end(err error) (code int) {
	first := false
	s.work.ending.Do(func() {
		first = true
		if err == nil {
			err = s.unwritten()
		}
		if code, err = s.judge(err); err != nil {
			s.complain(err)
		}
	})
	if !first {
		select {} // the process ends
	}
	return code
}

// unwritten returns what failed of what a command wrote without looking.
func (s Streams) unwritten() error {
	for _, w := range []io.Writer{s.Out, s.Terminal} {
		if o, ok := w.(*outStream); ok {
			if o.name == standardOutput {
				o.close()
			}
			if err := o.failure(); err != nil {
				return err
			}
		}
	}
	return nil
}

// judge returns the exit code for what a command returned, and what is said of
// it, nil for nothing.
func (s Streams) judge(err error) (code int, said error) {
	var stream *StreamError
	var signalled Interruption
	switch saved := s.work.saved(); {
	case err == nil:
		return ExitDone, nil
	case errors.As(err, &signalled):
		if saved == "" {
			return exitSignal + int(signalled.signal), fmt.Errorf("%w; nothing was written", err)
		}
		return exitSignal + int(signalled.signal), fmt.Errorf("%w; what was saved is in %s", err, saved)
	case errors.As(err, &UsageError{}):
		return ExitUsage, err
	case errors.As(err, &CutOffError{}):
		return ExitCutOff, err
	case !errors.As(err, &stream):
		return ExitData, err
	case stream.stream == StandardInput:
		return ExitCutOff, err
	case saved != "":
		return ExitUnshown, fmt.Errorf("saved in %s, but not shown: %w", saved, err)
	case errors.Is(err, syscall.EPIPE): // as of a pager that was left
		return exitSignal + int(syscall.SIGPIPE), nil
	}
	return ExitCutOff, err
}

// complain writes an error, one line for each fault, and the hint that it
// carries.
func (s Streams) complain(err error) {
	text := err.Error()
	if m, ok := s.Err.(*messages); ok {
		text = m.plain(text) // before it is parted into lines
	}
	for line := range strings.Lines(text) {
		fmt.Fprintf(s.Err, "sensito: %s\n", strings.TrimRight(line, "\n"))
	}
	hint := hinted{}
	if u := (*sensito.Unanswerable)(nil); errors.As(err, &u) {
		hint.hint = u.Hint
		if way := ways[u.Way]; way != "" {
			hint.hint += "; " + way
		}
	}
	if errors.As(err, &hint); hint.hint != "" {
		fmt.Fprintf(s.Err, "sensito: hint: %s\n", hint.hint)
	}
}

// interruptions are the signals that end a command in good order.
var interruptions = []os.Signal{os.Interrupt, syscall.SIGTERM, syscall.SIGHUP}

// Main is Execute for a process: a signal ends the command once what it is
// writing is written, a second one at once.
func Main(newRoot func(Streams) *cobra.Command, args []string, in, out, errOut *os.File) int {
	signals := make(chan os.Signal, len(interruptions))
	for _, sig := range interruptions {
		if !signal.Ignored(sig) { // by nohup, or in the background of a script
			signal.Notify(signals, sig)
		}
	}
	// That nobody reads the output is then an error of writing like others.
	signal.Ignore(syscall.SIGPIPE)

	s := New(in, out, errOut)
	ctx, cancel := context.WithCancelCause(context.Background())
	defer cancel(nil)
	ended := make(chan int, 1)
	go func() { ended <- s.Execute(ctx, newRoot, args) }()
	var why Interruption
	select {
	case code := <-ended:
		return code
	case sig := <-signals:
		why.signal = sig.(syscall.Signal)
	}
	cancel(why)
	if !s.work.heeds.Load() {
		s.work.stopped.Store(&why)
		go func() {
			s.work.saving.Lock()
			ended <- s.end(why)
		}()
	}
	select {
	case code := <-ended:
		return code
	case <-signals:
		return exitSignal + int(why.signal)
	}
}
