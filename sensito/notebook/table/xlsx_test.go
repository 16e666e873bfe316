package table

import (
	"archive/zip"
	"bytes"
	"compress/flate"
	"encoding/xml"
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"
	"pgregory.net/rapid"

	"sensito/sensito/notebook/internal/grammar"
)

// workbookOf returns a workbook as the library excelize writes it.
func workbookOf(t require.TestingT, fill func(f *excelize.File)) []byte {
	f := excelize.NewFile()
	fill(f)
	var b bytes.Buffer
	require.NoError(t, f.Write(&b))
	return b.Bytes()
}

// set fills cells of a sheet.
func set(t require.TestingT, f *excelize.File, sheet string, cells map[string]any) {
	for place, v := range cells {
		require.NoError(t, f.SetCellValue(sheet, place, v))
	}
}

// zipped returns a package of parts, each a name and its text.
func zipped(t require.TestingT, parts ...string) []byte {
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for p := range slices.Chunk(parts, 2) {
		w, err := z.Create(p[0])
		require.NoError(t, err)
		_, err = w.Write([]byte(p[1]))
		require.NoError(t, err)
	}
	require.NoError(t, z.Close())
	return b.Bytes()
}

const (
	packageRels = `<Relationships><Relationship Id="a" Type="http://x/officeDocument" Target="xl/workbook.xml"/></Relationships>`
	bookRels    = `<Relationships><Relationship Id="r1" Type="http://x/worksheet" Target="worksheets/s.xml"/>` +
		`<Relationship Id="r2" Type="http://x/styles" Target="/xl/styles.xml"/>` +
		`<Relationship Id="r3" Type="http://x/sharedStrings" Target="strings.xml"/></Relationships>`
	book        = `<workbook xmlns:r="http://r"><sheets><sheet name="S" sheetId="1" r:id="r1"/></sheets></workbook>`
	sharedTexts = `<sst><si><t>plain</t></si><si><r><t xml:space="preserve">rich </t></r><r><rPr/><t>text</t></r><rPh><t>rf</t></rPh></si><si><t>a_x000D_b</t></si></sst>`
	styles      = `<styleSheet><numFmts><numFmt numFmtId="164" formatCode="[mm]:ss"/></numFmts><cellStyleXfs><xf numFmtId="14"/></cellStyleXfs>` +
		`<cellXfs><xf numFmtId="0"/><xf numFmtId="164"/></cellXfs></styleSheet>`
)

// byHand returns a workbook with one sheet whose rows are given as XML.
func byHand(t require.TestingT, rows string) []byte {
	return zipped(t, "_rels/.rels", packageRels, "xl/workbook.xml", book, "xl/_rels/workbook.xml.rels", bookRels,
		"xl/strings.xml", sharedTexts, "xl/styles.xml", styles, "xl/worksheets/s.xml", "<worksheet><sheetData>"+rows+"</sheetData></worksheet>")
}

func TestReadXLSX(t *testing.T) {
	data := workbookOf(t, func(f *excelize.File) {
		set(t, f, "Sheet1", map[string]any{
			"B2": "minutes", "C2": " step ", "D2": "density", "F2": "read on",
			"B4": 5.5, "C4": 1, "D4": 0.1, "F4": time.Date(2026, 11, 25, 0, 0, 0, 0, time.UTC),
			"B5": "5,5", "C5": -2, "D5": 1234.567890123, "F5": time.Date(2026, 11, 25, 14, 5, 30, 0, time.UTC),
			"A9": true,
		})
		percent, err := f.NewStyle(&excelize.Style{NumFmt: 9})
		require.NoError(t, err)
		thousands, err := f.NewStyle(&excelize.Style{NumFmt: 3})
		require.NoError(t, err)
		require.NoError(t, f.SetCellStyle("Sheet1", "D4", "D4", percent))
		require.NoError(t, f.SetCellStyle("Sheet1", "D5", "D5", thousands))
	})
	got, err := readXLSX("book.xlsx", data, "")
	require.NoError(t, err)
	require.Equal(t, &grid{
		name: "book.xlsx, sheet Sheet1",
		rows: [][]string{
			{"", "minutes", "step", "density", "", "read on"},
			{"", "5.5", "1", "0.1", "", "2026-11-25"},
			{"", "5,5", "-2", "1234.567890123", "", "2026-11-25T14:05:30"},
			{"TRUE"},
		},
		lines: []int{2, 4, 5, 9},
	}, got)
}

