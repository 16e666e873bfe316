package main

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"maps"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
)

// Every warning has its sentence, with a verb for each of its values, and every
// sentence is that of a warning: the list of codes is complete.
func TestWarningsHaveSentences(t *testing.T) {
	verbs := map[string]int{} // of each key
	verb := regexp.MustCompile(`%(?:%|[^a-zA-Z%]*[a-zA-Z])`)
	for code, all := range sensito.WarningCodes() {
		assert.Regexp(t, `^[a-z0-9_]+$`, code)
		for i, sentence := range all {
			key := code
			if i > 0 {
				key += "/" + strconv.Itoa(i+1)
			}
			for _, v := range verb.FindAllString(sentence, -1) {
				if v != "%%" {
					verbs[key]++
				}
			}
			if _, ok := verbs[key]; !ok {
				verbs[key] = 0
			}
			assert.NotContains(t, sentence, "--", "%s: a warning of the library names no flag", key)
		}
	}
	require.Greater(t, len(verbs), 100)
	// Two pass the key on.
	used := map[string]bool{"agitation_guessed": true, "dilution_guessed": true}
	require.NoError(t, filepath.WalkDir("../../sensito", func(path string, _ fs.DirEntry, err error) error {
		if err != nil || filepath.Ext(path) != ".go" || strings.HasSuffix(path, "_test.go") {
			return err
		}
		file, err := parser.ParseFile(token.NewFileSet(), path, nil, 0)
		require.NoError(t, err)
		ast.Inspect(file, func(n ast.Node) bool {
			call, ok := n.(*ast.CallExpr)
			if !ok || len(call.Args) == 0 || !warns(call.Fun) {
				return true
			}
			lit, ok := call.Args[0].(*ast.BasicLit)
			if !ok {
				return true
			}
			key, err := strconv.Unquote(lit.Value)
			require.NoError(t, err)
			used[key] = true
			if want, known := verbs[key]; assert.True(t, known, "%s: %s has no sentence", path, key) {
				assert.Equal(t, want, len(call.Args)-1, "%s: values of %s", path, key)
			}
			return true
		})
		return nil
	}))
	assert.ElementsMatch(t, slices.Collect(maps.Keys(verbs)), slices.Collect(maps.Keys(used)), "sentences and the warnings that have them")
}

// warns says whether a function makes a warning: Warn, or Add of warnings.
func warns(fun ast.Expr) bool {
	switch f := fun.(type) {
	case *ast.Ident:
		return f.Name == "Warn"
	case *ast.SelectorExpr:
		if of, ok := f.X.(*ast.SelectorExpr); ok && f.Sel.Name == "Add" {
			return of.Sel.Name == "Warnings" || of.Sel.Name == "Missing"
		}
		return f.Sel.Name == "Warn"
	}
	return false
}

// The list of codes says under each in words what it tells, in lines that a
// terminal holds, with nothing of the sentences lost but their values.
func TestWarningsTopic(t *testing.T) {
	out := printed(t, "help warnings")
	for line := range strings.Lines(out) {
		assert.LessOrEqual(t, utf8.RuneCountInString(strings.TrimSuffix(line, "\n")), 80, line)
		assert.NotRegexp(t, `%[%a-z]|……`, line)
	}
	meanings := sensito.WarningMeanings()
	for code, all := range sensito.WarningCodes() {
		require.Len(t, meanings[code], len(all), code)
		for i, sentence := range all {
			if meant := meanings[code][i]; meant != sentence {
				assert.Regexp(t, `^(%[sv]|: )+$`, sentence, "%s: told in other words, %s", code, meant)
			}
		}
		_, after, found := strings.Cut(out, "\n\n"+code+"\n")
		if !assert.True(t, found, code) {
			continue
		}
		told, _, _ := strings.Cut(after, "\n\n")
		for i, line := range strings.Split(strings.TrimSuffix(told, "\n"), "\n") {
			if i == 0 || !strings.HasPrefix(line, "      ") { // the first line of a sentence
				assert.Regexp(t, `^    \S.*[a-z]{2}`, line, code)
			}
		}
	}
	assert.Contains(t, out, `
few_baseline_strips
    limits rest on … strips, whose scatter is uncertain by … %; a baseline of …
      or more, or stated limits, give fewer false signals
`)
	assert.Contains(t, out, "\nlonger_time\n    at which lower temperature or higher dilution")
	assert.Contains(t, strings.Join(strings.Fields(out), " "), "the strips tell the temperature coefficient to … % only, less well than the … % by which developers differ")
}
