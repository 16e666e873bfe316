package enter

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"slices"

	"sensito/cmd/sensito/internal/told"
	"sensito/sensito"
	"sensito/sensito/notebook"
	"sensito/sensito/notebook/store"
)

// A kept is a strip in the file it is kept in.
type kept struct {
	path  string
	seen  []byte // the file as it was last read or written
	strip string // the strip in it, see stripText
	trial *sensito.Trial

	fresh bool // there is no file yet
	begun bool // the strip is not in the file yet
	draft *draft

	before map[string]bool // the versions of the strip before this one
	notes  io.Writer
}

// newKept returns the file of a trial that was read. What others did to it is told on
// notes.
func newKept(path string, data []byte, d *draft, notes io.Writer) (*kept, error) {
	k := &kept{path: path, before: map[string]bool{}, notes: notes, draft: d}
	return k, k.take(data, 0)
}

// take makes data the content of the file.
func (k *kept) take(data []byte, number int) error {
	trial, err := notebook.Read(k.path, bytes.NewReader(data))
	if err != nil {
		return err
	}
	if k.strip != "" {
		k.before[k.strip] = true
	}
	k.seen, k.trial, k.strip = data, trial, told.Text(trial, number)
	return nil
}

// begin returns the number of a new strip, which is in the file once it is first
// saved.
func (k *kept) begin(s sensito.StripSpec) (int, error) {
	text, err := notebook.AppendStrip(k.seen, s)
	if err != nil {
		return 0, err
	}
	trial, err := notebook.Read(k.path, bytes.NewReader(text))
	if err != nil {
		return 0, err
	}
	number := len(trial.Strips())
	k.trial, k.strip, k.begun, k.before = trial, "", true, map[string]bool{}
	return number, nil
}

// createFile writes a file where none is.
func createFile(path string, data []byte) error { return store.CreateFile(path, data) }

// create writes a new file, with the first strip of its trial.
func (k *kept) create(s sensito.StripSpec) error {
	spec := k.trial.Spec()
	spec.Strips = []sensito.StripSpec{s}
	trial, err := sensito.NewTrial(spec)
	if err != nil {
		return err
	}
	data := notebook.Format(trial)
	if err := createFile(k.path, data); err != nil {
		return err
	}
	k.fresh, k.begun = false, false
	if err := k.draft.forget(); err != nil {
		return err
	}
	return k.take(data, 1)
}

// append adds the strip that was begun to the file and returns its number.
func (k *kept) append(s sensito.StripSpec) (int, error) {
	data, err := store.Update(k.path, nil, func(old []byte) ([]byte, error) { return notebook.AppendStrip(old, s) })
	if err != nil {
		return 0, err
	}
	k.begun = false
	if err := k.draft.forget(); err != nil {
		return 0, err
	}
	if err := k.take(data, 0); err != nil {
		return 0, err
	}
	number := len(k.trial.Strips())
	k.before[""], k.strip = true, told.Text(k.trial, number)
	return number, nil
}

// save writes the strip of the number into what is on disk by then, whatever
// others have changed there but this strip. An editor that had the file open may
// have put back an earlier version of the strip, or the file without it: what was
// keyed in since is written again, and told. It returns the number of the strip,
// which is another one where others added strips before one that was begun.
func (k *kept) save(number int, s sensito.StripSpec) (int, error) {
	switch {
	case k.fresh:
		return 1, k.create(s)
	case k.begun:
		return k.append(s)
	}
	var stale bool
	data, err := store.Update(k.path, nil, func(old []byte) ([]byte, error) {
		stale = false
		if bytes.Equal(old, k.seen) {
			return notebook.ReplaceStrip(old, number, s)
		}
		trial, err := notebook.Read(k.path, bytes.NewReader(old))
		if err != nil {
			return nil, err
		}
		is := told.Text(trial, number)
		stale = is != k.strip
		switch {
		case !stale:
		case !k.before[is] || is == "" && len(trial.Strips()) != number-1:
			return nil, fmt.Errorf("%s: strip %d was changed by somebody else while it was being keyed in; the last line was not saved: enter goes on with what is there now", k.path, number)
		case is == "":
			return notebook.AppendStrip(old, s)
		}
		return notebook.ReplaceStrip(old, number, s)
	})
	if err != nil {
		return number, err
	}
	if stale {
		fmt.Fprintf(k.notes, "sensito: %s: another program had put back an earlier version of strip %d; all that was keyed in is there again\n", k.path, number)
	}
	return number, k.take(data, number)
}

// notBegun says whether nothing of the strip has been read.
func notBegun(s *sensito.Strip) bool {
	return len(s.BaseFog()) == 0 && !slices.ContainsFunc(s.Steps(), func(step sensito.Step) bool { return !math.IsNaN(float64(step.Density)) })
}

// emptyStrip is a strip whose first step comes next.
func emptyStrip(minutes sensito.Minutes, grade string, steps int) sensito.StripSpec {
	return sensito.StripSpec{Minutes: minutes, Grade: grade, NextStep: 1,
		Density: slices.Repeat([]sensito.Density{sensito.Density(math.NaN())}, steps)}
}
