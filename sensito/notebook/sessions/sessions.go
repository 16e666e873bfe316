package sessions

import (
	"bytes"
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"

	"sensito/sensito"
	"sensito/sensito/internal/lazy"
	"sensito/sensito/notebook"
	"sensito/sensito/notebook/store"
	"sensito/sensito/session"
)

// Folder is that of the sessions within a notebook.
const Folder = "sessions"

const ending = ".jsonl"

var idForm = lazy.Regexp(`^(\d{4}-\d{2}-\d{2})-(\d{1,4})$`)

// ErrNoID says that something, such as a path, is no ID of a session.
var ErrNoID = errors.New("is not a session like 2026-06-04-1")

// folder opens that of the sessions of a notebook, out of which no link leads. The error is
// fs.ErrNotExist where there is none, or store.ErrLeaves.
func folder(dir string) (*store.Root, error) {
	root, err := store.OpenRoot(dir)
	if err != nil {
		return nil, err
	}
	defer root.Close()
	return root.Folder(Folder)
}

// Path returns the file of a session, to be watched or written. The error is ErrNoID, that
// there is none (fs.ErrNotExist), or store.ErrLeaves for a link out of the notebook.
func Path(dir, id string) (string, error) {
	in, err := folderOf(dir, id)
	if err != nil {
		return "", err
	}
	defer in.Close()
	return in.Path(id + ending)
}

// folderOf is folder for an ID, which it checks.
func folderOf(dir, id string) (*store.Root, error) {
	if !idForm().MatchString(id) {
		return nil, fmt.Errorf("%q %w", id, ErrNoID)
	}
	return folder(dir)
}

// Start begins a session by a plan in the folder of a notebook. The error is that of
// session.Begin, or of writing.
func Start(dir string, p session.Plan, at time.Time) (id string, s *session.Session, err error) {
	e, err := session.Begin(p, at)
	if err != nil {
		return "", nil, err
	}
	return create(dir, e)
}

// Known returns a plan that knows in which time the fixer cleared film at first, since it was
// mixed, by the earliest session that tells so. What the procedure says stays, and a fixer
// that does not say when it was mixed may be any. Sessions that cannot be read are passed
// over.
func Known(dir string, p session.Plan) session.Plan {
	if p.Fixer == nil || p.Fixer.Fresh > 0 || p.Fixer.Mixed == "" {
		return p
	}
	all, err := List(dir)
	if err != nil {
		return p
	}
	for _, e := range slices.Backward(all) { // from the oldest on
		if e.Session == nil {
			continue
		}
		x := e.Session.Plan().Fixer
		if x == nil || x.Name != p.Fixer.Name || x.Mixed != p.Fixer.Mixed {
			continue
		}
		st := e.Session.At(time.Time{})
		if cleared := st.Steps[x.Step-1].Clearing; cleared > 0 {
			known := *p.Fixer
			known.Fresh, known.First = cleared, st.Plan.Date
			p.Fixer = &known
			break
		}
	}
	return p
}

// create makes the file of a session of its first event.
func create(dir string, e session.Event) (id string, s *session.Session, err error) {
	if s, err = session.Replay([]session.Event{e}); err != nil {
		return "", nil, err
	}
	if err := os.Mkdir(filepath.Join(dir, Folder), 0o777); err != nil && !errors.Is(err, fs.ErrExist) {
		return "", nil, fmt.Errorf("%s: the folder of the sessions cannot be made: %w", filepath.Join(dir, Folder), store.Cause(err))
	}
	in, err := folder(dir)
	if err != nil {
		return "", nil, err
	}
	defer in.Close()
	text, err := line(e)
	if err != nil {
		return "", nil, err
	}
	const most = 9999 // a day
	for n := 1; n <= most; n++ {
		id = fmt.Sprintf("%s-%d", e.At.Format(time.DateOnly), n)
		err = store.CreateFile(filepath.Join(dir, Folder, id+ending), text)
		if taken := (*store.TakenError)(nil); errors.As(err, &taken) {
			continue
		}
		return id, s, err
	}
	return "", nil, fmt.Errorf("%s has %d sessions of %s", filepath.Join(dir, Folder), most, e.At.Format(time.DateOnly))
}

// line returns an event as one.
func line(e session.Event) ([]byte, error) {
	text, err := json.Marshal(e)
	if err != nil {
		return nil, fmt.Errorf("event %d: %w", e.Number, err)
	}
	return append(text, '\n'), nil
}

// Read returns the session of an ID. A last line without its end, as a crash leaves,
// is passed over. The error names the file, and the line that is no event, or the
// schema of another version.
func Read(dir, id string) (*session.Session, error) {
	in, err := folderOf(dir, id)
	if err != nil {
		return nil, err
	}
	defer in.Close()
	return read(in, dir, id)
}

// read is Read in the folder of the sessions.
func read(in *store.Root, dir, id string) (*session.Session, error) {
	f, err := in.Open(id + ending)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", filepath.Join(dir, Folder), err)
	}
	defer f.Close()
	path := filepath.Join(dir, Folder, id+ending)
	data, err := store.ReadAll(path, f)
	if err != nil {
		return nil, err
	}
	return parse(path, store.Whole(data))
}

