package main

import (
	"fmt"
	"os"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// printed runs a command line and returns what it prints.
func printed(t *testing.T, line string) string {
	t.Helper()
	var out, errOut strings.Builder
	code := run(strings.Fields(line), strings.NewReader(""), &out, &errOut)
	require.Equal(t, exitDone, code, "%s: %s", line, errOut.String())
	return out.String()
}

// found returns the groups of the first match.
func found(t *testing.T, text, expression string) []string {
	t.Helper()
	m := regexp.MustCompile(expression).FindStringSubmatch(text)
	require.NotNil(t, m, "%s in\n%s", expression, text)
	return m[1:]
}

// One scene has one exposure: scene, tone, card, sheet, family and a roll of it
// alone print the same time, index and density range, and scene and tone the
// same densities of negative and print, to the last digit.
func TestOneExposure(t *testing.T) {
	t.Chdir(t.TempDir())
	require.NoError(t, writeNotebook("."))
	for _, film := range []string{"larkfield-brinewater.toml", "tern-ashlar.toml", "larkfield-camera.toml"} {
		for _, aim := range []string{"", " --flare veil=0.01", " --flare none", " --flare fixed=0.25 --shadow-stops 3.34"} {
			for _, stops := range []string{"6.5", "7"} {
				name := film + aim + " " + stops
				given := fmt.Sprintf("%s --paper slate.toml --grade 2 --range %s%s", film, stops, aim)
				scene := printed(t, "scene "+given)
				minutes := found(t, scene, `develop, min:s +(\d+:\d\d)`)[0]
				index := found(t, scene, `set the meter to EI +(\d+)`)[0]
				gives := found(t, scene, `density range delivered +(\d\.\d\d) +(\d\.\d\d) to (\d\.\d\d)`)

				tone := printed(t, "tone "+given)
				assert.Equal(t, minutes, found(t, tone, `develop, min:s +(\d+:\d\d)`)[0], name)
				assert.Equal(t, index, found(t, tone, `exposure index +(\d+)`)[0], name)
				assert.Equal(t, gives, found(t, tone, `density range +(\d\.\d\d)  delivered; (\d\.\d\d) to (\d\.\d\d)`), name)
				cells := func(label string) []string {
					return strings.Fields(found(t, scene, `(?m)^ *`+label+` +(.*)$`)[0])
				}
				at, nets, prints := cells("stops"), cells("net density"), cells("print density")
				same := 0
				for i, l := range at {
					m := regexp.MustCompile(`(?m)^` + regexp.QuoteMeta(l) + ` +-?\d\.\d\d +-?\d\.\d\d +(\d\.\d\d) +\d\.\d+ +-?\d\.\d\d +(\d\.\d\d) `).FindStringSubmatch(tone)
					if m == nil {
						continue // outside the scene
					}
					same++
					assert.Equal(t, []string{nets[i], prints[i]}, m[1:], "%s: tone %s", name, l)
				}
				assert.GreaterOrEqual(t, same, 6, name)

				card := printed(t, "card "+strings.Replace(given, " --range "+stops, "", 1))
				row := found(t, card, `(?m)^N\S* +`+regexp.QuoteMeta(stops)+` +(?:\* )?(\d+:\d\d) +\d+ +(\d+) ±`)
				assert.Equal(t, []string{minutes, index}, row, name)

				sheet := printed(t, "sheet "+given)
				assert.Equal(t, minutes, found(t, sheet, `Develop (\d+:\d\d)`)[0], name)
				assert.Equal(t, index, found(t, sheet, `at EI (\d+) \(`)[0], name)
				assert.Equal(t, gives, found(t, strings.Join(strings.Fields(sheet), " "), `density range of (\d\.\d\d), (\d\.\d\d) to (\d\.\d\d)`), name)

				require.NoError(t, os.WriteFile("alone.csv", []byte("name,range_stops\nalone,"+stops+"\n"), 0o600))
				roll := printed(t, "scene "+strings.Replace(given, "--range "+stops, "--roll alone.csv", 1))
				assert.Equal(t, minutes, found(t, roll, `develop, min:s +(\d+:\d\d)`)[0], name)
				assert.Equal(t, index, found(t, roll, `set the meter to EI +(\d+)`)[0], name)
				assert.Equal(t, gives[0], found(t, roll, `(?m)^alone +\S+ +(\d\.\d\d)`)[0], name)
			}
		}
	}
}
