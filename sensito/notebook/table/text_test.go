package table

import (
	"fmt"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito/notebook"
	"sensito/sensito/notebook/internal/grammar"
	"sensito/sensito/notebook/notebooktest"
	"sensito/sensito/printable"
)

// unfit are texts that no reader takes, and what is said of them.
var unfit = []struct{ text, why string }{
	{"Quay\x1b[2J\x1b[31mred", "holds the character U+001B, which does not print"},
	{"Quay\x7f", "holds the character U+007F, which does not print"},
	{"\u009b31mQuay", "holds the character U+009B, which does not print"},
	{"Quay\u202egpj", "holds the character U+202E, which does not print"},
	{"Quay\u2066x", "holds the character U+2066, which does not print"},
	{"Quay\u200bLamp", "holds the character U+200B, which does not print"},
	{"Quay\u2028Lamp", "holds the character U+2028, which does not print"},
	{"Quay\ufeffLamp", "holds the character U+FEFF, which does not print"},
	{strings.Repeat("Quay ", 6000), "is longer than "},
	{strings.Repeat("ü", 1<<17), "is longer than "},
}

// asIs, inTOML and inCSV write a text into a file.
func asIs(s string) string   { return s }
func inTOML(s string) string { return grammar.Quoted(s) } // escapes are those of JSON too
func inCSV(s string) string  { return `"` + s + `"` }

func inXML(s string) string {
	return strings.NewReplacer("\x1b", "_x001B_", "\x7f", "_x007F_").Replace(s)
}

func trialFrom(_ *testing.T, s string) error {
	_, err := notebook.Read("t", strings.NewReader(s))
	return err
}
func logFrom(_ *testing.T, s string) error {
	_, err := notebook.ReadControl("t", strings.NewReader(s))
	return err
}
func stepsFrom(_ *testing.T, s string) error {
	_, err := notebook.ReadProcedure("t", strings.NewReader(s))
	return err
}
func rollFrom(_ *testing.T, s string) error {
	_, err := notebook.ReadRoll("t", strings.NewReader(s))
	return err
}

func importFrom(_ *testing.T, s string) error {
	_, err := Import("t", strings.NewReader(s), ImportOptions{})
	return err
}

func tableFrom(_ *testing.T, s string) error {
	_, err := Import("t", strings.NewReader(s), ImportOptions{Values: light})
	return err
}

func workbookFrom(t *testing.T, s string) error { return tableFrom(t, string(plainWorkbook(t, s))) }

const cgatsTitled = "CGATS.17\nORIGINATOR \"sensito\"\nTRIAL \"%s\"\nFILM \"Tern\"\nMINUTES 5\nILLUMINANCE_LX 2\nSECONDS 0.5\nWEDGE \"0.05 0.2 0.35\"\n" +
	"BEGIN_DATA_FORMAT\nSTEP D_VIS\nEND_DATA_FORMAT\nBEGIN_DATA\n1 1.1\n2 0.8\n3 0.5\nEND_DATA\n"

