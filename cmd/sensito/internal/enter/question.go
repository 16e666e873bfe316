package enter

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"sensito/cmd/sensito/internal/console"
	"sensito/sensito/printable"
)

// Answers are what was answered, by the keys of questions. The empty text is that
// nothing is stated.
type answers map[string]string

// A question is one fact that is asked for.
type question struct {
	key   string // of the answer, and of the flag that gives it where there is one
	usage string // of the flag
	ask   string // on a terminal; "" where it is not asked
	hint  string // what help says of it
	usual string // the answer unless another is given

	choices []string // the only answers
	need    bool     // an answer is wanted
	lacking string   // what to do where there is none
	whole   bool     // text, in which a semicolon parts nothing

	// parse returns the answer as it is kept, and in words where it was not typed
	// like that; nil keeps what was typed.
	parse func(text string) (answer, words string, err error)

	check   func(a answers, answer string) error // of the answer with those before; nil is none
	when    func(answers) bool                   // whether it is asked; nil is always
	suggest func(answers) string                 // an answer by those before; nil has none
}

// understood returns the answer that a text gives, and in words what was understood
// where that is not what stands there.
func (q question) understood(text string) (answer, words string, err error) {
	text = strings.TrimSpace(text)
	switch {
	case text == "" && q.need && q.lacking != "":
		return "", "", errors.New("is needed; " + q.lacking)
	case text == "" && q.need:
		return "", "", errors.New("is needed")
	case text == "":
		return "", "", nil
	case len(q.choices) > 0:
		return choice(text, q.choices)
	case q.parse != nil:
		return q.parse(text)
	}
	return text, "", nil
}

// choice returns the one of the choices that a text is, or begins.
func choice(text string, choices []string) (string, string, error) {
	if i := slices.IndexFunc(choices, func(c string) bool { return strings.EqualFold(c, text) }); i >= 0 {
		return choices[i], "", nil
	}
	var fit []string
	for _, c := range choices {
		if strings.HasPrefix(strings.ToLower(c), strings.ToLower(text)) {
			fit = append(fit, c)
		}
	}
	if len(fit) > 1 {
		return "", "", fmt.Errorf("%q can be %s", text, strings.Join(fit, " or "))
	}
	if len(fit) == 0 {
		return "", "", fmt.Errorf("%q is not one of %s", text, strings.Join(choices, ", "))
	}
	return fit[0], fit[0], nil
}

// A form is questions that are asked one after the other.
type form struct {
	*talk
	questions []question
	answers   answers
	fixed     map[string]bool // answers that are not asked for
	offered   answers         // what an empty line takes
	keep      func() error    // after every answer; nil keeps nothing
	record    bool            // one of several, of which no more may come

	at     int      // the question at hand
	row    []string // further answers of the line at hand
	inRow  bool     // the line at hand had several answers
	retype bool     // one of them was none, and is typed anew
}

// formHelp is what can be typed in place of an answer.
const formHelp = `  Enter          takes what stands in brackets
  -              not stated
  back           to the question before
  stop           interrupts; enter goes on at the same question
  a; b; c        answers to this question and the next ones;
                 a row pasted from a table does the same
`

// errStopped says that the answers were interrupted.
var errStopped = errors.New("stopped")

// errNoMore says that no answer came to the first question.
var errNoMore = errors.New("no more")

// fill asks all questions that have no answer yet.
func (f *form) fill(ctx context.Context) error {
	asked := false
	f.row, f.inRow, f.retype = nil, false, false
	for i := 0; i < len(f.questions); {
		f.at = i
		q := f.questions[i]
		if _, has := f.answers[q.key]; has || !f.asked(q) {
			i++
			continue
		}
		text, ok, err := f.answer(ctx, q)
		switch {
		case err != nil:
			return err
		case !ok && !asked && f.record:
			return errNoMore
		case !ok:
			return console.CutOff(fmt.Errorf("%s ended before %s was answered", f.name, strings.ToLower(q.ask[:1])+q.ask[1:]))
		}
		if f.record && !asked && text == "" && f.offer(q) == "" {
			return errNoMore
		}
		asked = true
		switch word := strings.ToLower(text); {
		case q.whole && word != "back" && word != "stop": // is text
		case word == "help" || word == "?":
			if q.hint != "" {
				f.say("%s\n", q.hint)
			}
			f.say("%s", formHelp)
			continue
		case word == "drop":
			f.drop()
			continue
		case word == "stop":
			return errStopped
		case word == "back" || word == "b":
			f.row, f.inRow, f.retype = nil, false, false // which answers questions that follow
			i = f.back(i)
			continue
		}
		if err := f.take(q, text); err != nil {
			return err
		}
	}
	f.at = len(f.questions)
	if len(f.row) > 0 {
		return f.fault(fmt.Errorf("%q follows the last answer and is not taken", strings.Join(f.row, "; ")))
	}
	return nil
}

// asked says whether a question is asked at all.
func (f *form) asked(q question) bool {
	return q.ask != "" && !f.fixed[q.key] && f.applies(q)
}

