package page

import (
	"bytes"
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"os"
	"runtime"
	"sync"
	"time"

	"sensito/plot"
	"sensito/sensito"
	"sensito/sensito/camera"
	"sensito/sensito/control"
	"sensito/sensito/curve"
	"sensito/sensito/darkroom"
	"sensito/sensito/development"
	"sensito/sensito/listing"
	"sensito/sensito/notebook"
	"sensito/sensito/notebook/pictures"
	"sensito/sensito/notebook/store"
	"sensito/sensito/paper"
	"sensito/sensito/printable"
	"sensito/sensito/scene"
)

// A cache keeps what the files of a notebook come to, each until its bytes are others, so
// that a page is answered at once. There is one for a Server, its field kept, for all
// screens:
//
//	f, err := s.file(r.PathValue("trial"), notebook.FilmKind) // by a name in an address
//	trial, err := f.trial()                                   // or control, roll, procedure
//	family, err := f.family()
//
// Everything is found when it is first asked for, once, and is not changed afterwards, so
// many requests may share it. A file is read at each request: an edit by hand shows with
// the next page.
type cache struct {
	root  *store.Root // of the notebook, out of which no link leads
	mu    sync.Mutex
	files map[string]*file // by the name within the folder
	whole *whole
}

// A whole is the notebook put together, of files with these sums.
type whole struct {
	sums     string
	notebook *listing.Notebook
}

// A file is what one of the notebook comes to by its content.
type file struct {
	notebook.Entry
	id   string // before the identifiers of its figures, where a page has several
	data []byte
	sum  [sha256.Size]byte

	// content is what the file holds, of one of the kinds; the error is a brokenError
	// where it cannot be read.
	content func() (content, error)
	listed  func() listing.Entry // what it comes to in a list

	measured func() ([]*curve.Measured, error)   // strips of film
	family   func() (*development.Family, error) // of film
	asked    func() (*scene.Answer, error)       // a scene as it is asked by default
	curves   func() (*plot.OnPage, error)        // of a trial; nil without strips
	paper    func() (*paper.Paper, error)        // of a trial of paper
}

// A content is one of these.
type content struct {
	trial     *sensito.Trial
	control   *control.Log
	roll      []scene.Frame
	procedure *darkroom.Procedure
	tablet    *listing.Tablet
}

// newFile returns a file whose parts are found when they are asked for; err is why it
// could not be opened.
func newFile(e notebook.Entry, data []byte, err error) *file {
	f := &file{Entry: e, data: data, sum: sha256.Sum256(data)}
	f.content = sync.OnceValues(func() (content, error) {
		c, err := read(e, data, err)
		if err != nil {
			return c, &brokenError{f, err}
		}
		return c, nil
	})
	f.listed = sync.OnceValue(f.list)
	f.measured = sync.OnceValues(func() ([]*curve.Measured, error) {
		t, err := f.trial()
		if err != nil {
			return nil, err
		}
		t, tied := development.Tie(t, curve.MeasureOptions{})
		ms, err := curve.MeasureTrial(t, curve.MeasureOptions{})
		for _, m := range ms {
			m.Warnings = append(m.Warnings, tied...)
		}
		return ms, err
	})
	f.family = sync.OnceValues(func() (*development.Family, error) {
		t, err := f.trial()
		if err != nil {
			return nil, err
		}
		return development.NewFamily(t, curve.MeasureOptions{})
	})
	f.asked = sync.OnceValues(func() (*scene.Answer, error) {
		family, err := f.family()
		if err != nil {
			return nil, err
		}
		if from, to := family.Times(); from == to { // a guess, which a page does not begin with
			return nil, &sensito.Unanswerable{Reason: sensito.Warn("one_time").Message()}
		}
		return scene.For(family, usualScene())
	})
	f.curves = sync.OnceValues(f.draw)
	f.paper = sync.OnceValues(func() (*paper.Paper, error) {
		t, err := f.trial()
		if err != nil {
			return nil, err
		}
		return paper.Measure(t, curve.FitOptions{})
	})
	return f
}

// read reads what a file holds by its kind.
func read(e notebook.Entry, data []byte, err error) (content, error) {
	if err != nil {
		return content{}, err
	}
	var c content
	r := bytes.NewReader(data)
	switch e.Kind {
	case notebook.FilmKind, notebook.PaperKind:
		c.trial, err = notebook.Read(e.Name, r)
	case notebook.ControlKind:
		c.control, err = notebook.ReadControl(e.Name, r)
	case notebook.RollKind:
		c.roll, err = notebook.ReadRoll(e.Name, r)
	case notebook.ProcedureKind:
		c.procedure, err = notebook.ReadProcedure(e.Name, r)
	case notebook.PictureKind:
		c.tablet, err = pictures.Listed(e.Name, r)
	}
	return c, err
}

// trial returns the trial of the file.
func (f *file) trial() (*sensito.Trial, error) {
	c, err := f.content()
	return c.trial, err
}

// title returns that of the trial of the file, or else the name of the file.
func (f *file) title() string {
	t, err := f.trial()
	if err != nil || t == nil {
		return printable.Text(f.Name)
	}
	return printable.Text(cmp.Or(t.Title(), f.Name))
}

