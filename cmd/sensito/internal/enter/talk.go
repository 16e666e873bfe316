package enter

import (
	"context"
	"fmt"
	"io"
	"strings"
	"time"

	"sensito/cmd/sensito/internal/console"
	"sensito/sensito/printable"
)

// A talk is the lines that somebody types, or that come through a pipe, and what
// is said about them.
type talk struct {
	streams console.Streams // err for prompts, questions and remarks

	asks bool // somebody is there to answer
	bold bool // questions stand out

	typed <-chan typedLine // nil when nothing is typed
	name  string           // of where lines come from, for errors
	line  int              // the last one taken

	held     []typedLine // pasted after a line that raised a question
	answered bool        // something has been typed since
	resume   func() bool // whether what they are meant for comes next; nil is always
	prompted time.Time   // when the last prompt was shown
	unsaid   error       // of writing to err
}

func (t *talk) say(format string, args ...any) {
	text := fmt.Sprintf(format, args...)
	if t.asks {
		text = console.Wrapped(text, console.Columns(t.streams.Terminal))
	}
	if _, err := io.WriteString(t.streams.Err, text); err != nil {
		t.unsaid = err
	}
}

// ask shows a prompt.
func (t *talk) ask(format string, args ...any) {
	t.prompted = time.Now() // before it can be answered
	t.say(format, args...)
}

// echo shows a line that was there before its prompt, and so stands elsewhere on the
// screen.
func (t *talk) echo(line typedLine) {
	if t.asks && line.at.Before(t.prompted) {
		t.say("%s\n", printable.Text(strings.TrimSpace(line.text)))
	}
}

// question says something that wants an answer by hand: what was pasted after the
// line that raised it waits until that has come.
func (t *talk) question(format string, args ...any) {
	t.settle()
	t.remark(format, args...)
	t.tellHeld()
}

// remark says something that stands out.
func (t *talk) remark(format string, args ...any) {
	t.style("\x1b[1m")
	t.say(format, args...)
	t.style("\x1b[0m")
	t.say("\n")
}

func (t *talk) style(code string) {
	if t.bold {
		fmt.Fprint(t.streams.Terminal, code)
	}
}

// settling is how long no line may come for a paste to be over.
const settling = 80 * time.Millisecond

// settle holds the lines that came with the one at hand, as in a paste.
func (t *talk) settle() {
	if !t.asks || t.typed == nil {
		return
	}
	t.answered = false
	var more []typedLine
	for {
		select {
		case line, ok := <-t.typed:
			if ok {
				more = append(more, line)
				continue
			}
		case <-time.After(settling):
		}
		for len(more) > 0 && strings.TrimSpace(more[len(more)-1].text) == "" {
			more = more[:len(more)-1] // the end of the paste
		}
		t.held = append(more, t.held...)
		return
	}
}

// tellHeld says how many lines wait.
func (t *talk) tellHeld() {
	switch n := len(t.held); {
	case n == 1:
		t.say("1 pasted line waits for your answer; drop forgets it.\n")
	case n > 1:
		t.say("%d pasted lines wait for your answer; drop forgets them.\n", n)
	}
}

// drop forgets the lines that wait.
func (t *talk) drop() {
	t.say("Forgotten: %s.\n", printable.Counted(len(t.held), "pasted line"))
	t.held = nil
}

// left says at the end how many lines still wait.
func (t *talk) left() {
	if n := len(t.held); n > 0 {
		t.say("Not taken: %s, from %q on.\n", printable.Counted(n, "pasted line"), strings.TrimSpace(t.held[0].text))
		t.held = nil
	}
}

// ready returns the next of the lines that wait, if their turn has come.
func (t *talk) ready() (typedLine, bool) {
	if len(t.held) == 0 || !t.answered || t.resume != nil && !t.resume() {
		return typedLine{}, false
	}
	line := t.held[0]
	t.held, t.resume = t.held[1:], nil
	return line, true
}

// next waits for a line; ok is false when none come any more. The error is the
// cause of ctx.
func (t *talk) next(ctx context.Context) (line typedLine, ok bool, err error) {
	if line, ok := t.ready(); ok {
		t.line++
		t.echo(line)
		return line, true, nil
	}
	select {
	case <-ctx.Done():
		if t.asks {
			t.say("\n")
		}
		return line, false, context.Cause(ctx)
	case line, ok = <-t.typed:
		t.answered = true
		t.line++
		if !ok && ctx.Err() != nil {
			return line, false, context.Cause(ctx)
		}
		if ok {
			t.echo(line)
		}
		return line, ok, nil
	}
}

// fault is an error of the line at hand: told where somebody can type it again,
// the end otherwise.
func (t *talk) fault(err error) error {
	if t.asks {
		t.settle()
		t.say("%v\n", err)
		t.tellHeld()
		return nil
	}
	return fmt.Errorf("%s:%d: %w", t.name, t.line, err)
}

// warn says what nobody can answer.
func (t *talk) warn(format string, args ...any) {
	t.say("sensito: %s:%d: %s\n", t.name, t.line, fmt.Sprintf(format, args...))
}
