package notebook

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strings"

	"sensito/sensito"
	"sensito/sensito/notebook/internal/grammar"
	"sensito/sensito/notebook/internal/trialfile"
)

// AppendStrip returns the text of a trial with one [[strip]] more at its end;
// every byte that was there stays. A file without strips gets its first. Numbers
// are written in full, lines end as those of the file. The error is that of Read
// for the old text, joins a sensito.FieldError for every fault of the strip, or
// says why it cannot be written: strips in one line, strip = [...], are not
// added to.
//
// Known are calibrations that the strip may have been read by in a picture. The one of its
// name is written before it unless the file has it; other figures under the same name are
// an error.
func AppendStrip(data []byte, s sensito.StripSpec, known ...sensito.Calibration) ([]byte, error) {
	if err := appendable(data); err != nil {
		return nil, err
	}
	by, err := newCalibration(data, s.Calibration, known)
	if err != nil {
		return nil, err
	}
	write := func(s sensito.StripSpec) []byte {
		s.Process = s.Process.Unlike(statedProcess(data))
		text := data
		for _, c := range by {
			text = appendTable(text, "calibration", calibrationFields(c))
		}
		return appendTable(text, "strip", stripFields(s))
	}
	old, err := readText(data)
	if err != nil {
		if len(outline(data, "strip")) > 0 {
			return nil, err
		}
		return firstStrip(write(s), s, err)
	}
	spec := old.Spec()
	spec.Strips, spec.Calibrations = append(spec.Strips, s), append(spec.Calibrations, by...)
	want, err := newTrial(spec)
	if err != nil {
		return nil, err
	}
	added := want.Strips()[len(spec.Strips)-1]
	s = added.Spec()
	s.Process = added.Process() // what strips say alike is stated only as long as all say it
	return verified(write(s), want)
}

// newCalibration returns the calibration of the name, of those known, that the file does
// not have yet: one or none.
func newCalibration(data []byte, name string, known []sensito.Calibration) ([]sensito.Calibration, error) {
	at := slices.IndexFunc(known, func(c sensito.Calibration) bool { return name != "" && c.Name == name })
	if at < 0 {
		return nil, nil
	}
	root := grammar.Decode(data)
	for _, c := range trialfile.Calibrations(root) {
		switch {
		case c == known[at]:
			return nil, nil
		case c.Name == name:
			return nil, &sensito.FieldError{Key: "calibration",
				Reason: fmt.Sprintf("%q is in the file with other figures; give this one another name", name)}
		}
	}
	if root.Has("calibration") && len(outline(data, "calibration")) == 0 {
		return nil, errors.New("the calibrations are written in one line, calibration = [...]; write each as [[calibration]] to have one added")
	}
	return known[at : at+1], nil
}

// firstStrip returns the text of a trial that has just got its first strip; none
// is the error of the text without it.
func firstStrip(text []byte, s sensito.StripSpec, none error) ([]byte, error) {
	got, err := readText(text)
	if err != nil {
		return nil, firstFault(none, err)
	}
	spec := got.Spec()
	spec.Strips = []sensito.StripSpec{s}
	want, err := newTrial(spec)
	if err != nil {
		return nil, err
	}
	return verified(text, want)
}

// ReplaceStrip returns the text of a trial in which the strip of the number,
// from 1, has become s. Only what differs is rewritten: values in their place,
// single elements of lists, so that the comments beside them stay; a key that
// the strip lacks is put where Format has it, one that says nothing any more is
// taken out. Errors are as for AppendStrip.
func ReplaceStrip(data []byte, number int, s sensito.StripSpec) ([]byte, error) {
	old, err := readText(data)
	if err != nil {
		return nil, err
	}
	if err := appendable(data); err != nil {
		return nil, err
	}
	spec := old.Spec()
	if number < 1 || number > len(spec.Strips) {
		return nil, fmt.Errorf("there is no strip %d; the trial has %d", number, len(spec.Strips))
	}
	spec.Strips[number-1] = s
	want, err := newTrial(spec)
	if err != nil {
		return nil, err
	}
	stated := statedProcess(data)
	fields := func(t *sensito.Trial) []field {
		strip := t.Strips()[number-1]
		s := strip.Spec()
		s.Process = strip.Process().Unlike(stated)
		return stripFields(s)
	}
	e := &editor{text: data, strip: outline(data, "strip")[number-1]}
	return verified(e.change(fields(old), fields(want)), want)
}

