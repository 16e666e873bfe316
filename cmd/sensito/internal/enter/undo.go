package enter

import (
	"bytes"
	"fmt"
	"io"
	"strings"

	"sensito/cmd/sensito/internal/console"
	"sensito/cmd/sensito/internal/told"
	"sensito/sensito/notebook/store"
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
		told.Undone(&b, path, from, to)
	}
	_, err = io.WriteString(s.Out, b.String())
	return err
}
