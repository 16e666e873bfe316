package guard

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"mime"
	"mime/multipart"
	"net/http"
	"os"
)

// securityPolicy is that of every answer: nothing from elsewhere, nothing inline.
const securityPolicy = "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self'; connect-src 'self'; media-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"

// The token of a form is in this field, or in this header where script sends it.
const (
	tokenField  = "token"
	tokenHeader = "X-Sensito-Token"
)

// A gate stands before the handlers of the page at one door.
type gate struct {
	door   *door
	keys   keys
	entry  *entry
	limits limits
	cross  *http.CrossOriginProtection
	next   http.Handler
}

// ServeHTTP answers, or refuses, what is not a request of a browser that was let
// in for a page of this server; the rest it passes on.
func (g *gate) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	g.setHeaders(w.Header())
	if !g.door.is(r.Host) {
		plainly(w, http.StatusMisdirectedRequest, "Another address", "This server is asked for by its own address alone: http://"+g.door.hosts[0]+"/")
		return
	}
	switch r.Method {
	case http.MethodGet, http.MethodHead, http.MethodPost:
	default:
		w.Header().Set("Allow", "GET, HEAD, POST")
		plainly(w, http.StatusMethodNotAllowed, "Not done here", "Pages are read (GET, HEAD) and forms are sent (POST), and nothing else.")
		return
	}
	if fault := pathFault(r); fault != "" {
		plainly(w, http.StatusBadRequest, "No such address", fault)
		return
	}
	if r.Method != http.MethodPost && r.ContentLength != 0 {
		plainly(w, http.StatusBadRequest, "Nothing is sent to read", "What asks for a page sends nothing with it.")
		return
	}
	most := g.limits.bodyOf(r.URL.Path)
	if r.ContentLength > most {
		tooLarge(w, most)
		return
	}
	r.Body = http.MaxBytesReader(w, r.Body, most)
	s, known := g.session(r)
	if g.enter(w, r, known) {
		return
	}
	if !known {
		g.tellHow(w, http.StatusForbidden)
		return
	}
	if g.isForeign(r) {
		plainly(w, http.StatusForbidden, "From another page", "This was asked for by a page of another server. Nothing was saved.")
		return
	}
	if r.Method == http.MethodPost && !g.checkForm(w, r, s) {
		return
	}
	g.next.ServeHTTP(w, withSession(r, s))
}

// setHeaders sets those of every answer.
func (g *gate) setHeaders(h http.Header) {
	h.Set("Content-Security-Policy", securityPolicy)
	h.Set("X-Content-Type-Options", "nosniff")
	h.Set("Referrer-Policy", "no-referrer")
	if !g.door.local {
		// With no-referrer a browser sends a form with "Origin: null", and over plain
		// HTTP to another machine it does not say Sec-Fetch-Site; so nothing would tell
		// a form of ours from that of another server. Others learn nothing by this either.
		h.Set("Referrer-Policy", "same-origin")
	}
	h.Set("Cross-Origin-Opener-Policy", "same-origin")
	h.Set("Cross-Origin-Resource-Policy", "same-origin")
	h.Set("Cache-Control", "no-store")
}

// session returns what a cookie of the request says, and whether one was made here.
func (g *gate) session(r *http.Request) (session, bool) {
	for _, c := range r.CookiesNamed(g.door.cookie()) { // another server of this machine may have set one too
		if s, ok := g.keys.session(g.door.address, c.Value, g.door.life); ok {
			return s, true
		}
	}
	return session{}, false
}

// isForeign says whether a page of another server made the request. Cookies go to
// all ports of a machine, so that a page at another port of it comes with ours; it
// may lead here by a link and no more.
func (g *gate) isForeign(r *http.Request) bool {
	if r.Method == http.MethodPost {
		return g.cross.Check(r) != nil
	}
	if origin := r.Header.Get("Origin"); origin != "" && origin != "http://"+r.Host {
		return true
	}
	switch r.Header.Get("Sec-Fetch-Site") {
	case "", "same-origin", "none":
		return false
	}
	return r.Header.Get("Sec-Fetch-Dest") != "document"
}

// enter answers a request that comes with what the terminal showed, and says
// whether it was one.
func (g *gate) enter(w http.ResponseWriter, r *http.Request, known bool) bool {
	switch {
	case g.door.local && r.Method == http.MethodGet && r.URL.Path == "/" && r.URL.Query().Has(tokenField):
		if g.entry.useToken(r.URL.Query().Get(tokenField)) {
			g.letIn(w)
		} else if !known {
			g.tellHow(w, http.StatusForbidden, "That address has been used, or a later one was printed.")
			return true
		}
		seeNotebook(w)
		return true
	case !g.door.local && r.Method == http.MethodPost && r.URL.Path == "/enter":
		if known {
			seeNotebook(w)
		} else {
			g.enterByCode(w, r)
		}
		return true
	}
	return false
}

