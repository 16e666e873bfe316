package main

import (
	"go/ast"
	"go/parser"
	"go/token"
	"os/exec"
	"path/filepath"
	"regexp"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestDocs fails on a package whose doc comment does not say where to begin, or
// names something that the package does not declare.
func TestDocs(t *testing.T) {
	out, err := exec.Command("go", "list", "-f", `{{if ne .Name "main"}}{{.Dir}}{{end}}`, "../../...").Output()
	require.NoError(t, err)
	begin := regexp.MustCompile(`[Bb]egin\s+with\s+(?:an?\s+)?(\pL+)`)
	dirs := regexp.MustCompile(`\S+`).FindAllString(string(out), -1)
	require.NotEmpty(t, dirs)
	for _, dir := range dirs {
		files, err := filepath.Glob(filepath.Join(dir, "*.go"))
		require.NoError(t, err)
		declared, named := map[string]bool{}, ""
		for _, path := range files {
			file, err := parser.ParseFile(token.NewFileSet(), path, nil, parser.ParseComments)
			require.NoError(t, err)
			if m := begin.FindStringSubmatch(file.Doc.Text()); m != nil {
				named = m[1]
			}
			for _, d := range file.Decls {
				switch d := d.(type) {
				case *ast.FuncDecl:
					declared[d.Name.Name] = declared[d.Name.Name] || d.Recv == nil
				case *ast.GenDecl:
					for _, s := range d.Specs {
						if s, ok := s.(*ast.TypeSpec); ok {
							declared[s.Name.Name] = true
						}
					}
				}
			}
		}
		if assert.NotEmpty(t, named, "%s: the doc comment does not say where to begin", dir) {
			assert.True(t, ast.IsExported(named) && declared[named], "%s: begin with %s, which is not there", dir, named)
		}
	}
}