// What spreadsheets write and a library does not: places left out, texts with
// runs, results of formulas, numbers with 17 digits.
func TestReadXLSXByHand(t *testing.T) {
	data := byHand(t, `<row><c t="s"><v>0</v></c><c t="s"><v>1</v></c><c/><c t="s"><v>2</v></c><c t="inlineStr"><is><t> in line </t></is></c></row>`+
		`<row r="4" hidden="1"><c r="B4"><v>0.10000000000000001</v></c><c><f>1+1</f><v>2</v></c><c t="str"><f>A1</f><v>text</v></c><c t="str"><f>""</f><v></v></c><c t="b"><v>0</v></c></row>`+
		`<row><c s="1"><v>0.0038194444444444443</v></c><c><v>1E-3</v></c><c><v>-0</v></c><c><v>0.49999999999999994</v></c><c><v>1.7976931348623157E+308</v></c><c><v>2.5E+20</v></c><c t="d"><v>2026-11-25T00:00:00</v></c></row><row r="9"><c r="A9" s="1"/></row>`)
	got, err := readXLSX("b.xlsx", data, "S")
	require.NoError(t, err)
	require.Equal(t, [][]string{
		{"plain", "rich text", "", "a\rb", "in line"},
		{"", "0.1", "2", "text", "", "FALSE"},
		{"5:30", "0.001", "0", "0.5", "1.7976931348623157e+308", "2.5e+20", "2026-11-25"},
	}, got.rows)
	require.Equal(t, []int{1, 4, 5}, got.lines)
}

// Times of a day by the format of the cell: 0.2291666 of a day is typed as 5:30.
func TestCellFormat(t *testing.T) {
	clock := func(h, m, s float64) float64 { return (h*3600 + m*60 + s) / 86400 }
	for _, c := range []struct {
		code string
		x    float64
		want string
	}{
		{"h:mm", clock(5, 30, 0), "5:30"},
		{"hh:mm AM/PM", clock(17, 5, 0), "17:05"},
		{"[$-409]h:mm\\ AM/PM;@", clock(5, 30, 0), "5:30"},
		{"h:mm", clock(0, 5, 30), "0:05:30"}, // what the cell hides counts
		{"h:mm:ss", clock(0, 5, 30), "0:05:30"},
		{"[h]:mm:ss", clock(25, 30, 0), "25:30:00"},
		{"[hh]:mm", clock(25, 30, 0), "25:30"},
		{"mm:ss", clock(0, 5, 30), "5:30"},
		{"mm:ss", clock(1, 5, 30), "1:05:30"}, // which shows 05:30
		{"mm:ss", clock(5, 30, 0), "5:30:00"},
		{"h:mm", clock(0, 8, 0), "0:08:00"},
		{"h:mm:ss", clock(5, 30, 0), "5:30:00"},
		{"[mm]:ss", clock(1, 5, 30), "65:30"},
		{"mm:ss.0", clock(0, 5, 30.5), "5:30.5"},
		{"[ss]", clock(0, 5, 30), "5:30"},
		{`h" h "mm" min"`, clock(1, 30, 0), "1:30"},
		{"yyyy-mm-dd", 46351, "2026-11-25"},
		{"dd/mm/yyyy hh:mm", 46351.5, "2026-11-25T12:00:00"},
		{"dd/mm/yyyy hh:mm", clock(5, 30, 0), "5:30"},
		{"mmm yy", 46351, "2026-11-25"},
		{`[$-411]ge.m.d`, 46351, "2026-11-25"},
		{"d", 1, "1900-01-01"},
		{"d", 59, "1900-02-28"},
		{"d", 61, "1900-03-01"},
		{"d", 2958465, "9999-12-31"},
		{"General", 0.1, "0.1"},
		{`General" min"`, 5.5, "5.5"},
		{"0.00E+00", 0.1, "0.1"},
		{"#,##0.00", 1234.5, "1234.50"},
		{"0.00", 5.3, "5.30"},
		{"0.00", 5, "5"},
		{"0.00", 5.333, "5.333"}, // of which it hides some
		{"0.00%", 0.1, "0.1"},
		{"0.000", 0.1, "0.1"},
		{`0.00" D"`, 1.25, "1.25"},
		{"[Red]0.0;[Blue]-0.0", -1.25, "-1.25"},
		{`0.0_d`, 1.25, "1.25"},
		{"@", 1.25, "1.25"},
	} {
		got, err := formatOf(c.code).text(c.x, false)
		assert.NoError(t, err, c.code)
		assert.Equal(t, c.want, got, c.code)
	}
	got, err := formatOf("d").text(0, true)
	require.NoError(t, err)
	require.Equal(t, "1904-01-01", got)
	for _, c := range []struct {
		code string
		x    float64
		want string
	}{
		{"h:mm", 1.25, "shows a time of day but holds 1.25 days; write the time as text, such as 5:30"},
		{"h:mm", -0.25, "holds a time below zero"},
		{"[h]:mm", 1e9, "holds a time of 1000000000 days"},
		{"d", 60, "holds 29 February 1900, a day that was not"},
		{"d", 2958466, "holds the number 2958466 in the form of a date, which it cannot be"},
		{"d", 0.5, "holds the number 0.5 in the form of a date, which it cannot be"},
	} {
		_, err := formatOf(c.code).text(c.x, false)
		assert.EqualError(t, err, c.want)
	}
}

