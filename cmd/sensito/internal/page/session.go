package page

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net/http"
	"net/url"
	"path/filepath"
	"reflect"
	"strconv"
	"strings"
	"time"

	"sensito/cmd/sensito/internal/ask"
	"sensito/cmd/sensito/internal/page/screen"
	"sensito/cmd/sensito/internal/page/timed"
	"sensito/sensito"
	"sensito/sensito/notebook/sessions"
	"sensito/sensito/notebook/store"
	"sensito/sensito/printable"
	"sensito/sensito/report"
	"sensito/sensito/session"
)

// routeSession says which handler answers which address of a session by the clock.
func (s *Server) routeSession() {
	s.get("/clock.js", s.asset)
	s.get("/after.js", s.asset)
	s.get("/session", s.layOut)
	s.post("/session", s.pourIn)
	const one = "/session/{id}"
	s.get("/session/{id}", s.session)
	s.get(one+"/state", s.beat)
	s.get(one+"/events", s.events)
	s.get(one+"/sound.wav", s.sound)
	s.post(one+"/event", s.act)
	s.post(one+"/temperature", s.act)
	s.post(one+"/log", s.settle)
}

// sessionAddress returns the address of a session.
func sessionAddress(id string) string { return "/session/" + id }

// readSession returns the session of the ID in an address. What is none, and what lies
// outside the notebook, is missing.
func (s *Server) readSession(r *http.Request) (id string, one *session.Session, err error) {
	id = r.PathValue("id")
	one, err = sessions.Read(s.dir, id)
	return id, one, s.missingSession(id, err)
}

// missingSession returns the error of opening a session, as one of the address where there
// is no session.
func (s *Server) missingSession(id string, err error) error {
	switch {
	case errors.Is(err, store.ErrLeaves):
		return &missingError{s.inWords(err)}
	case errors.Is(err, fs.ErrNotExist) || errors.Is(err, sessions.ErrNoID):
		return &missingError{fmt.Sprintf("There is no session %q in the notebook.", id)}
	}
	return err
}

// inWords is an error as a sentence that names files as they are called in the notebook.
func (s *Server) inWords(err error) string {
	return printable.Lines(strings.ReplaceAll(err.Error(), s.dir+string(filepath.Separator), "")) + "."
}

// open returns the sessions that were not ended, newest first, and which files of sessions
// cannot be read.
func (s *Server) open() (open []timed.Open, broken []string, newest string, err error) {
	all, err := sessions.List(s.dir)
	switch {
	case errors.Is(err, store.ErrLeaves):
		return nil, []string{s.inWords(err)}, "", nil
	case err != nil:
		return nil, nil, "", err
	}
	for i, e := range all {
		if i == 0 {
			newest = e.ID
		}
		switch {
		case e.Err != nil:
			broken = append(broken, s.inWords(e.Err))
		case !e.Session.Closed():
			open = append(open, timed.NewOpen(sessionAddress(e.ID), e.Session, s.now()))
		}
	}
	return open, broken, newest, nil
}

// layOut answers with what a session needs before it begins.
func (s *Server) layOut(w http.ResponseWriter, r *http.Request) error {
	if led, err := s.begun(w, r, usualRange()); led || err != nil {
		return err
	}
	before, q, _, err := s.laidOut(r)
	if err != nil {
		return err
	}
	return s.showBefore(w, r, before, q, http.StatusOK)
}

func (s *Server) showBefore(w http.ResponseWriter, r *http.Request, before *timed.Before, q *query, status int) error {
	if before.Fault != "" && status == http.StatusOK {
		status = http.StatusUnprocessableEntity
	}
	p := s.page(r, "Lay out, and pour in", "/session")
	p.Content, p.Terminal = before, q.terminal()+" --run"
	return s.writeStatus(w, status, "before", p)
}

// laidOut returns what the query of a session asks: what is laid out for it, and its plan,
// nil where there is none; the page says why then.
func (s *Server) laidOut(r *http.Request) (*timed.Before, *query, *session.Plan, error) {
	asked := &ask.Sheet{Made: s.now().Format(time.DateOnly)}
	q, err := s.query(r, "sheet", asked)
	if q == nil || q.trial.Name == "" {
		return nil, nil, nil, err
	}
	before := &timed.Before{}
	var openErr error
	if before.Open, before.Broken, before.Newest, openErr = s.open(); openErr != nil {
		return nil, nil, nil, openErr
	}
	offers, offersErr := s.offers(q)
	if offersErr != nil {
		return nil, nil, nil, offersErr
	}
	before.Asking = screen.NewAsking(q.asked("/session", offers))
	f := s.kept.get(q.trial)
	before.Trial = timed.Link{Address: address(q.trial), Text: printable.Text(f.title())}
	before.Start = q.with("/session")
	answer, err := q.ask(r, err, toRun{asked})
	if err != nil {
		if r.Context().Err() != nil {
			return nil, nil, nil, err
		}
		before.Fault = printable.Lines(err.Error())
		if unanswerable := (*sensito.Unanswerable)(nil); errors.As(err, &unanswerable) && unanswerable.Hint != "" {
			before.Fault += ". " + printable.Lines(unanswerable.Hint)
		}
		return before, q, nil, nil
	}
	a := answer.(*ask.SheetAnswer)
	plan := sessions.Known(s.dir, session.NewPlan(a.Sheet, q.trial.Name))
	if err := before.LaysOut(a.Sheet, a.Level, plan, s.now()); err != nil {
		before.Fault = printable.Lines(err.Error())
		return before, q, nil, nil
	}
	before.Warnings = screen.WarningTexts(report.NewSheet(a.Sheet, a.Level).Notices())
	return before, q, &plan, nil
}

