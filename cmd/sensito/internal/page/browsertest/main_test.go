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

// What is asked of the tests from outside.
var (
	everything = os.Getenv("SENSITO_BROWSER") == "all" // every screen in every look and width
	axeFile    = os.Getenv("SENSITO_AXE")              // path of axe.min.js
	shotFolder = os.Getenv("SENSITO_SHOTS")            // where pictures of every screen are put
)

// program is the path of sensito: SENSITO_PROGRAM, else built for the tests.
var program = os.Getenv("SENSITO_PROGRAM")

// browsers is the one browser of all tests.
var browsers struct {
	once sync.Once
	ctx  context.Context
	stop context.CancelFunc
	err  error
}

func TestMain(m *testing.M) { os.Exit(tests(m)) }

func tests(m *testing.M) int {
	dir, err := os.MkdirTemp("", "sensito-browser")
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	defer os.RemoveAll(dir)
	os.Setenv("XDG_CACHE_HOME", filepath.Join(dir, "cache")) // where the guard keeps secrets and ports
	if program == "" {
		program = filepath.Join(dir, "sensito")
		if out, err := exec.Command("go", "build", "-o", program, "sensito/cmd/sensito").CombinedOutput(); err != nil {
			fmt.Fprintf(os.Stderr, "%s%v\n", out, err)
			return 1
		}
	}
	defer func() {
		if browsers.stop != nil {
			browsers.stop()
		}
	}()
	return m.Run()
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
