// Command sensito turns densitometer readings of step-wedge exposures into
// characteristic curves, film speed, contrast, and for one scene an exposure
// index and a development time.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"regexp"
	"strings"
	"syscall"

	"github.com/spf13/cobra"

	"sensito/sensito"
)

func main() { os.Exit(attended(newRootCmd, os.Args[1:], os.Stdin, os.Stdout, os.Stderr)) }

// The exit codes.
const (
	exitDone    = 0
	exitData    = 1   // the data cannot answer, or a file cannot be read or written
	exitUsage   = 2   // the command was not understood, or the program failed
	exitUnshown = 3   // what was to be saved is saved, but standard output or error failed
	exitCutOff  = 4   // the input or the output broke off
	exitSignal  = 128 // and the number of the signal that ended the command
)

const exitCodes = `Exit codes:
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

// streams are what a command reads from and writes to.
type streams struct {
	in       io.Reader
	out, err io.Writer
	terminal io.Writer  // what err writes to, for what moves on a screen
	copied   *inputCopy // what was read from in; nil to keep nothing
	work     *work
	trace    *trace // which files were read; nil to keep nothing
}

func newStreams(in io.Reader, out, errOut io.Writer) streams {
	messages := &outStream{w: errOut, name: standardError}
	return streams{in: inStream{in}, out: &outStream{w: out, name: standardOutput}, err: messages, terminal: messages,
		copied: &inputCopy{}, work: &work{}, trace: &trace{}}
}

// execute runs a command line with the commands that newRoot returns, and
// returns its exit code. No panic passes it.
func (s streams) execute(ctx context.Context, newRoot func(streams) *cobra.Command, args []string) (code int) {
	defer func() {
		if v := recover(); v != nil {
			s.crashed(args, crashOf(v))
			code = exitUsage
		}
	}()
	s.err = newMessages(s.terminal, args)
	root := newRoot(s)
	root.SetArgs(args)
	root.SetIn(s.in)
	root.SetOut(s.out)
	root.SetErr(s.err)
	return s.end(root.ExecuteContext(ctx))
}

// end says how a command ended that returned err, and returns the exit code. Of
// two calls, when a command ends as it is interrupted, only the first returns.
func (s streams) end(err error) (code int) {
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
func (s streams) unwritten() error {
	for _, w := range []io.Writer{s.out, s.terminal} {
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
func (s streams) judge(err error) (code int, said error) {
	var stream *streamError
	var signalled interruption
	switch saved := s.work.saved(); {
	case err == nil:
		return exitDone, nil
	case errors.As(err, &signalled):
		if saved == "" {
			return exitSignal + int(signalled.signal), fmt.Errorf("%w; nothing was written", err)
		}
		return exitSignal + int(signalled.signal), fmt.Errorf("%w; what was saved is in %s", err, saved)
	case errors.As(err, &usageError{}):
		return exitUsage, err
	case errors.As(err, &cutOffError{}):
		return exitCutOff, err
	case !errors.As(err, &stream):
		return exitData, err
	case stream.stream == standardInput:
		return exitCutOff, err
	case saved != "":
		return exitUnshown, fmt.Errorf("saved in %s, but not shown: %w", saved, err)
	case errors.Is(err, syscall.EPIPE): // as of a pager that was left
		return exitSignal + int(syscall.SIGPIPE), nil
	}
	return exitCutOff, err
}

// A cutOffError says that a command had to end before all was read or done.
type cutOffError struct{ error }

func (c cutOffError) Unwrap() error { return c.error }

// A usageError is a command line that cannot be carried out as written.
type usageError struct{ error }

func (u usageError) Unwrap() error { return u.error }

func usagef(format string, args ...any) error { return usageError{fmt.Errorf(format, args...)} }

// complain writes an error, one line for each fault, and the hint that it
// carries.
func (s streams) complain(err error) {
	text := err.Error()
	if m, ok := s.err.(*messages); ok {
		text = m.plain(text) // before it is parted into lines
	}
	for line := range strings.Lines(text) {
		fmt.Fprintf(s.err, "sensito: %s\n", strings.TrimRight(line, "\n"))
	}
	hint := hinted{}
	if u := (*sensito.Unanswerable)(nil); errors.As(err, &u) {
		hint.hint = u.Hint
	}
	if errors.As(err, &hint); hint.hint != "" {
		fmt.Fprintf(s.err, "sensito: hint: %s\n", hint.hint)
	}
}

// A hinted error comes with what can be done.
type hinted struct {
	error
	hint string
}

func (h hinted) Unwrap() error { return h.error }

func newRootCmd(s streams) *cobra.Command {
	root := &cobra.Command{
		Use:   "sensito",
		Short: "From densitometer readings to exposure index and development time",
		Long: `sensito reads densitometer readings of step-wedge exposures from a notebook of
small TOML files, fits characteristic curves, and gives speed, contrast and, for
a scene, the exposure index and development time, each with its uncertainty.

Begin with: sensito demo`,
		Args:          cobra.ArbitraryArgs,
		SilenceErrors: true,
		SilenceUsage:  true,
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) > 0 {
				return usagef("%q is not a command; see: sensito --help", args[0])
			}
			return cmd.Help()
		},
		PersistentPreRunE: checkTexts,
	}
	root.CompletionOptions.DisableDefaultCmd = true
	root.SetFlagErrorFunc(func(cmd *cobra.Command, err error) error {
		return usagef("%s; see: %s --help", flagFault(err.Error()), cmd.CommandPath())
	})
	root.AddCommand(newDemoCmd(s), newCurveCmd(s), newFamilyCmd(s), newSceneCmd(s), newCardCmd(s), newPaperCmd(s), newToneCmd(s), newFlareCmd(s), newControlCmd(s), newCompareCmd(s), newPlanCmd(s), newLsCmd(s), newEnterCmd(s), newMixCmd(s), newSheetCmd(s), newImportCmd(s), newExportCmd(s))
	groupFlags(root)
	return root
}

var badValue = regexp.MustCompile(`^invalid argument (".*") for "(?:-\w, )?(--[\w-]+)" flag: strconv\.Parse(\w+): .*: (.*)$`)

// flagFault says what is wrong with the value of a flag.
func flagFault(text string) string {
	part := badValue.FindStringSubmatch(text)
	if part == nil {
		return text
	}
	value, flag, wanted := part[1], part[2], map[string]string{"Float": "a number", "Int": "a whole number", "Bool": "true or false"}[part[3]]
	switch {
	case part[4] == "value out of range":
		return fmt.Sprintf("%s %s is too large", flag, value)
	case part[3] == "Float" && strings.Contains(value, ","):
		wanted += ", which is written with a decimal point"
	case part[3] == "Float" && strings.Contains(value, ":"):
		wanted += "; 5:30 is written 5.5"
	}
	return fmt.Sprintf("%s %s is not %s", flag, value, wanted)
}
