package browsertest

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"net/http"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	cdp "github.com/chromedp/cdproto/page"
	"github.com/stretchr/testify/require"

	"sensito/cmd/sensito/internal/page"
	"sensito/cmd/sensito/internal/page/guard"
)

// A wound is a server of this process, behind its guard, whose clock a test sets forward.
type wound struct {
	*server
	t       *testing.T
	ahead   atomic.Int64 // milliseconds
	entered chan string  // addresses that let somebody in
}

// gated is the guard as the page asks it.
type gated struct{ *guard.Guard }

func (g gated) Stream(w http.ResponseWriter, r *http.Request) (page.Stream, error) {
	return g.Guard.Stream(w, r)
}

// wind starts one for the notebook of the demonstration.
func wind(t *testing.T) *wound {
	t.Helper()
	t.Setenv("XDG_CACHE_HOME", filepath.Join(folder, "wound"))
	w := &wound{server: &server{t: t, dir: demoNotebook(t)}, t: t, entered: make(chan string, 10)}
	pressed, press := io.Pipe()
	out, said := io.Pipe()
	go func() {
		for lines := bufio.NewScanner(out); lines.Scan(); {
			w.entered <- lines.Text()
		}
	}()
	gate, err := guard.New(guard.Options{Notebook: w.dir, Out: said, In: pressed})
	require.NoError(t, err)
	handler, err := page.New(w.dir, gated{gate})
	require.NoError(t, err)
	handler.SetNow(w.now)
	ctx, stop := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- gate.Serve(ctx, handler) }()
	t.Cleanup(func() {
		stop()
		require.NoError(t, <-ended)
		press.Close()
	})
	w.base = strings.TrimSuffix(gate.Address(), "/")
	return w
}

// now is what the clock of the server shows.
func (w *wound) now() time.Time {
	return time.Now().Add(time.Duration(w.ahead.Load()) * time.Millisecond)
}

// enter opens a tab whose clocks go with that of the server.
func (w *wound) enter() *tab {
	w.t.Helper()
	b := newTab(w.t)
	b.faked()
	select {
	case way := <-w.entered:
		b.open(way)
	case <-time.After(patience):
		require.Fail(w.t, "the guard says no address")
	}
	return b
}

// fakes has a page go by clocks that a test sets, and notes what it asks of the device.
//   - wall and mono set forward the clock on the wall, and that of the page with that of sounds
//   - hidden keeps timers from running, as a browser does that slows them
//   - ahead lists the sounds that are set and were not taken back: when on the wall, in
//     milliseconds, and hertz
//   - away has nobody answer, and lost loses what is answered, of which posts counts forms; a session without events is one of a tab that is alone
//   - locks counts how often the screen was asked to stay on
const fakes = `(() => {
  const wall = Date.now.bind(Date), mono = performance.now.bind(performance), tick = window.setInterval.bind(window);
  const f = window.faked = { wall: +sessionStorage.faked || 0, mono: 0, hidden: false, away: false, lost: false, posts: 0, locks: 0, set: [] };
  Date.now = () => wall() + f.wall;
  performance.now = () => mono() + f.mono;
  window.setInterval = (run, every) => tick(() => f.hidden || run(), every);
  Object.defineProperty(document, 'hidden', { get: () => f.hidden });
  Object.defineProperty(document, 'visibilityState', { get: () => f.hidden ? 'hidden' : 'visible' });
  f.show = shown => { f.hidden = !shown; document.dispatchEvent(new Event('visibilitychange', { bubbles: true })); return true; };
  f.pass = (ms, asleep) => { f.wall += ms; if (!asleep) f.mono += ms; sessionStorage.faked = f.wall; return true; };
  const ask = window.fetch.bind(window);
  window.fetch = async (...a) => {
    if (f.away) throw new TypeError('away');
    const answer = await ask(...a);
    if (!f.lost) return answer;
    f.posts += a[1]?.method === 'POST';
    throw new TypeError('lost');
  };

  if (sessionStorage.alone) window.EventSource = class { addEventListener() {} };
  const real = Object.getOwnPropertyDescriptor(BaseAudioContext.prototype, 'currentTime').get;
  Object.defineProperty(BaseAudioContext.prototype, 'currentTime', { get() { return real.call(this) + f.mono / 1000; } });
  const { start, stop } = AudioScheduledSourceNode.prototype;
  AudioScheduledSourceNode.prototype.start = function (at) { f.set.push({ node: this, at, hz: this.frequency.value }); start.call(this, at - f.mono / 1000); };
  AudioScheduledSourceNode.prototype.stop = function (at) { at === undefined ? f.set = f.set.filter(s => s.node !== this) : stop.call(this, at - f.mono / 1000); };
  f.ahead = () => f.set.map(s => [Date.now() + 1000 * (s.at - s.node.context.currentTime), s.hz]).filter(s => s[0] > Date.now());

  const lock = { request: async () => { if (f.hidden) throw new Error('hidden'); f.locks++; return { release() {} }; } };
  Object.defineProperty(Navigator.prototype, 'wakeLock', { configurable: true, get: () => sessionStorage.unlocked ? undefined : lock });
})()`

// faked has the pages of the tab go by the fakes.
func (b *tab) faked() {
	b.t.Helper()
	call(b, cdp.AddScriptToEvaluateOnNewDocument, cdp.AddScriptToEvaluateOnNewDocumentParams{Source: fakes})
}

// pass sets the clocks of the server and of tabs forward.
func (w *wound) pass(d time.Duration, tabs ...*tab) {
	w.t.Helper()
	w.ahead.Add(d.Milliseconds())
	for _, b := range tabs {
		value[bool](b, fmt.Sprintf(`faked.pass(%d)`, d.Milliseconds()))
	}
}

// sleep is pass for a tab whose device sleeps: the clock of its page stands, and so does
// that of its sounds.
func (w *wound) sleep(d time.Duration, b *tab) {
	w.t.Helper()
	w.ahead.Add(d.Milliseconds())
	value[bool](b, fmt.Sprintf(`faked.pass(%d, true)`, d.Milliseconds()))
}
