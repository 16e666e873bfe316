package enter

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"regexp"
	"strings"

	"sensito/cmd/sensito/internal/console"
	"sensito/sensito"
	"sensito/sensito/notebook"
	"sensito/sensito/notebook/store"
)

// A list is a file that is a list of things of one kind, each told by answers to the
// same questions: control strips, frames of a roll, steps of a procedure.
type list interface {
	noun() string // of one thing
	count() int
	head() []question           // of a new file
	questions() []question      // of one thing; the first names it
	offers() answers            // for another one
	answers(number int) answers // of one that is there
	title(number int) string    // of one that is there
	read(data []byte) error     // the file as it is now
	create(head answers, things []answers) ([]byte, error)
	insert(data []byte, number int, a answers) ([]byte, error)
	replace(data []byte, number int, a answers) ([]byte, error)
	remove(data []byte, number int) ([]byte, error)
}

// A keeper keys in the things of a list, and keeps each in the file.
type keeper struct {
	*talk
	list  list
	draft *draft
	fresh bool // there is no file yet
	place int  // before which the next is put; 0 at the end
	added int
}

// begin asks for the head of a new file.
func (k *keeper) begin(ctx context.Context) error {
	f := &form{talk: k.talk, questions: k.list.head(), answers: k.draft.Answers, keep: k.draft.keep}
	if k.asks && k.draft.taken {
		f.review()
	}
	if err := f.fill(ctx); err != nil {
		return err
	}
	f.usual()
	return nil
}

// enter asks for one thing after the other until none comes.
func (k *keeper) enter(ctx context.Context) error {
	if !k.fresh {
		k.draft.of("")
	}
	for {
		n := k.list.count() + len(k.draft.Things) + 1
		if k.place > 0 {
			n = k.place
		}
		if k.asks {
			k.say("%s %d\n", capital(k.list.noun()), n)
		}
		offers := k.list.offers()
		if k.added > 0 {
			offers = nil // so that an empty line ends
		}
		a, err := k.one(ctx, offers, func(a answers) error { return k.add(n, a) })
		if errors.Is(err, errNoMore) {
			break
		}
		if err != nil {
			return err
		}
		k.added++
		if k.place > 0 {
			k.place++
		}
		for key := range a {
			delete(k.draft.Answers, key)
		}
	}
	switch {
	case len(k.draft.Things) > 0:
		return k.unfinished()
	case k.added == 0 && !k.asks:
		return console.CutOff(fmt.Errorf("%s ended before the first answer", k.name))
	}
	return nil
}

// one asks for the answers of one thing and saves it; what is wrong with it is asked
// again.
func (k *keeper) one(ctx context.Context, offers answers, save func(answers) error) (answers, error) {
	f := &form{talk: k.talk, questions: k.list.questions(), answers: k.draft.Answers, offered: offers, keep: k.draft.keep, record: true}
	if len(offers) == 0 && k.asks {
		f.questions[0].ask += " (Enter ends)"
	}
	for {
		if err := f.fill(ctx); err != nil {
			return nil, err
		}
		f.usual()
		err := save(f.own())
		if err == nil {
			return f.own(), nil
		}
		if fault := k.fault(plainFault(err)); fault != nil {
			return nil, fault
		}
		if !f.again(keysIn(err)) && !f.again(f.keys()) {
			return nil, err
		}
	}
}

// own returns the answers to the questions of the form alone.
func (f *form) own() answers {
	a := answers{}
	for _, q := range f.questions {
		if answer, has := f.answers[q.key]; has && f.applies(q) {
			a[q.key] = answer
		}
	}
	return a
}

// keys returns the keys of all questions.
func (f *form) keys() []string {
	var out []string
	for _, q := range f.questions {
		out = append(out, q.key)
	}
	return out
}

// errUnfinished says that a list lacks something before it can be a file.
var errUnfinished = errors.New("unfinished")

// add puts one thing into the file, which is made with the first one, or once it can
// be read.
func (k *keeper) add(number int, a answers) error {
	if k.fresh {
		things := append(k.draft.Things, a)
		data, err := k.list.create(k.draft.Answers, things)
		if errors.Is(err, errUnfinished) {
			k.draft.Things = things
			for key := range a {
				delete(k.draft.Answers, key)
			}
			return k.draft.keep()
		}
		if err != nil {
			return err
		}
		if err := k.streams.Save(k.draft.path, func() error { return createFile(k.draft.path, data) }); err != nil {
			return err
		}
		k.say("sensito: wrote %s\n", k.draft.path)
		k.fresh = false
		if err := k.draft.forget(); err != nil {
			return err
		}
		return k.list.read(data)
	}
	return k.change(func(old []byte) ([]byte, error) { return k.list.insert(old, number, a) })
}

