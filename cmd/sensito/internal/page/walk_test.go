package page_test

import (
	"context"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/cmd/sensito/internal/page"
	"sensito/sensito/notebook/notebooktest"
)

// everybody is a gate that stops nobody.
type everybody struct{ page.Gate }

func (everybody) FormToken(*http.Request) string                        { return "token" }
func (everybody) Computing(context.Context) (release func(), err error) { return func() {}, nil }

const demo = "../../demo"

// demoNotebook is a folder with the files of the demonstration, and others by name.
func demoNotebook(t testing.TB, others map[string]string) string {
	t.Helper()
	dir := t.TempDir()
	require.NoError(t, os.CopyFS(dir, os.DirFS(demo)))
	for name, text := range others {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte(text), 0o666))
	}
	return dir
}

// served is a notebook that answers.
func served(t testing.TB, dir string) *page.Server {
	t.Helper()
	s, err := page.New(dir, everybody{})
	require.NoError(t, err)
	return s
}

// got returns the answer to a GET.
func got(t testing.TB, s *page.Server, address string) (status int, body string) {
	t.Helper()
	w := httptest.NewRecorder()
	s.ServeHTTP(w, httptest.NewRequest(http.MethodGet, address, nil))
	if to := w.Header().Get("Location"); w.Code/100 == 3 && to != "" {
		return got(t, s, to)
	}
	return w.Code, w.Body.String()
}

// coming are addresses that pages lead to and that may have no screen yet.
var coming = []string{"/compare", "/control", "/control/{log}", "/report", "/new", "/plan",
	"/import", "/import/{file}", "/t/{trial}/change", "/t/{trial}/strips/", "/t/{trial}/undo"}

// matching returns the pattern that an address falls under, "" for none.
func matching(patterns []string, address string) string {
	mux := http.NewServeMux()
	for _, p := range patterns {
		mux.HandleFunc(p, func(http.ResponseWriter, *http.Request) {})
	}
	_, pattern := mux.Handler(httptest.NewRequest(http.MethodGet, address, nil))
	return pattern
}

// mostVisits is how many pages of strips and of their steps, and of one question asked in
// several ways, a walk looks at, which are alike.
const mostVisits = 5

// A walk follows every link from the first page on.
type walk struct {
	pages  map[string]string // by address, without fragment
	status map[string]int
	dead   []string
}

func walked(t testing.TB, s *page.Server) *walk {
	t.Helper()
	w := &walk{pages: map[string]string{}, status: map[string]int{}}
	type place struct{ from, to string }
	var fragments []place
	queue := []place{{"", "/"}}
	seen, visits, known := map[string]bool{}, map[string]int{}, patterns(t)
	for len(queue) > 0 {
		at := queue[0]
		queue = queue[1:]
		if path, fragment, has := strings.Cut(at.to, "#"); has {
			fragments = append(fragments, place{path, fragment})
			at.to = path
		}
		pattern := matching(known, at.to)
		if at.to == "" || seen[at.to] || visits[pattern] == mostVisits {
			continue
		}
		seen[at.to] = true
		if strings.Contains(at.to, ".pdf?") { // a file to keep; TestPDF
			continue
		}
		if strings.Contains(pattern, "{n}") || strings.Contains(at.to, "?") {
			visits[pattern]++
		}
		status, body := got(t, s, at.to)
		switch {
		case status == http.StatusNotFound && matching(coming, at.to) != "":
			continue
		case status == http.StatusNotFound:
			w.dead = append(w.dead, at.from+" -> "+at.to)
			continue
		}
		w.pages[at.to], w.status[at.to] = body, status
		for _, tag := range tags(t, body) {
			if tag.Name.Local == "a" {
				to, err := url.Parse(at.to)
				require.NoError(t, err)
				to, err = to.Parse(attribute(tag, "href"))
				require.NoError(t, err)
				queue = append(queue, place{at.to, to.String()})
			}
		}
	}
	for _, f := range fragments {
		if body, ok := w.pages[f.from]; ok && !strings.Contains(body, fmt.Sprintf("id=%q", f.to)) {
			w.dead = append(w.dead, f.from+"#"+f.to)
		}
	}
	return w
}

