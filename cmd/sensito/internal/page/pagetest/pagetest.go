package pagetest

import (
	"context"
	"fmt"
	"html"
	"io"
	"net/http"
	"net/url"
	"regexp"
	"strings"

	"sensito/cmd/sensito/internal/page"
)

// Open is a gate that lets everybody in.
type Open struct{}

// FormToken returns a token that nobody asks for.
func (Open) FormToken(*http.Request) string { return "token" }

// Computing lets every answer be computed at once.
func (Open) Computing(context.Context) (func(), error) { return func() {}, nil }

// Stream begins an answer of events.
func (Open) Stream(w http.ResponseWriter, r *http.Request) (page.Stream, error) {
	w.Header().Set("Content-Type", "text/event-stream")
	return &stream{w, r.Context()}, http.NewResponseController(w).Flush()
}

type stream struct {
	w   http.ResponseWriter
	ctx context.Context
}

func (s *stream) Context() context.Context { return s.ctx }
func (s *stream) Close()                   {}

func (s *stream) Send(event, data string) error {
	fmt.Fprintf(s.w, "event: %s\ndata: %s\n\n", event, data)
	return http.NewResponseController(s.w).Flush()
}

// A Client asks the page at an address, http://127.0.0.1:8000.
type Client struct {
	Base string
	HTTP http.Client
}

// A Page is an answer.
type Page struct {
	Status  int
	Address string // where it led to, without the base
	Text    string
}

// A Form is one of a page, filled in as the page has it.
type Form struct {
	Action string
	Fields url.Values
}

// Get gets the page at an address. The error is that of the connection.
func (c *Client) Get(address string) (*Page, error) {
	return c.page(c.HTTP.Get(c.Base + address))
}

// Submit sends a form with further fields, name and value in turn.
func (c *Client) Submit(f Form, fields ...string) (*Page, error) {
	sent := url.Values{}
	for name, values := range f.Fields {
		sent[name] = values
	}
	for i := 0; i+1 < len(fields); i += 2 {
		sent.Set(fields[i], fields[i+1])
	}
	return c.page(c.HTTP.PostForm(c.Base+f.Action, sent))
}

func (c *Client) page(r *http.Response, err error) (*Page, error) {
	if err != nil {
		return nil, err
	}
	defer r.Body.Close()
	text, err := io.ReadAll(r.Body)
	if err != nil {
		return nil, err
	}
	return &Page{r.StatusCode, r.Request.URL.RequestURI(), string(text)}, nil
}

var (
	form  = regexp.MustCompile(`(?s)<form ([^>]*)>(.*?)</form>`)
	input = regexp.MustCompile(`<input ([^>]*)>`)
	given = regexp.MustCompile(`([a-z-]+)(?:="([^"]*)")?`)
)

func attributes(text string) map[string]string {
	out := map[string]string{}
	for _, a := range given.FindAllStringSubmatch(text, -1) {
		out[a[1]] = html.UnescapeString(a[2])
	}
	return out
}

// Form returns the form of the page that is sent to an address with that ending.
func (p *Page) Form(ending string) (Form, bool) {
	for _, f := range form.FindAllStringSubmatch(p.Text, -1) {
		action := attributes(f[1])["action"]
		if !strings.HasSuffix(action, ending) {
			continue
		}
		out := Form{Action: action, Fields: url.Values{}}
		for _, i := range input.FindAllStringSubmatch(f[2], -1) {
			a := attributes(i[1])
			_, checked := a["checked"]
			if a["name"] != "" && (checked || a["type"] != "radio" && a["type"] != "checkbox") {
				out.Fields.Set(a["name"], a["value"])
			}
		}
		return out, true
	}
	return Form{}, false
}

var between = regexp.MustCompile(`(?s)<[^>]*>`)

// Words returns the text of the page that a reader sees, in one line.
func (p *Page) Words() string {
	return strings.Join(strings.Fields(html.UnescapeString(between.ReplaceAllString(p.Text, " "))), " ")
}