// parse returns the session of whole lines.
func parse(path string, lines []byte) (*session.Session, error) {
	if len(lines) == 0 {
		return nil, fmt.Errorf("%s: has no event: it broke off when the session began", path)
	}
	var events []session.Event
	n := 0
	for text := range bytes.Lines(lines) {
		n++
		if n == 1 {
			var first struct {
				Schema string `json:"schema"`
			}
			if err := json.Unmarshal(text, &first); err == nil && first.Schema != session.Schema {
				return nil, fmt.Errorf("%s:1: schema %q is not %q: the session was written by another version of sensito", path, first.Schema, session.Schema)
			}
		}
		decoder := json.NewDecoder(bytes.NewReader(text))
		decoder.DisallowUnknownFields()
		var e session.Event
		if err := decoder.Decode(&e); err != nil {
			return nil, fmt.Errorf("%s:%d: is not an event: %w", path, n, err)
		}
		events = append(events, e)
	}
	s, err := session.Replay(events)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	return s, nil
}

// Act adds what somebody does to a session, and returns it as it is then; of two who
// act at once the second is judged by what the first did. An act that the session has
// already (session.Session.Has) leaves it as it is. The error is that of
// session.Session.Act, which leaves the file as it was, or of reading and writing.
func Act(dir, id string, a session.Act, at time.Time) (*session.Session, error) {
	path, err := Path(dir, id)
	if err != nil {
		return nil, err
	}
	var out *session.Session
	err = store.Append(path, func(lines []byte) ([]byte, error) {
		s, err := parse(path, lines)
		if err != nil {
			return nil, err
		}
		if s.Has(a) {
			out = s
			return nil, nil
		}
		e, err := s.Act(a, at)
		if err != nil {
			return nil, err
		}
		if out, err = s.With(e); err != nil {
			return nil, err
		}
		return line(e)
	})
	if err != nil {
		return nil, err
	}
	return out, nil
}

// Kept is what the log of a trial took.
type Kept struct {
	Path   string // of the trial
	Trial  *sensito.Trial
	Done   sensito.Done
	Logged int // developments in the log
	Same   int // the number of one that said the same already, so that nothing was added; 0 for none
}

// Keep adds the development of a session that is over to the log of its trial, with
// what change makes of it (nil for nothing), and closes the session. After is as in
// session.Act. Where it broke off between the two, doing it again does not log twice.
func Keep(dir, id string, after int, change func(*sensito.Done), at time.Time) (*Kept, error) {
	s, err := Read(dir, id)
	if err != nil {
		return nil, err
	}
	closing := session.Act{Do: session.DoClose, After: after, Kept: true}
	if _, err := s.Act(closing, at); err != nil { // before anything is written
		return nil, err
	}
	d, err := s.At(at).Done("")
	if err != nil {
		return nil, err
	}
	if change != nil {
		change(&d)
	}
	name := s.Plan().Trial
	if name != filepath.Base(name) || !filepath.IsLocal(name) {
		return nil, fmt.Errorf("session %s is of %q, which is not a file of this notebook", id, name)
	}
	k := &Kept{Path: filepath.Join(dir, name), Done: d}
	if k.Trial, k.Same, err = notebook.LogDone(k.Path, d); err != nil {
		return nil, err
	}
	k.Logged = len(k.Trial.Done())
	_, err = Act(dir, id, closing, at)
	return k, err
}

// Entry is a session of a notebook.
type Entry struct {
	ID      string
	Session *session.Session // nil where it cannot be read
	Err     error            // why
}

// List returns the sessions of a notebook, newest first; none where there is no
// folder of them. The error is that of reading the folder, or store.ErrLeaves.
func List(dir string) ([]Entry, error) {
	in, err := folder(dir)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	defer in.Close()
	names, err := in.Names()
	if err != nil {
		return nil, err
	}
	var ids []string
	for _, name := range names {
		if id, ours := strings.CutSuffix(name, ending); ours && idForm().MatchString(id) {
			ids = append(ids, id)
		}
	}
	slices.SortFunc(ids, func(a, b string) int {
		x, y := idForm().FindStringSubmatch(a), idForm().FindStringSubmatch(b)
		m, _ := strconv.Atoi(x[2]) // digits
		n, _ := strconv.Atoi(y[2])
		return cmp.Or(cmp.Compare(y[1], x[1]), cmp.Compare(n, m))
	})
	var out []Entry
	for _, id := range ids {
		s, err := read(in, dir, id)
		out = append(out, Entry{id, s, err})
	}
	return out, nil
}

// Latest returns the newest session that is not closed, so that it can be gone on
// with; nil for none. A session that cannot be read is the error only where it is the
// newest of all.
func Latest(dir string) (*Entry, error) {
	all, err := List(dir)
	if err != nil {
		return nil, err
	}
	for i, e := range all {
		if i == 0 && e.Err != nil {
			return nil, e.Err
		}
		if e.Session != nil && !e.Session.Closed() {
			return &e, nil
		}
	}
	return nil, nil
}
