package browsertest

import (
	"bytes"
	"encoding/json"
	"fmt"
	"image"
	"image/png"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/network"
	cdp "github.com/chromedp/cdproto/page"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/cmd/sensito/internal/page"
	"sensito/cmd/sensito/internal/page/pagetest"
)

// themes are those of the page, in the order in which a screen is looked at.
var themes = []string{"light", "dark", "red"}

// A look is how a screen is looked at.
type look struct {
	theme string
	width int64
}

// theme sets the cookie of the theme, for the pages that are loaded from now on.
func (b *tab) theme(s *server, name string) {
	b.t.Helper()
	call(b, network.SetCookie, network.SetCookieParams{Name: "look", Value: name, URL: s.base})
}

// sideways are the elements that make a page wider than its window, as far as it is.
const sideways = `(() => {
  const root = document.scrollingElement, most = root.clientWidth;
  if (root.scrollWidth <= most) return [];
  const out = [...document.querySelectorAll('body *')].filter(e => e.getBoundingClientRect().right > most + .5)
    .map(e => e.tagName.toLowerCase() + (e.id ? '#' + e.id : '') + '.' + (e.getAttribute('class') || '') + ' to ' + Math.round(e.getBoundingClientRect().right)
      + ' ' + e.textContent.trim().slice(0, 40));
  return ['scrolls to ' + root.scrollWidth + ' in ' + most, ...out.slice(0, 6)];
})()`

// spacings are sheets under which a page may not scroll sideways either: the text spacing of
// WCAG 1.4.12, and a serif face that is wider than those of the sheet.
var spacings = map[string]string{
	"spacing of WCAG": `* { line-height: 1.5 !important; letter-spacing: .12em !important; word-spacing: .16em !important; } p { margin-bottom: 2em !important; }`,
	"a wide serif":    `:root { --face: "DejaVu Serif" !important; }`,
}

// narrow returns what is wider than the window under the spacings.
func narrow(t *testing.T, b *tab) []string {
	t.Helper()
	var out []string
	for name, sheet := range spacings {
		set, err := json.Marshal(sheet)
		require.NoError(t, err)
		value[bool](b, fmt.Sprintf(`(() => { const s = new CSSStyleSheet(); s.replaceSync(%s); document.adoptedStyleSheets = [s]; return true; })()`, set))
		for _, found := range value[[]string](b, sideways) {
			out = append(out, name+": "+found)
		}
	}
	value[bool](b, `(document.adoptedStyleSheets = [], true)`)
	return out
}

// accessible returns what axe finds.
func accessible(t *testing.T, b *tab) []string {
	t.Helper()
	if axeFile() == "" {
		return nil
	}
	value[bool](b, axe(t)+`; true`)
	return value[[]string](b, `axe.run(document, {resultTypes: ['violations']}).then(r => r.violations.flatMap(v => v.nodes.map(n =>
	  v.id + ': ' + n.target.join(' ') + ' ' + n.any.concat(n.all, n.none).map(c => c.message).join('; '))))`)
}

var axeSource string

// axe returns the source of the checker, read once.
func axe(t testing.TB) string {
	t.Helper()
	if axeSource == "" {
		text, err := os.ReadFile(axeFile())
		require.NoError(t, err)
		axeSource = string(text)
	}
	return axeSource
}

// picture returns what a page looks like in its whole length.
func picture(b *tab) []byte {
	b.t.Helper()
	return call(b, cdp.CaptureScreenshot, cdp.CaptureScreenshotParams{CaptureBeyondViewport: new(true), OptimizeForSpeed: new(true)}).Data
}

// notRed tells of pixels that have green or blue.
func notRed(t testing.TB, shot []byte) []string {
	t.Helper()
	img, err := png.Decode(bytes.NewReader(shot))
	require.NoError(t, err)
	count, first := 0, ""
	note := func(x, y int, r, g, b uint8) {
		if count++; count == 1 {
			first = fmt.Sprintf("%d, %d is %d %d %d", x, y, r, g, b)
		}
	}
	var pix []uint8
	var stride int
	switch i := img.(type) {
	case *image.RGBA:
		pix, stride = i.Pix, i.Stride
	case *image.NRGBA:
		pix, stride = i.Pix, i.Stride
	default:
		require.Fail(t, "a picture of another kind", "%T", img)
	}
	require.Greater(t, len(pix), 100*stride, "the picture is of a page")
	for at := 0; at < len(pix); at += 4 {
		if pix[at+1] != 0 || pix[at+2] != 0 {
			note(at%stride/4, at/stride, pix[at], pix[at+1], pix[at+2])
		}
	}
	if count == 0 {
		return nil
	}
	return []string{fmt.Sprintf("%d pixels are not red; %s", count, first)}
}

