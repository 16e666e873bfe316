package notebook

import (
	"bytes"
	"errors"

	"sensito/sensito"
	"sensito/sensito/notebook/internal/grammar"
	"sensito/sensito/notebook/store"
)

// doneFields gives a development in the order of a notebook.
func doneFields(d sensito.Done) []field {
	return []field{
		{"date", plain(d.Date)},
		{"planned_minutes", clock(d.Planned)},
		{"planned_c", known(d.PlannedC)},
		{"minutes", clock(d.Minutes)},
		{"temperature_c", known(d.TemperatureC)},
		{"ended_c", known(d.EndedC)},
		{"dilution", quotedValue(d.Dilution)},
		{"agitation", quotedValue(string(d.Agitation))},
		{"exposure_index", known(float64(d.Index))},
		{"for", quotedValue(d.For)},
		{"films", quotedValue(sensito.FilmList(d.Films))},
		{"baths", names(d.Baths)},
		{"note", quotedValue(d.Note)},
	}
}

// names is a list of names, left out when there are none.
func names(of []string) value {
	if len(of) == 0 {
		return value{}
	}
	return row(of, grammar.Quoted)
}

// AppendDone returns the text of a trial with one [[done]] more at its end; every
// byte that was there stays. Errors are as for AppendStrip.
func AppendDone(data []byte, d sensito.Done) ([]byte, error) {
	old, err := readText(data)
	if err != nil {
		return nil, err
	}
	spec := old.Spec()
	spec.Done = append(spec.Done, d)
	want, err := newTrial(spec)
	if err != nil {
		return nil, err
	}
	text := appendTable(data, "done", doneFields(d))
	if len(old.Done()) > 0 {
		if _, err := readText(text); err != nil {
			return nil, errors.New("the developments are written in one line, done = [...]; write each as [[done]] to have one added")
		}
	}
	return verified(text, want)
}

// LogDone adds a development to the log of the trial in the file at path, unless the
// log has one that says the same in everything, and returns the trial as it is then.
// Same is the number of that development, from 1; 0 where d was added. Errors are
// those of store.Update and AppendDone.
func LogDone(path string, d sensito.Done) (trial *sensito.Trial, same int, err error) {
	data, err := store.Update(path, nil, func(old []byte) ([]byte, error) {
		trial, err := Read(path, bytes.NewReader(old))
		if err != nil {
			return nil, err
		}
		if same = trial.DoneAs(d); same > 0 {
			return old, nil
		}
		return AppendDone(old, d)
	})
	if err != nil {
		return nil, 0, err
	}
	trial, err = Read(path, bytes.NewReader(data))
	return trial, same, err
}