// toRun asks for the sheet of a session by the clock.
type toRun struct{ *ask.Sheet }

// pourIn begins a session, and leads to it. Of two forms that were sent at once, or one
// that was sent twice, the second leads to the session of the first.
func (s *Server) pourIn(w http.ResponseWriter, r *http.Request) error {
	if err := formOf(r); err != nil {
		return err
	}
	before, q, plan, err := s.laidOut(r)
	if err != nil {
		return err
	}
	if plan == nil {
		return s.showBefore(w, r, before, q, http.StatusUnprocessableEntity)
	}
	celsius := 0.0
	if text := strings.TrimSpace(r.PostForm.Get("celsius")); text != "" {
		if celsius, err = sensito.ParseTemperature(text); err != nil {
			before.Celsius, before.Fault = printable.Text(text), printable.Lines(err.Error())
			return s.showBefore(w, r, before, q, http.StatusUnprocessableEntity)
		}
	}
	s.starting.Lock()
	defer s.starting.Unlock()
	all, err := sessions.List(s.dir)
	switch {
	case errors.Is(err, store.ErrLeaves):
		before.Fault = "Not begun: " + s.inWords(err)
		return s.showBefore(w, r, before, q, http.StatusUnprocessableEntity)
	case err != nil:
		return err
	}
	if len(all) > 0 && all[0].ID != r.PostForm.Get("newest") {
		if one := all[0].Session; one != nil && !one.Closed() && reflect.DeepEqual(one.Plan(), *plan) {
			return seeOther(w, r, sessionAddress(all[0].ID), nil)
		}
		before.Fault = "Not begun: another session was begun after this page was opened. Look, and pour in if it is still meant."
		if before.Open, before.Broken, before.Newest, err = s.open(); err != nil {
			return err
		}
		return s.showBefore(w, r, before, q, http.StatusConflict)
	}
	at := s.now()
	id, one, err := sessions.Start(s.dir, *plan, at)
	if err != nil {
		return err
	}
	if celsius != 0 {
		act := session.Act{Do: session.DoTemperature, After: one.Number(), Step: plan.Developer, Celsius: celsius}
		if _, err := sessions.Act(s.dir, id, act, at); err != nil {
			return s.showSession(w, r, id, shown{fault: "Not noted: " + plainly(err), typed: timed.Typed{Celsius: typed(r, "celsius")}}, http.StatusUnprocessableEntity)
		}
	}
	return seeOther(w, r, sessionAddress(id), nil)
}

// session answers with a session as it stands.
func (s *Server) session(w http.ResponseWriter, r *http.Request) error {
	return s.showSession(w, r, r.PathValue("id"), shown{still: r.URL.Query().Has("still")}, http.StatusOK)
}

// typed returns what was typed into a field, as it can be shown again.
func typed(r *http.Request, field string) string { return printable.Text(r.PostForm.Get(field)) }

// shown is what a page of a session shows besides.
type shown struct {
	fault string
	typed timed.Typed
	note  string
	keep  timed.Entry // typed at the end; zero for nothing
	still bool
}

func (s *Server) showSession(w http.ResponseWriter, r *http.Request, id string, also shown, status int) error {
	r.SetPathValue("id", id)
	id, one, err := s.readSession(r)
	if err != nil {
		return err
	}
	address := sessionAddress(id)
	file := one.Plan().Trial
	if one.Over() {
		a := timed.NewAfter(address, one, s.now())
		a.Fault, a.Note = also.fault, also.note
		if also.keep != (timed.Entry{}) {
			a.Entry = also.keep
		}
		title := "Done at " + a.Ended
		page := s.page(r, title, "/session")
		page.Content, page.Terminal = a, s.terminal("log", "")
		if page.Address == "/" {
			page.Address = address
		}
		return s.writeStatus(w, status, "after", page)
	}
	running := timed.NewRunning(address, one, s.now())
	running.Fault, running.Typed, running.Still = also.fault, also.typed, also.still
	page := s.page(r, running.Step, "/session")
	page.Bare, page.Content, page.Terminal = true, running, s.terminal("sheet", file)+" --run"
	if page.Address == "/" {
		page.Address = address
	}
	return s.writeStatus(w, status, "session", page)
}