// forbidden are elements by which a browser shows something of its own, in its own colours.
const forbidden = `(() => {
  const out = [], tell = (e, why) => out.push(why + ': ' + e.outerHTML.slice(0, 120));
  for (const e of document.querySelectorAll('select, datalist, dialog, iframe, video, [title], [popover], input:is([type=date], [type=time], [type=month], [type=week], [type=datetime-local], [type=color])')) tell(e, 'forbidden');
  for (const e of document.querySelectorAll('form:not([novalidate]) :is([required], [pattern], [min], [max], [type=number], [type=email], [type=url])')) tell(e, 'has a bubble');
  for (const e of document.querySelectorAll('textarea, input:not([type]), input:is([type=text], [type=search], [type=number])')) {
    if (e.spellcheck) tell(e, 'is spell-checked');
    if ((e.autocomplete || e.form?.autocomplete) !== 'off') tell(e, 'is filled in');
  }
  for (const e of document.querySelectorAll('svg title')) {
    if (getComputedStyle(e.parentNode).pointerEvents !== 'none') { tell(e, 'shows a tip'); break; }
  }
  return out;
})()`

// looked checks a screen in the themes and widths that are asked for. It is at hand already
// where at is "", and then shown in other themes without being loaded anew.
func looked(t *testing.T, s *server, b *tab, at, name string, looks []look) {
	t.Helper()
	found := findings{}
	theme := ""
	for _, l := range looks {
		switch {
		case l.theme == theme:
		case at == "":
			value[bool](b, fmt.Sprintf(`(document.documentElement.dataset.theme = %q, true)`, l.theme))
		default:
			b.theme(s, l.theme)
			b.open(s.base + at)
			require.Equal(t, l.theme, value[string](b, `document.documentElement.dataset.theme ?? ''`), name)
		}
		theme = l.theme
		b.width(l.width)
		found.in(l, value[[]string](b, sideways)...)
		if l.width == 320 {
			found.in(l, narrow(t, b)...)
		}
		found.in(l, accessible(t, b)...)
		if l.theme == "red" || shotFolder() != "" {
			shot := picture(b)
			if l.theme == "red" {
				found.in(l, notRed(t, shot)...)
				found.in(l, value[[]string](b, forbidden)...)
			}
			if shotFolder() != "" && l.width != 320 {
				require.NoError(t, os.WriteFile(filepath.Join(shotFolder(), fmt.Sprintf("%s-%s-%d.png", fileName("/"+strings.TrimPrefix(name, "/")), l.theme, l.width)), shot, 0o666))
			}
		}
		found.in(l, b.reported()...)
	}
	assert.Empty(t, found, name)
}

// findings are what is wrong with a screen, and in which looks.
type findings map[string][]string

func (f findings) in(l look, what ...string) {
	for _, w := range what {
		f[w] = append(f[w], fmt.Sprintf("%s %d", l.theme, l.width))
	}
}

// allLooks are those of every theme and width, or every other of them, like the white
// squares of a chessboard.
func allLooks() []look {
	var out []look
	for i, theme := range themes {
		for j, width := range []int64{320, 360, 800, 1280} {
			if everything() || (i+j)%2 == 0 {
				out = append(out, look{theme, width})
			}
		}
	}
	return out
}

// A short page and one with a figure are sound at one width, in red. No guard stands before
// them, so that faults can be planted.
func TestLooksBriefly(t *testing.T) {
	dir := demoNotebook(t)
	handler, err := page.New(dir, pagetest.Open{})
	require.NoError(t, err)
	b := newTab(t)
	open := httptest.NewServer(handler)
	t.Cleanup(open.CloseClientConnections)
	s := &server{t: t, dir: dir, base: open.URL}
	for _, at := range []string{"/nothing", "/p/slate"} {
		looked(t, s, b, at, at, []look{{"red", 320}})
	}
}

// The first column of a table of help names what the row is of, and no name in it is broken
// into letters on a phone.
func TestTopicTables(t *testing.T) {
	handler, err := page.New(demoNotebook(t), pagetest.Open{})
	require.NoError(t, err)
	b := newTab(t)
	open := httptest.NewServer(handler)
	t.Cleanup(open.CloseClientConnections)
	for _, topic := range []string{"files", "faults", "programs", "pictures"} {
		b.width(320)
		b.open(open.URL + "/help/" + topic)
		assert.Empty(t, value[[]string](b, `[...document.querySelectorAll('.prose td:first-child')].filter(cell => {
			const told = document.createRange()
			told.selectNodeContents(cell)
			return !/\s/.test(cell.textContent.trim()) && new Set([...told.getClientRects()].map(at => Math.round(at.top / 8))).size > 1
		}).map(cell => cell.textContent)`), topic)
		assert.Empty(t, narrow(t, b), topic)
	}
}

