//go:build linux || darwin

package clock

import (
	"context"
	"io"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/charmbracelet/x/vt"
	"github.com/creack/pty"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/cmd/sensito/internal/console"
	"sensito/sensito"
	"sensito/sensito/darkroom"
	"sensito/sensito/development"
	"sensito/sensito/notebook"
	"sensito/sensito/notebook/notebooktest"
	"sensito/sensito/notebook/sessions"
	"sensito/sensito/session"
)

// noon is what the clock on the wall shows as a test begins.
var noon = time.Date(2026, 6, 4, 14, 2, 0, 0, time.UTC)

// wall is a clock that a test sets.
type wall struct{ seconds atomic.Int64 }

func (w *wall) now() time.Time { return noon.Add(time.Duration(w.seconds.Load()) * time.Second) }

// bench is a notebook with one trial, and a session at a terminal of 80 columns.
type bench struct {
	*wall
	t      *testing.T
	dir    string
	keys   *os.File
	screen *vt.Emulator
	mu     sync.Mutex // of screen
	bells  atomic.Int64
	ended  chan result
}

type result struct {
	kept *sessions.Kept
	id   string
	err  error
}

func newBench(t *testing.T) *bench {
	t.Helper()
	b := &bench{wall: &wall{}, t: t, dir: t.TempDir()}
	require.NoError(t, os.WriteFile(filepath.Join(b.dir, "larkfield.toml"), []byte(notebooktest.Good), 0o600))
	return b
}

func (b *bench) begin() (*Beginning, error) {
	trial, err := notebook.ReadFile(filepath.Join(b.dir, "larkfield.toml"))
	require.NoError(b.t, err)
	procedure, err := darkroom.NewProcedure(darkroom.ProcedureSpec{Steps: []darkroom.ProcessStep{
		{Name: "Pre-soak", Bath: darkroom.Bath{Name: "water"}, Minutes: 1, Dark: true, DrainSeconds: 10},
		{Name: "Develop", From: darkroom.TimeFromPlan, Dark: true, DrainSeconds: 10, Agitation: "continuous"},
		{Name: "Fix", Bath: darkroom.Bath{Name: "fixer", Dilution: "1+4"}, From: darkroom.TimeFromClearing, Dark: true, DrainSeconds: 10},
		{Name: "Wash", Bath: darkroom.Bath{Name: "water"}, Minutes: 10},
	}})
	require.NoError(b.t, err)
	celsius := 22.5
	sheet, err := darkroom.NewSheet(darkroom.SheetSpec{Procedure: procedure, Date: "2026-06-04", Under: development.Conditions{TemperatureC: &celsius}}.Chosen(trial, 6))
	require.NoError(b.t, err)
	return &Beginning{Plan: session.NewPlan(sheet, "larkfield.toml"), Lines: []string{"what is laid out"}}, nil
}

// sit begins or goes on at a new terminal.
func (b *bench) sit(ctx context.Context) {
	b.t.Helper()
	near, far, err := pty.Open()
	require.NoError(b.t, err)
	require.NoError(b.t, pty.Setsize(far, &pty.Winsize{Rows: 30, Cols: 80}))
	screen := vt.NewEmulator(80, 30)
	screen.SetCallbacks(vt.Callbacks{Bell: func() { b.bells.Add(1) }})
	b.keys, b.screen, b.ended = near, screen, make(chan result, 1)
	go io.Copy(near, screen) // what a terminal answers when it is asked
	read := make(chan struct{})
	go func() {
		defer close(read)
		buffer := make([]byte, 4096)
		for {
			n, err := near.Read(buffer)
			b.mu.Lock()
			screen.Write(buffer[:n])
			b.mu.Unlock()
			if err != nil {
				return
			}
		}
	}()
	ended := b.ended
	go func() {
		var r result
		r.kept, r.id, r.err = Run(ctx, console.New(far, far, far), b.dir, b.begin, b.now)
		ended <- r
	}()
	b.t.Cleanup(func() {
		far.Close()
		near.Close()
		<-read
		screen.InputPipe().(io.Closer).Close()
	})
}

