package page

import (
	"cmp"
	"fmt"
	"io"
	"maps"
	"net/http"
	"net/url"
	"path/filepath"
	"reflect"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"github.com/spf13/pflag"

	"sensito/cmd/sensito/internal/ask"
	"sensito/cmd/sensito/internal/console"
	"sensito/sensito"
	"sensito/sensito/curve"
	"sensito/sensito/development"
	"sensito/sensito/notebook"
)

// A question is one that a command asks by its flags.
type question interface {
	Register(*pflag.FlagSet)
	JoinBy(ask.Join)
}

// fileFlags are the flags that name files, which an address names as it does in its path.
var fileFlags = map[string][]notebook.Kind{"trial": {notebook.FilmKind}, "paper": {notebook.PaperKind}, "control": {notebook.ControlKind}, "roll": {notebook.RollKind}, "procedure": {notebook.ProcedureKind},
	"into": {notebook.FilmKind, notebook.PaperKind}, "tablet": {notebook.PictureKind}, "by": {notebook.PictureKind}}

// emptyKey is the flag that names a picture.
const emptyKey = "empty"

// sceneFlags are those that say what the scene is, of which a question has one or, of spot
// readings, two.
var sceneFlags = []string{"range", "shadow", "highlight", "roll"}

// choice is the key of a field that stands for several flags: its value is a piece of a
// query, for what the negative is to suit.
const choice = "aim"

// aims are the flags of that choice, each of which excludes the others but for grade.
var aims = []string{"paper", "grade", "density-range", "scan"}

// A query is what the query of an address asks of a trial: keys are flags of a command.
type query struct {
	server  *Server
	command string
	files   []string       // that it is asked of
	trial   notebook.Entry // where that is one trial of film
	values  url.Values     // of the flags
	flags   *pflag.FlagSet
}

var decimalComma = regexp.MustCompile(`^([0-9]+),([0-9]+)$`)

// tidy returns the values of a query as they are asked: of a field that was sent several
// times the last, none that is empty, the choice taken apart, and numbers as the flags
// write them. Where no scene is said, an empty field of one stays: it says which is asked
// for.
func tidy(sent url.Values) url.Values {
	out := url.Values{}
	asked := slices.ContainsFunc(sceneFlags, func(k string) bool { return strings.Join(sent[k], "") != "" })
	for key, values := range sent {
		if key == choice {
			continue
		}
		if key != "filter" {
			values = values[len(values)-1:]
		}
		for _, v := range values {
			v = decimalComma.ReplaceAllString(v, "$1.$2")
			if key == "flare" {
				v = flareText(v)
			}
			if v != "" || !asked && slices.Contains(sceneFlags, key) {
				out.Add(key, v)
			}
		}
	}
	chosen, err := url.ParseQuery(strings.Join(lastOf(sent[choice]), ""))
	if !sent.Has(choice) || err != nil {
		return out
	}
	for _, key := range aims {
		switch {
		case !chosen.Has(key):
			out.Del(key)
		case !out.Has(key):
			out.Set(key, chosen.Get(key))
		}
	}
	if out.Has("scan") { // which needs no enlarger
		out.Del("enlarger")
		out.Del("callier")
	}
	return out
}

func lastOf(values []string) []string { return values[max(0, len(values)-1):] }

// flareText returns what flare takes as the flag has it: a number alone is the fixed loss.
func flareText(text string) string {
	v, err := strconv.ParseFloat(text, 64)
	switch {
	case err != nil:
		return text
	case v == sensito.DefaultFlareLoss:
		return ""
	}
	return string(sensito.FlareFixed) + "=" + text
}

// tidied leads to the address with the query tidied, where it is not: such an address can be
// kept. It reports whether it did.
func tidied(w http.ResponseWriter, r *http.Request, more url.Values) bool {
	sent := r.URL.Query()
	asked := tidy(sent)
	maps.Copy(asked, more)
	if reflect.DeepEqual(sent, asked) {
		return false
	}
	http.Redirect(w, r, r.URL.EscapedPath()+"?"+asked.Encode(), http.StatusSeeOther)
	return true
}

