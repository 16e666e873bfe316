package notebook

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/iotest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/control"
	"sensito/sensito/control/chart"
	"sensito/sensito/notebook/internal/grammar"
	"sensito/sensito/notebook/notebooktest"
)

func readLog(t require.TestingT, file string) *control.Log {
	log, err := ReadControl("c.toml", strings.NewReader(file))
	require.NoError(t, err)
	return log
}

func TestReadControl(t *testing.T) {
	log := readLog(t, notebooktest.GoodControl)
	assert.Equal(t, "C", log.Title())
	assert.Equal(t, sensito.Minutes(7.5), log.Minutes())
	assert.Equal(t, 0.5, log.Gradient())
	aim, reference := log.Aim()
	assert.Equal(t, &control.Patches{BaseFog: 0.11, Low: 0.39, High: 1.21, Others: map[string]sensito.Density{"middle": 0.7}}, aim)
	assert.False(t, reference)
	assert.Equal(t, control.Tolerances{Low: 0.03, Others: map[string]sensito.Density{"middle": 0.04}}, log.Tolerances())
	assert.Equal(t, []control.Strip{
		{Date: "2026-03-02", Patches: control.Patches{BaseFog: 0.11, Low: 0.40, High: 1.22, Others: map[string]sensito.Density{"middle": 0.71}}, Baseline: true, Note: "new batch"},
		{Date: "2026-03-02", Patches: control.Patches{BaseFog: 0.12, Low: 0.38, High: 1.20, Others: map[string]sensito.Density{"middle": 0.69}}, Fresh: true},
	}, log.Strips())
	assert.Equal(t, []string{"base_fog", "low", "difference", "middle"}, log.Quantities())
}

func TestReadControlRepeatability(t *testing.T) {
	log := readLog(t, strings.NewReplacer("[aim]", "repeatability = 0.012\n[aim]\nstrips = 10").Replace(notebooktest.GoodControl))
	assert.Equal(t, sensito.Density(0.012), log.Repeatability())
	assert.Equal(t, 10, log.AimStrips())
	log = readLog(t, notebooktest.GoodControl)
	assert.Zero(t, log.Repeatability())
	assert.Zero(t, log.AimStrips())
	log = readLog(t, strings.Replace(strings.Replace(notebooktest.GoodControl, "[aim]", "[reference]", 1), "gradient = 0.5\n", "", 1))
	assert.Equal(t, 1, log.AimStrips(), "a reference strip is one")
}

func TestReadControlLeftOut(t *testing.T) {
	log := readLog(t, "[[strip]]\ndate = 2026-03-02\nbase_fog = 0\nlow = 0.4\nhigh = 1.2\n")
	assert.Empty(t, log.Title())
	assert.Zero(t, log.Minutes())
	aim, _ := log.Aim()
	assert.Nil(t, aim)
	log = readLog(t, "aim.gradient = 0.6\n[[strip]]\ndate = 2026-03-02\nbase_fog = 0.1\nlow = 0.4\nhigh = 1.2\n")
	aim, _ = log.Aim()
	assert.Nil(t, aim, "a gradient alone is no aim")
	assert.Equal(t, 0.6, log.Gradient())
	log = readLog(t, "[reference]\ndate = 2026-02-01\nnote = \"box 3\"\nbase_fog = 0.1\nlow = 0.4\nhigh = 1.2\n[[strip]]\ndate = 2026-03-02\nbase_fog = 0.1\nlow = 0.4\nhigh = 1.2\n")
	aim, reference := log.Aim()
	assert.Equal(t, &control.Patches{BaseFog: 0.1, Low: 0.4, High: 1.2}, aim)
	assert.True(t, reference)
}

func badLog(name, old, new string, want ...string) badCase {
	if !strings.Contains(notebooktest.GoodControl, old) {
		panic(name + ": nothing to replace")
	}
	return badCase{name, strings.Replace(notebooktest.GoodControl, old, new, 1), want}
}