// tags returns the elements of a page.
func tags(t testing.TB, body string) []xml.StartElement {
	t.Helper()
	d := xml.NewDecoder(strings.NewReader(body))
	d.Strict, d.AutoClose, d.Entity = false, xml.HTMLAutoClose, xml.HTMLEntity
	var out []xml.StartElement
	for {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			return out
		}
		require.NoError(t, err, body)
		if start, is := token.(xml.StartElement); is {
			out = append(out, start.Copy())
		}
	}
}

func attribute(e xml.StartElement, name string) string {
	for _, a := range e.Attr {
		if a.Name.Local == name {
			return a.Value
		}
	}
	return ""
}

// carriers are attributes that hold an address.
var carriers = []string{"href", "src", "action", "formaction", "poster", "data", "srcset", "cite", "ping"}

// faults returns what a page may not hold: the page's policy forbids it, or it does not
// print.
func faults(t testing.TB, body string) []string {
	t.Helper()
	var out []string
	ids, headings := map[string]bool{}, 0
	for _, e := range tags(t, body) {
		name := e.Name.Local
		switch {
		case name == "style" || name == "base" || name == "iframe" || name == "object" || name == "embed":
			out = append(out, "element "+name)
		case name == "script" && attribute(e, "src") == "":
			out = append(out, "inline script")
		case name == "h1":
			headings++
		}
		for _, a := range e.Attr {
			key := strings.ToLower(a.Name.Local)
			switch {
			case key == "style", strings.HasPrefix(key, "on"):
				out = append(out, "attribute "+key+" of "+name)
			case slices.Contains(carriers, key) && a.Value != "" && !strings.HasPrefix(a.Value, "#") && (!strings.HasPrefix(a.Value, "/") || strings.HasPrefix(a.Value, "//")):
				out = append(out, fmt.Sprintf("address %q of %s %s", a.Value, name, key))
			case strings.Contains(a.Value, "url("):
				out = append(out, "reference "+a.Value)
			case key == "id" && ids[a.Value]:
				out = append(out, "id "+a.Value+" twice")
			case key == "id":
				ids[a.Value] = true
			}
		}
	}
	if headings != 1 {
		out = append(out, fmt.Sprintf("%d headings h1", headings))
	}
	for _, r := range body {
		if r < ' ' && r != '\n' && r != '\t' || r == 0x7f || r >= 0x202a && r <= 0x202e || r == '\ufffd' {
			out = append(out, fmt.Sprintf("character %U", r))
		}
	}
	return out
}

var getPattern = regexp.MustCompile(`s\.get\("([^"]+)"`)

// patterns returns those of all GET routes, as the sources register them.
func patterns(t testing.TB) []string {
	t.Helper()
	sources, err := filepath.Glob("*.go")
	require.NoError(t, err)
	var out []string
	for _, file := range sources {
		text, err := os.ReadFile(file)
		require.NoError(t, err)
		for _, m := range getPattern.FindAllStringSubmatch(string(text), -1) {
			out = append(out, m[1])
		}
	}
	require.Contains(t, out, "/t/{trial}")
	return out
}

// hostile are names and titles that mean something to HTML, an address or a terminal.
var hostile = []string{`<script>alert(1)</script>`, `"quoted" 'twice'`, `100 %2f..%2f ?#&=`, "a\tb\x1b[31m\u202e", `{{.Token}}`, "two\nlines", `x .. \ `, "Größe 日本"}

func hostileFiles(t testing.TB) map[string]string {
	text, err := os.ReadFile(filepath.Join(demo, "larkfield-camera.toml"))
	require.NoError(t, err)
	title := regexp.MustCompile(`(?m)^title.*$`)
	out := map[string]string{
		"torn.toml":     "title = \"<b>torn\n[film",
		"untitled.toml": title.ReplaceAllString(notebooktest.Good, ""),
		"curves.toml":   title.ReplaceAllLiteralString(string(text), fmt.Sprintf("title = %q", hostile[0])), // which are drawn
	}
	for i, h := range hostile {
		name := strings.ReplaceAll(h, "/", "_")
		out[name+".toml"] = title.ReplaceAllLiteralString(notebooktest.Good, fmt.Sprintf("title = %q", h)) // some of them are refused, and so broken files
		out[fmt.Sprintf("paper %d.toml", i)] = title.ReplaceAllLiteralString(notebooktest.GoodPaper, fmt.Sprintf("title = %q", h))
		out[name+".txt"] = h
	}
	return out
}