// hash returns the sum of the bytes of the file, as a form carries it.
func (f *file) hash() string { return hex.EncodeToString(f.sum[:]) }

// list returns the entry of the file in the list of the notebook.
func (f *file) list() listing.Entry {
	out := listing.Entry{File: f.Name}
	c, err := f.content()
	if broken := (*brokenError)(nil); errors.As(err, &broken) {
		out.Err = broken.err
		return out
	}
	out.Roll, out.Procedure, out.Tablet = c.roll, c.procedure, c.tablet
	switch {
	case c.trial != nil:
		out.Trial = listing.New(c.trial, curve.MeasureOptions{})
	case c.control != nil:
		out.Control = listing.NewControl(c.control)
	}
	return out
}

// read returns the bytes of a file.
func (c *cache) read(name string) ([]byte, error) {
	f, err := c.root.Open(name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return store.ReadAll(name, f)
}

// get returns a file as it is now.
func (c *cache) get(e notebook.Entry) *file {
	data, err := c.read(e.Name)
	sum := sha256.Sum256(data)
	c.mu.Lock()
	defer c.mu.Unlock()
	if f := c.files[e.Name]; f != nil && err == nil && f.sum == sum && f.Kind == e.Kind {
		return f
	}
	f := newFile(e, data, err)
	if c.files == nil {
		c.files = map[string]*file{}
	}
	c.files[e.Name] = f
	return f
}

// all returns the files of a folder as they are now, and forgets those that are gone.
func (c *cache) all(entries []notebook.Entry) []*file {
	var out []*file
	there := map[string]bool{}
	for _, e := range entries {
		there[e.Name] = true
		f := &file{Entry: e}
		if e.Kind != notebook.UnknownKind && e.Kind != notebook.TableKind {
			f = c.get(e)
		}
		out = append(out, f)
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	for name := range c.files {
		if !there[name] {
			delete(c.files, name)
		}
	}
	return out
}

// notebook puts the files of a notebook together. The error is that of the context.
func (c *cache) notebook(ctx context.Context, files []*file) (*listing.Notebook, error) {
	var sums bytes.Buffer
	for _, f := range files {
		sums.WriteString(f.Name + "\x00")
		sums.Write(f.sum[:])
	}
	c.mu.Lock()
	known := c.whole
	c.mu.Unlock()
	if known != nil && known.sums == sums.String() {
		return known.notebook, nil
	}
	entries := make([]listing.Entry, len(files))
	free := make(chan struct{}, runtime.GOMAXPROCS(0))
	var wait sync.WaitGroup
	for i, f := range files {
		free <- struct{}{}
		wait.Go(func() {
			defer func() { <-free }()
			switch {
			case ctx.Err() != nil:
			case f.listed == nil: // not of a notebook
				entries[i] = listing.Entry{File: f.Name}
			default:
				entries[i] = f.listed()
			}
		})
	}
	wait.Wait()
	if err := context.Cause(ctx); err != nil {
		return nil, err
	}
	for i, e := range entries {
		if e.Control != nil { // which the notebook gives its drift
			own := *e.Control
			entries[i].Control = &own
		}
	}
	n := listing.NewNotebook(entries)
	c.mu.Lock()
	defer c.mu.Unlock()
	c.whole = &whole{sums.String(), n}
	return n, nil
}

// changed returns when the newest of the files was last written, the zero time where none
// tells it.
func changed(files []*file) time.Time {
	var newest time.Time
	for _, f := range files {
		if info, err := os.Stat(f.Path); err == nil && f.listed != nil && info.ModTime().After(newest) {
			newest = info.ModTime()
		}
	}
	return newest
}

// usualScene is the one that a trial answers before another is asked for.
func usualScene() scene.Scene { return scene.Scene{Stops: camera.NormalStops} }

// draw draws the curves of a trial: those of a film with the one that the answer asks for,
// where there is one.
func (f *file) draw() (*plot.OnPage, error) {
	if f.Kind == notebook.PaperKind {
		paper, err := f.paper()
		if err != nil {
			return nil, err
		}
		return onPage(func(o plot.Options) (*plot.Figure, error) { return plot.Paper(paper, o) }, f.id+"curves")
	}
	ms, err := f.measured()
	if err != nil {
		return nil, nil // without strips no curves
	}
	build := func(o plot.Options) (*plot.Figure, error) { return plot.Curves(ms, o) }
	if a, err := f.asked(); err == nil {
		build = func(o plot.Options) (*plot.Figure, error) {
			if figure, err := plot.CurvesFor(a, o); err == nil {
				return figure, nil
			}
			return plot.Curves(ms, o) // of a time that has no curve
		}
	}
	return onPage(build, f.id+"curves")
}

// onPage draws a figure for a page.
func onPage(build func(plot.Options) (*plot.Figure, error), id string) (*plot.OnPage, error) {
	figure, err := plot.ForPage(build, plot.Options{}, plot.PageFigure{ID: id})
	return &figure, err
}
