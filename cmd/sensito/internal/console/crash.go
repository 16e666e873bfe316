package console

import (
	"bytes"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"runtime/debug"
	"slices"
	"strings"
	"time"

	"sensito/sensito/notebook"
)

// A Crash is a panic with where it began, which may be another goroutine than
// the one that tells it.
type Crash struct {
	value any
	stack []byte
}

// CrashOf returns what recover gave, as a crash; call it where that was.
func CrashOf(recovered any) *Crash {
	if c, ok := recovered.(*Crash); ok {
		return c
	}
	return &Crash{recovered, debug.Stack()}
}

// How much of the files is kept.
const (
	maxKeptFile = 16 << 20
	maxKept     = 64 << 20
)

// inputCopy is what was read from standard input, up to maxKeptFile bytes.
type inputCopy struct{ bytes.Buffer }

func (c *inputCopy) Write(p []byte) (int, error) {
	c.Buffer.Write(p[:min(len(p), maxKeptFile-c.Len())])
	return len(p), nil
}

// crashed keeps what is needed to find the fault in a file that only its owner
// can read, and says in one line where that is.
func (s Streams) crashed(args []string, c *Crash) {
	path, err := s.keep(args, c)
	if err != nil {
		fmt.Fprintf(s.Err, "sensito: the program failed by a fault of its own; what was read could not be kept: %v\n", err)
		return
	}
	fmt.Fprintf(s.Err, "sensito: the program failed by a fault of its own; the command, what it read and where it failed are kept in %s\n", path)
}

func (s Streams) keep(args []string, c *Crash) (path string, err error) {
	f, err := os.CreateTemp("", "sensito-crash-*.txt") // mode 0600
	if err != nil {
		return "", err
	}
	version := "unknown"
	if info, ok := debug.ReadBuildInfo(); ok {
		version = info.Main.Version
		for _, setting := range info.Settings {
			if setting.Key == "vcs.revision" {
				version += " " + setting.Value
			}
		}
	}
	fmt.Fprintf(f, "sensito %s, %s, %s/%s, %s\n", version, runtime.Version(), runtime.GOOS, runtime.GOARCH, time.Now().Format(time.RFC3339))
	fmt.Fprintf(f, "command: sensito %q\n\npanic: %v\n\n%s\n", args, c.value, c.stack)
	if s.copied != nil && s.copied.Len() > 0 {
		keepInput(f, "standard input", &s.copied.Buffer)
	}
	left := int64(maxKept)
	for _, name := range inputs(args) {
		left -= keepFile(f, name, min(left, maxKeptFile))
	}
	return f.Name(), f.Close()
}

// keepFile copies a file and returns how long it is.
func keepFile(w io.Writer, name string, most int64) int64 {
	f, err := os.Open(name)
	if err != nil {
		fmt.Fprintf(w, "==== %s: %v\n", name, err)
		return 0
	}
	defer f.Close()
	return keepInput(w, name, io.LimitReader(f, max(most, 0)))
}

func keepInput(w io.Writer, name string, r io.Reader) int64 {
	data, err := io.ReadAll(r)
	fmt.Fprintf(w, "==== %s: %d bytes\n%s\n", name, len(data), data)
	if err != nil {
		fmt.Fprintf(w, "==== %v\n", err)
	}
	return int64(len(data))
}

// outputFlags name files that are written.
var outputFlags = []string{"--plot", "--skeleton", "--write-procedure", "--to", "--output", "-o"}

// inputs returns the files that a command line names, those of a folder
// included, but not the ones that it may have been about to write.
func inputs(args []string) (names []string) {
	defer func() { recover() }() // the fault may lie in reading a folder
	before := ""
	for _, arg := range args {
		flag := before
		before = arg
		if strings.HasPrefix(arg, "-") {
			flag, arg, _ = strings.Cut(arg, "=")
		}
		info, err := os.Stat(arg)
		switch {
		case err != nil || slices.Contains(outputFlags, flag):
		case info.Mode().IsRegular():
			names = append(names, filepath.Clean(arg))
		case info.IsDir():
			entries, _ := notebook.List(arg)
			for _, e := range entries {
				if e.Kind != notebook.UnknownKind {
					names = append(names, e.Path)
				}
			}
		}
	}
	return names
}
