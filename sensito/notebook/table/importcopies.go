package table

import (
	"bytes"
	"fmt"
	"reflect"

	"sensito/sensito"
	"sensito/sensito/notebook"
	"sensito/sensito/notebook/internal/grammar"
	"sensito/sensito/notebook/store"
)

// leaveCopies takes the strips of a trial that are copies of others in it out of
// the trial and of its source.
func (im *importer) leaveCopies(src *source, out *Imported) {
	spec := out.Trial.Spec()
	list, _ := src.values["strip"].([]any)
	var strips []sensito.StripSpec
	var rest []any
	for i, s := range out.Trial.Strips() {
		if of := s.CopyOf(); of > 0 {
			im.guess("%s", copied(s, of))
			continue
		}
		strips, rest = append(strips, spec.Strips[i]), append(rest, list[i])
	}
	if len(strips) == len(spec.Strips) {
		return
	}
	spec.Strips = strips
	if trial, err := sensito.NewTrial(spec); err == nil { // as it was before
		out.Trial, src.values["strip"] = trial, rest
	}
}

// copied says that a strip is left out.
func copied(s *sensito.Strip, of int) string {
	what := fmt.Sprintf("strip %d", s.Number())
	if m := s.Minutes(); m > 0 {
		what += " (" + m.Clock(1) + ")"
	}
	return fmt.Sprintf("%s is left out: it has the readings, exposure and development of strip %d; if it is another piece of film, give each its note", what, of)
}

// AppendStrips returns the text of a trial with those of the strips added that
// are not in it yet, and says in words which were left out as copies. They were
// made for the trial as seen says it: strips, calibrations and developments that others
// have added to data since do not matter, anything else that it says is an error that
// wraps ErrChanged. Known and other errors are as for AppendStrip.
func AppendStrips(data, seen []byte, strips []sensito.StripSpec, known ...sensito.Calibration) (text []byte, left []string, err error) {
	if !bytes.Equal(data, seen) && grammar.Decode(data).Values != nil && !reflect.DeepEqual(headOf(data), headOf(seen)) {
		return nil, nil, fmt.Errorf("the trial itself was %w; nothing was written", store.ErrChanged)
	}
	text = data
	for i, spec := range strips {
		longer, err := notebook.AppendStrip(text, spec, known...)
		if err != nil {
			return nil, nil, err
		}
		trial, err := notebook.Read("the file", bytes.NewReader(longer))
		if err != nil {
			return nil, nil, err
		}
		all := trial.Strips()
		if of := all[len(all)-1].CopyOf(); of > 0 {
			left = append(left, fmt.Sprintf("strip %d of the file is strip %d of the trial again, with its readings, exposure and development, and is left out; if it is another piece of film, give each its note", i+1, of))
			continue
		}
		text = longer
	}
	return text, left, nil
}