// states are screens that no link leads to, with what is done to get there.
var states = []struct {
	name, at string
	act      string // an expression that sends a form
	until    string // what is to be seen then
	load     bool   // anew for each theme, since its choices are other elements under red
}{
	{name: "nothing here", at: "/nothing"},
	{name: "broken file", at: "/t/torn"},
	{name: "question", at: "/t/larkfield-brinewater/strips/4/9?after=8&typed=1.98", until: `document.querySelector('#asked .question')`},
	{name: "not understood", at: "/t/larkfield-brinewater/strips/4/9?after=8&typed=abc", until: `document.querySelector('#asked .question')`},
	{name: "trial with faults", at: "/new?film=Larkfield+125&developer=Brinewater+1%2B19&temperature_c=200&agitation=wild&illuminance_lx=&seconds=1", until: `document.querySelector('[aria-invalid=true]')`},
	{name: "first strip", at: "/new?film=Larkfield+125&developer=Brinewater+1%2B19&temperature_c=20&agitation=continuous&illuminance_lx=4.2&seconds=1"},
	{name: "change with faults", at: "/t/larkfield-brinewater/change", until: `document.querySelector('[aria-invalid=true]')`,
		act: `(document.querySelector('[name="process.temperature_c"]').value = '200', document.querySelector('main form').submit(), true)`},
	{name: "conflict of a trial", at: "/t/larkfield-brinewater/change", until: `document.querySelector('h1').textContent === 'This trial was changed elsewhere'`,
		act: `(document.querySelector('main form [name=old]').value = document.querySelector('main form [name=old]').value.replace('"process.temperature_c":"20"', '"process.temperature_c":"21"'),
		       document.querySelector('[name="process.temperature_c"]').value = '22', document.querySelector('main form').submit(), true)`},
	{name: "strip with faults", at: "/t/larkfield-brinewater/strips/new", until: `document.querySelector('[aria-invalid=true]')`,
		act: `(document.querySelector('[name=minutes]').value = 'long', document.querySelector('main form').submit(), true)`},
	{name: "session", at: toBegin, act: `(document.querySelector('main button.first').click(), true)`, until: `document.querySelector('#dark:not([hidden])')`},
	{name: "picture to be marked", at: pictureAt(inFrame...), until: `document.querySelector('#proposed')`, load: true},
	{name: "picture half marked, closer", at: pictureAt(append(inFrame, "tablet-ends", tabletEnds.String(), "first", stripEnds.First.String(), "closer", "1", "near", stripEnds.Last.String(), "missed", "1")...), until: `document.querySelector('#mark')`, load: true},
	{name: "picture read", at: pictureAt(append(inFrame, "tablet-ends", tabletEnds.String(), "ends", stripEnds.String(), "fog", "step=22")...), until: `document.querySelector('#add')`, load: true},
	{name: "picture refused", at: pictureAt(append(inFrame, "tablet-ends", tabletEnds.String(), "ends", "33.4,34.3:427,120")...), until: `document.querySelector('[role=alert]')`, load: true},
	{name: "conflict", at: "/t/larkfield-brinewater/strips/4/9", until: `document.querySelector('h1').textContent === 'This strip was changed elsewhere'`,
		act: `(document.querySelector('form.desk [name=old]').value = document.querySelector('form.desk [name=old]').value.replace('1.18', '1.17'),
		       document.querySelector('form.desk [name=strip]').value = 'x', document.querySelector('#d').value = '1.08', document.querySelector('form.desk').submit(), true)`},
}

// Every screen is sound in every theme at every width: axe finds nothing, nothing scrolls
// sideways, the browser reports nothing, and red is red alone. Every other address is
// looked at in one of them.
func TestLooks(t *testing.T) {
	atLength(t)
	if axeFile() == "" {
		t.Log("SENSITO_AXE is not set, so axe checks nothing")
	}
	s := serve(t, demoNotebook(t))
	routes, addresses := walked(s)
	t.Logf("%d screens: %v", len(routes), routes)
	at := func(name string, test func(t *testing.T, b *tab)) {
		way := s.way()
		t.Run(name, func(t *testing.T) {
			b := newTab(t)
			b.open(way)
			test(t, b)
		})
	}
	for _, route := range routes {
		address := addresses[route][0]
		at(fileName(address), func(t *testing.T, b *tab) { looked(t, s, b, address, address, allLooks()) })
	}
	for _, state := range states {
		at(state.name, func(t *testing.T, b *tab) {
			b.open(s.base + state.at)
			if state.act != "" {
				value[bool](b, state.act)
			}
			if state.until != "" {
				b.await(state.until)
			}
			at := ""
			if state.load {
				at = state.at
			}
			looked(t, s, b, at, state.name, allLooks())
		})
	}
	t.Run("first run", func(t *testing.T) {
		empty := serve(t, t.TempDir())
		looked(t, empty, letIn(empty), "/", "first run", allLooks())
	})
	t.Run("not let in", func(t *testing.T) {
		b := newTab(t)
		b.open(s.base + "/")
		looked(t, s, b, "", "not let in", []look{{"light", 320}, {"light", 1280}})
	})
	t.Run("all others", func(t *testing.T) {
		b := letIn(s)
		b.width(320)
		for _, route := range routes {
			for _, address := range addresses[route][1:] {
				b.open(s.base + address)
				assert.Empty(t, append(narrow(t, b), b.reported()...), address)
			}
		}
	})
}
