package ask

import (
	"bytes"
	"errors"
	"fmt"
	"strings"

	"sensito/sensito"
	"sensito/sensito/control"
	"sensito/sensito/notebook"
	"sensito/sensito/notebook/store"
)

// A StripFault says what is wrong with a control strip that is to be added to a log.
type StripFault struct {
	Field  string // as in the file: date, base_fog, low, patches.middle
	Reason string
}

func (e *StripFault) Error() string { return e.Field + ": " + e.Reason }

// stripFault returns the first fault of a strip as a *StripFault, another error as it is.
func stripFault(err error) error {
	var fault *sensito.FieldError
	if !errors.As(err, &fault) {
		return err
	}
	_, field, _ := strings.Cut(fault.Key, "].")
	return &StripFault{field, fault.Reason}
}

// CheckControl returns a *StripFault where a control strip is none, whatever log it is for.
func CheckControl(strip control.Strip) error {
	_, err := control.NewLog(control.LogSpec{Strips: []control.Strip{strip}})
	return stripFault(err)
}

// AddControl adds a strip to the file of a control log, unless the log has it, and returns
// the log with it, and the number of the strip that says the same, 0 where it was added.
// What others added in between stays. The error is a *StripFault, or that of reading or
// writing; nothing is written then.
func AddControl(path string, strip control.Strip) (log *control.Log, same int, err error) {
	data, err := store.Update(path, nil, func(old []byte) ([]byte, error) {
		same = 0
		log, unread := notebook.ReadControl(path, bytes.NewReader(old))
		if unread == nil {
			if same = log.StripAs(strip); same > 0 {
				return old, nil
			}
		}
		text, err := notebook.AppendControl(old, strip) // a log that has no strip yet cannot be read
		switch {
		case errors.As(err, new(*sensito.FieldError)):
			return nil, stripFault(err)
		case err != nil && unread != nil:
			return nil, unread
		case err != nil:
			return nil, fmt.Errorf("%s: %w", path, err)
		}
		return text, nil
	})
	if err != nil {
		return nil, 0, err
	}
	log, err = notebook.ReadControl(path, bytes.NewReader(data))
	return log, same, err
}
