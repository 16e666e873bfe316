package main

import (
	"bytes"
	"context"
	"encoding/json"
	"io"
	"math"
	"os"
	"path/filepath"
	"runtime/debug"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
	"github.com/stretchr/testify/require"
	"golang.org/x/image/font/gofont/goregular"

	"sensito/cmd/sensito/demo"
	"sensito/cmd/sensito/internal/console"
)

func TestMain(m *testing.M) {
	debug.SetGCPercent(-1) // tests make much garbage and keep little
	debug.SetMemoryLimit(256 << 20)
	testscript.Main(m, map[string]func(){"sensito": main, "sensito-failing": failing, "sensito-waiting": waiting})
}

// TestScripts runs each script of testdata/script in a folder of its own that
// holds the demo notebook as demo. With -short it runs only the one in which
// trials are worked on at the same time, since commands start slowly under the
// race detector.
func TestScripts(t *testing.T) {
	scripts, err := filepath.Abs("testdata/script") // since commands change the folder
	require.NoError(t, err)
	params := testscript.Params{
		Dir: scripts,
		Setup: func(env *testscript.Env) error {
			// Scripts run side by side, so one command need not spread out.
			env.Setenv("GOMAXPROCS", "1")
			env.Setenv("GOGC", "400")
			return writeNotebook(filepath.Join(env.WorkDir, "demo"))
		},
		Condition: func(cond string) (bool, error) {
			return cond == "root" && os.Geteuid() == 0, nil
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"call":    cmdCall,
			"objects": cmdObjects,
			"value":   cmdValue,
			"files":   cmdFiles,
			"font":    cmdFont,
			"picture": cmdPicture,
		},
		RequireExplicitExec: true,
		RequireUniqueNames:  true,
	}
	if testing.Short() {
		params.Dir, params.Files = "", []string{filepath.Join(scripts, "curve_several.txt")}
	}
	testscript.Run(t, params)
}

// inFolder is held while the process works in the folder of a script: it has one.
var inFolder sync.Mutex

// cmdCall runs a command line in the process of the test, as exec does in one of its
// own, whose start costs more than most answers. It reads nothing from standard input:
//
//	[!] call sensito [ARGUMENT]...
func cmdCall(ts *testscript.TestScript, neg bool, args []string) {
	if len(args) == 0 || args[0] != "sensito" {
		ts.Fatalf("usage: call sensito [ARGUMENT]...")
	}
	inFolder.Lock()
	defer inFolder.Unlock()
	before, err := os.Getwd()
	ts.Check(err)
	ts.Check(os.Chdir(ts.MkAbs(".")))
	code := run(args[1:], strings.NewReader(""), ts.Stdout(), ts.Stderr())
	ts.Check(os.Chdir(before))
	if (code != 0) != neg {
		ts.Fatalf("sensito ended with %d", code)
	}
}

// cmdFont writes a font:
//
//	font FILE
func cmdFont(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 {
		ts.Fatalf("usage: font FILE")
	}
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), goregular.TTF, 0o600))
}

// cmdObjects checks that a file holds so many lines, each one JSON object with
// these keys and no others:
//
//	objects FILE COUNT KEY...
func cmdObjects(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 3 {
		ts.Fatalf("usage: objects FILE COUNT KEY...")
	}
	want, err := strconv.Atoi(args[1])
	ts.Check(err)
	text := ts.ReadFile(args[0])
	if !strings.HasSuffix(text, "\n") || strings.Count(text, "\n") != want {
		ts.Fatalf("%s has %d line ends, want %d and one at the end", args[0], strings.Count(text, "\n"), want)
	}
	for line := range strings.Lines(text) {
		var object map[string]json.RawMessage
		ts.Check(json.Unmarshal([]byte(line), &object))
		var keys []string
		for key := range object {
			keys = append(keys, key)
		}
		slices.Sort(keys)
		if sorted := slices.Sorted(slices.Values(args[2:])); !slices.Equal(keys, sorted) {
			ts.Fatalf("keys %q, want %q", keys, sorted)
		}
	}
}

// cmdValue checks a value in a line of JSON objects, the first being 1. PATH
// is of keys and places from 0, joined by points. WANT is JSON text, or two
// numbers with .. between them that the value lies between:
//
//	value FILE LINE PATH WANT
func cmdValue(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 4 {
		ts.Fatalf("usage: value FILE LINE PATH WANT")
	}
	lines := strings.Split(ts.ReadFile(args[0]), "\n")
	n, err := strconv.Atoi(args[1])
	ts.Check(err)
	if n < 1 || n > len(lines) {
		ts.Fatalf("%s has no line %d", args[0], n)
	}
	raw := json.RawMessage(lines[n-1])
	for key := range strings.SplitSeq(args[2], ".") {
		if i, err := strconv.Atoi(key); err == nil {
			var list []json.RawMessage
			ts.Check(json.Unmarshal(raw, &list))
			if i < 0 || i >= len(list) {
				ts.Fatalf("%s: %d is outside a list of %d", args[2], i, len(list))
			}
			raw = list[i]
			continue
		}
		var object map[string]json.RawMessage
		ts.Check(json.Unmarshal(raw, &object))
		var found bool
		if raw, found = object[key]; !found {
			ts.Fatalf("%s: no key %q", args[2], key)
		}
	}
	low, high, between := strings.Cut(args[3], "..")
	if !between {
		if !bytes.Equal(raw, []byte(args[3])) {
			ts.Fatalf("%s is %s, want %s", args[2], raw, args[3])
		}
		return
	}
	got := math.NaN()
	ts.Check(json.Unmarshal(raw, &got))
	least, err := strconv.ParseFloat(low, 64)
	ts.Check(err)
	most, err := strconv.ParseFloat(high, 64)
	ts.Check(err)
	if !(got >= least && got <= most) { // also for null, which leaves NaN
		ts.Fatalf("%s is %g, want %s", args[2], got, args[3])
	}
}

// cmdFiles checks that a folder holds these files and no others, such as a
// temporary file left behind:
//
//	files DIR [NAME]...
func cmdFiles(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) == 0 {
		ts.Fatalf("usage: files DIR [NAME]...")
	}
	entries, err := os.ReadDir(ts.MkAbs(args[0]))
	ts.Check(err)
	var got []string
	for _, e := range entries {
		got = append(got, e.Name())
	}
	if want := slices.Sorted(slices.Values(args[1:])); !slices.Equal(got, want) {
		ts.Fatalf("%s holds %q, want %q", args[0], got, want)
	}
}

// writeNotebook writes the notebook of the demo to a folder, as the demo does but
// without its care for what is there and for a loss of power.
func writeNotebook(dir string) error { return os.CopyFS(dir, demo.Files()) }

// run executes one command line and returns its exit code.
func run(args []string, in io.Reader, out, errOut io.Writer) int {
	return console.New(in, out, errOut).Execute(context.Background(), newRootCmd, args)
}
