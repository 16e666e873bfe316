package main

import (
	"maps"
	"os/exec"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// layers are the packages of this module, from the ground up, each with those
// that it may import; see "The layers" in DEVELOPERS.md. A path is below that of
// the module.
const layers = `
fit/cputime:
fit:
fit/joint: fit
fit/smooth: fit
fit/internal/curvecheck:
sensito/printable:
sensito/internal/lazy:
sensito/internal/decimal: sensito/internal/lazy
sensito/internal/check: sensito/printable
sensito/control/chart:
sensito: fit sensito/printable sensito/internal/lazy sensito/internal/decimal sensito/internal/check
sensito/curve/internal/sidebyside:
sensito/curve/internal/sigmoid: fit
sensito/curve/internal/tape: sensito
sensito/curve/internal/aside: sensito
sensito/curve/internal/alike: fit/joint sensito
sensito/curve: fit fit/joint fit/smooth sensito/internal/check sensito sensito/curve/internal/sidebyside sensito/curve/internal/sigmoid sensito/curve/internal/tape sensito/curve/internal/aside sensito/curve/internal/alike
sensito/paper: fit sensito sensito/curve
sensito/curve/tabulated: fit sensito/internal/check sensito sensito/curve
sensito/camera: fit sensito/internal/lazy sensito/internal/decimal sensito
sensito/development: fit sensito/internal/check sensito sensito/curve sensito/curve/tabulated sensito/camera
sensito/control: fit sensito/printable sensito/internal/lazy sensito/internal/decimal sensito/internal/check sensito/control/chart sensito sensito/curve sensito/development
sensito/scene: fit sensito/internal/check sensito sensito/curve sensito/paper sensito/camera sensito/development sensito/control
sensito/cameratest: fit sensito/internal/check sensito sensito/curve sensito/camera sensito/development
sensito/compare: fit sensito sensito/curve sensito/camera sensito/development sensito/scene
sensito/testplan: fit sensito/printable sensito/internal/check sensito sensito/curve sensito/development sensito/scene
sensito/darkroom: sensito/printable sensito/internal/lazy sensito/internal/decimal sensito/internal/check sensito sensito/development sensito/scene
sensito/session: fit sensito/printable sensito/internal/lazy sensito/internal/check sensito sensito/development sensito/darkroom
sensito/picture/internal/encoded:
sensito/picture/internal/pixels: fit
sensito/picture: sensito/picture/internal/encoded sensito/picture/internal/pixels fit fit/smooth sensito/internal/check sensito
sensito/listing: sensito sensito/curve sensito/paper sensito/camera sensito/development sensito/control sensito/scene sensito/darkroom
sensito/logbook: sensito/printable sensito sensito/control
sensito/entry: sensito/printable sensito/internal/lazy sensito/internal/decimal sensito sensito/curve
sensito/internal/simulated: fit sensito
sensito/picture/look: sensito sensito/picture
sensito/picture/lighttable: sensito sensito/picture sensito/internal/simulated
sensito/internal/blind: sensito sensito/curve sensito/paper sensito/development sensito/internal/simulated
sensito/notebook/internal/grammar: sensito/printable sensito/internal/lazy sensito
sensito/notebook/internal/trialfile: sensito sensito/notebook/internal/grammar
sensito/notebook/store: sensito/notebook/internal/grammar
sensito/notebook: sensito/printable sensito/internal/lazy sensito sensito/camera sensito/control sensito/scene sensito/testplan sensito/darkroom sensito/notebook/internal/grammar sensito/notebook/internal/trialfile sensito/notebook/store
sensito/notebook/sessions: sensito/internal/lazy sensito sensito/session sensito/notebook/store sensito/notebook
sensito/notebook/table: sensito/printable sensito/internal/lazy sensito sensito/notebook/internal/grammar sensito/notebook/internal/trialfile sensito/notebook/store sensito/notebook
sensito/notebook/pictures: sensito/printable sensito sensito/picture sensito/listing sensito/notebook/internal/grammar sensito/notebook/internal/trialfile sensito/notebook/store sensito/notebook sensito/notebook/table
sensito/notebook/notebooktest: sensito/printable sensito sensito/control
sensito/answers: sensito/printable sensito/control/chart sensito sensito/curve sensito/paper sensito/camera sensito/control sensito/picture sensito/scene sensito/compare sensito/testplan sensito/listing
sensito/report/internal/page: sensito/printable sensito
sensito/report: sensito/report/internal/page sensito/answers fit sensito/printable sensito/control/chart sensito sensito/curve sensito/paper sensito/camera sensito/development sensito/control sensito/scene sensito/cameratest sensito/compare sensito/testplan sensito/darkroom sensito/listing sensito/logbook
sensito/report/pictured: sensito/printable sensito sensito/picture sensito/report/internal/page
plot/internal/canvas: sensito/printable
plot/internal/parts: plot/internal/canvas sensito/printable sensito
plot/internal/figure: plot/internal/canvas plot/internal/parts sensito/printable sensito sensito/scene
plot/internal/plottest: plot/internal/canvas plot/internal/parts plot/internal/figure sensito sensito/curve sensito/paper sensito/development sensito/scene sensito/testplan sensito/logbook sensito/notebook
plot/internal/developed: plot/internal/parts plot/internal/figure sensito/printable sensito/logbook
plot/internal/planned: plot/internal/parts plot/internal/figure sensito sensito/testplan
plot/internal/strips: plot/internal/parts plot/internal/figure sensito sensito/curve sensito/paper
plot/internal/overlay: plot/internal/canvas plot/internal/parts plot/internal/figure sensito/printable sensito/picture
plot: sensito/answers plot/internal/parts plot/internal/figure plot/internal/planned plot/internal/strips plot/internal/developed plot/internal/overlay sensito/printable sensito/control/chart sensito sensito/curve sensito/paper sensito/camera sensito/development sensito/control sensito/scene sensito/compare sensito/testplan sensito/darkroom sensito/logbook sensito/picture
cmd/sensito/internal/console: sensito/printable sensito sensito/notebook/store sensito/notebook
cmd/sensito/demo:
cmd/sensito/internal/ask: fit sensito/printable sensito/control/chart sensito sensito/curve sensito/paper sensito/camera sensito/development sensito/control sensito/scene sensito/compare sensito/testplan sensito/darkroom sensito/listing sensito/logbook sensito/notebook/store sensito/notebook sensito/report sensito/picture sensito/picture/look sensito/notebook/pictures sensito/report/pictured plot cmd/sensito/internal/console cmd/sensito/demo
cmd/sensito/internal/topics: sensito/report
cmd/sensito/internal/instrument: sensito/notebook/table cmd/sensito/internal/console
cmd/sensito/internal/told: sensito/printable sensito sensito/curve sensito/notebook
cmd/sensito/internal/keyed: sensito
cmd/sensito/internal/typed: sensito sensito/entry cmd/sensito/internal/told cmd/sensito/internal/keyed
cmd/sensito/internal/enter: sensito/printable sensito sensito/camera sensito/control sensito/scene sensito/darkroom sensito/entry sensito/notebook/store sensito/notebook sensito/notebook/table cmd/sensito/internal/console cmd/sensito/internal/instrument cmd/sensito/internal/told cmd/sensito/internal/typed cmd/sensito/internal/keyed
cmd/sensito/internal/clock: sensito sensito/session sensito/notebook/sessions cmd/sensito/internal/console
cmd/sensito/internal/manual:
cmd/sensito/internal/page/guard: sensito/notebook/store
cmd/sensito/internal/complete: sensito/printable sensito sensito/notebook
cmd/sensito/internal/page/typeset: 
cmd/sensito/internal/page/screen: sensito/printable sensito sensito/curve sensito/paper sensito/development sensito/control sensito/scene sensito/compare sensito/testplan sensito/darkroom sensito/listing sensito/logbook sensito/answers sensito/report plot
cmd/sensito/internal/page/pictured: sensito/printable sensito/picture sensito/report/pictured plot cmd/sensito/internal/page/screen
cmd/sensito/internal/page/keyed: sensito sensito/entry sensito/notebook/store sensito/notebook sensito/notebook/table plot cmd/sensito/internal/told cmd/sensito/internal/typed
cmd/sensito/internal/page/timed: sensito/printable sensito sensito/darkroom sensito/session sensito/report
cmd/sensito/internal/page: sensito/printable sensito sensito/curve sensito/paper sensito/camera sensito/development sensito/control sensito/scene sensito/compare sensito/darkroom sensito/session sensito/listing sensito/logbook sensito/picture sensito/picture/look sensito/notebook/store sensito/notebook sensito/notebook/sessions sensito/notebook/pictures sensito/notebook/table sensito/answers sensito/report sensito/report/pictured plot cmd/sensito/internal/console cmd/sensito/internal/ask cmd/sensito/internal/topics cmd/sensito/internal/told cmd/sensito/internal/page/typeset cmd/sensito/internal/page/screen cmd/sensito/internal/page/keyed cmd/sensito/internal/page/pictured cmd/sensito/internal/page/timed
cmd/sensito/internal/page/pagetest: cmd/sensito/internal/page
cmd/sensito/internal/page/browsertest:
cmd/sensito: sensito/printable sensito/control/chart sensito sensito/curve sensito/paper sensito/development sensito/control sensito/scene sensito/cameratest sensito/darkroom sensito/session sensito/listing sensito/notebook/store sensito/notebook sensito/notebook/pictures sensito/notebook/table sensito/picture sensito/report plot cmd/sensito/internal/console cmd/sensito/demo cmd/sensito/internal/ask cmd/sensito/internal/topics cmd/sensito/internal/enter cmd/sensito/internal/clock cmd/sensito/internal/manual cmd/sensito/internal/page/guard cmd/sensito/internal/complete cmd/sensito/internal/page
`

// outside says which other modules the numerics and the domain may import, ""
// that they may import none.
var outside = map[string]string{
	"fit":                              "gonum.org/v1/gonum/",
	"fit/joint":                        "gonum.org/v1/gonum/",
	"fit/smooth":                       "gonum.org/v1/gonum/",
	"sensito/printable":                "",
	"sensito/internal/lazy":            "",
	"sensito/internal/decimal":         "",
	"sensito/internal/check":           "",
	"sensito/control/chart":            "gonum.org/v1/gonum/",
	"sensito":                          "",
	"sensito/paper":                    "",
	"sensito/curve":                    "gonum.org/v1/gonum/",
	"sensito/camera":                   "",
	"sensito/development":              "",
	"sensito/control":                  "gonum.org/v1/gonum/",
	"sensito/scene":                    "",
	"sensito/cameratest":               "",
	"sensito/compare":                  "gonum.org/v1/gonum/",
	"sensito/testplan":                 "gonum.org/v1/gonum/",
	"sensito/answers":                  "",
	"sensito/darkroom":                 "",
	"sensito/session":                  "",
	"sensito/picture/internal/encoded": "",
	"sensito/picture/internal/pixels":  "",

	"sensito/picture":      "gonum.org/v1/gonum/",
	"sensito/picture/look": "",
	"sensito/listing":      "",
	"sensito/logbook":      "",
	"sensito/entry":        "gonum.org/v1/gonum/",

	"cmd/sensito/internal/page/guard": "",

	"sensito/curve/internal/alike": "gonum.org/v1/gonum/",

	"sensito/picture/lighttable": "gonum.org/v1/gonum/",
}

// TestLayers fails when an import runs against the layers, or points up.
func TestLayers(t *testing.T) {
	out, err := exec.Command("go", "list", "-f", `{{.ImportPath}} {{join .Imports " "}}`, "sensito/...").Output()
	require.NoError(t, err)
	imports := map[string][]string{}
	for line := range strings.Lines(string(out)) {
		words := strings.Fields(line)
		imports[strings.TrimPrefix(words[0], "sensito/")] = words[1:]
	}
	var forbidden []string
	var below []string
	for line := range strings.Lines(strings.TrimSpace(layers)) {
		from, row, ok := strings.Cut(strings.TrimSpace(line), ":")
		require.True(t, ok, line)
		may := strings.Fields(row)
		for _, to := range may {
			require.Contains(t, below, to, "%s may import what stands above it alone", from)
		}
		require.Contains(t, imports, from, "a package of this module")
		for _, to := range imports[from] {
			if own, ok := strings.CutPrefix(to, "sensito/"); ok && !slices.Contains(may, own) || !ok && !mayImport(from, to) {
				forbidden = append(forbidden, from+" imports "+to)
			}
		}
		below = append(below, from)
	}
	require.ElementsMatch(t, slices.Collect(maps.Keys(imports)), below, "packages with a row")
	require.Empty(t, forbidden)
}

// mayImport says whether a package may import one of the standard library or of
// another module.
func mayImport(from, to string) bool {
	first, _, _ := strings.Cut(to, "/")
	standard := !strings.Contains(first, ".")
	prefix, limited := outside[from]
	return standard || !limited || prefix != "" && strings.HasPrefix(to, prefix)
}
