package notebook

import (
	"bytes"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sensito/sensito"
	"sensito/sensito/control"
	"sensito/sensito/notebook/internal/grammar"
	"sensito/sensito/notebook/notebooktest"
)

// edited text: what is replaced in old to get the new text, in pairs.
func changed(t *testing.T, old string, pairs ...string) string {
	for i := 0; i < len(pairs); i += 2 {
		require.Equal(t, 1, strings.Count(old, pairs[i]), pairs[i])
		old = strings.Replace(old, pairs[i], pairs[i+1], 1)
	}
	return old
}

func TestReplaceStrip(t *testing.T) {
	for name, c := range map[string]struct {
		strip int
		edit  func(*sensito.StripSpec)
		want  []string // what is replaced by what
	}{
		"nothing":  {1, func(s *sensito.StripSpec) {}, nil},
		"one step": {1, func(s *sensito.StripSpec) { s.Density[0] = 1.12 }, []string{"1.1, ", "1.12, "}},
		"a repeat more": {1, func(s *sensito.StripSpec) { s.Repeats[2] = []sensito.Density{0.8, 0.83, 0.85} },
			[]string{"[0.8, 0.82]", "[0.8, 0.83, 0.85]"}},
		"a repeat less": {1, func(s *sensito.StripSpec) { s.Density[1], s.Repeats = 0.8, nil }, []string{"[0.8, 0.82]", "0.80"}},
		"read again":    {2, func(s *sensito.StripSpec) { s.Repeats = map[int][]sensito.Density{2: {0.9, 0.92}} }, []string{"0.9,", "[0.90, 0.92],"}},
		"complete":      {1, func(s *sensito.StripSpec) { s.NextStep = 0 }, []string{"next_step = 2 # to", "# to"}},
		"next":          {1, func(s *sensito.StripSpec) { s.NextStep = 3 }, []string{"next_step = 2", "next_step = 3"}},
		"interrupted":   {2, func(s *sensito.StripSpec) { s.NextStep = 3 }, []string{"base_fog = 0.12\n", "base_fog = 0.12\nnext_step = 3\n"}},
		"base":          {2, func(s *sensito.StripSpec) { s.BaseFog[0] = 0.13 }, []string{"0.12", "0.13"}},
		"bases":         {2, func(s *sensito.StripSpec) { s.BaseFog = []sensito.Density{0.12, 0.13} }, []string{"0.12", "[0.12, 0.13]"}},
		"a base more":   {1, func(s *sensito.StripSpec) { s.BaseFog = append(s.BaseFog, 0.12) }, []string{"0.11 #", "0.11, 0.12 #"}},
		"a base less":   {1, func(s *sensito.StripSpec) { s.BaseFog = s.BaseFog[:1] }, []string{"0.1, # read\n    0.11 #", "0.1 # read\n     #"}},
		"no base":       {1, func(s *sensito.StripSpec) { s.BaseFog = nil }, []string{"[0.1, # read\n    0.11 #", "[ # read\n     #"}},
		"no base alone": {2, func(s *sensito.StripSpec) { s.BaseFog = nil }, []string{"0.12", "[]"}},
		"ignore fewer":  {1, func(s *sensito.StripSpec) { s.Ignore = []int{3} }, []string{"[3, # under the clip\n               1]", "[3 # under the clip\n               ]"}},
		"ignore others": {1, func(s *sensito.StripSpec) { s.Ignore = []int{1, 2, 3} }, []string{"1]", "1, 2]"}},
		"ignore none":   {1, func(s *sensito.StripSpec) { s.Ignore = nil }, []string{"[3, # under the clip\n               1]", "[ # under the clip\n               ]"}},
		"ignore one":    {2, func(s *sensito.StripSpec) { s.Ignore = []int{2} }, []string{"0.12\n", "0.12\nignore   = [2]\n"}},
		"time":          {2, func(s *sensito.StripSpec) { s.Minutes = 7.25 }, []string{"= 7\n", "= \"7:15\"\n"}},
		"note":          {1, func(s *sensito.StripSpec) { s.Note = "one" }, []string{"\"\"\"\ntwo lines\"\"\"", `"one"`}},
		"no note":       {1, func(s *sensito.StripSpec) { s.Note = "" }, []string{"  note      = \"\"\"\ntwo lines\"\"\"\n", ""}},
		"several": {1, func(s *sensito.StripSpec) {
			s.Process.TemperatureC, s.Process.Agitation, s.Date, s.IlluminanceLx = 24, "none", "2026-03-01", 3
		}, []string{"# by the clock\n", `# by the clock
  temperature_c = 24
  agitation = "none"
  illuminance_lx = 3
  developed = 2026-03-01
`}},
	} {
		for _, form := range []struct{ name, from, to string }{{"lf", "", ""}, {"bom crlf", "\n", "\r\n"}} {
			t.Run(name+"/"+form.name, func(t *testing.T) {
				convert := func(s string) string {
					if form.from == "" {
						return s
					}
					return "\ufeff" + strings.ReplaceAll(s, form.from, form.to)
				}
				trial := read(t, convert(notebooktest.Commented))
				s := trial.Strips()[c.strip-1].Spec()
				c.edit(&s)
				old := convert(notebooktest.Commented)
				got, err := ReplaceStrip([]byte(old), c.strip, s)
				require.NoError(t, err)
				assert.Equal(t, convert(strip(t, c.strip, c.want)), string(got))
			})
		}
	}
}

