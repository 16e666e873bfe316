package browsertest

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito/notebook"
)

// The strip that is keyed in: another one of the demonstration's first trial.
var (
	keyedTrial = "larkfield-brinewater"
	keyedStrip = 6
	keyedIn    = []float64{2.25, 2.13, 2.01, 1.88, 1.76, 1.63, 1.49, 1.35, 1.22, 1.10, 0.97, 0.82, 0.70, 0.58, 0.47, 0.38, 0.28, 0.22, 0.18, 0.16, 0.13}
)

// hundredths returns a reading as the keypad has it shortest, without a point.
func hundredths(reading float64) string { return fmt.Sprintf("%.0f", 100*reading) }

// begin puts a strip into the trial and leads to its first step.
func begin(s *server, b *tab) {
	b.t.Helper()
	b.open(s.base + "/t/" + keyedTrial + "/strips/new")
	value[bool](b, `(document.querySelector('[name=minutes]').value = '9:30', document.querySelector('[name=base_fog]').value = '0.11 0.12', true)`)
	b.click(`main button.first`)
	b.awaitStep(1)
}

// click clicks the first element of a selector.
func (b *tab) click(selector string) {
	b.t.Helper()
	run(b, chromedp.Click(chromedp.CSS(selector)))
}

// awaitStep waits until keying in is at a step.
func (b *tab) awaitStep(step int) {
	b.t.Helper()
	if step > len(keyedIn) {
		b.await(`document.querySelector('#all')`)
		return
	}
	b.await(fmt.Sprintf(`document.querySelector('form.desk')?.getAttribute('action').endsWith('/strips/%d/%d') && document.activeElement.id === 'd'`, keyedStrip, step))
}

// read keys in the readings of steps, from 1, up to and with the last, as fast as the page
// goes on.
func (b *tab) read(first, last int) {
	b.t.Helper()
	for step := first; step <= last; step++ {
		b.keys(hundredths(keyedIn[step-1]) + "\r")
		b.awaitStep(step + 1)
	}
}

// inFile checks that the file has the readings of the first steps, and that the next has
// none.
func inFile(t testing.TB, s *server, steps int) {
	t.Helper()
	trial, err := notebook.ReadFile(filepath.Join(s.dir, keyedTrial+".toml"))
	require.NoError(t, err)
	require.Len(t, trial.Strips(), keyedStrip)
	is := trial.Strips()[keyedStrip-1].Spec().Density
	for step, want := range keyedIn[:steps] {
		assert.InDelta(t, want, float64(is[step]), 1e-9, "step %d", step+1)
	}
	if steps < len(keyedIn) {
		assert.True(t, math.IsNaN(float64(is[steps])), "step %d is %v", steps+1, is[steps])
	}
}

// keyIn keys in a whole strip by the keys of the keypad alone, one reading far off, and one
// step that somebody else reads at the same time. Without script each Enter loads the page anew.
func keyIn(t *testing.T, s *server, b *tab, script bool) {
	begin(s, b)
	b.read(1, 8)

	// One far off is questioned; the field is where it was, and what is found then counts.
	b.keys("198\r")
	b.await(`document.querySelector('#asked .question')`)
	assert.Contains(t, b.text("#asked"), "1.98 is 0.77 above the curve. Read the step again and key in what you find; the same again keeps it.")
	loaded := value[float64](b, `performance.timeOrigin`)
	b.keys("\r") // without a new digit
	if !script {
		b.await(fmt.Sprintf(`performance.timeOrigin > %f && document.readyState === 'complete'`, loaded))
	}
	inFile(t, s, 8)
	b.read(9, 11)

	// Somebody else reads step 12.
	other := b.beside()
	other.open(b.address())
	other.keys("84\r")
	other.awaitStep(13)
	b.keys("82\r")
	b.await(`document.querySelector('h1').textContent === 'This strip was changed elsewhere'`)
	assert.Contains(t, b.text("main"), "step 12 – 0.84 0.82")
	b.click(`input[name="take-s12"][value=mine]`)
	b.click(`main button.first`)
	b.await(`location.pathname.endsWith('/strips/6')`)
	b.awaitStep(13)
	b.read(13, 21)
	assert.Contains(t, b.text("main"), "All 21 steps are done")
	inFile(t, s, 21)
	assert.Empty(t, b.reported())
}

func TestKeyingIn(t *testing.T) {
	atLength(t)
	s := serve(t, demoNotebook(t))
	keyIn(t, s, letIn(s), true)
}

func TestKeyingInWithoutScript(t *testing.T) {
	atLength(t)
	s := serve(t, demoNotebook(t))
	b := letIn(s)
	call(b, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: true})
	keyIn(t, s, b, false)
}

// The same reading again keeps one that is far off.
func TestKeepingWhatIsFarOff(t *testing.T) {
	atLength(t)
	s := serve(t, demoNotebook(t))
	b := letIn(s)
	begin(s, b)
	b.read(1, 8)
	b.keys("198\r")
	b.await(`document.querySelector('#asked .question')`)
	b.keys("198\r")
	b.awaitStep(10)
	trial, err := notebook.ReadFile(filepath.Join(s.dir, keyedTrial+".toml"))
	require.NoError(t, err)
	assert.Equal(t, "1.98", fmt.Sprint(trial.Strips()[keyedStrip-1].Spec().Density[8]))
}

