package notebook

import (
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/darkroom"
	"sensito/sensito/notebook/notebooktest"
)

func procedureOf(t testing.TB, file string) *darkroom.Procedure {
	t.Helper()
	p, err := ReadProcedure("p.toml", strings.NewReader(file))
	require.NoError(t, err, file)
	return p
}

func badProcedure(name, old, new string, want ...string) badCase {
	if !strings.Contains(notebooktest.GoodProcedure, old) {
		panic(name + ": nothing to replace")
	}
	return badCase{name, strings.Replace(notebooktest.GoodProcedure, old, new, 1), want}
}

const (
	fixes  = `minutes = "from clearing"`
	washes = "minutes = 5"
	fixer  = `bath = "fixer"`
)

var badProcedures = []badCase{
	badProcedure("another kind", `"procedure"`, `"control"`, `:1: is a control log (for sensito control or --control), and a procedure was wanted`),
	badProcedure("unknown key", washes, "minuts = 5", `:16: step[3].minuts: unknown key; did you mean "minutes"?`),
	badProcedure("no name", `name = "Wash"`, ``, `:13: step[3].name: is missing`),
	badProcedure("empty name", `name = "Wash"`, `name = " "`, `:14: step[3].name: is missing`),
	badProcedure("dark left open", "dark = false", "", `:13: step[3].dark: is missing`),
	badProcedure("dark after light", "name = \"Fix\"", "name = \"Peep\"\ndark = false\n[[step]]\nname = \"Fix\"", `:15: step[3].dark: step 2 before it is in the light`),
	badProcedure("dark is text", "dark = false", `dark = "no"`, `:17: step[3].dark: must be true or false, not text`),
	badProcedure("no development", `minutes = "from plan"`, `minutes = 6`, `:1: step: none is the development: write minutes = "from plan" in it`),
	badProcedure("two developments", washes, `minutes = "from plan"`, `:16: step[3].minutes: takes the time of the plan, as step 1 does; one step is the development`),
	badProcedure("no time", washes, `minutes = "5 min"`, `:16: step[3].minutes: "5 min" is not a time like 5:30, "from plan" or "from clearing"`),
	badProcedure("no minutes", washes, `minutes = 0`, `:16: step[3].minutes: must not be 0; leave the key out of a step that lasts until it is done`),
	badProcedure("too long", washes, `minutes = 2000`, `:16: step[3].minutes: 2000 min is outside 0.05 to 1440 min`),
	badProcedure("drains for longer", washes, "minutes = 5\ndrain_seconds = 300", `:17: step[3].drain_seconds: 300 s to drain leave nothing of 5:00`),
	badProcedure("clearing without", washes, "minutes = 5\nclearing_factor = 2", `:13: step[3].clearing_minutes: and clearing_factor go with minutes = "from clearing"`),
	badProcedure("clearing factor", fixes, fixes+"\nclearing_factor = 0.5", `:12: step[2].clearing_factor: 0.5 is outside 1 to 10`),
	badProcedure("one change", washes, "minutes = 5\nchanges = 1", `:17: step[3].changes: 1 is outside 2 to 60`),
	badProcedure("half a change", washes, "minutes = 5\nchanges = 2.5", `:17: step[3].changes: must be a whole number, not 2.5`),
	badProcedure("changes without a time", washes, "changes = 10", `:16: step[3].changes: need the time of each, such as minutes = "0:30"`),
	badProcedure("changes of a mixed bath", washes, "minutes = 5\nchanges = 10\ndilution = \"1+50\"", `:17: step[3].changes: go with water, and "water" is mixed`),
	badProcedure("changes of nothing", "bath = \"water\"\n"+washes, washes+"\nchanges = 10", `:13: step[3].bath: is missing: name what is changed, such as water`),
	badProcedure("changes of the developer", `minutes = "from plan"`, "minutes = \"from plan\"\nchanges = 10", `:6: step[1].changes: need the time of each, such as minutes = "0:30"`),
	badProcedure("dilution", `"1+4"`, `"4"`, `:10: step[2].dilution: "4" is not a dilution like 1+31 (parts concentrate + parts water) or stock`),
	badProcedure("dilution of the developer", `minutes = "from plan"`, "minutes = \"from plan\"\nbath = \"b\"\ndilution = \"1+9\"", `:7: step[1].dilution: is that of the trial, or of the bath on the day`),
	badProcedure("temperature of the developer", `minutes = "from plan"`, "minutes = \"from plan\"\ntemperature_c = 20", `:6: step[1].temperature_c: is that of the trial, or of the bath on the day`),
	badProcedure("temperature", washes, "minutes = 5\ntemperature_c = 70", `:17: step[3].temperature_c: 70 °C is outside 1 to 60 °C`),
	badProcedure("capacity", fixer, fixer+"\ncapacity = \"20 films\"", `:10: step[2].capacity: "20 films" is not a capacity like 20 films/l, 1600in2/l or 10000cm2/l`),
	badProcedure("capacity of a one-shot", fixer, fixer+"\none_shot = true\nmixed = 2026-03-01", `:10: step[2].one_shot: does not go with capacity and mixed, which are of a bath that is kept`),
	badProcedure("mixed", fixer, fixer+"\nmixed = \"May\"", `:10: step[2].mixed: "May" is not a date like 2026-03-01`),
	badProcedure("least", fixer, fixer+"\nleast = \"6\"", `:10: step[2].least: "6" is not a volume like 600ml, 1.5l, 20usfloz or 20impfloz`),
	badProcedure("nameless bath", fixer, "", `:7: step[2].bath: is missing: name the bath that is described`),
	badProcedure("two of one name", `bath = "water"`, "bath = \"fixer\"\ndilution = \"1+9\"", `:15: step[3].bath: "fixer" is described otherwise by step 2; describe it there, or give it another name`),
	badProcedure("shuffle", `title = "P"`, `shuffle_seconds = 1`, `:2: shuffle_seconds: 1 s is outside 5 to 600 s`),
	badProcedure("two lines", `name = "Wash"`, `name = "Wash\nlong"`, `:14: step[3].name: "Wash\nlong" has more than one line`),
	badProcedure("single brackets", "[[step]]\nname = \"Wash\"", "[step]\nname = \"Wash\"", `:13: step is written in two ways: as [step], [[step]] or a key`),
	{"no steps", "kind = \"procedure\"\n", []string{`:1: step: is missing: a procedure needs at least the development`}},
	{"one table", "kind = \"procedure\"\n[step]\nname = \"Develop\"\n", []string{`:2: step: must be written [[step]], in double brackets`}},
	{"too many", "kind = \"procedure\"\n" + strings.Repeat("[[step]]\nname = \"Wash\"\ndark = false\n", 25), []string{`:1: step: 25 steps are more than 24`}},
}