// strip returns the commented file with places of one strip replaced.
func strip(t *testing.T, number int, pairs []string) string {
	at := strings.Index(notebooktest.Commented, "[[strip]]")
	if number == 1 {
		return changed(t, notebooktest.Commented[:at], pairs...) + notebooktest.Commented[at:]
	}
	return notebooktest.Commented[:at] + changed(t, notebooktest.Commented[at:], pairs...)
}

func TestAppendStrip(t *testing.T) {
	s := sensito.StripSpec{Minutes: 9, BaseFog: []sensito.Density{0.14}, Density: []sensito.Density{1.5, 1, 0.5},
		Process: sensito.Process{Developer: "Ashlar", TemperatureC: 20, Agitation: "none"}, Note: "third"}
	const block = `[[strip]]
minutes   = "9:00"
agitation = "none"
note      = "third"
base_fog  = [0.14]
density   = [
  1.50, 1.00, 0.50,
]
`
	crlf := func(s string) string { return strings.ReplaceAll(s, "\n", "\r\n") }
	for name, c := range map[string]struct{ old, want string }{
		"plain":             {notebooktest.Commented, notebooktest.Commented + "\n" + block},
		"no final newline":  {strings.TrimSuffix(notebooktest.Commented, "\n"), notebooktest.Commented + "\n" + block},
		"blank line at end": {notebooktest.Commented + "\n", notebooktest.Commented + "\n" + block},
		"blanks at end":     {notebooktest.Commented + "\n  ", notebooktest.Commented + "\n  " + block},
		"comment at end":    {notebooktest.Commented + "# end", notebooktest.Commented + "# end\n\n" + block},
		"bom crlf":          {"\ufeff" + crlf(notebooktest.Commented), "\ufeff" + crlf(notebooktest.Commented+"\n"+block)},
		"crlf, none at end": {crlf(strings.TrimSuffix(notebooktest.Commented, "\n")), crlf(notebooktest.Commented + "\n" + block)},
	} {
		t.Run(name, func(t *testing.T) {
			got, err := AppendStrip([]byte(c.old), s)
			require.NoError(t, err)
			assert.Equal(t, c.want, string(got))
		})
	}

	t.Run("first", func(t *testing.T) {
		head, _, _ := strings.Cut(notebooktest.Commented, "# the first")
		got, err := AppendStrip([]byte(head), s)
		require.NoError(t, err)
		assert.Equal(t, head+block, string(got))
		_, err = AppendStrip([]byte(strings.Replace(head, "seconds", "secs", 1)), s)
		assert.ErrorContains(t, err, `the file:11: exposure.secs: unknown key`)
		_, err = AppendStrip([]byte(head), sensito.StripSpec{Minutes: 9, Density: s.Density[:2]})
		assert.EqualError(t, err, "strip[1].density: has 2 readings for 3 steps; write nan where a step was not read")
	})

	// What the strips say alike stands for the trial; a strip appended is
	// developed as they were, and may differ.
	t.Run("alike", func(t *testing.T) {
		old := strings.Replace(notebooktest.Commented, "temperature_c = 20\n", "", 1)
		old = strings.Replace(old, "minutes = 7", "minutes = 7\ntemperature_c = 21", 1)
		old = strings.Replace(old, "  minutes ", "  temperature_c = 21\n  minutes ", 1)
		s := s
		for _, celsius := range []float64{0, 24} {
			s.Process.TemperatureC = celsius
			got, err := AppendStrip([]byte(old), s)
			require.NoError(t, err)
			for i, want := range []float64{21, 21, max(21, celsius)} {
				assert.Equal(t, want, read(t, string(got)).Strips()[i].Process().TemperatureC)
			}
		}
	})
}

