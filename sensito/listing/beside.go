package listing

import (
	"strings"

	"sensito/sensito"
	"sensito/sensito/control"
	"sensito/sensito/development"
	"sensito/sensito/scene"
)

// Beside is what a control log that lies beside a trial says of its process. Nothing is
// corrected by it.
type Beside struct {
	File string // the name of the log; "" for none

	// Drift is where the process is, by the film of the trial; nil where no log tells it,
	// and where the trial is of a later day than the change, so of the process as it is.
	Drift *scene.Drift

	Warnings sensito.Warnings // of logs that cannot be read
}

// NewBeside returns what a log says of the process of a family, from what
// notebook.ControlOf found; the log may be nil.
func NewBeside(f *development.Family, file string, log *control.Log, faults []error) *Beside {
	b := &Beside{Warnings: sensito.Warnings{}}
	for _, err := range faults {
		first, _, _ := strings.Cut(err.Error(), "\n")
		b.Warnings.Add("log_unread", first)
	}
	if log == nil {
		return b
	}
	b.File = file
	d, err := scene.NewDrift(f, log)
	if err != nil { // too few strips to judge the process
		return b
	}
	newest := ""
	for _, s := range f.Trial.Strips() {
		newest = max(newest, s.Date())
	}
	if d.InControl || newest < d.Since {
		b.Drift = d
	}
	return b
}
