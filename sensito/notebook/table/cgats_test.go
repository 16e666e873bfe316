package table

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"testing/iotest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito/notebook/internal/grammar"
	"sensito/sensito/notebook/notebooktest"
)

const cgatsFiles = "../../../testdata/cgats"

// cgatsExpected is what a reader has to make of a sample file.
type cgatsExpected struct {
	OK     any // true, false, or in words that a reader may do either
	Line   any // a number, or "last"
	Tables []struct {
		Keywords map[string]string
		Declared []string
		Fields   []string
		Sets     int
		Rows     [][]any
		FirstRow []any     `json:"first_row"`
		LastRow  []any     `json:"last_row"`
		Visual   []float64 `json:"D_VIS"`
	}
}

// requireCells compares cells with texts and numbers.
func requireCells(t *testing.T, want []any, got []string) {
	t.Helper()
	require.Len(t, got, len(want))
	for i, w := range want {
		if x, ok := w.(float64); ok {
			g, err := strconv.ParseFloat(got[i], 64)
			require.NoError(t, err)
			require.Equal(t, x, g)
		} else {
			require.Equal(t, w, got[i])
		}
	}
}

// The sample files were checked with Little CMS 2.14, which loads the valid ones
// with these first rows.
func TestCGATSSamples(t *testing.T) {
	text, err := os.ReadFile(filepath.Join(cgatsFiles, "expected.json"))
	require.NoError(t, err)
	var expected map[string]cgatsExpected
	require.NoError(t, json.Unmarshal(text, &expected))
	files, err := filepath.Glob(filepath.Join(cgatsFiles, "*.txt"))
	require.NoError(t, err)
	require.Len(t, files, len(expected))
	for name, want := range expected {
		t.Run(name, func(t *testing.T) {
			data, err := os.ReadFile(filepath.Join(cgatsFiles, name))
			require.NoError(t, err)
			got, err := ReadCGATS(name, bytes.NewReader(data))
			if want.OK == false {
				require.Nil(t, got)
				var faults grammar.Errors
				require.ErrorAs(t, err, &faults)
				line := want.Line
				if line == "last" {
					line = float64(bytes.Count(data, []byte("\n")))
				}
				require.EqualValues(t, line, faults[0].Line, "%v", err)
				return
			}
			require.NoError(t, err)
			if want.OK != true { // the names are not in quotes: the same columns as where they are
				quoted, err := os.ReadFile(filepath.Join(cgatsFiles, "valid_tabs_crlf_spectral.txt"))
				require.NoError(t, err)
				same, err := ReadCGATS(name, bytes.NewReader(quoted))
				require.NoError(t, err)
				require.Equal(t, same, got)
				return
			}
			require.Equal(t, "CGATS.17", got.ID)
			require.Len(t, got.Tables, len(want.Tables))
			for i, w := range want.Tables {
				g := got.Tables[i]
				header := map[string]string{}
				var private []string
				for _, h := range g.Header {
					header[h.Keyword] = h.Value
					require.Contains(t, strings.Split(string(data), "\n")[h.Line-1], h.Keyword)
					if !cgatsKeywords[h.Keyword] {
						private = append(private, h.Keyword)
					}
				}
				for _, count := range []string{"NUMBER_OF_FIELDS", "NUMBER_OF_SETS"} {
					delete(w.Keywords, count) // checked, and not kept
				}
				require.Equal(t, w.Keywords, header)
				require.Equal(t, w.Declared, private)
				require.Equal(t, w.Fields, g.Fields)
				require.Len(t, g.Rows, w.Sets)
				require.Len(t, g.Lines, w.Sets)
				for j, row := range w.Rows {
					requireCells(t, row, g.Rows[j])
				}
				if w.FirstRow != nil {
					requireCells(t, w.FirstRow, g.Rows[0])
				}
				if w.LastRow != nil {
					requireCells(t, w.LastRow, g.Rows[w.Sets-1])
				}
				for j, x := range w.Visual {
					requireCells(t, []any{x}, g.Rows[j][2:3])
				}
				for j, line := range g.Lines {
					require.Contains(t, strings.Split(string(data), "\n")[line-1], g.Rows[j][0])
				}
			}
		})
	}
}

// cgatsText is a small file with the given lines of data.
func cgatsText(format string, rows ...string) string {
	return "CGATS.17\nBEGIN_DATA_FORMAT\n" + format + "\nEND_DATA_FORMAT\nBEGIN_DATA\n" + strings.Join(append(rows, "END_DATA\n"), "\n")
}

