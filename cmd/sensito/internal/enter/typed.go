package enter

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"sensito/cmd/sensito/internal/console"
	"sensito/cmd/sensito/internal/instrument"
)

// A typedLine is a line of standard input, or why there is none.
type typedLine struct {
	text    string
	err     error
	unended bool      // the input ended before the line did, so it may be half a line
	at      time.Time // when it came
}

var errLongLine = fmt.Errorf("a line of more than %d bytes; write a line for each step", instrument.MaxLineBytes)

// mostWaiting is how many lines may wait to be taken; a paste is not as long.
const mostWaiting = 4096

// typedLines sends the lines of r until it ends, which a file may do within a
// line. After errLongLine others follow, after any other error none. A terminal
// holds only so much of what is pasted, so lines are read as they come.
func typedLines(ctx context.Context, r io.Reader) <-chan typedLine {
	out := make(chan typedLine, mostWaiting)
	send := func(l typedLine) bool {
		l.at = time.Now()
		select {
		case out <- l:
			return true
		case <-ctx.Done():
			return false
		}
	}
	go func() {
		defer close(out)
		in := bufio.NewReaderSize(r, instrument.MaxLineBytes)
		for first := true; ; first = false {
			data, err := in.ReadSlice('\n')
			if errors.Is(err, bufio.ErrBufferFull) {
				if !send(typedLine{err: errLongLine}) {
					return
				}
				for errors.Is(err, bufio.ErrBufferFull) {
					_, err = in.ReadSlice('\n')
				}
				data = nil
			}
			text := string(data)
			if first {
				text = strings.TrimPrefix(text, "\ufeff")
			}
			switch {
			case err == nil && data == nil: // the end of the long line
			case err == nil || errors.Is(err, io.EOF) && text != "":
				if !send(typedLine{text: text, unended: err != nil && !console.IsFile(r)}) {
					return
				}
			case !errors.Is(err, io.EOF):
				send(typedLine{err: err})
			}
			if err != nil {
				return
			}
		}
	}()
	return out
}
