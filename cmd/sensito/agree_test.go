package main

import (
	"encoding/json"
	"fmt"
	"os"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/cmd/sensito/internal/console"
	"sensito/sensito"
)

// printed runs a command line and returns what it prints.
func printed(t *testing.T, line string) string {
	t.Helper()
	var out, errOut strings.Builder
	code := run(strings.Fields(line), strings.NewReader(""), &out, &errOut)
	require.Equal(t, console.ExitDone, code, "%s: %s", line, errOut.String())
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
	if testing.Short() {
		t.Skip("slow under the race detector, and nothing in it runs side by side")
	}
	t.Chdir(t.TempDir())
	require.NoError(t, writeNotebook("."))
	for i, film := range []string{"larkfield-brinewater.toml", "tern-ashlar.toml", "larkfield-camera.toml"} {
		for j, aim := range []string{"", " --flare veil=0.01", " --flare none", " --flare fixed=0.25 --shadow-stops 3.34"} {
			stops := []string{"6.5", "7"}[(i+j)%2] // each film and each aim meets both
			name := film + aim + " " + stops
			given := fmt.Sprintf("%s --paper slate.toml --grade 2 --range %s%s", film, stops, aim)
			scene := printed(t, "scene "+given+" --full")
			minutes := found(t, scene, `develop, min:s +(\d+:\d\d)`)[0]
			index := found(t, scene, `set the meter to EI +(\d+)`)[0]
			gives := found(t, scene, `density range delivered +(\d\.\d\d) +(\d\.\d\d) to (\d\.\d\d)`)

			tone := printed(t, "tone "+given+" --full")
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

			card := printed(t, "card "+strings.Replace(given, " --range "+stops, "", 1)+" --full")
			row := found(t, card, `(?m)^N\S* +`+regexp.QuoteMeta(stops)+` +(?:\* )?(\d+:\d\d) +\d+ +(\d+) ±`)
			assert.Equal(t, []string{minutes, index}, row, name)

			sheet := printed(t, "sheet "+given)
			assert.Equal(t, minutes, found(t, sheet, `Develop (\d+:\d\d)`)[0], name)
			assert.Equal(t, index, found(t, sheet, `at EI (\d+) \(`)[0], name)
			assert.Equal(t, gives, found(t, strings.Join(strings.Fields(sheet), " "), `density range of (\d\.\d\d), (\d\.\d\d) to (\d\.\d\d)`), name)

			require.NoError(t, os.WriteFile("alone.csv", []byte("name,range_stops\nalone,"+stops+"\n"), 0o600))
			roll := printed(t, "scene "+strings.Replace(given, "--range "+stops, "--roll alone.csv", 1)+" --full")
			assert.Equal(t, minutes, found(t, roll, `develop, min:s +(\d+:\d\d)`)[0], name)
			assert.Equal(t, index, found(t, roll, `set the meter to EI +(\d+)`)[0], name)
			assert.Equal(t, gives[0], found(t, roll, `(?m)^alone +\S+ +(\d\.\d\d)`)[0], name)
		}
	}
}