func TestBadProcedures(t *testing.T) {
	for _, c := range badProcedures {
		t.Run(c.name, func(t *testing.T) {
			p, err := ReadProcedure("p.toml", strings.NewReader(c.file))
			assert.Nil(t, p)
			require.Error(t, err)
			var got []string
			for line := range strings.Lines(err.Error()) {
				got = append(got, strings.TrimPrefix(strings.TrimSuffix(line, "\n"), "p.toml"))
			}
			assert.Equal(t, c.want, got)
		})
	}
}

// The procedure that comes with the program is read as it is meant, and again
// from its canonical form.
func TestUsualProcedure(t *testing.T) {
	data, err := os.ReadFile(demo + "/procedure.toml")
	require.NoError(t, err)
	p := procedureOf(t, string(data))
	assert.Equal(t, p, procedureOf(t, string(FormatProcedure(p))))
	steps := p.Steps()
	require.Len(t, steps, 8)
	assert.Equal(t, darkroom.TimeFromPlan, steps[1].From)
	assert.Equal(t, darkroom.TimeFromClearing, steps[3].From)
	assert.Zero(t, steps[3].Clearing, "not measured by us")
	assert.EqualValues(t, darkroom.DefaultClearingFactor, steps[3].ClearingFactor)
	assert.Equal(t, ProcedureKind, KindOf(data))
	assert.Equal(t, ProcedureKind, KindOf([]byte(strings.Replace(notebooktest.GoodProcedure, `kind = "procedure"`, "", 1))))
}

// A bath that two steps use is described once.
func TestSharedBath(t *testing.T) {
	p := procedureOf(t, notebooktest.GoodProcedure+"[[step]]\nname = \"Again\"\nbath = \"fixer\"\nminutes = \"1:30\"\ndark = false\n")
	assert.Equal(t, "fixer 1+4", p.Steps()[3].Bath.Label())
	assert.Equal(t, sensito.Minutes(1.5), p.Steps()[3].Minutes)
}

// FuzzReadProcedure: an error has a line and no procedure; what is read is read
// again the same from its canonical form; nothing panics.
func FuzzReadProcedure(f *testing.F) {
	data, err := os.ReadFile(demo + "/procedure.toml")
	require.NoError(f, err)
	f.Add(string(data))
	f.Add(notebooktest.GoodProcedure)
	for _, c := range badProcedures {
		f.Add(c.file)
	}
	f.Fuzz(func(t *testing.T, file string) {
		p, err := ReadProcedure("p.toml", strings.NewReader(file))
		if err != nil {
			require.Nil(t, p)
			requireLocated(t, err, file)
			return
		}
		again := procedureOf(t, string(FormatProcedure(p)))
		require.Equal(t, p, again)
		require.Equal(t, string(FormatProcedure(p)), string(FormatProcedure(again)))
	})
}