func (b *bench) shows() string {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.screen.String()
}

// patience is how long a busy machine may take to show something.
const patience = 20 * time.Second

func (b *bench) shown(text string) {
	b.t.Helper()
	for end := time.Now().Add(patience); !strings.Contains(b.shows(), text); time.Sleep(5 * time.Millisecond) {
		require.True(b.t, time.Now().Before(end), "%q is not on the screen:\n%s", text, b.shows())
	}
}

func (b *bench) types(keys string) {
	b.t.Helper()
	_, err := b.keys.WriteString(keys)
	require.NoError(b.t, err)
}

// rings sets the clock and waits for so many bells.
func (b *bench) rings(seconds int64, bells int64) {
	b.t.Helper()
	before := b.bells.Load()
	b.seconds.Store(seconds)
	for end := time.Now().Add(patience); b.bells.Load() < before+bells; time.Sleep(5 * time.Millisecond) {
		require.True(b.t, time.Now().Before(end), "%d bells of %d at %d s", b.bells.Load()-before, bells, seconds)
	}
	time.Sleep(3 * beat)
	require.Equal(b.t, before+bells, b.bells.Load(), "bells at %d s", seconds)
}

func (b *bench) ends() result {
	b.t.Helper()
	select {
	case r := <-b.ended:
		return r
	case <-time.After(patience):
		require.Fail(b.t, "it does not end", b.shows())
		return result{}
	}
}

// A session from pouring in to the log: a bell for each cue, a temperature that is
// questioned and one that corrects, a slip of the hand taken back, the terminal left
// and taken up again while the clock runs on.
func TestRun(t *testing.T) {
	b := newBench(t)
	b.sit(t.Context())
	b.shown("The developer is now at: _ °C  (22.5 °C is planned; empty leaves that)")
	b.shown("what is laid out")
	b.shown("No screen is safe for film")
	b.types("\r")
	b.shown("Pre-soak, water   (step 1 of 4)")
	b.shown("Pour out with 0:10 left, then develop.")
	assert.Contains(t, b.shows(), "██")
	b.types("n")
	b.shown("Pressed twice: taken once.")
	b.rings(50, 2)
	b.shown("Pour out now, then develop.")
	b.rings(60, 3)
	b.shown("The time is up: develop, Brinewater")
	b.seconds.Store(72)
	b.shown("over")
	b.types("n")
	b.shown("(step 2 of 4)")
	b.shown("since 14:03:12")
	b.seconds.Store(72 + 150)
	b.types("19.1\r")
	b.shown("19.1 °C is more than 3 °C from the 22.5 °C of before.")
	b.types("21,9\r")
	b.shown("From 22.5 °C at pouring in to 21.9 °C at 2:30: 13 seconds more (6 to 21)")
	b.shown("6:13  Develop")
	b.types("n")
	b.shown("(step 3 of 4)")
	b.types("b")
	b.shown("Taken back.")
	b.shown("(step 2 of 4)")
	b.types("q")
	r := b.ends()
	require.NoError(t, r.err)
	assert.Equal(t, "2026-06-04-1", r.id)
	assert.Nil(t, r.kept)

	b.seconds.Store(72 + 360)
	b.sit(t.Context())
	b.shown("This session goes on since it was not ended.")
	b.shown("Keep agitating. Pour out with 0:10 left, then fix.")
	b.rings(72+364, 2) // with the correction, not at 5:50
	b.rings(72+374, 3)
	b.types("\r")
	b.shown("Fixer 1+4   (step 3 of 4)")
	b.shown("Key in after how long the film is clear; it stays for twice that, then wash.")
	b.shown("so far")
	b.types("0:50\r")
	b.shown("Cleared in 0:50: it stays for 1:40.")
	b.rings(72+374+100, 3)
	b.rings(72+374+102, 8) // the light may go on
	b.types("21.5\r")
	b.shown("21.5 °C is noted.")
	b.types("n")
	b.shown("LIGHT  Light is safe.")
	b.types("e")
	b.shown("e again.")
	b.types("e")
	b.shown("Done at 14:11")
	b.shown("The development was worth 7:16 at 20 °C, as planned.")
	b.shown("Fix, cleared at 0:50")
	b.seconds.Add(5)
	b.types("a warm room\r")
	r = b.ends()
	require.NoError(t, r.err)
	assert.Empty(t, r.id)
	require.NotNil(t, r.kept)
	assert.Equal(t, 1, r.kept.Logged)
	trial, err := notebook.ReadFile(filepath.Join(b.dir, "larkfield.toml"))
	require.NoError(t, err)
	require.Len(t, trial.Done(), 1)
	d := trial.Done()[0]
	assert.Equal(t, sensito.Minutes(374./60), d.Minutes)
	assert.Equal(t, []float64{22.5, 22.5, 21.9}, []float64{d.PlannedC, d.TemperatureC, d.EndedC})
	assert.Equal(t, "a warm room", d.Note)
}

