// Faults plants known faults in a copy of the tree, one at a time, and fails
// unless the test named for each turns red: a check that cannot fail is none.
// Run it from the root of the project: go run .ci/faults/main.go [-share K/N] [WORDS]
// With words, only faults whose file, test or reason holds them as they stand;
// with a share, every Nth of the list from the Kth on.
package main

import (
	"bytes"
	"cmp"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"github.com/pelletier/go-toml/v2"
)

const list = ".ci/faults/faults.toml"

// fault is a change that one test must notice.
type fault struct {
	Why     string // what is wrong then
	File    string
	Old     string // stands in File once
	New     string
	Package string // of the test; "" means the folder of File
	Test    string
}

func (f fault) String() string { return fmt.Sprintf("%s: %s", f.File, f.Why) }

func (f fault) folder() string { return cmp.Or(f.Package, filepath.Dir(f.File)) }

func main() {
	share := flag.String("share", "1/1", "plant every Nth fault from the Kth on, `K/N`")
	flag.Parse()
	if err := run(*share, strings.Join(flag.Args(), " ")); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

func run(share, words string) error {
	began := time.Now()
	faults, err := read(words)
	if err != nil {
		return err
	}
	if faults, err = shared(faults, share); err != nil {
		return err
	}
	b, err := newBench()
	if err != nil {
		return err
	}
	defer os.RemoveAll(b.temp)
	if err := b.sound(faults); err != nil {
		return err
	}

	var wait sync.WaitGroup
	var unnoticed atomic.Int32
	free := make(chan struct{}, min(2, runtime.NumCPU()))
	for i, f := range faults {
		wait.Add(1)
		free <- struct{}{}
		go func() {
			defer func() { <-free; wait.Done() }()
			if err := b.plant(i, f); err != nil {
				unnoticed.Add(1)
				fmt.Printf("NOT NOTICED %v: %v\n", f, err)
			}
		}()
	}
	wait.Wait()
	if n := unnoticed.Load(); n > 0 {
		return fmt.Errorf("%d of %d planted faults are not noticed", n, len(faults))
	}
	fmt.Printf("%d planted faults, each noticed by its test, in %.0f s\n", len(faults), time.Since(began).Seconds())
	return nil
}

// read returns the faults of the list that hold the words.
func read(words string) ([]fault, error) {
	text, err := os.ReadFile(list)
	if err != nil {
		return nil, err
	}
	var all struct{ Fault []fault }
	var strict *toml.StrictMissingError
	if err := toml.NewDecoder(bytes.NewReader(text)).DisallowUnknownFields().Decode(&all); errors.As(err, &strict) {
		return nil, fmt.Errorf("%s:\n%s", list, strict.String())
	} else if err != nil {
		return nil, fmt.Errorf("%s: %w", list, err)
	}
	var out []fault
	for i, f := range all.Fault {
		if f.Why == "" || f.File == "" || f.Old == "" || f.Test == "" {
			return nil, fmt.Errorf("%s: fault %d (%s %s) needs why, file, old, new and test", list, i+1, f.File, f.Test)
		}
		if strings.Contains(f.File+" "+f.Test+" "+f.Why, words) {
			out = append(out, f)
		}
	}
	if len(out) == 0 {
		return nil, fmt.Errorf("%s has no fault to plant", list)
	}
	return out, nil
}

// shared returns every Nth of the faults from the Kth on, for K/N.
func shared(faults []fault, share string) ([]fault, error) {
	var k, n int
	if _, err := fmt.Sscanf(share, "%d/%d", &k, &n); err != nil || k < 1 || k > n || n > len(faults) {
		return nil, fmt.Errorf("-share %q is not K/N with K from 1 to N, and N at most the %d faults", share, len(faults))
	}
	var out []fault
	for i := k - 1; i < len(faults); i += n {
		out = append(out, faults[i])
	}
	return out, nil
}

// bench is a copy of the tree, in which the tests are built, run and may write,
// and the folder that holds it. A changed file only stands in the place of the
// sound one while it is compiled, so that faults do not get in each other's way
// and the cache serves all that is the same.
type bench struct{ temp, tree string }

func newBench() (*bench, error) {
	temp, err := os.MkdirTemp("", "faults")
	if err != nil {
		return nil, err
	}
	b := &bench{temp: temp, tree: filepath.Join(temp, "tree")}
	for _, part := range []string{"go.mod", "go.sum", "README.md", "DEVELOPERS.md", "cmd", "fit", "plot", "sensito", "testdata"} {
		to := filepath.Join(b.tree, part)
		info, err := os.Stat(part)
		if err == nil && info.IsDir() {
			err = os.CopyFS(to, os.DirFS(part))
		} else if err == nil {
			var text []byte
			if text, err = os.ReadFile(part); err == nil {
				err = errors.Join(os.MkdirAll(b.tree, 0o755), os.WriteFile(to, text, 0o644))
			}
		}
		if err != nil {
			os.RemoveAll(temp)
			return nil, err
		}
	}
	return b, nil
}

// build compiles the tests of a package, with a file in the place of another
// unless that is "".
func (b *bench) build(name, folder, file, by string) (program string, err error) {
	program = filepath.Join(b.temp, name+".test")
	args := []string{"test", "-c", "-vet=off", "-gcflags=-l -dwarf=false", "-ldflags=-s -w", "-o", program}
	if file != "" {
		overlay := filepath.Join(b.temp, name+".json")
		text, err := json.Marshal(map[string]map[string]string{"Replace": {filepath.Join(b.tree, file): by}})
		if err != nil {
			return "", err
		}
		if err := os.WriteFile(overlay, text, 0o644); err != nil {
			return "", err
		}
		args = append(args, "-overlay", overlay)
	}
	c := exec.Command("go", append(args, "./"+folder)...)
	c.Dir = b.tree
	if out, err := c.CombinedOutput(); err != nil {
		return "", fmt.Errorf("does not compile: %w\n%s", err, out)
	}
	return program, nil
}

// tests runs the named tests of a built package and returns what they print.
func (b *bench) tests(program, folder string, names ...string) (string, error) {
	c := exec.Command(program, "-test.run=^("+strings.Join(names, "|")+")$", "-test.v", "-test.timeout=60s")
	c.Dir = filepath.Join(b.tree, folder)
	out, err := c.CombinedOutput()
	return string(out), err
}

var failed = regexp.MustCompile(`(?m)^--- FAIL: (\S+) `)

// sound says whether all tests named are there and green without a fault.
func (b *bench) sound(faults []fault) error {
	names := map[string][]string{}
	for _, f := range faults {
		if !slices.Contains(names[f.folder()], f.Test) {
			names[f.folder()] = append(names[f.folder()], f.Test)
		}
	}
	for folder, tests := range names {
		if err := b.lighten(folder, tests); err != nil {
			return err
		}
		program, err := b.build(filepath.Base(folder)+"-sound", folder, "", "")
		if err != nil { // a test needs what stood in another file
			if err = b.restore(folder); err == nil {
				program, err = b.build(filepath.Base(folder)+"-sound", folder, "", "")
			}
		}
		if err != nil {
			return fmt.Errorf("%s, without a fault: %w", folder, err)
		}
		out, err := b.tests(program, folder, tests...)
		os.Remove(program)
		if err != nil {
			return fmt.Errorf("%s, without a fault: %w\n%s", folder, err, out)
		}
		for _, name := range tests {
			if !strings.Contains(out, "--- PASS: "+name+" ") {
				return fmt.Errorf("%s, without a fault: %s did not run", folder, name)
			}
		}
	}
	return nil
}

// lighten leaves out test files that import what is built upon the package, all of
// restore puts back the files of tests that lighten took away.
func (b *bench) restore(folder string) error {
	files, err := filepath.Glob(filepath.Join(folder, "*_test.go"))
	for _, file := range files {
		var text []byte
		if text, err = os.ReadFile(file); err == nil {
			err = os.WriteFile(filepath.Join(b.tree, file), text, 0o644)
		}
		if err != nil {
			return err
		}
	}
	return err
}

// which would have to be compiled anew with every fault, unless a test is in them.
func (b *bench) lighten(folder string, tests []string) error {
	files, err := filepath.Glob(filepath.Join(b.tree, folder, "*_test.go"))
	if err != nil {
		return err
	}
	above, err := b.above(folder)
	if err != nil {
		return err
	}
	for _, file := range files {
		text, err := os.ReadFile(file)
		if err != nil {
			return err
		}
		wanted := func(test string) bool { return bytes.Contains(text, []byte("func "+test+"(")) }
		imports := func(path string) bool { return bytes.Contains(text, []byte(`"`+path+`"`)) }
		if slices.ContainsFunc(above, imports) && !slices.ContainsFunc(tests, wanted) {
			if err := os.Remove(file); err != nil {
				return err
			}
		}
	}
	return nil
}

// above returns the packages in folders of a folder that are built upon the
// package in it.
func (b *bench) above(folder string) ([]string, error) {
	c := exec.Command("go", "list", "-f", `{{.ImportPath}}{{range .Deps}} {{.}}{{end}}`, "./"+folder+"/...")
	c.Dir = b.tree
	out, err := c.Output()
	if err != nil {
		return nil, fmt.Errorf("the packages below %s: %w", folder, err)
	}
	var paths []string
	for line := range strings.Lines(string(out)) {
		if words := strings.Fields(line); slices.Contains(words[1:], "sensito/"+folder) {
			paths = append(paths, words[0])
		}
	}
	return paths, nil
}

// plant makes the change and returns an error unless the test turns red.
func (b *bench) plant(i int, f fault) error {
	text, err := os.ReadFile(filepath.Join(b.tree, f.File))
	if err != nil {
		return err
	}
	switch n := strings.Count(string(text), f.Old); {
	case n != 1:
		return fmt.Errorf("%q stands there %d times, not once: adapt %s", f.Old, n, list)
	case f.Old == f.New:
		return fmt.Errorf("%q is changed to itself", f.Old)
	}
	name := fmt.Sprint(i)
	changed := filepath.Join(b.temp, name+".go")
	if err := os.WriteFile(changed, []byte(strings.Replace(string(text), f.Old, f.New, 1)), 0o644); err != nil {
		return err
	}
	program, err := b.build(name, f.folder(), f.File, changed)
	if err != nil {
		return err
	}
	defer os.Remove(program)
	out, err := b.tests(program, f.folder(), f.Test)
	if err == nil {
		return fmt.Errorf("%s stays green with %q for %q", f.Test, f.New, f.Old)
	}
	for _, m := range failed.FindAllStringSubmatch(out, -1) {
		if m[1] == f.Test {
			fmt.Printf("%-36s %s\n", f.Test, f)
			return nil
		}
	}
	return fmt.Errorf("%s did not fail but broke off: %w\n%s", f.Test, err, out)
}