// The formats that a workbook does not spell out, against what excelize shows.
func TestBuiltinFormats(t *testing.T) {
	const x = 0.2295949074 // 5:30:37
	for id := range 50 {
		if id >= 23 && id <= 36 || id >= 41 && id <= 44 {
			continue // currencies, and what depends on the language
		}
		f := excelize.NewFile()
		style, err := f.NewStyle(&excelize.Style{NumFmt: id})
		require.NoError(t, err)
		require.NoError(t, f.SetCellValue("Sheet1", "A1", 46351+x))
		require.NoError(t, f.SetCellStyle("Sheet1", "A1", "A1", style))
		shown, err := f.GetCellValue("Sheet1", "A1")
		require.NoError(t, err)
		format := formatOf(builtinFormat(id))
		assert.Equal(t, strings.ContainsAny(shown, ":") || id == 47, format.hours || format.minutes || format.seconds, "%d shows %s", id, shown)
		assert.Equal(t, strings.ContainsAny(shown, "/-") && id != 11 && id != 48 && id != 12 && id != 13, format.date, "%d shows %s", id, shown)
	}
}

func TestReadXLSXSheets(t *testing.T) {
	data := workbookOf(t, func(f *excelize.File) {
		for _, name := range []string{"Empty", "Readings", "Old", "Hidden"} {
			_, err := f.NewSheet(name)
			require.NoError(t, err)
		}
		set(t, f, "Readings", map[string]any{"A1": 1.0})
		set(t, f, "Hidden", map[string]any{"A1": 3.0})
		require.NoError(t, f.SetSheetVisible("Hidden", false))
	})
	got, err := readXLSX("b.xlsx", data, "")
	require.NoError(t, err)
	require.Equal(t, "b.xlsx, sheet Readings", got.name)
	got, err = readXLSX("b.xlsx", data, "Hidden")
	require.NoError(t, err)
	require.Equal(t, [][]string{{"3"}}, got.rows)
	_, err = readXLSX("b.xlsx", data, "Empty")
	require.EqualError(t, err, `b.xlsx:1: has no cells in sheet "Empty"`)
	_, err = readXLSX("b.xlsx", data, "readings 2")
	require.EqualError(t, err, `b.xlsx:1: has no sheet "readings 2"; its sheets are "Sheet1", "Empty", "Readings", "Old", "Hidden"`)

	data = workbookOf(t, func(f *excelize.File) {
		_, err := f.NewSheet("Second")
		require.NoError(t, err)
		set(t, f, "Sheet1", map[string]any{"A1": 1.0})
		set(t, f, "Second", map[string]any{"A1": 2.0})
	})
	_, err = readXLSX("b.xlsx", data, "")
	require.EqualError(t, err, `b.xlsx:1: has cells in the sheets "Sheet1", "Second"; name one of them`)
	_, err = readXLSX("b.xlsx", workbookOf(t, func(*excelize.File) {}), "")
	require.EqualError(t, err, "b.xlsx:1: has no cells")
}

