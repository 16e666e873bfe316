package logbook

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"sensito/sensito"
	"sensito/sensito/control"
)

// Development is one that was carried out. What of it is not stated is zero.
type Development struct {
	File  string // that tells it
	Trial *sensito.Trial
	Strip int // the number of a strip that was tested, 0 for films

	// Process is the developer with its dilution and agitation, at the temperature that
	// was meant; for a strip at the one that the trial states.
	Process sensito.Process

	// Done is when, for how long and at which temperatures it was. Of a strip nothing
	// was planned.
	sensito.Done
}

// Pair is a film in a developer of one dilution.
type Pair struct{ Film, Developer string }

// String returns the pair in words.
func (p Pair) String() string {
	if p.Developer == "" {
		return p.Film + ", developer not stated"
	}
	return p.Film + " in " + p.Developer
}

// Pair returns the film and the developer.
func (d Development) Pair() Pair {
	return Pair{d.Trial.Film().Name, strings.TrimSpace(d.Process.Developer + " " + d.Process.Dilution)}
}

// Log is what was developed. It is made by New and is not changed.
type Log struct {
	Developments []Development // newest first
	Undated      []Pair        // of strips that do not say when they were developed
	Controls     []Control
}

// Control is a log of control strips.
type Control struct {
	File string
	Log  *control.Log
}

// Entry is a trial of film in a file.
type Entry struct {
	File  string
	Trial *sensito.Trial
}

// New returns what trials and control logs tell. Developments of one day come in the
// order of the files, of one file films before strips, what stands last in it first.
func New(trials []Entry, controls []Control) *Log {
	l := &Log{Controls: slices.Clone(controls)}
	for _, e := range trials {
		for _, d := range slices.Backward(e.Trial.Done()) {
			l.Developments = append(l.Developments, Development{File: e.File, Trial: e.Trial, Process: d.Process(e.Trial), Done: d})
		}
		for _, s := range slices.Backward(e.Trial.Strips()) {
			if s.CopyOf() > 0 {
				continue
			}
			d := Development{File: e.File, Trial: e.Trial, Strip: s.Number(), Process: s.Process(),
				Done: sensito.Done{Date: s.Date(), Minutes: s.Minutes(), TemperatureC: s.Process().TemperatureC, Note: s.Note()}}
			if d.Date == "" {
				l.Undated = append(l.Undated, d.Pair())
				continue
			}
			l.Developments = append(l.Developments, d)
		}
	}
	slices.SortStableFunc(l.Developments, func(a, b Development) int { return cmp.Compare(b.Date, a.Date) })
	return l
}

// Query says which developments are wanted. The zero value wants all.
type Query struct {
	Film, Developer string // as written or a part of it, in capitals or not; "" for all
	Last            int    // so many of each film and developer, the newest; 0 for all
}

// Select returns the developments that a query wants. The error is Unanswerable where
// the log has others alone. Control strips, which name neither film nor developer, go
// with a query for all films in all developers.
func (l *Log) Select(q Query) (*Log, error) {
	out := &Log{}
	if q.Film == "" && q.Developer == "" {
		out.Controls = l.Controls
	}
	count := map[Pair]int{}
	for _, d := range l.Developments {
		p := d.Pair()
		if !q.wants(p) {
			continue
		}
		if count[p]++; q.Last == 0 || count[p] <= q.Last {
			out.Developments = append(out.Developments, d)
		}
	}
	for _, p := range l.Undated {
		if q.wants(p) {
			out.Undated = append(out.Undated, p)
		}
	}
	if len(out.Developments) == 0 && len(l.Developments) > 0 {
		return nil, l.without(q)
	}
	return out, nil
}

// wants says whether the query is for a film in a developer.
func (q Query) wants(p Pair) bool { return holds(p.Film, q.Film) && holds(p.Developer, q.Developer) }

// holds says whether a name has a text in it, in capitals or not.
func holds(name, text string) bool {
	return strings.Contains(strings.ToLower(name), strings.ToLower(strings.TrimSpace(text)))
}

// without returns the error of a query that no development answers.
func (l *Log) without(q Query) error {
	asked := Pair{q.Film, q.Developer}.String()
	switch {
	case q.Film == "":
		asked = "any film in " + q.Developer
	case q.Developer == "":
		asked = q.Film
	}
	var there []string
	for _, d := range l.Developments {
		if name := d.Pair().String(); !slices.Contains(there, name) {
			there = append(there, name)
		}
	}
	return &sensito.Unanswerable{Reason: fmt.Sprintf("no development of %s is in the log", asked), Hint: "it has " + strings.Join(there, "; ")}
}

// Latest is the last time of a film and developer.
type Latest struct {
	Development // of a run of strips the one that the log names first

	// Strips is how many test strips were developed with it on that day, itself
	// included, from Least to Most; 0 where films were developed.
	Strips      int
	Least, Most sensito.Minutes
}

// Latest returns the last time of each film and developer, the newest first: when films
// were developed, or, where strips alone were, the strips of the last day.
func (l *Log) Latest() []Latest {
	at := map[Pair]int{}
	var out []Latest
	for _, d := range l.Developments {
		k, seen := at[d.Pair()]
		switch {
		case !seen:
			at[d.Pair()] = len(out)
			out = append(out, newLatest(d))
		case out[k].Strips > 0 && d.Strip == 0: // older than the strips, but of pictures
			out[k] = newLatest(d)
		case out[k].Strips > 0 && d.Strip > 0 && d.Date == out[k].Date:
			out[k].Strips++
			out[k].Least, out[k].Most = min(out[k].Least, d.Minutes), max(out[k].Most, d.Minutes)
		}
	}
	slices.SortStableFunc(out, func(a, b Latest) int { return cmp.Compare(b.Date, a.Date) })
	return out
}

// LastTime returns when films were developed the last time by a trial in a developer of
// a dilution, as its log tells; nil where it tells of none. Test strips are not meant.
func LastTime(t *sensito.Trial, p sensito.Process) *Latest {
	var last *Latest
	for _, d := range New([]Entry{{Trial: t}}, nil).Developments {
		if found := newLatest(d); last == nil && d.Strip == 0 && d.Process.Developer == p.Developer && d.Process.Dilution == p.Dilution {
			last = &found
		}
	}
	return last
}

func newLatest(d Development) Latest {
	l := Latest{Development: d, Least: d.Minutes, Most: d.Minutes}
	if d.Strip > 0 {
		l.Strips = 1
	}
	return l
}

// Group is the developments of one film in one developer, newest first.
type Group struct {
	Pair
	Developments []Development
}

// Groups returns the developments by film and developer, the one used last first.
func (l *Log) Groups() []Group {
	at := map[Pair]int{}
	var out []Group
	for _, d := range l.Developments {
		k, seen := at[d.Pair()]
		if !seen {
			k = len(out)
			at[d.Pair()] = k
			out = append(out, Group{Pair: d.Pair()})
		}
		out[k].Developments = append(out[k].Developments, d)
	}
	return out
}
