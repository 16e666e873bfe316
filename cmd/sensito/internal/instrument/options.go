package instrument

import (
	"errors"
	"io"
	"maps"
	"regexp"
	rsyntax "regexp/syntax"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"go.bug.st/serial"

	"sensito/cmd/sensito/internal/console"
)

// Options are the flags that say where readings come from and how they
// are written there.
type Options struct {
	From       string // "" means that they are typed
	baud, bits int
	parity     string
	stopBits   string
	pattern    string
	terminator string

	In    io.Reader     // what "-" stands for
	pause time.Duration // within a line, after which it is said; 0 for 2 s
	given func(flag string) bool

	mode  serial.Mode    // as checked
	match *regexp.Regexp // nil for none
	end   string         // of a line; "" for any of CR, LF and CRLF
}

// lineFlags are the flags of a serial line.
var lineFlags = []string{"baud", "bits", "parity", "stop-bits"}

// Register adds the flags to a command.
func (o *Options) Register(cmd *cobra.Command) {
	o.given = cmd.Flags().Changed
	f := cmd.Flags()
	f.StringVar(&o.From, "from", "", "take readings from the densitometer on the serial `PORT`, from a file or pipe, or from standard input (-), a line each")
	f.IntVar(&o.baud, "baud", 9600, "speed of the serial line")
	f.IntVar(&o.bits, "bits", 8, "data bits of the serial line, 5 to 8")
	f.StringVar(&o.parity, "parity", "none", "parity of the serial line: none, odd, even, mark or space")
	f.StringVar(&o.stopBits, "stop-bits", "1", "stop bits of the serial line: 1, 1.5 or 2")
	f.StringVar(&o.pattern, "pattern", "", "regular `EXPRESSION` that finds the density in a line: its first group, or all of it")
	f.StringVar(&o.terminator, "terminator", "auto", "what ends a line: auto (CR, LF or both), cr, lf, crlf, or any `TEXT`, as \\x03")
}

var (
	parities = map[string]serial.Parity{"none": serial.NoParity, "odd": serial.OddParity, "even": serial.EvenParity,
		"mark": serial.MarkParity, "space": serial.SpaceParity}
	stopBits = map[string]serial.StopBits{"1": serial.OneStopBit, "1.5": serial.OnePointFiveStopBits, "2": serial.TwoStopBits}
)

// lineEnds are the ends of lines that have a name; "" stands for any of CR and LF.
var lineEnds = map[string]string{"auto": "", "cr": "\r", "lf": "\n", "crlf": "\r\n"}

// Choices returns what flags can be that are a choice, by their names.
func Choices() map[string][]string {
	return map[string][]string{"parity": slices.Sorted(maps.Keys(parities)), "stop-bits": slices.Sorted(maps.Keys(stopBits)),
		"terminator": slices.Sorted(maps.Keys(lineEnds))}
}

// Check completes the options and returns a usage error for what does not go
// together or is outside its limits.
func (o *Options) Check() error {
	for _, name := range append(slices.Clone(lineFlags), "pattern", "terminator") {
		switch {
		case !o.given(name):
		case !o.given("from"):
			return console.Usagef("--%s goes with --from PORT", name)
		case o.From == "-" && slices.Contains(lineFlags, name):
			return console.Usagef("--%s is of a serial line, and does not go with standard input", name)
		}
	}
	if !(o.baud >= 50 && o.baud <= 4_000_000) {
		return console.Usagef("--baud %d is outside 50 to 4000000", o.baud)
	}
	if !(o.bits >= 5 && o.bits <= 8) {
		return console.Usagef("--bits %d is outside 5 to 8", o.bits)
	}
	parity, ok := parities[o.parity]
	if !ok {
		return console.Usagef("--parity %q is not none, odd, even, mark or space", o.parity)
	}
	stop, ok := stopBits[o.stopBits]
	if !ok {
		return console.Usagef("--stop-bits %q is not 1, 1.5 or 2", o.stopBits)
	}
	o.mode = serial.Mode{BaudRate: o.baud, DataBits: o.bits, Parity: parity, StopBits: stop}
	var err error
	if o.end, err = lineEnd(o.terminator); err != nil {
		return err
	}
	if o.pattern != "" {
		if o.match, err = regexp.Compile(o.pattern); err != nil {
			reason := err.Error()
			if syntax := (*rsyntax.Error)(nil); errors.As(err, &syntax) {
				reason = string(syntax.Code)
			}
			return console.Usagef("--pattern %q is not a regular expression: %s", o.pattern, reason)
		}
	}
	return nil
}

// lineEnd reads the value of --terminator; "" stands for any of CR and LF.
func lineEnd(text string) (string, error) {
	if end, named := lineEnds[strings.ToLower(text)]; named {
		return end, nil
	}
	end, err := strconv.Unquote(`"` + text + `"`)
	if err != nil || end == "" || len(end) > 8 {
		return "", console.Usagef(`--terminator %q is not auto, cr, lf, crlf, or a text of 1 to 8 bytes like \x03 or ;`, text)
	}
	return end, nil
}
