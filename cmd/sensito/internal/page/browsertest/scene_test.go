package browsertest

import (
	"testing"

	"github.com/chromedp/cdproto/emulation"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// What was asked of a scene and what was answered.
func (b *tab) sceneShown() []string {
	b.t.Helper()
	return append(value[[]string](b, `[...document.querySelectorAll('form.ask :is(input, select):not([type=hidden]):not([type=radio]:not(:checked))')].map(f => f.name + '=' + f.value)`),
		b.text("h1"), b.text("#answer"), b.text("#tones table"))
}

// The back button brings back the scene that was asked before, with its fields and its
// answer, with script and without.
func TestBackToTheScene(t *testing.T) {
	atLength(t)
	for name, without := range map[string]bool{"script": false, "no script": true} {
		t.Run(name, func(t *testing.T) {
			s := serve(t, demoNotebook(t))
			b := letIn(s)
			b.t = t
			call(b, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: without})
			b.open(s.base + "/scene?trial=larkfield-brinewater&range=7")
			require.Equal(t, "A scene of seven stops", b.text("h1"))
			seven := b.sceneShown()
			b.click(`form.ask .step[aria-label^="half a stop more"]`)
			b.await(`document.querySelector('h1').textContent !== 'A scene of seven stops'`)
			more := b.sceneShown()
			require.NotEqual(t, seven, more)
			assert.Contains(t, more, "range=7.5")
			value[bool](b, `(history.back(), true)`)
			b.await(`document.querySelector('h1').textContent === 'A scene of seven stops' && document.querySelector('[name=range]').value === '7' && document.readyState === 'complete'`)
			assert.Equal(t, seven, b.sceneShown())
			assert.Empty(t, b.reported())
		})
	}
}

// A scene that cannot be answered since the server is gone says so in place of the answer,
// and answers again once it is back.
func TestSceneWhileServerIsGone(t *testing.T) {
	atLength(t)
	s := serve(t, demoNotebook(t))
	b := letIn(s)
	b.open(s.base + "/scene?trial=larkfield-brinewater&range=7")
	seven := b.text("#answer")
	s.kill()
	more := `form.ask .step[aria-label^="half a stop more"]`
	b.click(more)
	b.await(`document.querySelector('#answer').textContent.includes('not running')`)
	assert.Equal(t, "Not answered: sensito is not running. What you asked is still here.", b.text("#answer"))
	assert.Equal(t, "7.5", value[string](b, `document.querySelector('[name=range]').value`))
	s.start()
	b.click(`form.ask .step[aria-label^="half a stop less"]`)
	b.await(`document.querySelector('#answer dl')`)
	b.click(more)
	b.await(`document.querySelector('h1').textContent !== 'A scene of seven stops'`)
	value[bool](b, `(history.back(), true)`)
	b.await(`document.querySelector('h1').textContent === 'A scene of seven stops'`)
	assert.Equal(t, seven, b.text("#answer"))
}
