package sessions_test

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/darkroom"
	"sensito/sensito/notebook"
	"sensito/sensito/notebook/notebooktest"
	"sensito/sensito/notebook/sessions"
	"sensito/sensito/notebook/store"
	"sensito/sensito/session"
)

var noon = time.Date(2026, 6, 4, 14, 2, 0, 0, time.FixedZone("", 2*3600))

func at(seconds int) time.Time { return noon.Add(time.Duration(seconds) * time.Second) }

var next = session.Act{Do: session.DoNext}

// notebookOf returns the folder of a notebook with one trial, and a plan for it.
func notebookOf(t *testing.T) (dir string, p session.Plan) {
	t.Helper()
	dir = t.TempDir()
	path := filepath.Join(dir, "larkfield.toml")
	require.NoError(t, os.WriteFile(path, []byte(notebooktest.Good), 0o600))
	trial, err := notebook.ReadFile(path)
	require.NoError(t, err)
	procedure, err := darkroom.NewProcedure(darkroom.ProcedureSpec{Steps: []darkroom.ProcessStep{
		{Name: "Develop", From: darkroom.TimeFromPlan, Dark: true, DrainSeconds: 10},
		{Name: "Fix", Bath: darkroom.Bath{Name: "fixer", Mixed: "2026-06-01", Capacity: "20 films/l"}, From: darkroom.TimeFromClearing, Dark: true},
		{Name: "Wash", Bath: darkroom.Bath{Name: "water"}, Minutes: 10},
	}})
	require.NoError(t, err)
	films, err := sensito.ParseFilms("2x 120")
	require.NoError(t, err)
	sheet, err := darkroom.NewSheet(darkroom.SheetSpec{Procedure: procedure, Date: "2026-06-04", Films: films}.Chosen(trial, 6))
	require.NoError(t, err)
	return dir, session.NewPlan(sheet, "larkfield.toml")
}

func act(t *testing.T, dir, id string, a session.Act, seconds int) *session.Session {
	t.Helper()
	if a.After == 0 {
		s, err := sessions.Read(dir, id)
		require.NoError(t, err)
		a.After = s.Number()
	}
	s, err := sessions.Act(dir, id, a, at(seconds))
	require.NoError(t, err)
	return s
}

func TestStartActKeep(t *testing.T) {
	dir, plan := notebookOf(t)
	none, err := sessions.Latest(dir)
	require.NoError(t, err)
	assert.Nil(t, none)
	id, s, err := sessions.Start(dir, plan, noon)
	require.NoError(t, err)
	assert.Equal(t, "2026-06-04-1", id)
	assert.Equal(t, 1, s.At(at(5)).Running)
	act(t, dir, id, session.Act{Do: session.DoTemperature, Celsius: 19.5}, 60)
	s = act(t, dir, id, next, 370)
	again, err := sessions.Read(dir, id)
	require.NoError(t, err)
	want, got := s.At(at(400)), again.At(at(400))
	assert.Equal(t, want.Steps[0].Elapsed, got.Steps[0].Elapsed)
	assert.Equal(t, want.Correction, got.Correction)
	_, err = sessions.Keep(dir, id, s.Number(), nil, at(400))
	assert.ErrorContains(t, err, "the session is not over")
	act(t, dir, id, session.Act{Do: session.DoClearing, Clearing: 1}, 430)
	s = act(t, dir, id, session.Act{Do: session.DoEnd}, 500)
	open, err := sessions.Latest(dir)
	require.NoError(t, err)
	require.NotNil(t, open)
	assert.Equal(t, id, open.ID)

	kept, err := sessions.Keep(dir, id, s.Number(), func(d *sensito.Done) { d.Note = "cool" }, at(510))
	require.NoError(t, err)
	assert.Equal(t, 1, kept.Logged)
	trial, err := notebook.ReadFile(filepath.Join(dir, "larkfield.toml"))
	require.NoError(t, err)
	require.Len(t, trial.Done(), 1)
	d := trial.Done()[0]
	assert.Equal(t, sensito.Minutes(370./60), d.Minutes)
	assert.Equal(t, sensito.Minutes(6), d.Planned)
	assert.Equal(t, []float64{20, 19.5}, []float64{d.TemperatureC, d.EndedC})
	assert.Equal(t, "cool", d.Note)
	assert.Equal(t, "2x 120", sensito.FilmList(d.Films))
	open, err = sessions.Latest(dir)
	require.NoError(t, err)
	assert.Nil(t, open)
	_, err = sessions.Keep(dir, id, s.Number()+1, nil, at(520))
	assert.ErrorContains(t, err, "the session is closed")

	listed, err := notebook.List(dir)
	require.NoError(t, err)
	assert.Len(t, listed, 1, "sessions are not listed with the notebook")
	id, _, err = sessions.Start(dir, plan, at(600))
	require.NoError(t, err)
	assert.Equal(t, "2026-06-04-2", id)
}

