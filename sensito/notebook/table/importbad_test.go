package table

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito/notebook/internal/grammar"
	"sensito/sensito/notebook/notebooktest"
)

// badTables are tables that cannot be imported, each with the whole message.
var badTables = []struct {
	name, text string
	o          ImportOptions
	want       string
}{
	{"empty", "", ImportOptions{}, "x:1: is empty; the first line names the columns, such as minutes, step, wedge, density"},
	{"comments alone", "# a\n# b\n", ImportOptions{}, "x:1: is empty; the first line names the columns, such as minutes, step, wedge, density"},
	{"headings alone", "minutes,step,density\n", ImportOptions{}, "x:1: has headings but no readings below them"},
	{"not UTF-8", "\xc3\xa4\nb\xff", ImportOptions{}, "x:2: is not text in UTF-8; save the table as CSV in UTF-8"},
	{"not UTF-8 behind its mark", "\xef\xbb\xbfa\nb\xff", ImportOptions{}, "x:2: is not text in UTF-8; save the table as CSV in UTF-8"},
	{"no text", "step;density\n1;\x00\xff\n", ImportOptions{}, "x:2: is not text; save the table as CSV in UTF-8"},
	{"no letter", "step;density\n1;\x8d\n", ImportOptions{}, "x:2: has the byte 0x8d, which is of no letter in UTF-8 or Windows-1252; save the table as CSV in UTF-8"},
	{"half of UTF-16", "\xff\xfea", ImportOptions{}, "x:1: is cut short: text in UTF-16 has an even number of bytes"},
	{"UTF-32", "\xff\xfe\x00\x00s\x00\x00\x00", ImportOptions{}, "x:1: is text in UTF-32; save the table as CSV in UTF-8"},
	{"UTF-32 from the large end", "\x00\x00\xfe\xff\x00\x00\x00s", ImportOptions{}, "x:1: is text in UTF-32; save the table as CSV in UTF-8"},
	{"UTF-32 without a mark", "s\x00\x00\x00t\x00\x00\x00e\x00\x00\x00p\x00\x00\x00", ImportOptions{}, "x:1: is text in UTF-32; save the table as CSV in UTF-8"},
	{"open quote", "step,density\n1,\"1.2\n2,1.1\n", ImportOptions{}, "x:2: has a quote that is not closed"},
	{"text behind a quote", "step,density\n1,\"1.2\"x\n", ImportOptions{}, "x:2: has 'x' behind the closing quote of a cell; a quote within quotes is written twice"},
	{"prose", "Dear Sir,\nI have\n", ImportOptions{}, `x:2: names no column density, and no column headed by a development time like 5:30`},
	{"misspelt density", "minutes,step,densty\n5,1,1.2\n", ImportOptions{}, `x:1: "densty" is not a column; did you mean "density"?`},
	{"no density", "step,wedge,operator\n1,0.05,A\n", ImportOptions{}, `x:1: names no column density, and no column headed by a development time like 5:30; its columns are "step", "wedge", "operator"`},
	{"lines above what is no heading", "Film,Tern 400\nTemperature,20\na,b\n1,1.2\n", ImportOptions{},
		`x:1: names no column density, and no column headed by a development time like 5:30; its columns are "Film", "Tern 400"; if they are named further down, take away the lines above`},
	{"decimal commas between commas", "minutes,step,density\n5,1,1,25\n5,2,1,17\n", ImportOptions{},
		"x:2: has 4 cells for 3 headings; where numbers have a decimal comma, the cells must be parted otherwise, or be in quotes (--separator)"},
	{"long row", "minutes;step;density\n5;1;1.25;7\n", ImportOptions{}, "x:2: has 4 cells for 3 headings"},
	{"thousands or decimals", "step;density\n1;1,234\n2;1,122\n", ImportOptions{},
		`x:2: density: "1,234" is 1.234 with a decimal comma and 1234 with a mark of thousands; give --decimal comma or --decimal point`},
	{"points and commas", "step;density\n1;1.25\n2;1,17\n", ImportOptions{},
		`x:3: density: "1,17" has a decimal comma, but "1.25" in line 2 a point; give --decimal comma or --decimal point to have the others named`},
	{"commas for points", "step;density\n1;1.25\n2;1,17\n3;1,1\n", ImportOptions{Decimal: "point", Values: wedge3},
		"x:3: density: \"1,17\" has a comma, but the decimal mark is a point, and marks of thousands are not read\n" +
			"x:4: density: \"1,1\" has a comma, but the decimal mark is a point, and marks of thousands are not read"},
	{"points for commas", "step;density\n1;1.25\n2;1,17\n3;1,1\n", ImportOptions{Decimal: "comma", Values: wedge3},
		`x:2: density: "1.25" has a point, but the decimal mark is a comma`},
	{"whole numbers between commas", "step,4,0,5,5\n1,1,25,1,46\n2,1,17,1,37\n", ImportOptions{},
		"x:1: has numbers without decimals between commas; if the comma is the decimal mark, the cells must be parted otherwise or be in quotes; if they are whole numbers, give --decimal point"},
	{"direction unsaid", "a,4:00,5:30\n0.05,1.25,1.46\n0.2,1.1,1.3\n", ImportOptions{},
		"x:1: does not say whether a strip is a column or a row; name the first column step, wedge or minutes, or give --orientation columns or --orientation rows"},
	{"not a long table", "step,4:00\n1,1.25\n", ImportOptions{Orientation: "long"}, "x:1: has no column density, which a table of one reading a row needs"},
	{"not a table of columns", "minutes,step,density\n5,1,1\n", ImportOptions{Orientation: "columns"}, "x:1: has no column headed by a development time like 5:30"},
	{"not a table of rows", "step,density\n1,1\n", ImportOptions{Orientation: "rows"}, "x:1: has no columns of steps, headed 1, 2, 3 or by their exposures"},
	{"exposures for headings", "minutes,0.05,0.2,0.35\n5,1.2,1.1,1.0\n", ImportOptions{},
		"x:1: heads the steps by their exposures; give --kind contact (wedge densities), camera (stops) or relative (log H) to say what they are"},
	{"nothing said", "step,density\n1,1.2\n2,1.1\n3,1.0\n", ImportOptions{},
		"x:1: exposure: is missing; give a column wedge, stops or log_h, or --wedge-first, --wedge-step and --wedge-count\n" +
			"x:1: film: is missing; give --film\nx:2: minutes: is missing; give --minutes"},
	{"no light", "minutes,step,wedge,density\n5,1,0.05,1.2\n5,2,0.2,1.1\n5,3,0.35,1\n", ImportOptions{Values: map[string]string{"film": "F"}},
		"x:2: wedge: is known, but not the light; give --lux and --seconds, or --kind relative for contrast without speed"},
	{"half of the light", "minutes,step,wedge,density\n5,1,0.05,1.2\n5,2,0.2,1.1\n5,3,0.35,1\n", ImportOptions{Values: map[string]string{"film": "F", "illuminance_lx": "2"}},
		"x:1: seconds: is missing; give --seconds"},
	{"camera without an index", "minutes,stops,density\n5,-1,1.2\n5,0,1.1\n5,1,1\n", ImportOptions{Values: map[string]string{"film": "F"}},
		"x:1: meter_index: is missing; give --meter-index"},
	{"bad cells", "minutes;step;wedge;density\n5;1;0.05;1.25\n5;2;0.2;abc\n5;x;0.35;1\n5:75;3;0.35;9\n", ImportOptions{Values: light},
		"x:3: density: \"abc\" is not a number\nx:4: step: \"x\" is not the number of a step\nx:5: minutes: \"5:75\" is not a time like 5:30 or 5.5\n" +
			"x:5: density: density 9 is outside 0 to 6"},
	{"negative density", "minutes;step;wedge;density\n5;1;0.05;-1.25\n5;2;0.2;1\n5;3;0.35;1\n", ImportOptions{Values: light},
		`x:2: density: density -1.25 is negative (set reading.zero to "base" if the densitometer was zeroed on the base)`},
	{"step too far", "minutes;step;wedge;density\n5;1001;0.05;1\n", ImportOptions{Values: light}, "x:2: step: step 1001 is outside 1 to 1000"},
	{"step without exposure", "minutes;step;wedge;density\n5;1;0.05;1.2\n5;3;0.35;1\n5;4;0.5;1\n", ImportOptions{Values: light},
		"x:2: wedge: step 2 has none"},
	{"two exposures of a step", "minutes;step;wedge;density\n5;1;0.05;1\n5;2;0.2;1\n5;3;0.35;1\n8;1;0.06;1\n", ImportOptions{Values: light},
		"x:5: wedge: 0.06 for step 1, but 0.05 in line 2"},
	{"wedge out of order", "minutes;step;wedge;density\n5;1;0.05;1\n5;2;0.35;1\n5;3;0.2;1\n", ImportOptions{Values: light},
		"x:4: wedge: 0.2 after 0.35 breaks the order of the wedge; its densities must rise or fall all the way"},
	{"second strip without a number", "minutes;step;wedge;density\n5;1;0.05;1.5\n5;2;0.2;1.3\n5;3;0.35;1.1\n5;1;0.05;1.4\n", ImportOptions{Values: light},
		"x:5: density: step 1 is there again (first in line 2); number the strips in a column strip if this is another one"},
	{"two films", "minutes;film;step;wedge;density\n5;A;1;0.05;1\n5;B;2;0.2;1\n5;A;3;0.35;1\n", ImportOptions{Values: map[string]string{"illuminance_lx": "2", "seconds": "1"}},
		`x:3: film: "B", but "A" in line 2; a trial has one film`},
	{"a slip in the first row", "minutes;film;step;wedge;density\n5;A;1;0.05;1\n5;B;2;0.2;1\n5;B;3;0.35;1\n5;C;4;0.5;1\n", ImportOptions{Values: map[string]string{"illuminance_lx": "2", "seconds": "1"}},
		"x:3: film: \"B\", but \"A\" in line 2; a trial has one film\nx:5: film: \"C\", but \"A\" in line 2; a trial has one film"},
	{"a slip in the first row of a strip", "strip;minutes;step;wedge;density\n1;5;1;0.05;1\n1;6;2;0.2;1\n1;6;3;0.35;1\n", ImportOptions{Values: light},
		`x:3: minutes: "6", but "5" in line 2 for the same strip`},
	{"two times of a strip", "strip;minutes;step;wedge;density\n1;5;1;0.05;1\n1;6;2;0.2;1\n1;5;3;0.35;1\n", ImportOptions{Values: light},
		`x:3: minutes: "6", but "5" in line 2 for the same strip`},
	{"column twice", "minutes;step;wedge;density;d\n5;1;0.05;1;1\n5;2;0.2;1;1\n5;3;0.35;1;1\n", ImportOptions{Values: light},
		"x:1: d: is there twice: as density"},
	{"ignored unclear", "minutes;step;wedge;density;ignored\n5;1;0.05;1;perhaps\n5;2;0.2;1;\n5;3;0.35;1;no\n", ImportOptions{Values: light},
		`x:2: ignored: "perhaps" is neither yes nor no`},
	{"flag against file", "minutes;step;wedge;density;lux\n5;1;0.05;1;4\n5;2;0.2;1;4\n5;3;0.35;1;4\n", ImportOptions{Values: light},
		"x:1: --lux: 2, but the file says 4 in line 2"},
	{"dilution", "minutes;step;wedge;density;dilution\n5;1;0.05;1;1:19\n5;2;0.2;1;1:19\n5;3;0.35;1;1:19\n", ImportOptions{Values: light},
		`x:2: dilution: "1:19" is not of the form 1+19 (parts concentrate + parts water) or stock: write 1+19, or 1+18 if it says 1 part in 19`},
	{"date", "minutes;step;wedge;density;date\n5;1;0.05;1;March\n5;2;0.2;1;March\n5;3;0.35;1;March\n", ImportOptions{Values: light},
		`x:2: date: "March" is not a date like 2026-03-01`},
	{"warm", "minutes;step;wedge;density;temperature\n5;1;0.05;1;68\n5;2;0.2;1;68\n5;3;0.35;1;68\n", ImportOptions{Values: light},
		`x:2: temperature: 68 degrees C is outside 1 to 60; temperatures are in Celsius, 68 degrees F is 20`},
	{"reciprocity halved", "minutes;step;wedge;density;reciprocity_metered_s\n5;1;0.05;1;1 10\n5;2;0.2;1;1 10\n5;3;0.35;1;1 10\n", ImportOptions{Values: light},
		"x:2: reciprocity_metered_s: 2 metered and 0 corrected times; they go in pairs, and without a law"},
	{"time of no use", longOf(";", "minutes", "5"), ImportOptions{Values: map[string]string{"film": "F", "minutes": "6:20", "illuminance_lx": "2", "seconds": "1"}},
		"x:1: --minutes: 6:20 has no use: the file has the time of every strip"},
	{"film of a paper", longOf(";", "minutes;paper", "5;Slate"), ImportOptions{Values: light}, "x:1: --film: is of film, and the trial is of paper"},
	{"paper of a film", longOf(";", "minutes;film", "5;F"), ImportOptions{Values: map[string]string{"paper": "Slate", "illuminance_lx": "2", "seconds": "1"}},
		"x:1: --paper: is of paper, and the trial is of film"},
	{"no column to leave out", longOf(";", "minutes;remark", "5;good"), ImportOptions{Values: light, Without: []string{"remarks"}},
		`x:1: --without: no column is headed "remarks"`},
	{"sheet of a text", longOf(";", "minutes", "5"), ImportOptions{Values: light, Sheet: "Readings"}, "x:1: --sheet: has no use: the file is a table in text"},
	{"orientation of JSON", "{}", ImportOptions{Orientation: "long"}, "x:1: --orientation: has no use: the file is JSON"},
	{"times of a notebook", notebooktest.Film + "[exposure]\n", ImportOptions{Times: "clock"}, "x:1: --times: has no use: the file is a notebook"},
	{"strip by what does not print", longOf(";", "strip;minutes", "1;5", "\x00;5"), ImportOptions{Values: light},
		`x:5: strip: "\x00" holds the character U+0000, which does not print`},
	{"text that begins as JSON does", "{\\rtf1 step}", ImportOptions{}, `x:1: is not well-formed JSON: invalid character '\\'`},
	{"heading of a strip", "step,4:00,5:75\n1,1.25,1.4\n2,1.1,1.3\n3,1,1.2\n", ImportOptions{Values: wedge3},
		`x:1: "5:75" is not a development time like 5:30`},

	{"JSON cut short", `{"schema": "sensito/trial/1",` + "\n", ImportOptions{}, "x:1: the file ends too early"},
	{"JSON of curves", `{"schema": "sensito/curves/1"}`, ImportOptions{}, `x:1: schema sensito/curves/1 is not that of a trial, "sensito/trial/1"`},
	{"JSON without a schema", "\n{\"film\": 1}", ImportOptions{}, `x:2: has no key schema; a trial has "sensito/trial/1"`},
	{"JSON key twice", "{\"schema\": 1,\n\"film\": {\"name\": \"A\",\n\"name\": \"B\"}}", ImportOptions{}, `x:3: film.name: is there twice`},
	{"JSON time", `{"schema": "sensito/trial/1", "film": {"name": "F"}, "exposure": {"kind": "relative", "log_h": [0,1,2]}, "strip": [{"minutes": 5.30, "density": [1, 0.5, 0.2]}]}`,
		ImportOptions{}, `x:1: strip[1].minutes: 5.30 can be 5:30 or 5.3 minutes; write "5:30" in quotes or 5.3`},
	{"notebook time", "[film]\nname = 'F'\n[exposure]\nkind = 'relative'\nlog_h = [0,1,2]\n[[strip]]\nminutes = 5.30\ndensity = [1, 0.5, 0.2]\n",
		ImportOptions{}, `x:7: strip[1].minutes: 5.30 can be 5:30 or 5.3 minutes; write "5:30" in quotes or 5.3`},
	{"JSON comma", "{\"schema\": \"sensito/trial/1\",\n}", ImportOptions{}, "x:2: is not well-formed JSON: invalid character '}' looking for beginning of object key string"},
	{"JSON trial", "{\"schema\": \"sensito/trial/1\",\n\"film\": {\"name\": 1},\n\"exposure\": {\"kind\": \"relative\", \"log_h\": [0,1,2]},\n\"strip\": [\n{\"minutes\": 5, \"density\":\n[1, null,\n9]}]}", ImportOptions{},
		"x:2: film.name: must be text in quotes, not a number\nx:7: strip[1].density[3]: density 9 is outside 0 to 6"},
	{"notebook", "[film]\nname = 1\n", ImportOptions{},
		"x:1: exposure: is missing; give --kind\nx:1: strip: is missing: a trial needs at least one developed strip\nx:2: film.name: must be text in quotes, not a number"},
}