// No page holds what its policy forbids or what does not print, no link is dead, and each
// answer ends with the command that gives the same, whatever files and titles are called.
func TestPagesAreClean(t *testing.T) {
	dir := demoNotebook(t, hostileFiles(t))
	s := served(t, dir)
	begun := httptest.NewRecorder()
	s.ServeHTTP(begun, httptest.NewRequest(http.MethodPost, "/session?trial=larkfield-brinewater&range=7", nil))
	require.Equal(t, http.StatusSeeOther, begun.Code, "a session that runs")
	w := walked(t, s)
	assert.Empty(t, w.dead)
	all, met := patterns(t), map[string]bool{}
	for address, body := range w.pages {
		if pattern := matching(all, address); pattern != "" {
			met[pattern] = true
		}
		assert.Empty(t, faults(t, body), address)
		assert.NotContains(t, body, "<script>", address)
		assert.Contains(t, body, "</html>", address)
		assert.Contains(t, body, "Chemicals are hazardous", address)
		if w.status[address] == http.StatusOK {
			assert.Contains(t, body, "In the terminal: <code>sensito ", address)
		}
	}
	for _, p := range all {
		if matching(coming, strings.ReplaceAll(p, "{$}", "")) == "" && filepath.Ext(p) == "" && filepath.Base(p) != "events" && !strings.HasSuffix(p, "/state") {
			assert.True(t, met[p], "no page leads to %s", p)
		}
	}
	for _, h := range hostile {
		assert.Contains(t, w.pages, "/t/"+url.PathEscape(strings.ReplaceAll(h, "/", "_")), "%q", h)
	}
}

// A command can be copied into a shell, whatever the folder is called.
func TestTerminal(t *testing.T) {
	dir := filepath.Join(demoNotebook(t, nil), "it's here")
	require.NoError(t, os.CopyFS(dir, os.DirFS(demo)))
	_, body := got(t, served(t, dir), "/t/larkfield-camera")
	assert.Contains(t, body, `<code>sensito scene &#39;it&#39;\&#39;&#39;s here/larkfield-camera.toml&#39; --range 7</code>`)
}

// What is none of the notebook's files is not shown, by whatever path or link.
func TestOnlyTheNotebook(t *testing.T) {
	dir := demoNotebook(t, nil)
	inner := filepath.Join(dir, "inner")
	require.NoError(t, os.CopyFS(inner, os.DirFS(demo)))
	for _, linked := range []string{"larkfield-camera.toml", "slate.toml", "control.toml"} {
		require.NoError(t, os.Symlink(filepath.Join(dir, linked), filepath.Join(inner, "link to "+linked)))
	}
	s := served(t, inner)
	for _, address := range []string{"/t/link%20to%20larkfield-camera", "/p/link%20to%20slate"} {
		status, body := got(t, s, address)
		assert.Equal(t, http.StatusUnprocessableEntity, status, address)
		assert.Contains(t, body, "cannot be read", address)
		assert.NotContains(t, body, "Brinewater", address)
		assert.NotContains(t, body, dir, address)
	}
	_, body := got(t, s, "/")
	assert.Contains(t, body, "link to control.toml cannot be read</a>")
	assert.Equal(t, 1, strings.Count(body, "A tank of Brinewater"))
	for _, address := range []string{"/t/..%2flarkfield-camera", "/t/%2e%2e%2flarkfield-camera", "/t/..%5clarkfield-camera", "/t/larkfield-camera.toml", "/t/",
		"/p/larkfield-camera", "/t/" + url.PathEscape(filepath.Join(dir, "larkfield-camera")), "/help/..%2ftopics", "/help/words.md", "/nothing"} {
		status, body := got(t, s, address)
		assert.Equal(t, http.StatusNotFound, status, address)
		assert.NotContains(t, body, "Brinewater", address)
	}
}
