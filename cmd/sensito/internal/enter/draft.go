package enter

import (
	"encoding/json"
	"fmt"

	"sensito/sensito/notebook/store"
)

// A draft is a file that is being built by questions: what was answered so far, kept
// beside it until it is there.
type draft struct {
	path    string    // of the file
	Schema  string    `json:"schema"`
	Answers answers   `json:"answers"`
	Things  []answers `json:"things,omitempty"` // of a list that is no file yet
	off     bool      // nobody is there whose answers are to be kept
	taken   bool      // from an earlier run
}

const draftSchema = "sensito/draft/1"

// openDraft returns the draft of the file at path, an empty one where none is kept
// or where it cannot be read.
func openDraft(path string, asks bool) *draft {
	d := &draft{path: path, Schema: draftSchema, Answers: answers{}, off: !asks}
	if d.off {
		return d
	}
	var kept draft
	if json.Unmarshal(store.ReadDraft(path), &kept) == nil && kept.Schema == draftSchema && len(kept.Answers) > 0 {
		d.Answers, d.Things, d.taken = kept.Answers, kept.Things, true
	}
	return d
}

// keep writes the answers down.
func (d *draft) keep() error {
	if d.off {
		return nil
	}
	data, err := json.MarshalIndent(d, "", "  ")
	if err == nil {
		err = store.KeepDraft(d.path, append(data, '\n'))
	}
	if err != nil {
		return fmt.Errorf("the answers so far cannot be kept: %w", err)
	}
	return nil
}

// forget removes what was kept, once it is in the file itself.
func (d *draft) forget() error {
	d.Answers, d.Things, d.taken = answers{}, nil, false
	return store.ForgetDraft(d.path)
}

// of makes the draft one of a certain thing of a list, "" for a new one: answers of
// another are forgotten.
func (d *draft) of(thing string) {
	if d.Answers["of"] != thing {
		d.Answers = answers{}
		if thing != "" {
			d.Answers["of"] = thing
		}
	}
}