// RemoveStrip returns the text of a trial without the strip of the number, from 1, and
// without the calibration that no other strip was read by; every other byte stays. The error is that of Read, says that there is no such strip
// or that it is the only one, or why it cannot be taken out.
func RemoveStrip(data []byte, number int) ([]byte, error) {
	old, err := readText(data)
	if err != nil {
		return nil, err
	}
	if err := appendable(data); err != nil {
		return nil, err
	}
	spec := old.Spec()
	if err := removable("strip", number, len(spec.Strips)); err != nil {
		return nil, err
	}
	for i, s := range old.Strips() { // what they say alike is stated only as long as all say it
		spec.Strips[i].Process = s.Process()
	}
	by := spec.Strips[number-1].Calibration
	spec.Strips = slices.Delete(spec.Strips, number-1, number)
	text := outline(data, "strip")[number-1].without(data)
	at := slices.IndexFunc(spec.Calibrations, func(c sensito.Calibration) bool { return c.Name == by })
	used := slices.ContainsFunc(spec.Strips, func(s sensito.StripSpec) bool { return s.Calibration == by })
	if blocks := outline(text, "calibration"); at >= 0 && !used && at < len(blocks) {
		spec.Calibrations = slices.Delete(spec.Calibrations, at, at+1)
		text = blocks[at].without(text)
	}
	want, err := newTrial(spec)
	if err != nil {
		return nil, err
	}
	return verified(text, want)
}

// removable returns an error where a list has no such thing, or no other.
func removable(noun string, number, count int) error {
	switch {
	case number < 1 || number > count:
		return fmt.Errorf("there is no %s %d; the file has %d", noun, number, count)
	case count == 1:
		return fmt.Errorf("%s 1 is the only one: to be rid of it, remove the file", noun)
	}
	return nil
}

// editedFile stands for the file in errors; who has it open knows its name.
const editedFile = "the file"

var errNotSame = errors.New("the strip cannot be written into this file so that it reads as meant; nothing was changed")

func readText(text []byte) (*sensito.Trial, error) { return Read(editedFile, bytes.NewReader(text)) }

// newTrial checks the trial that a file is to hold.
func newTrial(spec sensito.TrialSpec) (*sensito.Trial, error) {
	for i, s := range spec.Strips {
		if d := s.Process.Developer; d != "" && d != spec.Process.Developer {
			return nil, &sensito.FieldError{Key: grammar.Element("strip", i) + ".developer",
				Reason: fmt.Sprintf("%q is not the trial's, %q; a trial has one", d, spec.Process.Developer)}
		}
	}
	return sensito.NewTrial(spec)
}

// verified returns the text if it reads as the trial that is wanted.
func verified(text []byte, want *sensito.Trial) ([]byte, error) {
	got, err := readText(text)
	if err != nil {
		return nil, withoutLines(err)
	}
	if !bytes.Equal(format(told(got), nil), format(told(want), nil)) {
		return nil, errNotSame
	}
	return text, nil
}

// told returns the trial with every strip's process told by the strip, for what
// strips say alike stands for the trial only as long as all say it.
func told(t *sensito.Trial) sensito.TrialSpec {
	spec := t.Spec()
	for i, s := range t.Strips() {
		spec.Strips[i].Process = s.Process()
	}
	spec.Process = sensito.Process{Developer: spec.Process.Developer}
	return spec
}

// firstFault returns what is wrong with a text that none is the error of where
// more than its first strip was missing, else what is wrong with the strip.
func firstFault(none, err error) error {
	var list Errors
	if errors.As(none, &list) && slices.ContainsFunc(list, func(e *Error) bool { return e.Key != "strip" }) {
		return none
	}
	return withoutLines(err)
}

// withoutLines returns faults of a text that the user never saw.
func withoutLines(err error) error {
	var list Errors
	if !errors.As(err, &list) {
		return err
	}
	var errs []error
	for _, e := range list {
		errs = append(errs, &sensito.FieldError{Key: cmp.Or(e.Key, "strip"), Reason: e.Msg})
	}
	return errors.Join(errs...)
}

// appendable returns an error when strips are written in a way that none can be
// added to or changed.
func appendable(data []byte) error {
	if grammar.KindOfValue(grammar.Decode(data).Values["strip"]) == "a list" && len(outline(data, "strip")) == 0 {
		return errors.New("the strips are written in one line, strip = [...]; write each as [[strip]] to have one added or changed")
	}
	return nil
}

// statedProcess returns what [process] says.
func statedProcess(data []byte) sensito.Process {
	return trialfile.Process(grammar.Decode(data).Sub("process"))
}

// newline returns how the lines of the text end.
func newline(text []byte) string {
	if i := bytes.LastIndexByte(text, '\n'); i > 0 && text[i-1] == '\r' {
		return "\r\n"
	}
	return "\n"
}

// appendTable returns the text with one table of a list more, after a blank
// line.
func appendTable(text []byte, name string, fields []field) []byte {
	p := &printer{}
	before := bytes.TrimPrefix(text, []byte("\ufeff"))
	switch blank := bytes.TrimRight(before, " \t"); {
	case len(blank) == 0, bytes.HasSuffix(blank, []byte("\n\n")), bytes.HasSuffix(blank, []byte("\n\r\n")):
	case bytes.HasSuffix(blank, []byte("\n")):
		p.WriteByte('\n')
	default:
		p.WriteString("\n\n")
	}
	p.WriteString("[[" + name + "]]\n")
	p.write(name, false, fields)
	return slices.Concat(text, []byte(strings.ReplaceAll(p.String(), "\n", newline(text))))
}