// Broken off between the log and the end of the session, it is not logged twice.
func TestKeepAgain(t *testing.T) {
	dir, plan := notebookOf(t)
	id, _, err := sessions.Start(dir, plan, noon)
	require.NoError(t, err)
	act(t, dir, id, next, 360)
	s := act(t, dir, id, session.Act{Do: session.DoEnd}, 400)
	path := filepath.Join(dir, sessions.Folder, id+".jsonl")
	before, err := os.ReadFile(path)
	require.NoError(t, err)
	_, err = sessions.Keep(dir, id, s.Number(), nil, at(410))
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(path, before, 0o600))
	kept, err := sessions.Keep(dir, id, s.Number(), nil, at(420))
	require.NoError(t, err)
	assert.Equal(t, 1, kept.Same)
	assert.Equal(t, 1, kept.Logged)
}

// A line that was being written when the power failed is passed over, and the next
// act takes its place; one that is whole and wrong is not.
func TestTorn(t *testing.T) {
	dir, plan := notebookOf(t)
	id, _, err := sessions.Start(dir, plan, noon)
	require.NoError(t, err)
	act(t, dir, id, next, 360)
	path := filepath.Join(dir, sessions.Folder, id+".jsonl")
	whole, err := os.ReadFile(path)
	require.NoError(t, err)
	first := strings.Index(string(whole), "\n") + 1
	for cut := first; cut < len(whole); cut++ {
		require.NoError(t, os.WriteFile(path, whole[:cut], 0o600))
		s, err := sessions.Read(dir, id)
		require.NoError(t, err)
		require.Equal(t, 1, s.Number())
	}
	s := act(t, dir, id, session.Act{Do: session.DoTemperature, Celsius: 20.5}, 365)
	assert.Equal(t, 2, s.Number())
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, string(whole[:first])+`{"number":2,"at":"2026-06-04T14:08:05+02:00","do":"temperature","step":1,"celsius":20.5}`+"\n", string(text))

	for _, c := range []struct{ file, want string }{
		{"", "has no event"},
		{string(whole[:20]), "has no event"},
		{string(whole) + "{}\n", "event 0 follows event 2"},
		{string(whole) + "\x00\x00\n", ":3: is not an event"},
		{string(whole) + `{"number":3,"at":"2026-06-04T14:09:00+02:00","do":"next","colour":"red"}` + "\n", `:3: is not an event: json: unknown field "colour"`},
		{string(whole) + `{"number":3,"at":"2026-06-04T14:07:00+02:00","do":"next"}` + "\n", "its time is before that of the event before"},
		{strings.Replace(string(whole), "session/1", "session/2", 1), `:1: schema "sensito/session/2" is not "sensito/session/1": the session was written by another version of sensito`},
		{strings.Replace(string(whole), `"developer":1`, `"developer":7`, 1), "developer: 7 is outside 1 to 3"},
	} {
		require.NoError(t, os.WriteFile(path, []byte(c.file), 0o600))
		_, err = sessions.Read(dir, id)
		require.ErrorContains(t, err, c.want)
		require.ErrorContains(t, err, path)
		_, err = sessions.Act(dir, id, session.Act{Do: session.DoNext, After: 1}, at(400))
		require.Error(t, err)
		text, err := os.ReadFile(path)
		require.NoError(t, err)
		require.Equal(t, c.file, string(text), "the file is as it was")
	}
}

