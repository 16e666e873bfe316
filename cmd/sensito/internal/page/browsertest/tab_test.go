package browsertest

import (
	"context"
	"fmt"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"
)

// A tab is one of the browser, with cookies of its own.
type tab struct {
	t   testing.TB
	ctx context.Context

	mu       sync.Mutex
	faults   []string // what the browser reports: policies, errors of scripts
	requests []string
}

// newTab opens an empty tab.
func newTab(t testing.TB) *tab {
	t.Helper()
	ctx, cancel := chromedp.NewContext(browser(t), chromedp.WithNewBrowserContext())
	t.Cleanup(cancel)
	return begun(t, ctx)
}

// beside opens another tab with the same cookies.
func (b *tab) beside() *tab {
	b.t.Helper()
	ctx, cancel := chromedp.NewContext(b.ctx)
	b.t.Cleanup(cancel)
	return begun(b.t, ctx)
}

func begun(t testing.TB, ctx context.Context) *tab {
	t.Helper()
	b := &tab{t: t, ctx: ctx}
	require.NoError(t, chromedp.Do(ctx)) // opens it, in the context that is to last
	require.NoError(t, chromedp.Listen(ctx, b.note))
	call(b, log.Enable, cdp.Empty{})
	call(b, network.Enable, network.EnableParams{})
	call(b, emulation.SetFocusEmulationEnabled, emulation.SetFocusEmulationEnabledParams{Enabled: true})
	b.width(1280)
	return b
}

// call gives a command to the browser, which may not fail.
func call[P, R any](b *tab, command cdp.Command[P, R], params P) R {
	b.t.Helper()
	ctx, cancel := context.WithTimeout(b.ctx, patience)
	defer cancel()
	r, err := chromedp.Call(ctx, command, params)
	require.NoError(b.t, err)
	return r
}

// run carries out an action, which may not fail.
func run[R any](b *tab, action chromedp.Action[R]) R {
	b.t.Helper()
	ctx, cancel := context.WithTimeout(b.ctx, patience)
	defer cancel()
	r, err := chromedp.Run(ctx, action)
	require.NoError(b.t, err)
	return r
}

// value returns what an expression, or its promise, comes to.
func value[R any](b *tab, expression string) R {
	b.t.Helper()
	return run(b, chromedp.Evaluate[R](expression, chromedp.EvalAwaitPromise))
}

// letIn opens a tab that a server has let in.
func letIn(s *server) *tab {
	s.t.Helper()
	b := newTab(s.t)
	b.open(s.way())
	return b
}

func (b *tab) note(event any) {
	b.mu.Lock()
	defer b.mu.Unlock()
	switch e := event.(type) {
	case *log.EventEntryAdded:
		if e.Entry.Source == log.EntrySourceSecurity || e.Entry.Source == log.EntrySourceViolation || e.Entry.Source == log.EntrySourceJavascript {
			b.faults = append(b.faults, e.Entry.Text)
		}
	case *runtime.EventExceptionThrown:
		b.faults = append(b.faults, e.ExceptionDetails.Text)
	case *network.EventRequestWillBeSent:
		b.requests = append(b.requests, e.Request.Method+" "+e.Request.URL)
	}
}

// reported returns what the browser has reported since it was asked last.
func (b *tab) reported() []string {
	b.mu.Lock()
	defer b.mu.Unlock()
	out := b.faults
	b.faults = nil
	return out
}

// open loads an address.
func (b *tab) open(address string) {
	b.t.Helper()
	run(b, chromedp.Navigate(address))
}

// width sets how wide the window is, in CSS pixels.
func (b *tab) width(pixels int64) {
	b.t.Helper()
	call(b, emulation.SetDeviceMetricsOverride, emulation.SetDeviceMetricsOverrideParams{Width: pixels, Height: 900, DeviceScaleFactor: 1})
}

// text returns what a reader sees in the first element of a selector, "" where there is
// none.
func (b *tab) text(selector string) string {
	b.t.Helper()
	text := value[string](b, fmt.Sprintf(`(document.querySelector(%q)?.innerText ?? '').replaceAll('\u00a0', ' ')`, selector))
	return strings.Join(strings.Fields(text), " ")
}

// await waits until an expression is true. It may ask in the midst of a change of pages.
func (b *tab) await(expression string) {
	b.t.Helper()
	for end := time.Now().Add(patience / 2); ; time.Sleep(20 * time.Millisecond) {
		ctx, cancel := context.WithTimeout(b.ctx, 5*time.Second)
		is, err := chromedp.Run(ctx, chromedp.Evaluate[bool](`!!(`+expression+`)`))
		cancel()
		if err == nil && is {
			return
		}
		if time.Now().After(end) {
			require.Fail(b.t, "not to be seen", "%s at %s\n%s", expression, b.address(), b.text("main"))
		}
	}
}

// address returns where the tab is.
func (b *tab) address() string {
	b.t.Helper()
	return run(b, chromedp.Location())
}

// A key of the keypad: what it is called and what it types.
var keypad = map[rune]struct{ code, key, text string }{
	'.': {"NumpadDecimal", ".", "."}, '+': {"NumpadAdd", "+", "+"}, '-': {"NumpadSubtract", "-", "-"}, '*': {"NumpadMultiply", "*", "*"},
	'\r': {"NumpadEnter", "Enter", "\r"},
}

// keys presses keys of the keypad, one after another.
func (b *tab) keys(typed string) {
	b.t.Helper()
	for _, r := range typed {
		k, ok := keypad[r]
		virtual := int64(map[rune]int{'.': 110, '+': 107, '-': 109, '*': 106, '\r': 13}[r])
		if !ok {
			require.True(b.t, r >= '0' && r <= '9', "%q is no key of the keypad", r)
			k.code, k.key, k.text = "Numpad"+string(r), string(r), string(r)
			virtual = int64(r - '0' + 96)
		}
		press := input.DispatchKeyEventParams{Code: k.code, Key: k.key, WindowsVirtualKeyCode: virtual, IsKeypad: new(true), Location: 3}
		down, up := press, press
		down.Type, down.Text = input.DispatchKeyEventTypeKeyDown, k.text
		up.Type = input.DispatchKeyEventTypeKeyUp
		call(b, input.DispatchKeyEvent, down)
		call(b, input.DispatchKeyEvent, up)
	}
}
