package guard

import (
	"fmt"
	"net/http"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A wrong is one thing that is wrong with a request which is right otherwise.
type wrong struct {
	of      string // what is wrong: two of one kind are not put together
	name    string
	methods string // of which requests
	status  int    // when nothing else is wrong
	spoil   func(*request)
}

// A request is one of a browser, in parts that can be spoilt one by one.
type request struct {
	ask
	cookie, token string
	site          []string // Origin and Sec-Fetch headers
	fill          int      // bytes of one more field
	chunked       bool
}

func (r request) wire() ask {
	a := r.ask
	a.headers = slices.Concat(a.headers, r.site)
	if r.cookie != "" {
		a.headers = append(a.headers, "Cookie: "+r.cookie)
	}
	if a.method != "GET" && a.method != "HEAD" {
		a.headers = append(a.headers, plainForm)
		a.body = "reading=1.18"
		if r.token != "" {
			a.body = "token=" + r.token + "&" + a.body
		}
		if r.fill > 0 {
			a.body += "&note=" + strings.Repeat("x", r.fill)
		}
		if r.chunked {
			a.headers = append(a.headers, "Transfer-Encoding: chunked")
			a.body = fmt.Sprintf("%x\r\n%s\r\n0\r\n\r\n", len(a.body), a.body)
		}
	}
	return a
}

// TestHostileRequests sends requests of which one thing is wrong, and two, and
// finds that none is answered by the page; those with nothing wrong are.
func TestHostileRequests(t *testing.T) {
	inCache(t)
	s := serve(t, aside(t), nil)
	other := serve(t, Options{}, nil)
	cookie := strings.TrimPrefix(s.letIn(), "Cookie: ")
	elsewhere := strings.TrimPrefix(other.letIn(), "Cookie: ")
	name, value, _ := strings.Cut(cookie, "=")
	_, otherValue, _ := strings.Cut(elsewhere, "=")
	parts := strings.Split(value, ".")
	d := s.g.doors[0]
	port := d.port()
	old := keys{s.g.keys.secret, func() time.Time { return time.Now().Add(-localLife - time.Minute) }}
	future := keys{s.g.keys.secret, func() time.Time { return time.Now().Add(48 * time.Hour) }}
	flipped := []byte(value)
	flipped[len(flipped)-2] ^= 1
	another := []byte("A" + parts[0][1:])
	if parts[0][0] == 'A' {
		another[0] = 'B'
	}

	var wrongs []wrong
	add := func(of, methods string, status int, name string, spoil func(*request)) {
		wrongs = append(wrongs, wrong{of, name, methods, status, spoil})
	}
	const all = "GET HEAD POST"
	for _, method := range []string{"PUT", "DELETE", "PATCH", "OPTIONS", "TRACE", "CONNECT", "get", "Post", "BREW"} {
		status := http.StatusMethodNotAllowed
		if method == "CONNECT" { // which asks for a host and no path
			status = 0
		}
		add("method", "POST", status, method, func(r *request) { r.method = method })
	}
	for _, host := range []string{"evil.example", fmt.Sprintf("evil.example:%d", port), "127.0.0.1", "localhost", fmt.Sprintf("127.0.0.1:%d", port+1),
		fmt.Sprintf("localhost.evil.example:%d", port), fmt.Sprintf("0.0.0.0:%d", port), fmt.Sprintf("[::1]:%d", port), fmt.Sprintf("127.0.0.1.:%d", port),
		fmt.Sprintf("127.1:%d", port), fmt.Sprintf("2130706433:%d", port), fmt.Sprintf("127.0.0.2:%d", port), fmt.Sprintf("127.0.0.1:0%d", port)} {
		add("host", all, http.StatusMisdirectedRequest, host, func(r *request) { r.host = host })
	}
	for _, origin := range []string{"http://evil.example", "https://evil.example", "null", fmt.Sprintf("http://127.0.0.1:%d", port+1),
		fmt.Sprintf("http://localhost.evil.example:%d", port), "file://", "http://"} {
		add("site", all, http.StatusForbidden, "Origin "+origin, func(r *request) { r.site = []string{"Origin: " + origin} })
	}
	for _, site := range []string{"cross-site", "same-site", "none, cross-site", "nonsense"} {
		for _, mode := range []string{"cors", "no-cors", "websocket"} {
			add("site", all, http.StatusForbidden, "Sec-Fetch-Site "+site+" "+mode, func(r *request) {
				r.site = []string{"Sec-Fetch-Site: " + site, "Sec-Fetch-Mode: " + mode, "Sec-Fetch-Dest: empty"}
			})
		}
		add("site", "POST", http.StatusForbidden, "Sec-Fetch-Site "+site+" navigate", func(r *request) {
			r.site = []string{"Sec-Fetch-Site: " + site, "Sec-Fetch-Mode: navigate", "Sec-Fetch-Dest: document"}
		})
		add("site", all, http.StatusForbidden, "Sec-Fetch-Site "+site+" frame", func(r *request) {
			r.site = []string{"Sec-Fetch-Site: " + site, "Sec-Fetch-Mode: navigate", "Sec-Fetch-Dest: iframe"}
		})
	}
	for what, c := range map[string]string{
		"none": "", "empty": name + "=", "garbage": name + "=garbage", "two parts": name + "=" + parts[0] + "." + parts[1],
		"flipped": name + "=" + string(flipped), "another id": name + "=" + string(another) + "." + parts[1] + "." + parts[2],
		"another time":           name + "=" + parts[0] + "." + parts[1] + "0." + parts[2],
		"no code":                name + "=" + parts[0] + "." + parts[1] + ".",
		"a fourth part":          name + "=" + value + ".x",
		"expired":                name + "=" + old.newCookie(d.address),
		"of days to come":        name + "=" + future.newCookie(d.address),
		"of another port":        elsewhere,
		"of another port, named": name + "=" + otherValue,
		"of the other door":      name + "=" + s.g.keys.newCookie(s.g.doors[1].address),
		"of another notebook":    name + "=" + other.g.keys.newCookie(d.address),
		"by another name":        "sensito=" + value,
	} {
		add("cookie", all, http.StatusForbidden, "cookie "+what, func(r *request) { r.cookie = c })
	}
	anotherToken := s.formToken(0, "x="+s.g.keys.newCookie(d.address))
	for what, token := range map[string]string{"none": "", "garbage": "garbage", "of another cookie": anotherToken, "the cookie": value,
		"shortened": s.formToken(0, cookie)[1:], "lengthened": s.formToken(0, cookie) + "A"} {
		add("token", "POST", http.StatusForbidden, "token "+what, func(r *request) { r.token = token })
	}
	add("token", "POST", http.StatusForbidden, "token in the address", func(r *request) {
		r.target, r.token = r.target+"?token="+r.token, ""
	})
	for _, path := range []string{"/..", "/../", "/t/../secret", "/t/..", "/./t", "/t/.", "/%2e%2e/secret", "/%2E%2e/", "/t/%2e%2e", "/t/.%2e/x", "/t/%2e", "//evil.example/",
		"/t//x", "/t/x//", `/t\..\x`, "/t/%5c..%5cx", `\\evil.example\x`, "/t/%2fetc", "/t/..%2f..%2fetc", "/%2f%2fevil.example", "/t/%00", "/t/x%00.toml", "/t/%0a", "/t/%0d%0aSet-Cookie:x=y",
		"/t/%7f", "/t/%1b[2J", "/t/%c2%85", "/t/%252e%252e/x", "/t/%25252e%25252e/x", "/t/%252f", "/t/%255c", "/t/%2500", "/t/%c0%ae%c0%ae/x", "/t/%ff", "/t?a=%zz", "/t?a;b",
		"/t/a%2fb", "/t/a%2Fb",
		"http://evil.example/t", "http://127.0.0.1/t", "http://" + d.hosts[0] + "/t", "*", "/t/%", "t"} {
		add("path", all, 0, "path "+path, func(r *request) { r.target = path })
	}
	add("body", "GET HEAD", http.StatusBadRequest, "with a body", func(r *request) { r.headers, r.body = append(r.headers, "Content-Length: 1"), "x" })
	add("body", "POST", http.StatusRequestEntityTooLarge, "body too large", func(r *request) { r.fill = 1 << 20 })
	add("body", "POST", http.StatusRequestEntityTooLarge, "body too large in chunks", func(r *request) { r.fill, r.chunked = 1<<20, true })
	add("body", "POST", http.StatusRequestEntityTooLarge, "body said to be too large", func(r *request) { r.headers = append(r.headers, "Content-Length: 1048577") })
	add("body", "POST", http.StatusUnsupportedMediaType, "JSON", func(r *request) { r.headers = append(r.headers, "Content-Type: application/json") })
	add("body", "POST", http.StatusUnsupportedMediaType, "text", func(r *request) { r.headers = append(r.headers, "Content-Type: text/plain") })
	add("body", "POST", http.StatusUnsupportedMediaType, "no kind", func(r *request) { r.headers = append(r.headers, "Content-Type: ") })

	right := func(method string) *request {
		r := &request{ask: ask{method: method, target: "/t/larkfield.toml", host: d.hosts[0]}, cookie: cookie,
			site: []string{"Sec-Fetch-Site: same-origin"}}
		if method == "POST" {
			r.token = s.formToken(0, cookie)
		}
		return r
	}
	refused := 0
	try := func(method string, ws ...wrong) {
		r := right(method)
		var names []string
		for _, w := range ws {
			w.spoil(r)
			names = append(names, w.name)
		}
		before := s.reached.Load()
		a, err := s.trySend(0, r.wire())
		refused++
		what := method + ", " + strings.Join(names, ", ")
		if err != nil {
			assert.ErrorIs(t, err, syscall.ECONNRESET, what)
			assert.True(t, unreadable(ws), what)
			assert.Equal(t, before, s.reached.Load(), "%s reached the page", what)
			return
		}
		if !assert.Equal(t, before, s.reached.Load(), "%s reached the page", what) {
			return
		}
		if a.StatusCode < 400 || a.StatusCode >= 500 || len(a.Cookies()) > 0 || a.Header.Get("Location") != "" {
			t.Errorf("%s: %s", what, a.Status)
		}
		if len(ws) == 1 && ws[0].status != 0 {
			assert.Equal(t, ws[0].status, a.StatusCode, what)
		}
		if a.Header.Get("Content-Type") == "text/html; charset=utf-8" { // by the guard, and not by net/http, which could not read it
			checkHeaders(t, a, "no-referrer")
		} else {
			assert.Equal(t, http.StatusBadRequest, a.StatusCode, what)
			assert.True(t, unreadable(ws), what)
		}
	}
	for i, w := range wrongs {
		for method := range strings.FieldsSeq(w.methods) {
			try(method, w)
			if testing.Short() {
				continue
			}
			for _, v := range wrongs[i+1:] {
				if v.of != w.of && strings.Contains(v.methods, method) && !(v.of == "body" && w.of == "body") && (method == "POST" || i%3 == 0) && v.name != "body too large" {
					try(method, w, v)
				}
			}
		}
	}
	t.Logf("%d requests refused", refused)
	require.Greater(t, refused, 200)

	for _, method := range strings.Fields(all) {
		for _, change := range []func(*request){
			func(*request) {},
			func(r *request) { r.host = d.hosts[1] },
			func(r *request) { r.host = strings.ToUpper(d.hosts[1]) },
			func(r *request) { r.site = nil },
			func(r *request) { r.site = []string{"Sec-Fetch-Site: none"} },
			func(r *request) { r.site = []string{"Origin: http://" + r.host} },
			func(r *request) { r.cookie = elsewhere + "; " + name + "=garbage; " + cookie },
			func(r *request) { r.target = "/t/a%20b%25c..d/Köln.toml?range=7&paper=slate%2Fx.toml" },
			func(r *request) { r.fill = 1<<20 - 200 },
			func(r *request) { r.fill, r.chunked = 1<<19, true },
		} {
			r := right(method)
			change(r)
			before := s.reached.Load()
			a := s.send(0, r.wire())
			assert.Equal(t, http.StatusOK, a.StatusCode, "%.300s\n%s", r.wire(), a.text)
			assert.Equal(t, before+1, s.reached.Load())
			checkHeaders(t, a, "no-referrer")
		}
	}
	// A link on another page may lead here.
	for _, site := range []string{"cross-site", "same-site"} {
		r := right("GET")
		r.site = []string{"Sec-Fetch-Site: " + site, "Sec-Fetch-Mode: navigate", "Sec-Fetch-Dest: document"}
		assert.Equal(t, http.StatusOK, s.send(0, r.wire()).StatusCode)
	}
	assert.Zero(t, other.reached.Load())
}

// unreadable says whether net/http itself may refuse a request with these wrongs.
func unreadable(ws []wrong) bool {
	return slices.ContainsFunc(ws, func(w wrong) bool { return w.of == "path" || w.of == "host" || w.name == "CONNECT" })
}

// checkHeaders holds an answer to the headers of all.
func checkHeaders(t *testing.T, a answer, referrer string) {
	t.Helper()
	for name, want := range map[string]string{
		"Content-Security-Policy":      "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self'; connect-src 'self'; media-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'",
		"X-Content-Type-Options":       "nosniff",
		"Referrer-Policy":              referrer,
		"Cross-Origin-Opener-Policy":   "same-origin",
		"Cross-Origin-Resource-Policy": "same-origin",
		"Cache-Control":                "no-store",
	} {
		assert.Equal(t, []string{want}, a.Header.Values(name), "%s of %s", name, a.Status)
	}
	assert.NotRegexp(t, `(?i)<(style|script|meta http-equiv)|<[^>]*\s(style|src|on\w+)=|javascript:`, a.text)
}