var badLogs = []badCase{
	badLog("empty", notebooktest.GoodControl, "", "1: strip: is missing: a control log needs at least one strip"),
	badLog("not TOML", notebooktest.GoodControl, "low 0.4\n", "1: a line is KEY = VALUE, and = is missing"),
	badLog("kind", `"control"`, `"film"`, `1: kind: "film" is not control`),
	badLog("kind not text", `"control"`, `1`, `1: kind: must be text in quotes, not a number`),
	badLog("a trial", notebooktest.GoodControl, notebooktest.Good, "1: is a trial of film (for sensito curve, family, scene or card), and a control log was wanted"),
	badLog("a paper", notebooktest.GoodControl, notebooktest.GoodPaper, "1: is a trial of paper (for sensito paper or --paper), and a control log was wanted"),
	badLog("a roll", notebooktest.GoodControl, "name;range_stops\nLamp;9\n", "1: is a roll of scenes (for sensito scene --roll), and a control log was wanted"),
	badLog("unknown key", "title", "titl", `2: titl: unknown key; did you mean "title"?`),
	badLog("unknown key of a strip", "note = \"new", "notes = \"new", `21: strip[1].notes: unknown key; did you mean "note"?`),
	badLog("unknown key of the aim", "gradient", "slope", "9: aim.slope: unknown key"),
	badLog("high among the limits", "low = 0.03", "high = 0.03", "12: limits.high: unknown key"),
	badLog("time", `"7:30"`, `"7:75"`, `3: minutes: "7:75" is not a time like 5:30 or 1:02:30`),
	badLog("no time", `"7:30"`, "0", "3: minutes: must not be 0; leave the key out if it is not known"),
	badLog("half an aim", "low = 0.39\n", "", "4: aim.low: is missing"),
	badLog("empty aim", "[aim]\nbase_fog = 0.11\nlow = 0.39\nhigh = 1.21\npatches = { middle = 0.7 }\ngradient = 0.5\n", "[aim]\n",
		"4: aim.base_fog: is missing", "4: aim.low: is missing", "4: aim.high: is missing", "4: aim.patches: lacks middle, which the first strip has"),
	badLog("aim and reference", "[limits]", "[reference]\nbase_fog = 0.1\nlow = 0.4\nhigh = 1.2\n[limits]",
		"11: reference: does not go with an aim of the same patches; give one of them"),
	badLog("no repeatability", "[aim]", "repeatability = 0\n[aim]", "4: repeatability: must not be 0; leave the key out if it is not known"),
	badLog("repeatability too large", "[aim]", "repeatability = 1.2\n[aim]", "4: repeatability: 1.2 is outside 0.002 to 0.2"),
	badLog("strips of the aim", "gradient = 0.5", "strips = 2.5", "9: aim.strips: must be a whole number, not 2.5"),
	badLog("strips of no aim", "[aim]\nbase_fog = 0.11\nlow = 0.39\nhigh = 1.21\npatches = { middle = 0.7 }\n", "[aim]\nstrips = 10\n",
		"4: aim.base_fog: is missing", "4: aim.low: is missing", "4: aim.high: is missing", "4: aim.patches: lacks middle, which the first strip has"),
	badLog("limit of no width", "low = 0.03", "low = 0", "12: limits.low: must not be 0; leave the key out if it is not known"),
	badLog("limit too wide", "low = 0.03", "low = 3", "12: limits.low: 3 is outside 0.005 to 2"),
	badLog("missing date", "date = 2026-03-02\n", "", "14: strip[1].date: is missing"),
	badLog("date of another form", `"2026-03-02"`, `"2.3.2026"`, `23: strip[2].date: "2.3.2026" is not a date like 2026-03-01`),
	badLog("date with a time", "2026-03-02", "2026-03-02T10:00:00", "15: strip[1].date: must be a date like 2026-03-01, not a date with a time"),
	badLog("dates backwards", `"2026-03-02"`, `"2026-03-01"`, "23: strip[2].date: 2026-03-01 after 2026-03-02 runs backwards; a strip is appended at the end of the log"),
	badLog("missing patch", "high = 1.22\n", "", "14: strip[1].high: is missing"),
	badLog("density", "high = 1.22", "high = 12.2", "18: strip[1].high: 12.2 is outside 0 to 6"),
	badLog("density not a number", "high = 1.22", "high = nan", "18: strip[1].high: must be a number, not nan"),
	badLog("low and fog exchanged", "low = 0.40", "low = 0.01", "17: strip[1].low: 0.01 is below base_fog, 0.11; were the two exchanged?"),
	badLog("patches exchanged", "low = 0.40", "low = 1.40", "17: strip[1].low: 1.4 is not below high, 1.22; were the patches exchanged?"),
	badLog("patches as a list", "patches = { middle = 0.71 }", "patches = [0.71]",
		"8: aim.patches.middle: is a patch that the first strip does not have", "13: limits.patches.middle: is a patch that the strips do not have",
		"19: strip[1].patches: must be a table of densities by name, such as { middle = 0.71 }, not a list",
		"27: strip[2].patches.middle: is a patch that the first strip does not have"),
	badLog("patch lacking", "patches = { middle = 0.69 }\n", "", "22: strip[2].patches: lacks middle, which the first strip has"),
	badLog("patch not a number", "middle = 0.69", `middle = "x"`, "27: strip[2].patches.middle: must be a number, not text"),
	badLog("baseline not a flag", "baseline = true", "baseline = 1", "20: strip[1].baseline: must be true or false, not a number"),
	badLog("strip in single brackets", notebooktest.GoodControl, "[strip]\ndate = 2026-03-02\n",
		"1: strip: must be written [[strip]], in double brackets"),
	badLog("strips not tables", notebooktest.GoodControl, "strip = [1]\n", "1: strip[1]: must be a table, not a number"),
	badLog("too many patches", "patches = { middle = 0.7 }", "patches = { "+strings.TrimSuffix(manyPatches(51), ", ")+" }",
		"8: aim.patches: has 51 patches, more than 50"),
	badLog("too many strips", notebooktest.GoodControl, strings.Repeat("[[strip]]\n", 10_001), "10001: strip[10001]: brings the file to more than 10000 strips"),
}

