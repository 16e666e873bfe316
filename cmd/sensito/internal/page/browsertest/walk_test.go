package browsertest

import (
	"html"
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// leastScreens is how many different screens links lead to, those that are under way not
// counted.
const leastScreens = 25

var link = regexp.MustCompile(`<a [^>]*href="([^"]*)"`)

// most is how many addresses of one route are looked at: a strip has one for each step.
const most = 8

// walked returns the addresses that links lead to from the first page on, by route and in
// the order in which they are met.
func walked(s *server) (routes []string, addresses map[string][]string) {
	s.t.Helper()
	client, mux := s.client(), routed(s.t)
	addresses = map[string][]string{}
	broken := map[string][]string{} // of files that cannot be read
	queue, seen := []string{"/"}, map[string]bool{"/": true}
	for i := 0; i < len(queue); i++ {
		_, pattern := mux.Handler(httptest.NewRequest(http.MethodGet, queue[i], nil))
		if len(addresses[pattern]) == most {
			continue
		}
		answer, err := client.Get(s.base + queue[i])
		require.NoError(s.t, err)
		body, err := io.ReadAll(answer.Body)
		answer.Body.Close()
		require.NoError(s.t, err)
		if answer.StatusCode == http.StatusNotFound {
			continue // dead links are found by the tests of the page
		}
		if !strings.HasPrefix(answer.Header.Get("Content-Type"), "text/html") {
			continue // a file to be kept
		}
		require.Contains(s.t, []int{http.StatusOK, http.StatusUnprocessableEntity}, answer.StatusCode, queue[i])
		require.NotEmpty(s.t, pattern, queue[i])
		switch {
		case answer.StatusCode != http.StatusOK:
			broken[pattern] = append(broken[pattern], queue[i])
		case addresses[pattern] == nil:
			routes = append(routes, pattern)
			fallthrough
		default:
			addresses[pattern] = append(addresses[pattern], queue[i])
		}
		for _, m := range link.FindAllStringSubmatch(string(body), -1) {
			to, err := answer.Request.URL.Parse(html.UnescapeString(m[1]))
			require.NoError(s.t, err)
			to.Fragment = ""
			if at := to.RequestURI(); to.Host == answer.Request.URL.Host && !seen[at] {
				seen[at] = true
				queue = append(queue, at)
			}
		}
	}
	for pattern, more := range broken {
		addresses[pattern] = append(addresses[pattern], more...)
	}
	require.GreaterOrEqual(s.t, len(routes), leastScreens, "screens that links lead to: %v", routes)
	return routes, addresses
}

var route = regexp.MustCompile(`s\.get\("([^"]+)"`)

// routed returns a multiplexer that knows the patterns of the page's GET routes.
func routed(t testing.TB) *http.ServeMux {
	t.Helper()
	sources, err := filepath.Glob("../*.go")
	require.NoError(t, err)
	mux := http.NewServeMux()
	for _, file := range sources {
		text, err := os.ReadFile(file)
		require.NoError(t, err)
		for _, m := range route.FindAllStringSubmatch(string(text), -1) {
			mux.HandleFunc(m[1], http.NotFound)
		}
	}
	return mux
}

// fileName returns the name of a picture of an address.
func fileName(address string) string {
	path, err := url.PathUnescape(address)
	if err != nil || path == "/" {
		return "notebook"
	}
	return regexp.MustCompile(`[^A-Za-z0-9]+`).ReplaceAllString(path, "_")[1:]
}