func TestIDs(t *testing.T) {
	dir, plan := notebookOf(t)
	for _, id := range []string{"", "7", "../larkfield", "2026-06-04-1/../x", "2026-06-04-1.jsonl", "2026-06-04-00001"} {
		_, err := sessions.Read(dir, id)
		assert.ErrorContains(t, err, "is not a session like 2026-06-04-1")
	}
	_, err := sessions.Read(dir, "2026-06-04-1")
	assert.ErrorIs(t, err, os.ErrNotExist)
	plan.Trial = "../elsewhere.toml"
	id, _, err := sessions.Start(dir, plan, noon)
	require.NoError(t, err)
	act(t, dir, id, next, 360)
	s := act(t, dir, id, session.Act{Do: session.DoEnd}, 400)
	_, err = sessions.Keep(dir, id, s.Number(), nil, at(500))
	assert.ErrorContains(t, err, `is of "../elsewhere.toml", which is not a file of this notebook`)
	all, err := sessions.List(dir)
	require.NoError(t, err)
	assert.Len(t, all, 1)
}

// Two devices press at once: one goes on, the other is told; nobody skips a step.
func TestNextAtOnce(t *testing.T) {
	dir, plan := notebookOf(t)
	id, s, err := sessions.Start(dir, plan, noon)
	require.NoError(t, err)
	var wg sync.WaitGroup
	stale := make(chan error, 8)
	for range cap(stale) {
		wg.Go(func() {
			_, err := sessions.Act(dir, id, session.Act{Do: session.DoNext, After: s.Number()}, at(360))
			stale <- err
		})
	}
	wg.Wait()
	close(stale)
	done := 0
	for err := range stale {
		if err == nil {
			done++
			continue
		}
		var told *session.StaleError
		require.ErrorAs(t, err, &told)
		assert.Equal(t, "Fix", told.Step)
	}
	assert.Equal(t, 1, done)
	s, err = sessions.Read(dir, id)
	require.NoError(t, err)
	assert.Equal(t, 2, s.At(at(361)).Running)
}

// actor is the environment variable that makes the test binary act until it is killed.
const actor = "SENSITO_ACTS_IN"

func TestMain(m *testing.M) {
	if dir := os.Getenv(actor); dir != "" {
		open, err := sessions.Latest(dir)
		if err != nil || open == nil {
			os.Exit(1)
		}
		for s := open.Session; ; {
			if s, err = sessions.Act(dir, open.ID, session.Act{Do: session.DoTemperature, Celsius: 20, After: s.Number()}, time.Now()); err != nil {
				os.Exit(1)
			}
			os.Stdout.WriteString(".")
		}
	}
	os.Exit(m.Run())
}

// Killed in the middle of writing, a session loses nothing that was said to be kept.
func TestKilled(t *testing.T) {
	dir, plan := notebookOf(t)
	id, _, err := sessions.Start(dir, plan, time.Now())
	require.NoError(t, err)
	said := 1
	for range 5 {
		cmd := exec.Command(os.Args[0])
		cmd.Env = append(os.Environ(), actor+"="+dir)
		out, err := cmd.StdoutPipe()
		require.NoError(t, err)
		require.NoError(t, cmd.Start())
		buffer := make([]byte, 3)
		for n := 0; n < len(buffer); {
			k, err := out.Read(buffer[n:])
			require.NoError(t, err)
			n += k
		}
		require.NoError(t, cmd.Process.Kill())
		said += len(buffer)
		for {
			n, err := out.Read(buffer)
			if said += n; err != nil {
				break
			}
		}
		_ = cmd.Wait() // by the kill
		s, err := sessions.Read(dir, id)
		require.NoError(t, err)
		require.GreaterOrEqual(t, s.Number(), said)
		require.LessOrEqual(t, s.Number(), said+1)
		said = s.Number()
	}
}

