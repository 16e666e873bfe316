package guard

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"runtime"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// dial opens a connection to the first door and sends text.
func (s *served) dial(text string) (net.Conn, *bufio.Reader) {
	s.t.Helper()
	c, err := net.Dial("tcp", s.g.doors[0].address)
	require.NoError(s.t, err)
	s.t.Cleanup(func() { c.Close() })
	require.NoError(s.t, c.SetDeadline(time.Now().Add(patience)))
	_, err = io.WriteString(c, text)
	require.NoError(s.t, err)
	return c, bufio.NewReader(c)
}

// Who sends slowly, or nothing, is cut off and never reaches the page.
func TestSlowRequestsAreCutOff(t *testing.T) {
	inCache(t)
	s := serve(t, Options{limits: quick(func(l *limits) {
		l.header, l.read, l.idle = 100*time.Millisecond, 200*time.Millisecond, 100*time.Millisecond
	})}, nil)
	cookie := s.letIn()
	host := "Host: " + s.g.doors[0].hosts[0] + "\r\n"
	post := "POST /t HTTP/1.1\r\n" + host + cookie + "\r\n" + plainForm + "\r\n"
	token := s.formToken(0, cookie)
	for name, begun := range map[string]string{
		"nothing":                "",
		"a line":                 "GET / HTTP/1.1\r\n",
		"no end of headers":      "GET / HTTP/1.1\r\n" + host + cookie + "\r\n",
		"no body":                post + "Content-Length: 50\r\n\r\n",
		"half a body":            post + "Content-Length: 500\r\n\r\ntoken=" + token,
		"half a chunk":           post + "Transfer-Encoding: chunked\r\n\r\n100\r\ntoken=" + token,
		"half a form with files": strings.Replace(post, plainForm, "Content-Type: multipart/form-data; boundary=b", 1) + "Content-Length: 500\r\n\r\n--b\r\nContent-Disp",
	} {
		_, r := s.dial(begun)
		rest, err := io.ReadAll(r) // until the server closes
		require.NoError(t, err, name)
		if len(rest) > 0 {
			assert.Regexp(t, "^HTTP/1.1 40[08] ", string(rest), name)
			assert.Contains(t, string(rest), "Nothing was saved", name)
		}
	}
	// One that drips header after header is cut off too.
	c, r := s.dial("GET / HTTP/1.1\r\n" + host)
	go func() {
		for i := 0; ; i++ {
			if _, err := fmt.Fprintf(c, "X-%d: x\r\n", i); err != nil {
				return
			}
			time.Sleep(10 * time.Millisecond)
		}
	}()
	_, err := r.ReadByte()
	assert.Error(t, err)
	assert.False(t, errors.Is(err, context.DeadlineExceeded) || errors.Is(err, net.ErrClosed), err)
	// And one that asks once and stays.
	_, r = s.dial("GET / HTTP/1.1\r\n" + host + cookie + "\r\n\r\n")
	_, err = io.ReadAll(r)
	assert.NoError(t, err)
	assert.EqualValues(t, 1, s.reached.Load())
}

func TestLargeHeadersAreRefused(t *testing.T) {
	inCache(t)
	s := serve(t, Options{}, nil)
	cookie := s.letIn()
	a := s.get(0, "/", cookie, "X-Long: "+strings.Repeat("x", 60<<10))
	assert.Equal(t, http.StatusOK, a.StatusCode)
	a, err := s.trySend(0, ask{method: "GET", target: "/", headers: []string{cookie, "X-Long: " + strings.Repeat("x", 80<<10)}})
	if err == nil {
		assert.Equal(t, http.StatusRequestHeaderFieldsTooLarge, a.StatusCode)
	}
	assert.EqualValues(t, 1, s.reached.Load())
}

// An answer that is under way when the server is stopped is finished.
func TestStopFinishesRequest(t *testing.T) {
	inCache(t)
	begun, finish := make(chan struct{}), make(chan struct{})
	s := serve(t, Options{}, func(w http.ResponseWriter, r *http.Request) {
		close(begun)
		<-finish
		assert.NoError(t, r.Context().Err())
		io.WriteString(w, "whole")
	})
	cookie := s.letIn()
	got := make(chan answer)
	go func() {
		a, err := s.trySend(0, ask{method: "GET", target: "/", headers: []string{cookie}})
		assert.NoError(t, err)
		got <- a
	}()
	<-begun
	s.stopServer()
	require.Eventually(t, func() bool { // nobody else is taken
		c, err := net.Dial("tcp", s.g.doors[0].address)
		if err == nil {
			c.Close()
		}
		return err != nil
	}, patience, time.Millisecond)
	select {
	case err := <-s.ended:
		require.Fail(t, "the server has stopped in the midst of an answer", "%v", err)
	default:
	}
	close(finish)
	a := <-got
	assert.Equal(t, http.StatusOK, a.StatusCode)
	assert.Equal(t, "whole", a.text)
	s.stop()
}