// boxes tell where the field and the keys on the page are.
const boxes = `[...document.querySelectorAll('.pad button, #d')].map(k => { const r = k.getBoundingClientRect(); return [r.x + scrollX, r.y + scrollY, r.width, r.height].join(' ') })`

// No key on the page moves while readings come in, from the first on, and one is
// questioned.
func TestKeysStay(t *testing.T) {
	atLength(t)
	s := serve(t, demoNotebook(t))
	b := letIn(s)
	call(b, emulation.SetTouchEmulationEnabled, emulation.SetTouchEmulationEnabledParams{Enabled: true})
	begin(s, b)
	b.read(1, 8)
	tap := func(keys string) {
		for _, key := range keys {
			value[bool](b, fmt.Sprintf(`([...document.querySelectorAll('.pad button')].find(k => k.textContent === %q).click(), true)`, string(key)))
		}
		value[bool](b, `(document.querySelector('.pad .first').click(), true)`)
	}
	for _, width := range []int64{320, 360, 800, 1280} {
		b.width(width)
		for _, step := range []int{1, 4, 9} {
			b.open(fmt.Sprintf("%s/t/%s/strips/%d/%d", s.base, keyedTrial, keyedStrip, step))
			b.awaitStep(step)
			value[bool](b, `(document.querySelector('.keys details').open = true)`)
			before := value[[]string](b, boxes)
			require.Len(t, before, 17)
			if step == 9 {
				tap("198")
				b.await(`document.querySelector('#asked .question')`)
			} else {
				tap(hundredths(keyedIn[step-1]))
				b.await(`document.querySelector('#saved').textContent && document.querySelector('form.desk').dataset.step !== '` + fmt.Sprint(step) + `'`)
			}
			assert.Equal(t, before, value[[]string](b, boxes), "step %d, %d wide", step, width)
		}
	}
}

// Of two tabs the one learns what the other does, and keeps what is being typed.
func TestTwoTabs(t *testing.T) {
	atLength(t)
	s := serve(t, demoNotebook(t))
	b := letIn(s)
	begin(s, b)
	b.read(1, 3)
	other := b.beside()
	other.open(b.address())
	other.awaitStep(4)
	b.keys("1")
	other.read(4, 5)
	b.await(`!document.querySelector('#elsewhere').hidden`)
	assert.Equal(t, "The file has changed: load it", b.text("#elsewhere"))
	assert.Equal(t, "1", value[string](b, `document.querySelector('#d').value`))
	b.click("#elsewhere a")
	b.awaitStep(6)
	b.read(6, 7)
	inFile(t, s, 7)
}

// The server is killed in the midst of a strip and started again: the open page goes on,
// and no reading is lost.
func TestServerRestarts(t *testing.T) {
	atLength(t)
	s := serve(t, demoNotebook(t))
	b := letIn(s)
	begin(s, b)
	b.read(1, 9)
	s.kill()
	b.keys("110\r")
	b.await(`document.querySelector('#line').textContent.includes('sensito is not running')`)
	assert.Equal(t, "Not saved: sensito is not running. Your reading 1.10 is still here.", strings.ReplaceAll(b.text("#line"), "110", "1.10"))
	b.keys("97\r")
	b.await(`document.querySelector('#line').textContent.includes('97')`)
	inFile(t, s, 9)
	base := s.base
	s.start()
	require.Equal(t, base, s.base)
	b.awaitStep(12)
	inFile(t, s, 11)

	// Killed again, and the page is loaded anew after it is back.
	s.kill()
	b.keys("82\r")
	b.await(`document.querySelector('#line').textContent.includes('sensito is not running')`)
	s.start()
	run(b, chromedp.Reload())
	b.awaitStep(13)
	b.read(13, 21)
	inFile(t, s, 21)
	text, err := os.ReadFile(filepath.Join(s.dir, keyedTrial+".toml"))
	require.NoError(t, err)
	assert.Equal(t, keyedStrip, strings.Count(string(text), "[[strip]]"))
}

// Readings that are keyed in while the server is gone wait in their order; one more than
// the strip has steps is told, and not saved.
func TestReadingsWait(t *testing.T) {
	atLength(t)
	s := serve(t, demoNotebook(t))
	b := letIn(s)
	begin(s, b)
	b.read(1, 18)
	s.kill()
	for i, reading := range []float64{0.18, 0.16, 0.13, 0.12} {
		b.keys(hundredths(reading) + "\r")
		b.await(fmt.Sprintf(`document.querySelector('#line').textContent.split('Your reading').length === %d`, i+2))
	}
	assert.Equal(t, "After the last step", b.text("#stepno"))
	assert.Equal(t, "Not saved: sensito is not running. Your reading 18 is still here. Your reading 16 is still here. Your reading 13 is still here. Your reading 12 is still here.", b.text("#line"))
	s.start()
	b.await(`document.querySelector('#line').textContent.startsWith('All steps are read')`)
	assert.Equal(t, "All steps are read, and no step is left. Your reading 12 is still here.", b.text("#line"))
	inFile(t, s, 21)
	run(b, chromedp.Reload())
	b.await(`document.activeElement.id === 'd'`)
	assert.Equal(t, "[]", value[string](b, `Object.values(sessionStorage).join()`))
	inFile(t, s, 21)
}
