package enter

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"sensito/cmd/sensito/internal/console"
	"sensito/sensito"
	"sensito/sensito/notebook"
	"sensito/sensito/notebook/store"
)

// stripFor opens the trial, or builds it, and returns the strip to go on with or
// a new one, which is in the file already.
func (o *options) stripFor(ctx context.Context, s console.Streams, path string, minutes sensito.Minutes, asks bool) (*kept, int, error) {
	_, err := os.Stat(path)
	if errors.Is(err, fs.ErrNotExist) {
		return o.newTrial(ctx, s, path, minutes, asks)
	}
	if names := o.draft.given(o.given); len(names) > 0 {
		return nil, 0, console.Usagef("--%s is for a new trial, but %s is there", names[0], path)
	}
	file, err := openKept(path, s.Err)
	if err != nil {
		return nil, 0, err
	}
	strips := file.trial.Strips()
	switch {
	case o.strip > len(strips):
		return nil, 0, console.Usagef("--strip %d is outside 1 to %d", o.strip, len(strips))
	case o.strip > 0:
		return file, o.strip, nil
	case minutes == 0 && o.grade == "":
		if i := slices.IndexFunc(strips, func(s *sensito.Strip) bool { return s.NextStep() > 0 }); i >= 0 {
			return file, i + 1, nil
		}
		if i := slices.IndexFunc(strips, notBegun); i >= 0 {
			return file, i + 1, nil
		}
	}
	paper := file.trial.Material() == sensito.PaperMaterial
	if o.grade != "" && !paper {
		return nil, 0, console.Usagef("--grade is of paper, and %s is a film", path)
	}
	if minutes == 0 && !paper {
		if !asks || o.source.From == "-" {
			return nil, 0, console.Usagef("every strip of %s is complete; begin another with --minutes M:SS", path)
		}
		if minutes, err = o.askMinutes(ctx, s, len(strips)+1); err != nil {
			return nil, 0, err
		}
	}
	if i := slices.IndexFunc(strips, func(s *sensito.Strip) bool {
		return s.Minutes() == minutes && s.Grade() == o.grade && notBegun(s)
	}); i >= 0 {
		return file, i + 1, nil
	}
	number := 0
	err = s.Save(path, func() (err error) {
		number, err = file.append(emptyStrip(minutes, o.grade, file.trial.Exposures().Len()))
		return err
	})
	return file, number, err
}

// newTrial builds a trial that does not exist yet, with its first strip.
func (o *options) newTrial(ctx context.Context, s console.Streams, path string, minutes sensito.Minutes, asks bool) (*kept, int, error) {
	switch {
	case o.strip > 0:
		return nil, 0, fmt.Errorf("%s does not exist, so it has no strip %d", path, o.strip)
	case filepath.Ext(path) != ".toml":
		return nil, 0, console.Usagef("%s does not exist; the name of a new trial ends in .toml", path)
	case o.grade != "":
		return nil, 0, console.Usagef("--grade is of paper; a trial of paper is begun in an editor")
	}
	if err := store.Free(path); err != nil {
		return nil, 0, err
	}
	if asks && o.source.From != "-" {
		if err := o.askTrial(ctx, s); err != nil {
			return nil, 0, err
		}
		if minutes == 0 {
			var err error
			if minutes, err = sensito.ParseMinutes(o.minutes); err != nil {
				return nil, 0, err
			}
		}
	} else if missing := o.draft.missing(); len(missing) > 0 || minutes == 0 {
		if minutes == 0 {
			missing = append(missing, "minutes")
		}
		return nil, 0, console.Usagef("%s does not exist; a new trial needs --%s", path, strings.Join(missing, ", --"))
	}
	trial, err := o.draft.trial(minutes)
	if err != nil {
		return nil, 0, console.Usage(err)
	}
	if err := s.Save(path, func() error { return store.CreateFile(path, notebook.Format(trial)) }); err != nil {
		return nil, 0, err
	}
	fmt.Fprintf(s.Err, "sensito: wrote %s\n", path)
	file, err := openKept(path, s.Err)
	return file, 1, err
}