var wedge3 = map[string]string{"film": "F", "minutes": "5", "illuminance_lx": "2", "seconds": "1", "wedge_first": "0.05", "wedge_step": "0.15", "wedge_count": "3"}

func TestImportBad(t *testing.T) {
	for _, c := range badTables {
		t.Run(c.name, func(t *testing.T) {
			require.NoError(t, c.o.Check())
			found, err := Import("x", strings.NewReader(c.text), c.o)
			assert.Nil(t, found.Trials)
			require.Error(t, err)
			assert.Equal(t, c.want, err.Error())
			var all grammar.Errors
			require.ErrorAs(t, err, &all)
			for _, e := range all {
				assert.Positive(t, e.Line)
			}
		})
	}
}

// A slip in the column of strips begins a strip of its own, which is told.
func TestImportStripOfFewReadings(t *testing.T) {
	text := strings.Replace(longOf(";", "strip;minutes", "1;5", "2;8"), "2;8;3", "22;8;3", 1)
	found, err := Import("x", strings.NewReader(text), ImportOptions{Values: map[string]string{"film": "F", "illuminance_lx": "2", "seconds": "1"}})
	require.NoError(t, err)
	assert.Contains(t, found.Guesses, `strip "2" (line 5) has only 2 readings: see that its name is right`)
	assert.Contains(t, found.Guesses, `strip "22" (line 7) has only 1 reading: see that its name is right`)
	assert.NotContains(t, strings.Join(found.Guesses, "\n"), `strip "1"`)
}
