package guard

import (
	"context"
	"crypto/hmac"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"fmt"
	"net/http"
	"strconv"
	"strings"
	"time"
)

// A session is what a cookie says: who has it, of which listener, since when.
type session struct {
	where  string // the address of the listener
	id     string
	issued int64 // s since 1970
}

// keys make cookies and form tokens of the secret and know them again, so that
// nothing need be remembered of who was let in.
type keys struct {
	secret secret
	now    func() time.Time
}

// sum returns the code of a purpose and its parts, no two of which run together.
func (k keys) sum(purpose string, parts ...string) string {
	h := hmac.New(sha256.New, k.secret[:])
	for _, part := range append([]string{purpose}, parts...) {
		fmt.Fprintf(h, "%d:%s", len(part), part)
	}
	return base64.RawURLEncoding.EncodeToString(h.Sum(nil))
}

// newCookie returns the value of a cookie for the listener at an address.
func (k keys) newCookie(where string) string {
	s := session{where, rand.Text(), k.now().Unix()}
	issued := strconv.FormatInt(s.issued, 10)
	return s.id + "." + issued + "." + k.sum("cookie", s.where, s.id, issued)
}

// session returns what a cookie says, and whether it was made here for this
// listener, no longer ago than life. A clock that was set back since by less than
// a day does no harm.
func (k keys) session(where, cookie string, life time.Duration) (session, bool) {
	parts := strings.Split(cookie, ".")
	if len(parts) != 3 || !hmac.Equal([]byte(parts[2]), []byte(k.sum("cookie", where, parts[0], parts[1]))) {
		return session{}, false
	}
	issued, err := strconv.ParseInt(parts[1], 10, 64)
	age := k.now().Sub(time.Unix(issued, 0))
	if err != nil || age > life || age < -24*time.Hour {
		return session{}, false
	}
	return session{where, parts[0], issued}, true
}

// formToken returns the token of the forms of a session.
func (k keys) formToken(s session) string {
	return k.sum("form", s.where, s.id, strconv.FormatInt(s.issued, 10))
}

// isFormToken says, in constant time, whether a token is that of the session.
func (k keys) isFormToken(given string, s session) bool {
	return hmac.Equal([]byte(given), []byte(k.formToken(s)))
}

// sessionKey is that of the session in the context of a request.
type sessionKey struct{}

func withSession(r *http.Request, s session) *http.Request {
	return r.WithContext(context.WithValue(r.Context(), sessionKey{}, s))
}

func sessionOf(r *http.Request) (session, bool) {
	s, ok := r.Context().Value(sessionKey{}).(session)
	return s, ok
}