func TestReadXLSX1904(t *testing.T) {
	data := workbookOf(t, func(f *excelize.File) {
		yes := true
		require.NoError(t, f.SetWorkbookProps(&excelize.WorkbookPropsOptions{Date1904: &yes}))
		set(t, f, "Sheet1", map[string]any{"A1": time.Date(2026, 11, 25, 0, 0, 0, 0, time.UTC)})
	})
	got, err := readXLSX("b.xlsx", data, "")
	require.NoError(t, err)
	require.Equal(t, [][]string{{"2026-11-25"}}, got.rows)
}

func TestReadXLSXBadCells(t *testing.T) {
	data := byHand(t, `<row r="2"><c r="B2" t="e"><f>1/0</f><v>#DIV/0!</v></c><c r="AA2"><f>A1</f><v/></c></row>`+
		`<row r="3"><c r="A3" t="s"><v>7</v></c><c t="q"><v>7</v></c><c><v>NaN</v></c><c t="s"><v>-1</v></c></row>`)
	got, err := readXLSX("b.xlsx", data, "")
	require.Nil(t, got)
	require.EqualError(t, err, `b.xlsx:2: B2: holds the error #DIV/0!
b.xlsx:2: AA2: has a formula without its result; open the workbook in a spreadsheet and save it again
b.xlsx:3: A3: refers to the text "7", which the workbook does not have
b.xlsx:3: B3: holds a value of the unknown kind "q"
b.xlsx:3: C3: holds "NaN", which is not a number
b.xlsx:3: D3: refers to the text "-1", which the workbook does not have`)
}

