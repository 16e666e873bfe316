package typeset_test

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/cmd/sensito/internal/page/typeset"
	"sensito/plot"
)

func sheet(t testing.TB) string {
	t.Helper()
	data, _, ok := typeset.Asset("style.css")
	require.True(t, ok)
	return regexp.MustCompile(`(?s)/\*.*?\*/`).ReplaceAllString(string(data), "")
}

// colours returns those that the sheet gives a theme, by its selector.
func colours(t testing.TB, css, selector string) map[string]string {
	t.Helper()
	at := strings.Index(css, selector+" {")
	require.GreaterOrEqual(t, at, 0, selector)
	block, _, _ := strings.Cut(css[at:], "}")
	out := map[string]string{}
	for _, m := range regexp.MustCompile(`--([a-z-]+): (#[0-9a-f]{3,6});`).FindAllStringSubmatch(block, -1) {
		out[m[1]] = m[2]
	}
	return out
}

// luminance is the relative one of WCAG 2.
func luminance(t testing.TB, colour string) float64 {
	t.Helper()
	hex := strings.TrimPrefix(colour, "#")
	if len(hex) == 3 {
		hex = fmt.Sprintf("%[1]c%[1]c%[2]c%[2]c%[3]c%[3]c", hex[0], hex[1], hex[2])
	}
	sum := 0.0
	for i, weight := range []float64{0.2126, 0.7152, 0.0722} {
		v, err := strconv.ParseUint(hex[2*i:2*i+2], 16, 8)
		require.NoError(t, err)
		c := float64(v) / 255
		if c <= 0.04045 {
			c /= 12.92
		} else {
			c = math.Pow((c+0.055)/1.055, 2.4)
		}
		sum += weight * c
	}
	return sum
}

func contrast(t testing.TB, a, b string) float64 {
	x, y := luminance(t, a), luminance(t, b)
	return (max(x, y) + 0.05) / (min(x, y) + 0.05)
}

// Colours have the contrast that the design gives them, on the page and on the tint of
// fields, which is at least that of WCAG 2.2 AA: 4.5 for text, 3 for the edges of fields.
func TestContrast(t *testing.T) {
	css := sheet(t)
	for _, c := range []struct {
		theme, selector, colour string
		page, tint              float64
	}{
		{"light", ":root", "ink", 16.0, 14.4}, {"light", ":root", "soft", 6.8, 6.1}, {"light", ":root", "accent", 8.6, 7.7}, {"light", ":root", "edge", 4.3, 3.9},
		{"dark", `[data-theme="dark"]`, "ink", 14.2, 12.6}, {"dark", `[data-theme="dark"]`, "soft", 7.7, 6.9}, {"dark", `[data-theme="dark"]`, "accent", 8.8, 7.8}, {"dark", `[data-theme="dark"]`, "edge", 4.6, 4.1},
		{"red", `[data-theme="red"]`, "ink", 4.8, 4.6}, {"red", `[data-theme="red"]`, "soft", 4.8, 4.6}, {"red", `[data-theme="red"]`, "accent", 5.3, 5.0}, {"red", `[data-theme="red"]`, "edge", 3.2, 3.1},
		{"print", ":root, [data-theme]", "ink", 21, 21}, {"print", ":root, [data-theme]", "soft", 12.6, 12.6}, {"print", ":root, [data-theme]", "accent", 10.6, 10.6}, {"print", ":root, [data-theme]", "edge", 7.5, 7.5},
	} {
		of := colours(t, css, c.selector)
		least := 4.5
		if c.colour == "edge" {
			least = 3
		}
		for on, want := range map[string]float64{"paper": c.page, "tint": c.tint} {
			is := contrast(t, of[c.colour], of[on])
			assert.InDelta(t, want, is, 0.06, "%s: %s on %s", c.theme, c.colour, on)
			assert.GreaterOrEqual(t, is, least, "%s: %s on %s", c.theme, c.colour, on)
		}
	}
	for selector, want := range map[string]float64{":root": 9.1, `[data-theme="dark"]`: 8.8, `[data-theme="red"]`: 5.3} {
		of := colours(t, css, selector)
		assert.InDelta(t, want, contrast(t, of["on-accent"], of["accent"]), 0.06, "text of the main button, %s", selector)
	}
	assert.Equal(t, colours(t, css, `[data-theme="dark"]`), colours(t, css, ":root:not([data-theme])"), "dark by the system is dark by choice")
	for name, value := range colours(t, css, `[data-theme="red"]`) {
		assert.Regexp(t, `^#(000|[0-9a-f]00|[0-9a-f]{2}0000)$`, value, "under red: %s", name)
	}
}

// coming are classes of the sheet for screens that have no template yet.
var coming = strings.Fields(`fieldlist key stepno pad tall question hint desk field said drawn keys listed
	now remain cue bar steps here done huge toc wide page on off say redback patch s i a e m`)

// Every class that a template gives has its rule in the sheet, or a script looks for it, and every class of the
// sheet is given by a template or by a figure.
func TestClasses(t *testing.T) {
	selectors := regexp.MustCompile(`\{[^{}]*\}`).ReplaceAllString(sheet(t), " ")
	ruled, looked := map[string]bool{}, map[string]bool{}
	for _, m := range regexp.MustCompile(`\.([a-zA-Z][a-zA-Z0-9-]*)`).FindAllStringSubmatch(selectors, -1) {
		ruled[m[1]] = true
	}
	scripts, err := filepath.Glob("*.js")
	require.NoError(t, err)
	for _, file := range scripts {
		text, err := os.ReadFile(file)
		require.NoError(t, err)
		for _, m := range regexp.MustCompile(`["'`+"`"+` ]\.([a-z][a-z-]*)`).FindAllStringSubmatch(string(text), -1) {
			looked[m[1]] = true
		}
	}
	given := map[string]bool{}
	for _, glob := range []string{"templates/*.html", "templates/shared/*.html"} {
		files, err := filepath.Glob(glob)
		require.NoError(t, err)
		require.NotEmpty(t, files)
		for _, file := range files {
			text, err := os.ReadFile(file)
			require.NoError(t, err)
			actions := regexp.MustCompile(`\{\{[^}]*\}\}`)
			for _, m := range regexp.MustCompile(`class="([^"]*)"`).FindAllStringSubmatch(actions.ReplaceAllString(string(text), " "), -1) {
				for _, class := range strings.Fields(m[1]) {
					given[class] = true
					assert.True(t, ruled[class] || looked[class], "%s: class %q has no rule in the sheet", file, class)
				}
			}
		}
	}
	for _, class := range plot.Classes() {
		given[class] = true
		assert.True(t, ruled[class], "figures: class %q has no rule in the sheet", class)
	}
	for class := range ruled {
		assert.True(t, given[class] || slices.Contains(coming, class), "no template and no figure has the class %q", class)
	}
}

// All scripts together stay small enough to be read at once, as they are written. Without
// them the pages do the same.
func TestScriptsAreSmall(t *testing.T) {
	const most = 12_000 // bytes
	scripts, err := filepath.Glob("*.js")
	require.NoError(t, err)
	require.Contains(t, scripts, "clock.js")
	size, sizes := 0, ""
	for _, name := range scripts {
		text, _, ok := typeset.Asset(name)
		require.True(t, ok, name)
		size += len(text)
		sizes += fmt.Sprintf(" %s %d", name, len(text))
		for i, line := range strings.Split(string(text), "\n") {
			assert.LessOrEqual(t, utf8.RuneCountInString(line), 140, "%s:%d is not written to be read", name, i+1)
		}
	}
	assert.LessOrEqual(t, size, most, sizes)
}
