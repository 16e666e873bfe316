package typeset

import (
	"bytes"
	"crypto/sha256"
	"embed"
	"encoding/base64"
	"fmt"
	"html/template"
	"io"
	"io/fs"
	"path"
	"strings"
	"sync"
)

// A Page is what a template sets.
type Page struct {
	Title    string // of the page, its one heading
	Notebook string // the name of the notebook's folder
	Part     string // of Parts, the one that the page belongs to
	Bare     bool   // no navigation: while something is under way
	Theme    string // of Themes
	Token    string // of the forms of this page
	Address  string // of this page, to come back to
	Terminal string // the command that gives the same; "" for none
	Content  any    // what the template of the page says
}

// A Part of the notebook is one that every page leads to.
type Part struct{ Address, Name string }

// Parts are those that the head of a page leads to.
var Parts = []Part{{"/", "Notebook"}, {"/scene", "Scene"}, {"/session", "Session"}, {"/compare", "Compare"},
	{"/control", "Control"}, {"/card", "Card"}, {"/log", "Log"}, {"/help", "Help"}}

// A Theme is how a page looks: by the system, on white, on black, or in red alone.
type Theme struct{ Value, Name string }

// Themes are those that the foot of a page offers.
var Themes = []Theme{{"auto", "as the system"}, {"light", "light"}, {"dark", "dark"}, {"red", "red"}}

// Parts returns the parts that the head of the page leads to.
func (p *Page) Parts() []Part { return Parts }

// Themes returns the themes that the foot of the page offers.
func (p *Page) Themes() []Theme { return Themes }

// Look returns the theme of the page, as its value.
func (p *Page) Look() string {
	if p.Theme == "" {
		return Themes[0].Value
	}
	return p.Theme
}

//go:embed templates style.css *.js
var files embed.FS

// Asset returns a file that pages refer to, by its name, and its media type; ok is false
// for any other name.
func Asset(name string) (data []byte, mediaType string, ok bool) {
	switch {
	case name == "style.css":
		mediaType = "text/css; charset=utf-8"
	case strings.HasSuffix(name, ".js"):
		mediaType = "text/javascript; charset=utf-8"
	default:
		return nil, "", false
	}
	data, err := files.ReadFile(name)
	return data, mediaType, err == nil
}

// sheet returns the style sheet.
func sheet() string {
	text, _, _ := Asset("style.css")
	return string(text)
}

// Policy returns what a page may load and run that stands alone and whose one style element
// holds the text: nothing but that.
func Policy(style string) string {
	sum := sha256.Sum256([]byte(style))
	return "default-src 'none'; style-src 'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) + "'; base-uri 'none'; form-action 'none'"
}

// shared are the templates that every page is made with: its head and foot, and the
// pieces that several pages have.
const shared = "templates/shared/*.html"

var set = sync.OnceValues(func() (map[string]*template.Template, error) {
	base, err := template.New("").Funcs(functions).ParseFS(files, shared)
	if err != nil {
		return nil, err
	}
	pages, err := fs.Glob(files, "templates/*.html")
	if err != nil {
		return nil, err
	}
	all := map[string]*template.Template{}
	for _, file := range pages {
		t, err := base.Clone()
		if err != nil {
			return nil, err
		}
		if _, err = t.ParseFS(files, file); err != nil {
			return nil, err
		}
		all[strings.TrimSuffix(path.Base(file), ".html")] = t
	}
	return all, nil
})

// A heading is that of a part.
type heading struct{ ID, Text string }

// warned are warnings.
type warned struct {
	ID       string
	Warnings []string
}

// functions are what templates call.
var functions = template.FuncMap{
	// on passes a page and what one of its pieces says to a template of that piece.
	"on": func(p *Page, content any) *Page {
		q := *p
		q.Content = content
		return &q
	},
	// sheet is the style sheet, and policy what a page that holds it as its one style may
	// load and run, which is nothing else.
	"sheet":  func() template.CSS { return template.CSS(sheet()) }, // our own
	"policy": func() string { return Policy(sheet()) },
	// warned passes warnings that are the only ones of a page.
	"warned": func(of []string) warned { return warned{Warnings: of} },
	// heading passes the words of a heading, and what it is called among those of a page.
	"heading": func(prefix, name, text string) heading { return heading{prefix + name, text} },
}

// Write sets the page by the template of the name, and writes it once it is whole.
func Write(w io.Writer, name string, p *Page) error {
	all, err := set()
	if err != nil {
		return err
	}
	t := all[name]
	if t == nil {
		return fmt.Errorf("there is no page %q", name)
	}
	var b bytes.Buffer
	if err := t.ExecuteTemplate(&b, "page", p); err != nil {
		return err
	}
	_, err = w.Write(b.Bytes())
	return err
}
