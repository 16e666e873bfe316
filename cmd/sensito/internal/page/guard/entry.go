package guard

import (
	"crypto/rand"
	"crypto/subtle"
	"fmt"
	"math/big"
	"strings"
	"sync"
	"time"
)

// How a code of six digits is kept from being guessed.
const (
	codeTries = 5                // in all, whichever device
	codeLife  = 10 * time.Minute // from when it was shown
	codePause = time.Second      // between two tries
)

// An entry holds what the terminal showed last and what lets a browser in: the
// token of an address and, for another device, a code. Each serves once.
type entry struct {
	now func() time.Time

	mu    sync.Mutex
	token string // "" when it is used up
	code  string // "" when there is none, or it is used up
	left  int    // tries of the code
	shown time.Time
	tried time.Time // the last try
}

// newToken returns a token, which takes the place of the one before.
func (e *entry) newToken() string {
	e.mu.Lock()
	defer e.mu.Unlock()
	e.token = rand.Text() // 130 bits
	return e.token
}

// useToken says whether this is the token, which is then used up.
func (e *entry) useToken(given string) bool {
	e.mu.Lock()
	defer e.mu.Unlock()
	if e.token == "" || subtle.ConstantTimeCompare([]byte(given), []byte(e.token)) == 0 {
		return false
	}
	e.token = ""
	return true
}

// newCode returns a code, which takes the place of the one before.
func (e *entry) newCode() string {
	n, err := rand.Int(rand.Reader, big.NewInt(1_000_000))
	if err != nil {
		panic(err) // the system's source of randomness never fails
	}
	e.mu.Lock()
	defer e.mu.Unlock()
	e.code, e.left, e.shown = fmt.Sprintf("%06d", n), codeTries, e.now()
	return e.code
}

// A verdict is what comes of a code that was keyed in.
type verdict int

const (
	codeRight verdict = iota
	codeWrong
	codeOver   // used, out of tries or out of time: the terminal has to show another
	codeEarly  // too soon after the last try
	codeNoCode // not six digits
)

// useCode judges a code and returns how many tries are left. A right one is used
// up. What cannot be a code, and what comes too early, costs no try and tells
// nothing.
func (e *entry) useCode(given string) (verdict, int) {
	given = strings.NewReplacer(" ", "", "\u00a0", "", "-", "").Replace(given)
	if len(given) != 6 || strings.Trim(given, "0123456789") != "" {
		return codeNoCode, 0
	}
	e.mu.Lock()
	defer e.mu.Unlock()
	now := e.now()
	switch {
	case e.code == "" || e.left == 0 || now.Sub(e.shown) > codeLife:
		e.code = ""
		return codeOver, 0
	case now.Sub(e.tried) < codePause && !now.Before(e.tried):
		return codeEarly, e.left
	}
	e.left--
	e.tried = now
	if subtle.ConstantTimeCompare([]byte(given), []byte(e.code)) == 1 {
		e.code = ""
		return codeRight, 0
	}
	if e.left == 0 {
		e.code = ""
		return codeOver, 0
	}
	return codeWrong, e.left
}