// textPlaces are the places of a text in every kind of file: the file, how a text is
// written into it, the line it is on, and the reader.
var textPlaces = map[string]struct {
	file  string
	write func(string) string
	line  int
	read  func(*testing.T, string) error
}{
	"title":           {strings.Replace(notebooktest.Good, `"T"`, "%s", 1), inTOML, 1, trialFrom},
	"film":            {strings.Replace(notebooktest.Good, `"Larkfield 125"`, "%s", 1), inTOML, 3, trialFrom},
	"batch":           {strings.Replace(notebooktest.Good, "rated_speed", "batch = %s\nrated_speed", 1), inTOML, 4, trialFrom},
	"format":          {strings.Replace(notebooktest.Good, "rated_speed", "format = %s\nrated_speed", 1), inTOML, 4, trialFrom},
	"developer":       {strings.Replace(notebooktest.Good, `"Brinewater"`, "%s", 1), inTOML, 6, trialFrom},
	"note":            {strings.Replace(notebooktest.Good, "minutes = 5.5", "note = %s\nminutes = 5.5", 1), inTOML, 17, trialFrom},
	"done":            {notebooktest.Good + "[[done]]\ndate = 2026-03-05\nminutes = 6\nnote = %s\n", inTOML, 27, trialFrom},
	"paper":           {strings.Replace(notebooktest.GoodPaper, `"Slate"`, "%s", 1), inTOML, 4, trialFrom},
	"grade":           {strings.Replace(notebooktest.GoodPaper, "grade = 2", "grade = %s", 1), inTOML, 10, trialFrom},
	"log":             {strings.Replace(notebooktest.GoodControl, `"C"`, "%s", 1), inTOML, 2, logFrom},
	"strip of a log":  {strings.Replace(notebooktest.GoodControl, `"new batch"`, "%s", 1), inTOML, 21, logFrom},
	"procedure":       {strings.Replace(notebooktest.GoodProcedure, `"P"`, "%s", 1), inTOML, 2, stepsFrom},
	"step":            {strings.Replace(notebooktest.GoodProcedure, `"Wash"`, "%s", 1), inTOML, 14, stepsFrom},
	"bath":            {strings.Replace(notebooktest.GoodProcedure, `"water"`, "%s", 1), inTOML, 15, stepsFrom},
	"agitation":       {strings.Replace(notebooktest.GoodProcedure, "minutes = 5", "agitation = %s", 1), inTOML, 16, stepsFrom},
	"roll":            {"name,range_stops\n%s,7\n", inCSV, 2, rollFrom},
	"notebook import": {strings.Replace(notebooktest.Good, `"T"`, "%s", 1), inTOML, 1, importFrom},
	"json": {"{\"schema\": \"sensito/trial/1\",\n\"title\": %s, \"film\": {\"name\": \"Tern\"}, \"exposure\": {\"kind\": \"relative\", \"log_h\": [0, 0.3, 0.6]}," +
		"\"strip\": [{\"minutes\": 5, \"density\": [0.5, 0.8, 1.1]}]}\n", inTOML, 2, importFrom},
	"cgats":        {cgatsTitled, asIs, 3, importFrom},
	"cgats escape": {cgatsTitled, escapedFully, 3, importFrom},
	"csv":          {"trial,minutes,step,wedge,density\n%[1]s,5,1,0.05,1.1\n%[1]s,5,2,0.2,0.8\n%[1]s,5,3,0.35,0.5\n", inCSV, 2, tableFrom},
	"workbook":     {"trial,minutes,step,wedge,density\n%[1]s,5,1,0.05,1.1\n%[1]s,5,2,0.2,0.8\n%[1]s,5,3,0.35,0.5\n", inXML, 2, workbookFrom},
}

// escapedFully escapes all but ASCII.
func escapedFully(s string) string {
	var b strings.Builder
	for _, r := range s {
		if r < ' ' || r > '~' && r <= 0xffff {
			fmt.Fprintf(&b, `\u%04x`, r)
		} else {
			b.WriteRune(r)
		}
	}
	return b.String()
}

// Text of a file is printed text of a limited length, or the file is refused with
// its line, the text and the limit, all of which can be shown.
func TestTextOfFiles(t *testing.T) {
	for name, at := range textPlaces {
		t.Run(name, func(t *testing.T) {
			for _, text := range []string{"Quay 2", "ü \u00a0 海 نور \u200c می\u200cشود 👩\u200d🔬 é"} {
				if err := at.read(t, fmt.Sprintf(at.file, at.write(text))); err != nil {
					assert.Contains(t, err.Error(), `is longer than 16 characters`)
				}
			}
			for _, bad := range unfit {
				if name == "notebook import" && len(bad.text) > 64<<10 {
					continue // its beginning does not tell what it is
				}
				err := at.read(t, fmt.Sprintf(at.file, at.write(bad.text)))
				require.Error(t, err, "%.40q", bad.text)
				assert.Regexp(t, fmt.Sprintf(`^t(, sheet March)?:%d: `, at.line), err.Error())
				assert.Contains(t, err.Error(), bad.why)
				assert.Less(t, utf8.RuneCountInString(err.Error()), 400)
				assert.Equal(t, printable.Lines(err.Error()), err.Error())
			}
		})
	}
}

