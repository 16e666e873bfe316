package notebook

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"sensito/sensito"
)

// Skeleton returns the file of a first test, ready to be read and to be filled
// in: every step of every strip is nan, not read.
func Skeleton(p *sensito.FirstProposal) []byte {
	var b bytes.Buffer
	s := p.Spec
	line := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	title := s.Film.Name
	if d := strings.TrimSpace(s.Process.Developer + " " + s.Process.Dilution); d != "" {
		title += " in " + d
	}
	line("# Fill in what was done where it differs, and the readings in place of nan;")
	line("# a step that is not read stays nan.")
	line("title = %s\n", quoted(title))
	line("[film]")
	line("name        = %s", quoted(s.Film.Name))
	for _, key := range []struct{ name, value string }{{"batch", s.Film.Batch}, {"format", s.Film.Format}} {
		if key.value != "" {
			line("%-11s = %s", key.name, quoted(key.value))
		}
	}
	line("rated_speed = %s\n", number(float64(s.Film.RatedSpeed)))
	skeletonProcess(line, s.Process)
	line("[exposure]")
	line("kind           = %q", s.Way)
	if s.Way == sensito.Camera {
		line("meter_index    = %s", number(float64(p.MeterIndex)))
		var stops []string
		for _, n := range p.Stops {
			stops = append(stops, number(n))
		}
		line("stops          = [%s]  # from the metered exposure", strings.Join(stops, ", "))
	} else {
		line("illuminance_lx = %s  # at the film, nothing in between: as measured", number(p.IlluminanceLx))
		line("seconds        = %s", number(p.Seconds))
		line("wedge_first    = %s  # step 1 is the thinnest", number(float64(s.WedgeFirst)))
		line("wedge_step     = %s", number(float64(s.WedgeStep)))
		line("wedge_count    = %d", s.WedgeCount)
	}
	line("\n[reading]\nrepeatability = %s", number(float64(sensito.DefaultRepeatability)))
	line("zero          = %q  # or \"base\"", sensito.ZeroAir)
	for _, t := range p.Minutes {
		line("\n[[strip]]\nminutes  = %q\nbase_fog = []  # read twice", t.Clock(1))
		line("density  = [")
		for i := range p.Exposures.Len() {
			switch {
			case i%skeletonColumns == 0:
				b.WriteString("  nan,")
			default:
				b.WriteString(" nan,")
			}
			if i%skeletonColumns == skeletonColumns-1 || i == p.Exposures.Len()-1 {
				b.WriteString("\n")
			}
		}
		line("]")
	}
	return b.Bytes()
}

const skeletonColumns = 7

func skeletonProcess(line func(string, ...any), p sensito.Process) {
	if p == (sensito.Process{}) {
		return
	}
	line("[process]")
	for _, key := range []struct{ name, value string }{
		{"developer", p.Developer}, {"dilution", p.Dilution}, {"agitation", string(p.Agitation)},
	} {
		if key.value != "" {
			line("%-13s = %s", key.name, quoted(key.value))
		}
	}
	if p.TemperatureC != 0 {
		line("temperature_c = %s", number(p.TemperatureC))
	}
	line("")
}

func number(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// quoted returns a TOML string. One of JSON is that too, but for a character
// that TOML wants escaped.
func quoted(s string) string {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	if err := e.Encode(s); err != nil {
		panic(err) // a string always encodes
	}
	return strings.ReplaceAll(strings.TrimSuffix(b.String(), "\n"), "\x7f", `\u007f`)
}

// CreateFile puts data in a new file at path, which appears whole or not at all.
// The error is that the path is taken, by whatever it is, or that of writing;
// nothing is left behind then.
func CreateFile(path string, data []byte) error {
	if err := Free(path); err != nil {
		return err
	}
	temporary := filepath.Join(filepath.Dir(path), fmt.Sprintf(".%s.%d", filepath.Base(path), os.Getpid()))
	f, err := os.OpenFile(temporary, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if err != nil {
		return fmt.Errorf("%s: %w", path, errors.Unwrap(err))
	}
	defer os.Remove(temporary)
	_, err = f.Write(data)
	if err == nil {
		err = f.Sync()
	}
	if err := errors.Join(err, f.Close()); err != nil {
		return err
	}
	// A link, other than a renamed file, does not replace what is there.
	if err := os.Link(temporary, path); err != nil {
		if errors.Is(err, fs.ErrExist) {
			return taken(path)
		}
		return fmt.Errorf("%s: %w", path, errors.Unwrap(err))
	}
	return nil
}

// Free returns an error when a file cannot be created at path because there is
// one, or no folder for it.
func Free(path string) error {
	if _, err := os.Lstat(path); err == nil {
		return taken(path)
	}
	if info, err := os.Stat(filepath.Dir(path)); err != nil || !info.IsDir() {
		return fmt.Errorf("%s: there is no folder %s", path, filepath.Dir(path))
	}
	return nil
}

func taken(path string) error { return fmt.Errorf("%s is there already: name another file", path) }
