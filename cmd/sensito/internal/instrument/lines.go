package instrument

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"sync"
	"time"

	"sensito/sensito/notebook/table"
)

// A Reading is one line of a source: its density, or why it has none. An
// error that wraps table.ErrNoReading is of a line to be passed over, one
// that wraps ErrLost is the last thing that comes.
type Reading struct {
	Text    string // as it came, without its end
	Value   float64
	Err     error
	Unended bool // the source ended before the line did, so it may be half a line
}

// ErrLost says that no more readings come, although the source did not
// end by itself.
var ErrLost = errors.New("no more readings can come")

// MaxLineBytes is more than any line of a densitometer has.
const MaxLineBytes = 4096

// Readings are what comes from an opened source.
type Readings struct {
	Lines  <-chan Reading // closed when the source ends, is lost or is closed
	Device bool           // it does not end by itself
	Close  func() error   // may be called more than once
}

// Begin starts to read lines.
func (src *Source) Begin(o Options) *Readings {
	lines, done := make(chan Reading, 64), make(chan struct{})
	chunks := make(chan chunk)
	go pump(src.read, chunks, done)
	go func() {
		defer close(lines)
		l := liner{o: o, src: src, out: lines, done: done}
		l.run(chunks)
	}()
	return &Readings{Lines: lines, Device: src.device, Close: sync.OnceValue(func() error {
		close(done)
		return src.Close()
	})}
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
	o       Options
	src     *Source
	out     chan<- Reading
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
			l.send(Reading{Text: string(l.pending), Err: fmt.Errorf("%q came without the end of a line; see --terminator: %w", l.pending, table.ErrNoReading)})
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
		case at > MaxLineBytes || at < 0 && len(l.pending) > MaxLineBytes:
			l.send(Reading{Err: fmt.Errorf("%s: %d bytes without the end of a line are no reading; see --terminator and --baud: %w", l.src.name, MaxLineBytes, ErrLost)})
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
	return l.send(Reading{Text: text, Value: v, Err: err, Unended: unended})
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
		l.send(Reading{Text: text, Err: fmt.Errorf("%q was cut off and does not count: %w", text, table.ErrNoReading)})
	}
	reason := ""
	if l.src.device {
		reason = "the instrument is gone, unplugged or switched off: "
	}
	l.send(Reading{Err: fmt.Errorf("%s: %s%w: %w", l.src.name, reason, err, ErrLost)})
}

// send reports whether the reading was taken before the source was closed.
func (l *liner) send(r Reading) bool {
	select {
	case l.out <- r:
		return true
	case <-l.done:
		return false
	}
}
