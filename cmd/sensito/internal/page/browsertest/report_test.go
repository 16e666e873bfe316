package browsertest

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/page"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// asked returns what the tab has asked for since the last time, as the browser's log of the
// network has it.
func (b *tab) asked() []string {
	b.mu.Lock()
	defer b.mu.Unlock()
	out := b.requests
	b.requests = nil
	return out
}

// A report that is opened as a file asks for nothing but itself, neither as it is read, in
// light or dark, narrow or wide, nor as it is printed.
func TestReportAlone(t *testing.T) {
	atLength(t)
	path := filepath.Join(t.TempDir(), "harrow-quay.html")
	out, err := exec.Command(built(t), "report", demoNotebook(t), "-o", path).CombinedOutput()
	require.NoError(t, err, "%s", out)
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	b := newTab(t)
	address := "file://" + path
	open := func() []string {
		b.open(address)
		for width, scheme := range map[int64]string{360: "light", 1280: "dark"} {
			call(b, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}}})
			b.width(width)
			picture(b)
		}
		value[bool](b, `document.fonts.ready.then(() => (scrollTo(0, document.body.scrollHeight), true))`)
		call(b, page.PrintToPDF, page.PrintToPDFParams{PrintBackground: new(true)})
		return b.asked()
	}
	assert.Equal(t, []string{"GET " + address}, open())
	assert.Empty(t, b.reported())
	assert.Greater(t, value[int](b, `document.querySelectorAll('figure svg').length`), 5)

	// What asks for something is seen by such a log: a picture, a face, a sheet, a script. The
	// policy of the report would stop them, and is not there.
	head, _, found := strings.Cut(string(text), `<meta http-equiv="Content-Security-Policy"`)
	require.True(t, found)
	for _, more := range []string{`<img src="picture.png" alt="">`, `<link rel="stylesheet" href="more.css">`, `<style>p { background: url(back.png) }</style>`,
		`<style>@font-face { font-family: Other; src: url(other.woff2) } p { font-family: Other }</style>`,
		`<script>fetch('http://127.0.0.1:9/').catch(() => 0)</script>`, `<link rel="preload" as="image" href="later.png">`} {
		require.NoError(t, os.WriteFile(path, []byte(head+more+"<p>Harrow Quay"), 0o600))
		b.open(address)
		value[bool](b, `document.fonts.ready.then(() => true)`)
		assert.Len(t, b.asked(), 2, more)
	}
}