func TestReadCGATSLenient(t *testing.T) {
	for name, c := range map[string]struct {
		text string
		want CGATSTable
	}{
		"case and order": {
			text: "cgats.17\nbegin_data_format sample_id d_vis end_data_format\nnumber_of_fields 2\noriginator Lab of mine\nBegin_Data\n1 0.5\nend_data\n",
			want: CGATSTable{Header: []CGATSKeyword{{"ORIGINATOR", "Lab of mine", 4}}, Fields: []string{"SAMPLE_ID", "D_VIS"}, Line: 2, Rows: [][]string{{"1", "0.5"}}, Lines: []int{6}},
		},
		"lines end in CR": {
			text: strings.ReplaceAll(cgatsText("SAMPLE_ID D_VIS", "1 0.5", "2 0.6"), "\n", "\r"),
			want: CGATSTable{Fields: []string{"SAMPLE_ID", "D_VIS"}, Line: 2, Rows: [][]string{{"1", "0.5"}, {"2", "0.6"}}, Lines: []int{6, 7}},
		},
		"an empty string is an empty cell": {
			text: cgatsText("SAMPLE_ID D_VIS", `"" ""`),
			want: CGATSTable{Fields: []string{"SAMPLE_ID", "D_VIS"}, Line: 2, Rows: [][]string{{"", ""}}, Lines: []int{6}},
		},
		"END_DATA in quotes is data": {
			text: cgatsText("SAMPLE_ID", `"END_DATA"`),
			want: CGATSTable{Fields: []string{"SAMPLE_ID"}, Line: 2, Rows: [][]string{{"END_DATA"}}, Lines: []int{6}},
		},
		"an empty cell between tabs": {
			text: cgatsText("SAMPLE_ID\tSAMPLE_NAME\tD_VIS", "1\t\t0.5", "2\ta b\t"),
			want: CGATSTable{Fields: []string{"SAMPLE_ID", "SAMPLE_NAME", "D_VIS"}, Line: 2, Rows: [][]string{{"1", "", "0.5"}, {"2", "a b", ""}}, Lines: []int{6, 7}},
		},
		"several tabs, or blanks, below names parted by one": {
			text: cgatsText("SAMPLE_ID\tSAMPLE_NAME\tD_VIS", "1\t\ta\t\t0.5", "2 b  0.6", "3\tc\t0.7\t"),
			want: CGATSTable{Fields: []string{"SAMPLE_ID", "SAMPLE_NAME", "D_VIS"}, Line: 2, Rows: [][]string{{"1", "a", "0.5"}, {"2", "b", "0.6"}, {"3", "c", "0.7"}}, Lines: []int{6, 7, 8}},
		},
	} {
		t.Run(name, func(t *testing.T) {
			got, err := ReadCGATS("x.txt", strings.NewReader(c.text))
			require.NoError(t, err)
			require.Equal(t, []CGATSTable{c.want}, got.Tables)
		})
	}
	got, err := ReadCGATS("x.txt", strings.NewReader(strings.TrimPrefix(cgatsText("D_VIS"), "CGATS.17\n")))
	require.NoError(t, err)
	require.Empty(t, got.ID)
	require.Empty(t, got.Tables[0].Rows)
}

