package console

import (
	"context"
	"errors"
	"fmt"
	"io"
	"syscall"

	tea "charm.land/bubbletea/v2"
	"charm.land/huh/v2"
)

// Ask asks the questions of the groups on the terminal; plain ones line by line.
func (s Streams) Ask(ctx context.Context, plain bool, groups ...*huh.Group) error {
	if len(groups) == 0 {
		return nil
	}
	if ctx == nil {
		ctx = context.Background()
	}
	// A form that draws itself must see a terminal, and leaves it as it was when
	// it is interrupted; the questions line by line wait for an answer.
	in, out := underlying(s.In).(io.Reader), underlying(s.Terminal).(io.Writer)
	typed := &oneLine{in: s.In}
	if plain {
		in, out = typed, s.Terminal
	} else {
		defer s.work.heed()()
	}
	form := huh.NewForm(groups...).WithInput(in).WithOutput(out).WithAccessible(plain).WithTheme(huh.ThemeFunc(huh.ThemeBase)).
		WithProgramOptions(tea.WithoutSignalHandler(), tea.WithFilter(quitWhenInterrupted))
	err := form.RunWithContext(ctx)
	if ctx.Err() != nil {
		return context.Cause(ctx)
	}
	if typed.ended != nil {
		return CutOff(fmt.Errorf("%s ended before all was answered; nothing was written", StandardInput))
	}
	if errors.Is(err, huh.ErrUserAborted) {
		return Interruption{syscall.SIGINT}
	}
	return err
}

// Show shows a model that draws itself on the terminal until it quits, and returns it
// as it was then. The error is the cause of ctx where that is cancelled.
func (s Streams) Show(ctx context.Context, m tea.Model) (tea.Model, error) {
	if ctx == nil {
		ctx = context.Background()
	}
	defer s.work.heed()()
	program := tea.NewProgram(m, tea.WithContext(ctx), tea.WithInput(underlying(s.In).(io.Reader)), tea.WithOutput(underlying(s.Terminal).(io.Writer)),
		tea.WithoutSignalHandler(), tea.WithFilter(quitWhenInterrupted))
	last, err := program.Run()
	if ctx.Err() != nil {
		return last, context.Cause(ctx)
	}
	return last, err
}

// quitWhenInterrupted lets a form that is interrupted end as one that is answered:
// it waits for its reader of the keyboard, which it would close under its feet.
func quitWhenInterrupted(_ tea.Model, message tea.Msg) tea.Msg {
	if _, interrupted := message.(tea.InterruptMsg); interrupted {
		return tea.QuitMsg{}
	}
	return message
}

// oneLine gives its reader no more than it asks for at a time, a byte, so that
// what follows a line stays for whoever reads next. An end is for good, also that
// of a terminal.
type oneLine struct {
	in    io.Reader
	ended error
}

func (r *oneLine) Read(p []byte) (n int, err error) {
	if r.ended == nil {
		n, r.ended = r.in.Read(p[:min(len(p), 1)])
	}
	return n, r.ended
}
