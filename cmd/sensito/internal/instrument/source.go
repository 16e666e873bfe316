package instrument

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"regexp"
	"strings"

	"github.com/charmbracelet/x/term"
	"go.bug.st/serial"

	"sensito/cmd/sensito/internal/console"
)

// A Source is an opened port, file or stream.
type Source struct {
	name   string
	device bool // an end of it is a loss, and half a line is no line
	file   bool // its last line may lack an end
	read   func(p []byte) (int, error)
	Close  func() error
}

// Open opens what From names; the options are checked.
func (o *Options) Open() (*Source, error) {
	if o.From == "-" {
		return &Source{name: console.StandardInput, file: console.IsFile(o.In), read: o.In.Read, Close: func() error { return nil }}, nil
	}
	if windowsPort.MatchString(o.From) {
		return o.openPort()
	}
	info, err := os.Stat(o.From)
	if at := (*fs.PathError)(nil); errors.As(err, &at) {
		at.Op = "open"
	}
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil, fmt.Errorf("%w%s", err, portsHere())
	case err != nil:
		return nil, err
	case info.IsDir():
		return nil, fmt.Errorf("%s is a folder, not a port or a file", o.From)
	case info.Mode()&fs.ModeNamedPipe != 0:
		return openPipe(o.From), nil
	case info.Mode()&fs.ModeCharDevice != 0:
		for _, own := range []*os.File{os.Stdin, os.Stdout, os.Stderr} {
			if at, err := own.Stat(); o.From == "/dev/tty" || err == nil && os.SameFile(at, info) && term.IsTerminal(own.Fd()) {
				return nil, console.Usagef("--from %s is this terminal; to type lines use --from -", o.From)
			}
		}
		src, err := o.openPort()
		if at := (*serial.PortError)(nil); errors.As(err, &at) && at.Code() == serial.InvalidSerialPort {
			break // a device, but no serial line
		}
		return src, err
	}
	f, err := os.Open(o.From)
	if err != nil {
		return nil, err
	}
	file := info.Mode().IsRegular()
	return &Source{name: o.From, device: !file, file: file, read: f.Read, Close: f.Close}, nil
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

func (o *Options) openPort() (*Source, error) {
	port, err := serial.Open(o.From, &o.mode)
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
		return nil, fmt.Errorf("%s: %w%s", o.From, err, reason)
	}
	return &Source{name: o.From, device: true, read: port.Read, Close: port.Close}, nil
}

// openPipe returns a named pipe, which opens only once somebody writes to it.
func openPipe(path string) *Source {
	closed := make(chan struct{})
	var f *os.File
	return &Source{
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
		Close: func() error {
			close(closed)
			return nil
		},
	}
}