func TestEditRefused(t *testing.T) {
	s := read(t, notebooktest.Commented).Strips()[1].Spec()
	refused := func(file string, s sensito.StripSpec, want string) {
		t.Helper()
		got, err := AppendStrip([]byte(file), s)
		assert.EqualError(t, err, want)
		assert.Nil(t, got)
	}
	inline := in(notebooktest.Strips, "") // the list must stand above the tables
	inline = "strip = [{ minutes = 5, density = [1, 0.8, 0.5] }]\n" + inline
	read(t, inline)
	const oneLine = "the strips are written in one line, strip = [...]; write each as [[strip]] to have one added or changed"
	refused(inline, s, oneLine)
	_, err := ReplaceStrip([]byte(inline), 1, s)
	assert.EqualError(t, err, oneLine)

	refused("", s, "the file:1: film.name: is missing\nthe file:1: exposure.kind: is missing\nthe file:1: strip: is missing: a trial needs at least one developed strip")
	refused("a = [", s, "the file:1: a ] that closes the list is missing")
	bad := s
	bad.Density = []sensito.Density{7, 1, 1}
	bad.Minutes = 0
	refused(notebooktest.Commented, bad, "strip[3].minutes: 0 min is outside 0.05 to 1440 min\nstrip[3].density[1]: density 7 is outside 0 to 6")
	bad = s
	bad.Process.Developer = "Brinewater"
	refused(notebooktest.Commented, bad, `strip[3].developer: "Brinewater" is not the trial's, "Ashlar"; a trial has one`)
	bad = s
	bad.Note = "scratched\x1b[2J"
	refused(notebooktest.Commented, bad, `strip[3].note: "scratched\x1b[2J" holds the character U+001B, which does not print`)
	for _, n := range []int{0, 3} {
		_, err := ReplaceStrip([]byte(notebooktest.Commented), n, s)
		assert.ErrorContains(t, err, "the trial has 2")
	}
	full := in(notebooktest.Strips, strings.Repeat("[[strip]]\nminutes = 1\ndensity = [1, 1, 1]\n", grammar.MaxStrips))
	refused(full, read(t, notebooktest.Good).Strips()[0].Spec(), "strip[10001]: brings the file to more than 10000 strips")
}

// A strip appended to any trial is read back, and every byte before it is as it
// was.
func TestAppendAnyStrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		trial := notebooktest.Trial().Draw(t, "trial")
		file := roughened(t, Format(trial))
		s := notebooktest.Strip(trial).Draw(t, "strip")
		got, err := AppendStrip(file, s)
		require.NoError(t, err)
		require.True(t, bytes.HasPrefix(got, file))
		requireStrips(t, string(got), append(trial.Spec().Strips, s), trial)
	})
}

