package listing

import (
	"cmp"
	"errors"
	"slices"
	"strings"

	"sensito/sensito/darkroom"
	"sensito/sensito/scene"
)

// Tablet is what densities of pictures are told by: a calibration, or a tablet alone.
type Tablet struct {
	Name    string  // of the calibration or, where there is none, of the tablet; may be ""
	Steps   int     // of the tablet
	ReadsTo float64 // the greatest density that is read; 0 before it was pictured
}

// Entry is a file of a notebook with what was found in it: one of Trial to Err, and
// all nil for a file of another kind.
type Entry struct {
	File      string // its name within the folder
	Trial     *Trial
	Control   *Control
	Roll      []scene.Frame
	Procedure *darkroom.Procedure
	Tablet    *Tablet
	Err       error // why it cannot be read
}

// Date returns the date by which the entry is sorted, as YYYY-MM-DD: that of the newest
// strip, or else of the newest development in the log of a trial; "" for an entry
// without a date.
func (e Entry) Date() string {
	switch {
	case e.Trial != nil:
		return e.Trial.Newest
	case e.Control != nil:
		return e.Control.Last
	}
	return ""
}

// Fault returns what keeps the file from being read: the line of its first fault, from 1,
// or 0 where the fault has none, what is wrong, and how many faults more there are. All
// are zero where the file was read.
func (e Entry) Fault() (line int, reason string, more int) {
	if e.Err == nil {
		return 0, "", 0
	}
	reason, _, _ = strings.Cut(e.Err.Error(), "\n")
	if at := (interface{ Where() (int, string) })(nil); errors.As(e.Err, &at) {
		line, reason = at.Where()
	}
	if list, ok := e.Err.(interface{ Unwrap() []error }); ok {
		more = len(list.Unwrap()) - 1
	}
	return line, reason, more
}

// Notebook is what the files of a folder come to. It is made by NewNotebook and is not
// changed.
type Notebook struct {
	// Entries are newest first. Those without a date come last, in the order in which
	// they were given.
	Entries []Entry
}

// NewNotebook returns the notebook of entries, and gives each control log whose process
// has left its aim its Drift, where a trial of the same film and developer is there to
// tell it.
func NewNotebook(entries []Entry) *Notebook {
	n := &Notebook{Entries: slices.Clone(entries)}
	slices.SortStableFunc(n.Entries, func(a, b Entry) int { return cmp.Compare(b.Date(), a.Date()) })
	for _, e := range n.Entries {
		if e.Control != nil {
			e.Control.tell(n.Entries)
		}
	}
	return n
}

// mostFamilies is how many trials are asked what a change of the process means.
const mostFamilies = 8

// tell finds what the change of the process means: by the trial that tells the time most
// exactly.
func (c *Control) tell(entries []Entry) {
	if c.Control == nil || c.Control.First == nil {
		return
	}
	asked := 0
	for _, e := range entries {
		if e.Trial == nil || e.Trial.Family == nil || asked == mostFamilies || !c.Log.IsOf(e.Trial.Trial) {
			continue
		}
		asked++
		d, err := scene.NewDrift(e.Trial.Family, c.Log)
		if err != nil || d.TimePercent == nil {
			continue
		}
		if c.Drift == nil || d.TimePercent.StdErr < c.Drift.TimePercent.StdErr {
			c.Drift, c.By = d, e.File
		}
	}
}
