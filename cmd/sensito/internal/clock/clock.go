package clock

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"time"

	tea "charm.land/bubbletea/v2"

	"sensito/cmd/sensito/internal/console"
	"sensito/sensito/notebook/sessions"
	"sensito/sensito/session"
)

// Beginning is a session that has not begun: its plan, and what is laid out for it,
// in lines for the screen.
type Beginning struct {
	Plan  session.Plan
	Lines []string
}

// Run shows the session of a notebook's folder that has not been closed, or begins
// one; begin is asked for that alone. It returns what the log of the trial took, nil
// where nothing was kept, and the ID of a session whose clock runs on, "" for none.
// Now is the clock on the wall. The error is that of begin, of files, or the cause of
// ctx where that was cancelled; the clock then runs on too.
func Run(ctx context.Context, s console.Streams, dir string, begin func() (*Beginning, error), now func() time.Time) (kept *sessions.Kept, id string, err error) {
	m := &model{dir: dir, now: now}
	open, err := sessions.Latest(dir)
	switch {
	case err != nil:
		return nil, "", err
	case open != nil:
		m.id, m.session = open.ID, open.Session
		m.says = "This session goes on since it was not ended. To begin another, end it: e"
		s.Wrote(m.path())
	default:
		if m.begin, err = begin(); err != nil {
			return nil, "", err
		}
		m.begin.Plan = sessions.Known(dir, m.begin.Plan)
	}
	m.heard = now()
	last, err := s.Show(ctx, m)
	if m, ok := last.(*model); ok && m != nil {
		if m.id != "" {
			s.Wrote(m.path())
		}
		if m.session != nil && !m.session.Closed() {
			id = m.id
		}
		kept = m.kept
	}
	return kept, id, err
}

// model is what the screen shows; it is changed in place.
type model struct {
	dir     string
	now     func() time.Time
	begin   *Beginning       // before the start
	id      string           // "" before the start
	session *session.Session // nil likewise

	typed  string    // a temperature, a clearing time or, at the end, a note
	says   string    // what the last key did, or why it did nothing
	sure   string    // the key that was pressed and asks to be pressed again
	heard  time.Time // up to when cues have been sounded
	looked time.Time // when the file was last read

	width, height int
	kept          *sessions.Kept
}

// path returns the file of the session.
func (m *model) path() string {
	return filepath.Join(m.dir, sessions.Folder, m.id+".jsonl")
}

// beat is how often the screen is drawn anew.
const beat = 100 * time.Millisecond

type beatMsg struct{}

func nextBeat() tea.Cmd { return tea.Tick(beat, func(time.Time) tea.Msg { return beatMsg{} }) }

// Init begins the beat.
func (m *model) Init() tea.Cmd { return nextBeat() }

// Update takes a key, or a beat.
func (m *model) Update(message tea.Msg) (tea.Model, tea.Cmd) {
	switch message := message.(type) {
	case tea.WindowSizeMsg:
		m.width, m.height = message.Width, message.Height
	case beatMsg:
		m.look()
		return m, tea.Batch(nextBeat(), m.bells())
	case tea.PasteMsg:
		return m, nil // what is pasted was not read off a thermometer
	case tea.KeyPressMsg:
		return m, m.key(message)
	}
	return m, nil
}

// reread is how often the file is read again, for what another device did.
const reread = time.Second

// look takes up what another device did.
func (m *model) look() {
	if m.session == nil || m.now().Sub(m.looked).Abs() < reread {
		return
	}
	m.looked = m.now()
	s, err := sessions.Read(m.dir, m.id)
	switch {
	case err != nil:
		m.says = err.Error()
	case s.Number() > m.session.Number():
		m.session = s
	}
}

// bells returns the bells of the cues since they were last sounded.
func (m *model) bells() tea.Cmd {
	since, now := m.heard, m.now()
	m.heard = now
	if m.session == nil || !now.After(since) {
		return nil
	}
	// Of several that came due at once, as after a sleep of the machine, the last one
	// tells how things stand.
	var due *session.Cue
	for _, c := range session.Schedule(m.session.At(since)) {
		if !c.Assumed && c.In <= now.Sub(since) {
			due = &c
		}
	}
	if due == nil {
		return nil
	}
	return ring(due.Kind)
}

// bellEvery is how soon a terminal rings again; a long tone is many bells.
const bellEvery = 400 * time.Millisecond

// ring returns the bells of a cue.
func ring(k session.Kind) tea.Cmd {
	var all []tea.Cmd
	for _, tone := range k.Tones() {
		for at := tone.At; at == tone.At || at < tone.At+tone.Length; at += bellEvery {
			all = append(all, tea.Tick(at, func(time.Time) tea.Msg { return tea.RawMsg{Msg: "\a"} }))
		}
	}
	return tea.Batch(all...)
}

// act does something, and says why not.
func (m *model) act(a session.Act) bool {
	if a.After == 0 {
		a.After = m.session.Number()
	}
	s, err := sessions.Act(m.dir, m.id, a, m.now())
	if err != nil {
		m.says = unwrapped(err)
		if stale := (*session.StaleError)(nil); errors.As(err, &stale) {
			m.looked = time.Time{}
			m.look()
		}
		return false
	}
	m.session = s
	return true
}

// unwrapped is an error without the number of an event that nobody made.
func unwrapped(err error) string {
	if inner := errors.Unwrap(err); inner != nil {
		return inner.Error()
	}
	return err.Error()
}

// start begins the session, with a temperature of the developer that was keyed in.
func (m *model) start() {
	id, s, err := sessions.Start(m.dir, m.begin.Plan, m.now())
	if err != nil {
		m.says = err.Error()
		return
	}
	m.id, m.session, m.begin, m.says, m.heard = id, s, nil, "", m.now()
}

// keep puts the development into the log of its trial.
func (m *model) keep(note string) tea.Cmd {
	kept, err := sessions.Keep(m.dir, m.id, m.session.Number(), noted(note), m.now())
	if err != nil {
		m.says = fmt.Sprintf("Not kept: %v", err)
		return nil
	}
	if s, err := sessions.Read(m.dir, m.id); err == nil {
		m.session = s
	}
	m.kept = kept
	return tea.Quit
}