// act carries out what a form of a session asks for.
func (s *Server) act(w http.ResponseWriter, r *http.Request) error {
	if err := formOf(r); err != nil {
		return err
	}
	id, _, err := s.readSession(r)
	if err != nil {
		return err
	}
	a, ago, err := timed.ParseAct(r.PostForm)
	also := shown{typed: timed.Typed{Celsius: typed(r, "celsius"), Clearing: typed(r, "clearing")}}
	if fault := (*timed.Fault)(nil); errors.As(err, &fault) {
		also.fault = printable.Lines(fault.Text)
		return s.showSession(w, r, id, also, http.StatusUnprocessableEntity)
	} else if err != nil {
		return &badRequestError{printable.Lines(err.Error())}
	}
	_, err = sessions.Act(s.dir, id, a, s.now().Add(-ago))
	if err == nil {
		return seeOther(w, r, sessionAddress(id), nil)
	}
	return s.refuse(w, r, id, also, err)
}

// refuse answers with the session as it is now, and why an act was not done.
func (s *Server) refuse(w http.ResponseWriter, r *http.Request, id string, also shown, err error) error {
	status := http.StatusUnprocessableEntity
	also.fault = plainly(err)
	if stale := (*session.StaleError)(nil); errors.As(err, &stale) {
		status = http.StatusConflict
	}
	return s.showSession(w, r, id, also, status)
}

// plainly is an error as a sentence, without the number of an event that nobody made.
func plainly(err error) string {
	if inner := errors.Unwrap(err); inner != nil && strings.HasPrefix(err.Error(), "event ") {
		err = inner
	}
	text := printable.Lines(err.Error())
	return strings.ToUpper(text[:1]) + text[1:] + "."
}

// settle keeps the development of a session that is over in the log of its trial, or
// does not.
func (s *Server) settle(w http.ResponseWriter, r *http.Request) error {
	if err := formOf(r); err != nil {
		return err
	}
	id, one, err := s.readSession(r)
	if err != nil {
		return err
	}
	after, err := strconv.Atoi(r.PostForm.Get("after"))
	if err != nil {
		return &badRequestError{"The form does not say after which event it was made."}
	}
	also := shown{note: typed(r, "note"), keep: timed.Entry{Developed: typed(r, "developed"), From: typed(r, "from"), To: typed(r, "to")}}
	switch r.PostForm.Get("do") {
	case "drop":
		_, err = sessions.Act(s.dir, id, session.Act{Do: session.DoClose, After: after}, s.now())
		if err != nil {
			return s.refuse(w, r, id, also, err)
		}
		return seeOther(w, r, sessionAddress(id), nil)
	case "keep", "":
	default:
		return &badRequestError{fmt.Sprintf("%q is nothing that the end of a session can be asked for.", r.PostForm.Get("do"))}
	}
	if _, err := s.root.Path(one.Plan().Trial); err != nil { // a link that leaves the notebook
		return s.refuse(w, r, id, also, err)
	}
	change, err := timed.ParseKeep(r.PostForm, timed.NewAfter("", one, s.now()).Entry)
	if err == nil {
		_, err = sessions.Keep(s.dir, id, after, change, s.now())
	}
	if err != nil {
		return s.refuse(w, r, id, also, err)
	}
	return seeOther(w, r, sessionAddress(id), nil)
}

// beat answers with the time of the step that runs, for a page that asks again and again. One
// that says another number than that of the last event is led to what was done.
func (s *Server) beat(w http.ResponseWriter, r *http.Request) error {
	_, one, err := s.readSession(r)
	if err != nil {
		return err
	}
	if q := r.URL.Query(); q.Has("number") && q.Get("number") != strconv.Itoa(one.Number()) {
		return seeOther(w, r, sessionAddress(r.PathValue("id")), nil)
	}
	text, err := json.Marshal(timed.NewBeat(one, s.now()))
	if err != nil {
		return err
	}
	w.Header().Set("Content-Type", "application/json")
	_, err = w.Write(text)
	return err
}

// sound answers with the sounds ahead as a file. A player fetches it in pieces, which must
// be of one file; so an address without the time at which it begins leads to one that has
// it, with the number of the last event.
func (s *Server) sound(w http.ResponseWriter, r *http.Request) error {
	id, one, err := s.readSession(r)
	if err != nil {
		return err
	}
	q := r.URL.Query()
	if !q.Has("from") {
		return seeOther(w, r, sessionAddress(id)+"/sound.wav", url.Values{"from": {strconv.FormatInt(s.now().UnixMilli(), 10)}, "number": {strconv.Itoa(one.Number())}})
	}
	from, fromErr := strconv.ParseInt(q.Get("from"), 10, 64)
	number, numberErr := strconv.Atoi(q.Get("number"))
	if fromErr != nil || numberErr != nil || number < 1 || number > one.Number() {
		return &missingError{"There is no such sound."}
	}
	at := time.UnixMilli(from)
	if at.After(s.now()) {
		return &missingError{"There is no such sound yet."}
	}
	if one, err = session.Replay(one.Events()[:number]); err != nil {
		return err
	}
	sound := session.NewSound(session.Schedule(one.At(at)))
	w.Header().Set("Content-Type", "audio/wav")
	http.ServeContent(w, r, "", time.Time{}, io.NewSectionReader(sound, 0, sound.Size()))
	return nil
}
