package notebook

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"path"
	"strings"

	"sensito/sensito"
	"sensito/sensito/control"
	"sensito/sensito/notebook/internal/grammar"
)

// The most files that ControlOf looks at, and the most control logs that it reads.
const mostLooked, mostLogs = 500, 8

// ControlOf returns the control log of the film and developer of a trial among the files of
// a folder, "." of the file system, such as os.DirFS or os.Root give; of several the one
// with the newest strip. The log is nil and the name "" where there is none. Of other files
// only the beginning is read. What is a control log by its beginning and cannot be read is
// passed over, with one of the errors, whose names are those within the folder. A folder that
// cannot be listed has no log.
func ControlOf(folder fs.FS, t *sensito.Trial) (name string, log *control.Log, faults []error) {
	files, err := fs.ReadDir(folder, ".")
	if err != nil {
		return "", nil, nil
	}
	looked, read := 0, 0
	newest := ""
	for _, f := range files {
		if !strings.EqualFold(path.Ext(f.Name()), ".toml") || strings.HasPrefix(f.Name(), ".") {
			continue
		}
		if looked++; looked > mostLooked || read == mostLogs {
			break
		}
		data, err := controlBytes(folder, f.Name())
		if data == nil && err == nil {
			continue
		}
		read++
		var found *control.Log
		if err == nil {
			found, err = ReadControl(f.Name(), bytes.NewReader(data))
		}
		if err != nil {
			faults = append(faults, err)
			continue
		}
		strips := found.Strips()
		if last := strips[len(strips)-1].Date; found.IsOf(t) && last > newest {
			name, log, newest = f.Name(), found, last
		}
	}
	return name, log, faults
}

// controlBytes returns the content of a file that is a control log by its beginning, nil for
// another and for one that cannot be opened.
func controlBytes(folder fs.FS, name string) ([]byte, error) {
	if info, err := fs.Stat(folder, name); err != nil || !info.Mode().IsRegular() {
		return nil, nil
	}
	f, err := folder.Open(name)
	if err != nil {
		return nil, nil
	}
	defer f.Close()
	head := make([]byte, 4096)
	n, err := io.ReadFull(f, head)
	if KindOf(head[:n]) != ControlKind || err != nil && !errors.Is(err, io.ErrUnexpectedEOF) {
		return nil, nil
	}
	rest, err := io.ReadAll(io.LimitReader(f, grammar.MaxBytes))
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	return append(head[:n], rest...), nil
}