// query returns what a request asks of a trial by the flags of a question. The error is of
// usage for a flag that the command does not have, or a value that it refuses; the query
// stands with it. It says that there is no such file where the trial is none of the notebook's.
func (s *Server) query(r *http.Request, command string, of question) (*query, error) {
	q, err := s.asking(r, command)
	if err != nil {
		return nil, err
	}
	if q.trial, err = s.find(q.values.Get("trial"), notebook.FilmKind); err != nil {
		return nil, err
	}
	q.values.Del("trial")
	q.files = []string{q.trial.Name}
	of.JoinBy(s.join(q.trial))
	return q, q.set(of)
}

// asking returns the query of a request, of no files and without a question so far.
func (s *Server) asking(r *http.Request, command string) (*query, error) {
	values, err := url.ParseQuery(r.URL.RawQuery)
	if err != nil || !utf8.ValidString(fmt.Sprint(values)) {
		return nil, &badRequestError{"The address holds a query that cannot be read."}
	}
	return &query{server: s, command: command, values: tidy(values), flags: pflag.NewFlagSet(command, pflag.ContinueOnError)}, nil
}

// set gives the flags of a question the values of the query. The error is as that of query.
func (q *query) set(of interface{ Register(*pflag.FlagSet) }) error {
	of.Register(q.flags)
	for _, key := range slices.Sorted(maps.Keys(q.values)) {
		for _, v := range q.values[key] {
			if v == "" {
				continue
			}
			if kinds, named := fileFlags[key]; named && q.flags.Lookup(key) != nil {
				e, err := q.server.find(v, kinds...)
				if err != nil {
					return err
				}
				v = e.Name
			}
			if err := ask.Set(q.flags, key, v); err != nil {
				return err
			}
		}
	}
	return ask.CheckTexts(q.flags)
}

// join returns how a trial is joined: measured as usual it is known from page to page.
func (s *Server) join(e notebook.Entry) ask.Join {
	return func(_ string, o curve.MeasureOptions) (*development.Family, error) {
		f := s.kept.get(e)
		if o == (curve.MeasureOptions{}) {
			return f.family()
		}
		trial, err := f.trial()
		if err != nil {
			return nil, err
		}
		return development.NewFamily(trial, o)
	}
}

// ask answers the question on the trial of the query, from files of the notebook alone,
// unless the query was refused.
func (q *query) ask(r *http.Request, refused error, of question) (ask.Answer, error) {
	if refused != nil {
		return nil, refused
	}
	var a ask.Answer
	err := q.server.reading(r, func(from console.Streams) (err error) {
		a, err = q.askOf(from, of)
		return err
	})
	return a, err
}

// reading does what computes an answer, when it may be computed, from files of the notebook
// alone.
func (s *Server) reading(r *http.Request, do func(from console.Streams) error) error {
	release, err := s.gate.Computing(r.Context())
	if err != nil {
		return err
	}
	defer release()
	return do(console.New(strings.NewReader(""), io.Discard, io.Discard).Within(s.root.Open))
}

// askOf asks the question of the trial.
func (q *query) askOf(from console.Streams, of question) (ask.Answer, error) {
	switch of := of.(type) {
	case *ask.Scene:
		return of.Ask(from, q.trial.Name)
	case *ask.Card:
		return of.Ask(from, q.trial.Name)
	case *ask.Sheet:
		of.Logs = q.otherLogs
		return of.Ask(from, q.trial.Name)
	case *ask.Tone:
		return of.Ask(from, q.trial.Name)
	case *ask.Family:
		return of.Ask(from, q.trial.Name)
	case toRun:
		of.Logs = q.otherLogs
		return of.ToRun(from, q.trial.Name)
	}
	return nil, fmt.Errorf("%T is not asked of a trial", of)
}

