package browsertest

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"sync"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"
)

// What is asked of the tests from outside, which a cached result depends on only where it
// is read while they run.
func atAll() bool        { return os.Getenv("SENSITO_BROWSER") != "" }    // all of them, with every other look of a screen
func everything() bool   { return os.Getenv("SENSITO_BROWSER") == "all" } // and every look
func axeFile() string    { return os.Getenv("SENSITO_AXE") }              // path of axe.min.js
func shotFolder() string { return os.Getenv("SENSITO_SHOTS") }            // where pictures of every screen are put

// program is the path of sensito: SENSITO_PROGRAM, else built when it is asked for first.
var program = os.Getenv("SENSITO_PROGRAM")

var build sync.Once

// built returns the path of sensito.
func built(t testing.TB) string {
	t.Helper()
	build.Do(func() {
		if program == "" {
			path := filepath.Join(folder, "sensito")
			out, err := exec.Command("go", "build", "-o", path, "sensito/cmd/sensito").CombinedOutput()
			require.NoError(t, err, "%s", out)
			program = path
		}
	})
	require.NotEmpty(t, program, "sensito does not build")
	return program
}

// folder is a temporary one of all tests.
var folder string

// browsers is the one browser of all tests.
var browsers struct {
	once sync.Once
	ctx  context.Context
	stop context.CancelFunc
	err  error
}

func TestMain(m *testing.M) { os.Exit(tests(m)) }

func tests(m *testing.M) int {
	var err error
	if folder, err = os.MkdirTemp("", "sensito-browser"); err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	defer os.RemoveAll(folder)
	defer func() {
		if browsers.stop != nil {
			browsers.stop()
		}
	}()
	return m.Run()
}

// atLength skips a test that takes longer than a glance, unless all is asked for.
func atLength(t testing.TB) {
	t.Helper()
	if !atAll() {
		t.Skip("SENSITO_BROWSER=half runs it, or all")
	}
}

// browser returns the browser, and skips the test where there is none.
func browser(t testing.TB) context.Context {
	t.Helper()
	if testing.Short() {
		t.Skip("a browser is slow beside the race detector")
	}
	path, err := exec.LookPath("chromium")
	if err != nil {
		t.Skip("there is no chromium here")
	}
	browsers.once.Do(func() {
		options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(path), chromedp.NoSandbox, chromedp.DisableGPU,
			chromedp.Flag("disable-quic", true), chromedp.Flag("disable-component-update", true),
			chromedp.Flag("force-color-profile", "srgb")) // so that a picture has the colours of the sheet
		allocator, end := chromedp.NewExecAllocator(context.Background(), options...)
		ctx, cancel := chromedp.NewContext(allocator)
		browsers.ctx, browsers.stop = ctx, func() { cancel(); end() }
		browsers.err = chromedp.Do(ctx)
	})
	require.NoError(t, browsers.err)
	return browsers.ctx
}
