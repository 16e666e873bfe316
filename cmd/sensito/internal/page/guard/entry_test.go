package guard

import (
	"fmt"
	"net/http"
	"net/netip"
	"net/url"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The first line of output is the address, which lets in one browser, once.
func TestAddressLetsInOnce(t *testing.T) {
	inCache(t)
	s := serve(t, Options{}, nil)
	first, _, _ := strings.Cut(s.out.String(), "\n")
	assert.True(t, strings.HasPrefix(first, s.g.Address()+"?token="), first)

	a := s.get(0, "/t/larkfield.toml")
	assert.Equal(t, http.StatusForbidden, a.StatusCode)
	assert.Contains(t, a.text, "Press Enter")
	assert.NotContains(t, a.text, "<form")

	token := s.token(1)
	for _, asked := range []ask{{method: "HEAD", target: "/?" + token}, {method: "GET", target: "/t?" + token}, {method: "GET", target: "/?" + token + "x"},
		{method: "GET", target: "/?token="}} {
		assert.Equal(t, http.StatusForbidden, s.send(0, asked).StatusCode, asked.target)
	}
	a = s.get(0, "/?"+token)
	require.Equal(t, http.StatusSeeOther, a.StatusCode)
	assert.Equal(t, "/", a.Header.Get("Location"))
	checkHeaders(t, a, "no-referrer")
	require.Len(t, a.Cookies(), 1)
	c := a.Cookies()[0]
	assert.Equal(t, fmt.Sprintf("sensito-%d", s.g.doors[0].port()), c.Name)
	assert.Equal(t, http.SameSiteStrictMode, c.SameSite)
	assert.Equal(t, "/", c.Path)
	assert.True(t, c.HttpOnly)
	cookie := cookieOf(t, a)

	a = s.get(0, "/?"+token)
	assert.Equal(t, http.StatusForbidden, a.StatusCode, "a second browser")
	assert.Contains(t, a.text, "has been used")
	assert.Empty(t, a.Cookies())
	a = s.get(0, "/?"+token, cookie)
	assert.Equal(t, http.StatusSeeOther, a.StatusCode, "the same address in the browser that is in")
	assert.Zero(t, s.reached.Load())
	assert.Equal(t, http.StatusOK, s.get(0, "/", cookie).StatusCode)

	// A fresh address takes the place of one that was not used.
	s.pressEnter()
	second := s.token(2)
	s.pressEnter()
	third := s.token(3)
	assert.Equal(t, http.StatusForbidden, s.get(0, "/?"+second).StatusCode)
	assert.Equal(t, http.StatusSeeOther, s.get(0, "/?"+third).StatusCode)
	assert.NotContains(t, s.err.String(), "code")

	s.pass(localLife - time.Second)
	assert.Equal(t, http.StatusOK, s.get(0, "/", cookie).StatusCode)
	s.pass(2 * time.Second)
	assert.Equal(t, http.StatusForbidden, s.get(0, "/", cookie).StatusCode, "the cookie has expired")
}

// Of many browsers that open one address at the same time one is let in.
func TestAddressLetsInOneOfMany(t *testing.T) {
	inCache(t)
	s := serve(t, Options{}, nil)
	token := s.token(1)
	var wg sync.WaitGroup
	var mu sync.Mutex
	got := map[int]int{}
	for range 20 {
		wg.Go(func() {
			a, err := s.trySend(0, ask{method: "GET", target: "/?" + token})
			if assert.NoError(t, err) {
				mu.Lock()
				defer mu.Unlock()
				got[a.StatusCode]++
			}
		})
	}
	wg.Wait()
	assert.Equal(t, map[int]int{http.StatusSeeOther: 1, http.StatusForbidden: 19}, got)
}

// keyIn sends the form of the code to the door of other devices.
func (s *served) keyIn(code string, headers ...string) answer {
	s.t.Helper()
	return s.send(1, ask{method: "POST", target: "/enter", headers: append(headers, plainForm), body: url.Values{"code": {code}}.Encode()})
}

// code returns the code that was shown as the nth.
func (s *served) code(n int) string {
	s.t.Helper()
	return s.err.nth(s.t, n, `the code (\d{3} \d{3}) `)
}

// another returns a code that is not this one.
func another(code string, by int) string {
	var n int
	fmt.Sscanf(strings.ReplaceAll(code, " ", ""), "%d", &n)
	return fmt.Sprintf("%06d", (n+by)%1_000_000)
}

func TestCodeLetsInOneDevice(t *testing.T) {
	inCache(t)
	s := serve(t, aside(t), nil)
	code := s.code(1)
	assert.Contains(t, s.err.String(), "plain HTTP: anybody in that network can read along")
	for _, path := range []string{"/", "/t/larkfield.toml", "/?" + s.token(1)} {
		a := s.get(1, path)
		assert.Equal(t, http.StatusForbidden, a.StatusCode, path)
		assert.Contains(t, a.text, `<form method="post" action="/enter">`)
		checkHeaders(t, a, "same-origin")
	}
	for _, foreign := range []string{"Origin: http://evil.example", "Origin: null", "Sec-Fetch-Site: cross-site", "Sec-Fetch-Site: same-site"} {
		assert.Equal(t, http.StatusForbidden, s.keyIn(code, foreign).StatusCode, foreign)
	}
	a := s.keyIn(strings.Repeat("1", 2000))
	assert.Equal(t, http.StatusForbidden, a.StatusCode)

	// Foreign pages and nonsense have cost no try.
	a = s.keyIn(code, "Origin: http://"+s.g.doors[1].address)
	require.Equal(t, http.StatusSeeOther, a.StatusCode, a.text)
	checkHeaders(t, a, "same-origin")
	cookie := cookieOf(t, a)
	assert.Equal(t, http.StatusOK, s.get(1, "/", cookie).StatusCode)
	assert.Equal(t, http.StatusForbidden, s.get(0, "/", cookie).StatusCode, "it went through the air, and is no cookie of this machine")
	assert.Equal(t, http.StatusSeeOther, s.keyIn("000000", cookie).StatusCode, "a device that is in")
	a = s.send(1, ask{method: "POST", target: "/t", headers: []string{cookie, plainForm, "Origin: http://" + s.g.doors[1].address}, body: "token=" + s.formToken(1, cookie)})
	assert.Equal(t, http.StatusOK, a.StatusCode)

	s.pass(2 * codePause)
	a = s.keyIn(code)
	assert.Equal(t, http.StatusForbidden, a.StatusCode, "a second device")
	assert.Contains(t, a.text, "Press Enter in the terminal")
	s.pressEnter()
	assert.Equal(t, http.StatusSeeOther, s.keyIn(s.code(2)).StatusCode)

	s.pressEnter()
	last := s.code(3)
	s.pass(codeLife + time.Second)
	assert.Equal(t, http.StatusForbidden, s.keyIn(last).StatusCode, "too late")
	s.pass(deviceLife)
	assert.Equal(t, http.StatusForbidden, s.get(1, "/", cookie).StatusCode, "the cookie has expired")

	// On this machine there is no code.
	assert.Equal(t, http.StatusForbidden, s.send(0, ask{method: "POST", target: "/enter", headers: []string{plainForm}, body: "code=" + url.QueryEscape(code)}).StatusCode)
}

// Five tries in all, and not in a burst; then not even the right code lets in.
func TestCodeIsNotGuessed(t *testing.T) {
	inCache(t)
	s := serve(t, aside(t), nil)
	code := s.code(1)
	s.pass(time.Hour)
	s.pressEnter()
	code = s.code(2)

	// Many at once are one try.
	var wg sync.WaitGroup
	var mu sync.Mutex
	got := map[int]int{}
	for i := range 40 {
		wg.Go(func() {
			a, err := s.trySend(1, ask{method: "POST", target: "/enter", headers: []string{plainForm}, body: "code=" + another(code, 1+i)})
			if assert.NoError(t, err) {
				mu.Lock()
				defer mu.Unlock()
				got[a.StatusCode]++
			}
		})
	}
	wg.Wait()
	assert.Equal(t, map[int]int{http.StatusForbidden: 1, http.StatusTooManyRequests: 39}, got)
	assert.Equal(t, http.StatusTooManyRequests, s.keyIn(code).StatusCode, "nor does the right one let in so soon")

	for _, nonsense := range []string{"", "12345", "1234567", "abcdef", "１２３４５６", "12345\x00", "+12345"} {
		s.pass(2 * codePause)
		assert.Contains(t, s.keyIn(nonsense).text, "six digits", nonsense)
	}
	for tries := 4; tries > 0; tries-- {
		s.pass(2 * codePause)
		a := s.keyIn(another(code, 50+tries))
		assert.Equal(t, http.StatusForbidden, a.StatusCode)
		want := fmt.Sprintf("%d tries are left", tries-1)
		switch tries {
		case 2:
			want = "1 try is left"
		case 1:
			want = "Press Enter in the terminal"
		}
		assert.Contains(t, a.text, want)
	}
	s.pass(2 * codePause)
	a := s.keyIn(code)
	assert.Equal(t, http.StatusForbidden, a.StatusCode, "the right one as the sixth")
	assert.Empty(t, a.Cookies())
	assert.Zero(t, s.reached.Load())
	s.pressEnter()
	assert.Equal(t, http.StatusSeeOther, s.keyIn(s.code(3)).StatusCode)
}

// The fifth try may be right.
func TestCodeAtLastTry(t *testing.T) {
	now := time.Now()
	e := &entry{now: func() time.Time { return now }}
	for range 200 { // codes begin with zeros, too
		code := e.newCode()
		for n := 1; n < codeTries; n++ {
			now = now.Add(codePause)
			v, left := e.useCode(another(code, n))
			require.Equal(t, codeWrong, v)
			require.Equal(t, codeTries-n, left)
		}
		now = now.Add(codePause)
		v, _ := e.useCode(code[:3] + "\u00a0" + code[3:])
		require.Equal(t, codeRight, v)
		v, _ = e.useCode(code)
		require.Equal(t, codeOver, v)
	}
	assert.NotEqual(t, e.newToken(), e.newToken())
}

func TestListenIsOneAddressOfThisMachine(t *testing.T) {
	inCache(t)
	machine := func() ([]netip.Addr, error) {
		return []netip.Addr{netip.MustParseAddr("192.0.2.7"), netip.MustParseAddr("2001:db8::7")}, nil
	}
	for listen, why := range map[string]string{
		"0.0.0.0": "every network", "::": "every network", "::ffff:0.0.0.0": "every network",
		"harrow-quay": "not an address such as", "192.0.2.7:8000": "without port", "[2001:db8::7]": "not an address such as", "192.0.2.0/24": "not an address such as",
		"192.0.2.8": "it has 192.0.2.7, 2001:db8::7", "127.0.0.1": "it has 192.0.2.7, 2001:db8::7", "::1": "it has", "224.0.0.1": "it has", "fe80::1%eth0": "it has",
	} {
		_, err := New(Options{Notebook: t.TempDir(), Listen: listen, addresses: machine})
		assert.ErrorAs(t, err, &UsageError{}, listen)
		assert.ErrorContains(t, err, why)
		assert.ErrorContains(t, err, "--listen")
	}
	_, err := New(Options{Notebook: t.TempDir(), Listen: "192.0.2.7", addresses: func() ([]netip.Addr, error) { return nil, nil }})
	assert.ErrorContains(t, err, "in no network")
	for _, port := range []int{-1, 65536} {
		_, err := New(Options{Notebook: t.TempDir(), Port: port})
		assert.ErrorAs(t, err, &UsageError{})
		assert.ErrorContains(t, err, fmt.Sprint(port))
	}
	own, err := machineAddresses()
	require.NoError(t, err)
	for _, a := range own {
		assert.False(t, a.IsLoopback() || a.IsUnspecified() || a.IsMulticast() || a.IsLinkLocalUnicast(), a)
	}
}