// Any strip of any trial becomes any other; what stands outside of the strip,
// and every comment, stays.
func TestReplaceAnyStrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		trial := notebooktest.Trial().Draw(t, "trial")
		file := roughened(t, Format(trial))
		number := rapid.IntRange(1, len(trial.Strips())).Draw(t, "number")
		s := notebooktest.Strip(trial).Draw(t, "strip")
		if old := trial.Strips()[number-1].Spec(); rapid.Bool().Draw(t, "readings alone") {
			old.Density, old.Repeats, old.BaseFog, old.Ignore, old.NextStep = s.Density, s.Repeats, s.BaseFog, s.Ignore, s.NextStep
			s = old
		}
		if trial.Exposures().Frame() != nil { // which needs a strip developed as long
			s.Minutes = trial.Strips()[number-1].Minutes()
		}
		got, err := ReplaceStrip(file, number, s)
		require.NoError(t, err)
		specs := trial.Spec().Strips
		specs[number-1] = s
		requireStrips(t, string(got), specs, trial)

		headers := bytes.Split(file, []byte("[[strip]]"))
		start := len(bytes.Join(headers[:number], []byte("[[strip]]")))
		end := start
		for _, k := range outline(file, "strip")[number-1].keys {
			end = max(end, lineEnd(file, k.after))
		}
		require.True(t, bytes.HasPrefix(got, file[:start]))
		require.True(t, bytes.HasSuffix(got, file[end:]))
		require.Equal(t, bytes.Count(file, []byte("#~ remark")), bytes.Count(got, []byte("#~ remark")), "comments")
	})
}

// requireStrips checks the strips of a file by those of a trial made anew.
func requireStrips(t *rapid.T, file string, specs []sensito.StripSpec, trial *sensito.Trial) {
	spec := trial.Spec()
	spec.Strips = specs
	want, err := sensito.NewTrial(spec)
	require.NoError(t, err)
	describe := func(trial *sensito.Trial) string {
		s := trial.Spec()
		for i, strip := range trial.Strips() {
			s.Strips[i].Process = strip.Process()
			s.Strips[i].Process.Developer = ""
		}
		s.Process = sensito.Process{} // what strips say alike stands for the trial, until one differs
		trial, err := sensito.NewTrial(s)
		require.NoError(t, err)
		return notebooktest.Describe(trial)
	}
	require.Equal(t, describe(want), describe(read(t, file)))
}

// roughened writes a canonical file as a person might have: with comments behind
// lines and numbers, blank lines, other line ends.
func roughened(t *rapid.T, file []byte) []byte {
	s := string(file)
	if rapid.Bool().Draw(t, "comments") {
		s = strings.ReplaceAll(s, ",\n", ", #~ remark [, ]\n")
		s = strings.ReplaceAll(s, "]\n", "] #~ remark x = 1\n")
		s = strings.ReplaceAll(s, "= [\n", "= [ #~ remark\n")
		s = strings.ReplaceAll(s, "[[strip]] #~", "#~ remark\n\n[[strip]] #~")
	}
	if rapid.Bool().Draw(t, "crlf") {
		s = strings.ReplaceAll(s, "\n", "\r\n")
	}
	if rapid.Bool().Draw(t, "bom") {
		s = "\ufeff" + s
	}
	if rapid.Bool().Draw(t, "no final newline") {
		s = strings.TrimRight(s, "\r\n")
	}
	return []byte(s)
}

