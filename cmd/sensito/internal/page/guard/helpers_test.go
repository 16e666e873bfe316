package guard

import (
	"bufio"
	"bytes"
	"context"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/netip"
	"regexp"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// patience is how long a test waits for what must come; none waits in vain.
const patience = 20 * time.Second

// said is what a server printed, in which a test can wait for a line.
type said struct {
	mu   sync.Mutex
	text bytes.Buffer
}

func (s *said) Write(p []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.text.Write(p)
}

func (s *said) String() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.text.String()
}

// nth waits for the nth match of an expression and returns its first group.
func (s *said) nth(t *testing.T, n int, expression string) string {
	t.Helper()
	e := regexp.MustCompile(expression)
	var found [][]string
	require.Eventually(t, func() bool {
		found = e.FindAllStringSubmatch(s.String(), -1)
		return len(found) >= n
	}, patience, time.Millisecond, "%d of %s", n, expression)
	return found[n-1][1]
}

// A served page is a guard before a handler that counts.
type served struct {
	t          *testing.T
	g          *Guard
	out, err   said
	enter      *io.PipeWriter
	reached    atomic.Int64
	moved      atomic.Int64 // by how many ns the clock is ahead
	stopServer context.CancelFunc
	ended      chan error
}

// inCache has what is kept go to a folder of the test.
func inCache(t *testing.T) string {
	cache := t.TempDir()
	for _, name := range []string{"XDG_CACHE_HOME", "HOME", "LocalAppData"} {
		t.Setenv(name, cache)
	}
	return cache
}

// quick are limits that a test can exceed soon.
func quick(change func(*limits)) *limits {
	l := usualLimits
	change(&l)
	return &l
}

// serve starts a server, which is stopped after the test. Without a handler it
// answers with the name of the path.
func serve(t *testing.T, o Options, handler http.HandlerFunc) *served {
	t.Helper()
	s := &served{t: t, ended: make(chan error, 1)}
	start := time.Now()
	o.Now = func() time.Time { return start.Add(time.Duration(s.moved.Load())) }
	o.Out, o.Err = &s.out, &s.err
	in, enter := io.Pipe()
	o.In, s.enter = in, enter
	if o.Notebook == "" {
		o.Notebook = t.TempDir()
	}
	var err error
	s.g, err = New(o)
	require.NoError(t, err)
	if handler == nil {
		handler = func(w http.ResponseWriter, r *http.Request) { fmt.Fprint(w, r.URL.Path) }
	}
	ctx, cancel := context.WithCancel(t.Context())
	s.stopServer = cancel
	go func() {
		s.ended <- s.g.Serve(ctx, http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			s.reached.Add(1)
			handler(w, r)
		}))
	}()
	t.Cleanup(s.stop)
	s.out.nth(t, 1, `(http://127\.0\.0\.1:\d+/\?token=\S+\n)`)
	return s
}

// stop ends the server and all that belongs to it.
func (s *served) stop() {
	if s.stopServer == nil {
		return
	}
	s.stopServer()
	s.stopServer = nil
	s.enter.Close()
	select {
	case err := <-s.ended:
		require.NoError(s.t, err)
	case <-time.After(patience):
		require.Fail(s.t, "the server does not stop")
	}
}

func (s *served) pass(d time.Duration) { s.moved.Add(int64(d)) }

func (s *served) pressEnter() {
	_, err := io.WriteString(s.enter, "\n")
	require.NoError(s.t, err)
}

// An ask is a request as it goes over the wire.
type ask struct {
	method, target, host string
	headers              []string
	body                 string // with its length, unless a header says how it is sent
}

func (a ask) String() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s %s HTTP/1.1\r\n", a.method, a.target)
	if a.host != "" {
		fmt.Fprintf(&b, "Host: %s\r\n", a.host)
	}
	counted := a.body != ""
	for _, h := range a.headers {
		fmt.Fprintf(&b, "%s\r\n", h)
		counted = counted && !strings.HasPrefix(h, "Content-Length:") && !strings.HasPrefix(h, "Transfer-Encoding:")
	}
	if counted {
		fmt.Fprintf(&b, "Content-Length: %d\r\n", len(a.body))
	}
	return b.String() + "Connection: close\r\n\r\n" + a.body
}

// An answer is one that was read whole.
type answer struct {
	*http.Response
	text string
}

// send sends a request to the nth door over a connection of its own.
func (s *served) send(door int, a ask) answer {
	s.t.Helper()
	got, err := s.trySend(door, a)
	require.NoError(s.t, err, "%.900s", a)
	return got
}

// trySend is send for a request that net/http may refuse by itself: it does so
// without reading the rest, whereupon the system may cut the connection off.
func (s *served) trySend(door int, a ask) (answer, error) {
	c, err := net.Dial("tcp", s.g.doors[door].address)
	if err != nil {
		return answer{}, err
	}
	defer c.Close()
	if a.host == "" {
		a.host = s.g.doors[door].hosts[0]
	}
	if err := c.SetDeadline(time.Now().Add(patience)); err != nil {
		return answer{}, err
	}
	go io.WriteString(c, a.String()) // a server that refuses need not take all of it
	r, err := http.ReadResponse(bufio.NewReader(c), &http.Request{Method: a.method})
	if err != nil {
		return answer{}, err
	}
	defer r.Body.Close()
	text, err := io.ReadAll(r.Body)
	return answer{r, string(text)}, err
}

// get asks the nth door for a path with headers.
func (s *served) get(door int, target string, headers ...string) answer {
	s.t.Helper()
	return s.send(door, ask{method: "GET", target: target, headers: headers})
}

// cookieOf returns the header by which a browser sends back the cookie of an
// answer.
func cookieOf(t *testing.T, a answer) string {
	t.Helper()
	require.Len(t, a.Cookies(), 1, a.text)
	c := a.Cookies()[0]
	return "Cookie: " + c.Name + "=" + c.Value
}

// address returns the way in that the server printed last, as of the nth time.
func (s *served) token(n int) string {
	s.t.Helper()
	return s.out.nth(s.t, n, `\?(token=\S+)\n`)
}

// letIn opens the address that was printed first and returns the cookie.
func (s *served) letIn() string {
	s.t.Helper()
	a := s.get(0, "/?"+s.token(1))
	require.Equal(s.t, http.StatusSeeOther, a.StatusCode, a.text)
	return cookieOf(s.t, a)
}

// formToken returns the token of the forms of a cookie.
func (s *served) formToken(door int, cookie string) string {
	s.t.Helper()
	_, value, _ := strings.Cut(cookie, "=")
	d := s.g.doors[door]
	known, ok := s.g.keys.session(d.address, value, d.life)
	require.True(s.t, ok)
	return s.g.keys.formToken(known)
}

// aside are options for a second door that stands for another network.
func aside(t *testing.T) Options {
	l, err := net.Listen("tcp", "127.0.0.2:0")
	if err != nil {
		t.Skip("this system has one address for itself: ", err)
	}
	l.Close()
	return Options{Listen: "127.0.0.2", addresses: func() ([]netip.Addr, error) { return []netip.Addr{netip.MustParseAddr("127.0.0.2")}, nil }}
}

const plainForm = "Content-Type: application/x-www-form-urlencoded"
