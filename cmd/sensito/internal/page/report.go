package page

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"runtime"
	"slices"
	"sync"

	"sensito/cmd/sensito/internal/page/screen"
	"sensito/cmd/sensito/internal/page/typeset"
	"sensito/plot"
	"sensito/sensito/answers"
	"sensito/sensito/compare"
	"sensito/sensito/control"
	"sensito/sensito/curve"
	"sensito/sensito/development"
	"sensito/sensito/listing"
	"sensito/sensito/logbook"
	"sensito/sensito/notebook"
	"sensito/sensito/printable"
	"sensito/sensito/scene"
)

// A ReportFile is a file of a notebook that a report is made of.
type ReportFile struct {
	notebook.Entry
	Data  []byte
	Err   error // why there are none
	Named bool  // asked for by itself, not as one of a folder
}

// ErrNoReport says that no file holds what a report shows.
var ErrNoReport = errors.New("there is no trial and no control log to report")

// Report returns the page of a notebook of a name that stands alone in a file, with style and
// figures in it and nothing outside it: each trial, papers, control logs, a comparison where
// trials compare, and what was developed. Made is the date, YYYY-MM-DD. A file that cannot be
// read is left out, and said to be, unless it was named. The error is that of such a file, or
// ErrNoReport.
func Report(name, made string, files []ReportFile) ([]byte, error) {
	var all []*file
	named := map[*file]bool{}
	for _, of := range files {
		if of.Kind == notebook.UnknownKind || of.Kind == notebook.TableKind {
			continue
		}
		f := newFile(of.Entry, of.Data, of.Err)
		f.id = fmt.Sprintf("f%d-", len(all)+1)
		all, named[f] = append(all, f), of.Named
	}
	b := &reporter{made: made, byName: map[string]*file{}, cards: map[string]*scene.Card{}}
	cards, failed := make([]*scene.Card, len(all)), make([]error, len(all))
	inParallel(len(all), func(i int) { cards[i], failed[i] = computed(all[i]) })
	var entries []listing.Entry
	for i, f := range all {
		if err := f.listed().Err; err != nil && named[f] {
			return nil, err
		}
		if failed[i] != nil {
			return nil, fmt.Errorf("%s: %w", f.Name, failed[i])
		}
		b.byName[f.Name], b.cards[f.Name] = f, cards[i]
		entries = append(entries, f.listed())
	}
	content, err := b.content(listing.NewNotebook(entries))
	if err != nil {
		return nil, err
	}
	content.Lead = "A report of the notebook, made on " + answers.DateOf(made) + " by sensito. One file, with nothing outside it."
	p := &typeset.Page{Title: printable.Text(name), Notebook: "A report", Content: content}
	var out bytes.Buffer
	if err := typeset.Write(&out, "report", p); err != nil {
		return nil, err
	}
	return out.Bytes(), nil
}

// inParallel does all of n pieces of work, as many at a time as the machine does.
func inParallel(n int, do func(i int)) {
	var wait sync.WaitGroup
	free := make(chan struct{}, runtime.GOMAXPROCS(0))
	for i := range n {
		free <- struct{}{}
		wait.Go(func() {
			defer func() { <-free }()
			do(i)
		})
	}
	wait.Wait()
}

// A reporter makes the content of a report.
type reporter struct {
	made   string
	byName map[string]*file
	cards  map[string]*scene.Card // nil for a file that has none
}

// computed does what takes its time of a file, and returns the card of a trial of film that
// has one.
func computed(f *file) (*scene.Card, error) {
	if _, err := f.content(); err != nil {
		return nil, nil // which is told of the file
	}
	f.takeListed()
	switch f.Kind {
	case notebook.PaperKind:
		f.curves()
	case notebook.FilmKind:
		if _, err := f.curves(); err != nil {
			return nil, err
		}
		if _, err := f.asked(); err != nil {
			return nil, nil // which the trial tells
		}
		family, err := f.family()
		if err != nil {
			return nil, err
		}
		return scene.NewCard(family, scene.Scene{})
	}
	return nil, nil
}

// takeListed takes strips and family of film from the entry of the list, which has them, so
// that they are not measured again.
func (f *file) takeListed() {
	l := f.listed().Trial
	if l == nil || l.Family == nil {
		return
	}
	t, _ := f.trial() // which was listed
	_, tied := development.Tie(t, curve.MeasureOptions{})
	var ms []*curve.Measured
	for _, m := range l.Measured {
		own := *m
		own.Warnings = slices.Concat(m.Warnings, tied)
		ms = append(ms, &own)
	}
	f.measured = func() ([]*curve.Measured, error) { return ms, nil }
	f.family = func() (*development.Family, error) { return l.Family, nil }
}

// nowhere is where files lead in a report.
func nowhere(string) string { return "" }