func TestReadXLSXRefuses(t *testing.T) {
	encrypted := func() []byte {
		f := excelize.NewFile()
		var b bytes.Buffer
		require.NoError(t, f.Write(&b, excelize.Options{Password: "x"}))
		return b.Bytes()
	}()
	good := byHand(t, `<row><c><v>1</v></c></row>`)
	many := func(n int) string { return strings.Repeat(`<sheet name="S" r:id="r1"/>`, n) }
	for name, c := range map[string]struct {
		data []byte
		want string
	}{
		"password":  {encrypted, "is a workbook in the old form (.xls) or one with a password; save it as .xlsx without a password"},
		"other zip": {zipped(t, "mimetype", "application/vnd.oasis.opendocument.spreadsheet"), "is not a workbook in the .xlsx form; save it as .xlsx or CSV"},
		"binary":    {zipped(t, "_rels/.rels", strings.ReplaceAll(packageRels, ".xml", ".bin")), "is not a workbook in the .xlsx form; save it as .xlsx or CSV"},
		"cut short": {good[:len(good)-30], "is a damaged workbook: zip: not a valid zip file"},
		"no sheet":  {zipped(t, "_rels/.rels", packageRels, "xl/workbook.xml", book, "xl/_rels/workbook.xml.rels", bookRels), "is a damaged workbook: it has no part /xl/styles.xml"},
		"bad XML":   {byHand(t, "<row>"), `sheet "S": is a damaged workbook: /xl/worksheets/s.xml: XML syntax error on line 1: element <row> closed by </sheetData>`},
		"rows":      {byHand(t, `<row r="2"/><row r="2"/>`), `sheet "S": is a damaged workbook: /xl/worksheets/s.xml: row "2" follows row 2`},
		"places":    {byHand(t, `<row><c r="B1"/><c r="A1"/></row>`), `sheet "S": is a damaged workbook: /xl/worksheets/s.xml: the cell "A1" of row 1 is not in its place`},
		"place":     {byHand(t, `<row><c r="ZZZ1"/></row>`), `sheet "S": is a damaged workbook: /xl/worksheets/s.xml: the cell "ZZZ1" of row 1 is not in its place`},
		"wide":      {byHand(t, strings.Repeat(`<row><c r="XFD1"><v>1</v></c></row>`, 62)), `sheet "S": row 62 brings the sheet to more than 1000000 cells`},
		"bad cells": {byHand(t, strings.Repeat(`<row><c t="e"><v>#N/A</v></c></row>`, 1001)), `sheet "S": has more than 1000 bad cells`},
		"bomb":      {byHand(t, strings.Repeat(" ", maxUnpacked)), `sheet "S": unpacks to more than is read: 64 MiB of a workbook, 8 MiB of its lists`},
		"bomb in a list": {zipped(t, "_rels/.rels", packageRels+strings.Repeat(" ", maxWhole), "xl/workbook.xml", strings.Repeat(" ", maxWhole)+book),
			"unpacks to more than is read: 64 MiB of a workbook, 8 MiB of its lists"},
		"sheets": {zipped(t, "_rels/.rels", packageRels, "xl/_rels/workbook.xml.rels", `<Relationships><Relationship Id="r1" Type="http://x/worksheet" Target="s.xml"/></Relationships>`,
			"xl/workbook.xml", `<workbook xmlns:r="http://r"><sheets>`+many(maxSheets+1)+`</sheets></workbook>`), "has more than 1000 sheets"},
	} {
		t.Run(name, func(t *testing.T) {
			got, err := readXLSX("b.xlsx", c.data, "")
			require.Nil(t, got)
			require.EqualError(t, err, "b.xlsx:1: "+c.want)
		})
	}
}

// A file that states a smaller size than it unpacks to is not unpacked further.
func TestReadXLSXUnderstatedSize(t *testing.T) {
	var packed, b bytes.Buffer
	w, err := flate.NewWriter(&packed, flate.BestSpeed)
	require.NoError(t, err)
	_, err = w.Write([]byte(packageRels + strings.Repeat(" ", 1<<20)))
	require.NoError(t, err)
	require.NoError(t, w.Close())
	z := zip.NewWriter(&b)
	part, err := z.CreateRaw(&zip.FileHeader{Name: "_rels/.rels", Method: zip.Deflate, CompressedSize64: uint64(packed.Len()), UncompressedSize64: 20})
	require.NoError(t, err)
	_, err = part.Write(packed.Bytes())
	require.NoError(t, err)
	require.NoError(t, z.Close())
	_, err = readXLSX("b.xlsx", b.Bytes(), "")
	require.EqualError(t, err, "b.xlsx:1: is a damaged workbook: _rels/.rels: zip: not a valid zip file")
}

// Numbers and texts come back from a workbook as they went in.
func TestReadXLSXRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rows := rapid.IntRange(1, 5).Draw(t, "rows")
		want := map[string]any{}
		for i := range rows {
			for j := range rapid.IntRange(1, 30).Draw(t, "columns") {
				place := fmt.Sprintf("%s%d", columnLetters(j+1), i+1)
				if rapid.Bool().Draw(t, "number") {
					want[place] = float64(rapid.IntRange(-1e9, 1e9).Draw(t, "x")) / 1e6 // excelize writes 15 digits
				} else {
					want[place] = rapid.StringMatching(`[A-Za-zäß<&"_x0-9,;.]{1,12}`).Draw(t, "text")
				}
			}
		}
		got, err := readXLSX("b.xlsx", workbookOf(t, func(f *excelize.File) { set(t, f, "Sheet1", want) }), "")
		require.NoError(t, err)
		require.Len(t, got.rows, rows)
		filled := 0
		for i, row := range got.rows {
			for j, cell := range row {
				switch w := want[fmt.Sprintf("%s%d", columnLetters(j+1), got.lines[i])].(type) {
				case float64:
					var x float64
					_, err := fmt.Sscan(cell, &x)
					require.NoError(t, err)
					require.Equal(t, w, x)
				case string:
					require.Equal(t, w, cell)
				}
				filled++
			}
		}
		require.Equal(t, len(want), filled)
	})
}