// An answer that has no end is cut off, and connections without a request do not
// keep the server.
func TestStopHasAnEnd(t *testing.T) {
	inCache(t)
	begun, left := make(chan struct{}), make(chan struct{})
	s := serve(t, Options{limits: quick(func(l *limits) { l.stop = 50 * time.Millisecond })}, func(w http.ResponseWriter, r *http.Request) {
		close(begun)
		<-r.Context().Done()
		close(left)
	})
	s.dial("GET / HTTP/1.1\r\nHost: " + s.g.doors[0].hosts[0] + "\r\n" + s.letIn() + "\r\n\r\n")
	<-begun
	s.stop()
	<-left

	s = serve(t, Options{limits: quick(func(l *limits) { l.stop = time.Hour })}, nil)
	_, r := s.dial("")
	s.letIn() // by another connection, so that this one has been accepted
	s.stop()
	_, err := r.ReadByte()
	assert.Error(t, err)
}

// Connections by which nothing was asked are closed, and later ones at once; those
// that are in use are not.
func TestUnusedConnections(t *testing.T) {
	var u unusedConns
	var conns, ends [3]net.Conn
	for i := range conns {
		conns[i], ends[i] = net.Pipe()
		require.NoError(t, ends[i].SetDeadline(time.Now().Add(patience)))
	}
	u.note(conns[0], http.StateNew)
	u.note(conns[1], http.StateNew)
	u.note(conns[1], http.StateActive)
	u.close()
	u.note(conns[2], http.StateNew)
	for _, i := range []int{0, 2} {
		_, err := ends[i].Read(make([]byte, 1))
		assert.ErrorIs(t, err, io.EOF)
	}
	go io.WriteString(conns[1], "x")
	_, err := ends[1].Read(make([]byte, 1))
	assert.NoError(t, err)
}

// A listener that fails ends the server with its error.
func TestListenerFails(t *testing.T) {
	inCache(t)
	s := serve(t, aside(t), nil)
	s.g.doors[1].Close()
	assert.ErrorIs(t, <-s.ended, net.ErrClosed)
	_, err := net.Dial("tcp", s.g.doors[0].address)
	assert.Error(t, err, "the other door is closed too")
	s.ended <- nil
}

// Two answers are computed at a time; who leaves while waiting gives up the place
// in the queue, and who leaves while computing is told.
func TestComputing(t *testing.T) {
	inCache(t)
	var mu sync.Mutex
	running, most := 0, 0
	begun, finish, left := make(chan struct{}, 100), make(chan struct{}), make(chan error, 100)
	var g *Guard
	s := serve(t, Options{}, func(w http.ResponseWriter, r *http.Request) {
		release, err := g.Computing(r.Context())
		if err != nil {
			left <- err
			return
		}
		defer release()
		mu.Lock()
		running++
		most = max(most, running)
		mu.Unlock()
		begun <- struct{}{}
		select {
		case <-finish:
		case <-r.Context().Done():
			left <- r.Context().Err()
		}
		mu.Lock()
		running--
		mu.Unlock()
	})
	g = s.g
	cookie := s.letIn()
	get := "GET / HTTP/1.1\r\nHost: " + s.g.doors[0].hosts[0] + "\r\n" + cookie + "\r\n\r\n"
	first, _ := s.dial(get)
	s.dial(get)
	<-begun
	<-begun
	third, _ := s.dial(get)
	require.Eventually(t, func() bool { return s.reached.Load() == 3 }, patience, time.Millisecond)
	third.Close() // while it waits
	assert.ErrorIs(t, <-left, context.Canceled)
	assert.Empty(t, begun)

	var wg sync.WaitGroup
	for range 6 {
		wg.Go(func() {
			a, err := s.trySend(0, ask{method: "GET", target: "/", headers: []string{cookie}})
			assert.NoError(t, err)
			assert.Equal(t, http.StatusOK, a.StatusCode)
		})
	}
	first.Close() // while it computes
	assert.ErrorIs(t, <-left, context.Canceled)
	<-begun // the next has its place
	close(finish)
	wg.Wait()
	assert.Equal(t, 2, most)

	ended, cancel := context.WithCancel(t.Context())
	cancel()
	_, err := g.Computing(ended)
	assert.ErrorIs(t, err, context.Canceled)
	release, err := g.Computing(t.Context())
	require.NoError(t, err)
	release()
	release() // as of no effect
	for range 2 {
		_, err = g.Computing(t.Context())
		require.NoError(t, err)
	}
}