func manyPatches(n int) string {
	var b strings.Builder
	for i := range n {
		fmt.Fprintf(&b, "p%d = 1, ", i)
	}
	return b.String()
}

func TestBadControlLogs(t *testing.T) {
	require.GreaterOrEqual(t, len(badLogs), 34)
	for _, c := range badLogs {
		for _, variant := range []struct{ name, file string }{
			{"lf", c.file},
			{"bom crlf", "\ufeff" + strings.ReplaceAll(c.file, "\n", "\r\n")},
		} {
			t.Run(c.name+"/"+variant.name, func(t *testing.T) {
				log, err := ReadControl("c.toml", strings.NewReader(variant.file))
				require.Error(t, err)
				assert.Nil(t, log)
				assert.Equal(t, "c.toml:"+strings.Join(c.want, "\nc.toml:"), err.Error())
			})
		}
	}
	_, err := ReadControl("big.toml", io.LimitReader(notebooktest.Endless{}, grammar.MaxBytes+1))
	assert.EqualError(t, err, "big.toml:1: the file is larger than 16 MiB")
	broken := errors.New("lamp out")
	_, err = ReadControl("c.toml", iotest.ErrReader(broken))
	assert.ErrorIs(t, err, broken)
	_, err = ReadControlFile(filepath.Join(t.TempDir(), "none.toml"))
	assert.ErrorIs(t, err, os.ErrNotExist)
}

func TestDemoControl(t *testing.T) {
	log, err := ReadControlFile(demo + "/control.toml")
	require.NoError(t, err)
	assert.Len(t, log.Strips(), 28)
	days := log.Days()
	assert.InDelta(t, 14, (days[27]+4)/7, 1e-9, "weeks")
	text, err := os.ReadFile(demo + "/control.toml")
	require.NoError(t, err)
	assert.True(t, strings.HasPrefix(string(text), "# Invented data."))
	for i, line := range strings.Split(string(text), "\n") {
		assert.LessOrEqual(t, len(line), 80, "line %d", i+1)
	}
}

func describeLog(l *control.Log) string {
	aim, reference := l.Aim()
	return fmt.Sprintf("%q %v %v %v %v %v %v %v %v %v", l.Title(), l.Minutes(), aim, reference, l.AimStrips(), l.Repeatability(), l.Gradient(), l.Tolerances(), l.Strips(), l.Days())
}

// FuzzReadControl: an error has a line and no log; what is read once is read
// again the same; nothing panics, evaluation included.
func FuzzReadControl(f *testing.F) {
	paths, err := filepath.Glob(demo + "/*.toml")
	require.NoError(f, err)
	for _, path := range paths {
		data, err := os.ReadFile(path)
		require.NoError(f, err)
		f.Add(string(data))
	}
	f.Add(notebooktest.GoodControl)
	for _, c := range badLogs {
		if len(c.file) < 10_000 {
			f.Add(c.file)
		}
	}
	f.Fuzz(func(t *testing.T, file string) {
		log, err := ReadControl("c.toml", strings.NewReader(file))
		if err != nil {
			require.Nil(t, log)
			requireLocated(t, err, file)
			return
		}
		require.NotNil(t, log)
		again := readLog(t, file)
		require.Equal(t, describeLog(log), describeLog(again))
		if _, err := log.Evaluate(control.Options{Rules: chart.Nelson}); err != nil {
			var u *sensito.Unanswerable
			require.True(t, errors.As(err, &u))
		}
	})
}
