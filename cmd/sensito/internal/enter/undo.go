package enter

import (
	"bytes"
	"fmt"
	"io"
	"strings"

	"sensito/cmd/sensito/internal/console"
	"sensito/sensito/notebook"
	"sensito/sensito/notebook/store"
	"sensito/sensito/printable"
)

// undo puts back the version before of a file and says what that changes.
func undo(s console.Streams, path string) error {
	if path == "-" {
		return console.Usagef("--undo is of a file, not of standard input")
	}
	var from, to []byte
	err := s.Save(path, func() (err error) {
		from, to, err = store.Undo(path)
		return err
	})
	if err != nil {
		return err
	}
	var b strings.Builder
	if bytes.Equal(from, to) {
		fmt.Fprintf(&b, "%s is as it was before: there is nothing to undo.\n", path)
	} else {
		fmt.Fprintf(&b, "%s is as it was before the last save; --undo again takes that back.\n", path)
		undone(&b, path, from, to)
	}
	_, err = io.WriteString(s.Out, b.String())
	return err
}

// undone writes which strips and developments differ from one text of a trial to
// another, as far as both are trials.
func undone(b *strings.Builder, path string, from, to []byte) {
	was, err := notebook.Read(path, bytes.NewReader(from))
	if err != nil {
		return
	}
	is, err := notebook.Read(path, bytes.NewReader(to))
	if err != nil {
		return
	}
	before, now := was.Strips(), is.Strips()
	for i := range max(len(before), len(now)) {
		switch {
		case i >= len(now):
			fmt.Fprintf(b, "%s, with %d steps read, is out.\n", stripName(before[i]), stepsRead(before[i]))
		case i >= len(before):
			fmt.Fprintf(b, "%s, with %d steps read, is in.\n", stripName(now[i]), stepsRead(now[i]))
		case stripText(was, i+1) != stripText(is, i+1):
			fmt.Fprintf(b, "%s has %d of %d steps read; it had %d.\n", stripName(now[i]), stepsRead(now[i]), len(now[i].Steps()), stepsRead(before[i]))
		}
	}
	if n, had := len(is.Done()), len(was.Done()); n != had {
		fmt.Fprintf(b, "%s in the log; it had %d.\n", printable.Counted(n, "development"), had)
	}
}
