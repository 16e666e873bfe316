package main

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"regexp"
	rsyntax "regexp/syntax"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"github.com/charmbracelet/x/term"
	"github.com/spf13/cobra"
	"go.bug.st/serial"

	"sensito/cmd/sensito/internal/console"
	"sensito/sensito/notebook/table"
)

// sourceOptions are the flags that say where readings come from and how they
// are written there.
type sourceOptions struct {
	from       string // "" means that they are typed
	baud, bits int
	parity     string
	stopBits   string
	pattern    string
	terminator string

	in    io.Reader     // what "-" stands for
	pause time.Duration // within a line, after which it is said; 0 for 2 s
	given func(flag string) bool

	mode  serial.Mode    // as checked
	match *regexp.Regexp // nil for none
	end   string         // of a line; "" for any of CR, LF and CRLF
}

// lineFlags are the flags of a serial line.
var lineFlags = []string{"baud", "bits", "parity", "stop-bits"}

func (o *sourceOptions) register(cmd *cobra.Command) {
	o.given = cmd.Flags().Changed
	f := cmd.Flags()
	f.StringVar(&o.from, "from", "", "take readings from the densitometer on the serial `PORT`, from a file or pipe, or from standard input (-), a line each")
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

// check completes the options and returns a usage error for what does not go
// together or is outside its limits.
func (o *sourceOptions) check() error {
	for _, name := range append(slices.Clone(lineFlags), "pattern", "terminator") {
		switch {
		case !o.given(name):
		case !o.given("from"):
			return console.Usagef("--%s goes with --from PORT", name)
		case o.from == "-" && slices.Contains(lineFlags, name):
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
	switch strings.ToLower(text) {
	case "auto":
		return "", nil
	case "cr":
		return "\r", nil
	case "lf":
		return "\n", nil
	case "crlf":
		return "\r\n", nil
	}
	end, err := strconv.Unquote(`"` + text + `"`)
	if err != nil || end == "" || len(end) > 8 {
		return "", console.Usagef(`--terminator %q is not auto, cr, lf, crlf, or a text of 1 to 8 bytes like \x03 or ;`, text)
	}
	return end, nil
}

// A meterReading is one line of a source: its density, or why it has none. An
// error that wraps notebook.ErrNoReading is of a line to be passed over, one
// that wraps errSourceLost is the last thing that comes.
type meterReading struct {
	Text    string // as it came, without its end
	Value   float64
	Err     error
	Unended bool // the source ended before the line did, so it may be half a line
}

// errSourceLost says that no more readings come, although the source did not
// end by itself.
var errSourceLost = errors.New("no more readings can come")

// maxLineBytes is more than any line of a densitometer has.
const maxLineBytes = 4096

// readings are what comes from an opened source.
type readings struct {
	lines  <-chan meterReading // closed when the source ends, is lost or is closed
	device bool                // it does not end by itself
	close  func() error        // may be called more than once
}

// begin starts to read lines.
func (src *source) begin(o sourceOptions) *readings {
	lines, done := make(chan meterReading, 64), make(chan struct{})
	chunks := make(chan chunk)
	go pump(src.read, chunks, done)
	go func() {
		defer close(lines)
		l := liner{o: o, src: src, out: lines, done: done}
		l.run(chunks)
	}()
	return &readings{lines: lines, device: src.device, close: sync.OnceValue(func() error {
		close(done)
		return src.close()
	})}
}

// A source is an opened port, file or stream.
type source struct {
	name   string
	device bool // an end of it is a loss, and half a line is no line
	file   bool // its last line may lack an end
	read   func(p []byte) (int, error)
	close  func() error
}

func (o *sourceOptions) open() (*source, error) {
	if o.from == "-" {
		return &source{name: console.StandardInput, file: console.IsFile(o.in), read: o.in.Read, close: func() error { return nil }}, nil
	}
	if windowsPort.MatchString(o.from) {
		return o.openPort()
	}
	info, err := os.Stat(o.from)
	if at := (*fs.PathError)(nil); errors.As(err, &at) {
		at.Op = "open"
	}
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil, fmt.Errorf("%w%s", err, portsHere())
	case err != nil:
		return nil, err
	case info.IsDir():
		return nil, fmt.Errorf("%s is a folder, not a port or a file", o.from)
	case info.Mode()&fs.ModeNamedPipe != 0:
		return openPipe(o.from), nil
	case info.Mode()&fs.ModeCharDevice != 0:
		for _, own := range []*os.File{os.Stdin, os.Stdout, os.Stderr} {
			if at, err := own.Stat(); o.from == "/dev/tty" || err == nil && os.SameFile(at, info) && term.IsTerminal(own.Fd()) {
				return nil, console.Usagef("--from %s is this terminal; to type lines use --from -", o.from)
			}
		}
		src, err := o.openPort()
		if at := (*serial.PortError)(nil); errors.As(err, &at) && at.Code() == serial.InvalidSerialPort {
			break // a device, but no serial line
		}
		return src, err
	}
	f, err := os.Open(o.from)
	if err != nil {
		return nil, err
	}
	file := info.Mode().IsRegular()
	return &source{name: o.from, device: !file, file: file, read: f.Read, close: f.Close}, nil
}

var windowsPort = regexp.MustCompile(`^(?i:(?:\\\\\.\\)?COM\d{1,3})$`)

// portsHere lists the serial ports of the machine, for whoever named one that
// is not there.
func portsHere() string {
	ports, err := serial.GetPortsList()
	if err != nil || len(ports) == 0 {
		return ""
	}
	return "; the serial ports here are " + strings.Join(ports, ", ")
}

func (o *sourceOptions) openPort() (*source, error) {
	port, err := serial.Open(o.from, &o.mode)
	if err != nil {
		reason := ""
		if at := (*serial.PortError)(nil); errors.As(err, &at) {
			switch at.Code() {
			case serial.PortBusy:
				reason = ": another program holds it"
			case serial.PermissionDenied:
				reason = ": on many systems its users must belong to the group of the device"
			case serial.PortNotFound:
				reason = portsHere()
			}
		}
		return nil, fmt.Errorf("%s: %w%s", o.from, err, reason)
	}
	return &source{name: o.from, device: true, read: port.Read, close: port.Close}, nil
}

// openPipe returns a named pipe, which opens only once somebody writes to it.
func openPipe(path string) *source {
	closed := make(chan struct{})
	var f *os.File
	return &source{
		name: path,
		read: func(p []byte) (int, error) {
			if f == nil {
				var err error
				if f, err = os.Open(path); err != nil {
					return 0, err
				}
				go func() {
					<-closed
					f.Close()
				}()
			}
			return f.Read(p)
		},
		close: func() error {
			close(closed)
			return nil
		},
	}
}

// A chunk is what one read gave.
type chunk struct {
	data []byte
	err  error
}

// pump reads until the source ends or done is closed.
func pump(read func([]byte) (int, error), out chan<- chunk, done <-chan struct{}) {
	defer close(out)
	buffer := make([]byte, 1024)
	for {
		n, err := read(buffer)
		select {
		case out <- chunk{slices.Clone(buffer[:n]), err}:
		case <-done:
			return
		}
		if err != nil {
			return
		}
	}
}

// A liner puts chunks together to lines.
type liner struct {
	o       sourceOptions
	src     *source
	out     chan<- meterReading
	done    <-chan struct{}
	pending []byte
}

func (l *liner) run(chunks <-chan chunk) {
	const ordinary = 2 * time.Second
	pause := time.NewTimer(ordinary)
	pause.Stop()
	for {
		select {
		case <-l.done:
			return
		case <-pause.C:
			l.send(meterReading{Text: string(l.pending), Err: fmt.Errorf("%q came without the end of a line; see --terminator: %w", l.pending, table.ErrNoReading)})
		case c, open := <-chunks:
			if !open {
				return
			}
			l.pending = append(l.pending, c.data...)
			if !l.lines() {
				return
			}
			if c.err != nil {
				l.finish(c.err)
				return
			}
			pause.Stop()
			if len(l.pending) > 0 {
				pause.Reset(cmp.Or(l.o.pause, ordinary))
			}
		}
	}
}

// lines sends what is complete and reports whether to go on.
func (l *liner) lines() bool {
	for {
		at, size := strings.IndexAny(string(l.pending), "\r\n"), 1
		if l.o.end != "" {
			at, size = strings.Index(string(l.pending), l.o.end), len(l.o.end)
		}
		switch {
		case at > maxLineBytes || at < 0 && len(l.pending) > maxLineBytes:
			l.send(meterReading{Err: fmt.Errorf("%s: %d bytes without the end of a line are no reading; see --terminator and --baud: %w", l.src.name, maxLineBytes, errSourceLost)})
			return false
		case at < 0:
			return true
		}
		line := string(l.pending[:at])
		l.pending = l.pending[at+size:]
		if !l.line(line, false) {
			return false
		}
	}
}

// line sends one line, unless it is empty, as between CR and LF.
func (l *liner) line(text string, unended bool) bool {
	if strings.TrimSpace(text) == "" {
		return true
	}
	v, err := table.ParseMeterLine(text, l.o.match)
	return l.send(meterReading{Text: text, Value: v, Err: err, Unended: unended})
}

// finish sends what is left at the end of the source, and how it ended. Half a
// line from a device may be half a number; the last line of a file may lack its
// end.
func (l *liner) finish(err error) {
	text := string(l.pending)
	if !l.src.device && errors.Is(err, io.EOF) {
		l.line(text, !l.src.file)
		return
	}
	if text != "" {
		l.send(meterReading{Text: text, Err: fmt.Errorf("%q was cut off and does not count: %w", text, table.ErrNoReading)})
	}
	reason := ""
	if l.src.device {
		reason = "the instrument is gone, unplugged or switched off: "
	}
	l.send(meterReading{Err: fmt.Errorf("%s: %s%w: %w", l.src.name, reason, err, errSourceLost)})
}

// send reports whether the reading was taken before the source was closed.
func (l *liner) send(r meterReading) bool {
	select {
	case l.out <- r:
		return true
	case <-l.done:
		return false
	}
}
