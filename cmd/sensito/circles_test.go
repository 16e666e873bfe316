package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"go/ast"
	"go/importer"
	"go/parser"
	"go/token"
	"go/types"
	"io"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// largestCircle is how many files of a package may need each other, directly or
// by way of others: who changes one of them has to know all of them.
const largestCircle = 6

// TestCircles fails where more than largestCircle files of a package need each
// other in a circle. A file needs another where it names anything declared
// there: a package-level name, a method or a field. Files of tests do not count.
func TestCircles(t *testing.T) {
	if testing.Short() {
		t.Skip("slow under the race detector, and a gate of its own")
	}
	packages := listed(t)
	fset := token.NewFileSet()
	// What a package imports is read as the compiler has left it, which is far
	// quicker than to check its source.
	compiled := importer.ForCompiler(fset, "gc", func(path string) (io.ReadCloser, error) { return os.Open(packages[path].Export) })
	own := 0
	for _, path := range slices.Sorted(maps.Keys(packages)) {
		p := packages[path]
		if p.Module == nil || !p.Module.Main {
			continue
		}
		own++
		needs, err := p.needs(fset, compiled)
		require.NoError(t, err, path)
		for _, files := range circlesOf(needs) {
			if len(files) > largestCircle {
				t.Errorf("%s: %d files need each other:\n%s", path, len(files), needs.within(files))
			}
		}
	}
	require.Greater(t, own, 20, "packages of this module")
}

// goPackage is a package as go list tells of it.
type goPackage struct {
	ImportPath, Dir, Export string
	GoFiles                 []string
	Module                  *struct{ Main bool }
}

// listed returns the packages of the module and all that they import.
func listed(t *testing.T) map[string]goPackage {
	out, err := exec.Command("go", "list", "-export", "-deps", "-json=ImportPath,Dir,Export,GoFiles,Module", "sensito/...").Output()
	require.NoError(t, err)
	packages := map[string]goPackage{}
	for d := json.NewDecoder(bytes.NewReader(out)); ; {
		var p goPackage
		if err := d.Decode(&p); err == io.EOF {
			return packages
		} else {
			require.NoError(t, err)
		}
		packages[p.ImportPath] = p
	}
}

// fileNeeds are the names by which a file needs another, by file and file.
type fileNeeds map[string]map[string]map[string]bool

// needs returns which files of the package need which.
func (p goPackage) needs(fset *token.FileSet, imports types.Importer) (fileNeeds, error) {
	var files []*ast.File
	for _, name := range p.GoFiles {
		f, err := parser.ParseFile(fset, filepath.Join(p.Dir, name), nil, parser.SkipObjectResolution)
		if err != nil {
			return nil, err
		}
		files = append(files, f)
	}
	info := &types.Info{Uses: map[*ast.Ident]types.Object{}}
	of, err := (&types.Config{Importer: imports}).Check(p.ImportPath, fset, files, info)
	if err != nil {
		return nil, err
	}
	needs := fileNeeds{}
	for _, name := range p.GoFiles {
		needs[name] = map[string]map[string]bool{}
	}
	for id, o := range info.Uses {
		if o.Pkg() != of {
			continue
		}
		from, to := filepath.Base(fset.Position(id.Pos()).Filename), filepath.Base(fset.Position(o.Pos()).Filename)
		if from == to { // as all that is local to a function is
			continue
		}
		if needs[from][to] == nil {
			needs[from][to] = map[string]bool{}
		}
		needs[from][to][o.Name()] = true
	}
	return needs, nil
}

// within returns a line for each need among the files.
func (n fileNeeds) within(files []string) string {
	var b strings.Builder
	for _, from := range files {
		for _, to := range files {
			if names := n[from][to]; names != nil {
				fmt.Fprintf(&b, "  %s needs of %s: %s\n", from, to, strings.Join(slices.Sorted(maps.Keys(names)), " "))
			}
		}
	}
	return b.String()
}

// circlesOf returns the files that need each other, sorted: those that each can
// reach from each.
func circlesOf(n fileNeeds) [][]string {
	reach := map[string]map[string]bool{}
	for from := range n {
		reach[from] = map[string]bool{}
		for open := []string{from}; len(open) > 0; {
			last := open[len(open)-1]
			open = open[:len(open)-1]
			for to := range n[last] {
				if !reach[from][to] {
					reach[from][to] = true
					open = append(open, to)
				}
			}
		}
	}
	var circles [][]string
	for _, from := range slices.Sorted(maps.Keys(n)) {
		var circle []string
		for _, to := range slices.Sorted(maps.Keys(reach[from])) {
			if reach[to][from] {
				circle = append(circle, to)
			}
		}
		if len(circle) > 0 && circle[0] == from { // once, from its first file
			circles = append(circles, circle)
		}
	}
	return circles
}