func TestReadCGATSFaults(t *testing.T) {
	for text, want := range map[string]string{
		"":                                               "1: has no data",
		"CGATS.17\nORIGINATOR \"x\"\n\n":                 "2: the file ends before BEGIN_DATA",
		"CGATS.17\nORIGINATOR\n":                         "2: ORIGINATOR has no value",
		"ORIGINATOR\n":                                   "1: ORIGINATOR has no value",
		"CGATS.17\n\"ORIGINATOR\" x\n":                   `2: begins with the string "ORIGINATOR" where a keyword is expected`,
		"CGATS.17\nFILTER \"a\" \"b\"\n":                 "2: FILTER has more than one value",
		"CGATS.17\nFÄRG 1\n":                             `2: the keyword "FÄRG" has other letters than ASCII`,
		"CGATS.17\nFILTER \"a\"b\n":                      "2: has no blank after a closing quote",
		"CGATS.17\nFILTER a\"b\n":                        `2: has a quote within the word "a"`,
		"CGATS.17\nFILTER \x01\n":                        `2: "FILTER \x01" holds the character U+0001, which does not print`,
		"CGATS.17\rFILTER \xe4\r":                        "2: is not text in ASCII or UTF-8",
		"CGATS.17\nNUMBER_OF_SETS many\n":                `2: NUMBER_OF_SETS "many" is not a whole number`,
		"CGATS.17\nNUMBER_OF_SETS\n":                     "2: NUMBER_OF_SETS needs one number",
		"CGATS.17\nNUMBER_OF_SETS 1\nNUMBER_OF_SETS 1\n": "3: a second NUMBER_OF_SETS; the first is on line 2",
		"CGATS.17\nEND_DATA\n":                           "2: END_DATA without BEGIN_DATA",
		"CGATS.17\nEND_DATA_FORMAT\n":                    "2: END_DATA_FORMAT without BEGIN_DATA_FORMAT",
		"CGATS.17\nBEGIN_DATA_FORMAT\nEND_DATA_FORMAT\nBEGIN_DATA\n":           "4: the data format on line 2 has no field",
		"CGATS.17\nBEGIN_DATA_FORMAT\nD_VIS\nBEGIN_DATA\n":                     "4: BEGIN_DATA among the field names: END_DATA_FORMAT is missing",
		"CGATS.17\nBEGIN_DATA_FORMAT\n\"D_VIS\"\n":                             `3: the field name "D_VIS" is in quotes`,
		"CGATS.17\nBEGIN_DATA_FORMAT D_VIS END_DATA_FORMAT BEGIN_DATA\n":       `2: "BEGIN_DATA" follows END_DATA_FORMAT on its line`,
		"BEGIN_DATA_FORMAT A END_DATA_FORMAT\nBEGIN_DATA_FORMAT\n":             "2: a second data format; the first is on line 1",
		"BEGIN_DATA_FORMAT A END_DATA_FORMAT\nBEGIN_DATA 1\n":                  `2: "1" follows BEGIN_DATA on its line`,
		"BEGIN_DATA_FORMAT A END_DATA_FORMAT\nBEGIN_DATA\n1\nEND_DATA 2\n":     `4: "2" follows END_DATA on its line`,
		"BEGIN_DATA_FORMAT A END_DATA_FORMAT\nBEGIN_DATA\n1\nNUMBER_OF_SETS 2": "4: NUMBER_OF_SETS among the data: END_DATA is missing",
		cgatsText("A") + "BEGIN_DATA\n1\nEND_DATA\n":                           "7: BEGIN_DATA without a data format above it",
		cgatsText("SAMPLE_ID D_VIS", "1 1e999"):                                `6: D_VIS: "1e999" is too large a number`,
		cgatsText("SAMPLE_ID D_VIS", "1 nan"):                                  `6: D_VIS: "nan" is not a number`,
		cgatsText("SAMPLE_ID nm400", "1 1.234,5"):                              `6: nm400: "1.234,5" has a comma; a number has a decimal point and no marks between thousands`,
		// A word too few must not be made up for by the words of a name.
		cgatsText("SAMPLE_ID\tSAMPLE_NAME\tNOTE\tD_VIS", "1\tpatch 1\t0.25"): "6: has 3 of 4 values, counted by the tabs that part the field names as well",
		// All bad cells are told, in the order of the lines.
		strings.Replace(cgatsText("A D_VIS", "1 x", "1", `1 "`, "2 0,3"), "BEGIN_DATA\n", "NUMBER_OF_SETS 5\nBEGIN_DATA\n", 1): `5: NUMBER_OF_SETS is 5, but the data up to line 11 have 4
x.txt:7: D_VIS: "x" is not a number
x.txt:8: has 1 of 2 values
x.txt:9: has a quote that is not closed on its line
x.txt:10: D_VIS: "0,3" has a comma; a number has a decimal point and no marks between thousands`,
	} {
		got, err := ReadCGATS("x.txt", strings.NewReader(text))
		assert.Nil(t, got)
		assert.EqualError(t, err, "x.txt:"+want, "%q", text)
	}
}

func TestReadCGATSLimits(t *testing.T) {
	_, err := ReadCGATS("x.txt", io.LimitReader(notebooktest.Endless{}, grammar.MaxBytes+1))
	require.EqualError(t, err, "x.txt:1: the file is larger than 16 MiB")
	rows := make([]string, grammar.MaxReadings)
	for i := range rows {
		rows[i] = "1"
	}
	_, err = ReadCGATS("x.txt", strings.NewReader(cgatsText("A", rows...)))
	require.NoError(t, err)
	_, err = ReadCGATS("x.txt", strings.NewReader(cgatsText("A", append(rows, "1")...)))
	require.EqualError(t, err, "x.txt:100006: brings the file to more than 100000 rows")
	_, err = ReadCGATS("x.txt", strings.NewReader(cgatsText(strings.Repeat("A ", maxFields+1))))
	require.EqualError(t, err, "x.txt:3: has more than 1000 fields")
	_, err = ReadCGATS("x.txt", strings.NewReader(cgatsText("A B", rows...)))
	var faults grammar.Errors
	require.ErrorAs(t, err, &faults)
	require.Len(t, faults, maxFaults+1)
	failing := errors.New("cable pulled")
	_, err = ReadCGATS("x.txt", io.MultiReader(strings.NewReader("CGATS.17"), iotest.ErrReader(failing)))
	require.ErrorIs(t, err, failing)
}

