package browsertest

import (
	"fmt"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"testing"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/cmd/sensito/internal/page"
	"sensito/cmd/sensito/internal/page/pagetest"
	"sensito/sensito/notebook"
	marks "sensito/sensito/picture"
)

// Where the strip and the tablet of the demonstration's picture lie, as its generator laid them.
var (
	stripEnds  = marks.Ends{First: marks.Point{X: 33.4, Y: 34.3}, Last: marks.Point{X: 427.2, Y: 38.4}}
	tabletEnds = marks.Ends{First: marks.Point{X: 32.8, Y: 90.4}, Last: marks.Point{X: 426.6, Y: 94.5}}
)

// pictureAt is the address of that picture, asked as far as the pairs say.
func pictureAt(pairs ...string) string {
	v := url.Values{"file": {"larkfield-ashlar.png"}}
	for i := 0; i < len(pairs); i += 2 {
		v.Add(pairs[i], pairs[i+1])
	}
	return "/picture?" + v.Encode()
}

// inFrame says what lies in it.
var inFrame = []string{"into", "larkfield-ashlar", "minutes", "8:00", "tablet", "tablet"}

// tap presses the mouse on the picture that is to be marked, at a place of the picture.
func (b *tab) tap(at marks.Point, width float64) {
	b.t.Helper()
	b.await(`document.readyState === 'complete' && [...document.querySelectorAll('.seen img')].every(i => i.complete)`)
	where := value[[]float64](b, fmt.Sprintf(`(() => {
  const i = document.querySelector('input[type=image]'), s = i.closest('.scroll');
  i.scrollIntoView({block: 'center'});
  const x = %g * i.width / %g, y = %g * i.width / %g;
  s.scrollLeft = x - s.clientWidth / 2;
  const r = i.getBoundingClientRect();
  return [r.left + x, r.top + y];
})()`, at.X, width, at.Y, width))
	for _, kind := range []input.DispatchMouseEventType{input.DispatchMouseEventTypeMousePressed, input.DispatchMouseEventTypeMouseReleased} {
		call(b, input.DispatchMouseEvent, input.DispatchMouseEventParams{Type: kind, X: where[0], Y: where[1], Button: input.MouseButtonLeft, ClickCount: 1})
	}
}

// A strip goes from its picture into the trial by clicks alone: the file, what lies in it, four ends; with script and
// without, on a wide page and on a narrow one.
func TestPictureByClicks(t *testing.T) {
	atLength(t)
	for _, c := range []struct {
		name    string
		without bool
		width   int64
	}{{"script", false, 1280}, {"no script", true, 360}} {
		t.Run(c.name, func(t *testing.T) {
			s := serve(t, demoNotebook(t))
			b := letIn(s)
			b.t = t
			b.width(c.width)
			call(b, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: c.without})
			b.open(s.base + "/t/larkfield-ashlar")
			b.click(`a[href^="/picture"]`)
			b.await(`document.querySelector('#there')`)
			b.click(`a[href*="file=larkfield-ashlar.png"]`)
			b.await(`document.querySelector('form.ask [name=minutes]')`)
			value[bool](b, `(document.querySelector('[name=minutes]').value = '8', document.querySelector('[name=fog]').value = 'step=22',
			  document.querySelector('[name=known]').value = 'tablet=tablet', true)`)
			b.click(`form.ask button.first`)
			for i, e := range []marks.Ends{tabletEnds, stripEnds} {
				row := []string{"the tablet", "the strip"}[i]
				b.await(fmt.Sprintf(`document.querySelector('#mark')?.textContent === 'The first end of %s'`, row))
				b.tap(marks.Point{X: e.First.X + 3, Y: e.First.Y + 2}, 460) // a hand is not exact
				b.await(fmt.Sprintf(`document.querySelector('#mark')?.textContent === 'The last end of %s'`, row))
				b.tap(marks.Point{X: e.Last.X - 3, Y: e.Last.Y}, 460)
			}
			b.await(`document.querySelector('form[action^="/picture/add"]')`)
			assert.Contains(t, b.text("main"), "21 of 21 steps read, densities 0.16 to 1.78.")
			b.await(`(i => i.complete && i.naturalWidth > 1000)(document.querySelector('.seen img'))`) // what was found
			assert.Empty(t, b.reported())
			b.click(`form[action^="/picture/add"] button.first`)
			b.await(`location.pathname === '/t/larkfield-ashlar'`)
			trial, err := notebook.ReadFile(filepath.Join(s.dir, "larkfield-ashlar.toml"))
			require.NoError(t, err)
			added := trial.Strips()[len(trial.Strips())-1]
			assert.EqualValues(t, 8, added.Minutes())
			assert.Contains(t, added.Picture(), "larkfield-ashlar.png, ")
			assert.InDelta(t, 1.7959, float64(added.Spec().Density[0]), 0.02)
		})
	}
}

// A picture that is sent from the browser lies in the notebook's folder and is shown.
func TestPictureSent(t *testing.T) {
	atLength(t)
	s := serve(t, demoNotebook(t))
	data, err := os.ReadFile(filepath.Join(demo, "larkfield-ashlar.png"))
	require.NoError(t, err)
	outside := filepath.Join(t.TempDir(), "bed 2.png")
	require.NoError(t, os.WriteFile(outside, data, 0o666))
	b := letIn(s)
	b.open(s.base + "/picture?into=larkfield-ashlar")
	run(b, chromedp.SetUploadFiles(chromedp.CSS(`input[type=file]`), []string{outside}))
	b.click(`main button.first`)
	b.await(`document.querySelector('h1').textContent === 'bed 2.png'`)
	assert.Contains(t, b.text("main"), "PNG, 460 by 129 pixels, 16 bits")
	assert.Equal(t, "larkfield-ashlar", value[string](b, `document.querySelector('[name=into]').value`))
	kept, err := os.ReadFile(filepath.Join(s.dir, "bed 2.png"))
	require.NoError(t, err)
	assert.Equal(t, data, kept)
	assert.Empty(t, b.reported())
}

// Under red a picture is shown through red, even where it is still the grey one of another theme. No guard stands before
// the page, so that faults can be planted.
func TestPictureUnderRed(t *testing.T) {
	handler, err := page.New(demoNotebook(t), pagetest.Open{})
	require.NoError(t, err)
	b := newTab(t)
	open := httptest.NewServer(handler)
	t.Cleanup(open.CloseClientConnections)
	b.width(360)
	b.open(open.URL + pictureAt(append(inFrame, "tablet-ends", tabletEnds.String(), "first", stripEnds.First.String())...))
	value[bool](b, `(document.querySelector('#ask').closest('section').remove(), document.documentElement.dataset.theme = 'red', true)`) // its choices would be other elements
	assert.Equal(t, 2, value[int](b, `[...document.querySelectorAll('.seen :is(img, input[type=image])')].filter(i => i.getBoundingClientRect().width === 720).length`))
	assert.Empty(t, notRed(t, picture(b)))
	assert.Empty(t, b.reported())
}