// enterByCode answers the form of the code.
func (g *gate) enterByCode(w http.ResponseWriter, r *http.Request) {
	r.Body = http.MaxBytesReader(w, r.Body, 1<<10)
	if g.isForeign(r) || r.ParseForm() != nil {
		g.tellHow(w, http.StatusForbidden)
		return
	}
	switch verdict, left := g.entry.useCode(r.PostForm.Get("code")); verdict {
	case codeRight:
		g.letIn(w)
		seeNotebook(w)
	case codeWrong:
		tries := "tries are"
		if left == 1 {
			tries = "try is"
		}
		g.tellHow(w, http.StatusForbidden, fmt.Sprintf("That is not the code. %d %s left.", left, tries))
	case codeEarly:
		w.Header().Set("Retry-After", "1")
		g.tellHow(w, http.StatusTooManyRequests, "That was too soon after the last try. Wait a second, and key it in again.")
	case codeNoCode:
		g.tellHow(w, http.StatusForbidden, "A code has six digits.")
	default:
		g.tellHow(w, http.StatusForbidden, "The last code is used up or too old. Press Enter in the terminal: it shows a new one.")
	}
}

// letIn gives the browser a cookie.
func (g *gate) letIn(w http.ResponseWriter) {
	http.SetCookie(w, &http.Cookie{
		Name: g.door.cookie(), Value: g.keys.newCookie(g.door.address), Path: "/",
		MaxAge: int(g.door.life.Seconds()), HttpOnly: true, SameSite: http.SameSiteStrictMode,
	})
}

func seeNotebook(w http.ResponseWriter) {
	w.Header().Set("Location", "/")
	w.WriteHeader(http.StatusSeeOther)
}

// tellHow answers a browser that was not let in, first with what was wrong.
func (g *gate) tellHow(w http.ResponseWriter, status int, wrong ...string) {
	page := refusal{Title: "This browser is not let in yet", Says: wrong, Again: true}
	if g.door.local {
		page.Says = append(page.Says,
			"Press Enter in the terminal where sensito serve runs. It prints an address: open that here. Each address works once.")
	} else {
		page.Code = true
		page.Says = append(page.Says,
			"Key in the six digits shown in the terminal where sensito serve runs. Each code lets in one device; Enter there shows a new one.")
	}
	refuse(w, status, page)
}

// checkForm says whether a form has the token of its session; where it has not,
// it has been answered. The fields of a plain form are read then, and in the
// request without the token. A form with files is not read past its token, which
// has to come first, and is whole when the handler streams it.
func (g *gate) checkForm(w http.ResponseWriter, r *http.Request, s session) bool {
	given := r.Header.Get(tokenHeader)
	kind, params, err := mime.ParseMediaType(r.Header.Get("Content-Type"))
	switch {
	case r.ContentLength == 0:
		err = nil
	case err == nil && kind == "application/x-www-form-urlencoded":
		r.Body = http.MaxBytesReader(w, r.Body, g.limits.form) // which is held in memory, wherever it is sent
		err = r.ParseForm()
		if given == "" {
			given = r.PostForm.Get(tokenField)
		}
		r.PostForm.Del(tokenField)
		r.Form.Del(tokenField)
	case err == nil && kind == "multipart/form-data":
		if given == "" {
			given, err = firstField(r, params["boundary"])
		}
	default:
		plainly(w, http.StatusUnsupportedMediaType, "Not a form", "Forms alone are taken. Nothing was saved.")
		return false
	}
	var large *http.MaxBytesError
	switch {
	case errors.As(err, &large):
		tooLarge(w, large.Limit)
	case errors.Is(err, os.ErrDeadlineExceeded):
		plainly(w, http.StatusRequestTimeout, "Not all has come", "The form took too long to come. Nothing was saved: send it again.")
	case err != nil:
		plainly(w, http.StatusBadRequest, "Not a form", "The form cannot be read. Nothing was saved.")
	case !g.keys.isFormToken(given, s):
		refuse(w, http.StatusForbidden, refusal{Title: "An old form", Again: true,
			Says: []string{"The form is not of a page that this browser has open now. Nothing was saved. Load its page again and send it from there."}})
	default:
		return true
	}
	return false
}

// firstField returns the token where that is the first field of a form with files,
// "" where another is, and leaves the body as if it had not been read.
func firstField(r *http.Request, boundary string) (string, error) {
	const most = 64 << 10 // a browser needs 200 bytes
	body, read := r.Body, &bytes.Buffer{}
	form := multipart.NewReader(io.TeeReader(io.LimitReader(body, most), read), boundary)
	part, err := form.NextPart()
	if err != nil {
		return "", err
	}
	value := ""
	if part.FormName() == tokenField && part.FileName() == "" {
		text, err := io.ReadAll(io.LimitReader(part, 200))
		if err != nil {
			return "", err
		}
		value = string(text)
	}
	r.Body = struct {
		io.Reader
		io.Closer
	}{io.MultiReader(read, body), body}
	return value, nil
}

// tooLarge answers a request of more than may be sent.
func tooLarge(w http.ResponseWriter, most int64) {
	w.Header().Set("Connection", "close")
	plainly(w, http.StatusRequestEntityTooLarge, "Too much", fmt.Sprintf("At most %d MiB are taken here. Nothing was saved.", most>>20))
}
