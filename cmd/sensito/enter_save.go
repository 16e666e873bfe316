package main

import (
	"bytes"
	"errors"
	"fmt"

	"sensito/sensito"
	"sensito/sensito/notebook"
)

// A kept is a strip in the file it is kept in.
type kept struct {
	path  string
	seen  []byte // the file as it was last read or written
	strip string // the strip in it, see stripText
	trial *sensito.Trial
}

// open reads the file of a trial.
func open(path string) (*kept, error) {
	k := &kept{path: path}
	return k, k.read(0)
}

// read reads the file anew; number is the strip that is being keyed in, 0 for
// none.
func (k *kept) read(number int) error {
	data, err := notebook.ReadBytes(k.path)
	if err != nil {
		return err
	}
	return k.take(data, number)
}

// take makes data the content of the file.
func (k *kept) take(data []byte, number int) error {
	trial, err := notebook.Read(k.path, bytes.NewReader(data))
	if err != nil {
		return err
	}
	k.seen, k.trial = data, trial
	k.strip = stripText(trial, number)
	return nil
}

// stripText returns all that a trial says of a strip, so that two can be
// compared although NaN differs from itself; "" where there is no such strip.
func stripText(t *sensito.Trial, number int) string {
	strips := t.Strips()
	if number < 1 || number > len(strips) {
		return ""
	}
	return fmt.Sprintf("%+v", strips[number-1].Spec())
}

// append adds a strip to the file and returns its number.
func (k *kept) append(s sensito.StripSpec) (int, error) {
	data, err := notebook.Update(k.path, nil, func(old []byte) ([]byte, error) { return notebook.AppendStrip(old, s) })
	if err != nil {
		return 0, err
	}
	if err := k.take(data, 0); err != nil {
		return 0, err
	}
	number := len(k.trial.Strips())
	k.strip = stripText(k.trial, number)
	return number, nil
}

// save writes the strip of the number. Where others have changed the file
// meanwhile, but not this strip, it goes into what they wrote.
func (k *kept) save(number int, s sensito.StripSpec) error {
	const tries = 3
	for i := range tries {
		data, err := notebook.Update(k.path, k.seen, func(old []byte) ([]byte, error) { return notebook.ReplaceStrip(old, number, s) })
		if err == nil {
			return k.take(data, number)
		}
		if !errors.Is(err, notebook.ErrChanged) || i == tries-1 {
			return err
		}
		mine := k.strip
		if err := k.read(number); err != nil {
			return err
		}
		if k.strip != mine {
			return fmt.Errorf("%s: strip %d was changed by somebody else while it was being keyed in; the last line was not saved: enter goes on with what is there now", k.path, number)
		}
	}
	return nil
}