// back forgets the answer to the question before, and returns its place.
func (f *form) back(i int) int {
	for j := i - 1; j >= 0; j-- {
		if q := f.questions[j]; f.asked(q) {
			if f.offered == nil {
				f.offered = answers{}
			}
			f.offered[q.key] = f.answers[q.key]
			delete(f.answers, q.key)
			return j
		}
	}
	f.say("This is the first question.\n")
	return i
}

// answer returns the next answer; ok is false where no more come.
func (f *form) answer(ctx context.Context, q question) (text string, ok bool, err error) {
	if f.inRow && !f.retype {
		if len(f.row) == 0 { // the line has left out the rest
			return "", true, nil
		}
		if text, f.row = f.row[0], f.row[1:]; q.whole && len(f.row) > 0 {
			text, f.row = strings.Join(append([]string{text}, f.row...), "; "), nil
		}
		if f.asks {
			f.say("%s%s\n", f.prompt(q), printable.Text(text))
		}
		return text, true, nil
	}
	if f.asks {
		f.ask("%s", f.prompt(q))
	}
	if f.unsaid != nil && f.asks {
		return "", false, f.unsaid
	}
	line, ok, err := f.next(ctx)
	switch {
	case err != nil || !ok:
		return "", false, err
	case errors.Is(line.err, errLongLine):
		return "", true, f.fault(line.err)
	case line.err != nil:
		return "", false, console.CutOff(fmt.Errorf("%s: %w", f.name, line.err))
	}
	text = strings.TrimSpace(line.text)
	if f.retype {
		f.retype = false
		return text, true, nil
	}
	if strings.Contains(line.text, "\t") || strings.Contains(text, ";") && !q.whole {
		f.row = strings.Split(strings.ReplaceAll(strings.TrimRight(line.text, "\r\n"), ";", "\t"), "\t")
		for i := range f.row {
			f.row[i] = strings.TrimSpace(f.row[i])
		}
		text, f.row, f.inRow = f.row[0], f.row[1:], true
	}
	return text, true, nil
}

// prompt returns a question as it is asked.
func (f *form) prompt(q question) string {
	text := q.ask
	if len(q.choices) > 0 {
		text += ": " + strings.Join(q.choices[:len(q.choices)-1], ", ") + " or " + q.choices[len(q.choices)-1]
	}
	if offer := f.offer(q); offer != "" {
		text += " [" + offer + "]"
	}
	return text + ": "
}

// offer returns what an empty line takes.
func (f *form) offer(q question) string {
	if offer, ok := f.offered[q.key]; ok {
		return offer
	}
	if q.suggest != nil {
		return q.suggest(f.answers)
	}
	return q.usual
}

// fix gives answers that are not asked for.
func (f *form) fix(given answers) {
	f.fixed = map[string]bool{}
	for key, answer := range given {
		f.answers[key], f.fixed[key] = answer, true
	}
}

// again has some questions asked again, and says whether any of them was.
func (f *form) again(keys []string) bool {
	any := false
	for _, key := range keys {
		if answer, has := f.answers[key]; has {
			if f.offered == nil {
				f.offered = answers{}
			}
			delete(f.offered, key)
			if len(keys) > 1 { // one of them may be right
				f.offered[key] = answer
			}
			any = true
			delete(f.answers, key)
			delete(f.fixed, key)
		}
	}
	return any
}

// applies says whether a question is of what is being answered.
func (f *form) applies(q question) bool { return q.when == nil || q.when(f.answers) }

// missing returns the keys of the questions without whose answers nothing can be
// made.
func (f *form) missing() []string {
	var out []string
	for _, q := range f.questions {
		if q.need && q.usual == "" && f.answers[q.key] == "" && f.applies(q) {
			out = append(out, q.key)
		}
	}
	return out
}

// usual gives the questions that were not asked their usual answers.
func (f *form) usual() {
	for _, q := range f.questions {
		if _, has := f.answers[q.key]; !has && f.applies(q) && q.usual != "" {
			f.answers[q.key] = q.usual
		}
	}
}

// review shows the answers of an earlier run.
func (f *form) review() {
	f.say("Taken up where it was interrupted; back goes back.\n")
	for _, q := range f.questions {
		if answer, has := f.answers[q.key]; has && f.asked(q) {
			f.say("  %s: %s\n", q.ask, printable.Text(cmp.Or(answer, "not stated")))
		}
	}
}

// take takes an answer. What cannot be one is told, and asked again, where somebody
// is there.
func (f *form) take(q question, text string) error {
	typed := text
	switch text {
	case "":
		text = f.offer(q)
	case "-":
		text = ""
	}
	answer, words, err := q.understood(text)
	if err == nil && q.check != nil && answer != "" {
		err = q.check(f.answers, answer)
	}
	if err != nil {
		f.retype = f.inRow
		if at := f.at; len(f.held) == 0 {
			f.resume = func() bool { return f.at > at }
		}
		return f.fault(fmt.Errorf("%s: %w", q.label(), err))
	}
	if typed != "" && words != "" && f.asks {
		f.say("  %s\n", words)
	}
	f.answers[q.key] = answer
	if f.keep != nil {
		return f.keep()
	}
	return nil
}

// label names a question in a message.
func (q question) label() string {
	label, _, _ := strings.Cut(q.ask, ",")
	return strings.ToLower(label[:1]) + label[1:]
}