func FuzzReadXLSX(f *testing.F) {
	f.Add([]byte("PK\x03\x04"))
	f.Add([]byte("\xd0\xcf\x11\xe0"))
	f.Add(byHand(f, `<row><c t="s"><v>1</v></c><c s="1"><v>0.25</v></c><c t="e"><v>#N/A</v></c></row>`))
	f.Add(byHand(f, `<row r="3"><c r="C3"><f>1</f><v>1</v></c><c t="inlineStr"><is><r><t>x</t></r></is></c></row>`))
	f.Fuzz(func(t *testing.T, data []byte) { fuzzXLSX(t, data) })
}

// A sheet is XML in a zip file, which chance does not get past: here it is the
// XML that varies.
func FuzzReadXLSXSheet(f *testing.F) {
	f.Add(`<row><c t="s"><v>1</v></c><c s="1"><v>0.25</v></c><c t="e"><v>#N/A</v></c></row>`, styles, sharedTexts)
	f.Add(`<row r="3"><c r="C3"><f>1</f><v>1</v></c><c t="inlineStr"><is><r><t>x</t></r></is></c></row>`, styles, sharedTexts)
	f.Fuzz(func(t *testing.T, rows, styles, texts string) {
		fuzzXLSX(t, zipped(t, "_rels/.rels", packageRels, "xl/workbook.xml", book, "xl/_rels/workbook.xml.rels", bookRels,
			"xl/strings.xml", texts, "xl/styles.xml", styles, "xl/worksheets/s.xml", "<worksheet>"+rows+"</worksheet>"))
	})
}

func fuzzXLSX(t *testing.T, data []byte) {
	got, err := readXLSX("b.xlsx", data, "")
	if err != nil {
		require.Nil(t, got)
		var faults grammar.Errors
		require.True(t, errors.As(err, &faults))
		for _, e := range faults {
			require.Positive(t, e.Line)
		}
		return
	}
	require.NotEmpty(t, got.rows)
	require.Len(t, got.lines, len(got.rows))
	require.True(t, slices.IsSorted(got.lines))
	for _, row := range got.rows {
		require.NotEmpty(t, row)
		require.NotEmpty(t, row[len(row)-1])
		for _, cell := range row {
			require.Equal(t, strings.TrimSpace(cell), cell)
		}
	}
	again, err := readXLSX("b.xlsx", byHand(t, inlineRows(got)), "")
	require.NoError(t, err)
	again.name = got.name // the sheet's name is another
	require.Equal(t, got, again)
}

// inlineRows returns rows of texts as XML.
func inlineRows(g *grid) string {
	var b strings.Builder
	for i, row := range g.rows {
		fmt.Fprintf(&b, `<row r="%d">`, g.lines[i])
		for j, cell := range row {
			fmt.Fprintf(&b, `<c r="%s%d" t="inlineStr"><is><t>`, columnLetters(j+1), g.lines[i])
			for _, c := range cell {
				if c < ' ' || c == '_' || c >= 0xfffe && c <= 0xffff {
					fmt.Fprintf(&b, "_x%04X_", c)
				} else {
					_ = xml.EscapeText(&b, []byte(string(c))) // a Builder takes all
				}
			}
			b.WriteString("</t></is></c>")
		}
		b.WriteString("</row>")
	}
	return b.String()
}