// Neither a folder of sessions nor a file in it may be a link out of the notebook: nothing
// outside is read, changed or made.
func TestLinksOutOfTheNotebook(t *testing.T) {
	dir, p := notebookOf(t)
	id, _, err := sessions.Start(dir, p, at(0))
	require.NoError(t, err)
	inside, outside := filepath.Join(dir, sessions.Folder), filepath.Join(t.TempDir(), "elsewhere")
	text, err := os.ReadFile(filepath.Join(inside, id+".jsonl"))
	require.NoError(t, err)
	require.NoError(t, os.Rename(inside, outside))
	if err := os.Symlink(outside, inside); err != nil {
		t.Skip("no links here: ", err)
	}
	refused := func(err error, what string) {
		t.Helper()
		require.ErrorIs(t, err, store.ErrLeaves, what)
		assert.Contains(t, err.Error(), "is a link that leads out of the notebook, and is not followed", what)
	}
	_, err = sessions.Read(dir, id)
	refused(err, "read")
	_, err = sessions.List(dir)
	refused(err, "list")
	_, err = sessions.Latest(dir)
	refused(err, "latest")
	_, err = sessions.Act(dir, id, session.Act{Do: session.DoNext, After: 1}, at(60))
	refused(err, "act")
	_, err = sessions.Keep(dir, id, 1, nil, at(60))
	refused(err, "keep")
	_, _, err = sessions.Start(dir, p, at(60))
	refused(err, "start")
	found, err := os.ReadDir(outside)
	require.NoError(t, err)
	require.Len(t, found, 1)

	require.NoError(t, os.Remove(inside))
	require.NoError(t, os.Mkdir(inside, 0o700))
	require.NoError(t, os.Symlink(filepath.Join(outside, id+".jsonl"), filepath.Join(inside, id+".jsonl")))
	_, err = sessions.Read(dir, id)
	refused(err, "read one")
	_, err = sessions.Act(dir, id, session.Act{Do: session.DoNext, After: 1}, at(60))
	refused(err, "act on one")
	all, err := sessions.List(dir)
	require.NoError(t, err)
	require.Len(t, all, 1)
	refused(all[0].Err, "listed")
	is, err := os.ReadFile(filepath.Join(outside, id+".jsonl"))
	require.NoError(t, err)
	assert.Equal(t, string(text), string(is))
}

// The clearing time of the first session with a fixer is what later ones are held to, of the
// same bottle alone.
func TestClearingOfEarlierSessions(t *testing.T) {
	dir, p := notebookOf(t)
	require.Zero(t, p.Fixer.Fresh)
	assert.Equal(t, p, sessions.Known(dir, p), "no session yet")
	run := func(p session.Plan, date string, clearing sensito.Minutes) {
		t.Helper()
		p.Date = date
		id, _, err := sessions.Start(dir, p, at(0))
		require.NoError(t, err)
		act(t, dir, id, next, 360)
		if clearing > 0 {
			act(t, dir, id, session.Act{Do: session.DoClearing, Clearing: clearing}, 400)
		}
	}
	other := p
	fixer := *p.Fixer
	fixer.Mixed = "2026-05-01"
	other.Fixer = &fixer
	run(other, "2026-06-01", 0.5) // of the fixer before
	run(p, "2026-06-02", 0)       // nobody looked
	run(p, "2026-06-03", 0.75)
	run(p, "2026-06-04", 1)
	known := sessions.Known(dir, p)
	assert.Equal(t, sensito.Minutes(0.75), known.Fixer.Fresh)
	assert.Equal(t, "2026-06-03", known.Fixer.First)
	assert.Zero(t, p.Fixer.Fresh, "the plan itself stays")
	run(known, "2026-06-05", 1.5)
	all, err := sessions.List(dir)
	require.NoError(t, err)
	st := all[0].Session.At(at(401))
	assert.True(t, st.Discard())
	assert.Contains(t, st.FixerText(), "Film cleared in 1:30, on 2026-06-03 it was 0:45: discard the fixer")
	p.Fixer.Fresh = 2
	assert.Equal(t, p, sessions.Known(dir, p), "what the procedure says stays")
}
