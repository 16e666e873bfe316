package main

import (
	"os/exec"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// allowed says which packages of this module each may import; see "The layers"
// in DEVELOPERS.md.
var allowed = map[string][]string{
	"sensito/fit":                           {},
	"sensito/sensito/printable":             {},
	"sensito/sensito/internal/lazy":         {},
	"sensito/sensito/internal/decimal":      {"sensito/sensito/internal/lazy"},
	"sensito/sensito/internal/check":        {"sensito/sensito/printable"},
	"sensito/sensito/control/chart":         {},
	"sensito/sensito":                       {"sensito/fit", "sensito/sensito/printable", "sensito/sensito/internal/lazy", "sensito/sensito/internal/decimal", "sensito/sensito/internal/check"},
	"sensito/sensito/curve":                 {"sensito/fit", "sensito/sensito/internal/check", "sensito/sensito"},
	"sensito/sensito/camera":                {"sensito/fit", "sensito/sensito/internal/lazy", "sensito/sensito/internal/decimal", "sensito/sensito"},
	"sensito/sensito/development":           {"sensito/fit", "sensito/sensito/internal/check", "sensito/sensito", "sensito/sensito/curve", "sensito/sensito/camera"},
	"sensito/sensito/control":               {"sensito/fit", "sensito/sensito/printable", "sensito/sensito/internal/lazy", "sensito/sensito/internal/decimal", "sensito/sensito/internal/check", "sensito/sensito/control/chart", "sensito/sensito", "sensito/sensito/curve", "sensito/sensito/development"},
	"sensito/sensito/scene":                 {"sensito/fit", "sensito/sensito/internal/check", "sensito/sensito", "sensito/sensito/curve", "sensito/sensito/camera", "sensito/sensito/development", "sensito/sensito/control"},
	"sensito/sensito/compare":               {"sensito/fit", "sensito/sensito", "sensito/sensito/curve", "sensito/sensito/camera", "sensito/sensito/development", "sensito/sensito/scene"},
	"sensito/sensito/testplan":              {"sensito/fit", "sensito/sensito/printable", "sensito/sensito/internal/check", "sensito/sensito", "sensito/sensito/curve", "sensito/sensito/development", "sensito/sensito/scene"},
	"sensito/sensito/darkroom":              {"sensito/sensito/printable", "sensito/sensito/internal/lazy", "sensito/sensito/internal/decimal", "sensito/sensito/internal/check", "sensito/sensito", "sensito/sensito/development", "sensito/sensito/scene"},
	"sensito/sensito/survey":                {"sensito/sensito", "sensito/sensito/curve", "sensito/sensito/camera", "sensito/sensito/development", "sensito/sensito/control", "sensito/sensito/scene"},
	"sensito/sensito/entry":                 {"sensito/sensito/printable", "sensito/sensito", "sensito/sensito/curve"},
	"sensito/sensito/internal/simulated":    {"sensito/fit", "sensito/sensito"},
	"sensito/sensito/internal/blind":        {"sensito/sensito", "sensito/sensito/curve", "sensito/sensito/development", "sensito/sensito/internal/simulated"},
	"sensito/sensito/notebook":              {"sensito/sensito/printable", "sensito/sensito/internal/lazy", "sensito/sensito", "sensito/sensito/camera", "sensito/sensito/control", "sensito/sensito/scene", "sensito/sensito/testplan", "sensito/sensito/darkroom"},
	"sensito/sensito/notebook/notebooktest": {"sensito/sensito/printable", "sensito/sensito", "sensito/sensito/control"},
	"sensito/sensito/report":                {"sensito/fit", "sensito/sensito/printable", "sensito/sensito/control/chart", "sensito/sensito", "sensito/sensito/curve", "sensito/sensito/camera", "sensito/sensito/development", "sensito/sensito/control", "sensito/sensito/scene", "sensito/sensito/compare", "sensito/sensito/testplan", "sensito/sensito/darkroom", "sensito/sensito/survey"},
	"sensito/plot":                          {"sensito/sensito/printable", "sensito/sensito/control/chart", "sensito/sensito", "sensito/sensito/curve", "sensito/sensito/development", "sensito/sensito/control", "sensito/sensito/scene", "sensito/sensito/compare", "sensito/sensito/testplan", "sensito/sensito/darkroom"},
	"sensito/cmd/sensito":                   {"sensito/fit", "sensito/sensito/printable", "sensito/sensito/control/chart", "sensito/sensito", "sensito/sensito/curve", "sensito/sensito/camera", "sensito/sensito/development", "sensito/sensito/control", "sensito/sensito/scene", "sensito/sensito/compare", "sensito/sensito/testplan", "sensito/sensito/darkroom", "sensito/sensito/survey", "sensito/sensito/entry", "sensito/sensito/notebook", "sensito/sensito/report", "sensito/plot"},
}

// outside says which other modules the numerics and the domain may import, ""
// that they may import none.
var outside = map[string]string{
	"sensito/fit":                      "gonum.org/v1/gonum/",
	"sensito/sensito/printable":        "",
	"sensito/sensito/internal/lazy":    "",
	"sensito/sensito/internal/decimal": "",
	"sensito/sensito/internal/check":   "",
	"sensito/sensito/control/chart":    "gonum.org/v1/gonum/",
	"sensito/sensito":                  "",
	"sensito/sensito/curve":            "gonum.org/v1/gonum/",
	"sensito/sensito/camera":           "",
	"sensito/sensito/development":      "",
	"sensito/sensito/control":          "gonum.org/v1/gonum/",
	"sensito/sensito/scene":            "",
	"sensito/sensito/compare":          "gonum.org/v1/gonum/",
	"sensito/sensito/testplan":         "gonum.org/v1/gonum/",
	"sensito/sensito/darkroom":         "",
	"sensito/sensito/survey":           "",
	"sensito/sensito/entry":            "gonum.org/v1/gonum/",
}

// TestLayers fails when an import runs against the layers.
func TestLayers(t *testing.T) {
	out, err := exec.Command("go", "list", "-f", `{{.ImportPath}} {{join .Imports " "}}`, "sensito/...").Output()
	require.NoError(t, err)
	var forbidden []string
	seen := 0
	for line := range strings.Lines(string(out)) {
		words := strings.Fields(line)
		from := words[0]
		may, known := allowed[from]
		if !known {
			forbidden = append(forbidden, from+" is not one of the layers")
			continue
		}
		seen++
		for _, to := range words[1:] {
			if !imports(from, to, may) {
				forbidden = append(forbidden, from+" imports "+to)
			}
		}
	}
	require.Equal(t, len(allowed), seen, "packages found")
	require.Empty(t, forbidden)
}

func imports(from, to string, may []string) bool {
	if strings.HasPrefix(to, "sensito/") {
		for _, m := range may {
			if to == m {
				return true
			}
		}
		return false
	}
	first, _, _ := strings.Cut(to, "/")
	standard := !strings.Contains(first, ".")
	prefix, limited := outside[from]
	return standard || !limited || prefix != "" && strings.HasPrefix(to, prefix)
}