// content puts the report together, the newest first, as the notebook has it.
func (b *reporter) content(n *listing.Notebook) (*screen.Report, error) {
	out := &screen.Report{}
	var trials []logbook.Entry
	var logs []logbook.Control
	chapter := func(of *[]screen.Chapter, e listing.Entry, told string) screen.Chapter {
		c := screen.Chapter{ID: b.byName[e.File].id + "title", Title: printable.Text(screen.TitleOf(e)), Told: told}
		*of = append(*of, c)
		return c
	}
	var ofTrials, ofPapers, ofControls []screen.Chapter
	for _, e := range n.Entries {
		f := b.byName[e.File]
		switch {
		case e.Err != nil:
			out.Left = append(out.Left, printable.Text(e.File+": "+answers.Entry(e)))
		case e.Trial != nil && e.Trial.Film():
			t := b.tested(f, e, n)
			trials = append(trials, logbook.Entry{File: e.File, Trial: e.Trial.Trial})
			t.Chapter = chapter(&ofTrials, e, t.Trial.Told())
			out.Trials = append(out.Trials, t)
		case e.Trial != nil:
			paper, err := f.paper()
			if err != nil {
				out.Left = append(out.Left, printable.Text(e.File+": "+err.Error()))
				continue
			}
			figure, err := f.curves()
			if err != nil {
				return nil, err
			}
			p := screen.ReportPaper{Paper: screen.NewPaper(paper, e, figure, nowhere)}
			p.Paper.ID = f.id
			p.Chapter = chapter(&ofPapers, e, "")
			out.Papers = append(out.Papers, p)
		case e.Control != nil:
			logs = append(logs, logbook.Control{File: e.File, Log: e.Control.Log})
			c, err := b.controlled(f, e)
			if err != nil {
				return nil, err
			}
			told := ""
			if c.Control != nil {
				told = c.Control.Told()
			}
			c.Chapter = chapter(&ofControls, e, told)
			out.Controls = append(out.Controls, c)
		}
	}
	if len(trials)+len(out.Papers)+len(logs) == 0 {
		return nil, ErrNoReport
	}
	out.Contents = append(append(ofTrials, ofPapers...), ofControls...)
	if err := b.compared(out, n); err != nil {
		return nil, err
	}
	if log := logbook.New(trials, logs); len(log.Developments) > 0 {
		figure, err := onPage(func(o plot.Options) (*plot.Figure, error) { return plot.Log(log, o) }, "log-figure")
		if err != nil {
			return nil, err
		}
		out.Log = screen.NewLog(log, nil, figure, nowhere)
		out.Log.ID = "log"
		out.Contents = append(out.Contents, screen.Chapter{ID: out.Log.ID, Title: "What was developed"})
	}
	return out, nil
}

// tested is a trial of film with what a control log of the report says of its process.
func (b *reporter) tested(f *file, e listing.Entry, n *listing.Notebook) screen.ReportTrial {
	read, _ := f.trial() // which was listed, and tied down there
	tested := screen.Tested{Trial: read, Entry: e}
	tested.Strips, tested.Failure = f.measured()
	if tested.Failure == nil {
		if tested.Family, tested.Failure = f.family(); tested.Failure == nil {
			tested.Answer, tested.Failure = f.asked()
			tested.Beside = besideIn(n, tested.Family)
		}
		tested.Curves, _ = f.curves() // whose error was met before
	}
	t := screen.ReportTrial{Trial: screen.NewTrial(tested, nowhere)}
	t.Trial.ID = f.id
	if a := tested.Answer; a != nil {
		t.Tones = screen.Tones(a)
		t.OfTones = []screen.Note{screen.TonesNote()}
	}
	if card := b.cards[f.Name]; card != nil {
		t.Card, t.OfCard, t.Cannot = screen.Times(card, b.made)
	}
	return t
}

// besideIn is what the newest control log of the film and developer says of a process.
func besideIn(n *listing.Notebook, f *development.Family) *listing.Beside {
	for _, e := range n.Entries {
		if e.Control != nil && e.Control.Log.IsOf(f.Trial) {
			return listing.NewBeside(f, e.File, e.Control.Log, nil)
		}
	}
	return nil
}

// controlled is a control log, judged by the trial that tells most exactly what a change of
// it means.
func (b *reporter) controlled(f *file, e listing.Entry) (screen.ReportControl, error) {
	judged := e.Control.Control
	var deviations []control.Deviation
	if d := e.Control.Drift; d != nil {
		judged = d.Control
		deviations = judged.Deviations(b.byName[e.Control.By].listed().Trial.Trial)
	}
	if judged == nil {
		why := "The strips do not tell whether the process is in control."
		if len(e.Control.Missing) > 0 {
			why = e.Control.Missing[0].Message() + "."
		}
		return screen.ReportControl{Why: printable.Text(why)}, nil
	}
	figure, err := onPage(func(o plot.Options) (*plot.Figure, error) { return plot.Control(judged, o) }, f.id+"charts")
	if err != nil {
		return screen.ReportControl{}, err
	}
	c := screen.NewControl(judged, deviations, screen.Confidence, figure, nil)
	c.ID = f.id
	return screen.ReportControl{Control: c}, nil
}

// compared adds a comparison of each film that was developed in several developers.
func (b *reporter) compared(out *screen.Report, n *listing.Notebook) error {
	for i, group := range n.Compared() {
		var families []*development.Family
		for _, e := range group {
			family, err := b.byName[e.File].family()
			if err != nil {
				return err
			}
			families = append(families, family)
		}
		c, err := compare.Compare(families, compare.Options{})
		if err != nil {
			out.Left = append(out.Left, printable.Text("No comparison of "+cmp.Or(group[0].Trial.Trial.Film().Name, group[0].File)+": "+err.Error()+"."))
			continue
		}
		id := fmt.Sprintf("compared-%d", i+1)
		figure, err := onPage(func(o plot.Options) (*plot.Figure, error) { return plot.Compare(c, "", o) }, id+"-figure")
		if err != nil {
			return err
		}
		s := screen.NewCompare(c, figure)
		s.ID = id
		out.Comparisons = append(out.Comparisons, s)
		out.Contents = append(out.Contents, screen.Chapter{ID: id, Title: s.Title})
	}
	return nil
}