// An event stream outlasts every deadline; there are eight, and they end with the
// server.
func TestStreams(t *testing.T) {
	inCache(t)
	ended := make(chan error, 100)
	events := make(chan string)
	var g *Guard
	s := serve(t, Options{limits: quick(func(l *limits) {
		l.header, l.read, l.write, l.idle, l.stop = time.Second, 100*time.Millisecond, 150*time.Millisecond, 100*time.Millisecond, time.Hour
	})}, func(w http.ResponseWriter, r *http.Request) {
		stream, err := g.Stream(w, r)
		if err != nil {
			ended <- err
			return
		}
		defer stream.Close()
		for {
			select {
			case e := <-events:
				assert.NoError(t, stream.Send("changed", e))
			case <-stream.Context().Done():
				assert.Error(t, stream.Send("changed", "too late"))
				ended <- context.Cause(stream.Context())
				return
			}
		}
	})
	g = s.g
	get := "GET /events HTTP/1.1\r\nHost: " + s.g.doors[0].hosts[0] + "\r\n" + s.letIn() + "\r\n\r\n"
	open := func() (net.Conn, *bufio.Reader, *http.Response) {
		c, r := s.dial(get)
		a, err := http.ReadResponse(r, nil)
		require.NoError(t, err)
		return c, bufio.NewReader(a.Body), a
	}
	c, r, a := open()
	assert.Equal(t, "text/event-stream", a.Header.Get("Content-Type"))
	assert.Equal(t, "no-store", a.Header.Get("Cache-Control"))
	time.Sleep(500 * time.Millisecond) // beyond all deadlines
	for _, sent := range []string{"strip 7:00", "two\nlines\r\nor\rmore", ""} {
		events <- sent
		want := "event: changed\n"
		for _, line := range strings.Split(strings.NewReplacer("\r\n", "\n", "\r", "\n").Replace(sent), "\n") {
			want += "data: " + line + "\n"
		}
		got := make([]byte, len(want)+1)
		_, err := io.ReadFull(r, got)
		require.NoError(t, err)
		assert.Equal(t, want+"\n", string(got))
	}
	for range 7 {
		open()
	}
	_, _, a = open()
	assert.Equal(t, http.StatusServiceUnavailable, a.StatusCode)
	assert.ErrorIs(t, <-ended, ErrBusy)
	c.Close()
	assert.ErrorIs(t, <-ended, context.Canceled)
	require.Eventually(t, func() bool { return len(g.streams) == 7 }, patience, time.Millisecond)
	_, r, a = open()
	assert.Equal(t, http.StatusOK, a.StatusCode)
	s.stop()
	for range 8 {
		assert.ErrorIs(t, <-ended, http.ErrServerClosed)
	}
	_, err := io.ReadAll(r)
	assert.NoError(t, err, "the stream has an end")
}

func TestStreamRefusesNameOfTwoLines(t *testing.T) {
	s := &Stream{ctx: t.Context()}
	assert.ErrorContains(t, s.Send("a\ndata: b", ""), "the end of a line")
}

// Nothing of a server that has stopped is left running.
func TestNothingIsLeftRunning(t *testing.T) {
	inCache(t)
	o := aside(t)
	once := func() {
		var g *Guard
		s := serve(t, o, func(w http.ResponseWriter, r *http.Request) {
			if stream, err := g.Stream(w, r); err == nil {
				<-stream.Context().Done()
				stream.Close()
			}
		})
		g = s.g
		_, r := s.dial("GET /events HTTP/1.1\r\nHost: " + s.g.doors[0].hosts[0] + "\r\n" + s.letIn() + "\r\n\r\n")
		_, err := r.ReadString('\n')
		require.NoError(t, err)
		s.dial("GET / HTTP/1.1\r\n")
		s.dial("")
		s.keyIn("123456")
		s.pressEnter()
		s.token(2)
		s.stop()
	}
	once()
	time.Sleep(10 * time.Millisecond)
	before := runtime.NumGoroutine()
	for range 5 {
		once()
	}
	for end := time.Now().Add(patience); runtime.NumGoroutine() > before; time.Sleep(10 * time.Millisecond) {
		if time.Now().After(end) {
			stacks := make([]byte, 1<<20)
			require.Fail(t, "something is left", "%s", stacks[:runtime.Stack(stacks, true)])
		}
	}
}

// A page is served without a terminal, and what is typed but Enter says nothing.
func TestTerminalOfOtherKinds(t *testing.T) {
	inCache(t)
	for name, in := range map[string]io.Reader{"none": nil, "at its end": strings.NewReader(""), "no Enter": strings.NewReader("q"), "one line": strings.NewReader("q\n")} {
		var out, errs said
		g, err := New(Options{Notebook: t.TempDir(), Out: &out, Err: &errs, In: in})
		require.NoError(t, err)
		ctx, cancel := context.WithCancel(t.Context())
		done := make(chan error)
		go func() { done <- g.Serve(ctx, http.NotFoundHandler()) }()
		if name == "one line" {
			out.nth(t, 2, `(token=)`)
		} else {
			out.nth(t, 1, `(token=)`)
		}
		cancel()
		require.NoError(t, <-done)
		if name != "one line" {
			assert.Equal(t, 1, strings.Count(out.String(), "\n"), name)
		}
		assert.Equal(t, in != nil, strings.Contains(errs.String(), "Enter here shows a fresh address"), name)
	}
	g, err := New(Options{Notebook: t.TempDir()})
	require.NoError(t, err, "told to nobody")
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	require.NoError(t, g.Serve(ctx, http.NotFoundHandler()))
}