// otherLogs returns the trials of film beside that of the question.
func (q *query) otherLogs() (logs []*sensito.Trial) {
	entries, err := notebook.List(q.server.dir)
	if err != nil {
		return nil
	}
	for _, e := range entries {
		if e.Kind != notebook.FilmKind || e.Name == q.trial.Name {
			continue
		}
		if t, err := q.server.kept.get(e).trial(); err == nil {
			logs = append(logs, t)
		}
	}
	return logs
}

// terminal returns the command that asks the same.
func (q *query) terminal() string {
	text := q.server.terminal(q.command, q.files...)
	q.flags.Visit(func(f *pflag.Flag) {
		values := []string{f.Value.String()}
		if list, several := f.Value.(pflag.SliceValue); several {
			values = list.GetSlice()
		}
		for _, v := range values {
			switch _, named := fileFlags[f.Name]; {
			case v == f.DefValue:
				continue
			case named, f.Name == emptyKey:
				v = filepath.Join(filepath.Base(q.server.dir), v)
			}
			text += " --" + f.Name
			if f.Value.Type() != "bool" {
				text += " " + console.InShell(v)
			}
		}
	})
	return text
}

// with returns the address of a page that asks the same with some values otherwise, given
// as key and value in turn; an empty value leaves the key out.
func (q *query) with(path string, pairs ...string) string {
	values := maps.Clone(q.values)
	for i := 0; i+1 < len(pairs); i += 2 {
		if values.Del(pairs[i]); pairs[i+1] != "" {
			values.Set(pairs[i], pairs[i+1])
		}
	}
	return addressOf(path, q.trial, values)
}

// of returns the address of a page that asks what of the query another question has the
// flags for.
func (q *query) of(path string, other question) string {
	known := pflag.NewFlagSet(path, pflag.ContinueOnError)
	other.Register(known)
	values := url.Values{}
	for key, v := range q.values {
		if known.Lookup(key) != nil {
			values[key] = v
		}
	}
	return addressOf(path, q.trial, values)
}

// addressOf begins with the trial, and goes on in the order of the keys.
func addressOf(path string, trial notebook.Entry, values url.Values) string {
	text := path + "?trial=" + url.QueryEscape(nameOf(trial.Name))
	if more := values.Encode(); more != "" {
		text += "&" + more
	}
	return text
}

// newest returns the film of the notebook that was developed last, of those with a time for
// the usual scene where there are any. The error is that there is none.
func (s *Server) newest(r *http.Request) (notebook.Entry, error) {
	entries, err := notebook.List(s.dir)
	if err != nil {
		return notebook.Entry{}, err
	}
	n, err := s.whole(r, s.kept.all(entries))
	if err != nil {
		return notebook.Entry{}, err
	}
	found := ""
	for _, e := range n.Entries {
		t := e.Trial
		if t == nil || t.Trial.Material() == sensito.PaperMaterial {
			continue
		}
		if t.Normal != nil {
			found = e.File
			break
		}
		found = cmp.Or(found, e.File)
	}
	if i := slices.IndexFunc(entries, func(of notebook.Entry) bool { return of.Name == found }); i >= 0 {
		return entries[i], nil
	}
	return notebook.Entry{}, &missingError{"The notebook has no trial of film yet. Begin with one, from strips of a step wedge."}
}

// begun leads an address that names no trial to that of the newest, and one that is not
// tidy to one that is. It reports whether it did.
func (s *Server) begun(w http.ResponseWriter, r *http.Request, usual url.Values) (bool, error) {
	more := url.Values{}
	asked := r.URL.Query()
	if !asked.Has("trial") {
		e, err := s.newest(r)
		if err != nil {
			return false, err
		}
		more.Set("trial", nameOf(e.Name))
	}
	if !slices.ContainsFunc(append(sceneFlags, "minutes"), asked.Has) {
		maps.Copy(more, usual)
	}
	return tidied(w, r, more), nil
}

// usualRange is the scene that is asked where none is said.
func usualRange() url.Values {
	return url.Values{"range": {strconv.FormatFloat(usualScene().Stops, 'g', -1, 64)}}
}