func TestWriteCGATS(t *testing.T) {
	data := &CGATS{Tables: []CGATSTable{{
		Header: []CGATSKeyword{{Keyword: "ORIGINATOR", Value: "sensito"}, {Keyword: "FILM", Value: "Tern 400, Größe #4"}, {Keyword: "FILM", Value: ""}},
		Fields: []string{"SAMPLE_ID", "LOG_H", "D_VIS"},
		Rows:   [][]string{{"1", "-2.5", "0.10"}, {"base", "", ""}},
	}, {Fields: []string{"STRING"}, Rows: [][]string{{"END_DATA"}}}}}
	var b bytes.Buffer
	require.NoError(t, data.Write(&b))
	require.Equal(t, `CGATS.17
ORIGINATOR	"sensito"
KEYWORD	"FILM"
FILM	"Tern 400, Größe #4"
FILM	""
KEYWORD	"LOG_H"
NUMBER_OF_FIELDS	3
BEGIN_DATA_FORMAT
SAMPLE_ID	LOG_H	D_VIS
END_DATA_FORMAT
NUMBER_OF_SETS	2
BEGIN_DATA
1	-2.5	0.10
"base"	""	""
END_DATA
CGATS.17
NUMBER_OF_FIELDS	1
BEGIN_DATA_FORMAT
STRING
END_DATA_FORMAT
NUMBER_OF_SETS	1
BEGIN_DATA
"END_DATA"
END_DATA
`, b.String())
}

func TestWriteCGATSRefuses(t *testing.T) {
	table := func(header CGATSKeyword, field string, cells ...string) *CGATS {
		return &CGATS{Tables: []CGATSTable{{Header: []CGATSKeyword{header}, Fields: []string{field}, Rows: [][]string{cells}}}}
	}
	fine := CGATSKeyword{Keyword: "FILTER", Value: "none"}
	for want, data := range map[string]*CGATS{
		"there is no table to write":                   {},
		`"two words" cannot identify a file`:           {ID: "two words"},
		`"serial" cannot identify a file`:              {ID: "serial"},
		`table 1: has 0 fields; a table has 1 to 1000`: {Tables: []CGATSTable{{}}},
		`table 1: "Filter" cannot be a keyword`:        table(CGATSKeyword{Keyword: "Filter"}, "D_VIS", "1"),
		`table 1: "KEYWORD" cannot be a keyword`:       table(CGATSKeyword{Keyword: "KEYWORD"}, "D_VIS", "1"),
		`table 1: "d_vis" cannot be a field name`:      table(fine, "d_vis", "1"),
		`table 1: "a b" cannot be a field name`:        table(fine, "a b", "1"),
		`table 1: "End_Data" cannot be a field name`:   table(fine, "End_Data", "1"),
		`table 1: row 1 has 2 of 1 values`:             table(fine, "D_VIS", "1", "2"),
		`table 1: row 1: D_VIS: "n/a" is not a number`: table(fine, "D_VIS", "n/a"),
		`table 1: FILTER: "12\" wide" has a character that CGATS cannot hold: a double quote, a line break or a control character`: table(CGATSKeyword{Keyword: "FILTER", Value: `12" wide`}, "D_VIS", "1"),
		`table 1: row 1: NOTE: "a\nb" has a character that CGATS cannot hold: a double quote, a line break or a control character`: table(fine, "NOTE", "a\nb"),
	} {
		var b bytes.Buffer
		require.EqualError(t, data.Write(&b), want)
		require.Empty(t, b.String())
	}
}

func FuzzReadCGATS(f *testing.F) {
	files, err := filepath.Glob(filepath.Join(cgatsFiles, "*.txt"))
	require.NoError(f, err)
	require.NotEmpty(f, files)
	for _, name := range files {
		data, err := os.ReadFile(name)
		require.NoError(f, err)
		f.Add(data)
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		got, err := ReadCGATS("x.txt", bytes.NewReader(data))
		if err != nil {
			require.Nil(t, got)
			var faults grammar.Errors
			require.ErrorAs(t, err, &faults)
			for _, e := range faults {
				require.Positive(t, e.Line)
			}
			return
		}
		var b bytes.Buffer
		require.NoError(t, got.Write(&b))
		again, err := ReadCGATS("x.txt", &b)
		require.NoError(t, err)
		if got.ID == "" {
			got.ID = "CGATS.17"
		}
		for _, c := range []*CGATS{got, again} { // but for the lines
			for i := range c.Tables {
				c.Tables[i].Line, c.Tables[i].Lines = 0, nil
				for j := range c.Tables[i].Header {
					c.Tables[i].Header[j].Line = 0
				}
			}
		}
		require.Equal(t, got, again)
	})
}