// change edits the file.
func (k *keeper) change(edit func(old []byte) ([]byte, error)) error {
	return k.streams.Save(k.draft.path, func() error {
		data, err := store.Update(k.draft.path, nil, edit)
		if err != nil {
			return err
		}
		if err := k.draft.forget(); err != nil {
			return err
		}
		return k.list.read(data)
	})
}

// unfinished says what a list lacks to be a file.
func (k *keeper) unfinished() error {
	_, err := k.list.create(k.draft.Answers, k.draft.Things)
	text := strings.TrimSpace(strings.TrimPrefix(fmt.Sprint(err), errUnfinished.Error()+":"))
	if k.asks {
		k.say("Not written yet: %s\n", text)
		return errStopped
	}
	return console.CutOff(fmt.Errorf("%s: %s", k.draft.path, text))
}

// edit goes over one thing again.
func (k *keeper) edit(ctx context.Context, number int) error {
	if err := k.there(number); err != nil {
		return err
	}
	k.draft.of(fmt.Sprintf("%s %d", k.list.noun(), number))
	if k.asks {
		k.say("%s. Enter keeps what stands in brackets.\n", k.list.title(number))
	}
	_, err := k.one(ctx, k.list.answers(number), func(a answers) error {
		return k.change(func(old []byte) ([]byte, error) { return k.list.replace(old, number, a) })
	})
	if err != nil {
		return err
	}
	k.streams.Tell("%s.\n", k.list.title(number))
	return nil
}

func (k *keeper) there(number int) error {
	if number < 1 || number > k.list.count() {
		return console.Usagef("--%s %d is outside 1 to %d", k.list.noun(), number, k.list.count())
	}
	return nil
}

// delete takes one thing out, once that is confirmed.
func (k *keeper) delete(ctx context.Context, number int) error {
	if err := k.there(number); err != nil {
		return err
	}
	title := k.list.title(number)
	if err := k.sure(ctx, fmt.Sprintf("Delete %s", title)); err != nil {
		return err
	}
	if err := k.change(func(old []byte) ([]byte, error) { return k.list.remove(old, number) }); err != nil {
		return err
	}
	k.streams.Tell("%s is out; sensito enter %s --undo brings it back.\n", title, k.draft.path)
	return nil
}

// sure asks before something is done; the error says that it was not.
func (t *talk) sure(ctx context.Context, what string) error {
	f := &form{talk: t, answers: answers{}, questions: []question{{key: "sure", ask: what, choices: []string{"yes", "no"}, need: true}}}
	if err := f.fill(ctx); err != nil {
		if (errors.As(err, &console.CutOffError{})) {
			return console.WithHint(err, "nothing is deleted without a yes: a line that says yes, as from echo yes |")
		}
		return err
	}
	if f.answers["sure"] != "yes" {
		return errors.New("stopped; nothing was written")
	}
	return nil
}

func capital(text string) string { return strings.ToUpper(text[:1]) + text[1:] }

var fieldOf = regexp.MustCompile(`^\w+\[\d+\]\.`)

// keysIn returns the keys of the fields that an error names.
func keysIn(err error) []string {
	var fault *sensito.FieldError
	if !errors.As(err, &fault) {
		return nil
	}
	keys := []string{fieldOf.ReplaceAllString(fault.Key, "")}
	for _, other := range []string{"base_fog", "low", "high"} { // the reason can be of two
		if other != keys[0] && strings.Contains(fault.Reason, other) {
			keys = append(keys, other)
		}
	}
	return keys
}

// plainFault returns an error without the place of the thing in its file.
func plainFault(err error) error {
	var fault *sensito.FieldError
	if !errors.As(err, &fault) {
		return err
	}
	return fmt.Errorf("%s %s", strings.ReplaceAll(fieldOf.ReplaceAllString(fault.Key, ""), "_", " "), fault.Reason)
}

// listOf returns the list that a file of a kind is, nil for a trial.
func listOf(what string) list {
	switch what {
	case whatControl:
		return &controlList{}
	case whatRoll:
		return &rollList{}
	case whatProcedure:
		return &procedureList{}
	}
	return nil
}

// whatIs returns what a file is by its content, as the answer to what is to be made.
func whatIs(data []byte) string {
	switch notebook.KindOf(bytes.Clone(data)) {
	case notebook.ControlKind:
		return whatControl
	case notebook.RollKind:
		return whatRoll
	case notebook.ProcedureKind:
		return whatProcedure
	case notebook.PaperKind:
		return whatPaper
	}
	return whatFilm
}
