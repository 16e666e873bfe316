// Command sensito turns densitometer readings of step-wedge exposures into
// characteristic curves, film speed, contrast, and for one scene an exposure
// index and a development time.
package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"regexp"
	"strings"

	"github.com/spf13/cobra"

	"sensito/sensito"
)

func main() { os.Exit(run(os.Args[1:], os.Stdin, os.Stdout, os.Stderr)) }

// The exit codes.
const (
	exitDone  = 0
	exitData  = 1 // the data cannot answer, or a file cannot be read
	exitUsage = 2 // the command was not understood, or the program failed
)

// streams are what a command reads from and writes to.
type streams struct {
	in       io.Reader
	out, err io.Writer
	terminal io.Writer  // what err writes to, for what moves on a screen
	copied   *inputCopy // what was read from in; nil to keep nothing
}

// run executes one command line and returns its exit code.
func run(args []string, in io.Reader, out, errOut io.Writer) int {
	return execute(newRootCmd, args, in, out, errOut)
}

// execute is run with the commands that newRoot returns. No panic passes it.
func execute(newRoot func(streams) *cobra.Command, args []string, in io.Reader, out, errOut io.Writer) (code int) {
	s := streams{in: in, out: out, err: newMessages(errOut, args), terminal: errOut, copied: &inputCopy{}}
	defer func() {
		if v := recover(); v != nil {
			s.crashed(args, crashOf(v))
			code = exitUsage
		}
	}()
	root := newRoot(s)
	root.SetArgs(args)
	root.SetIn(in)
	root.SetOut(out)
	root.SetErr(s.err)
	err := root.Execute()
	if err == nil {
		return exitDone
	}
	s.complain(err)
	if u := (usageError{}); errors.As(err, &u) {
		return exitUsage
	}
	return exitData
}

// A usageError is a command line that cannot be carried out as written.
type usageError struct{ error }

func (u usageError) Unwrap() error { return u.error }

func usagef(format string, args ...any) error { return usageError{fmt.Errorf(format, args...)} }

// complain writes an error, one line for each fault, and the hint that it
// carries.
func (s streams) complain(err error) {
	for line := range strings.Lines(err.Error()) {
		fmt.Fprintf(s.err, "sensito: %s\n", strings.TrimRight(line, "\n"))
	}
	if u := (*sensito.Unanswerable)(nil); errors.As(err, &u) && u.Hint != "" {
		fmt.Fprintf(s.err, "sensito: hint: %s\n", u.Hint)
	}
}

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
		PersistentPreRunE: func(cmd *cobra.Command, _ []string) error { return checkTexts(cmd) },
	}
	root.CompletionOptions.DisableDefaultCmd = true
	root.SetFlagErrorFunc(func(cmd *cobra.Command, err error) error {
		return usagef("%s; see: %s --help", flagFault(err.Error()), cmd.CommandPath())
	})
	root.AddCommand(newDemoCmd(s), newCurveCmd(s), newFamilyCmd(s), newSceneCmd(s), newCardCmd(s), newPaperCmd(s), newToneCmd(s), newControlCmd(s), newCompareCmd(s), newPlanCmd(s), newLsCmd(s), newEnterCmd(s), newMixCmd(s), newSheetCmd(s), newImportCmd(s), newExportCmd(s))
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