// What is not text of its own is still told in a message that can be shown.
func TestMessagesPrint(t *testing.T) {
	for name, at := range map[string]struct {
		file  string
		write func(string) string
		read  func(*testing.T, string) error
	}{
		"key":         {"%s = 1\n" + notebooktest.Good, inTOML, trialFrom},
		"kind":        {"kind = %s\n" + notebooktest.Good, inTOML, trialFrom},
		"time":        {strings.Replace(notebooktest.Good, "5.5", "%s", 1), inTOML, trialFrom},
		"dilution":    {strings.Replace(notebooktest.Good, `"1+19"`, "%s", 1), inTOML, trialFrom},
		"patch":       {strings.ReplaceAll(notebooktest.GoodControl, "middle", "%s"), inTOML, logFrom},
		"roll column": {"name,%s\nQuay,7\n", inCSV, rollFrom},
		"roll stops":  {"name,range_stops\nQuay,%s\n", inCSV, rollFrom},
		"heading":     {"film,minutes,step,wedge,density,%s\nTern,x,1,0.05,1.1\n", inCSV, importFrom},
		"cell":        {"film,minutes,step,wedge,density\nTern,%s,1,0.05,1.1\n", inCSV, importFrom},
		"cgats field": {"CGATS.17\nBEGIN_DATA_FORMAT\n%s\nEND_DATA_FORMAT\n", asIs, importFrom},
		"meter line":  {"%s", asIs, func(_ *testing.T, s string) error { _, err := ParseMeterLine(s, nil); return err }},
	} {
		t.Run(name, func(t *testing.T) {
			for _, bad := range unfit {
				err := at.read(t, strings.ReplaceAll(at.file, "%s", at.write(bad.text)))
				require.Error(t, err, "%.40q", bad.text)
				assert.Less(t, utf8.RuneCountInString(err.Error()), 4000)
				assert.Equal(t, printable.Lines(err.Error()), err.Error())
			}
		})
	}
	e := &grammar.Error{File: "a\nb\x1b[2J.toml", Line: 3, Key: "k\u202e", Msg: "is\x07 bad"}
	assert.Equal(t, `a\nb\x1b[2J.toml:3: k\u202e: is\a bad`, e.Error())
}

// A zero that a file gives is not taken for a key that is left out.
func TestZeroOfFiles(t *testing.T) {
	for _, c := range []struct {
		file, want string
		read       func(*testing.T, string) error
	}{
		{strings.Replace(notebooktest.Good, "20.0", "0", 1), "8: process.temperature_c: must not be 0; leave the key out if it is not known", trialFrom},
		{notebooktest.Good + "[[done]]\ndate = 2026-03-05\nminutes = 6\nplanned_minutes = 0\n", "27: done[1].planned_minutes: must not be 0; leave the key out if it is not known", trialFrom},
		{notebooktest.Good + "[[done]]\ndate = 2026-03-05\nminutes = 6\nplanned_minutes = \"0:00\"\n", "27: done[1].planned_minutes: must not be 0; leave the key out if it is not known", trialFrom},
		{strings.Replace(notebooktest.GoodProcedure, `"from clearing"`, "\"from clearing\"\nclearing_minutes = 0", 1), "12: step[2].clearing_minutes: must not be 0; leave the key out if it is not known", stepsFrom},
		{strings.Replace(notebooktest.GoodControl, "patches.middle = 0.04", "patches.middle = 0", 1), "13: limits.patches.middle: 0 is outside 0.005 to 2", logFrom},
	} {
		assert.EqualError(t, c.read(t, c.file), "t:"+c.want)
	}
}

// A text that a spreadsheet would compute is written with an apostrophe, which is
// read away again; numbers are not.
func TestFormulasOfCSV(t *testing.T) {
	cells := map[string]string{
		"=1+1": "'=1+1", "+1 stop": "'+1 stop", "-dark": "'-dark", "@SUM(A1)": "'@SUM(A1)", "=cmd|' /C calc'!A0": "'=cmd|' /C calc'!A0",
		"'=1+1": "''=1+1", "''-x": "'''-x", "＝1": "'＝1", "-6 -5": "'-6 -5", "-": "'-", "--1": "'--1", "-0,03": `"'-0,03"`,
		"=A1,2": `"'=A1,2"`, " =1": "' =1",
		"-0.03": "-0.03", "+1.5": "+1.5", "-1e-05": "-1e-05", "1+19": "1+19", "'tis": "'tis", "N-1": "N-1", "": "", "'": "'",
	}
	for cell, want := range cells {
		written := string(writeCSV([][]string{{"a", cell}}))
		assert.Equal(t, "a,"+want+"\n", written, cell)
		g, _, err := readCSV("t", written, ',')
		require.NoError(t, err)
		assert.Equal(t, [][]string{{"a", cell}}, g.rows, cell)
	}
	g, err := readXLSX("t", plainWorkbook(t, "'=1+1,'tis,-0.03"), "")
	require.NoError(t, err)
	assert.Equal(t, [][]string{{"=1+1", "'tis", "-0.03"}}, g.rows)
}