// A second device goes on: this screen follows, and a key that was pressed for the
// step before does nothing.
func TestTwoDevices(t *testing.T) {
	b := newBench(t)
	b.sit(t.Context())
	b.shown("pour in")
	b.types("23\r")
	b.shown("23 °C at pouring in: 13 seconds less (6 to 20), for the same contrast.")
	b.seconds.Store(60)
	s, err := sessions.Read(b.dir, "2026-06-04-1")
	require.NoError(t, err)
	_, err = sessions.Act(b.dir, "2026-06-04-1", session.Act{Do: session.DoNext, After: s.Number()}, b.now())
	require.NoError(t, err)
	b.types("n")
	b.seconds.Store(62)
	b.shown("(step 2 of 4)")
	b.types("z!\x7f7\x7f21.8x")
	b.shown("is now at: 21.8_ °C")
	b.types("\x1b")
	b.shown("is now at: _ °C")
	b.types("b")
	b.shown("(step 1 of 4)")
	s, err = sessions.Read(b.dir, "2026-06-04-1")
	require.NoError(t, err)
	assert.Equal(t, 1, s.At(b.now()).Running)
	b.types("ee")
	b.shown("Not for the log: the development has not ended")
	b.types("\x1b")
	b.shown("Not to be kept in the log? Esc again.")
	b.types("\x1b")
	r := b.ends()
	require.NoError(t, r.err)
	assert.Empty(t, r.id)
	assert.Nil(t, r.kept)
	trial, err := notebook.ReadFile(filepath.Join(b.dir, "larkfield.toml"))
	require.NoError(t, err)
	assert.Empty(t, trial.Done())
}

// With the terminal gone the clock runs on.
func TestRunCancelled(t *testing.T) {
	b := newBench(t)
	gone := context.Canceled
	ctx, cancel := context.WithCancelCause(t.Context())
	b.sit(ctx)
	b.shown("pour in")
	b.types("\r")
	b.shown("(step 1 of 4)")
	cancel(gone)
	r := b.ends()
	assert.ErrorIs(t, r.err, gone)
	open, err := sessions.Latest(b.dir)
	require.NoError(t, err)
	require.NotNil(t, open)
	assert.Equal(t, 1, open.Session.At(b.now()).Running)
}

// Left before the start there is no session.
func TestLeftBefore(t *testing.T) {
	b := newBench(t)
	b.sit(t.Context())
	b.shown("pour in")
	b.types("hot\r")
	b.shown("(step 1 of 4)")
	b.types("\x03")
	assert.Equal(t, "2026-06-04-1", b.ends().id)

	b = newBench(t)
	b.sit(t.Context())
	b.shown("pour in")
	b.types("q")
	r := b.ends()
	require.NoError(t, r.err)
	assert.Empty(t, r.id)
	assert.NoDirExists(t, filepath.Join(b.dir, sessions.Folder))
}