// Today is one thing to all commands: each takes the same flags, tells the same
// time and index for it, and says what it would be as tested.
func TestOneToday(t *testing.T) {
	if testing.Short() {
		t.Skip("slow under the race detector, and nothing in it runs side by side")
	}
	t.Chdir(t.TempDir())
	require.NoError(t, writeNotebook("."))
	const trial, paper, all = "larkfield-brinewater.toml", " --paper slate.toml --grade 2", " --control control.toml --correct"
	tested := jsonOf(t, "scene "+trial+" --range 7"+paper)
	for _, today := range []string{" --at 23", " --at 21 --ends-at 24 --q10 2.4", " --agitation intermittent --dilution 1+24", all, " --at 68F --agitation intermittent" + all, " --at 22.5" + all} {
		scene := jsonOf(t, "scene "+trial+" --range 7"+paper+today)
		minutes, index := scene.at("minutes.value"), scene.at("exposure_index.value")
		asTested, uncorrected := scene.at("minutes_as_tested.value"), scene.at("uncorrected.minutes.value")
		require.False(t, asTested == nil && uncorrected == nil, today)
		same := func(line string, paths ...string) answer {
			t.Helper()
			got := jsonOf(t, line+today)
			for i, want := range []any{minutes, asTested, uncorrected, index} {
				if i < len(paths) && paths[i] != "" {
					assert.InDelta(t, number(want), number(got.at(paths[i])), 1e-9, "%s%s: %s", line, today, paths[i])
				}
			}
			for _, path := range []string{"conditions", "today"} {
				told := got.at(path)
				if strings.HasPrefix(line, "compare") && path == "conditions" {
					told = got.at("trials.0.conditions")
				}
				assert.Equal(t, scene.at(path), told, "%s%s: %s", line, today, path)
			}
			return got
		}
		same("tone "+trial+" --range 7"+paper, "minutes.value", "minutes_as_tested.value", "uncorrected.minutes.value", "exposure_index.value")
		same("card "+trial+paper, "rows.4.minutes.value", "rows.4.minutes_as_tested.value", "rows.4.uncorrected.minutes.value", "rows.4.exposure_index.value")
		same("family "+trial+" --range 7"+paper, "marked.minutes.value", "marked.minutes_as_tested.value", "marked.uncorrected.minutes.value")
		iso := jsonOf(t, "family "+trial+today)
		if asTested != nil && uncorrected == nil {
			assert.InEpsilon(t, number(minutes)/number(asTested), number(iso.at("iso.minutes.value"))/number(iso.at("iso.minutes_as_tested.value")), 1e-9, today)
		} else if uncorrected != nil {
			assert.InEpsilon(t, number(minutes)/number(uncorrected), number(iso.at("iso.minutes.value"))/number(iso.at("iso.uncorrected.minutes.value")), 1e-9, today)
		}
		same("plan "+trial+" --range 7"+paper, "before.value", "minutes_as_tested.value", "uncorrected.minutes.value")
		same("plan "+trial+" --range 7 --wanted ei"+paper, "", "", "uncorrected.minutes.value", "before.value")
		same("sheet "+trial+" --range 7"+paper, "minutes.value", "minutes_as_tested.value", "uncorrected.minutes.value", "exposure_index.value")

		if uncorrected != nil { // and the note says what the trial itself says
			says := fmt.Sprintf("the trial itself says %s and EI %.0f", sensito.Minutes(number(tested.at("minutes.value"))).Clock(5), number(tested.at("exposure_index.value")))
			assert.Contains(t, strings.Join(strings.Fields(printed(t, "sheet "+trial+" --range 7"+paper+today)), " "), says, today)
			assert.InDelta(t, number(tested.at("tones.5.film_log_h_lxs"))-number(scene.at("today.speed_stops.value"))*float64(sensito.Stop), number(scene.at("tones.5.film_log_h_lxs")), 1e-9, "where tones land: %s", today)
			assert.InDelta(t, number(tested.at("base_fog.value"))+number(scene.at("today.fog.value")), number(scene.at("base_fog.value")), 1e-9, today)
		}

		// The aim of a comparison is the usual one.
		scene = jsonOf(t, "scene "+trial+" --range 7"+today)
		minutes, asTested, uncorrected, index = scene.at("minutes.value"), scene.at("minutes_as_tested.value"), scene.at("uncorrected.minutes.value"), nil
		other := same("compare "+trial+" larkfield-ashlar.toml", "trials.0.minutes.value", "trials.0.minutes_as_tested.value", "trials.0.uncorrected.minutes.value")
		assert.Nil(t, other.at("trials.1.uncorrected"), "the control log is of the first trial")
		assert.Equal(t, asTested == nil, other.at("trials.1.minutes_as_tested") == nil, "conditions are of all")
		require.NoError(t, os.WriteFile("alone.csv", []byte("name,range_stops\nalone,7\n"), 0o600))
		same("scene "+trial+" --roll alone.csv", "minutes.value", "minutes_as_tested.value", "uncorrected.minutes.value")
	}
}

// answer is a result of JSON.
type answer map[string]any

func jsonOf(t *testing.T, line string) answer {
	t.Helper()
	var out answer
	require.NoError(t, json.Unmarshal([]byte(printed(t, line+" --json")), &out), line)
	return out
}

// at returns the value at a path of keys and places, nil for none.
func (a answer) at(path string) any {
	var v any = map[string]any(a)
	for _, key := range strings.Split(path, ".") {
		switch in := v.(type) {
		case map[string]any:
			v = in[key]
		case []any:
			i, err := strconv.Atoi(key)
			if err != nil || i >= len(in) {
				return nil
			}
			v = in[i]
		default:
			return nil
		}
	}
	return v
}

// number returns a number of JSON, -1 for null.
func number(v any) float64 {
	if x, ok := v.(float64); ok {
		return x
	}
	return -1
}