// FuzzAppendStrip: a strip is added to a file and replaced in it, or an error
// leaves the file alone; nothing panics.
func FuzzAppendStrip(f *testing.F) {
	paths, err := filepath.Glob(demo + "/*.toml")
	require.NoError(f, err)
	for _, path := range paths {
		data, err := os.ReadFile(path)
		require.NoError(f, err)
		f.Add(data)
	}
	f.Add([]byte(notebooktest.Commented))
	f.Add([]byte(notebooktest.GoodPaper))
	f.Add([]byte(notebooktest.GoodControl))
	for _, c := range badCases {
		f.Add([]byte(c.file))
	}
	f.Fuzz(func(t *testing.T, file []byte) {
		before := bytes.Clone(file)
		s := sensito.StripSpec{Minutes: 5.5, BaseFog: []sensito.Density{0.1}, Density: []sensito.Density{1, 0.5, 0.1}, Ignore: []int{2}}
		trial, err := Read("t.toml", bytes.NewReader(file))
		if err == nil {
			s.Density = make([]sensito.Density, trial.Exposures().Len())
		}
		if got, err := AppendStrip(file, s); err == nil {
			require.True(t, bytes.HasPrefix(got, file))
			last := read(t, string(got)).Strips()
			require.Equal(t, s.BaseFog, last[len(last)-1].Spec().BaseFog, "as read")
		}
		if trial != nil {
			s := trial.Strips()[0].Spec()
			s.Density[1], s.Repeats, s.NextStep = 0.25, nil, 2
			s.BaseFog = append(s.BaseFog, 0.2)
			if got, err := ReplaceStrip(file, 1, s); err == nil {
				after := read(t, string(got)).Strips()[0]
				require.Equal(t, sensito.Density(0.25), after.Spec().Density[1])
			} else {
				require.False(t, errors.Is(err, errNotSame), err)
			}
		}
		c := control.Strip{Date: "2026-12-31", Patches: control.Patches{Low: 0.4, High: 1.2}}
		if got, err := AppendControl(file, c); err == nil {
			require.True(t, bytes.HasPrefix(got, file))
			last := readLog(t, string(got)).Strips()
			require.Equal(t, c, last[len(last)-1])
		}
		require.Equal(t, before, file)
	})
}

func TestAppendControl(t *testing.T) {
	s := control.Strip{Date: "2026-03-05", Fresh: true, Note: "new tank",
		Patches: control.Patches{BaseFog: 0.1, Low: 0.4, High: 1.2, Others: map[string]sensito.Density{"middle": 0.7}}}
	got, err := AppendControl([]byte(notebooktest.GoodControl), s)
	require.NoError(t, err)
	assert.Equal(t, notebooktest.GoodControl+`
[[strip]]
date     = 2026-03-05
base_fog = 0.10
low      = 0.40
high     = 1.20
patches  = { middle = 0.70 }
fresh    = true
note     = "new tank"
`, string(got))

	head, _, _ := strings.Cut(notebooktest.GoodControl, "[[strip]]")
	got, err = AppendControl([]byte(head), s)
	require.NoError(t, err)
	assert.Len(t, readLog(t, string(got)).Strips(), 1)

	refused := func(file string, s control.Strip, want string) {
		t.Helper()
		got, err := AppendControl([]byte(file), s)
		assert.EqualError(t, err, want)
		assert.Nil(t, got)
	}
	bad := s
	bad.Date = "2026-03-01"
	refused(notebooktest.GoodControl, bad, "strip[3].date: 2026-03-01 after 2026-03-02 runs backwards; a strip is appended at the end of the log")
	bad = s
	bad.Date = "today"
	refused(notebooktest.GoodControl, bad, `strip[3].date: "today" is not a date like 2026-03-01`)
	bad = s
	bad.Others = nil
	refused(notebooktest.GoodControl, bad, "strip[3].patches: lacks middle, which the first strip has")
	refused(strings.Replace(notebooktest.GoodControl, "low = 0.03", "low = 3", 1), s, "the file:12: limits.low: 3 is outside 0.005 to 2")
	refused("[film]\n", s, "the file:1: is a trial of film (for sensito curve, family, scene or card), and a control log was wanted")
}

func TestAppendAnyControl(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		file := roughened(t, []byte(notebooktest.GoodControl))
		s := notebooktest.ControlStrip("2026-03-02", "middle").Draw(t, "strip")
		got, err := AppendControl(file, s)
		require.NoError(t, err)
		require.True(t, bytes.HasPrefix(got, file))
		strips := readLog(t, string(got)).Strips()
		require.Equal(t, append(readLog(t, notebooktest.GoodControl).Strips(), s), strips)
	})
}
